"""How a control loop does what it is for: after a step of its set point, and while nothing is asked of it.

A loop that hunts is told from one that is pushed about: what hunts comes back in halves of like area and like length,
what is pushed does not.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.guards import FloatArray, OutOfRange, within

ALIKE_AREA = 0.5
ALIKE_LENGTH = 0.7
HUNTS_ABOVE = 0.4
HUNTS_STRONGLY_ABOVE = 0.8
LEAST_HALVES = 6


@dataclass(frozen=True, slots=True)
class StepAnswer:
    """How a loop answered a step.

    Attributes:
        overshoot: largest excess over the set point, over the size of the step [-]; 0 where there is none.
        decay_ratio: second excess over the first [-]; 0 where there is no second.
        rise_s: from a tenth to nine tenths of the step [s]; not a number where that was not reached.
        settling_s: from the step until it stays in the band to the end of the log [s]; infinite where it never does.
        steady_error: mean of the last fifth of the log less the set point [unit of the signal].
        absolute_error: integral of the size of the error [unit of the signal times s].
    """

    overshoot: float
    decay_ratio: float
    rise_s: float
    settling_s: float
    steady_error: float
    absolute_error: float


@dataclass(frozen=True, slots=True)
class Hunting:
    """Whether an error goes to and fro by itself.

    Attributes:
        index: share of halves that are like the one before on the same side, 0 to 1.
        halves: how many there were.
        period_s: twice the middle length of a half [s]; not a number where there are too few.
        amplitude: of a sine with the same area in a half [unit of the error].
        outcome: 'steady', 'hunts', 'hunts strongly', or 'too short' to tell.
    """

    index: float
    halves: int
    period_s: float
    amplitude: float
    outcome: str


def overshoot_from_damping(*, damping: float) -> float:
    """Return the overshoot of a pure second-order response.

        OS = exp(-pi zeta / sqrt(1 - zeta^2))

    Args:
        damping: zeta, 0 to 1.

    Raises:
        OutOfRange: the damping lies outside.

    Source: linear second-order response; exact.

    Example:
        >>> round(100 * overshoot_from_damping(damping=0.5), 3)
        16.303
    """
    zeta = within("damping", damping, 0.0, 1.0, "").item()
    return math.exp(-math.pi * zeta / math.sqrt(1.0 - zeta * zeta)) if zeta < 1.0 else 0.0


def damping_from_overshoot(*, overshoot: float) -> float:
    """Return the damping of a pure second-order response by its overshoot.

        zeta = -ln OS / sqrt(pi^2 + ln^2 OS)

    Args:
        overshoot: OS over the step, 0 to 1.

    Raises:
        OutOfRange: the overshoot lies outside.

    Source: linear second-order response; exact.

    Example:
        >>> round(damping_from_overshoot(overshoot=0.25), 4)
        0.4037
    """
    share = within("overshoot", overshoot, 0.0, 1.0, "").item()
    if share == 0.0:
        return 1.0
    return -math.log(share) / math.hypot(math.pi, math.log(share))


def decay_ratio_from_overshoot(*, overshoot: float) -> float:
    """Return the second excess over the first of a pure second-order response: the square of its overshoot.

        d = OS^2

    Args:
        overshoot: OS over the step, 0 to 1.

    Raises:
        OutOfRange: the overshoot lies outside.

    Source: linear second-order response; exact.

    Example:
        >>> decay_ratio_from_overshoot(overshoot=0.25)
        0.0625
    """
    return float(within("overshoot", overshoot, 0.0, 1.0, "").item() ** 2)


def settling_time_s(*, error: float, band: float, time_constant_s: float) -> float:
    """Return how long an error that decays as of first order takes to come into a band.

        t = tau ln(e / band), 0 at the least

    Args:
        error: e at the start, in any unit, 0 or more.
        band: half width of the band, in the same unit, above 0.
        time_constant_s: tau [s], above 0.

    Raises:
        OutOfRange: an argument lies outside.

    Source: linear first-order decay; exact.

    Example:
        >>> round(settling_time_s(error=0.25, band=0.10, time_constant_s=60.0), 2)
        54.98
    """
    start = within("error", error, 0.0, 1e12, "").item()
    if not 0.0 < band < math.inf:
        raise OutOfRange("band", band, 0.0, math.inf, "")
    if not 0.0 < time_constant_s < math.inf:
        raise OutOfRange("time constant", time_constant_s, 0.0, math.inf, "s")
    return max(0.0, time_constant_s * math.log(start / band)) if start > 0.0 else 0.0


def half_cycle_error(*, amplitude: float, period_s: float) -> float:
    """Return the integral of the size of one half of a sine.

        IAE = 2 A / omega = A T / pi

    Args:
        amplitude: A [unit of the error], 0 or more.
        period_s: T [s], above 0.

    Raises:
        OutOfRange: an argument lies outside.

    Source: T. Hagglund, A control-loop performance monitor, Control Eng. Practice 3 (1995) 1543-1551; from memory.

    Example:
        >>> round(half_cycle_error(amplitude=2.0, period_s=120.0), 3)
        76.394
    """
    size = within("amplitude", amplitude, 0.0, 1e12, "").item()
    if not 0.0 < period_s < math.inf:
        raise OutOfRange("period", period_s, 0.0, math.inf, "s")
    return float(size * period_s / math.pi)


def step_answer(
    *, times_s: FloatArray, values: FloatArray, step_at_s: float, from_level: float, set_point: float, band: float
) -> StepAnswer:
    """Return how a loop answered a step of its set point.

    Args:
        times_s: when the signal was logged, rising [s].
        values: the signal [unit of the signal]; what is not a number is left out.
        step_at_s: when the set point stepped [s].
        from_level: where the signal was before [unit of the signal].
        set_point: where it should go [unit of the signal], other than before.
        band: half width of what counts as settled [unit of the signal], above 0.

    Raises:
        ValueError: fewer than five values after the step, no step, or times that do not rise.
        OutOfRange: the band is not above 0.

    Source: step-response characteristics, K. J. Astrom and R. M. Murray, Feedback Systems, 6.3; from memory.

    Example:
        >>> times = np.arange(0.0, 100.0, 1.0)
        >>> values = 22.0 - 2.0 * np.exp(-times / 10.0)
        >>> answer = step_answer(
        ...     times_s=times, values=values, step_at_s=0.0, from_level=20.0, set_point=22.0, band=0.2)
        >>> answer.overshoot, answer.settling_s, round(answer.absolute_error, 1)
        (0.0, 24.0, 20.0)
    """
    if not 0.0 < band < math.inf:
        raise OutOfRange("band", band, 0.0, math.inf, "")
    size = set_point - from_level
    if not (math.isfinite(size) and math.isfinite(step_at_s)) or size == 0.0:
        raise ValueError("a step goes from one level to another at a time, all of them numbers")
    if values.shape != times_s.shape or not bool(np.all(np.diff(times_s) > 0.0)):
        raise ValueError("a log has one value for each time, and the times rise")
    use = np.isfinite(values) & (times_s >= step_at_s)
    at, error = times_s[use] - step_at_s, (values[use] - set_point) / size
    if at.size < 5:
        raise ValueError(f"five values or more after the step are needed, and {at.size} are known")
    excess = _peaks(error)
    return StepAnswer(
        overshoot=excess[0] if excess else 0.0,
        decay_ratio=excess[1] / excess[0] if len(excess) > 1 else 0.0,
        rise_s=_reached(at, error, 0.9) - _reached(at, error, 0.1),
        settling_s=_settled(at, np.abs(error * size), band),
        steady_error=float(error[-max(1, at.size // 5) :].mean() * size),
        absolute_error=float(np.trapezoid(np.abs(error * size), at)),
    )


def hunting(*, times_s: FloatArray, errors: FloatArray, least_amplitude: float) -> Hunting:
    """Return whether an error goes to and fro by itself, by how alike its halves are.

        index = (halves like the one before on the same side) / (halves that have one), h > 0.4 hunts, h > 0.8 strongly
        alike: area and length each within a factor, 0.5 and 0.7

    Halves with less area than a sine of the least amplitude has are noise: they are joined to their neighbours.

    Args:
        times_s: when the error was logged, rising [s].
        errors: signal less set point [unit of the error]; what is not a number counts as none.
        least_amplitude: what is too small to matter [unit of the error], above 0.

    Raises:
        ValueError: fewer than three values.
        OutOfRange: the least amplitude is not above 0.

    Source: K. Forsman and A. Stattin, A new criterion for detecting oscillations in control loops (ECC 1999), counted
    over the halves that have one to be compared with; from memory.

    Example:
        >>> times = np.arange(0.0, 1200.0, 5.0)
        >>> found = hunting(times_s=times, errors=2.0 * np.sin(2 * np.pi * times / 120.0), least_amplitude=0.5)
        >>> found.outcome, round(found.period_s), round(found.amplitude, 1)
        ('hunts strongly', 120, 2.0)
    """
    if not 0.0 < least_amplitude < math.inf:
        raise OutOfRange("least amplitude", least_amplitude, 0.0, math.inf, "")
    if times_s.size < 3 or errors.shape != times_s.shape or not bool(np.all(np.diff(times_s) > 0.0)):
        raise ValueError("a loop is judged by three errors or more, one for each time, and the times rise")
    areas, lengths = _halves(times_s, np.nan_to_num(errors), least_amplitude)
    inner_areas, inner_lengths = areas[1:-1], lengths[1:-1]  # the first and the last are cut by the log
    if inner_areas.size < LEAST_HALVES:
        return Hunting(0.0, int(inner_areas.size), math.nan, 0.0, "steady" if areas.size <= 1 else "too short")
    alike = _alike(np.abs(inner_areas), ALIKE_AREA) & _alike(inner_lengths, ALIKE_LENGTH)
    index = float(alike.mean())
    period = 2.0 * float(np.median(inner_lengths))
    amplitude = float(np.median(np.abs(inner_areas))) * math.pi / period
    outcome = "hunts strongly" if index > HUNTS_STRONGLY_ABOVE else "hunts" if index > HUNTS_ABOVE else "steady"
    return Hunting(index, int(inner_areas.size), period, amplitude, outcome)


def _peaks(error: FloatArray) -> list[float]:
    """The largest excess of each stretch beyond the set point, in order; the last one only if it ended."""
    beyond = error > 0.0
    edges = np.flatnonzero(np.diff(np.concatenate([[False], beyond, [False]]).astype(int)))
    return [float(error[a:b].max()) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _reached(at: FloatArray, error: FloatArray, share: float) -> float:
    """When a share of the step was first reached, between two samples by straight line."""
    found = np.flatnonzero(error >= share - 1.0)
    if not found.size:
        return math.nan
    i = int(found[0])
    if i == 0:
        return float(at[0])
    part = (share - 1.0 - error[i - 1]) / (error[i] - error[i - 1])
    return float(at[i - 1] + part * (at[i] - at[i - 1]))


def _settled(at: FloatArray, off: FloatArray, band: float) -> float:
    outside = np.flatnonzero(off > band)
    if not outside.size:
        return 0.0
    last = int(outside[-1])
    return float(at[last + 1]) if last + 1 < at.size else math.inf


def _halves(times: FloatArray, errors: FloatArray, least_amplitude: float) -> tuple[FloatArray, FloatArray]:
    """Area and length of each stretch on one side, those that are noise joined to the one before."""
    signs = np.sign(errors)
    for i in range(1, signs.size):
        if signs[i] == 0.0:
            signs[i] = signs[i - 1]
    crossings = np.flatnonzero(signs[1:] * signs[:-1] < 0.0)
    share = errors[crossings] / (errors[crossings] - errors[crossings + 1])
    edges = np.concatenate(
        [times[:1], times[crossings] + share * (times[crossings + 1] - times[crossings]), times[-1:]]
    )
    summed = np.concatenate([[0.0], np.cumsum(np.diff(times) * (errors[1:] + errors[:-1]) / 2.0)])
    areas, lengths = np.diff(np.interp(edges, times, summed)), np.diff(edges)
    kept: list[list[float]] = []
    for area, length in zip(areas, lengths, strict=True):
        noise = abs(area) < least_amplitude * length / math.pi * 2.0
        if kept and (noise or area * kept[-1][0] >= 0.0):
            kept[-1] = [kept[-1][0] + area, kept[-1][1] + length]
        elif not noise:
            kept.append([area, length])
    both = np.array(kept).reshape(-1, 2)
    return both[:, 0], both[:, 1]


def _alike(values: FloatArray, factor: float) -> np.ndarray:
    ratio = values[2:] / values[:-2]
    return (ratio > factor) & (ratio < 1.0 / factor)
