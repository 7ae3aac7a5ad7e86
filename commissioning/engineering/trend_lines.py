"""Lines and differences out of trend logs: a reset line measured, two sensors compared, a ratio over time.

Samples of a log follow one another, so n of them say less than n would. Uncertainties here are of blocks of time, or
widened by how much the residuals follow one another; they say how well the log tells the figure, not how good the
sensors are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.guards import FloatArray, OutOfRange
from commissioning.engineering.signals import Signal, level_at
from commissioning.engineering.temporal import Claim

LEAST_BLOCKS = 3


@dataclass(frozen=True, slots=True)
class Average:
    """A quantity averaged over what was logged under a condition.

    Attributes:
        value: the mean [unit of the quantity].
        uncertainty: standard uncertainty of it by blocks of time [unit of the quantity]; infinite below three blocks.
        lasting_s: how long the condition held and the quantity was known [s].
        from_s: where that was first so [s].
        to_s: where it was so last [s].
    """

    value: float
    uncertainty: float
    lasting_s: float
    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line through logged pairs.

    Attributes:
        at: middle of the x that were used [unit of x].
        level: y of the line there [unit of y].
        slope: of the line [unit of y per unit of x].
        level_uncertainty: standard uncertainty of the level [unit of y].
        slope_uncertainty: standard uncertainty of the slope [unit of y per unit of x].
        residual: standard deviation of y about the line [unit of y].
        low: least x that was used [unit of x].
        high: largest x that was used [unit of x].
        pairs: how many there were.
    """

    at: float
    level: float
    slope: float
    level_uncertainty: float
    slope_uncertainty: float
    residual: float
    low: float
    high: float
    pairs: int

    def y(self, x: float) -> float:
        """The line at x."""
        return self.level + self.slope * (x - self.at)

    def y_uncertainty(self, x: float) -> float:
        """Standard uncertainty of the line at x."""
        return math.hypot(self.level_uncertainty, self.slope_uncertainty * (x - self.at))


def at_steps(*, signals: list[Signal], step_s: float) -> tuple[FloatArray, list[FloatArray]]:
    """Return the levels of signals at equal steps over the time in which all are logged; not a number in gaps.

    Args:
        signals: one or more.
        step_s: the step [s], above 0.

    Raises:
        OutOfRange: the step is not above 0.
        ValueError: they are logged at no time together.

    Source: common practice, no source.

    Example:
        >>> a = Signal(np.array([0.0, 10.0, 20.0]), np.array([1.0, 2.0]))
        >>> b = Signal(np.array([5.0, 15.0, 30.0]), np.array([7.0, 8.0]))
        >>> times, levels = at_steps(signals=[a, b], step_s=5.0)
        >>> times.tolist(), [one.tolist() for one in levels]
        ([5.0, 10.0, 15.0], [[1.0, 2.0, 2.0], [7.0, 7.0, 8.0]])
    """
    if not 0.0 < step_s < math.inf:
        raise OutOfRange("step", step_s, 0.0, math.inf, "s")
    begin = max(float(one.times_s[0]) for one in signals)
    end = min(float(one.times_s[-1]) for one in signals)
    if not begin < end:
        raise ValueError("the signals are logged at no time together")
    times: FloatArray = begin + step_s * np.arange(math.ceil((end - begin) / step_s), dtype=np.float64)
    return times, [level_at(signal=one, at_s=times) for one in signals]


def holds_at(*, claim: Claim, at_s: FloatArray) -> np.ndarray:
    """Return whether a claim holds for certain at given times; not where it is not logged.

    Args:
        claim: the claim.
        at_s: times, any order [s].

    Source: common practice, no source.

    Example:
        >>> from commissioning.engineering.temporal import is_on
        >>> log = Signal(np.array([0.0, 10.0, 20.0]), np.array([0.0, 1.0]))
        >>> holds_at(claim=is_on(signal=log), at_s=np.array([5.0, 10.0, 25.0])).tolist()
        [False, True, False]
    """
    least = level_at(signal=Signal(claim.times_s, claim.least), at_s=at_s)
    held: np.ndarray = np.nan_to_num(least, nan=-math.inf) >= 0.0
    return held


def block_average(*, times_s: FloatArray, values: FloatArray, block_s: float) -> Average | None:
    """Return the mean of logged values and how well blocks of time agree on it; None where nothing is known.

        u = s(means of blocks) / sqrt(number of blocks), blocks weighted alike

    Args:
        times_s: equally spaced times, rising [s].
        values: at these times [unit of the quantity]; not a number where it does not count.
        block_s: length of a block [s], above 0.

    Raises:
        ValueError: not one value for each time, fewer than two, or times that do not rise.
        OutOfRange: the block is not above 0.

    Source: batch means, J. Banks et al., Discrete-Event System Simulation, ch. 11; from memory.

    Example:
        >>> times = np.arange(0.0, 60.0, 10.0)
        >>> found = block_average(times_s=times, values=np.array([1.0, 1.0, 2.0, 2.0, 3.0, 3.0]), block_s=20.0)
        >>> found.value, round(found.uncertainty, 4), found.lasting_s
        (2.0, 0.5774, 60.0)
    """
    if not 0.0 < block_s < math.inf:
        raise OutOfRange("block", block_s, 0.0, math.inf, "s")
    if times_s.ndim != 1 or values.shape != times_s.shape or times_s.size < 2:
        raise ValueError("an average is of two values or more, one for each time")
    if not bool(np.all(np.diff(times_s) > 0.0)):
        raise ValueError("the times of an average rise")
    known = np.isfinite(values)
    if not known.any():
        return None
    at, y = times_s[known], values[known]
    step = float(times_s[1] - times_s[0])
    _, block = np.unique(np.floor((at - times_s[0]) / block_s), return_inverse=True)
    means = np.bincount(block, weights=y) / np.bincount(block)
    spread = float(means.std(ddof=1) / math.sqrt(means.size)) if means.size >= LEAST_BLOCKS else math.inf
    return Average(float(y.mean()), spread, at.size * step, float(at[0]), float(at[-1]) + step)


def straight_line(*, x: FloatArray, y: FloatArray) -> Line:
    """Return the straight line through pairs in the order of time, with uncertainties.

        least squares; variances times (1 + r) / (1 - r), r the correlation of each residual with the one before

    Args:
        x: in the order of time [unit of x]; pairs with what is no number are left out.
        y: for each x [unit of y].

    Raises:
        ValueError: not one y for each x, fewer than ten pairs, or x that do not differ.

    Source: JCGM 100:2008 H.3 (least squares). Correction for correlated residuals: common practice, no source.

    Example:
        >>> found = straight_line(x=np.arange(12.0), y=3.0 + 2.0 * np.arange(12.0))
        >>> round(found.slope, 9), round(found.y(0.0), 9), found.pairs
        (2.0, 3.0, 12)
    """
    if x.ndim != 1 or y.shape != x.shape:
        raise ValueError("a line has one y for each x")
    known = np.isfinite(x) & np.isfinite(y)
    a, b = x[known], y[known]
    if a.size < 10:
        raise ValueError(f"a line needs ten pairs or more, and {a.size} are known")
    at = float(a.mean())
    off = a - at
    spread = float(off @ off)
    if not spread > 0.0:
        raise ValueError("a line needs x that differ")
    slope, level = float(off @ b) / spread, float(b.mean())
    left = b - level - slope * off
    square = float(left @ left)
    variance = square / (a.size - 2)
    follows = min(max(float(left[1:] @ left[:-1]) / square, 0.0), 0.98) if square > 0.0 else 0.0
    widened = variance * (1.0 + follows) / (1.0 - follows)
    return Line(
        at,
        level,
        slope,
        math.sqrt(widened / a.size),
        math.sqrt(widened / spread),
        math.sqrt(variance),
        float(a.min()),
        float(a.max()),
        int(a.size),
    )
