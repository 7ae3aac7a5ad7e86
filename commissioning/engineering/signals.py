"""Logged quantities over time: each sample holds until the next one, and what was not logged is not known.

A log is a list of levels, not a curve: a sample says what was so when it was taken, and its level is carried to the
next sample. Where that is further off than the log may have gaps, the level is unknown from then on, never carried
further and never bridged. A log by change of value may be carried without limit; the caller says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.guards import FloatArray, OutOfRange, within

LATEST_S = 1e11


@dataclass(frozen=True, slots=True, eq=False)
class Signal:
    """Levels one after the other: the level i holds from its time up to, and without, the next time.

    Attributes:
        times_s: where the levels begin, rising, and at last where the log ends; one more than the levels [s].
        levels: the value from each time on [unit of the signal]; not a number where it is unknown.
    """

    times_s: FloatArray
    levels: FloatArray

    def __post_init__(self) -> None:
        if self.times_s.ndim != 1 or self.levels.ndim != 1 or self.times_s.size != self.levels.size + 1:
            raise ValueError("a signal has one more time than levels, each in one row")
        if not self.levels.size:
            raise ValueError("a signal has at least one level")
        within("time of a level", self.times_s, -LATEST_S, LATEST_S, "s")
        if not bool(np.all(np.diff(self.times_s) > 0.0)):
            raise ValueError("the times of a signal rise from one level to the next")

    @property
    def unknown_s(self) -> float:
        """How long the level is unknown, in all [s]."""
        return float(np.diff(self.times_s)[np.isnan(self.levels)].sum())


def sampled(*, times_s: FloatArray, values: FloatArray, longest_gap_s: float, end_s: float | None = None) -> Signal:
    """Return the signal of a log: each value held to the next, at most as long as the log may have gaps.

    Args:
        times_s: when each value was logged, rising [s].
        values: what was logged [unit of the signal]; not a number where the log says that it has no value.
        longest_gap_s: how long a value may be carried [s], above 0; infinite for a log by change of value.
        end_s: where the log ends [s]; None for the last sample and one usual step after it, at most the gap.

    Raises:
        ValueError: times that do not rise, or not one value for each.
        OutOfRange: the gap is not above 0, or the end lies before the last sample.

    Source: common practice, no source.

    Example:
        >>> log = sampled(times_s=np.array([0.0, 60.0, 300.0]), values=np.array([1.0, 2.0, 3.0]), longest_gap_s=90.0)
        >>> log.times_s.tolist(), log.levels.tolist()
        ([0.0, 60.0, 150.0, 300.0, 390.0], [1.0, 2.0, nan, 3.0])
    """
    if not longest_gap_s > 0.0:
        raise OutOfRange("longest gap", longest_gap_s, 0.0, math.inf, "s")
    times = within("time of a sample", times_s, -LATEST_S, LATEST_S, "s")
    levels = np.asarray(values, dtype=np.float64)
    if times.ndim != 1 or not times.size or levels.shape != times.shape:
        raise ValueError("a log has one value for each time, and at least one")
    if not bool(np.all(np.diff(times) > 0.0)):
        raise ValueError("the times of a log rise from one sample to the next")
    last = float(times[-1])
    if end_s is None:
        usual = float(np.median(np.diff(times))) if times.size > 1 else 1.0
        end_s = last + min(usual, longest_gap_s)
    if not end_s > last:
        raise OutOfRange("end of the log", end_s, last, math.inf, "s")
    ends = np.append(times[1:], end_s)
    lapses = np.flatnonzero(ends - times > longest_gap_s)
    starts = np.insert(times, lapses + 1, times[lapses] + longest_gap_s)
    return Signal(np.append(starts, end_s), np.insert(levels, lapses + 1, np.nan))


def level_at(*, signal: Signal, at_s: FloatArray) -> FloatArray:
    """Return the level of a signal at given times; not a number outside of the log.

    Args:
        signal: the signal.
        at_s: times, any order and shape [s].

    Source: common practice, no source.

    Example:
        >>> log = sampled(times_s=np.array([0.0, 60.0]), values=np.array([1.0, 2.0]), longest_gap_s=90.0)
        >>> level_at(signal=log, at_s=np.array([-1.0, 59.0, 60.0, 120.0])).tolist()
        [nan, 1.0, 2.0, nan]
    """
    index = np.searchsorted(signal.times_s, at_s, side="right") - 1
    inside = (index >= 0) & (index < signal.levels.size)
    found: FloatArray = np.where(inside, signal.levels[np.clip(index, 0, signal.levels.size - 1)], np.nan)
    return found


def on_one_clock(*, signals: list[Signal]) -> tuple[FloatArray, list[FloatArray]]:
    """Return the times at which any of the signals changes, where all are logged, and each one's level from there on.

    Args:
        signals: one or more.

    Raises:
        ValueError: there is no time at which all of them are logged.

    Source: common practice, no source.

    Example:
        >>> a = Signal(np.array([0.0, 10.0, 20.0]), np.array([1.0, 2.0]))
        >>> b = Signal(np.array([5.0, 15.0, 25.0]), np.array([7.0, 8.0]))
        >>> times, levels = on_one_clock(signals=[a, b])
        >>> times.tolist(), [one.tolist() for one in levels]
        ([5.0, 10.0, 15.0, 20.0], [[1.0, 2.0, 2.0], [7.0, 7.0, 8.0]])
    """
    begin = max(float(one.times_s[0]) for one in signals)
    end = min(float(one.times_s[-1]) for one in signals)
    if not begin < end:
        raise ValueError("the signals are logged at no time together")
    every = np.unique(np.concatenate([one.times_s for one in signals]))
    times = every[(every >= begin) & (every <= end)]
    return times, [level_at(signal=one, at_s=times[:-1]) for one in signals]


def average(*, signal: Signal, from_s: float, to_s: float) -> tuple[float, float]:
    """Return the time-weighted average over a window, of what is known, and the share of the window that is known.

    Args:
        signal: the signal.
        from_s: begin of the window [s].
        to_s: end of the window, after the begin [s].

    Raises:
        OutOfRange: the end is not after the begin.

    Source: common practice, no source.

    Example:
        >>> log = Signal(np.array([0.0, 10.0, 40.0]), np.array([1.0, 2.0]))
        >>> average(signal=log, from_s=0.0, to_s=40.0)
        (1.75, 1.0)
        >>> average(signal=log, from_s=20.0, to_s=60.0)
        (2.0, 0.5)
    """
    if not to_s > from_s:
        raise OutOfRange("end of the window", to_s, from_s, math.inf, "s")
    edges = np.clip(signal.times_s, from_s, to_s)
    lasts = np.where(np.isnan(signal.levels), 0.0, np.diff(edges))
    known = float(lasts.sum())
    if known == 0.0:
        return math.nan, 0.0
    return float((lasts * np.nan_to_num(signal.levels)).sum() / known), known / (to_s - from_s)
