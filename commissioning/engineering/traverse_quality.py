"""How good a traverse plane was, and how far that widens the uncertainty of its average velocity.

Nothing is refused: whatever grid was read is accepted, each shortcoming becomes a remark, and each remark adds
its term to the standard uncertainty of the plane. The sizes of the terms are common practice, no source: they
are set so that a good plane with a usual gauge comes to about +-5 % (k = 2) and a poor one to +-10 % or more.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.guards import FloatArray, FloatOrArray, within

GOOD_PLANE_RELATIVE_UNCERTAINTY = 0.02
FEWEST_POINTS = 16
UPSTREAM_DIAMETERS = 7.5
DOWNSTREAM_DIAMETERS = 3.0
LEAST_SHARE_ABOVE_TENTH = 0.75
LARGEST_MAX_TO_MEAN = 2.0


@dataclass(frozen=True, slots=True)
class Remark:
    """One shortcoming of a traverse plane.

    Attributes:
        code: short name, stable.
        sentence: what was noticed, for a reader.
        relative_standard_uncertainty: what it adds, in quadrature, to the plane's own [-].
    """

    code: str
    sentence: str
    relative_standard_uncertainty: float


@dataclass(frozen=True, slots=True)
class TraverseQuality:
    """What the readings of a plane say about the plane.

    Attributes:
        points: number of points read.
        share_above_tenth_of_max: share of velocity pressures above a tenth of the largest [-].
        passes_75_percent_rule: that share is at least 0.75.
        reverse_points: points with a negative reading.
        max_to_mean: largest velocity over the mean velocity [-].
        points_below_resolution: points whose velocity pressure is below the gauge's resolution; None if not asked.
        remarks: the shortcomings, worst first.
        relative_standard_uncertainty: of the average velocity by the plane alone (k = 1) [-].
    """

    points: int
    share_above_tenth_of_max: float
    passes_75_percent_rule: bool
    reverse_points: int
    max_to_mean: float
    points_below_resolution: int | None
    remarks: tuple[Remark, ...]
    relative_standard_uncertainty: float


def traverse_quality(
    *,
    velocity_pressures_pa: FloatOrArray | None = None,
    velocities_m_s: FloatOrArray | None = None,
    resolution_pa: float | None = None,
    straight_upstream_diameters: float | None = None,
    straight_downstream_diameters: float | None = None,
    points: int | None = None,
) -> TraverseQuality:
    """Judge the plane of a traverse from its readings and its place in the duct.

    A good plane has at least 75 % of its velocity pressures above a tenth of the largest, no reverse flow, a
    largest velocity of at most twice the mean, readings above the gauge's resolution, as many points as its
    rule asks for, and 7.5 diameters of straight duct before and 3 after. Each shortcoming adds to the standard
    uncertainty in quadrature:

        u = sqrt(0.02^2 + sum of the remarks' terms squared)

    Args:
        velocity_pressures_pa: reading of every point [Pa], in any order and shape; or
        velocities_m_s: velocity at every point [m/s], by a vane or thermal probe; exactly one of the two.
        resolution_pa: smallest step of the gauge [Pa]; None if not known. Only for pressures.
        straight_upstream_diameters: straight duct before the plane [hydraulic diameters]; None if not stated.
        straight_downstream_diameters: straight duct after the plane [hydraulic diameters]; None if not stated.
        points: points that the grid's rule asks for [-]; 16 by default.

    Raises:
        ValueError: none or both kinds of readings are given, or there is no point.
        OutOfRange: a length or the resolution is negative, or a reading is not a number.

    Source: 75 % rule of AMCA 203 as coded in the open fan field-test library of the US DOE; 7.5 and 3
    diameters of ASHRAE 111 (from memory). Sizes of the terms: common practice, no source.

    Example:
        >>> quality = traverse_quality(
        ...     velocity_pressures_pa=np.full(25, 40.0), straight_upstream_diameters=8.0)
        >>> quality.remarks, quality.relative_standard_uncertainty
        ((), 0.02)
    """
    pressures, velocities = _readings(velocity_pressures_pa, velocities_m_s)
    largest, mean = float(pressures.max()), float(velocities.mean())
    share = int(np.count_nonzero(pressures > 0.1 * largest)) / pressures.size if largest > 0.0 else 0.0
    max_to_mean = float(velocities.max()) / mean if mean > 0.0 else math.inf
    reverse = int(np.count_nonzero(pressures < 0.0))
    below = None
    if resolution_pa is not None and velocity_pressures_pa is not None:
        step = within("resolution", resolution_pa, 0.0, 1000.0, "Pa").item()
        below = int(np.count_nonzero(np.abs(pressures) < step))
    remarks = [
        *_remarks_on_profile(share, reverse, max_to_mean),
        *_remarks_on_reading(pressures.size, points or FEWEST_POINTS, below),
        *_remarks_on_place(straight_upstream_diameters, straight_downstream_diameters),
    ]
    remarks.sort(key=lambda remark: -remark.relative_standard_uncertainty)
    terms = (GOOD_PLANE_RELATIVE_UNCERTAINTY, *(remark.relative_standard_uncertainty for remark in remarks))
    return TraverseQuality(
        points=pressures.size,
        share_above_tenth_of_max=share,
        passes_75_percent_rule=share >= LEAST_SHARE_ABOVE_TENTH,
        reverse_points=reverse,
        max_to_mean=max_to_mean,
        points_below_resolution=below,
        remarks=tuple(remarks),
        relative_standard_uncertainty=math.hypot(*terms),
    )


def _readings(
    velocity_pressures_pa: FloatOrArray | None, velocities_m_s: FloatOrArray | None
) -> tuple[FloatArray, FloatArray]:
    """Pressures and velocities of the points, each known but for a constant factor."""
    if (velocity_pressures_pa is None) == (velocities_m_s is None):
        raise ValueError("give either velocity_pressures_pa or velocities_m_s")
    if velocity_pressures_pa is not None:
        pressures = within("velocity pressure", velocity_pressures_pa, -5000.0, 5000.0, "Pa").ravel()
        velocities = np.sqrt(np.maximum(pressures, 0.0))
    else:
        assert velocities_m_s is not None
        signed = within("velocity", velocities_m_s, -100.0, 100.0, "m/s").ravel()
        pressures, velocities = np.sign(signed) * signed**2, np.maximum(signed, 0.0)
    if pressures.size == 0:
        raise ValueError("a traverse needs at least one point")
    return pressures, velocities


def _remarks_on_profile(share: float, reverse_points: int, max_to_mean: float) -> Iterator[Remark]:
    if share < LEAST_SHARE_ABOVE_TENTH:
        yield Remark(
            "uneven",
            f"only {share:.0%} of the velocity pressures lie above a tenth of the largest; 75 % should",
            0.03 + 0.05 * (LEAST_SHARE_ABOVE_TENTH - share),
        )
    if reverse_points:
        yield Remark("reverse_flow", f"{reverse_points} of the points show reverse flow", 0.03)
    if max_to_mean > LARGEST_MAX_TO_MEAN:
        yield Remark("skewed", f"the largest velocity is {max_to_mean:.1f} times the mean", 0.03)


def _remarks_on_reading(points: int, asked: int, below: int | None) -> Iterator[Remark]:
    if points < asked:
        yield Remark(
            "too_few_points",
            f"{points} points were read; the grid asks for {asked}",
            0.04 * (1.0 - points / asked),
        )
    if below:
        yield Remark(
            "below_resolution",
            f"{below} of {points} readings lie below the resolution of the gauge",
            0.05 * below / points,
        )


def _remarks_on_place(upstream: float | None, downstream: float | None) -> Iterator[Remark]:
    if upstream is None:
        yield Remark("straight_length_not_stated", "the straight duct before the plane is not stated", 0.015)
    elif within("straight duct before the plane", upstream, 0.0, 1000.0, "D").item() < UPSTREAM_DIAMETERS:
        yield Remark(
            "short_upstream",
            f"{upstream:.1f} diameters of straight duct before the plane; 7.5 are usual",
            0.05 * (1.0 - upstream / UPSTREAM_DIAMETERS),
        )
    if downstream is None:
        return
    if within("straight duct after the plane", downstream, 0.0, 1000.0, "D").item() < DOWNSTREAM_DIAMETERS:
        yield Remark(
            "short_downstream",
            f"{downstream:.1f} diameters of straight duct after the plane; 3 are usual",
            0.02 * (1.0 - downstream / DOWNSTREAM_DIAMETERS),
        )
