"""Pressures through whole envelopes: what lies between taps, what one instrument has in common, what is not judged."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]

from commissioning import judging
from commissioning.blocks import Working
from commissioning.engineering.units import to_si
from commissioning.judging.schemas import schemas
from tests.judging.builder import PERSON, POSITION, conventions, instrument, judged, named, state

GAUGE = named("gauge")
AIR = {"outside": 0.0, "unit_inlet": -60.0, "after_filter": -130.0, "after_core": -250.0}
SUPPLY = {**AIR, "before_fan": -260.0, "after_fan": 190.0, "unit_outlet": 170.0}


def gauge(key: str = "gauge", **changes: Any) -> dict[str, Any]:
    """±1 % of the reading ±1 Pa, rectangular; shows tenths."""
    given = {
        "name": "Micromanometer",
        "serial": "G-7",
        "kind": "manometer",
        "accuracy": {"relative": 0.01, "absolute": {"value": 1.0, "unit": "Pa"}, "shape": "rectangular"},
        "resolution": {"value": 0.1, "unit": "Pa"},
    }
    return {**instrument(key), **given, **changes}


def read(
    *values: float, unit: str = "Pa", tool: str | None = GAUGE, zeroed: bool = True, **rest: Any
) -> dict[str, Any]:
    return {"readings": {"values": list(values), "unit": unit}, "instrument": tool, "zeroed": zeroed, **rest}


def profile(taps: dict[str, float], stream: str = "supply", zeroed: bool = True, **rest: Any) -> dict[str, Any]:
    return {"stream": stream, "taps": [read(*[v] * 4, zeroed=zeroed, at=at) for at, v in taps.items()], **rest}


def space(*averages: float, **rest: Any) -> dict[str, Any]:
    usual = {
        "space": "Lobby",
        "against": "outdoors",
        "averaged_over": {"value": 60, "unit": "s"},
        "door": "closed",
        "wind": {"value": 1.0, "unit": "m/s"},
        "reference_shielded": True,
    }
    return read(*(averages or (8.0,) * 4), **{**usual, **rest})


def envelope(name: str = "pressures", at: str = "2026-05-04T11:00:00-05:00", **payload: Any) -> dict[str, Any]:
    return {
        "schema": "ventfolio/envelope/1",
        "id": named(name),
        "kind": "pressure",
        "position": POSITION,
        "observed_at": at,
        "observed_by": PERSON,
        "payload": {
            "stage": "final",
            "session": {"id": "AL-1", "purpose": "as_left"},
            "grade": "measured",
            "state": state(),
            **payload,
        },
    }


def measured(**payload: Any) -> dict[str, Any]:
    result = judged(envelope(**payload), instruments=[gauge(), gauge("other", serial="G-8")])
    assert result.problems == []
    found: dict[str, Any] = result.measurements[0]
    return found


def figure(held: dict[str, Any], name: str, at: str = "supply") -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in held["figures"] if (one["name"], one["at"]) == (name, at))
    return found


def part(one: dict[str, Any], beginning: str) -> float:
    return float(sum(p["standard_uncertainty"] for p in one["budget"] if p["name"].startswith(beginning)))


def test_what_lies_between_two_taps_is_their_difference() -> None:
    """Filter −60 less −130: 70. Core −130 less −250: 120. Fan 190 less −260: 450. Outlet 170 less inlet −60: 230."""
    held = measured(profiles=[profile(SUPPLY, filter="clean")])
    values = {one["name"]: one["value"] for one in held["figures"] if one["at"] == "supply"}
    assert values == pytest.approx(
        {"filter_drop": 70.0, "core_drop": 120.0, "fan_static_rise": 450.0, "external_static": 230.0}
    )
    assert held["facts"]["conditions"]["filter supply"] == "clean"


def test_the_total_rise_adds_the_velocity_pressures() -> None:
    """(190 + 40) − (−260 + 15) = 475 Pa."""
    taps = [
        read(-260.0, at="before_fan", velocity_pressure={"value": 15, "unit": "Pa"}),
        read(190.0, at="after_fan", velocity_pressure={"value": 40, "unit": "Pa"}),
    ]
    held = measured(profiles=[{"stream": "supply", "taps": taps}])
    assert figure(held, "fan_total_rise")["value"] == pytest.approx(475.0)
    assert figure(held, "fan_static_rise")["value"] == pytest.approx(450.0)


def test_one_gauge_has_one_scale_error_over_a_difference_and_another_gauge_its_own() -> None:
    """±1 % of the 230 Pa between −60 and 170; with two gauges 0.01 √(60² + 170²)/√3."""
    one = figure(measured(profiles=[profile(SUPPLY)]), "external_static")
    assert part(one, "scale") == pytest.approx(0.01 * 230.0 / math.sqrt(3.0))
    taps = [read(*[-60.0] * 4, at="unit_inlet"), read(*[170.0] * 4, at="unit_outlet", tool=named("other"))]
    two = figure(measured(profiles=[{"stream": "supply", "taps": taps}]), "external_static")
    scales = [p["standard_uncertainty"] for p in two["budget"] if p["name"].startswith("scale")]
    assert sorted(scales) == pytest.approx([0.6 / math.sqrt(3.0), 1.7 / math.sqrt(3.0)])


def test_a_zero_that_nobody_set_cancels_between_taps_and_not_at_one() -> None:
    held = measured(profiles=[profile(SUPPLY, zeroed=False)])
    assert part(figure(held, "external_static"), "zero") == 0.0
    alone = figure(held, "static_pressure", "supply unit_outlet")
    assert part(alone, "zero") == pytest.approx(2.0 / math.sqrt(3.0))
    assert any("zero was not set" in one for one in held["remarks"])


def test_the_budget_of_a_difference_adds_up() -> None:
    """All parts of 70 Pa by hand: scale 0.7/√3, absolute 1/√3 twice, tap 2 % of 60 and of 130, steps 0.1/√12/√4."""
    one = figure(measured(profiles=[profile(SUPPLY)]), "filter_drop")
    by_hand = [0.7 / 3**0.5, *[1.0 / 3**0.5] * 2, 0.02 * 60.0, 0.02 * 130.0, *[0.1 / 12**0.5 / 2] * 2]
    assert one["standard_uncertainty"] == pytest.approx(math.sqrt(sum(part**2 for part in by_hand)))
    assert sum(p["share"] for p in one["budget"]) == pytest.approx(1.0)


def test_what_is_read_across_stands_and_a_contradiction_is_said() -> None:
    across = read(*[110.0] * 4, stream="supply", across="filter", condition="clean")
    held = measured(profiles=[profile(SUPPLY)], differences=[across])
    assert figure(held, "filter_drop")["value"] == pytest.approx(110.0)
    assert any("differ by more than both uncertainties" in one for one in held["remarks"])
    agreeing = measured(
        profiles=[profile(SUPPLY)], differences=[{**across, "readings": {"values": [72.0], "unit": "Pa"}}]
    )
    assert agreeing["remarks"] == []


def test_a_core_is_not_read_over_a_filter_between() -> None:
    held = measured(profiles=[profile({"unit_inlet": -60.0, "after_core": -250.0})])
    assert [one["name"] for one in held["figures"]] == ["static_pressure"] * 2


def test_a_negative_drop_is_shown_and_doubted() -> None:
    held = measured(differences=[read(-40.0, stream="exhaust", across="core")])
    one = figure(held, "core_drop", "exhaust")
    assert one["value"] == -40.0
    assert "swapped" in one["doubts"][0]


def test_inches_of_water_say_the_same() -> None:
    inches = {at: value / 249.08891 for at, value in SUPPLY.items()}
    taps = [read(*[v] * 4, at=at, unit="in_wc") for at, v in inches.items()]
    ip = measured(profiles=[{"stream": "supply", "taps": taps}])
    si = measured(profiles=[profile(SUPPLY)])
    for name in ("external_static", "filter_drop", "core_drop", "fan_static_rise"):
        assert figure(ip, name)["value"] == pytest.approx(figure(si, name)["value"], rel=1e-6)
        assert figure(ip, name)["standard_uncertainty"] == pytest.approx(
            figure(si, name)["standard_uncertainty"], rel=1e-6
        )


def test_the_inch_of_water_is_the_project_s() -> None:
    """0.80 in. at 20 °C is 0.80 · 248.64 Pa (QUDT and NIST SP 811 give 249.09 at 4 °C)."""
    given = envelope(differences=[read(0.8, stream="supply", across="filter", unit="in_wc")])
    found = judged(given, instruments=[gauge()], conventions=conventions(inch_of_water="20degC")).measurements[0]
    assert figure(found, "filter_drop")["value"] == pytest.approx(0.8 * 248.64, rel=1e-4)
    assert to_si(0.8, "in_wc") == pytest.approx(0.8 * 249.089, rel=1e-5)


# --- spaces -----------------------------------------------------------------------------------------------------


def test_a_space_is_never_known_better_than_to_a_pascal() -> None:
    """Common practice, no source: seldom better than ±1 Pa."""
    perfect = gauge(accuracy={"relative": 0.0, "absolute": None, "shape": "rectangular"}, resolution=None)
    given = envelope(spaces=[space(against="neighbour", neighbour="Corridor")])
    one = judged(given, instruments=[perfect]).measurements[0]["figures"][0]
    assert one["doubts"] == []
    assert one["expanded_uncertainty"] == pytest.approx(1.0)


def test_wind_widens_what_is_read_against_outdoors() -> None:
    """±0.3 of ½ · 1.2 · 2² = 2.4 Pa: 0.72/√3."""
    windy = measured(spaces=[space(wind={"value": 2.0, "unit": "m/s"})])["figures"][0]
    assert part(windy, "wind") == pytest.approx(0.72 / math.sqrt(3.0))
    inside = measured(spaces=[space(against="neighbour", neighbour="Corridor")])["figures"][0]
    assert part(inside, "wind") == 0.0


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"averaged_over": {"value": 20, "unit": "s"}}, "averaged over 20 s"),
        ({"door": "open"}, "the door was open"),
        ({"door": "not_seen"}, "nobody noted whether the door was closed"),
        ({"zeroed": False}, "zero was not set"),
        ({"wind": None}, "nobody estimated the wind"),
        ({"wind": {"value": 3.0, "unit": "m/s"}}, "the wind was about 3 m/s"),
        ({"reference_shielded": False}, "not shielded"),
        ({"reference_shielded": None}, "not shielded"),
    ],
)
def test_a_space_read_otherwise_is_shown_and_not_judged(change: dict[str, Any], said: str) -> None:
    one = measured(spaces=[space(**change)])["figures"][0]
    assert any(said in doubt for doubt in one["doubts"])
    assert one["value"] == pytest.approx(8.0)


def test_a_minute_and_a_light_wind_are_enough() -> None:
    light = {"averaged_over": {"value": 1, "unit": "min"}, "wind": {"value": 2.9, "unit": "m/s"}}
    assert measured(spaces=[space(**light)])["figures"][0]["doubts"] == []


# --- what is refused --------------------------------------------------------------------------------------------

_TWICE = [read(1.0, at="unit_inlet"), read(2.0, at="unit_inlet")]
_BACKWARDS = [read(1.0, at="after_filter"), read(2.0, at="before_filter")]


@pytest.mark.parametrize(
    ("payload", "pointer", "said"),
    [
        ({}, "/payload", "There is no pressure in it"),
        ({"profiles": [{"stream": "supply", "taps": _TWICE}]}, "/payload/profiles/0", "A tap stands twice"),
        ({"profiles": [{"stream": "supply", "taps": _BACKWARDS}]}, "/payload/profiles/0", "Taps stand in the order"),
        ({"differences": [read(1.0, stream="supply", across="fan", tool=None)]}, "/payload", "Name the instrument"),
        (
            {"controlled": [read(1.0, fan="supply", demand="design", setpoint={"value": 20, "unit": "L/s"})]},
            "/payload/controlled/0/setpoint",
            "L/s",
        ),
        ({"spaces": [space(), space(space="lobby ")]}, "/payload", "A space stands twice"),
        ({"spaces": [space(wind={"value": 99, "unit": "m/s"})]}, "/payload/spaces/0/wind", "lies outside 0 to 60"),
        ({"spaces": [{**space(), "zeroed": "yes"}]}, "/payload/spaces/0/zeroed", "neither true nor false"),
        (
            {"differences": [read(99_999.0, stream="supply", across="fan")]},
            "/payload/differences/0/readings",
            "lies outside",
        ),
    ],
)
def test_what_cannot_be_meant_is_refused_with_its_place(payload: dict[str, Any], pointer: str, said: str) -> None:
    (problem,) = judged(envelope(**payload), instruments=[gauge()]).problems
    assert problem["field"] == pointer
    assert said in problem["reason"]
    assert problem["value"]
    assert problem["remedy"]


def test_a_value_off_the_controller_needs_no_instrument_and_is_wider() -> None:
    given = read(200.0, 200.0, tool=None, fan="supply", demand="design", setpoint={"value": 200, "unit": "Pa"})
    one = measured(grade="controller", controlled=[given])["figures"][0]
    assert part(one, "read off the controller") == pytest.approx(10.0)


# --- shown ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("display", "said"), [("si", "230"), ("ip", "0.92")])
def test_it_shows_itself_in_the_reader_s_unit(display: str, said: str) -> None:
    held = measured(profiles=[profile(SUPPLY)], spaces=[space()])
    assert f"Supply: external static pressure {said}" in judging.headline(held, display)
    blocks = judging.show_measurement(held, display)
    text = repr(blocks)
    assert "in the order of the air" in text
    assert "p_ext = p_outlet - p_inlet" in text
    assert GAUGE in text


def test_the_example_of_the_page_is_valid_and_measured() -> None:
    """0.58 less −0.245 in. w.c.: 0.825 external; filter −0.245 less −0.555: 0.31; core −0.555 less −1.125: 0.57."""
    page = (Path(__file__).parents[2] / "docs" / "judging-document.md").read_text(encoding="utf-8")
    section = page.partition("\n## Pressures\n")[2].partition("```json\n")[2].partition("```")[0]
    payload = json.loads(section)
    Draft202012Validator(schemas()["payload-pressure.json"]).validate(payload)
    example = gauge() | {"id": "5b0f8a52-55d1-4f8e-8a3c-6d6f0c3c0a01"}
    result = judged(envelope(**payload), instruments=[example])
    Draft202012Validator(schemas()["judgements.json"]).validate(result.json)
    values = {one["name"]: one["value"] / 249.08891 for one in result.measurements[0]["figures"]}
    assert {name: values[name] for name in ("external_static", "filter_drop", "core_drop")} == pytest.approx(
        {"external_static": 0.825, "filter_drop": 0.31, "core_drop": 0.57}, rel=1e-6
    )
    assert result.measurements[0]["figures"][-1]["doubts"] == []


def test_each_instrument_stands_with_its_own_calibration() -> None:
    """One gauge in date, the other without any: what judges is the worst, what is printed beside each is its own."""
    tools = [gauge(), gauge("other", serial="G-8", calibrations=[])]
    across = read(40.0, stream="exhaust", across="core", tool=named("other"))
    held = judged(envelope(profiles=[profile(SUPPLY)], differences=[across]), instruments=tools).measurements[0]
    assert held["calibration"] == "none"
    (told,) = [block for block in judging.show_measurement(held, "si") if getattr(block, "title", "") == "Read with"]
    assert isinstance(told, Working)
    assert {line.value: line.source for line in told.lines} == {
        GAUGE: "calibration in date C-1", named("other"): "calibration none on record",
    }  # fmt: skip


# --- properties -------------------------------------------------------------------------------------------------

pressures = st.floats(-1500.0, 1500.0)


@given(inlet=pressures, outlet=pressures, shift=st.floats(-300.0, 300.0))
def test_a_common_shift_of_the_zero_moves_no_difference(inlet: float, outlet: float, shift: float) -> None:
    def external(by: float) -> float:
        held = measured(profiles=[profile({"unit_inlet": inlet + by, "unit_outlet": outlet + by})])
        return float(figure(held, "external_static")["value"])

    assert external(shift) == pytest.approx(external(0.0), abs=1e-8)


@given(values=st.lists(st.floats(-900.0, 900.0), min_size=4, max_size=4))
def test_the_drops_along_the_air_and_the_rise_of_the_fan_add_up_to_the_external(values: list[float]) -> None:
    places = ("unit_inlet", "after_filter", "after_core", "after_fan")
    taps = {**dict(zip(places, values, strict=True)), "unit_outlet": values[-1]}
    found = {one["name"]: one["value"] for one in measured(profiles=[profile(taps)])["figures"]}
    whole = found["fan_static_rise"] - found["filter_drop"] - found["core_drop"]
    assert found["external_static"] == pytest.approx(whole, abs=1e-8)
