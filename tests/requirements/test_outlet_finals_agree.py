"""Outlets that a second person read again: agreed, disputed, not comparable; and what a dispute holds up."""

from __future__ import annotations

from typing import Any

import pytest

from tests.judging.builder import judged, named
from tests.judging.outlet_records import designed, outlet, outlets
from tests.requirements.test_outlets import HOOD, LATER, ROOM_5, shown

RULE = "outlet_finals_agree"
OTHER = {**HOOD, "id": named("other")}
LAST = "2026-05-08T09:00:00-05:00"
THREE = {name: outlet(branch="B1", room="112") for name in ("D1", "D2", "D3")}
LEFT = outlets({"D1": 200.0, "D2": 200.0, "D3": 200.0})


def verified(flows: dict[str, float], *, at: str = LATER, name: str = "again", **changes: Any) -> dict[str, Any]:
    given = {"session": "V-1", "purpose": "verification", "instrument": named("other"), **changes}
    return outlets(flows, name=name, at=at, **given)


def result(*envelopes: Any, rooms: dict[str, Any] | None = None, tools: list[Any] | None = None) -> Any:
    found = judged(*envelopes, place=designed(THREE, rooms), instruments=tools or [HOOD, OTHER])
    assert found.problems == []
    return found


def test_without_a_verification_nothing_is_said() -> None:
    assert result(LEFT).outcome(RULE, "supply") == "nothing said"


@pytest.mark.parametrize(("second", "outcome"), [(200.0, "conforms"), (215.0, "conforms"), (230.0, "does_not_conform")])
def test_two_readings_of_an_outlet_differ_by_no_more_than_both_uncertainties(second: float, outcome: str) -> None:
    """Each reading: u = 2.915 % (hood 1.5, method 2, type 1.5), U twice that. 200 and 215: E = 15 / 17.1; 230: 1.69."""
    one = result(LEFT, verified({"D2": second})).judgement(RULE, "supply")
    wide = 2.0 * (0.015**2 + 0.02**2 + 0.015**2) ** 0.5
    expected = (second - 200.0) / (wide * (200.0**2 + second**2) ** 0.5)
    assert one["verdict"] == outcome
    assert one["value"] == pytest.approx(expected, rel=1e-6)
    assert bool(one["look_next"]) is (outcome != "conforms")


def test_what_one_hood_shares_cannot_make_its_readings_differ() -> None:
    """Of each variance the hood has 1.5² of 8.5: r = 0.26471."""
    one = result(LEFT, verified({"D2": 215.0}, instrument=HOOD["id"])).judgement(RULE, "supply")
    (pair,) = one["facts"]["outlets"]
    assert pair["correlation"] == pytest.approx(1.5**2 / (1.5**2 + 2.0**2 + 1.5**2), rel=1e-6)
    assert one["value"] > result(LEFT, verified({"D2": 215.0})).judgement(RULE, "supply")["value"]


def test_the_worst_of_those_read_again_is_the_verdict_and_the_others_owe_nothing() -> None:
    one = result(LEFT, verified({"D1": 202.0, "D2": 240.0})).judgement(RULE, "supply")
    assert [row_["name"] for row_ in one["facts"]["outlets"]] == ["D2", "D1"]
    assert one["facts"]["counts"] == "1 of 2 outlets within, 1 outside"
    assert len(one["rests_on"]) == 2


def test_a_dispute_holds_up_the_outlet_and_its_room_until_it_is_read_again_as_left() -> None:
    found = result(LEFT, verified({"D2": 240.0}), rooms=ROOM_5)
    assert found.outcome("outlet_airflow", "supply") == "disputed"
    assert "retest together" in found.judgement("outlet_airflow", "supply")["absence"]["text"]
    assert "retest together" in found.judgement("room_airflow")["absence"]["text"]
    anew = outlets({"D1": 200.0, "D2": 200.0, "D3": 200.0}, name="anew", at=LAST, session="AL-2")
    settled = result(LEFT, verified({"D2": 240.0}), anew, rooms=ROOM_5)
    assert settled.outcome("outlet_airflow", "supply") == "conforms"
    assert settled.outcome("room_airflow") == "conforms"
    assert settled.judgement(RULE, "supply")["clause"] == "a single final stands"
    assert "a single final stands at each outlet" in shown(settled, RULE, "supply")


def test_the_latest_verification_counts() -> None:
    twice = (verified({"D2": 240.0}), verified({"D2": 203.0}, at=LAST, name="third"))
    assert result(LEFT, *twice).outcome(RULE, "supply") == "conforms"


@pytest.mark.parametrize(
    ("envelopes", "code", "reason"),
    [
        ((verified({"D2": 200.0}),), "not_due", "no as-left final that it could verify"),
        ((LEFT, verified({"D9": 200.0})), "not_due", "no as-left final"),
        ((LEFT, verified({"D2": 200.0}, basis="standard")), "conforms", ""),
        ((LEFT, verified({"D2": 200.0}, stage="preliminary")), "nothing said", ""),
    ],
)
def test_what_is_compared_with_nothing_says_why(envelopes: tuple[Any, ...], code: str, reason: str) -> None:
    found = result(*envelopes)
    assert found.outcome(RULE, "supply") == code
    if reason:
        assert reason in found.judgement(RULE, "supply")["absence"]["text"]


def test_a_verification_at_another_machine_counts_for_nothing() -> None:
    again = verified({"D2": 240.0}, serial_seen="M-9")
    found = judged(LEFT, again, place=designed(THREE), instruments=[HOOD, OTHER])
    assert found.outcome("outlet_airflow", "supply") == "conforms"
    assert "Is it the right unit" in found.judgement(RULE, "supply")["absence"]["text"]


def test_the_page_tells_both_readings() -> None:
    found = result(LEFT, verified({"D1": 202.0, "D2": 240.0}))
    told = shown(found, RULE, "supply")
    assert "Furthest apart is D2: 200" in told
    assert "E = |a - b|" in told
