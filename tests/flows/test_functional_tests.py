"""A functional test by API: a failing run of two units in one visit, its issue released, retested and closed."""

import json
from typing import Any

import pytest

from commissioning.models import CurrentVerdict, Issue, IssueCheck, Record
from commissioning.signatures.actions import of_unit, sign
from portfolio.jobs import runner
from portfolio.models import DesignEntry, DesignRevision, Position, Standing
from tests import envelopes
from tests.cast import Cast
from tests.flows.test_one_unit import act, tech
from tests.kinds.test_run_records import WASTED, run

pytestmark = pytest.mark.django_db(transaction=True)
RETEST = "2026-05-12T09:00:00-06:00"


@pytest.fixture
def pair(cast: Cast) -> Cast:
    """Two units whose design names them and gives nothing else: only what somebody runs is judged."""
    first = cast.things["position"]
    cast.things["other"] = Position.objects.create(
        building=first.building, tag="ERV-8", kind="erv", system=first.system
    )
    revision = DesignRevision.objects.create(
        project=cast.things["project"], number=1, dated="2026-01-05", source="design",
        applied_by=cast.person("own", "lead"),
    )  # fmt: skip
    for one in (first, cast.things["other"]):
        DesignEntry.objects.create(revision=revision, position=one, fields={})
    return cast


def made(cast: Cast, name: str, where: str = "position", at: str = "2026-05-05T10:00:00-06:00", **rest: Any) -> Any:
    held = run("power", name=name, at=at, **rest)
    held |= {"position": str(cast.things[where].pk), "observed_by": str(cast.person("own", "technician").pk)}
    del held["payload"]["serial_seen"]
    return held


def submit(cast: Cast, *records: Any) -> None:
    """As one batch: a line for each unit."""
    body = b"\n".join(envelopes.raw(one) for one in records)
    answer = tech(cast).call("POST", "submissions/batch", body)
    assert answer.status_code == 200, answer.content
    assert [json.loads(line)["receipt"]["state"] for line in answer.content.splitlines()] == ["kept"] * len(records)
    runner.drain()


def outcome(cast: Cast, where: str = "position") -> tuple[str, str]:
    held = CurrentVerdict.objects.get(position=cast.things[where], requirement="functional_tests")
    return held.port, held.outcome


def standing(cast: Cast) -> tuple[str, str]:
    held = Standing.objects.get(position=cast.things["position"])
    return held.code, held.sentence


def test_from_a_failing_run_to_a_closed_issue(pair: Cast) -> None:
    forgot = {"kept": {"yes": False, "note": "the schedule was empty"}}
    failing = made(pair, "first", otherwise=forgot, run="FT-1")
    submit(pair, failing, made(pair, "other", "other", run="FT-1"))
    assert outcome(pair) == ("power", "does_not_conform")
    assert outcome(pair, "other") == ("power", "conforms")
    assert set(Record.objects.values_list("session", flat=True)) == {"FT-1"}

    issue = Issue.objects.get()
    assert (issue.state, issue.title) == (
        "draft",
        f"{pair.things['position'].tag} power test: functional tests not met",
    )
    act(pair, "lead", issue, "release", company=str(pair.things["company"].pk), due="2026-05-11")
    act(pair, "contractor", issue, "answer_ready", text="The settings are stored now, and the battery is new.")
    broken_off = {"reason": "Thunder.", "safe_state": "Running by its schedule."}
    submit(pair, made(pair, "thunder", at="2026-05-11T09:00:00-06:00", aborted=broken_off, run="FT-2"))
    issue.refresh_from_db()
    assert (outcome(pair)[1], issue.state, issue.wasted_call_outs) == ("does_not_conform", "ready", 0)

    told = {"id": failing["id"], "issue": issue.number}
    submit(pair, made(pair, "retest", at=RETEST, retest_of=told, run="FT-3"))
    assert outcome(pair)[1] == "conforms"
    assert standing(pair)[0] == "to_close"
    assert act(pair, "lead", issue, "close")["state"] == "closed"
    assert standing(pair)[0] == "signable"


def test_what_is_left_to_test_is_told_by_name(pair: Cast) -> None:
    submit(pair, made(pair, "short", answers=[{"step": "stopped_first", "yes": True}]))
    assert standing(pair) == ("preliminary", "Functional tests to run or to finish: power.")


def test_a_call_out_that_a_record_says_was_wasted_is_counted_once_at_the_issue_it_names(pair: Cast) -> None:
    forgot = {"kept": {"yes": False, "note": "the schedule was empty"}}
    failing = made(pair, "first", otherwise=forgot)
    submit(pair, failing)
    issue = Issue.objects.get()
    IssueCheck.objects.create(issue=issue, position=pair.things["other"], requirement="functional_tests", port="power")
    submit(pair, made(pair, "other", "other", otherwise=forgot))
    act(pair, "lead", issue, "release", company=str(pair.things["company"].pk), due="2026-05-11")
    act(pair, "contractor", issue, "answer_ready", text="The settings are stored now.")
    told: dict[str, Any] = {"retest_of": {"id": failing["id"], "issue": issue.number}, "wasted": WASTED}
    submit(pair, made(pair, "nobody came", at=RETEST, run="FT-2", **told))
    issue.refresh_from_db()
    assert (issue.state, issue.wasted_call_outs) == ("released", 1)
    assert issue.events.get(act="waste_call_out").text == "By Trelisk Controls: No controls technician came."
    assert Standing.objects.get(position=pair.things["other"]).code == "with_company"  # it shares the issue

    submit(pair, made(pair, "the same visit", at=RETEST, run="FT-2", **told))
    submit(pair, made(pair, "of no issue", at=RETEST, run="FT-3", wasted=WASTED))
    issue.refresh_from_db()
    assert (issue.state, issue.wasted_call_outs) == ("released", 1)
    assert Issue.objects.count() == 1


def test_the_plan_of_a_unit_tells_what_is_due_and_what_its_steps_have_to_come_to(pair: Cast) -> None:
    """400 cfm at 0.000471947 m³/s each are 0.18878 m³/s; at least that, with what the step allows below it."""
    unit = pair.things["position"]
    fields = {
        "ports": {"outdoor": {"minimum": {"value": 400.0, "unit": "cfm"}, "basis": "standard"}},
        "equipment": {"unit": {"options": ["bypass"], "tests": ["minimum"]}},
    }
    DesignEntry.objects.filter(position=unit).update(fields=fields)
    told = tech(pair).call("GET", f"positions/{unit.pk}/test-plan").json()
    tests = {one["procedure"]: one for one in told["tests"]}
    assert [code for code, one in tests.items() if one["due"]] == ["minimum"]
    assert tests["frost"]["applies"] in ("yes", "no", "not_known")
    steps = {one["step"]: one for one in tests["minimum"]["steps"]}
    asked = steps["outdoor_at_minimum"]
    assert asked["expected"] == {"value": pytest.approx(0.18878, rel=1e-4), "unit": "m3/s"}
    assert (asked["basis"], asked["missing"], asked["measured"]) == ("standard", [], True)


def test_a_deferred_test_lets_the_unit_be_signed_with_a_seasonal_test_outstanding(pair: Cast) -> None:
    season = {"condition": "Below freezing.", "pays": "the owner", "owner": "Idris Fenwarden", "by": "2026-12-15"}
    submit(pair, made(pair, "later", answers=[], deferred=season))
    outstanding = "Everything that is due conforms: it can be signed. Seasonal test outstanding: power."
    assert standing(pair) == ("signable", outstanding)
    unit, lead = pair.things["position"], pair.person("own", "lead")
    sign(position=unit, person=lead, of=of_unit(unit.pk).signable.sha256)
    assert standing(pair)[0] == "season"
    submit(pair, made(pair, "cold day", at=RETEST))
    assert standing(pair)[0] == "signable"
    assert standing(pair)[1].endswith("is void, since this changed: functional tests power.")
