"""Airflow per person from CO2 against the uncertainties library, a published row, and a space that fills in time."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import correlated_values, ufloat

from commissioning.engineering.airflow_per_person import AirflowPerPerson, airflow_per_person
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.units import from_si, to_si
from commissioning.engineering.ventilation import co2_after
from tests.engineering.reference_rows import hold, rows

GOOD: dict[str, Any] = {
    "generation_per_person_m3_s": 4.6e-6,
    "indoor_co2": 1000e-6,
    "outdoor_co2": 420e-6,
    "generation_relative_standard_uncertainty": 0.10,
    "indoor_standard_uncertainty": 30e-6,
    "outdoor_standard_uncertainty": 25e-6,
    "people": 20.0,
    "volume_m3": 180.0,
    "steady_for_s": 4500.0,
}


def found(**changed: Any) -> AirflowPerPerson:
    return airflow_per_person(**(GOOD | changed))


def codes(**changed: Any) -> list[str]:
    return [doubt.code for doubt in found(**changed).doubts]


def test_published() -> None:
    """T9.16: 7.931 L/s of each person at 1000 ppm over 420 ppm."""
    hold(rows("ventilation")["T9.16"], 1000.0 * found().airflow_m3_s)


@pytest.mark.parametrize("correlation", [0.0, 0.6, -0.3])
def test_uncertainty_against_the_uncertainties_library(correlation: float) -> None:
    covariance = correlation * 30e-6 * 25e-6
    indoor, outdoor = correlated_values([1000e-6, 420e-6], [[30e-6**2, covariance], [covariance, 25e-6**2]])
    flow = ufloat(4.6e-6, 0.46e-6) / (indoor - outdoor)
    result = found(correlation=correlation)
    assert result.airflow_m3_s == pytest.approx(flow.n)
    assert result.standard_uncertainty_m3_s == pytest.approx(flow.s)


def test_one_sensor_at_both_places_leaves_the_generation_alone() -> None:
    one = found(outdoor_standard_uncertainty=30e-6, correlation=1.0)
    assert one.standard_uncertainty_m3_s == pytest.approx(0.10 * one.airflow_m3_s)


def test_each_doubt_stands_alone() -> None:
    assert codes() == []
    assert found().usable
    assert codes(steady_for_s=2700.0) == ["not_steady"]
    for unknown in ("people", "volume_m3", "steady_for_s"):
        assert codes(**{unknown: None}) == ["steadiness_not_known"]
    assert codes(indoor_co2=720e-6, steady_for_s=3000.0) == ["small_difference"]
    assert not found(people=None).usable


def test_time_constants_as_worked_by_hand() -> None:
    """20 people with 7.931 L/s each turn 180 m3 over in 1134.8 s; three of those are 3404 s."""
    assert found(steady_for_s=3404.0).time_constants == pytest.approx(3.0, abs=1e-3)
    assert codes(steady_for_s=3403.0) == ["not_steady"]
    assert codes(steady_for_s=3406.0) == []


def test_the_difference_at_its_edge() -> None:
    """u = sqrt(30^2 + 25^2) = 39.05 ppm, so 2 u is a quarter of 312.4 ppm."""
    assert codes(indoor_co2=(420.0 + 312.0) * 1e-6) == ["small_difference"]
    assert codes(indoor_co2=(420.0 + 313.0) * 1e-6) == []


@pytest.mark.parametrize("constants", [0.5, 1.0, 2.0, 2.7, 3.0, 4.0])
def test_a_space_that_still_fills_is_told_by_its_own_reading(constants: float) -> None:
    """From outdoor air, x time constants show as x / (1 - exp(-x)); three are shown from 2.82 on."""
    flow, volume = 0.16, 180.0
    reading = co2_after(
        time_s=constants * volume / flow,
        initial_co2=420e-6,
        outdoor_co2=420e-6,
        generation_m3_s=20 * 4.6e-6,
        airflow_m3_s=flow,
        volume_m3=volume,
    )
    shown = found(indoor_co2=float(reading), steady_for_s=constants * volume / flow)
    assert shown.time_constants == pytest.approx(constants / (1.0 - math.exp(-constants)))
    assert shown.airflow_m3_s >= flow / 20.0
    if shown.usable:
        assert constants > 2.8
        assert shown.airflow_m3_s == pytest.approx(flow / 20.0, rel=0.063)
    else:
        assert constants < 2.83


@given(st.floats(600.0, 3000.0), st.floats(0.15, 0.6))
def test_the_same_in_both_unit_systems(indoor_ppm: float, generation_l_min: float) -> None:
    """In I-P by arithmetic: cfm per person = 1e6 G [cfm] / (C_i - C_o) [ppm]; 1 cfm is 28.316846592 L/min exactly."""
    expected = 1e6 * generation_l_min / 28.316846592 / (indoor_ppm - 420.0)
    result = found(generation_per_person_m3_s=generation_l_min / 60_000.0, indoor_co2=float(to_si(indoor_ppm, "ppm")))
    assert from_si(result.airflow_m3_s, "cfm") == pytest.approx(expected, rel=1e-9)


def test_refuses() -> None:
    with pytest.raises(OutOfRange, match=r"indoor CO2 is 0\.00042 mol/mol"):
        found(indoor_co2=420e-6)
    with pytest.raises(OutOfRange, match=r"CO2 generation per person is 0\.0046 m3/s"):
        found(generation_per_person_m3_s=4.6e-3)
    with pytest.raises(OutOfRange, match="correlation is 2"):
        found(correlation=2.0)
