"""A long series as few points that draw the same picture: of each bucket of time its first, lowest, highest and last.

No extreme is lost, and no line runs over a time of which nothing is known: there stands a break, which is no number.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Reduced:
    """Points in the order of time; a value that is no number is a break. `samples` lie in the window."""

    times_s: Floats
    values: Floats
    samples: int


def reduce(
    times_s: Floats, values: Floats, *, start_s: float, end_s: float, buckets: int, longest_gap_s: float = np.inf
) -> Reduced:
    """The series in a window, and the sample on each side of it, so that its line reaches the edge.

    `times_s` rise. A sample without a value breaks the line; so does a step of more than `longest_gap_s`, which is
    infinite for a log by change of value.
    """
    if buckets < 1 or not start_s < end_s:
        raise ValueError("a window is longer than nothing and has at least one bucket")
    first, last = np.searchsorted(times_s, [start_s, end_s], side="left")
    last = int(np.searchsorted(times_s, end_s, side="right"))
    begin, end = max(int(first) - 1, 0), min(last + 1, times_s.size)
    times, held = times_s[begin:end], values[begin:end]
    known = np.flatnonzero(~np.isnan(held))
    if not known.size:
        return Reduced(np.empty(0), np.empty(0), last - int(first))
    without = np.diff(known) > 1
    ends = times[known[:-1] + 1]  # where the next sample stands, of whatever kind
    if known.size < times.size:
        times, held = times[known], held[known]
    middle = (times[:-1] + times[1:]) / 2.0
    breaks = np.where(without, ends, middle)
    broken = np.flatnonzero(without | (np.diff(times) > longest_gap_s))
    chosen = _chosen(times, held, start_s, end_s, buckets)
    return Reduced(*_with_breaks(times, held, chosen, broken, breaks[broken]), last - int(first))


def _chosen(times: Floats, held: Floats, start_s: float, end_s: float, buckets: int) -> npt.NDArray[np.intp]:
    if times.size <= 4 * buckets:
        return np.arange(times.size)
    edges = np.linspace(start_s, end_s, buckets + 1)
    starts = np.unique(np.concatenate([[0], np.searchsorted(times, edges), [times.size]]))[:-1]
    counts = np.diff(np.append(starts, times.size))
    found = [starts, starts + counts - 1]
    for extreme in (np.minimum, np.maximum):
        at = np.flatnonzero(held == np.repeat(extreme.reduceat(held, starts), counts))
        found.append(at[np.searchsorted(at, starts)])
    return np.unique(np.concatenate(found))


def _with_breaks(
    times: Floats, held: Floats, chosen: npt.NDArray[np.intp], broken: npt.NDArray[np.intp], breaks: Floats
) -> tuple[Floats, Floats]:
    """Between two chosen samples the first of the breaks that lie between them, where there is one."""
    first = np.searchsorted(broken, chosen)
    over = np.flatnonzero(np.diff(first) > 0)
    at = breaks[first[over]]
    return np.insert(times[chosen], over + 1, at), np.insert(held[chosen], over + 1, np.nan)


def told_once(reduced: Reduced) -> Reduced:
    """Without the points in the middle of a level that is said again and again: for states, and for paper."""
    values = reduced.values
    if values.size < 3:
        return reduced
    same = (values[1:-1] == values[:-2]) & (values[1:-1] == values[2:])
    keep = np.concatenate([[True], ~same, [True]])
    return Reduced(reduced.times_s[keep], values[keep], reduced.samples)
