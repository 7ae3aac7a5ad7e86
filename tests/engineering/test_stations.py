"""Orifices against the published rows and an open fluid-mechanics library; another size's factor, offered or not."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import fluids
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.stations import (
    neighbouring_factors,
    orifice_mass_flow_kg_s,
)
from tests.engineering.reference_rows import Row, hold, parameters

DUCT: dict[str, float] = {
    "pipe_diameter_m": 0.300,
    "orifice_diameter_m": 0.180,
    "upstream_pressure_pa": 101_325.0,
    "downstream_pressure_pa": 101_075.0,
    "density_kg_m3": 1.2,
    "viscosity_pa_s": 18.1e-6,
}
CHECKS: dict[str, Callable[[], Any]] = {
    "T3.01": lambda: orifice_mass_flow_kg_s(
        pipe_diameter_m=0.07366,
        orifice_diameter_m=0.05,
        upstream_pressure_pa=200_000.0,
        downstream_pressure_pa=183_000.0,
        density_kg_m3=999.1,
        viscosity_pa_s=0.0011,
        isentropic_exponent=1.33,
    ),
    "T3.02": lambda: orifice_mass_flow_kg_s(**DUCT),
}
ELSEWHERE = ["T3.03", "T3.04", "T3.05", "T3.06", "T3.07", "T3.08", "T3.09", "T3.10"]


@pytest.mark.parametrize(("row", "check"), parameters("flow_station", CHECKS, elsewhere=ELSEWHERE))
def test_published(row: Row, check: Callable[[], Any]) -> None:
    hold(row, check())


@given(beta=st.floats(0.2, 0.74), difference=st.floats(20.0, 2000.0), pipe=st.floats(0.05, 0.9))
def test_orifice_against_the_library(beta: float, difference: float, pipe: float) -> None:
    orifice = beta * pipe
    if orifice < 0.0126:
        return
    arguments = {"pipe_diameter_m": pipe, "orifice_diameter_m": orifice}
    arguments["downstream_pressure_pa"] = 101_325.0 - difference
    try:
        ours = orifice_mass_flow_kg_s(**(DUCT | arguments))
    except OutOfRange as refusal:
        assert refusal.quantity == "Reynolds number"  # noqa: PT017
        return
    theirs = fluids.differential_pressure_meter_solver(
        D=pipe,
        D2=orifice,
        P1=101_325.0,
        P2=101_325.0 - difference,
        rho=1.2,
        mu=18.1e-6,
        k=1.4,
        meter_type="ISO 5167 orifice",
        taps="D and D/2",
    )
    assert ours == pytest.approx(theirs, rel=1e-6)


def test_orifice_refuses() -> None:
    with pytest.raises(OutOfRange, match="ratio of diameters"):
        orifice_mass_flow_kg_s(**(DUCT | {"orifice_diameter_m": 0.029}))


SIZES = [76.0, 95.0, 120.0, 154.0, 198.0]  # m3/h per root of Pa; invented for the test


def offered(factor: float, other: float, *, relative: float = 0.05, other_relative: float = 0.05) -> list[float]:
    """Factors offered for a station that reads 1 m3/s with a factor, against another method."""
    found = neighbouring_factors(
        used_factor=factor,
        factors=SIZES,
        airflow_m3_s=1.0,
        expanded_uncertainty_m3_s=relative,
        other_airflow_m3_s=other,
        other_expanded_uncertainty_m3_s=other_relative * other,
    )
    return [entry.factor for entry in found]


def test_the_next_size_is_offered_where_it_explains_the_difference() -> None:
    """154 / 120 = 1.283: within 7 % (both +-5 %) of 1.27, and neither the smaller size nor the next but one is."""
    assert offered(120.0, 1.27) == [154.0]
    assert offered(120.0, 0.80) == [95.0]


def test_nothing_is_offered_where_the_two_agree() -> None:
    assert offered(120.0, 1.02) == []
    assert offered(120.0, 1.07) == []  # 0.07 / sqrt(0.05^2 + 0.0535^2) = 0.956


def test_nothing_is_offered_where_no_size_explains_it() -> None:
    assert offered(120.0, 1.12) == []  # 1.12 lies between 1 and 1.283, 13 % off each


def test_wide_uncertainties_leave_several_sizes_open_nearest_first() -> None:
    """E of 95: |0.792 - 0.71| / hypot(0.158, 0.142) = 0.38; of 76: |0.633 - 0.71| / hypot(0.127, 0.142) = 0.40."""
    assert offered(120.0, 0.71, relative=0.20, other_relative=0.20) == [95.0, 76.0]


@given(st.sampled_from(SIZES), st.sampled_from(SIZES), st.floats(0.97, 1.03))
def test_the_true_size_is_always_offered(used: float, true: float, off: float) -> None:
    if used == true:
        return
    assert offered(used, true / used * off)[0] == true


def test_the_working_goes_with_each_offer() -> None:
    (entry,) = neighbouring_factors(
        used_factor=120.0,
        factors=[120.0, 154.0, 154.0],
        airflow_m3_s=1.0,
        expanded_uncertainty_m3_s=0.05,
        other_airflow_m3_s=1.27,
        other_expanded_uncertainty_m3_s=0.06,
    )
    assert entry.airflow_m3_s == pytest.approx(154 / 120)
    width = ((0.05 * 154 / 120) ** 2 + 0.06**2) ** 0.5
    assert entry.normalised_difference == pytest.approx((154 / 120 - 1.27) / width)


def test_factors_refuse() -> None:
    with pytest.raises(OutOfRange, match="station factor is 0"):
        offered(0.0, 1.0)
    with pytest.raises(OutOfRange, match="expanded uncertainty is 0"):
        offered(120.0, 1.27, relative=0.0)
