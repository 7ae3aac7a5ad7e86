"""Moist air against the published rows, the real-gas library, the perfect-gas library, and its own inverses."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import numpy as np
import psychrolib
import pytest
from CoolProp.HumidAirProp import HAPropsSI
from hypothesis import given
from hypothesis import strategies as st

from commissioning.engineering import humidity
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.moist_air import (
    MoistAir,
    dew_point_c,
    dry_air_density_kg_m3,
    humidity_ratio_from_dew_point,
    humidity_ratio_from_relative_humidity,
    humidity_ratio_from_vapour_pressure,
    humidity_ratio_from_wet_bulb,
    moist_air,
    moist_air_density_kg_m3,
    moist_air_enthalpy_j_kg,
    moist_air_heat_capacity_j_kg_k,
    pressure_at_elevation_pa,
    relative_humidity_from_humidity_ratio,
    saturation_pressure_pa,
    viscosity_pa_s,
    wet_bulb_c,
)
from commissioning.engineering.units import STANDARD_DENSITY_0_075_LB_FT3_KG_M3, from_si, to_si
from tests.engineering.reference_rows import Row, hold, parameters, rows

SEA_PA = 101_325.0
HIGH_PA = 95_461.0


def example_si() -> MoistAir:
    return moist_air(dry_bulb_c=40.0, wet_bulb_c=20.0, pressure_pa=SEA_PA)


def example_ip() -> MoistAir:
    return moist_air(dry_bulb_c=to_si(100.0, "degF"), wet_bulb_c=to_si(65.0, "degF"), pressure_pa=to_si(14.696, "psi"))


def saturated_25() -> float:
    return float(humidity_ratio_from_relative_humidity(dry_bulb_c=25.0, relative_humidity=1.0, pressure_pa=SEA_PA))


CHECKS = {
    "T1.01": lambda: saturation_pressure_pa(temperature_c=-20.0),
    "T1.02": lambda: saturation_pressure_pa(temperature_c=5.0),
    "T1.03": lambda: saturation_pressure_pa(temperature_c=25.0),
    "T1.04": lambda: saturation_pressure_pa(temperature_c=50.0),
    "T1.05": lambda: saturation_pressure_pa(temperature_c=25.0),
    "T1.06": saturated_25,
    "T1.08": lambda: example_si().humidity_ratio,
    "T1.09": lambda: from_si(example_si().enthalpy_j_kg, "kJ/kg"),
    "T1.10": lambda: (1.0 + np.asarray(example_si().humidity_ratio)) / example_si().density_kg_m3,
    "T1.11": lambda: example_si().relative_humidity,
    "T1.12": lambda: dew_point_c(humidity_ratio=example_si().humidity_ratio, pressure_pa=SEA_PA),
    "T1.13": lambda: example_ip().humidity_ratio,
    "T1.15": lambda: (1.0 + np.asarray(example_ip().humidity_ratio)) / from_si(example_ip().density_kg_m3, "lb/ft3"),
    "T1.16": lambda: humidity_ratio_from_vapour_pressure(vapour_pressure_pa=3169.7, pressure_pa=HIGH_PA),
    "T1.17": lambda: humidity_ratio_from_wet_bulb(dry_bulb_c=30.0, wet_bulb_c=25.0, pressure_pa=HIGH_PA),
    "T1.18": lambda: moist_air_enthalpy_j_kg(dry_bulb_c=30.0, humidity_ratio=0.02),
    "T1.19": lambda: moist_air_density_kg_m3(dry_bulb_c=30.0, humidity_ratio=0.02, pressure_pa=HIGH_PA),
    "T1.20": lambda: pressure_at_elevation_pa(elevation_m=500.0),
    "T1.21": lambda: pressure_at_elevation_pa(elevation_m=1000.0),
    "T1.22": lambda: from_si(pressure_at_elevation_pa(elevation_m=to_si(1000.0, "ft")), "psi"),
    "T1.23": lambda: STANDARD_DENSITY_0_075_LB_FT3_KG_M3,
    "T1.24": lambda: from_si(
        moist_air_density_kg_m3(dry_bulb_c=to_si(70.0, "degF"), humidity_ratio=0.0, pressure_pa=to_si(29.921, "inHg")),
        "lb/ft3",
    ),
    "T1.25": lambda: moist_air_density_kg_m3(dry_bulb_c=20.0, humidity_ratio=0.0, pressure_pa=SEA_PA),
}


@pytest.mark.parametrize(("row", "check"), parameters("moist_air", CHECKS, elsewhere=["T1.07", "T1.14", "T1.26"]))
def test_published(row: Row, check: Callable[[], Any]) -> None:
    hold(row, check())


def test_real_gas_rows_within_the_stated_shortfall_of_the_perfect_gas_form() -> None:
    real = rows("moist_air")
    assert saturated_25() == pytest.approx(real["T1.07"].expected[0], rel=5e-3)
    state = moist_air(dry_bulb_c=25.0, relative_humidity=0.5, pressure_pa=SEA_PA)
    assert state.enthalpy_j_kg == pytest.approx(real["T1.26"].expected[0], rel=5e-3)
    assert state.enthalpy_j_kg == pytest.approx(50_322.0, abs=1.0)


def test_enthalpy_from_0_degf_within_the_rounding_of_the_two_unit_systems() -> None:
    # 1006 J/(kg K) is 0.2403 Btu/(lb degF) and not 0.240: 0.03 Btu/lb at 100 degF, so +-0.01 cannot be asked.
    zero = float(moist_air_enthalpy_j_kg(dry_bulb_c=to_si(0.0, "degF"), humidity_ratio=0.0))
    found = from_si(float(example_ip().enthalpy_j_kg) - zero, "Btu/lb")
    assert found == pytest.approx(rows("moist_air")["T1.14"].expected[0], abs=0.035)


temperatures = st.floats(-40.0, 60.0)
shares = st.floats(0.02, 1.0)
pressures = st.floats(60_000.0, 110_000.0)


@given(dry_bulb=temperatures, share=shares, pressure=pressures)
def test_perfect_gas_library(dry_bulb: float, share: float, pressure: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    state = moist_air(dry_bulb_c=dry_bulb, relative_humidity=share, pressure_pa=pressure)
    ratio = psychrolib.GetHumRatioFromRelHum(dry_bulb, share, pressure)
    assert state.humidity_ratio == pytest.approx(max(ratio, 1e-7), rel=1e-6, abs=2e-7)
    assert state.density_kg_m3 == pytest.approx(psychrolib.GetMoistAirDensity(dry_bulb, ratio, pressure), rel=1e-6)
    assert state.enthalpy_j_kg == pytest.approx(psychrolib.GetMoistAirEnthalpy(dry_bulb, ratio), abs=1.0)
    assert dew_point_c(humidity_ratio=state.humidity_ratio, pressure_pa=pressure) == pytest.approx(
        psychrolib.GetTDewPointFromHumRatio(dry_bulb, ratio, pressure), abs=2e-3
    )


@pytest.mark.parametrize("dry_bulb", [-15.0, -3.0, 2.0, 20.0, 35.0])
@pytest.mark.parametrize("share", [0.1, 0.4, 0.8, 1.0])
def test_wet_bulb_of_the_perfect_gas_library(dry_bulb: float, share: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    state = moist_air(dry_bulb_c=dry_bulb, relative_humidity=share, pressure_pa=90_000.0)
    found = wet_bulb_c(dry_bulb_c=dry_bulb, humidity_ratio=state.humidity_ratio, pressure_pa=90_000.0)
    assert found == pytest.approx(psychrolib.GetTWetBulbFromRelHum(dry_bulb, share, 90_000.0), abs=2e-3)


@pytest.mark.parametrize("dry_bulb", [-10.0, 5.0, 20.0, 35.0, 45.0])
@pytest.mark.parametrize("share", [0.2, 0.5, 0.9])
def test_real_gas_library(dry_bulb: float, share: float) -> None:
    state = moist_air(dry_bulb_c=dry_bulb, relative_humidity=share, pressure_pa=SEA_PA)
    given_ = ("T", dry_bulb + 273.15, "R", share, "P", SEA_PA)
    assert state.humidity_ratio == pytest.approx(HAPropsSI("W", *given_), rel=6e-3)
    assert state.density_kg_m3 == pytest.approx(1.0 / HAPropsSI("Vha", *given_), rel=1e-3)
    assert state.enthalpy_j_kg == pytest.approx(HAPropsSI("H", *given_), rel=6e-3, abs=150.0)
    assert viscosity_pa_s(temperature_c=dry_bulb) == pytest.approx(
        HAPropsSI("mu", "T", dry_bulb + 273.15, "W", 0.0, "P", SEA_PA), rel=1e-2
    )


@given(dry_bulb=temperatures, share=shares, pressure=pressures)
def test_each_reading_of_humidity_leads_to_the_same_state(dry_bulb: float, share: float, pressure: float) -> None:
    first = moist_air(dry_bulb_c=dry_bulb, relative_humidity=share, pressure_pa=pressure)
    ratio = first.humidity_ratio
    dew_point = min(float(dew_point_c(humidity_ratio=ratio, pressure_pa=pressure)), dry_bulb)
    wet_bulb = float(wet_bulb_c(dry_bulb_c=dry_bulb, humidity_ratio=ratio, pressure_pa=pressure))
    assert dew_point <= wet_bulb + 0.01 <= dry_bulb + 0.02
    by_dew_point = moist_air(dry_bulb_c=dry_bulb, dew_point_c=dew_point, pressure_pa=pressure)
    assert by_dew_point.humidity_ratio == pytest.approx(ratio, rel=1e-6)
    assert by_dew_point.relative_humidity == pytest.approx(share, rel=1e-6)
    if abs(wet_bulb) > 1e-6:
        by_wet_bulb = moist_air(dry_bulb_c=dry_bulb, wet_bulb_c=min(wet_bulb, dry_bulb), pressure_pa=pressure)
        assert by_wet_bulb.humidity_ratio == pytest.approx(ratio, abs=2e-7)
        assert by_wet_bulb.wet_bulb_c == min(wet_bulb, dry_bulb)


@given(dry_bulb=st.floats(-30.0, 50.0), share=st.floats(0.05, 0.98), pressure=pressures)
def test_what_the_library_reads_of_an_air_leads_back_to_its_humidity(
    dry_bulb: float, share: float, pressure: float
) -> None:
    """The library makes the reading, iced wicks and frost points included; the state made of it has that humidity."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    ratio = psychrolib.GetHumRatioFromRelHum(dry_bulb, share, pressure)
    if ratio < 2e-6:
        return  # the library holds no humidity ratio below 1e-7
    wet_bulb = min(psychrolib.GetTWetBulbFromHumRatio(dry_bulb, ratio, pressure), dry_bulb)
    dew_point = min(psychrolib.GetTDewPointFromHumRatio(dry_bulb, ratio, pressure), dry_bulb)
    by_ratio = moist_air(dry_bulb_c=dry_bulb, humidity_ratio=ratio, pressure_pa=pressure)
    by_dew_point = moist_air(dry_bulb_c=dry_bulb, dew_point_c=dew_point, pressure_pa=pressure)
    assert by_ratio.relative_humidity == pytest.approx(share, rel=1e-6)
    assert by_dew_point.relative_humidity == pytest.approx(share, rel=5e-4)
    if abs(wet_bulb) > 0.01:
        by_wet_bulb = moist_air(dry_bulb_c=dry_bulb, wet_bulb_c=wet_bulb, pressure_pa=pressure)
        assert by_wet_bulb.humidity_ratio == pytest.approx(ratio, abs=2e-6)  # its wet bulb is known to 0.001 K


@given(dry_bulb_f=st.floats(-20.0, 120.0), share=shares, elevation_ft=st.floats(-500.0, 9000.0))
def test_the_same_in_inch_pound_units_through_the_library(dry_bulb_f: float, share: float, elevation_ft: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.IP)
    try:
        psia = psychrolib.GetStandardAtmPressure(elevation_ft)
        ratio = psychrolib.GetHumRatioFromRelHum(dry_bulb_f, share, psia)
        density = psychrolib.GetMoistAirDensity(dry_bulb_f, ratio, psia)
    finally:
        psychrolib.SetUnitSystem(psychrolib.SI)
    state = moist_air(
        dry_bulb_c=to_si(dry_bulb_f, "degF"), elevation_m=to_si(elevation_ft, "ft"), relative_humidity=share
    )
    # The I-P formulas of the source have rounded constants of their own (14.696 psi, 6.8754e-6, 0.370486).
    assert state.humidity_ratio == pytest.approx(ratio, rel=5e-4, abs=2e-7)
    assert from_si(state.density_kg_m3, "lb/ft3") == pytest.approx(density, rel=3e-4)


def test_elevation_takes_the_place_of_a_pressure_that_was_not_read() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    state = moist_air(dry_bulb_c=20.0, elevation_m=1609.0, relative_humidity=0.4)
    assert state.pressure_pa == pytest.approx(psychrolib.GetStandardAtmPressure(1609.0))
    assert state == moist_air(dry_bulb_c=20.0, pressure_pa=state.pressure_pa, relative_humidity=0.4)


@pytest.mark.parametrize("arguments", [{}, {"pressure_pa": SEA_PA, "elevation_m": 0.0}])
def test_either_pressure_or_elevation(arguments: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="give either pressure_pa, as measured, or elevation_m"):
        moist_air(dry_bulb_c=20.0, relative_humidity=0.5, **arguments)


def test_where_water_and_ice_overlap_the_wet_bulb_is_that_of_water() -> None:
    ice = float(humidity._wet_bulb_ratio(np.asarray(5.0), np.asarray(-1e-9), np.asarray(SEA_PA)))
    water = float(humidity._wet_bulb_ratio(np.asarray(5.0), np.asarray(0.0), np.asarray(SEA_PA)))
    assert water < ice
    for ratio, sign in ((0.5 * (water + ice), 1.0), (water * (1.0 - 1e-6), -1.0), (water * (1.0 + 1e-6), 1.0)):
        found = float(wet_bulb_c(dry_bulb_c=5.0, humidity_ratio=ratio, pressure_pa=SEA_PA))
        assert found * sign > 0.0
        back = humidity_ratio_from_wet_bulb(dry_bulb_c=5.0, wet_bulb_c=found, pressure_pa=SEA_PA)
        assert back == pytest.approx(ratio, rel=1e-8)


@given(dry_bulb=st.floats(-40.0, 59.0), share=st.floats(0.02, 0.9))
def test_warmer_and_damper_air_is_lighter(dry_bulb: float, share: float) -> None:
    def density(temperature: float, humidity_: float) -> float:
        state = moist_air(dry_bulb_c=temperature, relative_humidity=humidity_, pressure_pa=SEA_PA)
        return float(state.density_kg_m3)

    assert density(dry_bulb + 1.0, share) < density(dry_bulb, share)
    assert density(dry_bulb, share + 0.1) < density(dry_bulb, share)


def test_saturation_is_continuous_where_ice_meets_water() -> None:
    below, above = np.asarray(saturation_pressure_pa(temperature_c=np.array([0.00999, 0.01001])))
    assert above > below
    assert above == pytest.approx(below, rel=2e-4)


def test_shapes_broadcast_and_scalars_stay_floats() -> None:
    state = moist_air(
        dry_bulb_c=np.array([[10.0], [20.0]]), relative_humidity=np.array([0.2, 0.4, 0.6]), pressure_pa=SEA_PA
    )
    assert np.shape(state.density_kg_m3) == (2, 3)
    single = moist_air(dry_bulb_c=20.0, relative_humidity=0.4, pressure_pa=SEA_PA)
    assert type(single.density_kg_m3) is float
    assert type(single.relative_humidity) is float
    assert np.asarray(state.density_kg_m3)[1, 1] == pytest.approx(single.density_kg_m3, rel=1e-12)


def test_dry_air_part_of_the_density() -> None:
    args = {"dry_bulb_c": 25.0, "humidity_ratio": 0.012, "pressure_pa": SEA_PA}
    assert dry_air_density_kg_m3(**args) * 1.012 == pytest.approx(moist_air_density_kg_m3(**args))


def test_heat_capacity_is_the_slope_of_enthalpy() -> None:
    warm, cold = np.asarray(moist_air_enthalpy_j_kg(dry_bulb_c=np.array([21.0, 20.0]), humidity_ratio=0.012))
    assert moist_air_heat_capacity_j_kg_k(humidity_ratio=0.012) == pytest.approx(warm - cold)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"relative_humidity": 45.0}, "relative humidity is 45; it must lie in 0 to 1"),
        ({"relative_humidity": float("nan")}, "relative humidity is nan"),
        ({"wet_bulb_c": 25.0}, "wet bulb is 25 degC; it must lie in -100 to 20 degC"),
        ({"wet_bulb_c": 2.0}, r"wet bulb is 2 degC; it must lie in 5\.8"),
        ({"dew_point_c": 20.5}, "dew point is 20.5 degC; it must lie in -100 to 20 degC"),
        ({"humidity_ratio": 0.02}, r"humidity ratio is 0.02 kg/kg; it must lie in 0 to 0.0146"),
        ({"humidity_ratio": -0.001}, "humidity ratio is -0.001 kg/kg"),
        ({"relative_humidity": 0.5, "pressure_pa": 1013.25}, "pressure is 1013.25 Pa"),
        ({"relative_humidity": 0.5, "dry_bulb_c": 293.15}, "dry bulb is 293.15 degC"),
    ],
)
def test_refuses(arguments: dict[str, float], message: str) -> None:
    with pytest.raises(OutOfRange, match=message):
        moist_air(**({"dry_bulb_c": 20.0, "pressure_pa": SEA_PA} | arguments))


def test_refuses_the_first_bad_element_of_an_array() -> None:
    with pytest.raises(OutOfRange, match=re.escape("elevation is 12000 m; it must lie in -5000 to 11000 m")):
        pressure_at_elevation_pa(elevation_m=np.array([0.0, 12_000.0, 13_000.0]))


@pytest.mark.parametrize("pressure", [20_000.0, 180_000.0])
def test_the_ends_of_the_stated_pressures_are_taken(pressure: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    expected = psychrolib.GetHumRatioFromRelHum(20.0, 0.5, pressure)
    assert moist_air(dry_bulb_c=20.0, relative_humidity=0.5, pressure_pa=pressure).humidity_ratio == pytest.approx(
        expected, rel=1e-4
    )


@pytest.mark.parametrize("arguments", [{}, {"relative_humidity": 0.5, "wet_bulb_c": 15.0}])
def test_exactly_one_reading_of_humidity(arguments: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="give exactly one of"):
        moist_air(dry_bulb_c=20.0, pressure_pa=SEA_PA, **arguments)


def test_dry_air() -> None:
    state = moist_air(dry_bulb_c=20.0, humidity_ratio=0.0, pressure_pa=SEA_PA)
    assert state.relative_humidity == 0.0
    with pytest.raises(OutOfRange, match="humidity ratio is 0 kg/kg"):
        dew_point_c(humidity_ratio=0.0, pressure_pa=SEA_PA)
    driest = wet_bulb_c(dry_bulb_c=20.0, humidity_ratio=0.0, pressure_pa=SEA_PA)
    assert humidity_ratio_from_wet_bulb(dry_bulb_c=20.0, wet_bulb_c=driest, pressure_pa=SEA_PA) == pytest.approx(
        0.0, abs=1e-9
    )


def test_dew_point_over_the_whole_range() -> None:
    temperatures_c = np.linspace(-99.0, 80.0, 400)
    ratio = humidity_ratio_from_dew_point(dew_point_c=temperatures_c, pressure_pa=SEA_PA)
    good = np.asarray(ratio) > 2e-9
    found = dew_point_c(humidity_ratio=np.asarray(ratio)[good], pressure_pa=SEA_PA)
    assert found == pytest.approx(temperatures_c[good], abs=1e-6)
    saturated = relative_humidity_from_humidity_ratio(
        dry_bulb_c=temperatures_c, humidity_ratio=ratio, pressure_pa=SEA_PA
    )
    assert saturated == pytest.approx(np.ones(400), abs=1e-9)


@pytest.mark.parametrize(("dry_bulb", "wet_bulb"), [(5.0, -1.0), (-2.0, -4.0), (3.0, -0.5)])
def test_a_frozen_wick_to_the_last_digits(dry_bulb: float, wet_bulb: float) -> None:
    """psychrolib's ice branch of ASHRAE Fundamentals 2017, chapter 1, eq. (35): every constant shows at 1e-6."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    expected = psychrolib.GetHumRatioFromTWetBulb(dry_bulb, wet_bulb, 101_325.0)
    found = humidity.humidity_ratio_from_wet_bulb(dry_bulb_c=dry_bulb, wet_bulb_c=wet_bulb, pressure_pa=101_325.0)
    assert found == pytest.approx(expected, rel=1e-6)
