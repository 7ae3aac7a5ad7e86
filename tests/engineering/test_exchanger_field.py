"""What a field test of an exchanger needs: its doubts, rated points at any flows, fan heat, flows of dry air."""

from __future__ import annotations

from typing import Any

import ht.hx
import pytest
from CoolProp.HumidAirProp import HAPropsSI
from hypothesis import assume, given
from hypothesis import strategies as st

from commissioning.engineering.exchanger import (
    effectiveness_at_flows,
    effectiveness_between_points,
    exchanger_doubts,
    humidity_doubts,
)
from commissioning.engineering.exchanger_stations import (
    dry_air_mass_flow_kg_s,
    fan_rise_from_power_k,
    temperature_at_exchanger_c,
)
from commissioning.engineering.fans import fan_temperature_rise_k
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.moist_air import moist_air

FINE: dict[str, Any] = {
    "outdoor_temperature_c": -5.0,
    "return_temperature_c": 22.0,
    "difference_standard_uncertainty_k": 0.2 * 2.0**0.5,  # two sensors of 0.2 K
    "temperature_drift_k": 0.1,
    "duration_s": 900.0,
    "closure": 0.05,
    "bypass_closed": True,
    "wheel_at_speed": True,
    "frosted": False,
    "coil_between": False,
}


@pytest.mark.parametrize(
    ("changes", "codes"),
    [
        ({}, []),
        ({"outdoor_temperature_c": 11.0}, ["small_difference"]),
        ({"outdoor_temperature_c": 10.5}, []),
        ({"temperature_drift_k": 0.3}, ["unsteady"]),
        ({"temperature_drift_k": -0.3}, ["unsteady"]),
        ({"temperature_drift_k": None}, ["drift_not_recorded"]),
        ({"temperature_drift_k": 22.1 - 21.9}, []),
        ({"duration_s": 590.0}, ["short_test"]),
        ({"duration_s": 600.0}, []),  # ten minutes, the least that is asked for
        ({"duration_s": None}, ["duration_not_recorded"]),
        ({"frosted": None}, ["frost_not_recorded"]),
        ({"frosted": None, "outdoor_temperature_c": 35.0, "return_temperature_c": 22.0}, []),
        ({"outdoor_temperature_c": 22.0}, ["small_difference"]),
        ({"closure": -0.21}, ["energy_does_not_close"]),
        ({"closure": -0.21, "closure_standard_uncertainty": 0.01}, []),
        ({"closure": None}, []),
        ({"bypass_closed": False}, ["bypass"]),
        ({"bypass_closed": None, "coil_between": None}, ["bypass_not_recorded", "coil_not_recorded"]),
        ({"wheel_at_speed": False, "frosted": True}, ["wheel_speed", "frost"]),
        ({"coil_between": True}, ["coil"]),
    ],
)
def test_doubts(changes: dict[str, Any], codes: list[str]) -> None:
    found = exchanger_doubts(**(FINE | changes))
    assert [doubt.code for doubt in found] == codes
    assert all(doubt.sentence for doubt in found)


@pytest.mark.parametrize(
    ("difference", "uncertainty", "codes"),
    [
        (0.0072, 0.00072, []),  # 2 u is a fifth of the difference: the very limit
        (-0.0072, 0.00072, []),
        (0.0072, 0.00073, ["small_difference_of_humidity_ratio"]),
        (0.0, 0.0003, ["small_difference_of_humidity_ratio"]),
        (0.0, 0.0, ["small_difference_of_humidity_ratio"]),
    ],
)
def test_humidity_has_to_differ_by_more_than_its_uncertainty(
    difference: float, uncertainty: float, codes: list[str]
) -> None:
    found = humidity_doubts(difference=difference, standard_uncertainty=uncertainty, quantity="humidity ratio")
    assert [doubt.code for doubt in found] == codes


def test_the_doubt_says_how_well_the_difference_is_known() -> None:
    """2 x 0.0001 of 0.0008 kg/kg is a quarter, whichever way it goes."""
    for difference in (0.0008, -0.0008):
        (doubt,) = humidity_doubts(difference=difference, standard_uncertainty=0.0001, quantity="humidity ratio")
        assert "known to 25% only; 20% may be" in doubt.sentence


def test_two_rating_points_at_any_flows() -> None:
    """T7.22 at 75 and 100 %; and by hand: halfway between 0.5 and 1.0 lies halfway between 0.80 and 0.70."""

    def at(supply: float, exhaust: float, first: float = 0.5) -> Any:
        return effectiveness_between_points(
            lower_effectiveness=0.80,
            lower_airflow_m3_s=first,
            upper_effectiveness=0.70,
            upper_airflow_m3_s=1.0,
            supply_airflow_m3_s=supply,
            exhaust_airflow_m3_s=exhaust,
        )

    assert at(0.8, 0.7) == pytest.approx(0.75)
    assert at(1.0, 1.0) == pytest.approx(0.70)
    assert at(0.5, 0.5) == pytest.approx(0.80)
    with pytest.raises(OutOfRange, match="larger rated airflow"):
        at(0.9, 0.9, first=0.99)


@given(supply=st.floats(0.4, 1.2), exhaust=st.floats(0.4, 1.03))
def test_an_unbalanced_rating_point_gives_itself_back(supply: float, exhaust: float) -> None:
    """At the rated flows the rated effectiveness; ht, from its own transfer units, agrees at any others."""
    held: dict[str, float] = {
        "rated_effectiveness": 0.72,
        "rated_mass_flow_kg_s": 1.0,
        "rated_exhaust_mass_flow_kg_s": 0.8,
    }
    at_rated = effectiveness_at_flows(
        supply_mass_flow_kg_s=1.0, exhaust_mass_flow_kg_s=0.8, kind="crossflow_unmixed", **held
    )
    assert at_rated == pytest.approx(0.72, abs=1e-9)
    at_measured = effectiveness_at_flows(
        supply_mass_flow_kg_s=supply, exhaust_mass_flow_kg_s=exhaust, kind="counterflow", **held
    )
    units = ht.hx.NTU_from_effectiveness(0.72, 0.8, "counterflow")  # type: ignore[no-untyped-call]
    small, large = min(supply, exhaust), max(supply, exhaust)
    assume(small / large < 1.0 - 1e-6)  # closer to balance the oracle's form is a difference of equal numbers
    oracle = ht.hx.effectiveness_from_NTU(units * 0.8 / small, small / large, "counterflow")  # type: ignore[no-untyped-call]
    assert at_measured == pytest.approx(oracle, abs=1e-6)


def test_fan_heat_by_power_is_fan_heat_by_pressure() -> None:
    """T12.05: 900 Pa at 0.60 is 1.242545 K. At 1 m3/s of dry air of 1.2 kg/m3 that takes 900 / 0.60 = 1500 W."""
    by_pressure = fan_temperature_rise_k(pressure_pa=900.0, efficiency=0.60, density_kg_m3=1.2)
    by_power = fan_rise_from_power_k(power_w=1500.0, share_in_stream=1.0, mass_flow_kg_s=1.2, humidity_ratio=0.0)
    assert by_power == pytest.approx(1.242545, abs=0.002)
    assert by_power == pytest.approx(by_pressure, rel=1e-9)


def test_a_fan_warms_what_enters_and_what_has_left() -> None:
    assert temperature_at_exchanger_c(dry_bulb_c=-5.0, fan_rise_k=1.2, entering=True) == pytest.approx(-3.8)
    assert temperature_at_exchanger_c(dry_bulb_c=13.7, fan_rise_k=1.2, entering=False) == pytest.approx(12.5)
    for bad in (-1.001, 20.001):  # from 1 K below zero, by the uncertainty of a small one, to 20 K: common practice
        with pytest.raises(OutOfRange, match="fan temperature rise is"):
            temperature_at_exchanger_c(dry_bulb_c=13.7, fan_rise_k=bad, entering=True)
    assert temperature_at_exchanger_c(dry_bulb_c=13.7, fan_rise_k=-1.0, entering=True) == pytest.approx(12.7)
    assert temperature_at_exchanger_c(dry_bulb_c=13.7, fan_rise_k=20.0, entering=True) == pytest.approx(33.7)


def test_dry_air_of_an_actual_airflow_against_coolprop() -> None:
    """1 m3/s at 30 degC, 60 %, 95 461 Pa: CoolProp's volume per kilogram of dry air, real gas, within 0.1 %."""
    state = moist_air(dry_bulb_c=30.0, relative_humidity=0.6, pressure_pa=95_461.0)
    found = dry_air_mass_flow_kg_s(
        airflow_m3_s=1.0, density_kg_m3=state.density_kg_m3, humidity_ratio=state.humidity_ratio
    )
    volume = HAPropsSI("Vda", "T", 303.15, "P", 95_461.0, "RH", 0.6)
    assert found == pytest.approx(1.0 / volume, rel=1e-3)
