"""Readings of a mixed stream: the mean over a stratified box, and the uncertainty of an enthalpy from two sensors."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.guards import FloatOrArray, plain, within
from commissioning.engineering.humidity import (
    MOLE_MASS_RATIO,
    humidity_ratio_from_relative_humidity,
    saturation_pressure_pa,
)

FEWEST_MIXED_READINGS = 9


@dataclass(frozen=True, slots=True)
class MixedAirReading:
    """The mean of readings over the plane of a mixing box.

    Attributes:
        mean: of the readings [their unit].
        standard_uncertainty: of the mean: spread, what the grid does not see, and the sensor [their unit].
        spread: standard deviation of a single reading [their unit].
        points: number of readings.
        enough_points: nine or more.
    """

    mean: float
    standard_uncertainty: float
    spread: float
    points: int
    enough_points: bool


def mixed_air_reading(
    *,
    readings: FloatOrArray,
    sensor_standard_uncertainty: float,
    stratification_standard_uncertainty: float = 0.0,
) -> MixedAirReading:
    """Return the mean over a mixing box, and its uncertainty with that of the stratification.

        u^2 = s^2 / n + u_strat^2 + u_sensor^2

    Args:
        readings: at points spread evenly over the plane, two or more [any unit].
        sensor_standard_uncertainty: of the one sensor used at all points, 0 or more [unit of the readings]; leave
            out an offset that it also has at the outdoor and return air.
        stratification_standard_uncertainty: of what lies between the points, 0 or more [unit of the readings].

    Raises:
        OutOfRange: an argument lies outside, or there is one reading only.

    Source: JCGM 100:2008 (GUM), 4.2 and 5.1; nine points are common practice, no source.

    Example:
        >>> box = mixed_air_reading(readings=np.array([11.0, 13.0, 12.0, 12.0]), sensor_standard_uncertainty=0.2)
        >>> box.mean, round(box.standard_uncertainty, 3), box.enough_points
        (12.0, 0.455, False)
    """
    values = np.atleast_1d(within("reading", readings, -1e9, 1e9, "")).ravel()
    within("number of readings", float(values.size), 2.0, np.inf, "")
    sensor = within("uncertainty of the sensor", sensor_standard_uncertainty, 0.0, 1e9, "").item()
    unseen = within("uncertainty by stratification", stratification_standard_uncertainty, 0.0, 1e9, "").item()
    spread = float(np.std(values, ddof=1))
    return MixedAirReading(
        mean=float(np.mean(values)),
        standard_uncertainty=math.hypot(spread / math.sqrt(values.size), unseen, sensor),
        spread=spread,
        points=values.size,
        enough_points=values.size >= FEWEST_MIXED_READINGS,
    )


def enthalpy_standard_uncertainty_j_kg(
    *,
    dry_bulb_c: FloatOrArray,
    relative_humidity: FloatOrArray,
    pressure_pa: FloatOrArray,
    temperature_standard_uncertainty_k: FloatOrArray,
    humidity_standard_uncertainty: FloatOrArray,
) -> FloatOrArray:
    """Return the standard uncertainty of an enthalpy from dry bulb and relative humidity, read by two sensors.

        u(h)^2 = (dh/dt u(t))^2 + (dh/dRH u(RH))^2,  h = 1006 t + W (2 501 000 + 1860 t)
        dW/dp_w = 0.621945 p / (p - p_w)^2,  p_w = RH p_ws(t)

    Args:
        dry_bulb_c: t [degC], -60 to 60.
        relative_humidity: RH, as a ratio [-], 0 to 1.
        pressure_pa: absolute pressure p [Pa], 20 000 to 180 000.
        temperature_standard_uncertainty_k: u(t) [K], 0 or more.
        humidity_standard_uncertainty: u(RH), as a ratio [-], 0 to 1.

    Raises:
        OutOfRange: an argument lies outside.

    Source: JCGM 100:2008 (GUM), 5.1.2, applied to ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 30.

    Example:
        >>> round(enthalpy_standard_uncertainty_j_kg(dry_bulb_c=25.0, relative_humidity=0.5, pressure_pa=101325.0,
        ...     temperature_standard_uncertainty_k=0.2, humidity_standard_uncertainty=0.02))
        1143
    """
    t = within("dry bulb", dry_bulb_c, -60.0, 60.0, "degC")
    share = within("relative humidity", relative_humidity, 0.0, 1.0, "")
    u_t = within("uncertainty of the temperature", temperature_standard_uncertainty_k, 0.0, 100.0, "K")
    u_share = within("uncertainty of the humidity", humidity_standard_uncertainty, 0.0, 1.0, "")
    ratio = np.asarray(
        humidity_ratio_from_relative_humidity(dry_bulb_c=t, relative_humidity=share, pressure_pa=pressure_pa)
    )
    saturated = np.asarray(saturation_pressure_pa(temperature_c=t))
    saturated_slope = (
        np.asarray(saturation_pressure_pa(temperature_c=t + 5e-3)) - saturation_pressure_pa(temperature_c=t - 5e-3)
    ) / 1e-2
    latent = 2_501_000.0 + 1860.0 * t
    by_vapour = MOLE_MASS_RATIO * np.asarray(pressure_pa) / (np.asarray(pressure_pa) - share * saturated) ** 2
    after_t = 1006.0 + 1860.0 * ratio + latent * by_vapour * share * saturated_slope
    return plain(np.hypot(after_t * u_t, latent * by_vapour * saturated * u_share))
