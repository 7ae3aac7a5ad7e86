"""Outdoor airflow reset by CO2: the line, what a sensor's error does to it, and where the loop then settles.

An error of the sensor is not an error of the airflow: too high a reading gives more air, more air less CO2, and the
loop settles between. `airflow_error_m3_s` tells the first step, `settled` where it ends.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from commissioning.engineering.guards import FloatArray, FloatOrArray, plain, within

CO2_RANGE = (0.0, 0.02)
SENSOR_ERROR_RANGE = (-0.002, 0.002)
PROPORTIONAL_BAND = 200e-6
OUTDOOR_CO2_NOT_MEASURED = 400e-6
LARGEST_RISE = 600e-6


@dataclass(frozen=True, slots=True)
class ResetLine:
    """Airflow over CO2: level below the lower CO2, straight to the upper, and level above; rising or falling.

    Attributes:
        low_co2: lower end of the slope, 0 to 0.02 [mol/mol].
        high_co2: upper end of the slope, above the lower by 1e-6 or more, to 0.02 [mol/mol].
        airflow_at_low_m3_s: at and below the lower end, 0 to 2000 [m3/s].
        airflow_at_high_m3_s: at and above the upper end, 0 to 2000 [m3/s].
    """

    low_co2: float
    high_co2: float
    airflow_at_low_m3_s: float
    airflow_at_high_m3_s: float

    def __post_init__(self) -> None:
        low = within("lower CO2", self.low_co2, *CO2_RANGE, "mol/mol").item()
        within("upper CO2", self.high_co2, low + 1e-6, CO2_RANGE[1], "mol/mol")
        within("airflow at the lower CO2", self.airflow_at_low_m3_s, 0.0, 2000.0, "m3/s")
        within("airflow at the upper CO2", self.airflow_at_high_m3_s, 0.0, 2000.0, "m3/s")

    @property
    def slope(self) -> float:
        """Change of airflow over change of CO2 between the two ends [m3/s per mol/mol]; negative where it falls."""
        return (self.airflow_at_high_m3_s - self.airflow_at_low_m3_s) / (self.high_co2 - self.low_co2)


@dataclass(frozen=True, slots=True)
class SettledLoop:
    """Where a space and its reset line come to rest.

    Attributes:
        co2: true mole fraction in the space [mol/mol].
        reading_co2: what the sensor shows [mol/mol].
        airflow_m3_s: outdoor airflow [m3/s].
        held_by: what decides the airflow: 'floor', 'slope' or 'ceiling'.
    """

    co2: float
    reading_co2: float
    airflow_m3_s: float
    held_by: Literal["floor", "slope", "ceiling"]


@dataclass(frozen=True, slots=True)
class SensorErrorEffect:
    """What an error of the sensor does once the loop has settled.

    Attributes:
        true_sensor: where it would settle with a sensor without error.
        with_error: where it settles.
        airflow_change_m3_s: airflow with the error less that without [m3/s].
        relative_airflow_change: that over the airflow without [-].
        co2_change: true mole fraction with the error less that without [mol/mol].
    """

    true_sensor: SettledLoop
    with_error: SettledLoop
    airflow_change_m3_s: float
    relative_airflow_change: float
    co2_change: float


def reset_airflow_m3_s(*, line: ResetLine, co2: FloatOrArray) -> FloatOrArray:
    """Return the airflow to expect at a CO2 reading.

        q = q_low + (q_high - q_low) (C - C_low) / (C_high - C_low), held within the two

    Args:
        line: the reset line.
        co2: reading C [mol/mol], 0 to 0.02.

    Raises:
        OutOfRange: the reading lies outside.

    Source: geometry of a straight reset line; ASHRAE Guideline 36 has one (read in an open implementation).

    Example:
        >>> line = ResetLine(low_co2=800e-6, high_co2=1000e-6, airflow_at_low_m3_s=0.2, airflow_at_high_m3_s=1.0)
        >>> round(reset_airflow_m3_s(line=line, co2=900e-6), 9)
        0.6
    """
    reading = within("read CO2", co2, *CO2_RANGE, "mol/mol")
    return plain(_on(line, reading))


def reset_co2(*, line: ResetLine, airflow_m3_s: FloatOrArray) -> FloatOrArray:
    """Return the CO2 reading at which a reset line asks for an airflow: the inverse of `reset_airflow_m3_s`.

        C = C_low + (C_high - C_low) (q - q_low) / (q_high - q_low)

    At the airflow of an end the reading is only known to lie at or beyond that end; the end is returned.

    Args:
        line: the reset line; not level.
        airflow_m3_s: airflow q [m3/s], between those of the two ends.

    Raises:
        ValueError: the line is level.
        OutOfRange: the airflow lies outside.

    Source: geometry of a straight reset line.

    Example:
        >>> line = ResetLine(low_co2=800e-6, high_co2=1000e-6, airflow_at_low_m3_s=0.2, airflow_at_high_m3_s=1.0)
        >>> round(1e6 * reset_co2(line=line, airflow_m3_s=0.6))
        900
    """
    ends = (line.airflow_at_low_m3_s, line.airflow_at_high_m3_s)
    if ends[0] == ends[1]:
        raise ValueError("a level reset line asks for one airflow at every CO2")
    flow = within("airflow", airflow_m3_s, min(ends), max(ends), "m3/s")
    return plain(line.low_co2 + (flow - ends[0]) / line.slope)


def proportional_output(
    *, co2: FloatOrArray, set_point_co2: FloatOrArray, band: FloatOrArray = PROPORTIONAL_BAND
) -> FloatOrArray:
    """Return the output of a proportional CO2 loop: none at a band below the set point, all of it at the set point.

        y = (C - (C_sp - b)) / b, held within 0 to 1

    Args:
        co2: reading C [mol/mol], 0 to 0.02.
        set_point_co2: C_sp [mol/mol], 0 to 0.02.
        band: b [mol/mol], 1e-6 to 0.02.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE Guideline 36 (200 ppm, no integral part), read in an open implementation of it.

    Example:
        >>> round(proportional_output(co2=900e-6, set_point_co2=1000e-6), 9)
        0.5
    """
    reading = within("read CO2", co2, *CO2_RANGE, "mol/mol")
    point = within("CO2 set point", set_point_co2, *CO2_RANGE, "mol/mol")
    width = within("band", band, 1e-6, CO2_RANGE[1], "mol/mol")
    return plain(np.clip(1.0 - (point - reading) / width, 0.0, 1.0))


def ventilation_reset_line(
    *, set_point_co2: float, area_airflow_m3_s: float, design_airflow_m3_s: float, band: float = PROPORTIONAL_BAND
) -> ResetLine:
    """Return the reset line of a ventilation zone: the area part always, the part for people by CO2.

        q = q_area + y (q_design - q_area),  y by `proportional_output`

    Make-up of exhaust and pressurisation are further floors: take the largest of them as the area part.

    Args:
        set_point_co2: C_sp [mol/mol], above the band, to 0.02.
        area_airflow_m3_s: R_a A_z / E_z, or a higher floor [m3/s], 0 to the design airflow.
        design_airflow_m3_s: V_oz at the design number of people [m3/s], 0 to 2000.
        band: from the first part for people to all of it [mol/mol], 1e-6 to 0.02.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE Guideline 36, read in an open implementation of it.

    Example:
        >>> line = ventilation_reset_line(set_point_co2=1000e-6, area_airflow_m3_s=0.1, design_airflow_m3_s=0.2)
        >>> round(reset_airflow_m3_s(line=line, co2=900e-6), 9)
        0.15
    """
    width = within("band", band, 1e-6, CO2_RANGE[1], "mol/mol").item()
    point = within("CO2 set point", set_point_co2, width, CO2_RANGE[1], "mol/mol").item()
    design = within("design airflow", design_airflow_m3_s, 0.0, 2000.0, "m3/s").item()
    floor = within("area airflow", area_airflow_m3_s, 0.0, design, "m3/s").item()
    return ResetLine(point - width, point, floor, design)


def largest_co2(
    *, outdoor_co2: FloatOrArray = OUTDOOR_CO2_NOT_MEASURED, rise: FloatOrArray = LARGEST_RISE
) -> FloatOrArray:
    """Return the largest CO2 that a demand-controlled space may show.

        C = C_o + 600 ppm

    Args:
        outdoor_co2: C_o [mol/mol], 0 to 0.02; 400 ppm where it is not measured.
        rise: [mol/mol], 0 to 0.02.

    Raises:
        OutOfRange: an argument lies outside.

    Source: California Title 24, 120.1 (read on a public page of a national laboratory).

    Example:
        >>> round(1e6 * largest_co2())
        1000
    """
    outdoor = within("outdoor CO2", outdoor_co2, *CO2_RANGE, "mol/mol")
    return plain(outdoor + within("rise of CO2", rise, *CO2_RANGE, "mol/mol"))


def airflow_error_m3_s(*, line: ResetLine, co2: FloatOrArray, sensor_error: FloatOrArray) -> FloatOrArray:
    """Return by how much an error of the sensor changes the airflow that is asked for, before CO2 answers.

        dq = q(C + e) - q(C);  on the slope, slope times e

    Args:
        line: the reset line.
        co2: true C in the space [mol/mol], 0 to 0.02.
        sensor_error: e, reading less true value [mol/mol], -0.002 to 0.002.

    Raises:
        OutOfRange: an argument lies outside.

    Source: geometry of a straight reset line.

    Example:
        >>> line = ResetLine(low_co2=800e-6, high_co2=1000e-6, airflow_at_low_m3_s=0.1, airflow_at_high_m3_s=0.3)
        >>> round(airflow_error_m3_s(line=line, co2=900e-6, sensor_error=50e-6), 9)
        0.05
    """
    true = within("true CO2", co2, *CO2_RANGE, "mol/mol")
    error = within("error of the CO2 sensor", sensor_error, *SENSOR_ERROR_RANGE, "mol/mol")
    return plain(_on(line, true + error) - _on(line, true))


def settled(*, line: ResetLine, generation_m3_s: float, outdoor_co2: float, sensor_error: float = 0.0) -> SettledLoop:
    """Return where one well-mixed space under a reset line settles: the fixed point of line and mass balance.

        q = q(C + e)  and  C = C_o + G / q
        on the slope k, with x = C - C_o and A = q_low + k (C_o + e - C_low):  k x^2 + A x - G = 0

    Args:
        line: the reset line; it must not fall, for then there may be several places to settle, or none.
        generation_m3_s: G of the people [m3/s], above 0 to 1.
        outdoor_co2: C_o [mol/mol], 0 to 0.02.
        sensor_error: e, reading less true value [mol/mol], -0.002 to 0.002.

    Raises:
        ValueError: the line falls, or gives no air at all.
        OutOfRange: an argument lies outside.

    Source: mass balance of one well-mixed space, steady.

    Example:
        >>> line = ResetLine(low_co2=800e-6, high_co2=1000e-6, airflow_at_low_m3_s=0.1, airflow_at_high_m3_s=0.3)
        >>> loop = settled(line=line, generation_m3_s=1e-4, outdoor_co2=400e-6)
        >>> round(1e6 * loop.co2), round(loop.airflow_m3_s, 6), loop.held_by
        (900, 0.2, 'slope')
    """
    least, most = line.airflow_at_low_m3_s, line.airflow_at_high_m3_s
    if most < least or most == 0.0:
        raise ValueError("a loop settles on a reset line that rises and gives some air")
    generation = within("CO2 generation", generation_m3_s, 1e-12, 1.0, "m3/s").item()
    outdoor = within("outdoor CO2", outdoor_co2, *CO2_RANGE, "mol/mol").item()
    error = within("error of the CO2 sensor", sensor_error, *SENSOR_ERROR_RANGE, "mol/mol").item()
    at_floor = outdoor + generation / least if least > 0.0 else math.inf
    at_ceiling = outdoor + generation / most
    if at_ceiling + error >= line.high_co2:
        return SettledLoop(at_ceiling, at_ceiling + error, most, "ceiling")
    if at_floor + error <= line.low_co2:
        return SettledLoop(at_floor, at_floor + error, least, "floor")
    a = least + line.slope * (outdoor + error - line.low_co2)
    root = math.sqrt(a * a + 4.0 * line.slope * generation)
    rise = 2.0 * generation / (a + root) if a >= 0.0 else (root - a) / (2.0 * line.slope)
    return SettledLoop(outdoor + rise, outdoor + rise + error, generation / rise, "slope")


def sensor_error_effect(
    *, line: ResetLine, generation_m3_s: float, outdoor_co2: float, sensor_error: float
) -> SensorErrorEffect:
    """Return what an error of the CO2 sensor does to airflow and CO2 once the loop has settled.

    A sensor that reads high gives more air than was meant, one that reads low gives less: that is the one to find.

    Args:
        line: the reset line; it must not fall.
        generation_m3_s: G of the people [m3/s], above 0 to 1.
        outdoor_co2: C_o [mol/mol], 0 to 0.02.
        sensor_error: e, reading less true value [mol/mol], -0.002 to 0.002.

    Raises:
        ValueError: the line falls, or gives no air at all.
        OutOfRange: an argument lies outside.

    Source: as for `settled`.

    Example:
        >>> line = ResetLine(low_co2=800e-6, high_co2=1000e-6, airflow_at_low_m3_s=0.1, airflow_at_high_m3_s=0.3)
        >>> effect = sensor_error_effect(line=line, generation_m3_s=1e-4, outdoor_co2=400e-6, sensor_error=50e-6)
        >>> round(effect.relative_airflow_change, 3), round(1e6 * effect.co2_change)
        (0.075, -35)
    """
    true = settled(line=line, generation_m3_s=generation_m3_s, outdoor_co2=outdoor_co2)
    off = settled(line=line, generation_m3_s=generation_m3_s, outdoor_co2=outdoor_co2, sensor_error=sensor_error)
    change = off.airflow_m3_s - true.airflow_m3_s
    return SensorErrorEffect(true, off, change, change / true.airflow_m3_s, off.co2 - true.co2)


def _on(line: ResetLine, co2: FloatArray) -> FloatArray:
    share = np.clip((co2 - line.low_co2) / (line.high_co2 - line.low_co2), 0.0, 1.0)
    result: FloatArray = line.airflow_at_low_m3_s + share * (line.airflow_at_high_m3_s - line.airflow_at_low_m3_s)
    return result
