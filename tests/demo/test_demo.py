"""`manage.py demo` in an installation of its own: stopped on the way, taken up again, and run once more at the end."""

import hashlib
import os
import re
import signal
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from fixtures.scenario.faults import FAULTS, TRAPS
from fixtures.scenario.faults_at_start import FAULTS_AT_START
from fixtures.scenario.faults_by_kind import FAULTS_BY_KIND
from fixtures.scenario.field_day import VISITS
from fixtures.scenario.places import BUILDINGS
from fixtures.scenario.starting import VISITS as STARTS
from tests.live import Installation, installed, wait_until

Counts = dict[str, int]
STOPPED_AT = "14 May: "


@dataclass
class Played:
    """What each of the three runs said, and how many rows there were after the last two."""

    here: Installation
    stopped: str
    stopped_code: int
    left_behind: list[int]
    finished: str
    finished_code: int
    again: str
    again_code: int
    after: Counts
    after_again: Counts

    @property
    def folder(self) -> Path:
        return self.here.folder / "var" / "demo"


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Played]:
    quick = {"DJANGO_SETTINGS_MODULE": "tests.demo.settings"}
    with installed(tmp_path_factory.mktemp("demo"), extra=quick) as here:
        here.migrate()
        demo = here.start("demo", [sys.executable, "manage.py", "demo"])
        wait_until(lambda: STOPPED_AT in demo.output() or not demo.is_alive, "the demo is on its way", seconds=120)
        children = demo.children()
        os.kill(demo.pid, signal.SIGTERM)  # as Ctrl-C, which a shell may have told its children to ignore
        code = demo.process.wait(30)
        left = left_behind(children)
        finished = here.manage("demo", check=False)
        after = counts(here)
        again = here.manage("demo", check=False)
        yield Played(
            here,
            demo.output(),
            code,
            left,
            finished.stdout + finished.stderr,
            finished.returncode,
            again.stdout + again.stderr,
            again.returncode,
            after,
            counts(here),
        )


def left_behind(children: list[int], within_s: float = 30.0) -> list[int]:
    """Those that still run after a while; one that has ended and waits for its parent to ask does not."""
    until = time.monotonic() + within_s
    while (left := [pid for pid in children if _runs(pid)]) and time.monotonic() < until:
        time.sleep(0.2)
    return left


def _runs(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def counts(here: Installation) -> Counts:
    """Rows by table, and how often each kind of job was wanted. A fetched binder leaves a line in the audit: not here.

    Nor the beats, which whoever does the jobs writes over.
    """
    tables = [name for (name,) in here.rows("SELECT name FROM sqlite_master WHERE type = 'table'")]
    found = {name: here.rows(f"SELECT count(*) FROM {name}")[0][0] for name in tables if name != "portfolio_beat"}
    read = here.rows("SELECT count(*) FROM portfolio_auditevent WHERE verb = 'binder.read_document'")[0][0]
    found["portfolio_auditevent"] -= read
    wanted = here.rows("SELECT kind, sum(wanted) FROM portfolio_job GROUP BY kind")
    return found | {f"{kind} wanted": number for kind, number in wanted}


def row_of(said: str, name: str) -> str:
    (line,) = re.findall(rf"^  {re.escape(name)}  +(.+)$", said, re.MULTILINE)
    return str(line)


def test_what_was_stopped_goes_on_from_there(played: Played) -> None:
    assert played.stopped_code == 1
    assert "Stopped. Run it again: it goes on from here." in played.stopped
    assert "Traceback" not in played.stopped
    assert played.left_behind == []
    assert "28 units; applied as revision 1\n" in played.stopped
    assert "applied as revision 1\n" not in played.finished
    assert "May: 1 record (there already)" in played.finished


def test_everything_planted_is_found_and_nothing_else(played: Played) -> None:
    assert played.finished_code == 0, played.finished
    findings = sum(len(fault.finds) for fault in FAULTS)
    traps = sum(trap.checks for trap in TRAPS)
    assert row_of(played.finished, "found") == f"{findings} of {findings}, for {len(FAULTS)} faults"
    assert row_of(played.finished, "missed") == "0"
    assert row_of(played.finished, "false") == "0"
    assert row_of(played.finished, "traps avoided") == f"{traps} of {traps}"
    for fault in FAULTS:
        assert f"{len(fault.finds)} of {len(fault.finds)}  " in row_of(played.finished, fault.key)


def test_every_fault_with_a_retest_is_closed_and_the_rest_stands_as_the_story_leaves_it(played: Played) -> None:
    ends = {
        "retest": "closed by retest",
        "accepted": "accepted as is",
        "open": "open, the company has it",
        "correction": "gone with the correction",
        "provisional": "no issue, provisional",
    }
    for fault in FAULTS:
        assert f"  {ends[fault.ends]}  " in row_of(played.finished, fault.key)
    states = dict(played.here.rows("SELECT state, count(*) FROM commissioning_issue GROUP BY state"))
    ended = Counter(fault.ends for fault in FAULTS)
    assert (states["closed"], states["accepted"], states["released"]) == (ended["retest"], 1, ended["open"])
    assert ended["open"] >= 2
    assert "ready" not in states
    assert "not_ours" not in states


def test_a_second_run_doubles_nothing_and_says_so(played: Played) -> None:
    assert played.again_code == 0, played.again
    looked = played.after[
        "renew wanted"
    ]  # each start has it looked at, once, whether what is derived is of today's rules
    assert played.after_again == played.after | {"renew wanted": looked + 1}
    assert " 0 things were made, " in played.again
    assert "9 binders (all there already)" in played.again
    assert [f.stat().st_size > 10_000 for f in played.folder.glob("*.pdf")] == [True] * len(BUILDINGS)


def test_every_write_came_by_http_with_a_token(played: Played) -> None:
    without_request = played.here.rows("SELECT DISTINCT verb FROM portfolio_auditevent WHERE request_id = ''")
    assert {verb for (verb,) in without_request} == {"found_firm", "binder.built"}
    without_token = played.here.rows("SELECT DISTINCT verb FROM portfolio_auditevent WHERE token_id IS NULL")
    assert {verb for (verb,) in without_token} == {"found_firm", "binder.built", "make_token"}


def test_each_record_and_each_act_on_an_issue_has_its_line_in_the_audit(played: Played) -> None:
    records = "SELECT count(*) FROM commissioning_submission"
    acts = "SELECT count(*) FROM commissioning_issueevent WHERE person_id IS NOT NULL"
    for counted, verbs in ((records, "verb = 'submit_evidence'"), (acts, "verb LIKE 'issue.%'")):
        lines = f"SELECT count(*) FROM portfolio_auditevent WHERE {verbs} AND token_id IS NOT NULL AND request_id <> ''"
        assert played.here.rows(counted) == played.here.rows(lines)
    people = "SELECT count(DISTINCT person_id) FROM portfolio_auditevent WHERE verb = 'submit_evidence'"
    assert played.here.rows(people) == [(3,)]


def test_the_other_kinds_of_record_came_and_their_issues_ended_both_ways(played: Played) -> None:
    kinds = dict(played.here.rows("SELECT kind, count(*) FROM commissioning_record GROUP BY kind"))
    others = Counter([*(visit.kind for visit in VISITS), *(visit.kind for visit in STARTS)])
    assert {name: number for name, number in kinds.items() if name != "airflow"} == others
    for fault in FAULTS_BY_KIND:
        assert re.search(r"closed by retest|open, the company has it", row_of(played.finished, fault.key))
    for fault in FAULTS_AT_START:
        assert "closed by retest" in row_of(played.finished, fault.key)


def test_every_job_was_done_by_who_claimed_it(played: Played) -> None:
    unfinished = "SELECT kind, error FROM portfolio_job WHERE due OR done <> wanted OR error <> '' OR claimed = 0"
    assert played.here.rows(unfinished) == []
    kinds = {kind for (kind,) in played.here.rows("SELECT DISTINCT kind FROM portfolio_job")}
    assert kinds == {"judge", "rejudge", "renew", "binder"}


def test_a_binder_that_was_fetched_verifies_from_its_file_alone(played: Played) -> None:
    kept = {sha for (sha,) in played.here.rows("SELECT document_id FROM commissioning_binder")}
    files = sorted(played.folder.glob("*.pdf"), key=lambda file: file.stat().st_size)
    assert {hashlib.sha256(file.read_bytes()).hexdigest() for file in files} == kept
    assert played.here.manage("verify_binder", str(files[0])).stdout.startswith("The same: ")


def test_what_it_wrote_down_is_for_nobody_else(played: Played) -> None:
    assert (played.folder / "notes.json").stat().st_mode & 0o077 == 0
    assert "vfd_" not in played.finished
