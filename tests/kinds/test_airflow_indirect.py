"""Airflow from a rated part, a fan's curve and a hood: values, uncertainty, when not judged."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from tests.judging.builder import (
    cfm,
    conventions,
    direct,
    envelope,
    instrument,
    judged,
    named,
    port_design,
    position,
    reading,
)
from tests.kinds.indirect_records import (
    CLEAN,
    FAN_POINTS,
    GAUGE,
    TACHOMETER,
    air_of_density,
    fraction,
    on_fan_curve,
    points,
    pressure_drop,
)

CFM = 0.0004719474432


def supply(method: dict[str, Any], density: float = 1.2, tool: str = "gauge", **changes: Any) -> dict[str, Any]:
    record = envelope([reading("supply", method, named(tool))], air=air_of_density(density))
    tools = [instrument(), GAUGE, TACHOMETER]
    place = position({"supply": port_design()})
    return judged(record, place=place, instruments=tools, **changes).measurement("supply")


def part(measurement: dict[str, Any], name: str) -> float:
    return math.fsum(one["standard_uncertainty"] for one in measurement["budget"] if one["name"] == name)


# --- over a rated part ------------------------------------------------------------------------------------------


def test_the_rated_curve_is_solved_for_the_airflow() -> None:
    """Through (0.5, 50) and (1, 150): dp = 50 q + 100 q²; 100 Pa gives q = (√(50² + 4·100·100) - 50) / 200."""
    one = supply(pressure_drop(100.0))
    assert one["actual_airflow_m3_s"] == pytest.approx((math.sqrt(42_500.0) - 50.0) / 200.0, rel=1e-9)
    assert one["method"] == "pressure_drop"
    assert one["doubts"] == []


def test_thin_air_takes_its_part_of_the_drop_only() -> None:
    """At 0.9 of the rated density the turbulent part is 0.9: dp = 50 q + 90 q²; the viscosity is that of 20 °C."""
    one = supply(pressure_drop(100.0), density=1.08)
    assert one["actual_airflow_m3_s"] == pytest.approx((math.sqrt(2_500.0 + 4 * 90 * 100) - 50.0) / 180.0, rel=1e-9)


def test_warm_air_is_thicker_and_takes_its_part_of_the_laminar_drop() -> None:
    """Sutherland (U.S. Standard Atmosphere 1976): µ ~ T^1.5 / (T + 110.4); dp = 50 r q + 100 q²."""
    ratio = (313.15 / 293.15) ** 1.5 * (293.15 + 110.4) / (313.15 + 110.4)
    expected = (math.sqrt((50.0 * ratio) ** 2 + 4 * 100 * 100) - 50.0 * ratio) / 200.0
    record = envelope([reading("supply", pressure_drop(100.0), named("gauge"))], air=air_of_density(1.2, 40.0))
    one = judged(record, place=position({"supply": port_design()}), instruments=[GAUGE]).measurement("supply")
    assert one["actual_airflow_m3_s"] == pytest.approx(expected, rel=1e-9)
    assert ratio > 1.04


def test_a_rating_at_another_air_is_carried_from_there() -> None:
    rated = {"value": 1.08, "unit": "kg/m3"}
    same = supply(pressure_drop(100.0, rated_density=rated), density=1.08)["actual_airflow_m3_s"]
    assert same == pytest.approx((math.sqrt(42_500.0) - 50.0) / 200.0, rel=1e-9)


def test_the_gauge_weighs_by_the_slope_of_the_curve() -> None:
    """dq/dp = 1 / (50 + 200 q); the gauge is ±2 % rectangular of 100 Pa, so u = 2/√3 Pa; ±10 % is k = 2."""
    one = supply(pressure_drop(100.0, 100.0, 100.0, 100.0))
    flow = one["airflow_m3_s"]
    assert part(one, "instrument") == pytest.approx(2.0 / math.sqrt(3.0) / (50.0 + 200.0 * flow), rel=1e-5)
    assert part(one, "rated curve") == pytest.approx(0.05 * flow)


def test_the_density_weighs_by_what_it_does_to_the_curve() -> None:
    """A part: d ln q / d ln ρ = -B q / (A + 2 B q). A fan: -(p/q) dq/dp, by the library. u(ρ) is 0.3 %, as measured."""
    drop, fan = supply(pressure_drop(100.0)), supply(on_fan_curve(200.0))
    q = drop["airflow_m3_s"]
    assert part(drop, "density") == pytest.approx(0.003 * q * 100.0 * q / (50.0 + 200.0 * q), rel=1e-4)
    per_pascal = by_library(200.5, 800.0) - by_library(199.5, 800.0)
    assert part(fan, "density") == pytest.approx(0.003 * 200.0 * -per_pascal, rel=1e-3)


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"condition": {"surface": "dirty"}}, "it was not clean"),
        ({"condition": {"moisture": "wet"}}, "it was wet"),
        ({"condition": {"bypass": "open"}}, "a bypass beside it was open"),
        ({"condition": {"frost": "frosted"}}, "it was frosted or defrosting"),
        ({"condition": {"surface": "not_seen"}}, "whether it was clean was not recorded"),
        ({"rated": points((0.5, 500.0), (1.0, 1500.0))}, "the airflow lies far beyond the rated points"),
    ],
)
def test_a_part_in_another_state_is_shown_and_not_judged(change: dict[str, Any], reason: str) -> None:
    record = envelope([reading("supply", pressure_drop(100.0, **change), named("gauge"))])
    result = judged(record, place=position({"supply": port_design()}), instruments=[GAUGE])
    one = result.judgement("design_airflow", "supply")
    assert one["absence"]["code"] == "not_judged"
    assert reason in one["absence"]["text"]
    assert result.measurement("supply")["airflow_m3_s"] > 0.0


def test_a_gauge_too_coarse_for_the_drop_is_not_judged() -> None:
    coarse = {**GAUGE, "resolution": {"value": 10.0, "unit": "Pa"}}
    record = envelope([reading("supply", pressure_drop(60.0), named("gauge"))])
    one = judged(record, place=position({"supply": port_design()}), instruments=[coarse])
    assert "too little for a gauge" in one.judgement("design_airflow", "supply")["absence"]["text"]


def test_a_good_part_is_judged_like_any_reading() -> None:
    flow = (math.sqrt(42_500.0) - 50.0) / 200.0 / CFM
    record = envelope([reading("supply", pressure_drop(100.0), named("gauge"))], air=air_of_density(1.2))
    place = position({"supply": port_design(flow)})
    assert judged(record, place=place, instruments=[GAUGE]).outcome("design_airflow", "supply") == "conforms"


def test_what_bears_no_verdict_takes_the_place_of_nothing_that_does() -> None:
    wet = [reading("supply", pressure_drop(100.0, condition={"moisture": "wet"}), named("gauge"))]
    result = judged(
        envelope({"supply": 1000.0}),
        envelope(wet, name="later", at="2026-05-04T11:00:00-05:00"),
        place=position({"supply": port_design()}),
        instruments=[instrument(), GAUGE],
    )
    assert result.judgement("design_airflow", "supply")["rests_on"] == [named("first")]
    assert result.outcome("design_airflow", "supply") == "conforms"


# --- on a fan's curve -------------------------------------------------------------------------------------------


def test_the_fan_laws_carry_the_point_of_a_curve() -> None:
    """Point (2.0 m³/s, 400 Pa) at 1000 rpm is (1.6, 256) at 800 rpm: q ~ n, p ~ n²."""
    one = supply(on_fan_curve(256.0))
    assert one["actual_airflow_m3_s"] == pytest.approx(1.6, rel=1e-6)
    assert any("inlet and outlet" in remark for remark in one["remarks"])


def test_lighter_air_gives_less_pressure_at_one_airflow() -> None:
    """At 1.08 kg/m³ the same point has 0.9 of the pressure."""
    assert supply(on_fan_curve(256.0 * 0.9), density=1.08)["actual_airflow_m3_s"] == pytest.approx(1.6, rel=1e-6)


def by_library(pressure: float, speed: float, density: float = 1.2) -> float:
    """q = n f⁻¹(p / (g n²)) on scipy's monotone cubic."""
    curve = PchipInterpolator(*zip(*FAN_POINTS, strict=True))
    n, g = speed / 1000.0, density / 1.2
    return float(n * brentq(lambda q: curve(q) - pressure / (g * n * n), 1.0, 3.0, xtol=1e-14))


def test_between_points_flow_and_slopes_are_those_of_an_open_library() -> None:
    """The gauge is ±2 % rectangular; the tachometer ±0.2 % rectangular; slopes by differences of the library."""
    one = supply(on_fan_curve(200.0, speed_instrument=named("tachometer")))
    assert one["actual_airflow_m3_s"] == pytest.approx(by_library(200.0, 800.0), rel=1e-6)
    per_pascal = (by_library(200.5, 800.0) - by_library(199.5, 800.0)) / 1.0
    per_rpm = (by_library(200.0, 800.5) - by_library(200.0, 799.5)) / 1.0
    assert per_pascal < 0.0 < per_rpm
    assert part(one, "instrument") == pytest.approx(abs(per_pascal) * 4.0 / math.sqrt(3.0), rel=1e-3)
    assert part(one, "instrument, speed") == pytest.approx(per_rpm * 1.6 / math.sqrt(3.0), rel=1e-3)
    assert one["instruments"] == [named("gauge"), named("tachometer")]


def test_a_speed_nobody_measured_widens() -> None:
    with_tool = supply(on_fan_curve(200.0, speed_instrument=named("tachometer")))
    without = supply(on_fan_curve(200.0))
    assert without["standard_uncertainty_m3_s"] > with_tool["standard_uncertainty_m3_s"]
    per_rpm = by_library(200.0, 800.5) - by_library(200.0, 799.5)
    assert part(without, "speed") == pytest.approx(8.0 * per_rpm, rel=1e-3)


@pytest.mark.parametrize(("pressure", "reason"), [(400.0, "above the peak"), (50.0, "below the last point")])
def test_off_the_falling_part_the_curve_tells_nothing(pressure: float, reason: str) -> None:
    """At 800 rpm the peak is 320 Pa (0.64 of 500) and the last point 64 Pa."""
    record = envelope([reading("supply", on_fan_curve(pressure), named("gauge"))], air=air_of_density(1.2))
    result = judged(record, place=position({"supply": port_design()}), instruments=[GAUGE])
    assert reason in result.judgement("design_airflow", "supply")["absence"]["text"]


# --- hoods ------------------------------------------------------------------------------------------------------


def hood(**changes: Any) -> dict[str, Any]:
    return {**direct(1000.0, 1000.0, 1000.0), "method": "hood", **changes}


def test_a_plain_hood_without_a_factor_is_less_certain_and_says_why() -> None:
    plain, good = (supply(hood(back_pressure=word), tool="meter") for word in ("not_compensated", "compensated"))
    assert part(plain, "hood back pressure") == pytest.approx(0.04 * plain["airflow_m3_s"])
    assert any("chokes the outlet" in remark for remark in plain["remarks"])
    assert part(good, "hood back pressure") == 0.0
    assert good["remarks"] == []


def test_a_factor_from_another_airflow_is_remarked() -> None:
    near, far = (
        supply(hood(back_pressure="not_compensated", factor=1.05, factor_airflow=cfm(at)), tool="meter")
        for at in (900.0, 2000.0)
    )
    assert near["remarks"] == []
    assert any("2.0 times this flow" in remark for remark in far["remarks"])


def test_an_unusual_factor_is_remarked() -> None:
    one = supply(hood(back_pressure="compensated", factor=1.3), tool="meter")
    assert any("outside 0.90 to 1.10" in remark for remark in one["remarks"])


# --- what is refused --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("port", "method", "field", "said"),
    [
        ("supply", pressure_drop(100.0, rated=points((1.0, 150.0))), "rated", "at least 2"),
        (
            "supply",
            pressure_drop(100.0, rated=points((0.5, 50.0), (1.0, 60.0))),
            "method",
            "rated points make no curve",
        ),
        ("supply", on_fan_curve(200.0, speed_rpm=400.0), "method", "speed lies outside 500 to 1500 rpm"),
        ("supply", on_fan_curve(-20.0), "method", "are the hoses swapped"),
        ("supply", on_fan_curve(20.0, points=points((1.0, 100.0), (2.0, 200.0), (3.0, 300.0))), "method", "columns"),
        ("supply", fraction(0.0, 20.0, 15.0), "ports/0", "of no other port"),
        ("outdoor", {**fraction(0.0, 20.0, 15.0), "by": "enthalpy"}, "method", "relative humidity"),
        (
            "outdoor",
            fraction(0.0, 20.0, 15.0, supply={"readings": {"values": [1.0], "unit": "m3/s"}, "basis": "actual"}),
            "supply",
            "one of the two",
        ),
        ("supply", hood(factor_airflow=cfm(0.0)), "method", "lies above 0"),
        ("outdoor", fraction(20.0, 20.0, [20.0, 20.0]), "payload", "difference of outdoor and return air"),
    ],
)
def test_bad_input_names_field_value_reason_and_remedy(
    port: str, method: dict[str, Any], field: str, said: str
) -> None:
    problem = judged(envelope([reading(port, method)])).problems[0]
    assert field in problem["field"]
    assert said in problem["reason"]
    assert problem["value"]
    assert problem["remedy"]


def test_si_and_ip_give_the_same() -> None:
    """0.5 m³/s are 1059.44 cfm, 100 Pa 0.401463 in. of water at 4 °C (249.0889 Pa)."""
    inch = 249.08891
    ip = {
        "rated": [
            {"airflow": cfm(flow / CFM), "pressure": {"value": drop / inch, "unit": "in_wc"}}
            for flow, drop in ((0.5, 50.0), (1.0, 150.0))
        ],
        "readings": {"values": [100.0 / inch], "unit": "in_wc"},
    }
    flows = [supply({**pressure_drop(100.0), **given})["airflow_m3_s"] for given in ({}, ip)]
    assert flows[0] == pytest.approx(flows[1], rel=1e-7)


def test_a_part_that_cannot_have_it_is_none() -> None:
    assert supply(pressure_drop(100.0, condition={**CLEAN, "bypass": "none", "frost": "none"}))["doubts"] == []


def test_the_project_decides_on_the_inch_of_water() -> None:
    given = pressure_drop(0.4, readings={"values": [0.4], "unit": "in_wc"})
    one, other = (
        supply(given, conventions=conventions(inch_of_water=name))["airflow_m3_s"] for name in ("4degC", "20degC")
    )
    assert one > other


def test_the_example_of_the_page_can_be_evaluated() -> None:
    page = Path(__file__).parents[2] / "docs" / "judging-document.md"
    section = page.read_text(encoding="utf-8").split("## Methods of airflow")[1]
    payload = json.loads(section.split("```json")[1].split("```")[0])
    record = envelope({"supply": 1.0})
    record["payload"] = payload
    held = {**GAUGE, "id": payload["co2"]["instrument"]}
    made = judged(record, instruments=[held])
    assert made.problems == []
    assert {one["method"]: one["doubts"] for one in made.measurements} == {
        "pressure_drop": [],
        "fan_curve": [],
        "outdoor_fraction": [],
    }
