"""Fans near a measured point: the fan laws, the speed for an airflow, air power and specific fan power.

The laws hold for one fan on one unchanged system: not after a damper or a filter has been touched, and not where
a controller holds a fixed pressure. So they are refused more than 20 % of speed away, unless told.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.guards import FloatArray, FloatOrArray, plain, within
from commissioning.engineering.motors import (
    is_load_estimate_credible,
    motor_load_fraction,
    predicted_current_a,
    service_factor_load,
    shaft_power_w,
    single_phase_power_w,
    slip_load_fraction,
    three_phase_power_w,
    unbalance,
    unbalance_derating,
    winding_temperature_rise_fraction,
)

__all__ = [
    "FanPoint",
    "air_power_w",
    "fan_at_speed",
    "fan_efficiency",
    "fan_temperature_rise_k",
    "is_load_estimate_credible",
    "motor_load_fraction",
    "predicted_current_a",
    "service_factor_load",
    "shaft_power_w",
    "single_phase_power_w",
    "slip_load_fraction",
    "specific_fan_power_class",
    "specific_fan_power_w_m3_s",
    "speed_for_airflow_rpm",
    "speed_for_pressure_rpm",
    "three_phase_power_w",
    "unbalance",
    "unbalance_derating",
    "winding_temperature_rise_fraction",
]

SPEED_CHANGE = 0.20
SPEED_RANGE_RPM = (1.0, 20_000.0)
_SFP_LIMITS_W_M3_S = (300.0, 500.0, 750.0, 1250.0, 2000.0, 3000.0, 4500.0)


@dataclass(frozen=True, slots=True)
class FanPoint:
    """One operating point of a fan; what was not measured is None.

    Attributes:
        speed_rpm: speed of the wheel [rpm].
        airflow_m3_s: actual airflow at the fan [m3/s].
        pressure_pa: fan pressure, or a static pressure of the same system [Pa].
        power_w: shaft power, or electric power where the losses are taken in proportion [W].
        density_kg_m3: density of the air at the fan [kg/m3].
    """

    speed_rpm: FloatOrArray
    airflow_m3_s: FloatOrArray | None = None
    pressure_pa: FloatOrArray | None = None
    power_w: FloatOrArray | None = None
    density_kg_m3: FloatOrArray | None = None


def fan_at_speed(
    *,
    point: FanPoint,
    speed_rpm: FloatOrArray,
    density_kg_m3: FloatOrArray | None = None,
    diameter_ratio: FloatOrArray = 1.0,
    largest_change: float = SPEED_CHANGE,
) -> FanPoint:
    """Return a fan's point at another speed on the same system, by the fan laws.

        q2 = q1 n d^3,  p2 = p1 g n^2 d^2,  P2 = P1 g n^3 d^5,  n = N2/N1, d = D2/D1, g = rho2/rho1

    Args:
        point: the measured point.
        speed_rpm: the other speed N2 [rpm], within `largest_change` of the measured one.
        density_kg_m3: density at the other state rho2 [kg/m3]; None for the same.
        diameter_ratio: d, of a geometrically similar wheel [-], 0.5 to 2; 1 for the same fan.
        largest_change: largest change of speed for which the laws are used [-], 0 to 1.

    Raises:
        OutOfRange: the speed is too far from the measured one, or an argument lies outside.
        ValueError: a density is given for one state alone.

    Source: ASHRAE Handbook HVAC Systems and Equipment, fans (from memory); the 20 % is common practice, no source.

    Example:
        >>> there = fan_at_speed(point=FanPoint(800.0, airflow_m3_s=4.0, pressure_pa=500.0, power_w=3000.0),
        ...     speed_rpm=900.0)
        >>> there.airflow_m3_s, there.pressure_pa, round(there.power_w)
        (4.5, 632.8125, 4271)
    """
    measured = within("measured speed", point.speed_rpm, *SPEED_RANGE_RPM, "rpm")
    change = within("largest change of speed", largest_change, 0.0, 1.0, "").item()
    speed = within("speed", speed_rpm, measured * (1.0 - change), measured * (1.0 + change), "rpm")
    if density_kg_m3 is not None and point.density_kg_m3 is None:
        raise ValueError("the density of the measured point is not given")
    n, d = speed / measured, within("ratio of diameters", diameter_ratio, 0.5, 2.0, "")
    density = point.density_kg_m3 if density_kg_m3 is None else density_kg_m3
    g = np.ones(())
    if density is not None and point.density_kg_m3 is not None:
        g = within("density", density, 0.3, 3.0, "kg/m3") / within(
            "density of the measured point", point.density_kg_m3, 0.3, 3.0, "kg/m3"
        )
    return FanPoint(
        speed_rpm=plain(speed),
        airflow_m3_s=_times(point.airflow_m3_s, n * d**3),
        pressure_pa=_times(point.pressure_pa, g * n**2 * d**2),
        power_w=_times(point.power_w, g * n**3 * d**5),
        density_kg_m3=None if density is None else plain(density),
    )


def speed_for_airflow_rpm(
    *,
    speed_rpm: FloatOrArray,
    airflow_m3_s: FloatOrArray,
    required_airflow_m3_s: FloatOrArray,
    largest_change: float = SPEED_CHANGE,
) -> FloatOrArray:
    """Return the speed at which a fan would move a required airflow through the same system.

        N2 = N1 q2 / q1

    Args:
        speed_rpm: measured speed N1 [rpm], 1 to 20 000.
        airflow_m3_s: measured airflow q1 [m3/s], above 0.
        required_airflow_m3_s: required airflow q2 [m3/s], on the same air basis as q1.
        largest_change: largest change of speed for which the law is used [-], 0 to 1.

    Raises:
        OutOfRange: the change would be too large, or an argument lies outside.

    Source: the first fan law.

    Example:
        >>> round(speed_for_airflow_rpm(speed_rpm=1000.0, airflow_m3_s=0.92, required_airflow_m3_s=1.0), 1)
        1087.0
    """
    measured = within("measured speed", speed_rpm, *SPEED_RANGE_RPM, "rpm")
    ratio = within("required airflow", required_airflow_m3_s, 0.0, 2000.0, "m3/s") / within(
        "measured airflow", airflow_m3_s, 1e-6, 2000.0, "m3/s"
    )
    change = within("largest change of speed", largest_change, 0.0, 1.0, "").item()
    within("ratio of speeds", ratio, 1.0 - change, 1.0 + change, "")
    return plain(measured * ratio)


def speed_for_pressure_rpm(
    *,
    speed_rpm: FloatOrArray,
    pressure_pa: FloatOrArray,
    required_pressure_pa: FloatOrArray,
    largest_change: float = SPEED_CHANGE,
) -> FloatOrArray:
    """Return the speed at which a fan would make a required pressure on the same system.

        N2 = N1 sqrt(p2 / p1)

    Args:
        speed_rpm: measured speed N1 [rpm], 1 to 20 000.
        pressure_pa: measured pressure p1 [Pa], above 0.
        required_pressure_pa: required pressure p2 [Pa].
        largest_change: largest change of speed for which the law is used [-], 0 to 1.

    Raises:
        OutOfRange: the change would be too large, or an argument lies outside.

    Source: the second fan law.

    Example:
        >>> speed_for_pressure_rpm(speed_rpm=1000.0, pressure_pa=400.0, required_pressure_pa=484.0)
        1100.0
    """
    measured = within("measured speed", speed_rpm, *SPEED_RANGE_RPM, "rpm")
    ratio = np.sqrt(
        within("required pressure", required_pressure_pa, 0.0, 20_000.0, "Pa")
        / within("measured pressure", pressure_pa, 1e-3, 20_000.0, "Pa")
    )
    change = within("largest change of speed", largest_change, 0.0, 1.0, "").item()
    within("ratio of speeds", plain(ratio), 1.0 - change, 1.0 + change, "")
    return plain(measured * ratio)


def air_power_w(*, airflow_m3_s: FloatOrArray, pressure_pa: FloatOrArray) -> FloatOrArray:
    """Return the power that a fan gives to the air; compressibility is left out (below 1 % up to 3 kPa).

        P = q p

    Args:
        airflow_m3_s: actual airflow q [m3/s], 0 to 2000.
        pressure_pa: fan total pressure p, or static for the static air power [Pa], 0 to 20 000.

    Raises:
        OutOfRange: an argument lies outside.

    Source: AMCA 203 without its compressibility coefficient (from memory).

    Example:
        >>> air_power_w(airflow_m3_s=2.0, pressure_pa=500.0)
        1000.0
    """
    return plain(_airflow(airflow_m3_s) * within("pressure", pressure_pa, 0.0, 20_000.0, "Pa"))


def fan_efficiency(*, airflow_m3_s: FloatOrArray, pressure_pa: FloatOrArray, power_w: FloatOrArray) -> FloatOrArray:
    """Return the share of the power put in that reaches the air.

        eta = q p / P

    Args:
        airflow_m3_s: actual airflow q [m3/s], 0 to 2000.
        pressure_pa: fan pressure p [Pa], 0 to 20 000.
        power_w: shaft power for the fan's efficiency, electric power for that of the whole [W], above 0.

    Raises:
        OutOfRange: an argument lies outside, or the efficiency would be above 1: one of the readings is wrong.

    Source: definition.

    Example:
        >>> fan_efficiency(airflow_m3_s=2.0, pressure_pa=500.0, power_w=1600.0)
        0.625
    """
    useful = np.asarray(air_power_w(airflow_m3_s=airflow_m3_s, pressure_pa=pressure_pa))
    share = useful / within("power", power_w, 1e-3, 1e8, "W")
    return plain(within("efficiency", share, 0.0, 1.0, ""))


def fan_temperature_rise_k(
    *,
    pressure_pa: FloatOrArray,
    efficiency: FloatOrArray,
    density_kg_m3: FloatOrArray = 1.2,
    heat_capacity_j_kg_k: FloatOrArray = 1006.0,
) -> FloatOrArray:
    """Return by how much a fan warms the air that passes, with its motor if the motor is in the stream.

        dT = p / (rho c_p eta)

    Args:
        pressure_pa: fan total pressure p [Pa], 0 to 20 000.
        efficiency: eta, of fan, drive and whatever else is in the stream [-], 0.05 to 1.
        density_kg_m3: rho [kg/m3], 0.3 to 3.
        heat_capacity_j_kg_k: c_p [J/(kg K)], 900 to 1200.

    Raises:
        OutOfRange: an argument lies outside.

    Source: energy balance of the stream.

    Example:
        >>> round(fan_temperature_rise_k(pressure_pa=900.0, efficiency=0.60), 3)
        1.243
    """
    pressure = within("pressure", pressure_pa, 0.0, 20_000.0, "Pa")
    heat = within("heat capacity", heat_capacity_j_kg_k, 900.0, 1200.0, "J/(kg K)")
    density = within("density", density_kg_m3, 0.3, 3.0, "kg/m3")
    return plain(pressure / (density * heat * within("efficiency", efficiency, 0.05, 1.0, "")))


def specific_fan_power_w_m3_s(*, electrical_power_w: FloatOrArray, airflow_m3_s: FloatOrArray) -> FloatOrArray:
    """Return the electric power of the fans per airflow, by the larger of supply and exhaust airflow.

        SFP = sum(P_el) / q

    Args:
        electrical_power_w: electric power of all the fans, drives included [W], 0 to 1e8; an array is not summed.
        airflow_m3_s: the larger of the airflows q [m3/s], above 0.

    Raises:
        OutOfRange: an argument lies outside.

    Source: EN 16798-3 (from memory).

    Example:
        >>> specific_fan_power_w_m3_s(electrical_power_w=3200.0 + 2400.0, airflow_m3_s=2.5)
        2240.0
    """
    power = within("electric power", electrical_power_w, 0.0, 1e8, "W")
    return plain(power / within("airflow", airflow_m3_s, 1e-6, 2000.0, "m3/s"))


def specific_fan_power_class(specific_fan_power_w_m3_s: float) -> int:
    """Return the class of a specific fan power, 0 (least) to 7.

        SFP 0 to 300, 1 to 500, 2 to 750, 3 to 1250, 4 to 2000, 5 to 3000, 6 to 4500, 7 above [W/(m3/s)]

    Args:
        specific_fan_power_w_m3_s: specific fan power [W/(m3/s)], 0 to 1e14 (of hardly any air).

    Raises:
        OutOfRange: the specific fan power lies outside.

    Source: EN 16798-3; classes 1 to 3 read in a public note, 0 and 4 to 7 from memory.

    Example:
        >>> specific_fan_power_class(2240.0)
        5
    """
    power = within("specific fan power", specific_fan_power_w_m3_s, 0.0, 1e14, "W/(m3/s)").item()
    return sum(power > limit for limit in _SFP_LIMITS_W_M3_S)


def _airflow(airflow_m3_s: FloatOrArray) -> FloatArray:
    return within("airflow", airflow_m3_s, 0.0, 2000.0, "m3/s")


def _times(value: FloatOrArray | None, factor: FloatArray) -> FloatOrArray | None:
    return None if value is None else plain(within("fan reading", value, 0.0, math.inf, "") * factor)
