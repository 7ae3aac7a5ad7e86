"""A failing port lists its likely causes with their evidence, and asks for a speed only when nothing else stands."""

from __future__ import annotations

import json
import math
from functools import cache
from typing import Any

import pytest

from commissioning.judging import judge_document
from fixtures.scenario.as_document import document
from fixtures.scenario.equipment import UNIT_BY_KEY
from fixtures.scenario.ids import stable_uuid
from fixtures.scenario.places import project_of
from tests.judging.builder import (
    PERSON,
    POSITION,
    cfm,
    envelope,
    instrument,
    judged,
    named,
    port_design,
    position,
    state,
)

PA, A, RPM = "Pa", "A", "rpm"
FAN = {
    "speed": {"value": 1000.0, "unit": RPM},
    "maximum_speed": {"value": 1400.0, "unit": RPM},
    "nameplate_current": {"value": 10.0, "unit": A},
    "motor": "three_phase",
    "phases": 3,
}
LATER = "2026-05-11T10:15:00-05:00"
ALL_IN_ORDER = {"outdoor_inlet": -40.0, "after_filter": -100.0, "supply_outlet": 220.0}
HALF_FILTER = {"outdoor_inlet": -25.6, "after_filter": -180.0, "supply_outlet": 141.0}  # airflow 0.8: 0.64 of each


def statics(places: dict[str, float]) -> list[dict[str, Any]]:
    return [{"at": at, "pressure": {"value": value, "unit": PA}} for at, value in places.items()]


def fan(speed: float = 1000.0, current: float = 7.5, **changes: Any) -> dict[str, Any]:
    legs = {"values": [current] * 3, "unit": A}
    read = {"fan": "supply", "control": "constant_speed", "speed": {"value": speed, "unit": RPM}, "current": legs}
    return {**read, **changes}


def place(*, external: float | None = 220.0, **changes: Any) -> dict[str, Any]:
    static: dict[str, Any] = {"static_pressure": {"value": external, "unit": PA}} if external else {}
    return position({"supply": port_design(**static), "outdoor": port_design()}, fans={"supply": FAN}, **changes)


def supply(*envelopes: Any, where: dict[str, Any] | None = None) -> dict[str, Any]:
    result = judged(*envelopes, place=where or place())
    assert result.problems == []
    return result.judgement("design_airflow", "supply")


def both(flow: float, **payload: Any) -> dict[str, Any]:
    return envelope({"supply": flow, "outdoor": flow}, **payload)


def standing(judgement: dict[str, Any]) -> list[str]:
    return [cause["code"] for cause in judgement["facts"].get("causes", []) if cause["stands"]]


def second(flow: float, **payload: Any) -> dict[str, Any]:
    return both(flow, name="second", at=LATER, session="AL-2", **payload)


def loaded() -> dict[str, Any]:
    """A good first session, then a filter whose drop has more than doubled."""
    first = both(1000.0, fans=[fan()], static_pressures=statics(ALL_IN_ORDER))
    return supply(
        first, second(800.0, fans=[fan()], static_pressures=statics(HALF_FILTER), state=state(filters="not_seen"))
    )


def test_against_an_earlier_good_reading_the_profile_names_the_filter() -> None:
    one = loaded()
    assert standing(one) == ["filter_loaded"]
    first = one["look_next"][0]
    assert first.startswith("Likely cause 1: The filter is loaded. For it: ")
    assert "airflow after the fan −20 %" in first
    cause = one["facts"]["causes"][0]
    assert any(line.startswith("pressure lost over the filter +157 %") for line in cause["for"])  # 154.4 over 60 Pa


def test_before_the_order_of_diagnosis_come_the_causes_and_the_order_stays() -> None:
    heads = [step.split(":")[0] for step in loaded()["look_next"]]
    order = ["Operating state", "Dampers and filters", "Static profile", "Outlets and other units", "Fan speed"]
    assert heads == ["Likely cause 1", *order]


def test_a_standing_cause_leaves_no_speed_as_a_remedy() -> None:
    first = both(1000.0, fans=[fan()], static_pressures=statics(ALL_IN_ORDER))
    again = second(800.0, fans=[fan()], static_pressures=statics(HALF_FILTER))
    one = supply(first, again)  # the filters ticked as clean: the readings outweigh it
    assert standing(one) == ["filter_loaded"]
    assert "the readings leave other causes standing (The filter is loaded)" in one["remedy"]
    assert "predicted_speed_rpm" not in one["facts"]["remedy"]


def test_without_an_earlier_reading_the_design_is_the_reference() -> None:
    """The outlet's static pressure at 1.6 times the scheduled one with less air: something after the fan is closed."""
    one = supply(both(850.0, fans=[fan()], static_pressures=statics({"supply_outlet": 350.0})))
    assert standing(one)[:2] == ["discharge_closed", "duct_heavier"]
    blind = supply(
        both(850.0, fans=[fan()], static_pressures=statics({"supply_outlet": 350.0})), where=place(external=None)
    )
    assert "suction_closed" not in standing(blind)  # the damper was seen open
    assert {"core_blocked", "discharge_closed"} <= set(standing(blind))


def test_a_bad_earlier_reading_is_no_reference() -> None:
    """Both sessions are 20 % low in the same way: against the first nothing would have changed."""
    low = {"fans": [fan()], "static_pressures": statics(HALF_FILTER)}
    one = supply(both(800.0, **low), second(800.0, **low))
    assert one["facts"]["causes"]
    assert any("airflow after the fan −20 %" in line for line in one["facts"]["causes"][0]["for"])


def test_a_fan_that_is_set_too_slow_leaves_the_speed_and_its_motor() -> None:
    slow = statics({name: 0.7225 * value for name, value in ALL_IN_ORDER.items()})
    one = supply(both(850.0, fans=[fan(speed=850.0, current=4.6)], static_pressures=slow))
    assert standing(one) == ["speed"]
    assert one["facts"]["remedy"]["predicted_speed_rpm"] == pytest.approx(1000.0)
    assert one["facts"]["remedy"]["predicted_static_pa"] == pytest.approx(220.0)  # by hand: the square law back


def test_what_the_readings_do_not_tell_apart_asks_for_more_of_them() -> None:
    """10.6 % low by an instrument good to 15 %: too little for any cause."""
    vague = [instrument(accuracy={"relative": 0.15})]
    result = judged(envelope({"supply": 894.0}, fans=[fan()]), place=place(), instruments=vague)
    one = result.judgement("design_airflow", "supply")
    assert one["facts"].get("causes", []) == []
    assert "the readings do not tell the causes apart" in one["remedy"]


def test_each_reading_on_the_unchanged_system_refines_the_speed() -> None:
    """800 rpm gave 800 cfm, 900 rpm 860: b = (s + xy) / (s + x2), s = 2 (u/0.25)2, by hand from the two logarithms."""
    first = both(
        800.0, fans=[fan(speed=800.0)], static_pressures=statics({"supply_outlet": 141.0}), stage="preliminary"
    )
    last = second(860.0, fans=[fan(speed=900.0)], static_pressures=statics({"supply_outlet": 163.0}))
    one = supply(first, last)
    remedy = one["facts"]["remedy"]
    assert remedy["points"] == 2
    result = judged(first, last, place=place())
    held = result.measurement("supply", "second")
    u = held["standard_uncertainty_m3_s"] / held["airflow_m3_s"]
    x, y, s = math.log(800.0 / 860.0), math.log(800.0 / 900.0), 2.0 * (u / 0.25) ** 2
    b = (s + x * y) / (s + x * x)
    assert b > 1.1
    assert remedy["predicted_speed_rpm"] == pytest.approx(900.0 * (1000.0 / 860.0) ** b)
    assert "by the 2 readings on it" in one["remedy"]


def test_a_reading_on_another_system_does_not_refine_the_speed() -> None:
    touched = both(
        800.0, fans=[fan(speed=800.0)], static_pressures=statics({"supply_outlet": 230.0}), stage="preliminary"
    )
    one = supply(touched, second(860.0, fans=[fan(speed=860.0)], static_pressures=statics({"supply_outlet": 163.0})))
    assert one["facts"]["remedy"]["points"] == 1


def test_where_other_air_joins_the_dampers_share_it_out_and_not_the_speed() -> None:
    ports = {"supply": port_design(4000.0), "return": port_design(3000.0), "outdoor": port_design(1000.0)}
    where = position(ports, fans={"supply": FAN})
    result = judged(envelope({"supply": 4000.0, "return": 3200.0, "outdoor": 800.0}, fans=[fan()]), place=where)
    one = result.judgement("design_airflow", "outdoor")
    assert "causes" not in one["facts"]
    assert "the dampers share out what this port gets" in one["remedy"]


def test_other_kinds_of_record_of_the_session_are_read_along() -> None:
    """A filter drop of 200 Pa beside a scheduled 60 Pa, and a wheel seen to turn backwards."""
    where = place()
    where["design"]["pressures"] = {"filter_drop_supply": {"pressure": {"value": 60.0, "unit": PA}}}
    air = both(800.0, fans=[fan()], state=state(filters="not_seen"))
    pressures = other(
        "pressure",
        differences=[
            {
                "stream": "supply",
                "across": "filter",
                "readings": {"values": [200.0] * 4, "unit": PA},
                "instrument": None,
                "zeroed": True,
            }
        ],
        profiles=[],
    )
    assert standing(supply(air, pressures, where=where)) == ["filter_loaded"]
    rotation = other("electrical", fans=[{"fan": "supply", "rotation": "correct"}])
    half = both(500.0, fans=[fan()])
    assert "reversed" in standing(supply(half, where=where))
    assert "reversed" not in standing(supply(half, rotation, where=where))


def other(kind: str, **payload: Any) -> dict[str, Any]:
    return {
        "schema": "ventfolio/envelope/1",
        "id": named(kind),
        "kind": kind,
        "position": POSITION,
        "observed_at": "2026-05-04T10:45:00-05:00",
        "observed_by": PERSON,
        "payload": {
            "stage": "final",
            "session": {"id": "AL-1", "purpose": "as_left"},
            "grade": "transcribed",
            "state": state(),
            **payload,
        },
    }


def test_a_conforming_port_has_no_causes() -> None:
    one = supply(both(1000.0, fans=[fan()]))
    assert "causes" not in one["facts"]
    assert one["look_next"] == []


def test_the_ventilation_minimum_is_diagnosed_alike() -> None:
    ports = {"supply": port_design(), "outdoor": port_design(minimum=cfm(950.0))}
    result = judged(both(800.0, fans=[fan()]), place=position(ports, fans={"supply": FAN}))
    one = result.judgement("ventilation_minimum", "outdoor")
    assert standing(one) == standing(result.judgement("design_airflow", "outdoor"))
    assert one["look_next"][0].startswith("Likely cause 1")


def test_judging_twice_says_the_same_causes() -> None:
    assert json.dumps(loaded(), sort_keys=True) == json.dumps(loaded(), sort_keys=True)


@cache
def scenario(unit: str) -> Any:
    """The unit judged in the invented scenario before anything was mended."""
    whole = document(project_of(UNIT_BY_KEY[unit].building).key, "2026-05-27T00:00")
    id = stable_uuid("position", unit)
    alone = [one for one in whole["positions"] if one["id"] == id]
    theirs = [one for one in whole["envelopes"] if one["position"] == id]
    return judge_document({**whole, "positions": alone, "envelopes": theirs})["positions"][0]["judgements"]


@pytest.mark.parametrize(
    ("unit", "port", "first"),
    [
        pytest.param("linden/ERV-3", "supply", "discharge_closed", id="F01 volume damper half closed"),
        pytest.param("linden/ERV-3", "outdoor", "discharge_closed", id="F01 seen at the other end"),
        pytest.param("forge/DOAS-1", "supply", "filter_loaded", id="F02 loaded filter"),
        pytest.param("aldous/EF-1", "exhaust", "reversed", id="F03 wheel turns backwards"),
        pytest.param("tidewater/ERV-2", "outdoor", "leak_before", id="F05 recirculation door, supply stream"),
        pytest.param("tidewater/ERV-2", "exhaust", "leak_across", id="F05 recirculation door, exhaust stream"),
        pytest.param("mesa/ERV-1", "supply", "speed", id="F06 drive's upper frequency low"),
        pytest.param("mesa/DOAS-1", "exhaust", "speed", id="F16 balanced without the elevation"),
    ],
)
def test_what_is_planted_in_the_scenario_is_named_first(unit: str, port: str, first: str) -> None:
    judgements = {one["port"]: one for one in scenario(unit) if one["requirement"] == "design_airflow"}
    assert judgements[port]["facts"]["causes"][0]["code"] == first
    assert judgements[port]["facts"]["causes"][0]["stands"]
