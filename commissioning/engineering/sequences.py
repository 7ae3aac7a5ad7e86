"""What follows what: starts and stops found in logs by themselves, with the time of each stage and its bounds.

A stage is seen no more closely than the log allows: between the last time at which it certainly was not so and the
first at which it certainly was. Within the interval of the log both are one; across a gap they lie apart. Times are
carried as such pairs, so that "A before B" or "within 30 s" holds, fails, or is unknown.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.temporal import FAILS, HOLDS, UNKNOWN, Claim


@dataclass(frozen=True, slots=True)
class Moment:
    """When something became so.

    Attributes:
        earliest_s: it certainly was not so before [s].
        latest_s: it certainly was so from then on [s]; infinite where that was never seen.
    """

    earliest_s: float
    latest_s: float


@dataclass(frozen=True, slots=True)
class Occurrence:
    """One time at which an order or a delay was asked for.

    Attributes:
        at_s: when, at the earliest [s].
        outcome: 'holds', 'fails', or 'unknown' where a gap decides.
        least: lower bound of the margin [s].
        most: upper bound of it [s].
    """

    at_s: float
    outcome: str
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class Sequence:
    """One start or stop: what set it off, and when each stage came after it.

    Attributes:
        trigger: when it was set off.
        delays: by stage, how long after that it came [s]; infinite where it never came.
    """

    trigger: Moment
    delays: Mapping[str, Moment]


def rises(*, claim: Claim) -> list[Moment]:
    """Return when a claim came to hold, each time that it was seen not to hold before.

    Args:
        claim: the claim.

    Source: common practice, no source.

    Example:
        >>> from commissioning.engineering.signals import Signal
        >>> from commissioning.engineering.temporal import is_on
        >>> log = Signal(np.array([0.0, 10.0, 20.0, 30.0, 40.0]), np.array([0.0, 1.0, 0.0, np.nan]))
        >>> rises(claim=is_on(signal=log))
        [Moment(earliest_s=10.0, latest_s=10.0)]
    """
    state = _states(claim)
    seen = np.flatnonzero(state != 0)
    came = np.flatnonzero((state[seen[:-1]] < 0) & (state[seen[1:]] > 0))
    return [Moment(float(claim.times_s[seen[i] + 1]), float(claim.times_s[seen[i + 1]])) for i in came]


def moment_after(*, claim: Claim, from_s: float) -> Moment:
    """Return when a claim first holds at or after a time; not before the end of the log where it is never seen.

    Args:
        claim: the claim.
        from_s: the time [s].

    Raises:
        OutOfRange: the time is no number.

    Source: common practice, no source.

    Example:
        >>> from commissioning.engineering.signals import Signal
        >>> from commissioning.engineering.temporal import is_on
        >>> log = Signal(np.array([0.0, 10.0, 20.0, 30.0]), np.array([0.0, np.nan, 1.0]))
        >>> moment_after(claim=is_on(signal=log), from_s=5.0)
        Moment(earliest_s=10.0, latest_s=20.0)
    """
    if math.isnan(from_s):
        raise OutOfRange("time", from_s, -math.inf, math.inf, "s")
    state = _states(claim)
    open_ends = claim.times_s[1:] > from_s
    may = np.flatnonzero(open_ends & (state >= 0))
    does = np.flatnonzero(open_ends & (state > 0))
    end = float(claim.times_s[-1])
    earliest = max(from_s, float(claim.times_s[may[0]])) if may.size else max(from_s, end)
    return Moment(earliest, max(from_s, float(claim.times_s[does[0]])) if does.size else math.inf)


def responses(*, cause: Claim, effect: Claim, within_s: float) -> list[Occurrence]:
    """Return, for each time that a cause came to hold, whether its effect held within a delay.

        margin = within - (t_effect - t_cause)

    Where the cause ends before the delay is over and the effect has not come, nothing was due and nothing is returned.

    Args:
        cause: what sets it off.
        effect: what must follow, or be so already.
        within_s: the delay allowed [s], 0 or more.

    Raises:
        OutOfRange: the delay is below 0.

    Source: common practice, no source.

    Example:
        >>> from commissioning.engineering.signals import Signal
        >>> from commissioning.engineering.temporal import is_on
        >>> command = is_on(signal=Signal(np.array([0.0, 10.0, 100.0]), np.array([0.0, 1.0])))
        >>> proof = is_on(signal=Signal(np.array([0.0, 52.0, 100.0]), np.array([0.0, 1.0])))
        >>> responses(cause=command, effect=proof, within_s=60.0)
        [Occurrence(at_s=10.0, outcome='holds', least=18.0, most=18.0)]
    """
    if not within_s >= 0.0:
        raise OutOfRange("delay", within_s, 0.0, math.inf, "s")
    found = []
    for rise in rises(claim=cause):
        delay = _delay(rise, effect)
        ends = moment_after(claim=_not(cause), from_s=rise.latest_s).earliest_s
        if ends < rise.latest_s + min(delay.earliest_s, within_s) and ends < float(cause.times_s[-1]):
            continue
        found.append(_occurrence(rise.earliest_s, within_s - delay.latest_s, within_s - delay.earliest_s))
    return found


def orders(*, first: Claim, then: Claim, lead_s: float = 0.0) -> list[Occurrence]:
    """Return, for each time that one thing came to hold, whether another had held before it, and long enough.

        margin = (t_then - t_first) - lead

    Where the other does not hold at that time, the margin is by how much later it came, below 0.

    Args:
        first: what must come first.
        then: what must come after it.
        lead_s: how long before at least [s], 0 or more.

    Raises:
        OutOfRange: the lead is below 0.

    Source: common practice, no source.

    Example:
        >>> from commissioning.engineering.signals import Signal
        >>> from commissioning.engineering.temporal import is_on
        >>> damper = is_on(signal=Signal(np.array([0.0, 42.0, 100.0]), np.array([0.0, 1.0])))
        >>> fan = is_on(signal=Signal(np.array([0.0, 45.0, 100.0]), np.array([0.0, 1.0])))
        >>> orders(first=damper, then=fan)
        [Occurrence(at_s=45.0, outcome='holds', least=3.0, most=3.0)]
        >>> orders(first=fan, then=damper)[0].most
        -3.0
    """
    if not lead_s >= 0.0:
        raise OutOfRange("lead", lead_s, 0.0, math.inf, "s")
    found = []
    for rise in rises(claim=then):
        least = _since(first, rise.earliest_s, certain=True) - lead_s
        most = _since(first, rise.latest_s, certain=False) - lead_s
        found.append(_occurrence(rise.earliest_s, least, max(least, most)))
    return found


def runs(*, claim: Claim, at_least_s: float) -> list[Occurrence]:
    """Return, for each time that a claim came to hold, whether it held for long enough.

        margin = t_end - t_begin - at_least

    Args:
        claim: what must last.
        at_least_s: how long [s], 0 or more.

    Raises:
        OutOfRange: the duration is below 0.

    Source: common practice, no source.

    Example:
        >>> from commissioning.engineering.signals import Signal
        >>> from commissioning.engineering.temporal import is_on
        >>> fan = is_on(signal=Signal(np.array([0.0, 10.0, 40.0, 100.0]), np.array([0.0, 1.0, 0.0])))
        >>> runs(claim=fan, at_least_s=60.0)
        [Occurrence(at_s=10.0, outcome='fails', least=-30.0, most=-30.0)]
    """
    if not at_least_s >= 0.0:
        raise OutOfRange("duration", at_least_s, 0.0, math.inf, "s")
    found = []
    for rise in rises(claim=claim):
        end = moment_after(claim=_not(claim), from_s=rise.latest_s)
        least = end.earliest_s - rise.latest_s - at_least_s
        found.append(_occurrence(rise.earliest_s, least, end.latest_s - rise.earliest_s - at_least_s))
    return found


def sequences(*, trigger: Claim, stages: Mapping[str, Claim]) -> list[Sequence]:
    """Return each start in a log: when it was set off, and how long after that each stage came.

    For stops, give the trigger and the stages negated.

    Args:
        trigger: what sets it off, a command.
        stages: what is to come, by name: a damper proven, a fan commanded, a fan proven, air moving.

    Source: common practice, no source.

    Example:
        >>> from commissioning.engineering.signals import Signal
        >>> from commissioning.engineering.temporal import is_on
        >>> def log(at): return is_on(signal=Signal(np.array([0.0, at, 200.0]), np.array([0.0, 1.0])))
        >>> start, = sequences(trigger=log(10.0), stages={"damper": log(52.0), "fan": log(55.0)})
        >>> [(name, delay.latest_s) for name, delay in start.delays.items()]
        [('damper', 42.0), ('fan', 45.0)]
    """
    return [
        Sequence(rise, {name: _delay(rise, claim) for name, claim in stages.items()}) for rise in rises(claim=trigger)
    ]


def _states(claim: Claim) -> np.ndarray:
    """1 where it holds, -1 where it does not, 0 where that is unknown."""
    return np.where(claim.least >= 0.0, 1, np.where(claim.most < 0.0, -1, 0))


def _not(claim: Claim) -> Claim:
    """Not holding, as a state: a margin of 0 holds."""
    state = _states(claim)
    return Claim(
        claim.times_s,
        np.where(state < 0, math.inf, -math.inf),
        np.where(state > 0, -math.inf, math.inf),
    )


def _delay(rise: Moment, effect: Claim) -> Moment:
    earliest = moment_after(claim=effect, from_s=rise.earliest_s).earliest_s - rise.latest_s
    return Moment(max(0.0, earliest), moment_after(claim=effect, from_s=rise.latest_s).latest_s - rise.earliest_s)


def _since(claim: Claim, at_s: float, *, certain: bool) -> float:
    """How long a claim has held at a time [s]; where it does not, less than 0 by how much later it comes."""
    state = _states(claim)
    holds = state > 0 if certain else state >= 0
    at = int(np.searchsorted(claim.times_s, at_s, side="right")) - 1
    if not 0 <= at < state.size:
        return -math.inf if certain else math.inf
    if not holds[at]:
        came = moment_after(claim=claim, from_s=at_s)
        return at_s - (came.latest_s if certain else came.earliest_s)
    before = np.flatnonzero(~holds[: at + 1])
    if before.size:
        return at_s - float(claim.times_s[before[-1] + 1])
    return at_s - float(claim.times_s[0]) if certain else math.inf


def _occurrence(at_s: float, least: float, most: float) -> Occurrence:
    outcome = HOLDS if least >= 0.0 else FAILS if most < 0.0 else UNKNOWN
    return Occurrence(at_s, outcome, least, most)
