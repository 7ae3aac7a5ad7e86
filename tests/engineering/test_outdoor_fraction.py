"""Outdoor fractions against the published rows and the uncertainties library."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.outdoor_fraction import (
    judge_outdoor_fraction,
    least_difference,
    outdoor_airflow,
    outdoor_fraction_by_co2,
    outdoor_fraction_by_enthalpy,
    outdoor_fraction_by_temperature,
    outdoor_fraction_uncertainty,
)
from commissioning.engineering.units import to_si
from tests.engineering.reference_rows import Row, hold, parameters

HALF_F = dict.fromkeys(
    ("mixed_standard_uncertainty", "return_standard_uncertainty", "outdoor_standard_uncertainty"), 0.5 / 1.8
)


def by_temperature(outdoor: float, returned: float, mixed: float, code: str) -> float:
    return float(
        outdoor_fraction_by_temperature(
            outdoor_temperature_c=to_si(outdoor, code),
            return_temperature_c=to_si(returned, code),
            mixed_temperature_c=to_si(mixed, code),
        )
    )


def small_difference() -> tuple[float, float]:
    fraction = by_temperature(18.5, 22.5, 20.9, "degC")
    uncertainty = outdoor_fraction_uncertainty(
        fraction=fraction,
        difference=18.5 - 22.5,
        mixed_standard_uncertainty=0.3,
        return_standard_uncertainty=0.3,
        outdoor_standard_uncertainty=0.3,
    )
    return fraction, float(uncertainty)


def by_co2() -> tuple[float, float]:
    fraction = outdoor_fraction_by_co2(
        outdoor_co2=to_si(420.0, "ppm"), return_co2=to_si(950.0, "ppm"), supply_co2=to_si(800.0, "ppm")
    )
    uncertainty = outdoor_fraction_uncertainty(
        fraction=fraction,
        difference=530.0,
        mixed_standard_uncertainty=25.0,
        return_standard_uncertainty=25.0,
        outdoor_standard_uncertainty=20.0,
    )
    return float(fraction), float(uncertainty)


def by_co2_cfm() -> tuple[float, float]:
    fraction, uncertainty = by_co2()
    found = outdoor_airflow(
        fraction=fraction,
        fraction_standard_uncertainty=uncertainty,
        supply_airflow_m3_s=float(to_si(8000.0, "cfm")),
        supply_standard_uncertainty_m3_s=float(to_si(160.0, "cfm")),
    )
    cfm = float(to_si(1.0, "cfm"))
    return found.airflow_m3_s / cfm, 2.0 * found.standard_uncertainty_m3_s / cfm


CHECKS: dict[str, Callable[[], Any]] = {
    "T4.04": lambda: by_temperature(55.0, 75.0, 70.0, "degF"),
    "T4.05": lambda: outdoor_fraction_uncertainty(fraction=0.25, difference=-20.0 / 1.8, **HALF_F),
    "T4.07": lambda: 1.8 * least_difference(fraction=0.25, largest_expanded_uncertainty=0.05, **HALF_F),
}


ELSEWHERE = ["T4.01", "T4.02", "T4.03", "T4.06", "T4.08", "T4.09"]


@pytest.mark.parametrize(("row", "check"), parameters("hood_and_outdoor_fraction", CHECKS, elsewhere=ELSEWHERE))
def test_published(row: Row, check: Callable[[], Any]) -> None:
    hold(row, check())


def test_small_difference_is_flagged() -> None:
    """T4.06: 0.4000 +- 0.0925 (k = 1)."""
    fraction, uncertainty = small_difference()
    assert np.array([fraction, uncertainty]) == pytest.approx([0.4, 0.0925], abs=2e-4)
    assert not judge_outdoor_fraction(fraction=fraction, standard_uncertainty=uncertainty).usable


def test_by_co2() -> None:
    """T4.08: 0.2830 +- 0.0590 (k = 1)."""
    assert np.array(by_co2()) == pytest.approx([0.2830, 0.0590], abs=2e-4)


def test_outdoor_airflow_by_co2() -> None:
    """T4.09: 2264 +- 949 cfm (k = 2)."""
    assert np.array(by_co2_cfm()) == pytest.approx([2264.0, 949.0], abs=2.0)


def test_usable_at_its_edge() -> None:
    assert judge_outdoor_fraction(fraction=0.4, standard_uncertainty=0.05).usable
    assert not judge_outdoor_fraction(fraction=0.4, standard_uncertainty=0.0501).usable
    assert not judge_outdoor_fraction(fraction=-0.02, standard_uncertainty=0.01).usable


@pytest.mark.parametrize("mixed", [5.0, 10.0, 18.0])
def test_uncertainty_against_the_uncertainties_library(mixed: float) -> None:
    t_m, t_r, t_o = ufloat(mixed, 0.3), ufloat(22.0, 0.2), ufloat(-3.0, 0.5)
    f = (t_m - t_r) / (t_o - t_r)
    found = outdoor_fraction_uncertainty(
        fraction=f.n,
        difference=-25.0,
        mixed_standard_uncertainty=0.3,
        return_standard_uncertainty=0.2,
        outdoor_standard_uncertainty=0.5,
    )
    assert found == pytest.approx(f.s, rel=1e-6)


def test_outdoor_airflow_against_the_uncertainties_library() -> None:
    expected = ufloat(0.31, 0.02) * ufloat(3.2, 0.09)
    found = outdoor_airflow(
        fraction=0.31,
        fraction_standard_uncertainty=0.02,
        supply_airflow_m3_s=3.2,
        supply_standard_uncertainty_m3_s=0.09,
    )
    assert (found.airflow_m3_s, found.standard_uncertainty_m3_s) == pytest.approx((expected.n, expected.s))


def test_enthalpy_and_temperature_agree_in_dry_air() -> None:
    assert outdoor_fraction_by_enthalpy(
        outdoor_enthalpy_j_kg=0.0, return_enthalpy_j_kg=20_120.0, mixed_enthalpy_j_kg=15_090.0
    ) == pytest.approx(0.25)


def test_enthalpies_that_all_but_agree_say_nothing() -> None:
    """100 J/kg apart is the least (common practice, no source): 25 of 100 is a quarter; 99 are refused."""
    found = outdoor_fraction_by_enthalpy(
        outdoor_enthalpy_j_kg=48_100.0, return_enthalpy_j_kg=48_000.0, mixed_enthalpy_j_kg=48_025.0
    )
    assert found == pytest.approx(0.25)
    with pytest.raises(OutOfRange, match="enthalpy difference of outdoor and return air is 99 J/kg"):
        outdoor_fraction_by_enthalpy(
            outdoor_enthalpy_j_kg=48_099.0, return_enthalpy_j_kg=48_000.0, mixed_enthalpy_j_kg=48_025.0
        )


@given(
    fraction=st.floats(0.0, 1.0),
    outdoor=st.tuples(st.floats(-20.0, 38.0), st.floats(0.1, 0.9)),
    returned=st.tuples(st.floats(20.0, 26.0), st.floats(0.2, 0.6)),
)
def test_a_mix_made_by_the_library_is_found_again(
    fraction: float, outdoor: tuple[float, float], returned: tuple[float, float]
) -> None:
    """Dry air mixes by mass in enthalpy and humidity ratio; the library gives the states and the mixed dry bulb."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    ratio_o, ratio_r = (psychrolib.GetHumRatioFromRelHum(*state, 101_325.0) for state in (outdoor, returned))
    h_o = psychrolib.GetMoistAirEnthalpy(outdoor[0], ratio_o)
    h_r = psychrolib.GetMoistAirEnthalpy(returned[0], ratio_r)
    mixed = fraction * h_o + (1.0 - fraction) * h_r
    if abs(h_o - h_r) > 1000.0:
        by_enthalpy = outdoor_fraction_by_enthalpy(
            outdoor_enthalpy_j_kg=h_o, return_enthalpy_j_kg=h_r, mixed_enthalpy_j_kg=mixed
        )
        assert by_enthalpy == pytest.approx(fraction, abs=1e-9)
    if abs(outdoor[0] - returned[0]) > 5.0:
        ratio = fraction * ratio_o + (1.0 - fraction) * ratio_r
        dry_bulb = psychrolib.GetTDryBulbFromEnthalpyAndHumRatio(mixed, ratio)
        found = by_temperature(outdoor[0], returned[0], dry_bulb, "degC")
        assert found == pytest.approx(fraction, abs=0.02)  # the heat capacity of moist air differs a little


def test_refuses() -> None:
    with pytest.raises(OutOfRange, match="temperature difference of outdoor and return air is 0 K"):
        by_temperature(20.0, 20.0, 20.0, "degC")
    with pytest.raises(OutOfRange, match="supply CO2 is 800 mol/mol"):
        outdoor_fraction_by_co2(outdoor_co2=4e-4, return_co2=9e-4, supply_co2=800.0)
    with pytest.raises(OutOfRange, match="supply airflow is 8000 m3/s"):
        outdoor_airflow(
            fraction=0.3,
            fraction_standard_uncertainty=0.01,
            supply_airflow_m3_s=8000.0,
            supply_standard_uncertainty_m3_s=0.1,
        )
