"""Reset lines and what a sensor's error does to them: published rows, worked numbers, scipy, and a space in time."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, optimize

from commissioning.engineering.co2_control import (
    ResetLine,
    airflow_error_m3_s,
    largest_co2,
    proportional_output,
    reset_airflow_m3_s,
    reset_co2,
    sensor_error_effect,
    settled,
    ventilation_reset_line,
)
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.units import from_si, to_si
from commissioning.engineering.ventilation import breathing_zone_airflow_m3_s, zone_outdoor_airflow_m3_s
from tests.engineering.reference_rows import Row, hold, parameters

PPM = 1e-6
WORKED = ResetLine(low_co2=800e-6, high_co2=1000e-6, airflow_at_low_m3_s=0.1, airflow_at_high_m3_s=0.3)
FALLING = ResetLine(low_co2=800e-6, high_co2=1000e-6, airflow_at_low_m3_s=0.3, airflow_at_high_m3_s=0.1)


def area_floor_cfm() -> float:
    cfm, ft2 = float(to_si(1.0, "cfm")), float(to_si(1.0, "ft2"))
    zone = breathing_zone_airflow_m3_s(
        people=0.0, area_m2=5000.0 * ft2, rate_per_person_m3_s=5.0 * cfm, rate_per_area_m3_s_m2=0.06 * cfm / ft2
    )
    floor = float(zone_outdoor_airflow_m3_s(breathing_zone_airflow_m3_s=zone, distribution_effectiveness=1.0))
    line = ventilation_reset_line(set_point_co2=1000 * PPM, area_airflow_m3_s=floor, design_airflow_m3_s=2.0 * floor)
    return float(from_si(reset_airflow_m3_s(line=line, co2=400 * PPM), "cfm"))


CHECKS: dict[str, Callable[[], Any]] = {
    "T9.19": lambda: 100.0 * np.asarray(proportional_output(co2=900 * PPM, set_point_co2=1000 * PPM)),
    "T9.20": area_floor_cfm,
    "T9.21": lambda: 1e6 * np.asarray(largest_co2()),
}
ELSEWHERE = [f"T9.{number:02}" for number in range(1, 19)]


@pytest.mark.parametrize(("row", "check"), parameters("ventilation", CHECKS, elsewhere=ELSEWHERE))
def test_published(row: Row, check: Callable[[], Any]) -> None:
    hold(row, check())


def test_floor_slope_and_ceiling() -> None:
    readings = np.array([400.0, 800.0, 850.0, 1000.0, 2000.0]) * PPM
    assert reset_airflow_m3_s(line=WORKED, co2=readings) == pytest.approx(np.array([0.1, 0.1, 0.15, 0.3, 0.3]))
    assert reset_airflow_m3_s(line=FALLING, co2=readings) == pytest.approx(np.array([0.3, 0.3, 0.25, 0.1, 0.1]))
    assert WORKED.slope == pytest.approx(1000.0)  # 0.2 m3/s over 200 ppm
    assert FALLING.slope == pytest.approx(-1000.0)


@given(st.floats(5e-4, 1e-3), st.floats(1e-5, 1e-3), st.floats(0.0, 1.0), st.floats(0.01, 2.0), st.floats(0.01, 0.99))
def test_the_inverse_leads_back(low: float, width: float, least: float, more: float, share: float) -> None:
    for ends in ((least, least + more), (least + more, least)):
        line = ResetLine(low, low + width, *ends)
        flow = ends[0] + share * (ends[1] - ends[0])
        reading = float(reset_co2(line=line, airflow_m3_s=flow))
        assert low <= reading <= low + width
        assert reset_airflow_m3_s(line=line, co2=reading) == pytest.approx(flow, rel=1e-9)


def test_the_ventilation_line_is_the_proportional_loop() -> None:
    line = ventilation_reset_line(set_point_co2=1100 * PPM, area_airflow_m3_s=0.12, design_airflow_m3_s=0.4)
    readings = np.linspace(700.0, 1300.0, 25) * PPM
    output = np.asarray(proportional_output(co2=readings, set_point_co2=1100 * PPM))
    assert reset_airflow_m3_s(line=line, co2=readings) == pytest.approx(0.12 + output * 0.28)
    assert output[0] == 0.0
    assert output[-1] == 1.0


def test_settled_as_worked_by_hand() -> None:
    """G = 1e-4 m3/s, outdoors 400 ppm. On the slope k = 1000: at 900 ppm q = 0.2, and 1e-4 / 0.2 = 500 ppm above.

    Sensor 50 ppm high: A = 0.1 + 1000 (400 + 50 - 800) 1e-6 = -0.25; x = (0.25 + sqrt(0.0625 + 0.4)) / 2000
    = (0.25 + 0.680074) / 2000 = 465.037 ppm, q = 1e-4 / 465.037e-6 = 0.215037: 7.5 % more air, where the line alone
    would ask for 25 % more. 50 ppm low: A = -0.35, x = (0.35 + sqrt(0.1225 + 0.4)) / 2000 = 536.420 ppm,
    q = 0.186421.
    """
    true = settled(line=WORKED, generation_m3_s=1e-4, outdoor_co2=400 * PPM)
    assert (true.co2, true.airflow_m3_s) == pytest.approx((900 * PPM, 0.2))
    high = settled(line=WORKED, generation_m3_s=1e-4, outdoor_co2=400 * PPM, sensor_error=50 * PPM)
    assert (high.co2, high.reading_co2) == pytest.approx((865.037 * PPM, 915.037 * PPM), rel=1e-6)
    assert high.airflow_m3_s == pytest.approx(0.215037, rel=1e-5)
    low = settled(line=WORKED, generation_m3_s=1e-4, outdoor_co2=400 * PPM, sensor_error=-50 * PPM)
    assert (low.co2, low.airflow_m3_s) == pytest.approx((936.420 * PPM, 0.186421), rel=1e-5)
    assert airflow_error_m3_s(line=WORKED, co2=900 * PPM, sensor_error=50 * PPM) == pytest.approx(0.05)
    effect = sensor_error_effect(line=WORKED, generation_m3_s=1e-4, outdoor_co2=400 * PPM, sensor_error=-50 * PPM)
    assert effect.airflow_change_m3_s == pytest.approx(-0.013579, abs=1e-6)
    assert effect.relative_airflow_change == pytest.approx(-0.067895, abs=1e-5)
    assert effect.co2_change == pytest.approx(36.42 * PPM, abs=0.01 * PPM)


@pytest.mark.parametrize(
    ("generation", "error", "held_by", "airflow"),
    [
        (2e-5, 0.0, "floor", 0.1),
        (1e-4, 0.0, "slope", 0.2),
        (3e-4, 0.0, "ceiling", 0.3),
        (1e-4, 500 * PPM, "ceiling", 0.3),
        (4.2e-5, -50 * PPM, "floor", 0.1),  # 820 ppm at the floor, shown as 770
        (4.2e-5, -15 * PPM, "slope", 4.2e-5 / 415.969e-6),  # A = -0.315; x = (0.315 + sqrt(0.267225)) / 2000
    ],
)
def test_what_holds_the_airflow(generation: float, error: float, held_by: str, airflow: float) -> None:
    loop = settled(line=WORKED, generation_m3_s=generation, outdoor_co2=400 * PPM, sensor_error=error)
    assert loop.held_by == held_by
    assert loop.airflow_m3_s == pytest.approx(airflow)
    assert loop.co2 == pytest.approx(400 * PPM + generation / airflow)


def test_an_error_at_floor_or_ceiling_changes_nothing() -> None:
    effect = sensor_error_effect(line=WORKED, generation_m3_s=2e-5, outdoor_co2=400 * PPM, sensor_error=75 * PPM)
    assert (effect.airflow_change_m3_s, effect.co2_change) == (0.0, 0.0)


lines = st.builds(
    lambda low, width, least, more: ResetLine(low, low + width, least, least + more),
    st.floats(6e-4, 1e-3),
    st.floats(2e-5, 8e-4),
    st.floats(0.0, 0.5),
    st.floats(0.01, 2.0),
)


@given(lines, st.floats(1e-5, 1e-3), st.floats(350e-6, 500e-6), st.floats(-2e-4, 2e-4))
def test_settled_against_scipy(line: ResetLine, generation: float, outdoor: float, error: float) -> None:
    def imbalance(co2: float) -> float:
        reading = np.clip(co2 + error, 0.0, 0.02)
        return float(reset_airflow_m3_s(line=line, co2=reading)) * (co2 - outdoor) - generation

    most = max(line.high_co2 - error, outdoor + generation / line.airflow_at_high_m3_s) + 1e-9
    if most + error > 0.02:
        return
    expected = optimize.brentq(imbalance, outdoor, most, xtol=1e-13)
    found = settled(line=line, generation_m3_s=generation, outdoor_co2=outdoor, sensor_error=error)
    assert found.co2 == pytest.approx(expected, abs=1e-10)
    assert found.airflow_m3_s * (found.co2 - outdoor) == pytest.approx(generation, rel=1e-6)


@given(lines, st.floats(1e-5, 1e-3), st.floats(-2e-4, 2e-4))
def test_the_loop_leaves_less_of_an_error_than_the_line_alone(line: ResetLine, generation: float, error: float) -> None:
    effect = sensor_error_effect(line=line, generation_m3_s=generation, outdoor_co2=420e-6, sensor_error=error)
    alone = np.clip(effect.true_sensor.co2 + error, 0.0, 0.02) if effect.true_sensor.co2 < 0.018 else None
    if alone is None:
        return
    open_loop = float(airflow_error_m3_s(line=line, co2=effect.true_sensor.co2, sensor_error=error))
    assert abs(effect.airflow_change_m3_s) <= abs(open_loop) + 1e-9
    assert effect.airflow_change_m3_s * error >= -1e-15
    assert effect.co2_change * error <= 1e-15


def test_a_space_in_time_comes_to_where_the_loop_settles() -> None:
    """V dC/dt = G - q(C + e) (C - C_o), stepped by scipy from outdoor air for two hours."""
    for error in (-75e-6, 0.0, 75e-6):

        def slope(_: float, co2: Any, off: float = error) -> Any:
            flow = float(reset_airflow_m3_s(line=WORKED, co2=float(co2[0]) + off))
            return [(1e-4 - flow * (co2[0] - 400e-6)) / 150.0]

        end = integrate.solve_ivp(slope, (0.0, 7200.0), [400e-6], rtol=1e-8, atol=1e-12).y[0, -1]
        found = settled(line=WORKED, generation_m3_s=1e-4, outdoor_co2=400e-6, sensor_error=error)
        assert found.co2 == pytest.approx(end, rel=2e-3)


@given(st.floats(50.0, 900.0), st.floats(10.0, 500.0), st.floats(-100.0, 100.0))
def test_the_same_in_both_unit_systems(floor_cfm: float, more_cfm: float, error_ppm: float) -> None:
    """Worked in cfm and ppm here, by arithmetic alone; in SI there. One cfm of CO2 is 1e6 ppm cfm."""
    generation_cfm = 1e-3 * (floor_cfm + 0.5 * more_cfm)
    slope = more_cfm / 200.0
    at_floor, at_ceiling = (400.0 + 1e6 * generation_cfm / flow for flow in (floor_cfm, floor_cfm + more_cfm))
    if at_ceiling + error_ppm >= 1400.0:
        expected = floor_cfm + more_cfm
    elif at_floor + error_ppm <= 1200.0:
        expected = floor_cfm
    else:
        a = floor_cfm + slope * (400.0 + error_ppm - 1200.0)
        expected = 1e6 * generation_cfm / ((math.sqrt(a * a + 4.0 * slope * 1e6 * generation_cfm) - a) / (2.0 * slope))
    line = ResetLine(
        float(to_si(1200.0, "ppm")),
        float(to_si(1400.0, "ppm")),
        float(to_si(floor_cfm, "cfm")),
        float(to_si(floor_cfm + more_cfm, "cfm")),
    )
    loop = settled(
        line=line,
        generation_m3_s=float(to_si(generation_cfm, "cfm")),
        outdoor_co2=float(to_si(400.0, "ppm")),
        sensor_error=float(to_si(error_ppm, "ppm")),
    )
    assert from_si(loop.airflow_m3_s, "cfm") == pytest.approx(expected, rel=1e-9)


def test_refuses() -> None:
    with pytest.raises(OutOfRange, match=r"upper CO2 is 0\.0008 mol/mol"):
        ResetLine(800 * PPM, 800 * PPM, 0.1, 0.3)
    with pytest.raises(OutOfRange, match="read CO2 is 900 mol/mol"):
        reset_airflow_m3_s(line=WORKED, co2=900.0)
    with pytest.raises(OutOfRange, match="airflow is 0.4 m3/s; it must lie in 0.1 to 0.3".replace(".", r"\.")):
        reset_co2(line=FALLING, airflow_m3_s=0.4)
    with pytest.raises(ValueError, match="level reset line"):
        reset_co2(line=ResetLine(8e-4, 1e-3, 0.2, 0.2), airflow_m3_s=0.2)
    with pytest.raises(ValueError, match="rises and gives some air"):
        settled(line=FALLING, generation_m3_s=1e-4, outdoor_co2=4e-4)
    with pytest.raises(OutOfRange, match="area airflow is 2 m3/s"):
        ventilation_reset_line(set_point_co2=1e-3, area_airflow_m3_s=2.0, design_airflow_m3_s=1.0)
    with pytest.raises(OutOfRange, match="design airflow is 2001 m3/s"):  # by its own name, not that of the line's end
        ventilation_reset_line(set_point_co2=1e-3, area_airflow_m3_s=2.0, design_airflow_m3_s=2001.0)
    with pytest.raises(OutOfRange, match="error of the CO2 sensor is 75"):
        airflow_error_m3_s(line=WORKED, co2=9e-4, sensor_error=75.0)
