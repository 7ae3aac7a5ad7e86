"""One unit by API, from a failing final to verified closure; both databases."""

import uuid
from datetime import date
from typing import Any

import pytest
from django.db import transaction

from commissioning.models import CurrentVerdict, Issue, Submission
from portfolio.jobs import queue, runner
from portfolio.models import DesignEntry, DesignRevision, Job, Position, Standing
from tests import envelopes
from tests.cast import Actor, Cast
from tests.end_state import end_hash, end_state

pytestmark = pytest.mark.django_db(transaction=True)

DESIGN = {"supply": 1000.0, "return": 950.0, "outdoor": 1000.0, "exhaust": 950.0}


@pytest.fixture
def staged(cast: Cast) -> Cast:
    """The stage's unit has a design; nothing is measured."""
    revision = DesignRevision.objects.create(
        project=cast.things["project"], number=1, dated=date(2026, 1, 5), source="design",
        applied_by=cast.person("own", "lead"),
    )  # fmt: skip
    DesignEntry.objects.create(
        revision=revision,
        position=cast.things["position"],
        fields=envelopes.design(DESIGN, minimum={"outdoor": 700}),
    )
    return cast


def tech(cast: Cast) -> Actor:
    return cast.actor("own", "technician")


def sent(cast: Cast, name: str, flows: dict[str, float] | None = None, **rest: Any) -> bytes:
    given = {
        "position": cast.things["position"].pk,
        "person": cast.person("own", "technician").pk,
        "instrument": cast.things["instrument"].pk,
        "flows": DESIGN | (flows or {}),
    }
    return envelopes.raw(envelopes.envelope(name, **{**given, **rest}))


def submit(cast: Cast, body: bytes, status: int = 201) -> Any:
    response = tech(cast).call("POST", "submissions", body)
    assert response.status_code == status, response.content
    return response


def verdicts(cast: Cast) -> dict[tuple[str, str], str]:
    runner.drain()
    held = CurrentVerdict.objects.filter(position=cast.things["position"])
    return {(v.requirement, v.port): v.outcome for v in held}


def act(cast: Cast, who: str, issue: Issue, code: str, status: int = 200, **body: Any) -> Any:
    issue.refresh_from_db()
    response = cast.actor("own", who).call(
        "POST", f"issues/{issue.pk}/acts", {"act": code, **body}, headers={"If-Match": f'"{issue.version}"'}
    )
    assert response.status_code == status, response.content
    return response.json()


def test_a_unit_that_delivers_its_air_can_be_signed(staged: Cast) -> None:
    submit(staged, sent(staged, "good"))
    held = verdicts(staged)
    assert {held["design_airflow", port] for port in DESIGN} == {"conforms"}
    assert held["ventilation_minimum", "outdoor"] == "conforms"
    assert ("ventilation_minimum", "supply") not in held  # the outdoor air is what the schedule asks it of
    assert held["mass_balance", ""] == "conforms"
    assert Standing.objects.get(position=staged.things["position"]).code == "signable"
    assert not Issue.objects.exists()


def test_from_a_failing_final_to_a_closed_issue(staged: Cast) -> None:
    submit(staged, sent(staged, "low", {"supply": 820, "outdoor": 820}))
    assert verdicts(staged)["design_airflow", "supply"] == "does_not_conform"
    issues = list(Issue.objects.order_by("number"))
    assert [i.state for i in issues] == ["draft", "draft"]
    assert staged.actor("own", "contractor").call("GET", f"issues/{issues[0].pk}").status_code == 404

    first, second = issues
    act(staged, "lead", second, "merge", into=str(first.pk))
    company = str(staged.things["company"].pk)
    act(staged, "lead", first, "release", company=company, due="2026-05-11", root_cause="damper stuck half open")
    assert Standing.objects.get(position=staged.things["position"]).code == "with_company"
    act(staged, "contractor", first, "answer_ready", text="New actuator, damper opens fully.")
    act(staged, "lead", first, "schedule", retest_on="2026-05-12")
    refused = act(staged, "lead", first, "close", status=400)
    assert "passing evidence" in refused["errors"][0]["detail"]

    submit(
        staged,
        sent(staged, "still low", {"supply": 840, "outdoor": 840}, session="AL-2", at="2026-05-12T09:00:00-06:00"),
    )
    runner.drain()
    first.refresh_from_db()
    assert (first.state, first.wasted_call_outs) == ("released", 1)

    act(staged, "contractor", first, "answer_ready", text="Linkage set, blade at 90°.")
    submit(staged, sent(staged, "good now", session="AL-3", at="2026-05-14T09:00:00-06:00"))
    held = verdicts(staged)
    assert {held["design_airflow", port] for port in DESIGN} == {"conforms"}
    assert Standing.objects.get(position=staged.things["position"]).code == "to_close"
    done = act(staged, "lead", first, "close")
    assert done["state"] == "closed"
    assert [e["act"] for e in done["story"]] == [
        "draft", "merge", "release", "answer_ready", "schedule", "retest_failed", "answer_ready", "evidence_passes",
        "close",
    ]  # fmt: skip
    assert Standing.objects.get(position=staged.things["position"]).code == "signable"


def test_a_draft_whose_check_passes_before_release_is_withdrawn(staged: Cast) -> None:
    submit(staged, sent(staged, "low", {"supply": 820}))
    runner.drain()
    submit(
        staged,
        sent(
            staged, "typo mended", supersedes=[{"id": str(uuid.uuid5(envelopes.NAMESPACE, "low")), "reason": "a typo"}]
        ),
    )
    runner.drain()
    assert [i.state for i in Issue.objects.all()] == ["dropped"]


def test_the_same_bytes_bring_the_same_receipt_and_other_bytes_are_refused(staged: Cast) -> None:
    body = sent(staged, "once")
    first, again = submit(staged, body), submit(staged, body)
    assert first.content == again.content
    assert again["Idempotent-Replay"] == "true"
    refused = submit(staged, body.replace(b'"final"', b'"final" '), status=422).json()
    assert refused["kept_sha256"] != refused["sent_sha256"]
    assert Submission.objects.count() == 1


def test_an_envelope_whose_values_fail_is_kept_shown_and_never_evaluated(staged: Cast) -> None:
    receipt = submit(staged, sent(staged, "odd unit", unit="furlongs")).json()
    assert receipt["state"] == "needs_attention"
    assert "furlongs" in str(receipt["problems"])
    assert ("design_airflow", "supply") in verdicts(staged)
    assert verdicts(staged)["design_airflow", "supply"] == "not_due"
    assert Standing.objects.get(position=staged.things["position"]).code == "attention"


def test_a_batch_gives_a_result_per_line_and_a_bad_line_stops_nobody(staged: Cast) -> None:
    lines = [sent(staged, "one"), b"not json", sent(staged, "two", session="AL-2"), sent(staged, "one")]
    response = tech(staged).call("POST", "submissions/batch", b"\n".join(lines))
    said = [eval_json(line) for line in response.content.splitlines()]
    assert [one["status"] for one in said] == [201, 400, 201, 201]
    assert said[0]["receipt"] == said[3]["receipt"]
    assert Submission.objects.count() == 2


def eval_json(line: bytes) -> Any:
    import json

    return json.loads(line)


def test_a_reading_on_the_wrong_unit_is_moved_and_both_units_are_judged(staged: Cast) -> None:
    building = staged.things["building"]
    other = Position.objects.create(building=building, tag="ERV-2", kind="erv")
    revision = DesignRevision.objects.get()
    DesignEntry.objects.create(revision=revision, position=other, fields=envelopes.design({"supply": 500.0}))
    submit(staged, sent(staged, "wrong place", {"supply": 500}))
    assert verdicts(staged)["design_airflow", "supply"] == "does_not_conform"
    wrong = str(uuid.uuid5(envelopes.NAMESPACE, "wrong place"))
    moved = sent(
        staged, "right place", position=other.pk, flows={"supply": 500},
        supersedes=[{"id": wrong, "reason": "saved on the wrong unit"}],
    )  # fmt: skip
    submit(staged, moved)
    assert verdicts(staged)["design_airflow", "supply"] == "not_due"
    assert CurrentVerdict.objects.get(position=other, requirement="design_airflow", port="supply").outcome == "conforms"


def test_a_correction_may_arrive_before_what_it_corrects(staged: Cast) -> None:
    bad, good = (
        sent(staged, "bad", {"supply": 700}),
        sent(
            staged,
            "mended",
            supersedes=[{"id": str(uuid.uuid5(envelopes.NAMESPACE, "bad")), "reason": "a digit was lost"}],
        ),
    )
    submit(staged, good)
    runner.drain()
    submit(staged, bad)
    assert verdicts(staged)["design_airflow", "supply"] == "conforms"
    assert not Issue.objects.exists()


def test_what_is_derived_can_be_burnt_and_comes_out_equal_with_issues_linked(staged: Cast) -> None:
    from django.core.management import call_command

    submit(staged, sent(staged, "low", {"supply": 820}))
    submit(staged, sent(staged, "odd unit", unit="furlongs"))
    with transaction.atomic():
        queue.want("judge", Position.objects.values_list("pk", flat=True))
    runner.drain()
    issue = Issue.objects.get()
    act(staged, "lead", issue, "release", company=str(staged.things["company"].pk))
    before, checks = end_state(), list(issue.checks.values_list("pk", flat=True))
    call_command("burn_derived")
    assert not CurrentVerdict.objects.exists()
    runner.drain()
    assert end_state() == before
    assert end_hash()
    assert list(issue.checks.values_list("pk", flat=True)) == checks
    assert Job.objects.filter(due=True).count() == 0
