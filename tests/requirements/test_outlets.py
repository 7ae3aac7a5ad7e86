"""Outlets by port: what conforms, fails, stays open or is not there, arithmetic beside it, and the whole way."""

from __future__ import annotations

import json
import random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commissioning import judging
from commissioning.judging.document import exit_code
from tests.judging.builder import (
    conventions,
    document,
    envelope,
    instrument,
    judged,
    named,
    port_design,
    position,
    state,
)
from tests.judging.outlet_records import designed, not_read, outlet, outlets, row

CFM = 0.0004719474432  # m3/s, exact
HOOD = instrument(accuracy={"relative": 0.03, "absolute": None, "shape": "normal_k2"}, resolution=None)
THREE = {name: outlet(branch="B1", room="112") for name in ("D1", "D2", "D3")}
LATER = "2026-05-06T09:00:00-05:00"
ROOM_5 = {"112": {"tolerance": {"low": -0.05, "high": 0.05, "clause": "23 05 93, 3.8"}}}


def result(*envelopes: Any, place: dict[str, Any] | None = None, **changes: Any) -> Any:
    found = judged(*envelopes, place=place or designed(THREE), instruments=[HOOD], **changes)
    assert found.problems == []
    return found


def shown(found: Any, requirement: str, port: str = "") -> str:
    blocks = judging.show_judgement(found.judgement(requirement, port), found.measurements, "ip")
    return json.dumps([str(block) for block in blocks], ensure_ascii=False)


# --- outlets -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("readings", "tolerance", "outcome"),
    [
        pytest.param((218.0, 186.0, 205.0), None, "conforms", id="T6.04: +9, -7 and +2.5 % within 10"),
        pytest.param((220.0, 180.0, 200.0), None, "conforms", id="on both limits counts as inside"),
        pytest.param((221.0, 200.0, 200.0), None, "does_not_conform", id="10.5 % high"),
        pytest.param((179.0, 200.0, 200.0), None, "does_not_conform", id="10.5 % low"),
        pytest.param((0.0, 200.0, 200.0), None, "does_not_conform", id="an outlet without air"),
        pytest.param((215.0, 200.0, 200.0), {"low": -0.05, "high": 0.05}, "does_not_conform", id="7.5 % of ±5 %"),
        pytest.param((179.0, 200.0, 200.0), {"low": -0.1, "high": 0.1, "rounding": "percent_1"}, "does_not_conform"),
        pytest.param((179.2, 200.0, 200.0), {"low": -0.1, "high": 0.1, "rounding": "percent_1"}, "conforms"),
    ],
)
def test_each_outlet_lies_within_its_tolerance(
    readings: tuple[float, ...], tolerance: dict[str, Any] | None, outcome: str
) -> None:
    place = designed({name: outlet(tolerance=tolerance) for name in THREE})
    found = result(outlets(dict(zip(THREE, readings, strict=True))), place=place)
    assert found.outcome("outlet_airflow", "supply") == outcome


def test_one_verdict_per_port_with_its_outlets_worst_first() -> None:
    """D2 is 30 % low, D1 15 % high, D3 2.5 % high."""
    found = result(outlets({"D1": 230.0, "D2": 140.0, "D3": 205.0}))
    one = found.judgement("outlet_airflow", "supply")
    assert [(part["name"], part["verdict"]) for part in one["facts"]["outlets"]] == [
        ("D2", "does_not_conform"),
        ("D1", "does_not_conform"),
        ("D3", "conforms"),
    ]
    assert (one["value"], one["margin"]) == (pytest.approx(-0.3), pytest.approx(-0.2))
    assert one["sources"] == {"airflow": "Revision 3, addendum, 2026-04-08"}
    told = shown(found, "outlet_airflow", "supply")
    assert "1 of 3 outlets within, 2 outside. Furthest off is D2: 140" in told
    assert "the key outlet is D2 at 70 % of design; leave it open and bring D3, D1 into proportion" in told
    assert any("key outlet is D2" in step for step in one["look_next"])


def test_without_a_tolerance_of_its_own_the_projects_holds() -> None:
    one = result(outlets({"D1": 200.0, "D2": 200.0, "D3": 200.0})).judgement("outlet_airflow", "supply")
    assert (one["low"], one["high"], one["clause"]) == (-0.1, 0.1, "23 05 93, 3.6")
    assert one["look_next"] == []


@pytest.mark.parametrize(
    ("rule", "measured", "outcome"),
    [
        ("simple", 215.0, "conforms"),
        ("guarded_acceptance", 215.0, "inconclusive"),
        ("guarded_acceptance", 201.0, "conforms"),
        ("guarded_rejection", 225.0, "inconclusive"),
        ("guarded_rejection", 280.0, "does_not_conform"),
    ],
)
def test_the_decision_rule_is_the_projects(rule: str, measured: float, outcome: str) -> None:
    """U of a hood reading here: 2 sqrt(1.5² + 2² + 1.5²) = 5.8 % of reading, against ±10 %."""
    found = result(outlets({"D1": measured, "D2": 200.0, "D3": 200.0}), conventions=conventions(decision_rule=rule))
    assert found.outcome("outlet_airflow", "supply") == outcome
    if outcome == "inconclusive":
        first = found.judgement("outlet_airflow", "supply")["look_next"][0]
        assert first.startswith("What would settle it at D1: another method")


def test_what_was_designed_and_not_read_is_not_due_unless_something_fails_already() -> None:
    found = result(outlets({"D1": 200.0, "D2": 200.0}))
    one = found.judgement("outlet_airflow", "supply")
    assert one["absence"] == {"code": "not_due", "text": "1 of 3 outlets are not read yet: D3."}
    failing = result(outlets({"D1": 100.0, "D2": 200.0}))
    assert failing.outcome("outlet_airflow", "supply") == "does_not_conform"
    assert "Not read yet: D3." in shown(failing, "outlet_airflow", "supply")


def test_an_outlet_out_of_reach_is_kept_and_not_judged_and_the_verdict_is_provisional() -> None:
    found = result(outlets([row("D1", *[200.0] * 4), row("D2", *[200.0] * 4), not_read("D3")]))
    one = found.judgement("outlet_airflow", "supply")
    assert (one["verdict"], one["provisional"]) == ("conforms", True)
    told = shown(found, "outlet_airflow", "supply")
    assert "Conforms, provisionally. Supply air: 2 of 2 outlets within; 1 not judged." in told
    assert "not judged: no access: behind a locked door" in told
    none = result(outlets([not_read("D1"), not_read("D2", "blocked"), not_read("D3", "closed")]))
    assert none.outcome("outlet_airflow", "supply") == "not_judged"


def test_outlets_without_a_design_are_not_given() -> None:
    found = result(outlets({"D1": 200.0}), place=designed({}))
    assert found.outcome("outlet_airflow", "supply") == "not_given"
    assert "200" in shown(found, "outlet_airflow", "supply")


def test_a_unit_without_outlets_hears_nothing_of_them() -> None:
    requirements = {one["requirement"] for one in judged(envelope({"supply": 1000.0})).judgements}
    assert not requirements & {"outlet_airflow", "room_airflow", "room_offset", "duct_leakage"}


def test_preliminary_readings_and_verifications_are_no_ground() -> None:
    for changes in ({"stage": "preliminary"}, {"purpose": "verification"}):
        assert result(outlets({"D1": 100.0}, **changes)).outcome("outlet_airflow", "supply") == "not_due"
    assert result().outcome("outlet_airflow", "supply") == "not_due"


def test_records_of_one_session_make_one_picture_and_the_later_reading_of_an_outlet_stands() -> None:
    first = outlets({"D1": 100.0, "D2": 200.0})
    second = outlets({"D1": 200.0, "D3": 200.0}, name="second", at=LATER)
    one = result(first, second).judgement("outlet_airflow", "supply")
    assert one["verdict"] == "conforms"
    assert one["rests_on"] == [named("outlets"), named("second")]
    assert judged(second, first, place=designed(THREE), instruments=[HOOD]).json == result(first, second).json


def test_outlets_of_an_older_session_are_to_be_read_again() -> None:
    first = outlets(dict.fromkeys(THREE, 200.0))
    second = outlets({"D1": 200.0}, name="second", at=LATER, session="AL-2")
    absence = result(first, second).judgement("outlet_airflow", "supply")["absence"]
    assert absence["code"] == "recheck"
    assert absence["text"].startswith("2 of 3 outlets cannot be judged, D2, D3: Read in session AL-1; outlets were set")
    touched = envelope({"supply": 600.0}, name="unit", at=LATER, session="AL-2")
    assert result(first, touched).outcome("outlet_airflow", "supply") == "recheck"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"state": state(mode="minimum")}, "mode minimum"),
        ({"state": state(filters="construction")}, "construction filters"),
        ({"serial_seen": "M-9"}, "M-9"),
    ],
)
def test_a_final_that_is_no_ground_says_why(changes: dict[str, Any], words: str) -> None:
    found = judged(outlets(dict.fromkeys(THREE, 100.0), **changes), place=designed(THREE), instruments=[HOOD])
    absence = found.judgement("outlet_airflow", "supply")["absence"]
    assert absence["code"] == "not_judged"
    assert words in absence["text"]


def test_a_hood_found_outside_its_limits_afterwards_is_no_ground_and_a_lapsed_one_is_provisional() -> None:
    failed = [
        {"certificate": "C-1", "on": "2026-01-10", "due": "2027-01-10", "as_found": "within"},
        {"certificate": "C-2", "on": "2026-09-10", "due": "2027-09-10", "as_found": "outside"},
    ]
    lapsed = [{"certificate": "C-0", "on": "2024-01-10", "due": "2025-01-10", "as_found": "within"}]
    given_outlets = outlets(dict.fromkeys(THREE, 200.0))
    found = judged(given_outlets, place=designed(THREE), instruments=[{**HOOD, "calibrations": failed}])
    assert found.outcome("outlet_airflow", "supply") == "not_judged"
    found = judged(given_outlets, place=designed(THREE), instruments=[{**HOOD, "calibrations": lapsed}])
    assert found.judgement("outlet_airflow", "supply")["provisional"]


def test_what_is_not_in_scope_is_not_counted() -> None:
    found = result(outlets(dict.fromkeys(THREE, 100.0)), place=designed(THREE, ROOM_5, scope="deferred"))
    assert found.outcome("outlet_airflow", "supply") == "not_counted" == found.outcome("room_airflow")


# --- the whole way -----------------------------------------------------------------------------------------------


@settings(max_examples=15, deadline=None)
@given(st.lists(st.floats(100.0, 300.0), min_size=3, max_size=3), st.randoms())
def test_the_order_of_rows_and_records_does_not_matter(values: list[float], shuffle: random.Random) -> None:
    rows = [row(name, value) for name, value in zip(THREE, values, strict=True)]
    mixed = list(rows)
    shuffle.shuffle(mixed)
    plain, other = (result(outlets(one), place=designed(THREE, ROOM_5)).judgements for one in (rows, mixed))
    assert other == plain


def test_inch_pounds_and_si_are_judged_alike() -> None:
    litres = {name: 1000.0 * CFM * value for name, value in zip(THREE, (230.0, 170.0, 200.0), strict=True)}
    ip = result(outlets({"D1": 230.0, "D2": 170.0, "D3": 200.0}), place=designed(THREE, ROOM_5))
    si = result(outlets(litres, unit="L/s"), place=designed(THREE, ROOM_5))
    assert si.outcomes() == ip.outcomes()
    for requirement, port in (("outlet_airflow", "supply"), ("room_airflow", "")):
        assert si.judgement(requirement, port)["value"] == pytest.approx(ip.judgement(requirement, port)["value"])


@pytest.mark.parametrize(("worst", "code"), [(200.0, 0), (150.0, 1)])
def test_a_document_with_a_raw_envelope_is_judged_whole(worst: float, code: int) -> None:
    place = position({"supply": port_design(600.0)})
    place["design"]["outlets"] = THREE
    raw = json.dumps(outlets({"D1": worst, "D2": 200.0, "D3": 200.0}))
    unit = json.dumps(envelope({"supply": 400.0 + worst}))
    given_document = document(raw, unit, place=place, instruments=[HOOD])
    given_document["conventions"]["default_tolerance"]["low"] = -0.2  # the unit itself conforms
    judgements = judging.judge_document(given_document)
    assert judgements["problems"] == []
    outcome = {(one["requirement"], one["port"]): one["verdict"] for one in judgements["positions"][0]["judgements"]}
    assert outcome["outlet_airflow", "supply"] == ("conforms" if code == 0 else "does_not_conform")
    assert exit_code(judgements) == code
