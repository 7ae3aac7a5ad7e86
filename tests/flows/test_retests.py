"""What counts as a retest of an issue, and what does not."""

import json
from typing import Any

import pytest

from commissioning.models import Issue
from portfolio.jobs import runner
from tests import envelopes
from tests.cast import Cast
from tests.flows.test_one_unit import act, sent, staged, submit

pytestmark = pytest.mark.django_db(transaction=True)
__all__ = ["staged"]

LATER = "2026-05-12T09:00:00-06:00"


@pytest.fixture
def ready(staged: Cast) -> tuple[Cast, Issue]:
    """One issue about supply and outdoor air, declared ready by the contractor."""
    submit(staged, sent(staged, "low", {"supply": 820, "outdoor": 820}))
    runner.drain()
    first, second = Issue.objects.order_by("number")
    act(staged, "lead", second, "merge", into=str(first.pk))
    act(staged, "lead", first, "release", company=str(staged.things["company"].pk), due="2026-05-11")
    act(staged, "contractor", first, "answer_ready", text="New actuator, damper opens fully.")
    first.refresh_from_db()
    return staged, first


def preliminary(cast: Cast) -> bytes:
    return sent(cast, "a first look", {"supply": 810}, stage="preliminary", session="AL-1", at=LATER)


def rotation(cast: Cast) -> bytes:
    made: dict[str, Any] = json.loads(sent(cast, "rotation", session="AL-1", at=LATER))
    payload = made["payload"]
    kept = {name: payload[name] for name in ("stage", "session", "grade", "state")}
    made |= {"kind": "electrical", "payload": kept | {"fans": [{"fan": "supply", "rotation": "correct"}]}}
    return envelopes.raw(made)


@pytest.mark.parametrize("other", [preliminary, rotation])
def test_another_record_of_the_unit_is_no_retest(ready: tuple[Cast, Issue], other: Any) -> None:
    cast, issue = ready
    submit(cast, other(cast))
    runner.drain()
    issue.refresh_from_db()
    assert (issue.state, issue.wasted_call_outs) == ("ready", 0)


def test_final_readings_that_fail_again_are_a_wasted_call_out(ready: tuple[Cast, Issue]) -> None:
    cast, issue = ready
    submit(cast, sent(cast, "still low", {"supply": 840, "outdoor": 840}, session="AL-2", at=LATER))
    runner.drain()
    issue.refresh_from_db()
    assert (issue.state, issue.wasted_call_outs) == ("released", 1)
