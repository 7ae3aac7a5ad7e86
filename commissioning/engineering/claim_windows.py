"""Claims over windows and parts of a log: for as long as, at some time within, and what lies between two samples."""

from __future__ import annotations

import math

import numpy as np

from commissioning.engineering.guards import FloatArray, OutOfRange
from commissioning.engineering.temporal import Claim, negated

SAMPLE_S = 0.001  # how long a sample itself holds, where it is not carried to the next


def throughout(*, claim: Claim, window_s: float) -> Claim:
    """Return the claim that another one holds from each time on for as long as a window; past the log it is unknown.

        margin(t) = inf of margin over t to t + window, both ends included

    Args:
        claim: the other one.
        window_s: length of the window [s], 0 or more.

    Raises:
        OutOfRange: the window is below 0.

    Source: bounded 'always' of signal temporal logic; as for `in_band`.

    Example:
        >>> from commissioning.engineering.signals import Signal
        >>> from commissioning.engineering.temporal import in_band
        >>> log = Signal(np.array([0.0, 10.0, 20.0, 30.0]), np.array([3.0, 1.0, 2.0]))
        >>> claim = throughout(claim=in_band(signal=log, low=0.0), window_s=10.0)
        >>> claim.times_s.tolist(), claim.least.tolist()
        ([0.0, 10.0, 20.0, 30.0], [1.0, 1.0, -inf])
    """
    if not 0.0 <= window_s < math.inf:
        raise OutOfRange("window", window_s, 0.0, math.inf, "s")
    times = claim.times_s
    starts = np.unique(np.concatenate([times[:-1], np.clip(times[:-1] - window_s, times[0], None)]))
    first = np.searchsorted(times, starts, side="right") - 1
    last = np.minimum(np.searchsorted(times, starts + window_s, side="right") - 1, claim.least.size - 1)
    beyond = starts + window_s >= times[-1]
    least = np.where(beyond & (window_s > 0.0), -math.inf, _least_over(claim.least, first, last))
    return Claim(np.append(starts, times[-1]), least, _least_over(claim.most, first, last))


def at_some_time(*, claim: Claim, window_s: float) -> Claim:
    """Return the claim that another one holds at some time from each time on within a window.

        margin(t) = sup of margin over t to t + window, both ends included

    Args:
        claim: the other one.
        window_s: length of the window [s], 0 or more.

    Raises:
        OutOfRange: the window is below 0.

    Source: bounded 'eventually' of signal temporal logic; as for `in_band`.

    Example:
        >>> from commissioning.engineering.signals import Signal
        >>> from commissioning.engineering.temporal import in_band
        >>> log = Signal(np.array([0.0, 10.0, 20.0, 30.0]), np.array([-3.0, -1.0, 2.0]))
        >>> at_some_time(claim=in_band(signal=log, low=0.0), window_s=10.0).least.tolist()
        [-1.0, 2.0, 2.0]
    """
    return negated(claim=throughout(claim=negated(claim=claim), window_s=window_s))


def between(*, claim: Claim, from_s: float, to_s: float) -> Claim:
    """Return a claim over a part of its log.

    Args:
        claim: the claim.
        from_s: begin of the part [s].
        to_s: end of the part, after the begin [s].

    Raises:
        ValueError: the part has nothing of the log in it.

    Source: common practice, no source.

    Example:
        >>> from commissioning.engineering.signals import Signal
        >>> from commissioning.engineering.temporal import in_band
        >>> log = Signal(np.array([0.0, 10.0, 20.0]), np.array([1.0, 2.0]))
        >>> part = between(claim=in_band(signal=log, low=0.0), from_s=4.0, to_s=15.0)
        >>> part.times_s.tolist(), part.least.tolist()
        ([4.0, 10.0, 15.0], [1.0, 2.0])
    """
    begin, end = max(from_s, float(claim.times_s[0])), min(to_s, float(claim.times_s[-1]))
    if not begin < end:
        raise ValueError(f"nothing is logged between {from_s:g} s and {to_s:g} s")
    first = int(np.searchsorted(claim.times_s, begin, side="right")) - 1
    last = int(np.searchsorted(claim.times_s, end, side="left"))
    inner = claim.times_s[first + 1 : last]
    return Claim(np.concatenate([[begin], inner, [end]]), claim.least[first:last], claim.most[first:last])


def at_intervals(*, claim: Claim) -> Claim:
    """Return the claim of a log at intervals: between two samples the margin went from the one to the other.

    A log by change of value needs this not: there a level is so until the next. At intervals, a state that is off in
    one sample and on in the next came on between them, and which of two stages of one interval was first is unknown.

    Args:
        claim: the claim, of samples carried to the next.

    Source: common practice, no source.

    Example:
        >>> from commissioning.engineering.signals import Signal
        >>> from commissioning.engineering.temporal import is_on
        >>> log = Signal(np.array([0.0, 60.0, 120.0, 180.0]), np.array([0.0, 0.0, 1.0]))
        >>> claim = at_intervals(claim=is_on(signal=log))
        >>> claim.times_s.tolist(), claim.least.tolist(), claim.most.tolist()
        ([0.0, 60.0, 60.001, 120.0, 180.0], [-inf, -inf, -inf, inf], [-inf, -inf, inf, inf])
    """
    begins, lasts = claim.times_s[:-1], np.diff(claim.times_s)
    changes = np.flatnonzero((claim.least[1:] != claim.least[:-1]) | (claim.most[1:] != claim.most[:-1]))
    after = begins[changes] + np.minimum(SAMPLE_S, lasts[changes] / 2.0)
    least = np.minimum(claim.least[changes], claim.least[changes + 1])
    most = np.maximum(claim.most[changes], claim.most[changes + 1])
    return Claim(
        np.append(np.insert(begins, changes + 1, after), claim.times_s[-1]),
        np.insert(claim.least, changes + 1, least),
        np.insert(claim.most, changes + 1, most),
    )


def _least_over(values: FloatArray, first: np.ndarray, last: np.ndarray) -> FloatArray:
    """The least of values[first..last], ends included, for each pair: minima of powers of two, one power at a time."""
    power = np.floor(np.log2(last - first + 1)).astype(int)
    found = np.empty(first.size)
    blocks, length = values, 1
    for k in range(int(power.max()) + 1):
        if k:
            blocks, length = np.minimum(blocks[: blocks.size - length], blocks[length:]), 2 * length
        mine = power == k
        found[mine] = np.minimum(blocks[first[mine]], blocks[last[mine] - length + 1])
    return found
