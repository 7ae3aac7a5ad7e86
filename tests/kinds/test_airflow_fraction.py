"""Airflow as a fraction of the supply air, by temperature, CO2 or enthalpy: values, uncertainty, when not judged."""

from __future__ import annotations

import math
from typing import Any

import psychrolib
import pytest
from uncertainties import ufloat

from tests.judging.builder import (
    cfm,
    envelope,
    instrument,
    judged,
    named,
    port_design,
    position,
    reading,
)
from tests.kinds.indirect_records import (
    GAUGE,
    air_of_density,
    fraction,
    on_fan_curve,
    thermometer,
)

CFM = 0.0004719474432


def part(measurement: dict[str, Any], name: str) -> float:
    return math.fsum(one["standard_uncertainty"] for one in measurement["budget"] if one["name"] == name)


def outdoor(method: dict[str, Any], *tools: dict[str, Any], **changes: Any) -> dict[str, Any]:
    record = envelope([reading("outdoor", method)], air=air_of_density(1.2))
    place = position({"outdoor": port_design(basis="standard")})
    return judged(record, place=place, instruments=[instrument(), *tools], **changes).measurement("outdoor")


def three(unit: str, outdoor_u: float, return_u: float, mixed_u: float) -> list[dict[str, Any]]:
    sizes = {"out": outdoor_u, "ret": return_u, "mix": mixed_u}
    return [thermometer(name, size, unit) for name, size in sizes.items()]


APART = ("out", "ret", "mix")


def test_t4_04_and_t4_05_by_temperature() -> None:
    """T4.04: 55, 75, 70 °F give 0.25. T4.05: with u = 0.5 °F each, u(f) = 0.03186887."""
    method = fraction(55.0, 75.0, 70.0, unit="degF", tools=APART)
    one = outdoor(method, *three("delta_degF", 0.5, 0.5, 0.5))
    assert one["airflow_m3_s"] / CFM == pytest.approx(2000.0, rel=1e-9)
    assert one["facts"]["fraction_standard_uncertainty"] == pytest.approx(0.03186887, abs=1e-5)


def test_t4_06_a_small_difference_is_flagged() -> None:
    """T4.06: 18.5, 22.5 and 20.9 °C with 0.3 K each: 0.4000 ± 0.0925 (k = 1)."""
    one = outdoor(fraction(18.5, 22.5, [20.9], tools=APART), *three("delta_K", 0.3, 0.3, 0.3))
    assert one["facts"]["outdoor_fraction"] == pytest.approx(0.4, abs=2e-4)
    assert one["facts"]["fraction_standard_uncertainty"] == pytest.approx(0.0925, abs=2e-4)
    assert any("known to ±46 % of itself" in doubt for doubt in one["doubts"])


def test_t4_08_and_t4_09_by_co2_with_the_supply_airflow() -> None:
    """T4.08: 0.2830 ± 0.0590 (k = 1). T4.09: with a supply of 8000 cfm ± 4 % (k = 2) 2264 ± 949 cfm (k = 2)."""
    method = fraction(420.0, 950.0, 800.0, by="co2", unit="ppm", tools=APART)
    one = outdoor(method, *three("ppm", 20.0, 25.0, 25.0))
    assert one["facts"]["outdoor_fraction"] == pytest.approx(0.2830, abs=2e-4)
    assert one["facts"]["fraction_standard_uncertainty"] == pytest.approx(0.0590, abs=2e-4)
    assert one["airflow_m3_s"] / CFM == pytest.approx(2264.0, abs=1.0)
    assert 2.0 * one["standard_uncertainty_m3_s"] / CFM == pytest.approx(949.0, abs=2.0)


def test_one_instrument_carried_to_all_three_has_no_offset() -> None:
    """Its absolute error is the same in all three: f is of differences. Apart they do not cancel (T4.05)."""
    tool = thermometer("one", 0.5, "delta_degF")
    one = outdoor(fraction(55.0, 75.0, [70.0, 70.0], unit="degF", tools=("one", "one", "one")), tool)
    assert one["facts"]["fraction_standard_uncertainty"] == pytest.approx(0.0, abs=1e-9)
    assert one["standard_uncertainty_m3_s"] / CFM == pytest.approx(0.25 * 160.0, rel=1e-6)  # the supply's alone


def test_readings_over_the_box_count_by_their_spread() -> None:
    """Nine points: s of (10, 11, .., 18) °C is 2.7386, /√9 is 0.9129 K; over 20 K that is 0.0456."""
    mixed = [10.0, 11.0, 12.0, 13.0, 14.0, 15.0, 16.0, 17.0, 18.0]
    one = outdoor(fraction(0.0, 20.0, mixed, tools=("one",) * 3), thermometer("one", 0.1, "delta_K"))
    assert one["facts"]["outdoor_fraction"] == pytest.approx(0.3, rel=1e-9)
    assert one["facts"]["fraction_standard_uncertainty"] == pytest.approx(2.7386128 / 3.0 / 20.0, rel=1e-6)
    assert not any("layers" in remark for remark in one["remarks"])


def test_one_reading_of_mixed_air_is_not_judged() -> None:
    one = outdoor(fraction(0.0, 20.0, 14.0, tools=("one",) * 3), thermometer("one", 0.1, "delta_K"))
    assert any("nine points" in doubt for doubt in one["doubts"])


def test_a_fraction_that_cannot_be_is_not_judged() -> None:
    one = outdoor(fraction(0.0, 20.0, [21.0, 21.0], tools=("one",) * 3), thermometer("one", 0.1, "delta_K"))
    assert any("cannot be" in doubt for doubt in one["doubts"])
    assert one["airflow_m3_s"] == 0.0


def test_by_enthalpy_as_an_open_library_has_it() -> None:
    """psychrolib for the enthalpies, `uncertainties` for u(f): 0.2 K and 2 % apart at each stream."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    read = {"outdoor": (33.0, 0.55), "returned": (24.0, 0.50), "mixed": (27.0, 0.52)}
    tools = [thermometer(f"t-{name}", 0.2, "delta_K") for name in read]
    moist = [thermometer(f"h-{name}", 2.0, "%") for name in read]
    method = {
        **fraction(0.0, 1.0, 0.5),
        "by": "enthalpy",
        **{
            name: {
                "temperature": {"values": [t], "unit": "degC"},
                "relative_humidity": {"values": [100.0 * rh], "unit": "%"},
                "instrument": named(f"t-{name}"),
                "humidity_instrument": named(f"h-{name}"),
            }
            for name, (t, rh) in read.items()
        },
    }
    pressure = 1.2 * 287.042 * 293.15

    def enthalpy(t: float, rh: float) -> float:
        return float(psychrolib.GetMoistAirEnthalpy(t, psychrolib.GetHumRatioFromRelHum(t, rh, pressure)))

    h = {}
    for name, (t, rh) in read.items():
        by_t = (enthalpy(t + 0.01, rh) - enthalpy(t - 0.01, rh)) / 0.02
        by_rh = (enthalpy(t, rh + 1e-4) - enthalpy(t, rh - 1e-4)) / 2e-4
        h[name] = ufloat(enthalpy(t, rh), math.hypot(by_t * 0.2, by_rh * 0.02))
    expected = (h["mixed"] - h["returned"]) / (h["outdoor"] - h["returned"])
    one = outdoor(method, *tools, *moist)
    assert one["facts"]["outdoor_fraction"] == pytest.approx(expected.n, rel=1e-3)
    assert one["facts"]["fraction_standard_uncertainty"] == pytest.approx(expected.s, rel=2e-3)


def test_the_fraction_is_by_mass_so_an_actual_supply_is_made_standard() -> None:
    """1000 cfm actual at 0.9 of the standard density are 900 cfm standard; a quarter of them is outdoor air."""
    given = {
        "readings": {"values": [1000.0], "unit": "cfm"},
        "basis": "actual",
        "air": air_of_density(1.08),
        "expanded_uncertainty": cfm(40.0),
    }
    one = outdoor(fraction(55.0, 75.0, [70.0, 70.0], unit="degF", supply=given))
    assert one["airflow_m3_s"] / CFM == pytest.approx(225.0, rel=1e-6)


def test_a_supply_by_an_instrument_has_its_budget() -> None:
    given = {"readings": {"values": [1000.0] * 4, "unit": "cfm"}, "basis": "standard", "instrument": named("flow")}
    one = outdoor(fraction(55.0, 75.0, [70.0, 70.0], unit="degF", supply=given), instrument("flow"))
    # ±(3 % + 5 cfm) rectangular of 1000 cfm, a quarter of it: 0.25 · 35/√3
    assert part(one, "instrument, supply airflow") / CFM == pytest.approx(0.25 * 35.0 / math.sqrt(3.0), rel=1e-6)
    assert one["instruments"] == [named("meter"), named("flow")]


def test_the_worst_calibration_of_all_instruments_is_that_of_the_airflow() -> None:
    lapsed = {**GAUGE, "id": named("old"), "calibrations": [
        {"certificate": "C-9", "on": "2024-01-10", "due": "2025-01-10", "as_found": "within"}
    ]}  # fmt: skip
    record = envelope([reading("supply", on_fan_curve(200.0, speed_instrument=named("old")), named("gauge"))])
    one = judged(record, place=position({"supply": port_design()}), instruments=[GAUGE, lapsed])
    assert one.measurement("supply")["calibration"] == "lapsed"
    assert one.measurement("supply")["certificate"] == "C-9"
