"""A fan's published pressure over airflow at one speed, drawn through its points and scaled by the fan laws.

Only the falling part right of the last peak is used: left of it one pressure belongs to two airflows and the fan may
stall or surge. The points were measured in a laboratory with straight duct; what a poor inlet or outlet takes in the
field (system effect) is not in them, so an airflow found from the curve tends to be high.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.guards import FloatArray, FloatOrArray, plain, within

SPEED_RATIO_RANGE = (0.5, 1.5)
DENSITY_RANGE_KG_M3 = (0.3, 3.0)
CURVE_UNCERTAINTY = 0.05
LAST_BITS = 1e-9
SYSTEM_EFFECT_NOTE = "the curve knows nothing of the inlet and outlet of this installation, so the airflow may be high"


@dataclass(frozen=True, slots=True)
class FanCurve:
    """Points of one fan at one speed and one density.

    Attributes:
        speed_rpm: speed at which the points hold [rpm].
        density_kg_m3: density at which they hold [kg/m3].
        airflows_m3_s: airflows of the points, rising [m3/s].
        pressures_pa: fan pressure at each, all static or all total [Pa].
        slopes: slope of the curve at each [Pa s/m3].
        first: index of the point from which the pressure falls with every further point [-].
    """

    speed_rpm: float
    density_kg_m3: float
    airflows_m3_s: tuple[float, ...]
    pressures_pa: tuple[float, ...]
    slopes: tuple[float, ...]
    first: int

    def at(self, airflow_m3_s: FloatOrArray) -> FloatArray:
        """Pressure on the curve, by the cubic between two points; the airflow is taken as inside."""
        q, p, m = (np.array(values) for values in (self.airflows_m3_s, self.pressures_pa, self.slopes))
        x = np.asarray(airflow_m3_s, dtype=np.float64)
        i = np.clip(np.searchsorted(q, x, side="right") - 1, 0, q.size - 2)
        h = q[i + 1] - q[i]
        t = (x - q[i]) / h
        ends = (1.0 + 2.0 * t) * (1.0 - t) ** 2 * p[i] + t**2 * (3.0 - 2.0 * t) * p[i + 1]
        return np.asarray(ends + h * (t * (1.0 - t) ** 2 * m[i] + t**2 * (t - 1.0) * m[i + 1]))


@dataclass(frozen=True, slots=True)
class FanCurveAirflow:
    """What a fan curve says about an airflow.

    Attributes:
        airflow_m3_s: actual airflow at the fan [m3/s].
        standard_uncertainty_m3_s: of the airflow [m3/s].
        remark: what the number leaves out, in words.
    """

    airflow_m3_s: float
    standard_uncertainty_m3_s: float
    remark: str


def fan_curve(
    *, airflows_m3_s: FloatOrArray, pressures_pa: FloatOrArray, speed_rpm: float, density_kg_m3: float = 1.2
) -> FanCurve:
    """Return a fan's curve through the points that its maker or a laboratory publishes for one speed.

    Between two points a cubic whose slopes keep it from overshooting: where the points fall, the curve falls.

        m_i = (w1 + w2) / (w1 / d_(i-1) + w2 / d_i),  w1 = 2 h_i + h_(i-1),  w2 = h_i + 2 h_(i-1),  0 at a peak

    Args:
        airflows_m3_s: airflows of the points [m3/s], three or more, rising, 0 to 2000.
        pressures_pa: fan pressure at each [Pa], 0 to 20 000; all static or all total.
        speed_rpm: speed for which the points hold [rpm], 1 to 20 000.
        density_kg_m3: density for which the points hold [kg/m3], 0.3 to 3.

    Raises:
        OutOfRange: an argument lies outside.
        ValueError: fewer than three points, airflows that do not rise, or no falling part at the end.

    Source: Fritsch and Butland 1984 (monotone cubic interpolation), checked against an open library.

    Example:
        >>> curve = fan_curve(airflows_m3_s=np.array([0.0, 1.0, 2.0, 3.0]),
        ...     pressures_pa=np.array([480.0, 500.0, 400.0, 100.0]), speed_rpm=1000.0)
        >>> curve.first, round(curve.at(2.5).item(), 1)
        (1, 281.2)
    """
    flows = np.atleast_1d(within("airflow of a point", airflows_m3_s, 0.0, 2000.0, "m3/s"))
    pressures = np.atleast_1d(within("pressure of a point", pressures_pa, 0.0, 20_000.0, "Pa"))
    speed = within("speed", speed_rpm, 1.0, 20_000.0, "rpm").item()
    density = within("density", density_kg_m3, *DENSITY_RANGE_KG_M3, "kg/m3").item()
    if flows.shape != pressures.shape or flows.ndim != 1 or flows.size < 3 or np.any(np.diff(flows) <= 0.0):
        raise ValueError("a fan curve needs three or more points of rising airflow, each with its pressure")
    rising = np.flatnonzero(np.diff(pressures) >= 0.0)
    first = int(rising[-1]) + 1 if rising.size else 0
    if first == flows.size - 1:
        raise ValueError("the pressure does not fall towards the largest airflow: are the points in the right columns?")
    slopes = _slopes(np.diff(flows), np.diff(pressures) / np.diff(flows))
    return FanCurve(speed, density, tuple(flows.tolist()), tuple(pressures.tolist()), tuple(slopes.tolist()), first)


def fan_pressure_pa(
    *, curve: FanCurve, airflow_m3_s: FloatOrArray, speed_rpm: FloatOrArray, density_kg_m3: FloatOrArray = 1.2
) -> FloatOrArray:
    """Return the pressure that a fan gives at an airflow, at another speed and density than its curve's.

        p = g n^2 f(q / n),  n = N / N0,  g = rho / rho0

    Args:
        curve: the fan's curve f at N0 and rho0.
        airflow_m3_s: actual airflow q [m3/s]; q/n on the falling part of the curve.
        speed_rpm: speed N [rpm], 0.5 to 1.5 of the curve's.
        density_kg_m3: density rho of the air at the fan [kg/m3], 0.3 to 3.

    Raises:
        OutOfRange: an argument lies outside, or the airflow is left of the falling part, or beyond the last point.

    Source: the fan laws; their range for one wheel's curve is common practice, no source.

    Example:
        >>> curve = fan_curve(airflows_m3_s=np.array([0.0, 1.0, 2.0, 3.0]),
        ...     pressures_pa=np.array([480.0, 500.0, 400.0, 100.0]), speed_rpm=1000.0)
        >>> round(fan_pressure_pa(curve=curve, airflow_m3_s=1.6, speed_rpm=800.0), 6)
        256.0
    """
    n, g = scale(curve, speed_rpm, density_kg_m3)
    low, high = curve.airflows_m3_s[curve.first], curve.airflows_m3_s[-1]
    ends = low * n * (1.0 - LAST_BITS), high * n * (1.0 + LAST_BITS)
    flow = within("airflow on the falling part of the curve", airflow_m3_s, *ends, "m3/s")
    return plain(g * n**2 * curve.at(np.clip(flow / n, low, high)))


def fan_curve_airflow(
    *,
    curve: FanCurve,
    pressure_pa: float,
    speed_rpm: float,
    density_kg_m3: float = 1.2,
    pressure_standard_uncertainty_pa: float = 0.0,
    speed_standard_uncertainty_rpm: float = 0.0,
) -> FanCurveAirflow:
    """Return the airflow that a fan's curve gives at a measured speed and fan pressure, with its uncertainty.

        q = n f^-1(p / (g n^2)),  n = N / N0,  g = rho / rho0
        u^2 = (c q)^2 + (u_p dq/dp)^2 + (u_N (q - 2 p dq/dp) / N)^2,  c = 0.05,  dq/dp < 0

    A speed read high reads the airflow high twice over: by the airflow's scale and by the pressure's. Where the curve
    is flat a small error of pressure is a large one of airflow; the uncertainty says so.

    Args:
        curve: the fan's curve f at N0 and rho0, of the same kind of pressure as was measured.
        pressure_pa: measured fan pressure p [Pa], on the falling part of the curve; in stall it is refused.
        speed_rpm: measured speed N [rpm], 0.5 to 1.5 of the curve's.
        density_kg_m3: density rho of the air at the fan [kg/m3], 0.3 to 3.
        pressure_standard_uncertainty_pa: u_p [Pa], 0 to 1000.
        speed_standard_uncertainty_rpm: u_N [rpm], 0 to 1000.

    Raises:
        OutOfRange: an argument lies outside, or the pressure is above the peak (the fan would be in stall, or the
            reading or the curve is another fan's) or below the last point of the curve.

    Source: the fan laws; the 5 % of the airflow for the curve itself is common practice, no source.

    Example:
        >>> curve = fan_curve(airflows_m3_s=np.array([0.0, 1.0, 2.0, 3.0]),
        ...     pressures_pa=np.array([480.0, 500.0, 400.0, 100.0]), speed_rpm=1000.0)
        >>> found = fan_curve_airflow(curve=curve, pressure_pa=256.0, speed_rpm=800.0)
        >>> round(found.airflow_m3_s, 6), round(found.standard_uncertainty_m3_s, 6)
        (1.6, 0.08)
    """
    n, g = (float(one) for one in scale(curve, speed_rpm, density_kg_m3))
    peak, least = curve.pressures_pa[curve.first] * g * n**2, curve.pressures_pa[-1] * g * n**2
    pressure = within("pressure on the falling part of the curve", pressure_pa, least, peak, "Pa").item()
    u_p = within("uncertainty of pressure", pressure_standard_uncertainty_pa, 0.0, 1000.0, "Pa").item()
    u_n = within("uncertainty of speed", speed_standard_uncertainty_rpm, 0.0, 1000.0, "rpm").item()
    flow = _falling_root(curve, pressure / (g * n**2)) * n
    step = 1e-3 * (curve.airflows_m3_s[-1] - curve.airflows_m3_s[curve.first]) * n
    low, high = max(flow - step, curve.airflows_m3_s[curve.first] * n), min(flow + step, curve.airflows_m3_s[-1] * n)
    steep = g * n**2 * (curve.at(low / n) - curve.at(high / n)) / (high - low)
    per_pascal = 1.0 / max(float(steep), 1e-12)
    u = np.linalg.norm(
        [
            CURVE_UNCERTAINTY * flow,
            u_p * per_pascal,
            u_n * (flow + 2.0 * pressure * per_pascal) / speed_rpm,
        ]
    )
    return FanCurveAirflow(flow, float(u), SYSTEM_EFFECT_NOTE)


def scale(curve: FanCurve, speed_rpm: FloatOrArray, density_kg_m3: FloatOrArray) -> tuple[FloatArray, FloatArray]:
    """Return the ratio of speeds n and of densities g by which a curve is scaled.

        n = N / N0,  g = rho / rho0

    Args:
        curve: the fan's curve at N0 and rho0.
        speed_rpm: N [rpm], 0.5 to 1.5 of the curve's.
        density_kg_m3: rho [kg/m3], 0.3 to 3.

    Raises:
        OutOfRange: an argument lies outside.

    Source: the fan laws; the range is common practice, no source.

    Example:
        >>> curve = fan_curve(airflows_m3_s=np.array([0.0, 1.0, 2.0]), pressures_pa=np.array([500.0, 400.0, 100.0]),
        ...     speed_rpm=1000.0)
        >>> n, g = scale(curve, 900.0, 1.08)
        >>> round(n.item(), 6), round(g.item(), 6)
        (0.9, 0.9)
    """
    low, high = (end * curve.speed_rpm for end in SPEED_RATIO_RANGE)
    n = within("speed", speed_rpm, low, high, "rpm") / curve.speed_rpm
    return n, within("density", density_kg_m3, *DENSITY_RANGE_KG_M3, "kg/m3") / curve.density_kg_m3


def root_between(function: Callable[[float], float], low: float, high: float) -> float:
    """Return where a function that falls from low to high passes through zero, by halving the interval.

    Args:
        function: callable of one number; 0 or more at low, 0 or less at high.
        low, high: ends of the interval [unit of the argument].

    Raises:
        ValueError: the function is below 0 at low or above 0 at high.

    Source: bisection; a hundred halvings leave nothing of an interval but the last bit.

    Example:
        >>> round(root_between(lambda x: 2.0 - x * x, 0.0, 2.0), 12)
        1.414213562373
    """
    at_low, at_high = function(low), function(high)
    if at_low < 0.0 or at_high > 0.0:
        raise ValueError(f"no root between {low:g} and {high:g}: the values there are {at_low:g} and {at_high:g}")
    for _ in range(100):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if function(middle) >= 0.0 else (low, middle)
    return 0.5 * (low + high)


def _falling_root(curve: FanCurve, pressure_pa: float) -> float:
    low, high = curve.airflows_m3_s[curve.first], curve.airflows_m3_s[-1]
    wanted = min(max(pressure_pa, curve.pressures_pa[-1]), curve.pressures_pa[curve.first])
    return root_between(lambda q: float(curve.at(q)) - wanted, low, high)


def _slopes(steps: FloatArray, secants: FloatArray) -> FloatArray:
    before, after = secants[:-1], secants[1:]
    w1, w2 = 2.0 * steps[1:] + steps[:-1], steps[1:] + 2.0 * steps[:-1]
    same = before * after > 0.0
    safe_before, safe_after = np.where(same, before, 1.0), np.where(same, after, 1.0)
    inner = np.where(same, (w1 + w2) / (w1 / safe_before + w2 / safe_after), 0.0)
    first = _end_slope(steps[0], steps[1], secants[0], secants[1])
    last = _end_slope(steps[-1], steps[-2], secants[-1], secants[-2])
    return np.concatenate([[first], inner, [last]])


def _end_slope(step: float, next_step: float, secant: float, next_secant: float) -> float:
    """Of the parabola through the last three points, kept from turning round."""
    slope = ((2.0 * step + next_step) * secant - step * next_secant) / (step + next_step)
    if slope * secant <= 0.0:
        return 0.0
    if secant * next_secant <= 0.0 and abs(slope) > 3.0 * abs(secant):
        return 3.0 * secant
    return float(slope)
