"""Systems through their points, where fans meet them, and the next speed; the answers by scipy or by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq, curve_fit

from commissioning.engineering.fan_curve import fan_curve, fan_pressure_pa
from commissioning.engineering.fan_system import (
    CurvesDoNotCross,
    SystemCurve,
    next_setting,
    operating_point,
    speed_on_curve_rpm,
    system_airflow_m3_s,
    system_curve,
    system_pressure_pa,
)
from commissioning.engineering.fans import FanPoint, fan_at_speed
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.units import from_si, to_si

FLOWS = np.array([0.0, 0.5, 1.0, 1.5, 2.0, 2.4])
PRESSURES = np.array([520.0, 540.0, 500.0, 410.0, 240.0, 60.0])
FAN = fan_curve(airflows_m3_s=FLOWS, pressures_pa=PRESSURES, speed_rpm=1000.0)
READ_Q, READ_P = np.array([0.8, 1.0, 1.3, 1.45]), np.array([171.0, 248.0, 414.0, 529.0])


@pytest.mark.parametrize("exponent", [1.0, 1.6, 2.0])
@pytest.mark.parametrize("static", [0.0, 60.0, None])
def test_the_fit_is_that_of_an_open_library(static: float | None, exponent: float) -> None:
    """scipy.optimize.curve_fit on the same law."""
    found = system_curve(airflows_m3_s=READ_Q, pressures_pa=READ_P + 90.0, static_pa=static, exponent=exponent)
    if static is None:
        (p0, k), _ = curve_fit(lambda q, p0, k: p0 + k * q**exponent, READ_Q, READ_P + 90.0, p0=(10.0, 200.0))
        p0, k = (
            (p0, k) if p0 >= 0.0 else (0.0, np.dot(READ_Q**exponent, READ_P + 90.0) / np.sum(READ_Q ** (2 * exponent)))
        )
    else:
        (k,), _ = curve_fit(lambda q, k: static + k * q**exponent, READ_Q, READ_P + 90.0, p0=(200.0,))
        p0 = static
    assert (found.static_pa, found.coefficient) == pytest.approx((p0, k), rel=1e-5)
    error = np.sqrt(np.mean((READ_P + 90.0 - p0 - k * READ_Q**exponent) ** 2))
    assert found.fit_error_pa == pytest.approx(error, rel=1e-5)
    assert (found.least_airflow_m3_s, found.most_airflow_m3_s, found.points) == (0.8, 1.45, 4)


def test_what_leaves_nothing_over_claims_no_error() -> None:
    assert system_curve(airflows_m3_s=1.0, pressures_pa=250.0).fit_error_pa is None
    two = system_curve(airflows_m3_s=np.array([1.0, 2.0]), pressures_pa=np.array([150.0, 300.0]), static_pa=None)
    assert (two.static_pa, two.coefficient) == pytest.approx((100.0, 50.0))
    assert two.fit_error_pa is None


def test_the_static_part_is_not_below_zero() -> None:
    """1 and 2 m3/s at 50 and 290 Pa: the straight line over q2 meets p = -30 Pa; through the origin k = 1210 / 17."""
    found = system_curve(airflows_m3_s=np.array([1.0, 2.0]), pressures_pa=np.array([50.0, 290.0]), static_pa=None)
    assert (found.static_pa, found.coefficient) == pytest.approx((0.0, 1210.0 / 17.0))
    assert found.fit_error_pa is not None


@given(k=st.floats(1.0, 5000.0), p0=st.floats(0.0, 500.0), n=st.floats(1.0, 2.0), q=st.floats(0.01, 1.5))
def test_a_system_takes_more_with_more_air_and_its_inverse_goes_back(k: float, p0: float, n: float, q: float) -> None:
    curve = SystemCurve(p0, k, n, None, 0.1, 1.0, 2)
    there, more = (float(system_pressure_pa(curve=curve, airflow_m3_s=one)) for one in (q, 1.05 * q))
    assert more > there
    assert system_airflow_m3_s(curve=curve, pressure_pa=there) == pytest.approx(q, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize(
    ("flows", "pressures", "static", "words"),
    [
        ([1.0], [200.0], None, "two or more points of different airflow"),
        ([1.0, 1.0], [200.0, 210.0], None, "two or more points of different airflow"),
        ([1.0, 2.0], [300.0, 200.0], None, "not of one unchanged system"),
        ([1.0], [200.0], 200.0, "not of one unchanged system"),
        ([1.0, 2.0], [200.0], 0.0, "each airflow needs its pressure"),
    ],
)
def test_points_that_are_no_system_are_refused(
    flows: list[float], pressures: list[float], static: float | None, words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        system_curve(airflows_m3_s=np.array(flows), pressures_pa=np.array(pressures), static_pa=static)


@given(k=st.floats(20.0, 2000.0), p0=st.floats(0.0, 200.0), n=st.floats(0.6, 1.4), g=st.floats(0.8, 1.1))
def test_the_operating_point_lies_on_both_curves(k: float, p0: float, n: float, g: float) -> None:
    system = SystemCurve(p0, k, 2.0, None, 0.1, 1.0, 2)
    given_ = PchipInterpolator(FLOWS, PRESSURES)
    try:
        there = operating_point(fan=FAN, system=system, speed_rpm=1000.0 * n, density_kg_m3=1.2 * g)
    except CurvesDoNotCross:
        low, high = 0.5 * n, 2.4 * n
        assert k * low**2 + p0 > g * n**2 * 540.0 - 1e-6 or k * high**2 + p0 < g * n**2 * 60.0 + 1e-6
        return
    assert there.pressure_pa == pytest.approx(k * there.airflow_m3_s**2 + p0, rel=1e-9)
    assert there.pressure_pa == pytest.approx(g * n**2 * float(given_(there.airflow_m3_s / n)), rel=1e-6)
    by_library = brentq(lambda q: g * n**2 * float(given_(q / n)) - k * q**2 - p0, 0.5 * n, 2.4 * n)
    assert there.airflow_m3_s == pytest.approx(by_library, rel=1e-6)


@given(k=st.floats(40.0, 1500.0), n=st.floats(0.81, 1.19))
def test_without_a_static_part_the_meeting_point_moves_by_the_fan_laws(k: float, n: float) -> None:
    system = SystemCurve(0.0, k, 2.0, None, 0.1, 1.0, 1)
    here = operating_point(fan=FAN, system=system, speed_rpm=1000.0)
    there = operating_point(fan=FAN, system=system, speed_rpm=1000.0 * n)
    law = fan_at_speed(
        point=FanPoint(1000.0, airflow_m3_s=here.airflow_m3_s, pressure_pa=here.pressure_pa), speed_rpm=1000.0 * n
    )
    assert there.airflow_m3_s == pytest.approx(law.airflow_m3_s, rel=1e-6)
    assert there.pressure_pa == pytest.approx(law.pressure_pa, rel=1e-6)


@given(k=st.floats(40.0, 1000.0), more=st.floats(1.05, 2.0))
def test_more_resistance_means_less_air_and_more_pressure(k: float, more: float) -> None:
    easy, hard = (
        operating_point(fan=FAN, system=SystemCurve(0.0, c, 2.0, None, 0.1, 1.0, 1), speed_rpm=1000.0)
        for c in (k, k * more)
    )
    assert hard.airflow_m3_s < easy.airflow_m3_s
    assert hard.pressure_pa > easy.pressure_pa


def test_curves_that_do_not_cross_say_on_which_side() -> None:
    with pytest.raises(CurvesDoNotCross, match="in stall"):
        operating_point(fan=FAN, system=system_curve(airflows_m3_s=0.4, pressures_pa=500.0), speed_rpm=1000.0)
    with pytest.raises(CurvesDoNotCross, match="beyond the last point"):
        operating_point(fan=FAN, system=system_curve(airflows_m3_s=2.4, pressures_pa=30.0), speed_rpm=1000.0)
    # Half a pascal above the peak (540 Pa at 0.5 m3/s), or below the last point (60 Pa at 2.4), is enough.
    with pytest.raises(CurvesDoNotCross, match="in stall"):
        operating_point(fan=FAN, system=system_curve(airflows_m3_s=0.5, pressures_pa=540.5), speed_rpm=1000.0)
    with pytest.raises(CurvesDoNotCross, match="beyond the last point"):
        operating_point(fan=FAN, system=system_curve(airflows_m3_s=2.4, pressures_pa=59.5), speed_rpm=1000.0)


@given(k=st.floats(40.0, 1000.0), p0=st.floats(0.0, 150.0), more=st.floats(0.9, 1.15))
def test_the_speed_for_an_airflow_meets_the_system_there(k: float, p0: float, more: float) -> None:
    system = SystemCurve(p0, k, 2.0, None, 0.1, 1.0, 2)
    wanted = operating_point(fan=FAN, system=system, speed_rpm=1000.0).airflow_m3_s * more
    try:
        speed = speed_on_curve_rpm(fan=FAN, system=system, required_airflow_m3_s=wanted)
    except CurvesDoNotCross:
        assume(False)
    assert operating_point(fan=FAN, system=system, speed_rpm=speed).airflow_m3_s == pytest.approx(wanted, rel=1e-6)


def test_a_static_part_makes_less_speed_do_more() -> None:
    """With p0 the airflow moves more than the speed: the fan law alone would ask for too much."""
    system = SystemCurve(150.0, 100.0, 2.0, None, 0.1, 2.0, 2)
    here = operating_point(fan=FAN, system=system, speed_rpm=1000.0)
    speed = speed_on_curve_rpm(fan=FAN, system=system, required_airflow_m3_s=1.1 * here.airflow_m3_s)
    assert 1000.0 < speed < 1100.0


def test_what_no_speed_can_do_is_refused() -> None:
    with pytest.raises(CurvesDoNotCross, match="no speed of this fan"):
        speed_on_curve_rpm(
            fan=FAN, system=system_curve(airflows_m3_s=0.4, pressures_pa=500.0), required_airflow_m3_s=1.0
        )


def test_the_same_point_in_inch_pounds_and_in_si() -> None:
    system = system_curve(airflows_m3_s=READ_Q, pressures_pa=READ_P)
    cfm, inches = from_si(READ_Q, "cfm"), from_si(READ_P, "in_wc")
    again = system_curve(airflows_m3_s=to_si(cfm, "cfm"), pressures_pa=to_si(inches, "in_wc"))
    points = [operating_point(fan=FAN, system=one, speed_rpm=1000.0) for one in (system, again)]
    assert points[1].airflow_m3_s == pytest.approx(points[0].airflow_m3_s, rel=1e-9)


@given(speed=st.floats(600.0, 1500.0), ratio=st.floats(0.85, 1.15))
def test_with_one_point_the_next_setting_is_the_fan_law(speed: float, ratio: float) -> None:
    found = next_setting(points=[FanPoint(speed, airflow_m3_s=1.0, pressure_pa=200.0)], required_airflow_m3_s=ratio)
    assert found.speed_rpm == pytest.approx(speed * ratio)
    assert found.pressure_pa == pytest.approx(200.0 * ratio**2)
    assert (found.exponent, found.points) == (1.0, 1)


def test_each_point_brings_the_setting_nearer() -> None:
    """A fan on a system that holds 150 Pa, unknown to the rule: each new reading leaves less to do."""
    system = SystemCurve(150.0, 100.0, 2.0, None, 0.1, 2.0, 2)
    points: list[FanPoint] = []
    speed, missed, required = 850.0, [], 1.45
    for _ in range(4):
        there = operating_point(fan=FAN, system=system, speed_rpm=speed)
        points.append(FanPoint(speed, airflow_m3_s=there.airflow_m3_s, pressure_pa=there.pressure_pa))
        missed.append(abs(there.airflow_m3_s / required - 1.0))
        speed = next_setting(
            points=points, required_airflow_m3_s=required, relative_uncertainty=0.01, largest_change=0.5
        ).speed_rpm
    assert missed[1] < 0.5 * missed[0]
    assert missed[2] < 0.5 * missed[1]
    assert missed[3] < 0.002
    found = next_setting(points=points, required_airflow_m3_s=required, relative_uncertainty=0.01)
    assert found.pressure_pa == pytest.approx(150.0 + 100.0 * required**2, rel=1e-3)


def test_points_unsure_by_more_than_they_moved_leave_the_law_as_it_is() -> None:
    """Two points 1 % apart, each unsure by 5 %: b = (2 (0.05/0.25)2 + xy) / (... + x2) stays within 2 % of 1."""
    points = [FanPoint(1000.0, airflow_m3_s=1.0), FanPoint(1050.0, airflow_m3_s=1.01)]
    found = next_setting(points=points, required_airflow_m3_s=1.05, relative_uncertainty=0.05)
    assert found.exponent == pytest.approx(1.0, abs=0.02)


def test_far_settings_and_empty_points_are_refused() -> None:
    with pytest.raises(OutOfRange, match=r"ratio of speeds is 1\.3"):
        next_setting(points=[FanPoint(1000.0, airflow_m3_s=1.0)], required_airflow_m3_s=1.3)
    with pytest.raises(ValueError, match="its speed and its airflow"):
        next_setting(points=[FanPoint(1000.0)], required_airflow_m3_s=1.0)
    with pytest.raises(ValueError, match="its speed and its airflow"):
        next_setting(points=[], required_airflow_m3_s=1.0)


def test_pressures_of_a_system_that_was_touched_promise_none() -> None:
    points = [
        FanPoint(1000.0, airflow_m3_s=1.0, pressure_pa=300.0),
        FanPoint(1050.0, airflow_m3_s=1.04, pressure_pa=200.0),
    ]
    assert next_setting(points=points, required_airflow_m3_s=1.05).pressure_pa is None


def test_a_fan_at_another_density_gives_pressure_in_proportion() -> None:
    dense, thin = (
        fan_pressure_pa(curve=FAN, airflow_m3_s=1.2, speed_rpm=1000.0, density_kg_m3=rho) for rho in (1.2, 0.9)
    )
    assert thin == pytest.approx(0.75 * float(dense))


def test_the_exponent_weighs_the_readings_against_the_law() -> None:
    """By hand: x = ln(0.80/0.85) = -0.060625, y = ln(1000/1100) = -0.095310, s = 2 (0.03/0.25)2 = 0.0288."""
    points = [FanPoint(1000.0, airflow_m3_s=0.80), FanPoint(1100.0, airflow_m3_s=0.85)]
    found = next_setting(points=points, required_airflow_m3_s=0.88, relative_uncertainty=0.03)
    assert found.exponent == pytest.approx((0.0288 + 0.060625 * 0.095310) / (0.0288 + 0.060625**2), rel=1e-4)
