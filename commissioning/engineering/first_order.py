"""A process of first order with dead time: how it answers a step, and what it is by its answer.

    K e^(-theta s) / (tau s + 1)

Fans, coils, dampers and rooms are not of first order; over one step near one point they are close to it, and that is
what a loop is tuned by. The fit says how sure it is. A step that does not stand well above the noise, a response that
has not settled, or a fit that depends on which way the step went is told by its doubts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.guards import FloatArray, OutOfRange, within

LONGEST_S = 1e7
LEAST_SIGNAL_TO_NOISE = 5.0
SETTLED_SHARE = 3.0  # of a time constant after the last step: 95 % of the way


@dataclass(frozen=True, slots=True)
class FirstOrder:
    """A process of first order with dead time.

    Attributes:
        gain: K, change of output over change of input [unit of output per unit of input], not 0.
        time_constant_s: tau [s], above 0.
        dead_time_s: theta [s], 0 or more.
    """

    gain: float
    time_constant_s: float
    dead_time_s: float

    def __post_init__(self) -> None:
        if not math.isfinite(self.gain) or self.gain == 0.0:
            raise ValueError(f"the gain of a process is a number other than 0, not {self.gain:g}")
        _positive("time constant", self.time_constant_s)
        within("dead time", self.dead_time_s, 0.0, LONGEST_S, "s")


@dataclass(frozen=True, slots=True)
class Fit:
    """What a log says a process is.

    Attributes:
        process: the process that fits best.
        gain_uncertainty: standard uncertainty of the gain [unit of output per unit of input].
        time_constant_uncertainty_s: standard uncertainty of the time constant [s].
        dead_time_uncertainty_s: standard uncertainty of the dead time [s].
        residual: standard deviation of output less fit [unit of output].
        signal_to_noise: change that the input made over that deviation [-].
        doubts: what speaks against the fit, each a sentence.
    """

    process: FirstOrder
    gain_uncertainty: float
    time_constant_uncertainty_s: float
    dead_time_uncertainty_s: float
    residual: float
    signal_to_noise: float
    doubts: tuple[str, ...]


def by_two_points(*, gain: float, time_to_28_s: float, time_to_63_s: float) -> FirstOrder:
    """Return the process by two points of its answer to a step: where 28.3 % and 63.2 % of the change are reached.

        tau = 1.5 (t63 - t28),  theta = t63 - tau, 0 at the least

    Args:
        gain: K, change of output over change of input [unit of output per unit of input], not 0.
        time_to_28_s: t28 after the step [s], 0 or more.
        time_to_63_s: t63 after the step, later than t28 [s], above 0.

    Raises:
        ValueError: the gain is 0.
        OutOfRange: the second point is not after the first.

    Source: C. L. Smith, two-point method; from memory.

    Example:
        >>> process = by_two_points(gain=2.5, time_to_28_s=25.31, time_to_63_s=51.99)
        >>> round(process.time_constant_s, 2), round(process.dead_time_s, 2)
        (40.02, 11.97)
    """
    first = within("time to 28.3 %", time_to_28_s, 0.0, LONGEST_S, "s").item()
    second = within("time to 63.2 %", time_to_63_s, 0.0, LONGEST_S, "s").item()
    if not second > first:
        raise OutOfRange("time to 63.2 %", second, first, LONGEST_S, "s")
    time_constant_s = 1.5 * (second - first)
    return FirstOrder(gain, time_constant_s, max(0.0, second - time_constant_s))


def by_half_rule(
    *, gain: float, lags_s: Sequence[float], dead_time_s: float = 0.0, leads_s: Sequence[float] = ()
) -> FirstOrder:
    """Return the process of first order that stands for one with several lags.

        tau = tau_1 + tau_2 / 2;  theta = theta_0 + tau_2 / 2 + tau_3 + ... - sum of leads

    An inverse response is a lead below 0 and adds to the dead time. A lead must be small against the lags.

    Args:
        gain: K [unit of output per unit of input], not 0.
        lags_s: tau_i, one or more, each [s], above 0, in any order.
        dead_time_s: theta_0 [s], 0 or more.
        leads_s: numerator times, each [s].

    Raises:
        ValueError: no lag, or leads that leave less than no dead time.
        OutOfRange: a lag is not above 0, or the dead time lies below 0.

    Source: S. Skogestad, Simple analytic rules for model reduction and PID controller tuning, J. Process Control 13
    (2003) 291-309, half rule; from memory.

    Example:
        >>> lags = [2.0, 1.0, 0.4, 0.2, 0.05, 0.05, 0.05]
        >>> process = by_half_rule(gain=1.0, lags_s=lags, leads_s=[-0.3, 0.08])
        >>> round(process.time_constant_s, 9), round(process.dead_time_s, 9)
        (2.5, 1.47)
    """
    if not lags_s:
        raise ValueError("a process has one lag or more")
    lags = sorted((_positive("lag", lag) for lag in lags_s), reverse=True)
    dead = within("dead time", dead_time_s, 0.0, LONGEST_S, "s").item()
    shared = lags[1] / 2.0 if len(lags) > 1 else 0.0
    dead += shared + sum(lags[2:]) - sum(leads_s)
    if not dead >= 0.0:
        raise ValueError("leads as large as these are not small against the lags: the half rule does not hold")
    return FirstOrder(gain, lags[0] + shared, dead)


def response(*, process: FirstOrder, input_times_s: FloatArray, inputs: FloatArray, at_s: FloatArray) -> FloatArray:
    """Return how a process at rest answers an input that goes in steps, as change from where it was.

        tau dy/dt = K (u(t - theta) - u_0) - y, solved exactly from step to step

    Args:
        process: the process.
        input_times_s: when the input takes each value, rising [s].
        inputs: u from each of these times on [unit of input]; the first is the input at rest.
        at_s: when the answer is asked for [s].

    Raises:
        ValueError: times that do not rise, not one input for each, or one that is no number.

    Source: linear first-order equation, exact for an input in steps.

    Example:
        >>> process = FirstOrder(gain=2.0, time_constant_s=10.0, dead_time_s=5.0)
        >>> steps, inputs = np.array([0.0, 20.0]), np.array([1.0, 2.0])
        >>> response(process=process, input_times_s=steps, inputs=inputs, at_s=np.array([24.0, 35.0])).round(4).tolist()
        [0.0, 1.2642]
    """
    if input_times_s.ndim != 1 or inputs.shape != input_times_s.shape or not inputs.size:
        raise ValueError("an input has one value for each time, and at least one")
    if not bool(np.all(np.diff(input_times_s) > 0.0)) or not bool(np.all(np.isfinite(inputs))):
        raise ValueError("the times of an input rise, and each value is a number")
    if not bool(np.all(np.isfinite(at_s))) or not math.isfinite(float(input_times_s[0])):
        raise ValueError("each time is a number")
    return process.gain * _unit_response(
        input_times_s + process.dead_time_s, inputs - inputs[0], process.time_constant_s, at_s
    )


def fit(*, times_s: FloatArray, outputs: FloatArray, input_times_s: FloatArray, inputs: FloatArray) -> Fit:
    """Return the process of first order with dead time that fits a log best, with the uncertainty of what it found.

    Least squares over gain, time constant, dead time and the level before the step; the uncertainty is that of the
    linear form at the best fit, widened where the residuals follow one another: (1 + r) / (1 - r) of their variance.

    Args:
        times_s: when the output was logged, rising, ten or more [s].
        outputs: y at these times [unit of output]; what is not a number is left out.
        input_times_s: when the input took each value, rising [s].
        inputs: u from each of these times on, at least one change [unit of input].

    Raises:
        ValueError: fewer than ten outputs, an input that does not change while the output is logged, or times that do
            not rise.

    Source: JCGM 100:2008 H.3 (least squares); S. Skogestad (2003) for what the process is used for. Correction for
    correlated residuals: common practice, no source.

    Example:
        >>> times = np.arange(0.0, 300.0, 5.0)
        >>> process = FirstOrder(gain=2.5, time_constant_s=40.0, dead_time_s=12.0)
        >>> steps, inputs = np.array([-60.0, 30.0]), np.array([0.0, 1.0])
        >>> outputs = 20.0 + response(process=process, input_times_s=steps, inputs=inputs, at_s=times)
        >>> found = fit(times_s=times, outputs=outputs, input_times_s=steps, inputs=inputs).process
        >>> round(found.gain, 3), round(found.time_constant_s, 2), round(found.dead_time_s, 2)
        (2.5, 40.0, 12.0)
    """
    if times_s.ndim != 1 or outputs.shape != times_s.shape or not bool(np.all(np.diff(times_s) > 0.0)):
        raise ValueError("a log has one output for each time, and the times rise")
    known = np.isfinite(outputs)
    at, y = times_s[known], outputs[known]
    if at.size < 10:
        raise ValueError(f"a fit needs ten outputs or more, and {at.size} are known")
    if input_times_s.ndim != 1 or inputs.shape != input_times_s.shape or not bool(np.all(np.diff(input_times_s) > 0.0)):
        raise ValueError("an input has one value for each time, and the times rise")
    if not bool(np.all(np.isfinite(inputs))):
        raise ValueError("each value of the input is a number")
    steps = np.flatnonzero(np.diff(inputs) != 0.0) + 1
    seen = steps[(input_times_s[steps] >= at[0]) & (input_times_s[steps] < at[-1])]
    if not seen.size:
        raise ValueError("the input does not change while the output is logged: nothing can be fitted")
    levels = inputs - inputs[0]
    found = _best(at, y, input_times_s, levels)
    return _told(found, at, y, input_times_s, levels, last_step_s=float(input_times_s[seen[-1]]))


def _positive(quantity: str, value: float) -> float:
    if not 0.0 < value <= LONGEST_S:
        raise OutOfRange(quantity, value, 0.0, LONGEST_S, "s")
    return value


def _unit_response(begins: FloatArray, levels: FloatArray, time_constant_s: float, at_s: FloatArray) -> FloatArray:
    """The answer of a process with gain 1 and no dead time, at rest at 0 before the first level."""
    states = np.zeros(levels.size)
    decays = np.exp(-np.diff(begins) / time_constant_s)
    for i, decay in enumerate(decays):
        states[i + 1] = levels[i] + (states[i] - levels[i]) * decay
    index = np.clip(np.searchsorted(begins, at_s, side="right") - 1, 0, levels.size - 1)
    since = np.maximum(at_s - begins[index], 0.0)
    answer: FloatArray = levels[index] + (states[index] - levels[index]) * np.exp(-since / time_constant_s)
    return answer


def _best(at: FloatArray, y: FloatArray, steps: FloatArray, levels: FloatArray) -> FloatArray:
    """Logarithm of the time constant and dead time of the best fit: the best of a grid, then refined."""
    span = float(at[-1] - at[0])
    step = float(np.median(np.diff(at)))
    constants = np.log(np.geomspace(step / 4.0, 3.0 * span, 24))
    dead_times = np.concatenate([[0.0], np.geomspace(step / 2.0, span / 2.0, 16)])
    grid = [(float(_residuals(np.array([c, d]), at, y, steps, levels)[1]), c, d) for c in constants for d in dead_times]
    best = min(
        (_refined(np.array(start[1:]), at, y, steps, levels) for start in sorted(grid)[:3]),
        key=lambda point: float(_residuals(point, at, y, steps, levels)[1]),
    )
    return best


def _residuals(
    point: FloatArray, at: FloatArray, y: FloatArray, steps: FloatArray, levels: FloatArray
) -> tuple[FloatArray, float, float]:
    """Residuals, their sum of squares, and the gain: it and the level follow from the other two, by regression."""
    shape = _unit_response(steps + point[1], levels, math.exp(point[0]), at)
    off, about = shape - shape.mean(), y - y.mean()
    spread = float(off @ off)
    gain = float(off @ about) / spread if spread > 0.0 else 0.0
    left: FloatArray = about - gain * off
    return left, float(left @ left), gain


def _refined(point: FloatArray, at: FloatArray, y: FloatArray, steps: FloatArray, levels: FloatArray) -> FloatArray:
    """Levenberg and Marquardt over the two that are not linear."""
    damping, scale = 1e-3, float(at[-1] - at[0])
    left, square, _ = _residuals(point, at, y, steps, levels)
    for _ in range(60):
        moves = (1e-5, 1e-6 * scale)
        slopes = np.column_stack(
            [(_residuals(point + np.eye(2)[i] * h, at, y, steps, levels)[0] - left) / h for i, h in enumerate(moves)]
        )
        normal = slopes.T @ slopes
        try:
            step = np.linalg.solve(normal + damping * np.diag(np.diag(normal) + 1e-300), -slopes.T @ left)
        except np.linalg.LinAlgError:
            return point
        tried = np.array([np.clip(point[0] + step[0], -20.0, math.log(LONGEST_S)), max(0.0, point[1] + step[1])])
        tried_left, tried_square, _ = _residuals(tried, at, y, steps, levels)
        if tried_square > square:
            damping *= 5.0
            if damping > 1e12:
                return point
            continue
        near = square - tried_square <= 1e-14 * square
        point, left, square, damping = tried, tried_left, tried_square, damping / 5.0
        if near:
            return point
    return point


def _told(
    point: FloatArray, at: FloatArray, y: FloatArray, steps: FloatArray, levels: FloatArray, *, last_step_s: float
) -> Fit:
    left, square, gain = _residuals(point, at, y, steps, levels)
    time_constant_s, dead_time_s = math.exp(point[0]), float(point[1])

    def model(parameters: FloatArray) -> FloatArray:
        k, tau, theta, base = parameters
        output: FloatArray = base + k * _unit_response(steps + theta, levels, tau, at)
        return output

    best = np.array([gain, time_constant_s, dead_time_s, 0.0])
    moves = np.array([max(abs(gain), 1e-9) * 1e-5, time_constant_s * 1e-5, (at[-1] - at[0]) * 1e-6, 1.0])
    slopes = np.column_stack([(model(best + np.eye(4)[i] * h) - model(best)) / h for i, h in enumerate(moves)])
    variance = square / (at.size - 4)
    follows = float(left[1:] @ left[:-1] / square) if square > 0.0 else 0.0
    follows = min(max(follows, 0.0), 0.98)
    covariance = np.linalg.pinv(slopes.T @ slopes) * variance * (1.0 + follows) / (1.0 - follows)
    own = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    residual = math.sqrt(variance)
    made = float(np.ptp(gain * _unit_response(steps + dead_time_s, levels, time_constant_s, at)))
    signal_to_noise = made / residual if residual > 0.0 else math.inf
    process = FirstOrder(gain or math.ulp(0.0), time_constant_s, dead_time_s)
    doubts = []
    if signal_to_noise < LEAST_SIGNAL_TO_NOISE:
        doubts.append(
            f"The step made a change of {signal_to_noise:.1f} times the scatter; 5 times or more tells a fit."
        )
    if at[-1] - last_step_s - dead_time_s < SETTLED_SHARE * time_constant_s:
        doubts.append("The log ends before the response has settled: three time constants after the last step.")
    if time_constant_s < float(np.median(np.diff(at))):
        doubts.append("The time constant is shorter than the interval of the log: log faster.")
    return Fit(process, float(own[0]), float(own[1]), float(own[2]), residual, signal_to_noise, tuple(doubts))
