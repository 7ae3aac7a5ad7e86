"""Airflow from the pressure drop of a core, filter or coil, through its rated points; and when it may not be used.

`rated_curve` parts the drop into what goes with viscosity (laminar) and what goes with density (turbulent): it rises
everywhere and holds in other air than that of the rating. `pressure_drop_curve` is the plain power law, for where one
point and an exponent are all that is known. Either holds for the part clean and dry, with no bypass and no frost; a
leaking bypass makes it read low. Take it as +-10 % or worse.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.doubt import Doubt
from commissioning.engineering.guards import FloatOrArray, plain, within

RELATIVE_EXPANDED_UNCERTAINTY = 0.10
LARGEST_MISS = 0.05
BELOW_LEAST_RATED = 0.5
ABOVE_MOST_RATED = 1.2
STEPS_OF_THE_GAUGE = 10.0
EXPONENT_RANGE = (1.0, 2.0)


@dataclass(frozen=True, slots=True)
class PressureDropCurve:
    """A pressure drop that goes with a power of the airflow.

    Attributes:
        airflow_m3_s: airflow at one point of the curve [m3/s].
        pressure_drop_pa: pressure drop there [Pa].
        exponent: n in dp ~ q^n [-], 1 laminar to 2 turbulent.
    """

    airflow_m3_s: float
    pressure_drop_pa: float
    exponent: float


def pressure_drop_curve(*, airflows_m3_s: FloatOrArray, pressure_drops_pa: FloatOrArray) -> PressureDropCurve:
    """Return the power law through two or more rated points, by least squares on logarithms.

        ln dp = a + n ln q

    Args:
        airflows_m3_s: rated airflows q [m3/s], two or more different ones, above 0.
        pressure_drops_pa: rated pressure drops dp [Pa], rising with the airflow.

    Raises:
        OutOfRange: the exponent does not come to 1 to 2, or a point is not above 0.
        ValueError: fewer than two different airflows.

    Source: common practice, no source.

    Example:
        >>> curve = pressure_drop_curve(airflows_m3_s=np.array([0.5, 1.0]), pressure_drops_pa=np.array([50.0, 150.0]))
        >>> round(curve.exponent, 3)
        1.585
    """
    flows = np.atleast_1d(within("rated airflow", airflows_m3_s, 1e-6, 2000.0, "m3/s"))
    drops = np.atleast_1d(within("rated pressure drop", pressure_drops_pa, 1e-3, 10_000.0, "Pa"))
    if flows.shape != drops.shape or np.unique(flows).size < 2:
        raise ValueError("a curve needs two or more points of different airflow, each with its pressure drop")
    x, y = np.log(flows), np.log(drops)
    exponent = float(np.sum((x - x.mean()) * (y - y.mean())) / np.sum((x - x.mean()) ** 2))
    within("exponent", exponent, EXPONENT_RANGE[0] - 1e-9, EXPONENT_RANGE[1] + 1e-9, "")
    return PressureDropCurve(float(np.exp(x.mean())), float(np.exp(y.mean())), exponent)


def pressure_drop_airflow_m3_s(
    *,
    pressure_drop_pa: FloatOrArray,
    rated_airflow_m3_s: FloatOrArray,
    rated_pressure_drop_pa: FloatOrArray,
    exponent: FloatOrArray,
    density_ratio: FloatOrArray = 1.0,
    viscosity_ratio: FloatOrArray = 1.0,
) -> FloatOrArray:
    """Return the actual airflow through a core, filter or coil from its pressure drop.

        dp = dp_r (mu/mu_r)^(2 - n) (rho/rho_r)^(n - 1) (q/q_r)^n, solved for q

    At n = 1 (laminar) the viscosity alone counts, at n = 2 (turbulent) the density alone.

    Args:
        pressure_drop_pa: measured dp [Pa], 0 to 10 000; clean, dry, bypass closed, no frost.
        rated_airflow_m3_s: q_r [m3/s], above 0.
        rated_pressure_drop_pa: dp_r [Pa], above 0.
        exponent: n [-], 1 to 2; from two or more rated points by `pressure_drop_curve`, never assumed 2.
        density_ratio: rho/rho_r, now over rated [-], 0.5 to 2.
        viscosity_ratio: mu/mu_r, now over rated [-], 0.5 to 2.

    Raises:
        OutOfRange: an argument lies outside.

    Source: power law between the laminar and turbulent limits; common practice, no source.

    Example:
        >>> round(pressure_drop_airflow_m3_s(pressure_drop_pa=62.0, rated_airflow_m3_s=1.0,
        ...     rated_pressure_drop_pa=80.0, exponent=1.8), 4)
        0.868
    """
    n = within("exponent", exponent, *EXPONENT_RANGE, "")
    drop = within("pressure drop", pressure_drop_pa, 0.0, 10_000.0, "Pa")
    rated_drop = within("rated pressure drop", rated_pressure_drop_pa, 1e-3, 10_000.0, "Pa")
    rated = within("rated airflow", rated_airflow_m3_s, 1e-6, 2000.0, "m3/s")
    density = within("ratio of densities", density_ratio, 0.5, 2.0, "")
    viscosity = within("ratio of viscosities", viscosity_ratio, 0.5, 2.0, "")
    reduced = drop / (rated_drop * viscosity ** (2.0 - n) * density ** (n - 1.0))
    return plain(rated * reduced ** (1.0 / n))


@dataclass(frozen=True, slots=True)
class RatedCurve:
    """A pressure drop in two parts, through the rated points of a core, filter or coil.

    Attributes:
        viscous: A, of the part that goes with viscosity and airflow [Pa/(m3/s)].
        inertial: B, of the part that goes with density and the airflow's square [Pa/(m3/s)2].
        least_airflow_m3_s: least rated airflow [m3/s].
        most_airflow_m3_s: largest rated airflow [m3/s].
        largest_miss: largest relative distance of a rated pressure drop from the curve [-].
    """

    viscous: float
    inertial: float
    least_airflow_m3_s: float
    most_airflow_m3_s: float
    largest_miss: float


def rated_curve(*, airflows_m3_s: FloatOrArray, pressure_drops_pa: FloatOrArray) -> RatedCurve:
    """Return the curve of two parts through two or more rated points, by least squares of the relative distances.

        dp = A q + B q^2,  A >= 0,  B >= 0

    It passes through two points exactly and rises everywhere.

    Args:
        airflows_m3_s: rated airflows q [m3/s], two or more different ones, above 0.
        pressure_drops_pa: rated pressure drops dp at them [Pa], above 0.

    Raises:
        OutOfRange: by a power law the points would not have an exponent of 1 to 2, or a point is not above 0.
        ValueError: fewer than two different airflows.

    Source: Darcy and Forchheimer; common practice, no source.

    Example:
        >>> curve = rated_curve(airflows_m3_s=np.array([0.5, 1.0]), pressure_drops_pa=np.array([50.0, 150.0]))
        >>> round(curve.viscous, 9), round(curve.inertial, 9)
        (50.0, 100.0)
    """
    pressure_drop_curve(airflows_m3_s=airflows_m3_s, pressure_drops_pa=pressure_drops_pa)
    flows, drops = np.atleast_1d(np.asarray(airflows_m3_s, dtype=np.float64)), np.atleast_1d(pressure_drops_pa)
    parts = np.column_stack([flows / drops, flows**2 / drops])
    viscous, inertial = (float(part) for part in np.linalg.lstsq(parts, np.ones(flows.size), rcond=None)[0])
    if inertial < 0.0:
        viscous, inertial = float(parts[:, 0].sum() / (parts[:, 0] ** 2).sum()), 0.0
    elif viscous < 0.0:
        viscous, inertial = 0.0, float(parts[:, 1].sum() / (parts[:, 1] ** 2).sum())
    miss = float(np.max(np.abs(parts @ np.array([viscous, inertial]) - 1.0)))
    return RatedCurve(viscous, inertial, float(flows.min()), float(flows.max()), miss)


def rated_curve_airflow_m3_s(
    *,
    curve: RatedCurve,
    pressure_drop_pa: FloatOrArray,
    density_ratio: FloatOrArray = 1.0,
    viscosity_ratio: FloatOrArray = 1.0,
) -> FloatOrArray:
    """Return the actual airflow through a core, filter or coil from its pressure drop, in air other than rated too.

        dp = A (mu / mu_r) q + B (rho / rho_r) q^2, solved for q

    Args:
        curve: through the rated points.
        pressure_drop_pa: measured dp [Pa], 0 to 10 000; clean, dry, bypass closed, no frost.
        density_ratio: rho/rho_r, now over rated [-], 0.5 to 2.
        viscosity_ratio: mu/mu_r, now over rated [-], 0.5 to 2.

    Raises:
        OutOfRange: an argument lies outside.

    Source: Darcy and Forchheimer; common practice, no source.

    Example:
        >>> curve = rated_curve(airflows_m3_s=np.array([0.5, 1.0]), pressure_drops_pa=np.array([50.0, 150.0]))
        >>> round(rated_curve_airflow_m3_s(curve=curve, pressure_drop_pa=100.0), 4)
        0.7808
    """
    drop = within("pressure drop", pressure_drop_pa, 0.0, 10_000.0, "Pa")
    a = curve.viscous * within("ratio of viscosities", viscosity_ratio, 0.5, 2.0, "")
    b = curve.inertial * within("ratio of densities", density_ratio, 0.5, 2.0, "")
    below = a + np.sqrt(a**2 + 4.0 * b * drop)
    return plain(np.where(drop > 0.0, 2.0 * drop / np.where(below > 0.0, below, 1.0), 0.0))


def pressure_drop_doubts(
    *,
    curve: RatedCurve,
    airflow_m3_s: float,
    pressure_drop_pa: float,
    resolution_pa: float | None = None,
    clean: bool | None = None,
    dry: bool | None = None,
    bypass_closed: bool | None = None,
    frosted: bool | None = None,
) -> tuple[Doubt, ...]:
    """Return every reason why an airflow by a pressure drop is not to be used; none means that it may be.

        rated range: 0.5 q_least <= q <= 1.2 q_most;  signal: dp >= 10 steps of the gauge (then a step is 5 % of q)

    A state that was not recorded (None) is a reason too, but for what a part cannot have: give the good state there.

    Args:
        curve: through the rated points.
        airflow_m3_s: airflow found q [m3/s], 0 to 2000.
        pressure_drop_pa: measured dp [Pa], 0 to 10 000.
        resolution_pa: smallest step of the gauge [Pa], 0 or more; None if not known.
        clean: no dirt, and the filters of the rating.
        dry: no condensate on a coil or core.
        bypass_closed: no bypass open beside it.
        frosted: frost on it, or a defrost going on.

    Raises:
        OutOfRange: an argument lies outside.

    Source: common practice, no source.

    Example:
        >>> curve = rated_curve(airflows_m3_s=np.array([0.5, 1.0]), pressure_drops_pa=np.array([50.0, 150.0]))
        >>> doubts = pressure_drop_doubts(curve=curve, airflow_m3_s=0.78, pressure_drop_pa=100.0, resolution_pa=1.0,
        ...     clean=True, dry=True, bypass_closed=False, frosted=False)
        >>> [doubt.code for doubt in doubts]
        ['bypass']
    """
    flow = within("airflow", airflow_m3_s, 0.0, 2000.0, "m3/s").item()
    drop = within("pressure drop", pressure_drop_pa, 0.0, 10_000.0, "Pa").item()
    step = 0.0 if resolution_pa is None else within("resolution", resolution_pa, 0.0, 1000.0, "Pa").item()
    return (
        *_doubts_on_curve(curve, flow),
        *_doubts_on_signal(drop, None if resolution_pa is None else step),
        *_doubts_on_part(clean, dry, bypass_closed, frosted),
    )


def _doubts_on_curve(curve: RatedCurve, flow: float) -> Iterator[Doubt]:
    if curve.largest_miss > LARGEST_MISS:
        yield Doubt(
            "points_do_not_fit", f"a rated point lies {curve.largest_miss:.0%} off the curve through all of them"
        )
    low, high = BELOW_LEAST_RATED * curve.least_airflow_m3_s, ABOVE_MOST_RATED * curve.most_airflow_m3_s
    if not low <= flow <= high:
        yield Doubt("beyond_rated_points", "the airflow lies far beyond the rated points")


def _doubts_on_signal(drop: float, step: float | None) -> Iterator[Doubt]:
    if step is None:
        yield Doubt("resolution_not_recorded", "the resolution of the gauge was not recorded")
    elif drop < STEPS_OF_THE_GAUGE * step:
        yield Doubt("small_signal", f"{drop:.1f} Pa is too little for a gauge that steps by {step:g} Pa")


def _doubts_on_part(
    clean: bool | None, dry: bool | None, bypass_closed: bool | None, frosted: bool | None
) -> Iterator[Doubt]:
    states = (
        (clean, True, "dirt", "it was not clean", "whether it was clean"),
        (dry, True, "wet", "it was wet", "whether it was dry"),
        (bypass_closed, True, "bypass", "a bypass beside it was open", "whether a bypass was closed"),
        (frosted, False, "frost", "it was frosted or defrosting", "frost"),
    )
    for state, wanted, code, sentence, subject in states:
        if state is None:
            yield Doubt(f"{code}_not_recorded", f"{subject} was not recorded")
        elif state is not wanted:
            yield Doubt(code, sentence)
