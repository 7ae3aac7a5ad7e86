"""A log's Parquet is derived: lost, damaged, burnt or of an older conversion, it is made again of its file."""

import hashlib
import json
from collections.abc import Callable
from typing import Any

import pytest
from django.core.management import call_command

from commissioning import logs
from commissioning.dossier import analyse_log
from commissioning.evidence.accept import Sender
from commissioning.evidence.trends import mapping, receiving, sending
from commissioning.evidence.trends.kept import kept_log
from commissioning.logs import child as reader
from commissioning.models import CurrentVerdict, JudgedPosition, Judgement, KeptLog, TrendAnalysis
from portfolio.blobs.store import path_of
from portfolio.jobs import child, queue, runner
from portfolio.models import Job
from tests.kinds.trend_records import LATE_DAMPER, day
from tests.pages import world
from tests.pages.world import World

pytestmark = pytest.mark.django_db
RUN = child.run


def exported() -> bytes:
    """A day whose damper opens too late, as a logger writes it: a row for each sample."""
    samples = [
        (at, role, value)
        for role, one in day(**LATE_DAMPER).items()
        for at, value in zip(one.times_s.tolist(), one.values.tolist(), strict=True)
    ]
    return "\n".join(["time,point,value", *(f"{at:.0f},{role},{value:.4f}" for at, role, value in samples)]).encode()


MAPPING: dict[str, Any] = {
    "source": "North wing",
    "zone": "America/Chicago",
    "time_format": "epoch_s",
    "points": [
        {"name": role, "role": role, "unit": "degC" if role == "supply_temperature" else ""}
        for role in day(**LATE_DAMPER)
    ],
}


def here(claim: Any, module: str, order: dict[str, Any], *, seconds: float) -> child.Ended:
    """The same in this process; one test lets it have its own."""
    answer = reader._answer(order) if module == reader.__name__ else analyse_log.answer(order)
    return child.Ended(0, json.dumps(answer).encode(), "")


@pytest.fixture
def firm(monkeypatch: pytest.MonkeyPatch) -> World:
    monkeypatch.setattr(child, "run", here)
    made = world.found()
    unit, technician = made.unit("ERV-1", "Sorrel Hall"), made.people["technician"]
    upload = receiving.receive_whole(position=unit, person=technician, file_name="day.csv", data=exported())
    mapping.apply(upload, mapping.read_mapping(MAPPING), technician)
    made.judged()
    upload.refresh_from_db()
    sending.send(upload, Sender(technician, None, "test"))
    made.judged()
    return made


def standing() -> Any:
    """What the log came to: inputs, what its samples said, the verdict with its working, and the Parquet's own hash."""
    verdict = CurrentVerdict.objects.select_related("judgement").get(requirement="trend_expectations")
    kept = KeptLog.objects.get()
    return (
        JudgedPosition.objects.get().inputs_hash,
        TrendAnalysis.objects.get().found,
        (verdict.outcome, verdict.judgement.result),
        (kept.parquet_id, hashlib.sha256(path_of(kept.parquet_id).read_bytes()).hexdigest()),
    )


def lost(monkeypatch: pytest.MonkeyPatch) -> None:
    path_of(KeptLog.objects.get().parquet_id).unlink()


def damaged(monkeypatch: pytest.MonkeyPatch) -> None:
    path_of(KeptLog.objects.get().parquet_id).write_bytes(b"PAR1 and nothing more")


def another_version(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(logs, "VERSION", logs.VERSION + 1)


def burnt(monkeypatch: pytest.MonkeyPatch) -> None:
    path_of(KeptLog.objects.get().parquet_id).unlink()
    call_command("burn_derived")
    assert not KeptLog.objects.exists()


@pytest.mark.parametrize("happens", [lost, damaged, another_version, burnt])
def test_what_is_gone_is_made_again_of_the_file_and_says_the_same(
    firm: World, monkeypatch: pytest.MonkeyPatch, happens: Callable[[pytest.MonkeyPatch], None]
) -> None:
    before = standing()
    assert before[2][0] == "does_not_conform"  # the damper opens 45 s after the fan's command
    judged = Judgement.objects.count()
    happens(monkeypatch)
    queue.want_renewal()
    runner.drain()
    assert standing() == before
    assert Judgement.objects.count() <= judged  # nothing new was found
    assert KeptLog.objects.get().version == logs.VERSION
    assert not Job.objects.exclude(error="").exists()


def test_it_is_made_again_in_a_process_of_its_own_with_the_same_limits(
    firm: World, monkeypatch: pytest.MonkeyPatch, settings: Any
) -> None:
    before = standing()
    asked: list[tuple[str, Any]] = []

    def watched(claim: Any, module: str, order: dict[str, Any], **rest: Any) -> Any:
        asked.append((module, order["memory_mb"]))
        return RUN(claim, module, order, **rest)

    monkeypatch.setattr(child, "run", watched)
    lost(monkeypatch)
    queue.want_renewal()
    runner.drain()
    assert asked == [("commissioning.logs.child", settings.LOG_MEMORY_MB)]  # what its samples said still stands
    assert standing() == before


def test_a_renewal_that_finds_all_in_its_place_makes_nothing(firm: World, monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: Any, **__: Any) -> Any:
        raise AssertionError("a child process was started")

    monkeypatch.setattr(child, "run", never)
    wanted = set(Job.objects.filter(kind="judge").values_list("wanted", flat=True))
    queue.want_renewal()
    runner.drain()
    assert not Job.objects.exclude(error="").exists()
    assert set(Job.objects.filter(kind="judge").values_list("wanted", flat=True)) == wanted


def test_units_judged_by_other_rules_than_those_of_now_are_judged_again(firm: World) -> None:
    JudgedPosition.objects.update(rules_hash="0" * 64)  # as an older version of the code left it
    queue.want_renewal()
    runner.drain()
    assert not JudgedPosition.objects.filter(rules_hash="0" * 64).exists()


def test_without_its_file_the_job_says_what_is_missing_and_the_verdict_stays(firm: World) -> None:
    kept = KeptLog.objects.get()
    path_of(kept.parquet_id).unlink()
    path_of(kept.raw_sha256).unlink()
    queue.want_renewal()
    runner.drain()
    assert "the file is not there" in Job.objects.get(kind="analyse").error
    assert kept_log(kept.raw_sha256, kept.mapping_sha256) is None
    assert CurrentVerdict.objects.get(requirement="trend_expectations").outcome == "does_not_conform"
