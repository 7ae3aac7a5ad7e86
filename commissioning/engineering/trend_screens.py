"""Screens of trend logs: what fails for long enough to matter, what stands still, what a schedule was worth.

A screen tells what was logged; it knows no unit and no role. Bounds of margins are carried as in `temporal`: what may
fail only inside a gap is unknown, and is counted as that.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.claim_windows import between, throughout
from commissioning.engineering.guards import FloatArray, OutOfRange
from commissioning.engineering.signals import Signal
from commissioning.engineering.temporal import FAILS, HOLDS, UNKNOWN, Claim, negated


@dataclass(frozen=True, slots=True)
class Stretch:
    """Part of a log.

    Attributes:
        from_s: where it begins [s].
        to_s: where it ends [s].
        margin: by how much it fails there at the worst, for certain [unit of what is claimed].
    """

    from_s: float
    to_s: float
    margin: float


@dataclass(frozen=True, slots=True)
class Lasting:
    """Where a claim fails for long enough to matter.

    Attributes:
        outcome: 'holds', 'fails', or 'unknown' where a gap decides.
        stretches: where it fails for certain, each at least as long as asked.
        failing_s: how long these are together [s].
        unknown_s: how long it may fail within stretches that could be long enough [s].
        margin: the least upper bound anywhere [unit of what is claimed].
    """

    outcome: str
    stretches: tuple[Stretch, ...]
    failing_s: float
    unknown_s: float
    margin: float


@dataclass(frozen=True, slots=True)
class Still:
    """A signal that stood still while another moved.

    Attributes:
        from_s: where it begins [s].
        to_s: where it ends [s].
        level: where it stood [unit of the signal].
        mover: which of the others moved, by its place in the list; the one that moved most for its measure.
        moved: by how much that one moved meanwhile [unit of that signal].
    """

    from_s: float
    to_s: float
    level: float
    mover: int
    moved: float


@dataclass(frozen=True, slots=True)
class Edge:
    """One change that a schedule asked for, and when it came.

    Attributes:
        asked_s: when it was asked for [s].
        on: whether it was to come on.
        earliest_s: how much later it came, at least [s]; below 0 where it came before.
        latest_s: how much later it came, at most [s]; infinite where it never came while it was asked for.
    """

    asked_s: float
    on: bool
    earliest_s: float
    latest_s: float


def condensed(*, signal: Signal) -> Signal:
    """Return the same signal with a level that is said again and again told once.

    Args:
        signal: the signal.

    Source: common practice, no source.

    Example:
        >>> log = Signal(np.array([0.0, 10.0, 20.0, 30.0]), np.array([1.0, 1.0, np.nan]))
        >>> condensed(signal=log).times_s.tolist()
        [0.0, 20.0, 30.0]
    """
    before, after = signal.levels[:-1], signal.levels[1:]
    same = (before == after) | (np.isnan(before) & np.isnan(after))
    keep = np.concatenate([[True], ~same])
    return Signal(np.append(signal.times_s[:-1][keep], signal.times_s[-1]), signal.levels[keep])


def merged(*, claim: Claim) -> Claim:
    """Return the same claim with margins that are said again and again told once.

    Args:
        claim: the claim.

    Source: common practice, no source.

    Example:
        >>> from commissioning.engineering.temporal import is_on
        >>> log = Signal(np.array([0.0, 10.0, 20.0, 30.0]), np.array([1.0, 1.0, 0.0]))
        >>> merged(claim=is_on(signal=log)).times_s.tolist()
        [0.0, 20.0, 30.0]
    """
    differs = (claim.least[1:] != claim.least[:-1]) | (claim.most[1:] != claim.most[:-1])
    keep = np.concatenate([[True], differs])
    times = np.append(claim.times_s[:-1][keep], claim.times_s[-1])
    return Claim(times, claim.least[keep], claim.most[keep])


def held_before(*, claim: Claim, window_s: float) -> Claim:
    """Return the claim that another one has held for as long as a window up to each time; it begins a window later.

        margin(t) = inf of margin over t - window to t

    Args:
        claim: the other one.
        window_s: length of the window [s], 0 or more.

    Raises:
        OutOfRange: the window is below 0.
        ValueError: the log is no longer than the window.

    Source: past-time 'always' of signal temporal logic, as a shift of the bounded one.

    Example:
        >>> from commissioning.engineering.temporal import in_band
        >>> log = Signal(np.array([0.0, 10.0, 20.0, 30.0]), np.array([3.0, 1.0, 2.0]))
        >>> claim = held_before(claim=in_band(signal=log, low=0.0), window_s=10.0)
        >>> claim.times_s.tolist(), claim.least.tolist()
        ([10.0, 20.0, 30.0], [1.0, 1.0])
    """
    if not 0.0 <= window_s < math.inf:
        raise OutOfRange("window", window_s, 0.0, math.inf, "s")
    if window_s == 0.0:
        return claim
    begin, end = float(claim.times_s[0]), float(claim.times_s[-1])
    if not begin + window_s < end:
        raise ValueError("the log is no longer than the window")
    ahead = throughout(claim=claim, window_s=window_s)
    return between(claim=Claim(ahead.times_s + window_s, ahead.least, ahead.most), from_s=begin + window_s, to_s=end)


def lasting(*, claim: Claim, at_least_s: float) -> Lasting:
    """Return where a claim fails for at least as long as asked, without a break.

    Args:
        claim: the claim.
        at_least_s: how long is long enough to matter [s], 0 or more.

    Raises:
        OutOfRange: the duration is below 0.

    Source: common practice, no source.

    Example:
        >>> from commissioning.engineering.temporal import in_band
        >>> log = Signal(np.array([0.0, 60.0, 90.0, 300.0, 600.0]), np.array([1.0, -1.0, 1.0, -2.0]))
        >>> found = lasting(claim=in_band(signal=log, low=0.0), at_least_s=120.0)
        >>> found.outcome, found.stretches
        ('fails', (Stretch(from_s=300.0, to_s=600.0, margin=-2.0),))
    """
    if not at_least_s >= 0.0:
        raise OutOfRange("duration", at_least_s, 0.0, math.inf, "s")
    stretches = tuple(
        Stretch(float(claim.times_s[a]), float(claim.times_s[b]), float(claim.most[a:b].min()))
        for a, b in _runs(claim.most < 0.0, claim.times_s, at_least_s)
    )
    lasts = np.diff(claim.times_s)
    open_ = (claim.least < 0.0) & (claim.most >= 0.0)
    unknown_s = sum(float(lasts[a:b][open_[a:b]].sum()) for a, b in _runs(claim.least < 0.0, claim.times_s, at_least_s))
    outcome = FAILS if stretches else UNKNOWN if unknown_s > 0.0 else HOLDS
    failing_s = sum(one.to_s - one.from_s for one in stretches)
    return Lasting(outcome, stretches, failing_s, unknown_s, float(claim.most.min()))


def lasts_s(*, claim: Claim) -> float:
    """Return how long a claim holds for certain, in all [s].

    Args:
        claim: the claim.

    Source: common practice, no source.

    Example:
        >>> from commissioning.engineering.temporal import is_on
        >>> log = Signal(np.array([0.0, 60.0, 90.0, 300.0]), np.array([1.0, 0.0, np.nan]))
        >>> lasts_s(claim=is_on(signal=log))
        60.0
    """
    return float(np.diff(claim.times_s)[claim.least >= 0.0].sum())


def stood_still(
    *, signal: Signal, quiet: float, at_least_s: float, others: list[Signal], moves: list[float], inset_s: float = 0.0
) -> list[Still]:
    """Return where a signal stood still for long while another one moved.

        max x - min x <= quiet over the stretch, max y - min y > moves over the same

    A point that no log says is unknown ends a stretch; so a gap is never taken for a signal that stands still.

    Args:
        signal: x.
        quiet: how far it may move and count as still [unit of the signal], 0 or more.
        at_least_s: for how long [s], above 0.
        others: y, one or more that move when it should.
        moves: how far each of these has to move to count [unit of that signal].
        inset_s: what is left out at both ends of a stretch, where all of them change together [s], 0 or more.

    Raises:
        ValueError: not one measure for each of the others.
        OutOfRange: quiet or the inset is below 0, or the duration not above 0.

    Source: common practice, no source.

    Example:
        >>> stuck = Signal(np.array([0.0, 60.0, 120.0, 180.0, 240.0]), np.array([20.1, 20.5, 20.5, 20.5]))
        >>> other = Signal(np.array([0.0, 60.0, 120.0, 180.0, 240.0]), np.array([5.0, 6.0, 7.0, 9.5]))
        >>> stood_still(signal=stuck, quiet=0.0, at_least_s=150.0, others=[other], moves=[2.0])
        [Still(from_s=60.0, to_s=240.0, level=20.5, mover=0, moved=3.5)]
    """
    if not quiet >= 0.0:
        raise OutOfRange("what counts as still", quiet, 0.0, math.inf, "")
    if not 0.0 < at_least_s < math.inf:
        raise OutOfRange("duration", at_least_s, 0.0, math.inf, "s")
    if not 0.0 <= inset_s < math.inf:
        raise OutOfRange("inset", inset_s, 0.0, math.inf, "s")
    if len(others) != len(moves) or not others:
        raise ValueError("each of the others has one measure of how far it moves, and there is at least one")
    found = []
    for begin, end in _still_stretches(signal, quiet, at_least_s):
        ranges = [_range(other, begin + inset_s, end - inset_s) for other in others]
        shares = [a / b if b > 0.0 else 0.0 for a, b in zip(ranges, moves, strict=True)]
        best = int(np.argmax(shares))
        if ranges[best] > moves[best]:
            level = float(signal.levels[int(np.searchsorted(signal.times_s, begin, side="right")) - 1])
            found.append(Still(begin, end, level, best, ranges[best]))
    return found


def schedule_edges(*, state: Claim, edges_s: FloatArray, on: list[bool], reach_s: float) -> list[Edge]:
    """Return for each change that a schedule asks for when the state changed that way, of all changes the nearest.

    An edge nearer to an end of the log than the reach is left out, and so is one after which the state is unknown.
    A state that was so already all through the reach before, and stays so, came before the reach: -infinite to -reach.

    Args:
        state: the claim that it is on.
        edges_s: when changes are asked for, rising [s].
        on: for each, whether it was to come on.
        reach_s: how far before and after an edge a change counts as its own [s], above 0.

    Raises:
        ValueError: not one direction for each edge, or edges that do not rise.
        OutOfRange: the reach is not above 0.

    Source: common practice, no source.

    Example:
        >>> from commissioning.engineering.temporal import is_on
        >>> log = is_on(signal=Signal(np.array([0.0, 3500.0, 7000.0, 9000.0]), np.array([0.0, 1.0, 0.0])))
        >>> schedule_edges(state=log, edges_s=np.array([3600.0]), on=[True], reach_s=1800.0)
        [Edge(asked_s=3600.0, on=True, earliest_s=-100.0, latest_s=-100.0)]
    """
    if not 0.0 < reach_s < math.inf:
        raise OutOfRange("reach", reach_s, 0.0, math.inf, "s")
    if edges_s.ndim != 1 or len(on) != edges_s.size or not bool(np.all(np.isfinite(edges_s))):
        raise ValueError("each edge has one direction, and its time is a number")
    if not bool(np.all(np.diff(edges_s) > 0.0)):
        raise ValueError("the edges of a schedule rise")
    begin, end = float(state.times_s[0]), float(state.times_s[-1])
    found = []
    for asked, direction in zip(edges_s.tolist(), on, strict=True):
        if begin <= asked - reach_s and asked + reach_s <= end:
            part = between(claim=state, from_s=asked - reach_s, to_s=asked + reach_s)
            edge = _nearest(part if direction else negated(claim=part), asked, reach_s)
            if edge is not None:
                found.append(Edge(asked, direction, *edge))
    return found


def _runs(mask: np.ndarray, times_s: FloatArray, at_least_s: float) -> list[tuple[int, int]]:
    """First and past-the-end index of each run of true that lasts long enough."""
    turns = np.diff(np.concatenate([[0], mask.astype(np.int8), [0]]))
    first, past = np.flatnonzero(turns == 1), np.flatnonzero(turns == -1)
    long = times_s[past] - times_s[first] >= at_least_s
    return list(zip(first[long].tolist(), past[long].tolist(), strict=True))


def _still_stretches(signal: Signal, quiet: float, at_least_s: float) -> list[tuple[float, float]]:
    if not float(signal.times_s[0]) + at_least_s < float(signal.times_s[-1]):
        return []
    once = condensed(signal=signal)
    gap = np.isnan(once.levels)
    level = Claim(once.times_s, np.where(gap, -math.inf, once.levels), np.where(gap, math.inf, once.levels))
    window_s = at_least_s * (1.0 - 1e-9)  # a stretch that just lasts as long counts
    low = throughout(claim=level, window_s=window_s)
    high = throughout(claim=Claim(level.times_s, -level.most, -level.least), window_s=window_s)
    with np.errstate(invalid="ignore"):
        calm = -high.least - low.least <= quiet
    return [
        (float(low.times_s[a]), min(float(low.times_s[b]) + window_s, float(signal.times_s[-1])))
        for a, b in _runs(calm, low.times_s, 0.0)
    ]


def _range(signal: Signal, from_s: float, to_s: float) -> float:
    first = max(0, int(np.searchsorted(signal.times_s, from_s, side="right")) - 1)
    last = int(np.searchsorted(signal.times_s, to_s, side="left"))
    known = signal.levels[first:last]
    known = known[np.isfinite(known)]
    return float(known.max() - known.min()) if known.size else 0.0


def _nearest(wanted: Claim, asked: float, reach_s: float) -> tuple[float, float] | None:
    """Bounds of the nearest time at which what was wanted came, less the time asked for; None where gaps hide it."""
    state = np.where(wanted.least >= 0.0, 1, np.where(wanted.most < 0.0, -1, 0))
    seen = np.flatnonzero(state != 0)
    if not seen.size:
        return None
    came = np.flatnonzero((state[seen[:-1]] < 0) & (state[seen[1:]] > 0))
    if came.size:
        bounds = [(float(wanted.times_s[seen[i] + 1]), float(wanted.times_s[seen[i + 1]])) for i in came]
        early, late = min(bounds, key=lambda one: abs((one[0] + one[1]) / 2.0 - asked))
        return early - asked, late - asked
    if bool((state > 0).all()):
        return -math.inf, -reach_s
    if bool((state < 0).all()):
        return reach_s, math.inf
    return None
