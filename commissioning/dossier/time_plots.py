"""What a plot over time looks like, whatever draws it: runs of a line, lanes of states, the scale, rows of marks."""

import math
from collections.abc import Sequence
from typing import NamedTuple

from commissioning.blocks import Mark, Panel, TimeLine

Point = tuple[float, float]


class Lane(NamedTuple):
    """From when to when a state was on."""

    from_s: float
    to_s: float


def runs(line: TimeLine) -> list[list[Point]]:
    """The line between its breaks; where it steps, with the corner at each step.

    >>> runs(TimeLine("", (0.0, 1.0, 2.0, 3.0), (5.0, None, 6.0, 7.0), True))
    [[(0.0, 5.0)], [(2.0, 6.0), (3.0, 6.0), (3.0, 7.0)]]
    """
    found: list[list[Point]] = [[]]
    for at, value in zip(line.times_s, line.values, strict=True):
        if value is None:
            found.append([])
            continue
        if line.steps and found[-1] and found[-1][-1][1] != value:
            found[-1].append((at, found[-1][-1][1]))
        found[-1].append((at, value))
    return [run for run in found if run]


def on(line: TimeLine) -> list[Lane]:
    """When a state was on: from a value above one half to the next that is none, to a break, or to the last.

    >>> on(TimeLine("", (0.0, 1.0, 2.0, 3.0, 4.0), (1.0, 0.0, 1.0, None, 0.0), True))
    [Lane(from_s=0.0, to_s=1.0), Lane(from_s=2.0, to_s=3.0)]
    """
    found: list[Lane] = []
    since: float | None = None
    for at, value in zip(line.times_s, line.values, strict=True):
        is_on = value is not None and value > 0.5
        if is_on and since is None:
            since = at
        elif not is_on and since is not None:
            found.append(Lane(since, at))
            since = None
    if since is not None:
        found.append(Lane(since, line.times_s[-1]))
    return found


def unknown(line: TimeLine, end_s: float) -> list[Lane]:
    """When nothing is known of a state: before its first value, after its last, and around each break."""
    known = [(at, value) for at, value in zip(line.times_s, line.values, strict=True)]
    found: list[Lane] = []
    since: float | None = 0.0
    for at, value in known:
        if value is None and since is None:
            since = at
        elif value is not None and since is not None:
            found.append(Lane(since, at))
            since = None
    found.append(Lane(since if since is not None else (known[-1][0] if known else 0.0), end_s))
    return [one for one in found if one.to_s > one.from_s]


def scale(panel: Panel) -> tuple[float, float]:
    """From a round number below all that is drawn to one above, limits included.

    >>> scale(Panel("", "", (TimeLine("", (0.0, 1.0), (12.3, 18.9)),)))
    (12.0, 19.0)
    """
    held = [value for line in panel.lines for value in line.values if value is not None]
    held += [limit.value for limit in panel.limits]
    if not held:
        return 0.0, 1.0
    low, high = min(held), max(held)
    if high - low < 1e-9 * max(1.0, abs(high)):
        low, high = low - 1.0, high + 1.0
    step = _round_step((high - low) / 4.0)
    return math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step


def _round_step(about: float) -> float:
    power = 10.0 ** math.floor(math.log10(about))
    return next(factor * power for factor in (1.0, 2.0, 5.0, 10.0) if factor * power >= about * (1.0 - 1e-9)) / 2.0


def rows_of(marks: Sequence[Mark], room_s: float) -> list[int]:
    """In which row each mark's number stands, so that none stands on another; `room_s` is how wide a number is.

    >>> rows_of([Mark("", 0.0, 0.0), Mark("", 5.0, 60.0), Mark("", 20.0, 20.0)], 10.0)
    [0, 1, 0]
    """
    ends: list[float] = []
    found = []
    for mark in marks:
        row = next((index for index, end in enumerate(ends) if end <= mark.from_s), len(ends))
        end = max(mark.to_s, mark.from_s + room_s)
        if row == len(ends):
            ends.append(end)
        else:
            ends[row] = end
        found.append(row)
    return found
