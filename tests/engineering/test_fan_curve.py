"""The fan's curve against an open library, the laws by which it is scaled, and the airflow that it gives."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from commissioning.engineering.fan_curve import (
    SYSTEM_EFFECT_NOTE,
    FanCurve,
    fan_curve,
    fan_curve_airflow,
    fan_pressure_pa,
    root_between,
    scale,
)
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.units import from_si, to_si

FLOWS = np.array([0.0, 0.5, 1.0, 1.5, 2.0, 2.4])  # an invented fan with a peak at 0.5 m3/s
PRESSURES = np.array([520.0, 540.0, 500.0, 410.0, 240.0, 60.0])
LAST, PEAK = 2.4, 0.5


def made() -> FanCurve:
    return fan_curve(airflows_m3_s=FLOWS, pressures_pa=PRESSURES, speed_rpm=1000.0)


@st.composite
def falling(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray]:
    """Points of an arbitrary curve that falls all the way."""
    count = draw(st.integers(3, 8))
    steps = draw(st.lists(st.floats(0.05, 1.0), min_size=count, max_size=count))
    drops = draw(st.lists(st.floats(5.0, 300.0), min_size=count, max_size=count))
    return np.cumsum(steps), np.cumsum(drops)[::-1] + 20.0


@given(points=falling())
def test_the_curve_is_that_of_an_open_library(points: tuple[np.ndarray, np.ndarray]) -> None:
    """scipy.interpolate.PchipInterpolator, Fritsch and Butland 1984."""
    flows, pressures = points
    curve = fan_curve(airflows_m3_s=flows, pressures_pa=pressures, speed_rpm=1000.0)
    at = np.linspace(flows[0], flows[-1], 101)
    assert curve.at(at) == pytest.approx(PchipInterpolator(flows, pressures)(at), rel=1e-9, abs=1e-9)


def test_a_curve_with_a_peak_is_that_of_an_open_library_too() -> None:
    at = np.linspace(0.0, LAST, 101)
    assert made().at(at) == pytest.approx(PchipInterpolator(FLOWS, PRESSURES)(at), rel=1e-12)
    humped = np.array([10.0, 400.0, 100.0, 90.0])  # a steep end next to a turn
    # End slope of the parabola before a turn: (3 x 10 + 50) / 2 = 40, (3 x 10 + 30.2) / 2 = 30.1; held back to 3 x 10.
    held_back, barely = np.array([100.0, 110.0, 60.0, 50.0]), np.array([100.0, 110.0, 79.8, 70.0])
    for pressures in (humped, held_back, barely):
        curve = fan_curve(airflows_m3_s=np.arange(4.0), pressures_pa=pressures, speed_rpm=900.0)
        assert curve.at(0.3) == pytest.approx(PchipInterpolator(np.arange(4.0), pressures)(0.3))


@given(points=falling())
def test_where_the_points_fall_the_curve_falls(points: tuple[np.ndarray, np.ndarray]) -> None:
    curve = fan_curve(airflows_m3_s=points[0], pressures_pa=points[1], speed_rpm=1000.0)
    assert curve.first == 0
    assert np.all(np.diff(curve.at(np.linspace(points[0][0], points[0][-1], 300))) < 1e-9)


def test_only_the_part_right_of_the_last_peak_is_used() -> None:
    assert made().first == 1
    assert fan_pressure_pa(curve=made(), airflow_m3_s=PEAK, speed_rpm=1000.0) == pytest.approx(540.0)
    with pytest.raises(OutOfRange, match=r"airflow on the falling part of the curve is 0\.4"):
        fan_pressure_pa(curve=made(), airflow_m3_s=0.4, speed_rpm=1000.0)
    with pytest.raises(OutOfRange, match=r"airflow on the falling part of the curve is 2\.5"):
        fan_pressure_pa(curve=made(), airflow_m3_s=2.5, speed_rpm=1000.0)
    with pytest.raises(OutOfRange, match="pressure on the falling part of the curve is 545"):
        fan_curve_airflow(curve=made(), pressure_pa=545.0, speed_rpm=1000.0)
    with pytest.raises(OutOfRange, match="pressure on the falling part of the curve is 50"):
        fan_curve_airflow(curve=made(), pressure_pa=50.0, speed_rpm=1000.0)


@given(x=st.floats(PEAK, LAST), n=st.floats(0.5, 1.5), g=st.floats(0.7, 1.2))
def test_the_laws_scale_airflow_with_speed_and_pressure_with_its_square_and_density(
    x: float, n: float, g: float
) -> None:
    """By hand: airflow x n, pressure f(x) g n2."""
    there = fan_pressure_pa(
        curve=made(), airflow_m3_s=min(x * n, LAST * n), speed_rpm=1000.0 * n, density_kg_m3=1.2 * g
    )
    assert there == pytest.approx(g * n**2 * float(PchipInterpolator(FLOWS, PRESSURES)(x)), rel=1e-9)


@given(x=st.floats(0.55, 2.35), first=st.floats(0.75, 1.2), second=st.floats(0.75, 1.2))
def test_scaling_twice_is_scaling_once(x: float, first: float, second: float) -> None:
    """A curve whose points were carried to another speed is scaled on to the same pressure."""
    halfway = fan_curve(
        airflows_m3_s=FLOWS * first, pressures_pa=PRESSURES * first**2, speed_rpm=1000.0 * first, density_kg_m3=1.2
    )
    speed, flow = 1000.0 * first * second, x * first * second
    once = fan_pressure_pa(curve=made(), airflow_m3_s=flow, speed_rpm=speed)
    assert fan_pressure_pa(curve=halfway, airflow_m3_s=flow, speed_rpm=speed) == pytest.approx(once, rel=1e-9)


@given(x=st.floats(0.55, 2.35), n=st.floats(0.6, 1.4))
def test_the_airflow_from_a_pressure_is_the_one_that_gives_it(x: float, n: float) -> None:
    pressure = float(fan_pressure_pa(curve=made(), airflow_m3_s=x * n, speed_rpm=1000.0 * n))
    found = fan_curve_airflow(curve=made(), pressure_pa=pressure, speed_rpm=1000.0 * n)
    by_library = brentq(lambda q: float(PchipInterpolator(FLOWS, PRESSURES)(q)) * n**2 - pressure, PEAK, LAST) * n
    assert found.airflow_m3_s == pytest.approx(x * n, rel=1e-6)
    assert found.airflow_m3_s == pytest.approx(by_library, rel=1e-6)
    assert found.remark == SYSTEM_EFFECT_NOTE


def test_the_airflow_is_the_same_in_inch_pounds_and_in_si() -> None:
    read = fan_curve_airflow(curve=made(), pressure_pa=float(to_si(1.5, "in_wc")), speed_rpm=1000.0)
    cfm, inches = np.round(from_si(FLOWS, "cfm"), 9), np.round(from_si(PRESSURES, "in_wc"), 12)
    again = fan_curve(airflows_m3_s=to_si(cfm, "cfm"), pressures_pa=to_si(inches, "in_wc"), speed_rpm=1000.0)
    other = fan_curve_airflow(curve=again, pressure_pa=float(to_si(1.5, "in_wc")), speed_rpm=1000.0)
    assert other.airflow_m3_s == pytest.approx(read.airflow_m3_s, rel=1e-9)


def test_the_uncertainty_is_made_of_the_curve_the_pressure_and_the_speed() -> None:
    """On a straight curve of -200 Pa per m3/s: 10 Pa are 0.05 m3/s; 20 rpm of 1000 move 0.02 q and 2 p 0.02 / 200,
    both the same way: at 1020 rpm the line is p = 500 n^2 - 200 n q, and q at 300 Pa goes from 1 to 1.0794."""
    straight = fan_curve(
        airflows_m3_s=np.array([0.0, 1.0, 2.0]), pressures_pa=np.array([500.0, 300.0, 100.0]), speed_rpm=1000.0
    )
    alone = fan_curve_airflow(curve=straight, pressure_pa=300.0, speed_rpm=1000.0)
    assert (alone.airflow_m3_s, alone.standard_uncertainty_m3_s) == pytest.approx((1.0, 0.05))
    all_three = fan_curve_airflow(
        curve=straight,
        pressure_pa=300.0,
        speed_rpm=1000.0,
        pressure_standard_uncertainty_pa=10.0,
        speed_standard_uncertainty_rpm=20.0,
    )
    by_hand = (0.05**2 + 0.05**2 + (0.02 + 2.0 * 300.0 * 0.02 / 200.0) ** 2) ** 0.5
    assert all_three.standard_uncertainty_m3_s == pytest.approx(by_hand, rel=1e-6)
    faster = fan_curve_airflow(curve=straight, pressure_pa=300.0, speed_rpm=1001.0)
    assert faster.airflow_m3_s - 1.0 == pytest.approx((0.02 + 0.06) / 20.0, rel=0.01)


def test_where_the_curve_is_flat_the_relative_uncertainty_is_large() -> None:
    flat, steep = (
        fan_curve_airflow(curve=made(), pressure_pa=pressure, speed_rpm=1000.0, pressure_standard_uncertainty_pa=8.0)
        for pressure in (535.0, 240.0)
    )
    relative = [one.standard_uncertainty_m3_s / one.airflow_m3_s for one in (flat, steep)]
    assert relative[0] > 2.0 * relative[1]


@pytest.mark.parametrize(
    ("flows", "pressures", "words"),
    [
        ([0.0, 1.0], [2.0, 1.0], "three or more points"),
        ([0.0, 1.0, 1.0], [3.0, 2.0, 1.0], "rising airflow"),
        ([0.0, 1.0, 2.0], [1.0, 2.0, 3.0], "in the right columns"),
    ],
)
def test_points_that_are_no_fan_are_refused(flows: list[float], pressures: list[float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        fan_curve(airflows_m3_s=np.array(flows), pressures_pa=np.array(pressures), speed_rpm=1000.0)


def test_far_speeds_are_refused() -> None:
    with pytest.raises(OutOfRange, match="speed is 1510 rpm"):
        scale(made(), 1510.0, 1.2)


def test_a_root_needs_a_change_of_sign() -> None:
    with pytest.raises(ValueError, match="no root between 0 and 1"):
        root_between(lambda x: 2.0 - x, 0.0, 1.0)
