"""Fans, motors and the power limit against the published rows, and the laws against one another."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissioning.engineering.conformity import relative_deviation
from commissioning.engineering.fan_power_limit import (
    FanSystem,
    fan_power_limit_w,
    pressure_credit_w,
    wheel_credit_pressure_pa,
)
from commissioning.engineering.fans import (
    FanPoint,
    air_power_w,
    fan_at_speed,
    fan_efficiency,
    fan_temperature_rise_k,
    is_load_estimate_credible,
    motor_load_fraction,
    predicted_current_a,
    service_factor_load,
    shaft_power_w,
    single_phase_power_w,
    slip_load_fraction,
    specific_fan_power_class,
    specific_fan_power_w_m3_s,
    speed_for_airflow_rpm,
    speed_for_pressure_rpm,
    three_phase_power_w,
    unbalance,
    unbalance_derating,
    winding_temperature_rise_fraction,
)
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.units import INCH_OF_WATER_20C_PA, from_si, to_si
from tests.engineering.reference_rows import Row, hold, parameters


def point(speed: float, **readings: tuple[float, str]) -> FanPoint:
    names = {"q": "airflow_m3_s", "p": "pressure_pa", "w": "power_w", "rho": "density_kg_m3"}
    return FanPoint(speed, **{names[key]: to_si(*reading) for key, reading in readings.items()})


def scaled(start: FanPoint, speed: float, density: float | None = None) -> FanPoint:
    return fan_at_speed(point=start, speed_rpm=speed, density_kg_m3=density)


def given_(value: Any) -> Any:
    assert value is not None
    return value


def wheel_credit() -> float:
    pressure = wheel_credit_pressure_pa(effectiveness=0.60)
    return float(pressure_credit_w(pressure_pa=pressure, airflow_m3_s=to_si(2000.0, "cfm")))


def handbook_air_power() -> float:
    """Air power with the inch of water behind the handbook's 6356, that of water at 20 degC (6355.2)."""
    return float(
        air_power_w(
            airflow_m3_s=to_si(10_000.0, "cfm"),
            pressure_pa=to_si(3.0, "in_wc", inch_of_water_pa=INCH_OF_WATER_20C_PA),
        )
    )


CHECKS: dict[str, Callable[[], Any]] = {
    "T8.01": lambda: from_si(given_(scaled(point(800.0, q=(10_000.0, "cfm")), 900.0).airflow_m3_s), "cfm"),
    "T8.02": lambda: from_si(given_(scaled(point(800.0, p=(2.0, "in_wc")), 900.0).pressure_pa), "in_wc"),
    "T8.03": lambda: from_si(given_(scaled(point(800.0, w=(5.0, "hp")), 900.0).power_w), "hp"),
    "T8.04": lambda: from_si(given_(scaled(point(1180.0, q=(14_410.0, "cfm")), 1187.0).airflow_m3_s), "cfm"),
    "T8.05": lambda: from_si(
        given_(
            scaled(
                point(1180.0, w=(154.0, "hp"), rho=(0.0308, "lb/ft3")), 1187.0, float(to_si(0.0332, "lb/ft3"))
            ).power_w
        ),
        "hp",
    ),
    "T8.06": lambda: from_si(
        given_(
            scaled(
                point(1000.0, p=(2.5, "in_wc"), rho=(0.075, "lb/ft3")), 1000.0, float(to_si(0.0623, "lb/ft3"))
            ).pressure_pa
        ),
        "in_wc",
    ),
    "T8.07": lambda: from_si(handbook_air_power(), "hp"),
    "T8.08": lambda: from_si(air_power_w(airflow_m3_s=4.719, pressure_pa=747.0), "kW"),
    "T8.09": lambda: from_si(handbook_air_power() / 0.65, "hp"),
    "T8.10": lambda: from_si(wheel_credit(), "hp"),
    "T8.12": lambda: specific_fan_power_w_m3_s(electrical_power_w=3200.0 + 2400.0, airflow_m3_s=2.5),
    "T8.13": lambda: to_si(1.0, "W/cfm"),
    "T8.14": lambda: 100.0 * unbalance(legs=np.array([462.0, 463.0, 455.0])),
    "T8.15": lambda: 100.0 * unbalance(legs=np.array([460.0, 467.0, 450.0])),
    "T8.16": lambda: 100.0 * unbalance(legs=np.array([208.0, 206.0, 199.0])),
    "T8.17": lambda: 100.0 * winding_temperature_rise_fraction(voltage_unbalance=0.03),
    "T8.18": lambda: from_si(
        three_phase_power_w(
            voltage_v=np.array([467.0, 473.0, 469.0]),
            current_a=np.array([36.0, 38.0, 37.0]),
            power_factor=np.array([0.75, 0.78, 0.76]),
        ),
        "kW",
    ),
    "T8.19": lambda: from_si(shaft_power_w(electrical_power_w=22_980.0, efficiency=0.93), "hp"),
    "T8.20": lambda: 25.0 * slip_load_fraction(speed_rpm=1770.0, synchronous_speed_rpm=1800.0, rated_speed_rpm=1750.0),
    "T8.21": lambda: motor_load_fraction(
        current_a=22.4, full_load_current_a=28.0, voltage_v=468.0, rated_voltage_v=460.0
    ),
    "T8.22": lambda: service_factor_load(
        shaft_power_w=to_si(22.1, "hp"), rated_power_w=to_si(20.0, "hp"), service_factor=1.15
    ),
    "T8.23": lambda: 100.0 * unbalance(legs=np.array([22.4, 21.1, 23.6])),
    "T8.24": lambda: 100.0 * relative_deviation(measured=418.0, required=460.0),
}


@pytest.mark.parametrize(("row", "check"), parameters("fans_and_motors", CHECKS, elsewhere=["T8.11"]))
def test_published(row: Row, check: Callable[[], Any]) -> None:
    hold(row, check())


def test_power_limit_with_both_streams_credited() -> None:
    """T8.11: 0.00094 x 12 000 cfm and two credits of 0.397 bhp; the printed 12.074 bhp."""
    limit = fan_power_limit_w(
        airflow_m3_s=to_si(12_000.0, "cfm"), system=FanSystem.CONSTANT_VOLUME, credits_w=2.0 * wheel_credit()
    )
    assert from_si(limit, "hp") == pytest.approx(12.074, abs=0.005)
    variable = fan_power_limit_w(airflow_m3_s=to_si(12_000.0, "cfm"), system=FanSystem.VARIABLE_VOLUME)
    assert from_si(variable, "hp") == pytest.approx(15.6)


speeds = st.floats(300.0, 3000.0)
ratios = st.floats(0.81, 1.19)


@given(speed=speeds, ratio=ratios)
def test_laws_keep_air_power_and_shaft_power_in_step(speed: float, ratio: float) -> None:
    start = FanPoint(speed, airflow_m3_s=2.0, pressure_pa=500.0, power_w=1600.0, density_kg_m3=1.2)
    there = fan_at_speed(point=start, speed_rpm=speed * ratio, density_kg_m3=1.1)
    before = fan_efficiency(airflow_m3_s=2.0, pressure_pa=500.0, power_w=1600.0)
    after = fan_efficiency(
        airflow_m3_s=given_(there.airflow_m3_s), pressure_pa=given_(there.pressure_pa), power_w=given_(there.power_w)
    )
    assert after == pytest.approx(before)
    back = fan_at_speed(point=there, speed_rpm=speed, density_kg_m3=1.2, largest_change=0.3)
    assert back.airflow_m3_s == pytest.approx(2.0)
    assert back.pressure_pa == pytest.approx(500.0)
    assert back.power_w == pytest.approx(1600.0)


def test_each_law_has_its_own_exponents() -> None:
    start = FanPoint(1000.0, airflow_m3_s=1.0, pressure_pa=100.0, power_w=100.0, density_kg_m3=1.2)
    there = fan_at_speed(point=start, speed_rpm=1100.0, density_kg_m3=1.08, diameter_ratio=1.2)
    assert there.airflow_m3_s == pytest.approx(1.1 * 1.2**3)
    assert there.pressure_pa == pytest.approx(100.0 * 0.9 * 1.1**2 * 1.2**2)
    assert there.power_w == pytest.approx(100.0 * 0.9 * 1.1**3 * 1.2**5)
    assert there.density_kg_m3 == 1.08


def test_what_was_not_measured_is_not_predicted() -> None:
    there = fan_at_speed(point=FanPoint(1000.0, airflow_m3_s=1.0), speed_rpm=1100.0)
    assert (there.pressure_pa, there.power_w, there.density_kg_m3) == (None, None, None)


@given(speed=speeds, ratio=ratios)
def test_speed_for_an_airflow_gives_that_airflow(speed: float, ratio: float) -> None:
    wanted = speed_for_airflow_rpm(speed_rpm=speed, airflow_m3_s=1.5, required_airflow_m3_s=1.5 * ratio)
    assert fan_at_speed(point=FanPoint(speed, airflow_m3_s=1.5), speed_rpm=wanted).airflow_m3_s == pytest.approx(
        1.5 * ratio
    )
    pressed = speed_for_pressure_rpm(speed_rpm=speed, pressure_pa=300.0, required_pressure_pa=300.0 * ratio**2)
    assert pressed == pytest.approx(wanted)


def test_arrays_of_fans() -> None:
    wanted = speed_for_airflow_rpm(
        speed_rpm=np.array([1000.0, 500.0]),
        airflow_m3_s=np.array([1.0, 2.0]),
        required_airflow_m3_s=np.array([1.1, 1.8]),
    )
    assert wanted == pytest.approx(np.array([1100.0, 450.0]))


@pytest.mark.parametrize(
    ("speed", "change", "fine"), [(1200.0, 0.2, True), (1200.1, 0.2, False), (1290.0, 0.3, True), (799.0, 0.2, False)]
)
def test_laws_hold_near_the_measured_point(speed: float, change: float, fine: bool) -> None:
    start = FanPoint(1000.0, airflow_m3_s=1.0)
    if fine:
        assert fan_at_speed(point=start, speed_rpm=speed, largest_change=change).speed_rpm == speed
    else:
        with pytest.raises(OutOfRange, match="speed is"):
            fan_at_speed(point=start, speed_rpm=speed, largest_change=change)


def test_the_slowest_fan_of_the_stated_range_is_taken() -> None:
    """1 rpm to 1.1 times the airflow: 1.1 rpm."""
    assert speed_for_airflow_rpm(speed_rpm=1.0, airflow_m3_s=1.0, required_airflow_m3_s=1.1) == pytest.approx(1.1)


def test_far_requirements_are_refused() -> None:
    with pytest.raises(OutOfRange, match=r"ratio of speeds is 1\.3; it must lie in 0\.8 to 1\.2"):
        speed_for_airflow_rpm(speed_rpm=1000.0, airflow_m3_s=1.0, required_airflow_m3_s=1.3)
    with pytest.raises(OutOfRange, match=r"ratio of speeds is 1\.5"):
        speed_for_pressure_rpm(speed_rpm=1000.0, pressure_pa=100.0, required_pressure_pa=225.0)
    with pytest.raises(OutOfRange, match="measured pressure is 25000 Pa"):
        speed_for_pressure_rpm(speed_rpm=1000.0, pressure_pa=25_000.0, required_pressure_pa=20_000.0)
    with pytest.raises(OutOfRange, match="fan reading is -1"):
        fan_at_speed(point=FanPoint(1000.0, power_w=-1.0), speed_rpm=1000.0)
    with pytest.raises(ValueError, match="density of the measured point is not given"):
        fan_at_speed(point=FanPoint(1000.0), speed_rpm=1000.0, density_kg_m3=1.2)


def test_an_efficiency_above_one_is_a_wrong_reading() -> None:
    with pytest.raises(OutOfRange, match="efficiency is 2"):
        fan_efficiency(airflow_m3_s=2.0, pressure_pa=500.0, power_w=500.0)


def test_fan_temperature_rise_of_a_published_row() -> None:
    """T12.05 (recomputed): 900 Pa, 0.60, 1.2 kg/m3, 1006 J/(kg K): 1.242545 K."""
    assert fan_temperature_rise_k(pressure_pa=900.0, efficiency=0.60) == pytest.approx(1.242545, abs=0.002)


@pytest.mark.parametrize(
    ("power", "class_"),
    [
        (0.0, 0),
        (300.0, 0),
        (300.1, 1),
        (500.0, 1),
        (500.1, 2),
        (750.0, 2),
        (750.1, 3),
        (1250.0, 3),
        (1250.1, 4),
        (2000.0, 4),
        (2000.1, 5),
        (3000.0, 5),
        (3000.1, 6),
        (4500.0, 6),
        (4500.1, 7),
    ],
)
def test_specific_fan_power_class(power: float, class_: int) -> None:
    assert specific_fan_power_class(power) == class_


def test_unbalance_is_the_worst_deviation_on_either_side() -> None:
    low = unbalance(legs=np.array([100.0, 100.0, 94.0]))
    assert low == pytest.approx(4.0 / 98.0)
    high = unbalance(legs=np.array([100.0, 100.0, 106.0]))
    assert high == pytest.approx(4.0 / 102.0)
    assert unbalance(legs=np.array([[1.0, 1.0, 1.0], [2.0, 1.0, 0.0]])) == pytest.approx(np.array([0.0, 1.0]))
    with pytest.raises(ValueError, match="two or three phases"):
        unbalance(legs=230.0)
    with pytest.raises(OutOfRange, match="mean of the phases is 0"):
        unbalance(legs=np.zeros(3))


def test_power_of_one_and_three_phases() -> None:
    assert single_phase_power_w(voltage_v=230.0, current_a=2.0, power_factor=0.5) == pytest.approx(230.0)
    assert three_phase_power_w(voltage_v=400.0, current_a=10.0, power_factor=0.8) == pytest.approx(
        math.sqrt(3.0) * 3200.0
    )
    many = three_phase_power_w(
        voltage_v=np.array([[400.0], [480.0]]),
        current_a=np.array([[9.0, 10.0, 11.0], [5.0, 5.0, 5.0]]),
        power_factor=0.8,
    )
    assert many == pytest.approx(math.sqrt(3.0) * 0.8 * np.array([4000.0, 2400.0]))


def test_load_from_amps() -> None:
    assert motor_load_fraction(current_a=np.array([9.0, 10.0, 11.0]), full_load_current_a=12.5) == pytest.approx(0.8)
    with pytest.raises(ValueError, match="give both voltage_v and rated_voltage_v"):
        motor_load_fraction(current_a=9.0, full_load_current_a=10.0, voltage_v=400.0)
    assert not is_load_estimate_credible(load_fraction=0.5)
    assert is_load_estimate_credible(load_fraction=0.51)


@given(ratio=ratios, idle=st.floats(0.0, 19.0))
def test_predicted_current_moves_less_the_more_of_it_magnetises(ratio: float, idle: float) -> None:
    cube = float(predicted_current_a(current_a=20.0, speed_ratio=ratio))
    assert cube == pytest.approx(20.0 * ratio**3)
    real = float(predicted_current_a(current_a=20.0, speed_ratio=ratio, no_load_current_a=idle))
    assert abs(real - 20.0) <= abs(cube - 20.0) + 1e-9
    with pytest.raises(OutOfRange, match=r"ratio of speeds is 1\.201"):
        predicted_current_a(current_a=20.0, speed_ratio=1.201)


def test_derating_and_winding_rise_stop_at_five_per_cent() -> None:
    assert unbalance_derating(voltage_unbalance=np.array([0.0, 0.01, 0.025, 0.05])) == pytest.approx(
        np.array([1.0, 1.0, 0.915, 0.75])
    )
    for rule in (unbalance_derating, winding_temperature_rise_fraction):
        with pytest.raises(OutOfRange, match=r"voltage unbalance is 0\.06"):
            rule(voltage_unbalance=0.06)


def test_slip_refuses_a_speed_above_the_synchronous_one() -> None:
    with pytest.raises(OutOfRange, match="speed is 1810 rpm"):
        slip_load_fraction(speed_rpm=1810.0, synchronous_speed_rpm=1800.0, rated_speed_rpm=1750.0)


def test_the_credit_is_an_inch_at_4131_cfm_to_the_horsepower() -> None:
    """ASHRAE 90.1-2010 to 2016, table 6.5.3.1-2: A = PD q / 4131 [bhp, in. w.g., cfm] (read in a public thread)."""
    credit = pressure_credit_w(pressure_pa=to_si(1.0, "in_wc"), airflow_m3_s=to_si(4131.0, "cfm"))
    assert float(from_si(credit, "hp")) == pytest.approx(1.0, rel=1e-9)


def test_the_derating_at_each_whole_per_cent() -> None:
    """NEMA MG 1, fig. 14-1 (from memory), as read off for the docstring: 1, 0.95, 0.88, 0.82 and 0.75 at 1 to 5 %."""
    found = unbalance_derating(voltage_unbalance=np.array([0.01, 0.02, 0.03, 0.04, 0.05]))
    assert found == pytest.approx(np.array([1.0, 0.95, 0.88, 0.82, 0.75]), abs=1e-9)
