"""Pressure-drop curves against the published rows, an open library's packed bed, and what each part goes with."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import fluids
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize

from commissioning.engineering import pressure_drop
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.pressure_drop import (
    RatedCurve,
    pressure_drop_airflow_m3_s,
    pressure_drop_curve,
    pressure_drop_doubts,
    rated_curve,
    rated_curve_airflow_m3_s,
)
from commissioning.engineering.units import from_si, to_si
from tests.engineering.reference_rows import Row, hold, parameters


def curve_flow(exponent: float) -> Any:
    flow = pressure_drop_airflow_m3_s(
        pressure_drop_pa=to_si(0.62, "in_wc"),
        rated_airflow_m3_s=to_si(1000.0, "cfm"),
        rated_pressure_drop_pa=to_si(0.80, "in_wc"),
        exponent=exponent,
    )
    return from_si(flow, "cfm")


CHECKS: dict[str, Callable[[], Any]] = {
    "T3.07": lambda: curve_flow(1.8),
    "T3.08": lambda: curve_flow(2.0),
}
ELSEWHERE = ["T3.01", "T3.02", "T3.03", "T3.04", "T3.05", "T3.06", "T3.09", "T3.10"]


@pytest.mark.parametrize(("row", "check"), parameters("flow_station", CHECKS, elsewhere=ELSEWHERE))
def test_published(row: Row, check: Callable[[], Any]) -> None:
    hold(row, check())


@given(n=st.floats(1.0, 2.0), low=st.floats(0.1, 0.9))
def test_curve_is_found_again_and_monotone(n: float, low: float) -> None:
    flows = np.array([low, 1.0, 1.3])
    curve = pressure_drop_curve(airflows_m3_s=flows, pressure_drops_pa=120.0 * flows**n)
    assert curve.exponent == pytest.approx(n, abs=1e-9)
    drops = np.array([10.0, 60.0, 120.0])
    found = np.asarray(
        pressure_drop_airflow_m3_s(
            pressure_drop_pa=drops,
            rated_airflow_m3_s=curve.airflow_m3_s,
            rated_pressure_drop_pa=curve.pressure_drop_pa,
            exponent=np.clip(curve.exponent, 1.0, 2.0),
        )
    )
    assert np.all(np.diff(found) > 0.0)
    assert found[2] == pytest.approx(1.0)


def test_viscosity_counts_when_laminar_and_density_when_turbulent() -> None:
    def flow(exponent: float, density: float, viscosity: float) -> float:
        return float(
            pressure_drop_airflow_m3_s(
                pressure_drop_pa=100.0,
                rated_airflow_m3_s=1.0,
                rated_pressure_drop_pa=100.0,
                exponent=exponent,
                density_ratio=density,
                viscosity_ratio=viscosity,
            )
        )

    assert flow(1.0, 1.2, 1.0) == pytest.approx(1.0)
    assert flow(1.0, 1.0, 1.25) == pytest.approx(0.8)
    assert flow(2.0, 1.0, 1.25) == pytest.approx(1.0)
    assert flow(2.0, 1.21, 1.0) == pytest.approx(1.0 / 1.1)


def test_curve_refuses() -> None:
    with pytest.raises(OutOfRange, match="exponent is 3"):
        pressure_drop_curve(airflows_m3_s=np.array([1.0, 2.0]), pressure_drops_pa=np.array([10.0, 80.0]))
    with pytest.raises(ValueError, match="two or more points"):
        pressure_drop_curve(airflows_m3_s=np.array([1.0, 1.0]), pressure_drops_pa=np.array([10.0, 10.0]))
    with pytest.raises(OutOfRange, match=r"exponent is 0\.415"):
        rated_curve(airflows_m3_s=np.array([1.0, 2.0]), pressure_drops_pa=np.array([60.0, 80.0]))


def bed_drop(flow: float, density: float = 1.2, viscosity: float = 18.1e-6) -> float:
    """Pressure drop of a bed by Ergun's equation, in the open library: a laminar and a turbulent part by design."""
    return float(fluids.Ergun(dp=0.5e-3, voidage=0.6, vs=flow / 0.5, rho=density, mu=viscosity, L=0.02))


POINTS = np.array([0.5, 0.8, 1.2])


def bed_curve() -> RatedCurve:
    return rated_curve(airflows_m3_s=POINTS, pressure_drops_pa=np.array([bed_drop(flow) for flow in POINTS]))


def test_the_points_of_a_bed_are_met_and_both_parts_are_there() -> None:
    curve = bed_curve()
    assert curve.largest_miss < 1e-9
    laminar = curve.viscous * 0.8 / bed_drop(0.8)
    assert 0.2 < laminar < 0.8
    assert (curve.least_airflow_m3_s, curve.most_airflow_m3_s) == (0.5, 1.2)


@given(st.floats(0.3, 1.4), st.floats(0.8, 1.3), st.floats(0.85, 1.2))
def test_the_airflow_in_other_air_comes_back_through_the_library(flow: float, density: float, viscosity: float) -> None:
    drop = bed_drop(flow, 1.2 * density, 18.1e-6 * viscosity)
    found = rated_curve_airflow_m3_s(
        curve=bed_curve(), pressure_drop_pa=drop, density_ratio=density, viscosity_ratio=viscosity
    )
    assert found == pytest.approx(flow, rel=1e-9)


def test_the_power_law_misses_what_the_two_parts_meet() -> None:
    """At half of the least rated airflow of that bed the power law through its points reads more than 3 % high."""
    power = pressure_drop_curve(airflows_m3_s=POINTS, pressure_drops_pa=np.array([bed_drop(flow) for flow in POINTS]))
    found = pressure_drop_airflow_m3_s(
        pressure_drop_pa=bed_drop(0.25),
        rated_airflow_m3_s=power.airflow_m3_s,
        rated_pressure_drop_pa=power.pressure_drop_pa,
        exponent=power.exponent,
    )
    assert float(found) > 0.25 * 1.03
    assert rated_curve_airflow_m3_s(curve=bed_curve(), pressure_drop_pa=bed_drop(0.25)) == pytest.approx(0.25)


@given(st.floats(1.0, 2.0), st.floats(0.2, 0.9), st.floats(1.0, 500.0))
def test_two_points_are_met_and_the_curve_rises(exponent: float, share: float, drop: float) -> None:
    flows = np.array([share, 1.0])
    curve = rated_curve(airflows_m3_s=flows, pressure_drops_pa=drop * flows**exponent)
    assert curve.viscous >= 0.0
    assert curve.inertial >= 0.0
    assert curve.largest_miss < 1e-9
    assert rated_curve_airflow_m3_s(curve=curve, pressure_drop_pa=drop * share**exponent) == pytest.approx(share)
    found = np.asarray(rated_curve_airflow_m3_s(curve=curve, pressure_drop_pa=np.linspace(0.0, 2.0 * drop, 40)))
    assert found[0] == 0.0
    assert np.all(np.diff(found) > 0.0)


@given(st.floats(200.0, 3000.0), st.floats(0.1, 2.0))
def test_the_same_in_both_unit_systems(cfm: float, inches: float) -> None:
    """dp = (q / 1000) (0.3 + 0.5 q / 1000) in. w.c. at q cfm: solved in I-P by arithmetic, in SI by the curve."""
    rated = np.array([cfm, 1.7 * cfm])
    drops = rated / 1000.0 * (0.3 + 0.5 * rated / 1000.0)
    expected = 1000.0 * (-0.3 + (0.09 + 4.0 * 0.5 * inches) ** 0.5) / (2.0 * 0.5)
    curve = rated_curve(airflows_m3_s=to_si(rated, "cfm"), pressure_drops_pa=to_si(drops, "in_wc"))
    found = rated_curve_airflow_m3_s(curve=curve, pressure_drop_pa=to_si(inches, "in_wc"))
    assert from_si(found, "cfm") == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("flows", "drops"), [([0.2, 0.4, 0.5], [19.2, 43.2, 46.0]), ([0.2, 0.4, 0.8], [3.7, 17.3, 58.9])]
)
def test_neither_part_is_below_nothing(flows: list[float], drops: list[float]) -> None:
    """Points of an exponent near 1 and near 2, where one part would come out negative: scipy.optimize.nnls."""
    q, dp = np.array(flows), np.array(drops)
    (viscous, inertial), _ = optimize.nnls(np.column_stack([q / dp, q**2 / dp]), np.ones(3))
    curve = rated_curve(airflows_m3_s=q, pressure_drops_pa=dp)
    assert (curve.viscous, curve.inertial) == pytest.approx((viscous, inertial))
    assert min(viscous, inertial) == 0.0


def test_the_uncertainty_is_the_one_that_the_module_tells() -> None:
    """Common practice, no source; at k = 2."""
    assert "+-10 % or worse" in " ".join((pressure_drop.__doc__ or "").split())
    assert pressure_drop.RELATIVE_EXPANDED_UNCERTAINTY == 0.10


def test_points_that_no_curve_meets_are_told() -> None:
    curve = rated_curve(airflows_m3_s=np.array([0.5, 0.75, 1.0]), pressure_drops_pa=np.array([50.0, 120.0, 150.0]))
    assert curve.largest_miss > 0.05
    assert codes(curve=curve) == ["points_do_not_fit"]


GOOD: dict[str, Any] = {
    "airflow_m3_s": 0.8,
    "pressure_drop_pa": 100.0,
    "resolution_pa": 1.0,
    "clean": True,
    "dry": True,
    "bypass_closed": True,
    "frosted": False,
}


def codes(**changed: Any) -> list[str]:
    return [doubt.code for doubt in pressure_drop_doubts(**({"curve": bed_curve()} | GOOD | changed))]


def test_a_good_state_leaves_no_doubt() -> None:
    assert codes() == []


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"clean": False}, "dirt"),
        ({"dry": False}, "wet"),
        ({"bypass_closed": False}, "bypass"),
        ({"frosted": True}, "frost"),
        ({"clean": None}, "dirt_not_recorded"),
        ({"dry": None}, "wet_not_recorded"),
        ({"bypass_closed": None}, "bypass_not_recorded"),
        ({"frosted": None}, "frost_not_recorded"),
        ({"resolution_pa": None}, "resolution_not_recorded"),
        ({"pressure_drop_pa": 9.9}, "small_signal"),
        ({"airflow_m3_s": 0.249}, "beyond_rated_points"),
        ({"airflow_m3_s": 1.45}, "beyond_rated_points"),
    ],
)
def test_each_doubt_stands_alone(changed: dict[str, Any], code: str) -> None:
    assert codes(**changed) == [code]


def test_the_edges_of_the_rated_range_are_inside() -> None:
    assert codes(airflow_m3_s=0.25) == []
    assert codes(airflow_m3_s=1.439) == []
    assert codes(pressure_drop_pa=10.0) == []
