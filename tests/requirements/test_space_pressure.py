"""Spaces against their neighbours: sign and size, and what a pascal of uncertainty leaves open.

A perfect instrument leaves the ±1 Pa (k = 2) of common practice, so that the limits below are sums of whole numbers.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissioning import judging
from tests.judging.builder import conventions, judged, state
from tests.kinds.test_pressure import gauge
from tests.requirements.pressures import designed, envelope, pa, space

CODE = "space_pressure"
PERFECT = gauge(accuracy={"relative": 0.0, "absolute": None, "shape": "rectangular"}, resolution=None)


def inside(value: float, name: str = "Clinic", **rest: Any) -> dict[str, Any]:
    return space(*[value] * 4, space=name, against="neighbour", neighbour="Corridor", **rest)


def rooms(relation: str | None = "positive", least: float | None = None, name: str = "Clinic") -> dict[str, Any]:
    room = {"relation": relation} if relation else {}
    return designed(rooms={name: room | ({"pressure": pa(least)} if least is not None else {})})


def result(place: dict[str, Any], *spaces: dict[str, Any], **changes: Any) -> Any:
    return judged(envelope(spaces=list(spaces)), place=place, instruments=[PERFECT], **changes)


@pytest.mark.parametrize(
    ("relation", "least", "measured", "outcome"),
    [
        ("positive", None, 1.1, "conforms"),
        ("positive", None, 0.9, "inconclusive"),  # within ±1 Pa of zero
        ("positive", None, -0.9, "inconclusive"),
        ("positive", None, -1.1, "does_not_conform"),
        ("negative", None, -1.1, "conforms"),
        ("negative", None, 0.5, "inconclusive"),
        ("negative", None, 1.1, "does_not_conform"),
        ("positive", 5.0, 5.0, "conforms"),
        ("positive", 5.0, 4.9, "does_not_conform"),
        ("positive", 5.0, 0.5, "does_not_conform"),  # 0.5 + 1 is below 5 all the same
        ("positive", 1.2, 0.8, "inconclusive"),  # 0.8 + 1 would do
        ("negative", 2.5, -2.5, "conforms"),
        ("negative", 2.5, 2.5, "does_not_conform"),
        ("neutral", 2.0, 1.5, "conforms"),
        ("neutral", 2.0, -2.5, "does_not_conform"),
        ("neutral", None, 0.5, "not_given"),
        (None, None, 9.0, "not_given"),
    ],
)
def test_sign_and_size(relation: str | None, least: float | None, measured: float, outcome: str) -> None:
    assert result(rooms(relation, least), inside(measured)).outcome(CODE) == outcome


def test_a_guarded_rule_needs_the_size_with_its_uncertainty() -> None:
    guarded = conventions(decision_rule="guarded_acceptance")
    assert result(rooms("positive", 5.0), inside(5.5), conventions=guarded).outcome(CODE) == "inconclusive"
    assert result(rooms("positive", 5.0), inside(6.1), conventions=guarded).outcome(CODE) == "conforms"


def test_the_worst_space_is_the_unit_s_verdict_and_all_are_told() -> None:
    place = designed(rooms={"Clinic": {"relation": "positive"}, "Store": {"relation": "negative"}})
    held = result(place, inside(4.0), inside(3.0, "store"))
    one = held.judgement(CODE)
    assert one["verdict"] == "does_not_conform"
    assert [part["verdict"] for part in one["facts"]["parts"]] == ["conforms", "does_not_conform"]
    assert judging.exit_code(held.json) == 1


def test_a_space_read_with_its_door_open_is_not_judged_and_hides_behind_no_other() -> None:
    place = designed(rooms={"Clinic": {"relation": "positive"}, "Store": {"relation": "positive"}})
    one = result(place, inside(4.0), inside(4.0, "Store", door="open")).judgement(CODE)
    assert one["absence"]["code"] == "not_judged"
    assert "Store: the door was open" in one["absence"]["text"]
    assert any("Read Store again" in step for step in one["look_next"])


def test_a_designed_pressure_waits_for_its_reading_and_a_relation_alone_does_not() -> None:
    assert judged(place=rooms("positive", 5.0)).outcome(CODE) == "not_due"
    assert judged(place=rooms("positive")).outcome(CODE) == "nothing said"
    place = designed(rooms={"Clinic": {"relation": "positive"}, "Store": {"pressure": pa(5.0), "relation": "positive"}})
    assert result(place, inside(4.0)).judgement(CODE)["absence"]["text"] == "Not read yet: Store."


def test_open_doors_of_the_whole_record_judge_nothing() -> None:
    given_ = envelope(spaces=[inside(4.0)], state=state(doors="open"))
    assert judged(given_, place=rooms(), instruments=[PERFECT]).outcome(CODE) == "not_judged"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"wind": {"value": 2.8, "unit": "m/s"}}, "a still day"),  # ±1.41 Pa by the wind
        ({"averages": (0.1, 4.0, -3.0, 0.9)}, "a longer average"),
        ({}, "more offset between supply and exhaust"),  # ±1 Pa of any space, and little else
    ],
)
def test_what_would_settle_it_goes_by_what_is_most_uncertain(change: dict[str, Any], said: str) -> None:
    averages = change.pop("averages", (0.5,) * 4) if "averages" in change else (0.5,) * 4
    outdoors = space(*averages, **{"wind": {"value": 0.0, "unit": "m/s"}, **change})
    one = result(designed(rooms={"Lobby": {"relation": "positive"}}), outdoors).judgement(CODE)
    assert one["verdict"] == "inconclusive"
    assert said in one["look_next"][0]


def test_a_coarse_gauge_asks_for_a_better_one() -> None:
    coarse = gauge(accuracy={"relative": 0.0, "absolute": {"value": 5.0, "unit": "Pa"}, "shape": "rectangular"})
    held = judged(envelope(spaces=[inside(3.0)]), place=rooms(), instruments=[coarse])
    assert held.outcome(CODE) == "inconclusive"  # ±5/√3 · 2 = 5.8 Pa
    assert "a better instrument" in held.judgement(CODE)["look_next"][0]


def test_inches_say_the_same() -> None:
    thousandths = inside(0.0) | {"readings": {"values": [5.5 / 249.08891] * 4, "unit": "in_wc"}}
    for one in (thousandths, inside(5.5)):
        assert result(rooms("positive", 5.0), one).judgement(CODE)["margin"] == pytest.approx(0.5, abs=1e-6)


def test_it_says_why_it_is_open() -> None:
    held = result(rooms(), inside(0.5))
    text = repr(judging.show_judgement(held.judgement(CODE), held.measurements, "si"))
    assert "Clinic 0.5 ± 1.0 Pa against Corridor; required positive. 0.5 Pa cannot be told from zero" in text


@given(value=st.floats(-30.0, 30.0), least=st.floats(0.0, 20.0))
def test_positive_and_negative_mirror_one_another(value: float, least: float) -> None:
    up = result(rooms("positive", least or None), inside(value)).outcome(CODE)
    down = result(rooms("negative", least or None), inside(-value)).outcome(CODE)
    assert up == down


@given(value=st.floats(-30.0, 30.0))
def test_whatever_conforms_has_its_sign_for_certain(value: float) -> None:
    one = result(rooms("positive"), inside(value)).judgement(CODE)
    assert (one["verdict"] == "conforms") == (value > one["expanded_uncertainty"])
