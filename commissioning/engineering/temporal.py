"""Claims over time and by what margin they hold: the robustness of signal temporal logic, with what is unknown kept.

A claim says at each time by how much something holds: above 0 it holds, below 0 it does not, in the unit of what it
is about. Where the log has a gap the margin is only known to lie between two bounds, from minus to plus infinity; the
bounds are carried through every step, so that a verdict rests on what was logged and never on what was not.

A state that is on or off has no margin of its own; it holds or fails by infinity.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.guards import FloatArray, OutOfRange
from commissioning.engineering.signals import Signal, on_one_clock

HOLDS, FAILS, UNKNOWN = "holds", "fails", "unknown"


@dataclass(frozen=True, slots=True, eq=False)
class Claim:
    """Between which bounds the margin of a claim lies, from each time to the next.

    Attributes:
        times_s: where the margins begin, rising, and at last where the log ends [s].
        least: lower bound of the margin from each time on [unit of what is claimed].
        most: upper bound of it; the same where all is known [unit of what is claimed].
    """

    times_s: FloatArray
    least: FloatArray
    most: FloatArray


@dataclass(frozen=True, slots=True)
class Found:
    """What became of a claim over a stretch of time.

    Attributes:
        outcome: 'holds', 'fails', or 'unknown' where a gap decides.
        least: lower bound of the margin [unit of what is claimed].
        most: upper bound of it [unit of what is claimed].
        at_s: where it is closest to failing, or fails most [s].
        failing_s: how long it fails for certain, in all [s].
        unknown_s: how long it may hold or fail [s].
    """

    outcome: str
    least: float
    most: float
    at_s: float
    failing_s: float
    unknown_s: float


def in_band(*, signal: Signal, low: float = -math.inf, high: float = math.inf) -> Claim:
    """Return the claim that a signal stays between two levels; one of them may be left open.

        margin = min(x - low, high - x)

    Args:
        signal: x.
        low: lower level [unit of the signal], to the upper one.
        high: upper level [unit of the signal].

    Raises:
        OutOfRange: the lower level is above the upper.

    Source: O. Maler and D. Nickovic, Monitoring temporal properties of continuous signals (2004), as a robustness
    of A. Donze and O. Maler (2010); from memory.

    Example:
        >>> log = Signal(np.array([0.0, 10.0, 20.0]), np.array([21.0, 23.5]))
        >>> in_band(signal=log, low=20.0, high=23.0).least.tolist()
        [1.0, -0.5]
    """
    if not low <= high:
        raise OutOfRange("lower level of a band", low, -math.inf, high, "")
    return _known(signal.times_s, np.minimum(signal.levels - low, high - signal.levels))


def is_on(*, signal: Signal, above: float = 0.5) -> Claim:
    """Return the claim that a state is on: logged as more than a level. It holds or fails by infinity.

    Args:
        signal: the state, 0 and 1, or a command of which any above the level counts as on.
        above: that level [unit of the signal].

    Raises:
        OutOfRange: the level is no number.

    Source: common practice, no source.

    Example:
        >>> log = Signal(np.array([0.0, 10.0, 20.0, 30.0]), np.array([0.0, 1.0, np.nan]))
        >>> claim = is_on(signal=log)
        >>> claim.least.tolist(), claim.most.tolist()
        ([-inf, inf, -inf], [-inf, inf, inf])
    """
    if math.isnan(above):
        raise OutOfRange("level above which a state is on", above, -math.inf, math.inf, "")
    margin = np.where(signal.levels > above, math.inf, -math.inf)
    return _known(signal.times_s, np.where(np.isnan(signal.levels), np.nan, margin))


def follows_line(*, signal: Signal, over: Signal, line_x: FloatArray, line_y: FloatArray, tolerance: float) -> Claim:
    """Return the claim that a signal follows a line over another one, level beyond its ends.

        margin = tolerance - |y - line(x)|

    Args:
        signal: y.
        over: x.
        line_x: where the line has its points, rising [unit of over].
        line_y: the line at these points [unit of the signal].
        tolerance: how far it may be off [unit of the signal], 0 or more.

    Raises:
        ValueError: the points do not rise, or are not as many.
        OutOfRange: the tolerance is below 0.

    Source: geometry of a reset line; margin as for `in_band`.

    Example:
        >>> co2 = Signal(np.array([0.0, 10.0, 20.0]), np.array([700.0, 900.0]))
        >>> flow = Signal(np.array([0.0, 10.0, 20.0]), np.array([100.0, 130.0]))
        >>> ends = np.array([800.0, 1000.0])
        >>> claim = follows_line(signal=flow, over=co2, line_x=ends, line_y=np.array([100.0, 200.0]), tolerance=10.0)
        >>> claim.least.tolist()
        [10.0, -10.0]
    """
    if not tolerance >= 0.0:
        raise OutOfRange("tolerance", tolerance, 0.0, math.inf, "")
    rise = line_x.shape == line_y.shape and line_x.size >= 2 and bool(np.all(np.diff(line_x) > 0.0))
    if not rise or not bool(np.all(np.isfinite(line_y))):
        raise ValueError("a line has two or more points, one level for each, and they rise")
    times, (y, x) = on_one_clock(signals=[signal, over])
    return _known(times, tolerance - np.abs(y - np.interp(x, line_x, line_y)))


def negated(*, claim: Claim) -> Claim:
    """Return the claim that another one does not hold.

    Args:
        claim: the other one.

    Source: as for `in_band`.

    Example:
        >>> log = Signal(np.array([0.0, 10.0]), np.array([21.0]))
        >>> negated(claim=in_band(signal=log, low=20.0)).least.tolist()
        [-1.0]
    """
    return Claim(claim.times_s, -claim.most, -claim.least)


def both(*, claims: list[Claim]) -> Claim:
    """Return the claim that all of several hold at a time: the least of their margins.

    Args:
        claims: one or more, logged at some time together.

    Raises:
        ValueError: they are logged at no time together.

    Source: as for `in_band`.

    Example:
        >>> log = Signal(np.array([0.0, 10.0]), np.array([21.0]))
        >>> both(claims=[in_band(signal=log, low=20.0), in_band(signal=log, high=21.5)]).least.tolist()
        [0.5]
    """
    times, least, most = _together(claims)
    return Claim(times, np.minimum.reduce(least), np.minimum.reduce(most))


def either(*, claims: list[Claim]) -> Claim:
    """Return the claim that one of several holds at a time: the largest of their margins.

    Args:
        claims: one or more, logged at some time together.

    Raises:
        ValueError: they are logged at no time together.

    Source: as for `in_band`.

    Example:
        >>> log = Signal(np.array([0.0, 10.0]), np.array([21.0]))
        >>> either(claims=[in_band(signal=log, low=20.0), in_band(signal=log, high=21.5)]).least.tolist()
        [1.0]
    """
    times, least, most = _together(claims)
    return Claim(times, np.maximum.reduce(least), np.maximum.reduce(most))


def whenever(*, condition: Claim, claim: Claim) -> Claim:
    """Return the claim that one holds at each time at which a condition holds; without the condition nothing is asked.

        margin = max(-condition, claim)

    Args:
        condition: when it is asked.
        claim: what is asked.

    Raises:
        ValueError: they are logged at no time together.

    Source: implication, as for `in_band`.

    Example:
        >>> fan = Signal(np.array([0.0, 10.0, 20.0]), np.array([0.0, 1.0]))
        >>> flow = Signal(np.array([0.0, 10.0, 20.0]), np.array([0.0, 0.4]))
        >>> asked = whenever(condition=is_on(signal=fan), claim=in_band(signal=flow, low=0.5))
        >>> asked.least.round(3).tolist()
        [inf, -0.1]
    """
    return either(claims=[negated(claim=condition), claim])


def always(*, claim: Claim) -> Found:
    """Return whether a claim holds over the whole log, by what margin, and where it is closest to failing.

    Args:
        claim: the claim.

    Source: 'always' of signal temporal logic; as for `in_band`. Three outcomes instead of two where there are gaps.

    Example:
        >>> log = Signal(np.array([0.0, 10.0, 20.0, 30.0]), np.array([21.0, 23.5, np.nan]))
        >>> always(claim=in_band(signal=log, low=20.0, high=23.0))
        Found(outcome='fails', least=-inf, most=-0.5, at_s=10.0, failing_s=10.0, unknown_s=10.0)
    """
    least, most = float(claim.least.min()), float(claim.most.min())
    lasts = np.diff(claim.times_s)
    fails = claim.most < 0.0
    unknown = (claim.least < 0.0) & ~fails
    at = int(np.argmin(claim.most if most < 0.0 else claim.least))
    return Found(
        outcome=FAILS if most < 0.0 else HOLDS if least >= 0.0 else UNKNOWN,
        least=least,
        most=most,
        at_s=float(claim.times_s[at]),
        failing_s=float(lasts[fails].sum()),
        unknown_s=float(lasts[unknown].sum()),
    )


def never(*, claim: Claim) -> Found:
    """Return whether a claim holds at no time of the log.

    Args:
        claim: the claim.

    Source: as for `always`.

    Example:
        >>> heat = Signal(np.array([0.0, 10.0, 20.0]), np.array([0.0, 1.0]))
        >>> cool = Signal(np.array([0.0, 15.0, 20.0]), np.array([1.0, 0.0]))
        >>> found = never(claim=both(claims=[is_on(signal=heat), is_on(signal=cool)]))
        >>> found.outcome, found.at_s, found.failing_s
        ('fails', 10.0, 5.0)
    """
    return always(claim=negated(claim=claim))


def _known(times_s: FloatArray, margin: FloatArray) -> Claim:
    gap = np.isnan(margin)
    return Claim(times_s, np.where(gap, -math.inf, margin), np.where(gap, math.inf, margin))


def _together(claims: list[Claim]) -> tuple[FloatArray, list[FloatArray], list[FloatArray]]:
    times, least = on_one_clock(signals=[Signal(one.times_s, one.least) for one in claims])
    _, most = on_one_clock(signals=[Signal(one.times_s, one.most) for one in claims])
    return times, least, most
