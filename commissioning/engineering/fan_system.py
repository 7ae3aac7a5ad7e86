"""A duct system by its measured points, where a fan meets it, and what speed the next setting should be.

The system's pressure is what its fan has to give: static against static, total against total. One curve holds as long
as nothing is touched; after a damper, a filter or a door has moved, the points before belong to another system.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.fan_curve import FanCurve, fan_pressure_pa, root_between, scale
from commissioning.engineering.fans import SPEED_CHANGE, FanPoint
from commissioning.engineering.guards import FloatArray, FloatOrArray, OutOfRange, plain, within

EXPONENT_RANGE = (1.0, 2.0)
FAN_LAW_SPREAD = 0.25


@dataclass(frozen=True, slots=True)
class SystemCurve:
    """What a system takes: p = p0 + k q^n.

    Attributes:
        static_pa: part that does not depend on the airflow p0, as of a held pressure [Pa].
        coefficient: k [Pa/(m3/s)^n].
        exponent: n [-].
        fit_error_pa: root mean square of what the points differ from the curve; None where nothing is left over [Pa].
        least_airflow_m3_s, most_airflow_m3_s: range of the measured points [m3/s].
        points: how many points [-].
    """

    static_pa: float
    coefficient: float
    exponent: float
    fit_error_pa: float | None
    least_airflow_m3_s: float
    most_airflow_m3_s: float
    points: int


@dataclass(frozen=True, slots=True)
class OperatingPoint:
    """Where a fan and a system meet.

    Attributes:
        airflow_m3_s: actual airflow [m3/s].
        pressure_pa: pressure that the fan gives and the system takes [Pa].
        speed_rpm: speed of the fan [rpm].
    """

    airflow_m3_s: float
    pressure_pa: float
    speed_rpm: float


@dataclass(frozen=True, slots=True)
class NextSetting:
    """A speed worked out from all the points that were read on the unchanged system so far.

    Attributes:
        speed_rpm: speed to set next [rpm].
        pressure_pa: pressure to expect there by the system curve; None where no pressures were read [Pa].
        exponent: b in N ~ q^b; 1 is the fan law [-].
        points: how many points [-].
    """

    speed_rpm: float
    pressure_pa: float | None
    exponent: float
    points: int


class CurvesDoNotCross(ValueError):
    """The fan at this speed and the system have no point in common on the falling part of the fan's curve."""


def system_curve(
    *,
    airflows_m3_s: FloatOrArray,
    pressures_pa: FloatOrArray,
    static_pa: float | None = 0.0,
    exponent: float = 2.0,
) -> SystemCurve:
    """Return the curve of a system through its measured points, by least squares; it rises with the airflow.

        p = p0 + k q^n

    Args:
        airflows_m3_s: measured airflows q [m3/s], above 0, all on the unchanged system; one point is enough where
            p0 is given, two or more of different airflow where it is not.
        pressures_pa: pressures p there [Pa], 0 to 20 000.
        static_pa: p0 [Pa], 0 to 20 000; 0 for a curve through the origin; None to find it too, not below 0.
        exponent: n [-], 1 to 2; 2 for ducts.

    Raises:
        OutOfRange: an argument lies outside.
        ValueError: too few points, or points that do not rise with the airflow: they are not of one system.

    Source: least squares on a law of resistance; common practice, no source.

    Example:
        >>> curve = system_curve(airflows_m3_s=np.array([1.0, 2.0]), pressures_pa=np.array([150.0, 300.0]),
        ...     static_pa=None)
        >>> round(curve.static_pa, 6), round(curve.coefficient, 6)
        (100.0, 50.0)
    """
    flows = np.atleast_1d(within("airflow", airflows_m3_s, 1e-6, 2000.0, "m3/s"))
    pressures = np.atleast_1d(within("pressure", pressures_pa, 0.0, 20_000.0, "Pa"))
    n = within("exponent", exponent, *EXPONENT_RANGE, "").item()
    if flows.shape != pressures.shape or flows.ndim != 1:
        raise ValueError("each airflow needs its pressure")
    x = flows**n
    static = (
        _static(x, pressures) if static_pa is None else within("static part", static_pa, 0.0, 20_000.0, "Pa").item()
    )
    coefficient = float(np.dot(x, pressures - static) / np.dot(x, x))
    if coefficient <= 0.0:
        raise ValueError("the pressure does not rise with the airflow: these points are not of one unchanged system")
    left_over = pressures - static - coefficient * x
    used = 2 if static_pa is None and static > 0.0 else 1
    error = float(np.sqrt(np.mean(left_over**2))) if flows.size > used else None
    return SystemCurve(static, coefficient, n, error, float(flows.min()), float(flows.max()), int(flows.size))


def system_pressure_pa(*, curve: SystemCurve, airflow_m3_s: FloatOrArray) -> FloatOrArray:
    """Return the pressure that a system takes at an airflow.

        p = p0 + k q^n

    Args:
        curve: the system's curve.
        airflow_m3_s: q [m3/s], 0 to 2000; outside the measured points it is a guess.

    Raises:
        OutOfRange: the airflow lies outside.

    Source: law of resistance.

    Example:
        >>> curve = system_curve(airflows_m3_s=2.0, pressures_pa=400.0)
        >>> system_pressure_pa(curve=curve, airflow_m3_s=1.0)
        100.0
    """
    return plain(
        curve.static_pa + curve.coefficient * within("airflow", airflow_m3_s, 0.0, 2000.0, "m3/s") ** curve.exponent
    )


def system_airflow_m3_s(*, curve: SystemCurve, pressure_pa: FloatOrArray) -> FloatOrArray:
    """Return the airflow that a pressure drives through a system.

        q = ((p - p0) / k)^(1/n)

    Args:
        curve: the system's curve.
        pressure_pa: p [Pa], p0 to 20 000.

    Raises:
        OutOfRange: the pressure lies outside.

    Source: law of resistance.

    Example:
        >>> curve = system_curve(airflows_m3_s=2.0, pressures_pa=400.0)
        >>> system_airflow_m3_s(curve=curve, pressure_pa=100.0)
        1.0
    """
    pressure = within("pressure", pressure_pa, curve.static_pa, 20_000.0, "Pa")
    return plain(((pressure - curve.static_pa) / curve.coefficient) ** (1.0 / curve.exponent))


def operating_point(
    *, fan: FanCurve, system: SystemCurve, speed_rpm: float, density_kg_m3: float = 1.2
) -> OperatingPoint:
    """Return where a fan at a speed meets a system, on the falling part of the fan's curve.

        f(q, N, rho) = p0 + k q^n, solved for q

    Args:
        fan: the fan's curve, of the same kind of pressure as the system's.
        system: the system's curve, at the density of the air.
        speed_rpm: N [rpm], 0.5 to 1.5 of the fan curve's.
        density_kg_m3: rho [kg/m3], 0.3 to 3.

    Raises:
        OutOfRange: an argument lies outside.
        CurvesDoNotCross: the system takes more than the fan gives at its peak (it would run in stall), or the fan
            still gives more than the system takes at the last point of its curve.

    Source: definition.

    Example:
        >>> from commissioning.engineering.fan_curve import fan_curve
        >>> fan = fan_curve(airflows_m3_s=np.array([0.0, 1.0, 2.0, 3.0]),
        ...     pressures_pa=np.array([480.0, 500.0, 400.0, 100.0]), speed_rpm=1000.0)
        >>> there = operating_point(fan=fan, system=system_curve(airflows_m3_s=1.0, pressures_pa=100.0),
        ...     speed_rpm=1000.0)
        >>> round(there.airflow_m3_s, 6), round(there.pressure_pa, 6)
        (2.0, 400.0)
    """
    n = float(scale(fan, speed_rpm, density_kg_m3)[0])
    low, high = fan.airflows_m3_s[fan.first] * n, fan.airflows_m3_s[-1] * n

    def spare(airflow: float) -> float:
        given = fan_pressure_pa(curve=fan, airflow_m3_s=airflow, speed_rpm=speed_rpm, density_kg_m3=density_kg_m3)
        return float(given) - float(system_pressure_pa(curve=system, airflow_m3_s=airflow))

    if spare(low) < 0.0:
        raise CurvesDoNotCross(
            f"the system takes more than the fan gives at {speed_rpm:g} rpm: it would run left of its peak, in stall"
        )
    if spare(high) > 0.0:
        raise CurvesDoNotCross(f"the fan at {speed_rpm:g} rpm meets the system beyond the last point of its curve")
    flow = min(max(root_between(spare, low, high), low), high)
    return OperatingPoint(flow, float(system_pressure_pa(curve=system, airflow_m3_s=flow)), float(speed_rpm))


def speed_on_curve_rpm(
    *, fan: FanCurve, system: SystemCurve, required_airflow_m3_s: float, density_kg_m3: float = 1.2
) -> float:
    """Return the speed at which a fan would move a required airflow through a system with a static part or without.

        g n^2 f(q / n) = p0 + k q^n', solved for n

    Args:
        fan: the fan's curve.
        system: the system's curve.
        required_airflow_m3_s: q [m3/s], above 0.
        density_kg_m3: rho [kg/m3], 0.3 to 3.

    Raises:
        OutOfRange: an argument lies outside.
        CurvesDoNotCross: no speed within 0.5 to 1.5 of the fan curve's does it on the falling part of the curve.

    Source: the fan laws.

    Example:
        >>> from commissioning.engineering.fan_curve import fan_curve
        >>> fan = fan_curve(airflows_m3_s=np.array([0.0, 1.0, 2.0, 3.0]),
        ...     pressures_pa=np.array([480.0, 500.0, 400.0, 100.0]), speed_rpm=1000.0)
        >>> system = system_curve(airflows_m3_s=1.0, pressures_pa=100.0)
        >>> round(speed_on_curve_rpm(fan=fan, system=system, required_airflow_m3_s=2.2), 6)
        1100.0
    """
    flow = within("required airflow", required_airflow_m3_s, 1e-6, 2000.0, "m3/s").item()
    wanted = float(system_pressure_pa(curve=system, airflow_m3_s=flow))
    slowest = max(flow / fan.airflows_m3_s[-1], 0.5) * fan.speed_rpm
    fastest = min(flow / max(fan.airflows_m3_s[fan.first], 1e-9), 1.5) * fan.speed_rpm

    def short(speed: float) -> float:
        at = min(max(speed, slowest), fastest)
        return wanted - float(fan_pressure_pa(curve=fan, airflow_m3_s=flow, speed_rpm=at, density_kg_m3=density_kg_m3))

    if slowest > fastest or short(slowest) < 0.0 or short(fastest) > 0.0:
        raise CurvesDoNotCross(f"no speed of this fan moves {flow:g} m3/s through the system on its falling part")
    return root_between(short, slowest, fastest)


def next_setting(
    *,
    points: Sequence[FanPoint],
    required_airflow_m3_s: float,
    relative_uncertainty: float = 0.03,
    largest_change: float = SPEED_CHANGE,
) -> NextSetting:
    """Return the speed to set next, from every point that was read on the unchanged system so far.

    With one point it is the fan law. Each further point shows how the airflow of this system really follows the
    speed, and moves the exponent away from the law as far as the readings are sure enough.

        ln(N / N_last) = b ln(q / q_last),  b = (s + sum x y) / (s + sum x^2),  s = 2 (u / 0.25)^2

    where x, y are the logarithms of airflow and speed against the last point. The pressure is read off the system
    curve through all the points, with its static part where they show one.

    Args:
        points: speed and airflow, and pressure where it was read, in the order in which they were read; one or more.
        required_airflow_m3_s: q [m3/s], above 0, on the same air basis as the points.
        relative_uncertainty: standard uncertainty of one airflow u [-], 0.001 to 0.3.
        largest_change: largest change of speed against the last point [-], 0 to 1.

    Raises:
        OutOfRange: the change would be too large, or an argument lies outside.
        ValueError: no point, or a point without an airflow.

    Source: the first fan law as what is expected beforehand (b = 1, give or take 0.25), least squares; common
    practice, no source.

    Example:
        >>> first = FanPoint(1000.0, airflow_m3_s=0.80)
        >>> round(next_setting(points=[first], required_airflow_m3_s=0.88).speed_rpm, 6)
        1100.0
        >>> second = FanPoint(1100.0, airflow_m3_s=0.85)
        >>> round(next_setting(points=[first, second], required_airflow_m3_s=0.88).speed_rpm)
        1141
    """
    if not points or any(point.airflow_m3_s is None for point in points):
        raise ValueError("each point needs its speed and its airflow")
    flows = within("airflow", np.array([float(p.airflow_m3_s or 0.0) for p in points]), 1e-6, 2000.0, "m3/s")
    speeds = within("speed", np.array([float(p.speed_rpm) for p in points]), 1.0, 20_000.0, "rpm")
    u = within("relative uncertainty", relative_uncertainty, 0.001, 0.3, "").item()
    required = within("required airflow", required_airflow_m3_s, 1e-6, 2000.0, "m3/s").item()
    x, y = np.log(flows / flows[-1]), np.log(speeds / speeds[-1])
    sure = 2.0 * (u / FAN_LAW_SPREAD) ** 2
    b = float((sure + np.dot(x, y)) / (sure + np.dot(x, x)))
    speed = float(speeds[-1] * (required / flows[-1]) ** b)
    change = within("largest change of speed", largest_change, 0.0, 1.0, "").item()
    within("ratio of speeds", speed / float(speeds[-1]), 1.0 - change, 1.0 + change, "")
    return NextSetting(speed, _expected_pressure(points, flows, required), b, len(points))


def _expected_pressure(points: Sequence[FanPoint], flows: FloatArray, required: float) -> float | None:
    if any(point.pressure_pa is None for point in points):
        return None
    pressures = np.array([float(p.pressure_pa or 0.0) for p in points])
    several = np.unique(flows).size > 1
    try:
        curve = system_curve(airflows_m3_s=flows, pressures_pa=pressures, static_pa=None if several else 0.0)
    except (OutOfRange, ValueError):
        return None
    return float(system_pressure_pa(curve=curve, airflow_m3_s=required))


def _static(x: FloatArray, pressures: FloatArray) -> float:
    """The intercept of the straight line over q^n, not below 0."""
    if np.unique(x).size < 2:
        raise ValueError("to find the static part it takes two or more points of different airflow")
    away = x - x.mean()
    slope = float(np.dot(away, pressures) / np.dot(away, away))
    return max(0.0, float(pressures.mean() - slope * x.mean()))
