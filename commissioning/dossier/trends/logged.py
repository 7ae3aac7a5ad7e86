"""A unit's trend log by role: series as signals, each with its own gaps, and the gaps of the whole log.

A point logged at intervals is carried two and a half intervals at most. A point logged by change of value is carried
until the next one; but where every point that is logged at intervals is silent, the log was interrupted, and a change
may have been lost. What comes after is known again with the next sample, or where the next change of a state tells
that it still was as before.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from zoneinfo import ZoneInfo

import numpy as np

from commissioning.engineering.claim_windows import at_intervals
from commissioning.engineering.guards import FloatArray
from commissioning.engineering.signals import Signal, sampled
from commissioning.engineering.temporal import Claim, in_band, is_on, negated
from commissioning.engineering.trend_screens import merged

CARRIED_INTERVALS = 2.5
CLOCK_SLACK_S = 5.0
# Where nothing is logged at intervals, a silence is odd that is so many times the usual step of the hour before it, and
# one of so many hours is odd in any case.
SILENT_S, SILENT_STEPS, SILENT_AT_REST_S = 200.0, 25.0, 21600.0


@dataclass(frozen=True, eq=False)
class Logged:
    """One point: `times_s` are seconds of the epoch, rising; `values` in SI, not a number where there was none.

    `carried_s`: how long a value may be carried at most, where the mapping says so; else told by the intervals.
    """

    times_s: FloatArray
    values: FloatArray
    by_change: bool = False
    carried_s: float | None = None

    @cached_property
    def interval_s(self) -> float:
        return float(np.median(np.diff(self.times_s))) if self.times_s.size > 1 else 60.0

    @property
    def carry_s(self) -> float:
        if self.carried_s is not None:
            return self.carried_s
        return math.inf if self.by_change else CARRIED_INTERVALS * self.interval_s


class Log:
    """The series of one unit by role, in one place with what they have in common."""

    def __init__(self, series: Mapping[str, Logged], zone: str = "UTC") -> None:
        self.series = {role: one for role, one in series.items() if one.times_s.size and np.isfinite(one.values).any()}
        if not self.series:
            raise ValueError("a trend log has one point or more with a value in it")
        self.zone = ZoneInfo(zone)
        self.begin_s = min(float(one.times_s[0]) for one in self.series.values())
        self.end_s = max(float(one.times_s[-1]) for one in self.series.values()) + min(
            (one.interval_s for one in self.series.values() if not one.by_change), default=1.0
        )
        self._signals: dict[str, Signal] = {}

    def has(self, asked: str) -> bool:
        """Whether the log has a role, or one of several: `a|b`."""
        return self.one_of(asked) is not None

    def one_of(self, asked: str) -> str | None:
        return next((role for role in asked.split("|") if role in self.series), None)

    def signal(self, asked: str) -> Signal:
        """The levels of a role; of the first that is logged where several would do."""
        role = self.one_of(asked)
        if role is None:
            raise KeyError(f"no point of the log is {asked}")
        if role not in self._signals:
            self._signals[role] = self._as_signal(self.series[role])
        return self._signals[role]

    def on(self, asked: str, above: float = 0.5) -> Claim:
        """The claim that a state is on, or an output above a level; between two samples of a log at intervals both."""
        role = self.one_of(asked)
        assert role is not None, asked
        states = self.signal(role)
        levels = np.where(np.isnan(states.levels), np.nan, (states.levels > above).astype(float))
        claim = is_on(signal=Signal(states.times_s, levels))
        return merged(claim=claim if self.series[role].by_change else at_intervals(claim=claim))

    def off(self, asked: str, above: float = 0.5) -> Claim:
        return negated(claim=self.on(asked, above))

    def stays(self, asked: str, low: float = -math.inf, high: float = math.inf) -> Claim:
        return in_band(signal=self.signal(asked), low=low, high=high)

    def step_s(self, *asked: str) -> float:
        """A step that loses little of what these points tell: the longest of their intervals, 10 s to 5 min."""
        roles = [role for role in map(self.one_of, asked) if role is not None]
        steps = [self.series[role].interval_s for role in roles if not self.series[role].by_change]
        return min(300.0, max(10.0, *steps)) if steps else 60.0

    @cached_property
    def slack_s(self) -> float:
        """How long two states that change together may seem to differ, by the controller or by the intervals."""
        switched = ("state", "command", "status", "position", "open", "closed", "enable", "occupied", "schedule")
        steps = [one.interval_s for role, one in self.series.items() if not one.by_change and role.endswith(switched)]
        return max([CLOCK_SLACK_S, *(2.1 * one for one in steps)])

    def clock(self, at_s: float) -> str:
        """A moment as the site's clocks showed it."""
        return f"{datetime.fromtimestamp(at_s, self.zone):%a %Y-%m-%d %H:%M}"

    @cached_property
    def gaps(self) -> list[tuple[float, float]]:
        """Where the whole log is silent."""
        steady = [one for one in self.series.values() if not one.by_change]
        if not steady:
            every = np.unique(np.concatenate([one.times_s for one in self.series.values()]))
            return [one for one in _silences(every, SILENT_S, 0.0) if _is_odd(every, *one)]
        common: list[tuple[float, float]] | None = None
        for one in steady:
            mine = _silences(one.times_s, CARRIED_INTERVALS * one.interval_s, one.interval_s)
            common = mine if common is None else _overlaps(common, mine)
        return common or []

    def _as_signal(self, one: Logged) -> Signal:
        rising = np.concatenate([np.diff(one.times_s) > 0.0, [True]])  # of two samples of one moment the later counts
        times, values = one.times_s[rising], one.values[rising]
        end = max(float(times[-1]) + 1e-3, self.end_s if one.by_change else float(times[-1]) + one.interval_s)
        whole = sampled(times_s=times, values=values, longest_gap_s=one.carry_s, end_s=end)
        if not one.by_change:
            return whole
        is_state = bool(np.isin(values[np.isfinite(values)], (0.0, 1.0)).all())
        for begin, stop in self.gaps:
            whole = _interrupted(whole, begin, stop, is_state=is_state)
        return whole


def _is_odd(every: FloatArray, begin_s: float, end_s: float) -> bool:
    """Whether a log by change that was busy falls silent: it was interrupted. One at rest may be silent for hours."""
    before = np.searchsorted(every, begin_s, side="right") - np.searchsorted(every, begin_s - 3600.0)
    usual_s = 3600.0 / max(int(before), 1)
    return end_s - begin_s > min(SILENT_STEPS * usual_s, SILENT_AT_REST_S)


def _silences(times: FloatArray, longest_s: float, step_s: float) -> list[tuple[float, float]]:
    at = np.flatnonzero(np.diff(times) > longest_s)
    return [(float(times[i]) + step_s, float(times[i + 1])) for i in at]


def _overlaps(a: list[tuple[float, float]], b: list[tuple[float, float]]) -> list[tuple[float, float]]:
    found, i, j = [], 0, 0
    while i < len(a) and j < len(b):
        begin, end = max(a[i][0], b[j][0]), min(a[i][1], b[j][1])
        if begin < end:
            found.append((begin, end))
        if a[i][1] < b[j][1]:
            i += 1
        else:
            j += 1
    return found


def _interrupted(signal: Signal, begin_s: float, end_s: float, *, is_state: bool) -> Signal:
    """The level is unknown in a gap and after it to the next sample, unless that one tells that nothing was lost."""
    times, levels = signal.times_s, signal.levels
    first = int(np.searchsorted(times, begin_s, side="right")) - 1
    after = int(np.searchsorted(times, end_s, side="left"))
    if first < 0 or first >= levels.size or begin_s >= float(times[-1]):
        return signal
    stays = is_state and after < levels.size and levels[after] == 1.0 - levels[after - 1]
    resumes = min(end_s if stays else float(times[min(after, times.size - 1)]), float(times[-1]))
    held = [(float(begin_s), math.nan)]
    if stays and resumes < float(times[after]):
        held.append((resumes, float(levels[after - 1])))
    before = times[: first + 1] if times[first] < begin_s else times[:first]
    rest = times[:-1][after:]
    new_times = np.concatenate([before, [at for at, _ in held], rest, times[-1:]])
    new_levels = np.concatenate([levels[: before.size], [level for _, level in held], levels[after:]])
    return Signal(new_times, new_levels)
