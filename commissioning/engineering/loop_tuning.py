"""Settings of a PI loop by the SIMC rule, and how far a loop is from the edge of stability.

The rule assumes that the process is of first order with dead time near the point where it was measured, that the
controller is of the ideal form, K_c (1 + 1/(tau_I s)), and that nothing saturates. A controller that counts its gain
as a proportional band, or its integral in repeats, needs its own numbers; the advice says so where it is shown.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.first_order import LONGEST_S, FirstOrder
from commissioning.engineering.guards import FloatArray, OutOfRange


@dataclass(frozen=True, slots=True)
class PiSettings:
    """Settings of a PI controller of the ideal form.

    Attributes:
        controller_gain: K_c [unit of input per unit of output], of the sign of the process.
        integral_time_s: tau_I [s], above 0.
    """

    controller_gain: float
    integral_time_s: float

    def __post_init__(self) -> None:
        if not math.isfinite(self.controller_gain) or self.controller_gain == 0.0:
            raise ValueError(f"the gain of a controller is a number other than 0, not {self.controller_gain:g}")
        if not 0.0 < self.integral_time_s <= LONGEST_S:
            raise OutOfRange("integral time", self.integral_time_s, 0.0, LONGEST_S, "s")


@dataclass(frozen=True, slots=True)
class Margins:
    """How far a loop is from the edge of stability.

    Attributes:
        phase_margin_deg: further lag of phase at the gain of 1 that it bears [deg].
        gain_margin: factor on the gain that it bears [-]; infinite where no gain makes it unstable.
        peak_sensitivity: largest |1/(1 + L)| over all frequencies, M_s [-]; below 1.7 is robust.
    """

    phase_margin_deg: float
    gain_margin: float
    peak_sensitivity: float


def simc_pi(*, process: FirstOrder, closed_loop_time_constant_s: float | None = None) -> PiSettings:
    """Return PI settings for a process of first order with dead time.

        K_c = tau / (K (tau_c + theta)),  tau_I = min(tau, 4 (tau_c + theta))

    Args:
        process: the process.
        closed_loop_time_constant_s: tau_c [s], above 0; None for theta, tight with good margins. Larger is smoother.

    Raises:
        ValueError: neither a dead time nor a closed-loop time constant is given.
        OutOfRange: the closed-loop time constant is not above 0.

    Source: S. Skogestad, J. Process Control 13 (2003) 291-309, SIMC rule, read in a public note of its author.

    Example:
        >>> simc_pi(process=FirstOrder(gain=1.0, time_constant_s=8.0, dead_time_s=1.0))
        PiSettings(controller_gain=4.0, integral_time_s=8.0)
        >>> simc_pi(process=FirstOrder(gain=2.0, time_constant_s=100.0, dead_time_s=10.0))
        PiSettings(controller_gain=2.5, integral_time_s=80.0)
    """
    wished = closed_loop_time_constant_s
    if wished is not None and not 0.0 < wished <= LONGEST_S:
        raise OutOfRange("closed-loop time constant", wished, 0.0, LONGEST_S, "s")
    if wished is None and process.dead_time_s == 0.0:
        raise ValueError("without dead time any gain is stable: say how fast the loop is to be")
    reach = (process.dead_time_s if wished is None else wished) + process.dead_time_s
    gain = process.time_constant_s / (process.gain * reach)
    return PiSettings(gain, min(process.time_constant_s, 4.0 * reach))


def margins(*, process: FirstOrder, settings: PiSettings) -> Margins:
    """Return the margins of a PI loop around a process of first order with dead time.

        L(jw) = K_c (1 + 1/(tau_I jw)) K e^(-theta jw) / (tau jw + 1), on 40,000 frequencies

    Args:
        process: the process.
        settings: of the controller; its gain has the sign of the process, else the loop runs away.

    Raises:
        ValueError: the gain of the controller has the other sign.

    Source: K. J. Astrom and R. M. Murray, Feedback Systems, ch. 10 (Nyquist, margins); from memory.

    Example:
        >>> process = FirstOrder(gain=1.0, time_constant_s=8.0, dead_time_s=1.0)
        >>> found = margins(process=process, settings=simc_pi(process=process))
        >>> round(found.phase_margin_deg, 2), round(found.gain_margin, 3), round(found.peak_sensitivity, 3)
        (61.35, 3.142, 1.59)
    """
    if process.gain * settings.controller_gain < 0.0:
        raise ValueError("the gain of the controller has the other sign than that of the process: the loop runs away")
    slow = min(1.0 / process.time_constant_s, 1.0 / settings.integral_time_s)
    fast = max(1.0 / process.time_constant_s, 1.0 / settings.integral_time_s, process.gain * settings.controller_gain)
    top = 100.0 * max(fast, 1.0 / process.dead_time_s if process.dead_time_s else fast)
    frequency = np.geomspace(slow / 1e4, top, 40_000)
    size, phase = _loop(process, settings, frequency)
    real, imaginary = size * np.cos(phase), size * np.sin(phase)
    sensitivity = 1.0 / np.hypot(1.0 + real, imaginary)
    crossing = _crossed(np.log(size), frequency)
    turning = _crossed(phase + math.pi, frequency)
    phase_margin = math.inf
    if crossing is not None:
        phase_margin = 180.0 + math.degrees(float(_loop(process, settings, np.array([crossing]))[1][0]))
    gain_margin = math.inf
    if turning is not None:
        gain_margin = 1.0 / float(_loop(process, settings, np.array([turning]))[0][0])
    return Margins(phase_margin, gain_margin, float(sensitivity.max()))


def set_point_response(*, process: FirstOrder, settings: PiSettings, at_s: FloatArray) -> FloatArray:
    """Return how a PI loop answers a step of its set point by 1, to see what settings will do; nothing saturates.

        small steps of the exact answer of the process, 1/400 of its dead time, time constant or integral time

    Args:
        process: the process.
        settings: of the controller.
        at_s: when the answer is asked for, after the step [s], 0 or more.

    Raises:
        OutOfRange: a time lies below 0, or is no number.

    Source: simulation of the loop.

    Example:
        >>> process = FirstOrder(gain=1.0, time_constant_s=8.0, dead_time_s=1.0)
        >>> tight = simc_pi(process=process)
        >>> round(float(set_point_response(process=process, settings=tight, at_s=np.arange(0.0, 20.0, 0.05)).max()), 2)
        1.04
    """
    times = np.asarray(at_s, dtype=np.float64)
    latest = float(times.max(initial=0.0))
    if not bool(np.all((times >= 0.0) & (times <= LONGEST_S))):
        raise OutOfRange("time after the step", float(times.min()), 0.0, LONGEST_S, "s")
    shortest = min(process.time_constant_s, settings.integral_time_s, process.dead_time_s or process.time_constant_s)
    step = max(shortest / 400.0, latest / 200_000.0, 1e-9)
    count = math.ceil(latest / step) + 1
    delay = round(process.dead_time_s / step)
    decay = math.exp(-step / process.time_constant_s)
    outputs, inputs, summed, y = [0.0] * (count + 1), [0.0] * (count + 1), 0.0, 0.0
    for i in range(count):
        error = 1.0 - y
        summed += error * step
        inputs[i] = settings.controller_gain * (error + summed / settings.integral_time_s)
        delayed = inputs[i - delay] if i >= delay else 0.0
        y = process.gain * delayed + (y - process.gain * delayed) * decay
        outputs[i + 1] = y
    answer: FloatArray = np.interp(times, step * np.arange(count + 1), np.array(outputs))
    return answer


def _loop(process: FirstOrder, settings: PiSettings, frequency: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Size and phase [rad] of the open loop, the phase without jumps."""
    lag, integral = frequency * process.time_constant_s, frequency * settings.integral_time_s
    size = process.gain * settings.controller_gain * np.hypot(1.0, integral) / (integral * np.hypot(1.0, lag))
    phase = np.arctan(integral) - math.pi / 2.0 - np.arctan(lag) - frequency * process.dead_time_s
    return size, phase


def _crossed(values: FloatArray, frequency: FloatArray) -> float | None:
    """The first frequency at which the values go from above to below 0, between two by straight line."""
    at = np.flatnonzero((values[:-1] > 0.0) & (values[1:] <= 0.0))
    if not at.size:
        return None
    i = int(at[0])
    share = values[i] / (values[i] - values[i + 1])
    return float(frequency[i] + share * (frequency[i + 1] - frequency[i]))
