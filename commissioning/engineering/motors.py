"""Motors by what can be read at the disconnect: amps, volts, power factor, speed.

Load from amps is an estimate that holds above about half load; below, the current that magnetises the motor
hides the load. Where an argument takes phases, they lie along the last axis; for many motors known by their
mean alone that axis has length 1. On a drive, readings before and after it differ, and the drive's own display
is the better one.
"""

from __future__ import annotations

import math

import numpy as np

from commissioning.engineering.guards import FloatArray, FloatOrArray, plain, within

LEAST_CREDIBLE_LOAD = 0.5
_CURRENT_RANGE_A = (0.0, 10_000.0)
_VOLTAGE_RANGE_V = (1.0, 20_000.0)


def unbalance(*, legs: FloatOrArray) -> FloatOrArray:
    """Return the unbalance of voltages or currents: the worst deviation from the mean, over the mean.

        u = max |x_i - mean| / mean

    Args:
        legs: the readings of the phases [V or A], phases along the last axis; two or three, each 0 or more.

    Raises:
        OutOfRange: a reading is negative, or all of them are zero.
        ValueError: fewer than two phases.

    Source: NEMA MG 1, 12.45 and 14.36 (from memory); neither (max - min) / mean nor the highest phase alone.

    Example:
        >>> round(unbalance(legs=np.array([462.0, 463.0, 455.0])), 5)
        0.01087
    """
    readings = np.atleast_1d(within("reading of a phase", legs, 0.0, 20_000.0, "V or A"))
    if readings.shape[-1] < 2:
        raise ValueError("unbalance needs the readings of two or three phases")
    mean = within("mean of the phases", plain(np.mean(readings, axis=-1)), 1e-9, np.inf, "V or A")
    return plain(np.max(np.abs(readings - mean[..., None]), axis=-1) / mean)


def single_phase_power_w(
    *, voltage_v: FloatOrArray, current_a: FloatOrArray, power_factor: FloatOrArray
) -> FloatOrArray:
    """Return the electric power taken on a single phase.

        P = V I pf

    Args:
        voltage_v: V [V], 1 to 20 000.
        current_a: I [A], 0 to 10 000.
        power_factor: pf [-], 0 to 1.

    Raises:
        OutOfRange: an argument lies outside.

    Source: definition.

    Example:
        >>> round(single_phase_power_w(voltage_v=230.0, current_a=2.0, power_factor=0.65))
        299
    """
    voltage = within("voltage", voltage_v, *_VOLTAGE_RANGE_V, "V")
    current = within("current", current_a, *_CURRENT_RANGE_A, "A")
    return plain(voltage * current * within("power factor", power_factor, 0.0, 1.0, ""))


def three_phase_power_w(
    *, voltage_v: FloatOrArray, current_a: FloatOrArray, power_factor: FloatOrArray
) -> FloatOrArray:
    """Return the electric power taken on three phases.

        P = sqrt(3) mean(V) mean(I) mean(pf)

    Args:
        voltage_v: line-to-line voltage [V], 1 to 20 000; the three along the last axis, or their mean.
        current_a: line current [A], 0 to 10 000; likewise.
        power_factor: pf [-], 0 to 1; likewise.

    Raises:
        OutOfRange: an argument lies outside.

    Source: US DOE fact sheet on motor load and efficiency.

    Example:
        >>> p = three_phase_power_w(voltage_v=np.array([467.0, 473.0, 469.0]),
        ...     current_a=np.array([36.0, 38.0, 37.0]), power_factor=np.array([0.75, 0.78, 0.76]))
        >>> round(p)
        22976
    """
    voltage = _mean_of_phases(within("voltage", voltage_v, *_VOLTAGE_RANGE_V, "V"))
    current = _mean_of_phases(within("current", current_a, *_CURRENT_RANGE_A, "A"))
    factor = _mean_of_phases(within("power factor", power_factor, 0.0, 1.0, ""))
    return plain(math.sqrt(3.0) * voltage * current * factor)


def motor_load_fraction(
    *,
    current_a: FloatOrArray,
    full_load_current_a: FloatOrArray,
    voltage_v: FloatOrArray | None = None,
    rated_voltage_v: FloatOrArray | None = None,
) -> FloatOrArray:
    """Return the load of a motor as a share of its rating, estimated from amps, single-phase or three-phase.

        load = (I / I_fl) (V / V_r)

    Below half load the estimate is too high and says little: ask `is_load_estimate_credible`.

    Args:
        current_a: measured current I [A], 0 to 10 000; the legs along the last axis, or their mean.
        full_load_current_a: nameplate current at the connected voltage I_fl [A], above 0.
        voltage_v: measured voltage V [V]; the legs, or their mean; None where it was not read.
        rated_voltage_v: nameplate voltage V_r [V]; needed with `voltage_v`.

    Raises:
        OutOfRange: an argument lies outside.
        ValueError: only one of the two voltages is given.

    Source: US DOE fact sheet on motor load and efficiency (form from memory).

    Example:
        >>> load = motor_load_fraction(current_a=22.4, full_load_current_a=28.0, voltage_v=468.0,
        ...     rated_voltage_v=460.0)
        >>> round(load, 4)
        0.8139
    """
    current = _mean_of_phases(within("current", current_a, *_CURRENT_RANGE_A, "A"))
    share = current / within("full-load current", full_load_current_a, 1e-3, _CURRENT_RANGE_A[1], "A")
    if (voltage_v is None) != (rated_voltage_v is None):
        raise ValueError("give both voltage_v and rated_voltage_v, or neither")
    if voltage_v is not None and rated_voltage_v is not None:
        voltage = _mean_of_phases(within("voltage", voltage_v, *_VOLTAGE_RANGE_V, "V"))
        share = share * voltage / within("rated voltage", rated_voltage_v, *_VOLTAGE_RANGE_V, "V")
    return plain(share)


def is_load_estimate_credible(*, load_fraction: float) -> bool:
    """Say whether a load estimated from amps may be used: not at half load and below.

    Args:
        load_fraction: estimated load [-], 0 or more.

    Raises:
        OutOfRange: the load is negative.

    Source: US DOE fact sheet on motor load and efficiency.

    Example:
        >>> is_load_estimate_credible(load_fraction=0.8), is_load_estimate_credible(load_fraction=0.4)
        (True, False)
    """
    return within("load", load_fraction, 0.0, 100.0, "").item() > LEAST_CREDIBLE_LOAD


def predicted_current_a(
    *,
    current_a: FloatOrArray,
    speed_ratio: FloatOrArray,
    no_load_current_a: FloatOrArray = 0.0,
    largest_change: float = 0.20,
) -> FloatOrArray:
    """Return the current that a fan motor on an unchanged system would take at another fan speed.

        I2 = sqrt(I0^2 + (I1^2 - I0^2) r^6)

    Assumes that the load goes with the cube of the fan's speed, that the current has a part that makes torque, in
    proportion to the load, and a part that magnetises, I0, at right angles to it, and that the motor itself
    turns as before (a belt drive, or another sheave). With I0 = 0 the current goes with the cube and reads high.

    Args:
        current_a: measured current I1 [A]; the legs along the last axis, or their mean.
        speed_ratio: r, new fan speed over measured [-], within `largest_change` of 1.
        no_load_current_a: magnetising current I0 [A], 0 to I1; 0 where it is not known.
        largest_change: largest change of speed for which the law is used [-], 0 to 1.

    Raises:
        OutOfRange: an argument lies outside.

    Source: the third fan law, and the circle diagram of the motor in its simplest form; common practice, no
    source.

    Example:
        >>> round(predicted_current_a(current_a=20.0, speed_ratio=1.1), 2)
        26.62
    """
    current = _mean_of_phases(within("current", current_a, *_CURRENT_RANGE_A, "A"))
    idle = within("no-load current", no_load_current_a, 0.0, plain(current), "A")
    change = within("largest change of speed", largest_change, 0.0, 1.0, "").item()
    ratio = within("ratio of speeds", speed_ratio, 1.0 - change, 1.0 + change, "")
    return plain(np.sqrt(idle**2 + (current**2 - idle**2) * ratio**6))


def slip_load_fraction(
    *,
    speed_rpm: FloatOrArray,
    synchronous_speed_rpm: FloatOrArray,
    rated_speed_rpm: FloatOrArray,
) -> FloatOrArray:
    """Return the load of an induction motor as a share of its rating, estimated from its slip.

        load = (N_s - N) / (N_s - N_r)

    Weak: a nameplate's slip may be off by 10 % or more, and on a drive the synchronous speed is not the mains'.

    Args:
        speed_rpm: measured speed N [rpm], 0 to the synchronous one.
        synchronous_speed_rpm: N_s [rpm], 100 to 20 000.
        rated_speed_rpm: nameplate speed N_r [rpm], below the synchronous one.

    Raises:
        OutOfRange: an argument lies outside.

    Source: US DOE fact sheet on motor load and efficiency.

    Example:
        >>> slip_load_fraction(speed_rpm=1770.0, synchronous_speed_rpm=1800.0, rated_speed_rpm=1750.0)
        0.6
    """
    synchronous = within("synchronous speed", synchronous_speed_rpm, 100.0, 20_000.0, "rpm")
    rated = within("rated speed", rated_speed_rpm, 1.0, synchronous - 0.1, "rpm")
    return plain((synchronous - within("speed", speed_rpm, 0.0, synchronous, "rpm")) / (synchronous - rated))


def shaft_power_w(*, electrical_power_w: FloatOrArray, efficiency: FloatOrArray) -> FloatOrArray:
    """Return the power at a motor's shaft from the electric power that it takes.

        P = P_el eta

    Args:
        electrical_power_w: P_el [W], 0 to 1e8.
        efficiency: eta of the motor at that load, and of the drive if the power was read before it [-], 0.01 to 1.

    Raises:
        OutOfRange: an argument lies outside.

    Source: definition.

    Example:
        >>> shaft_power_w(electrical_power_w=10_000.0, efficiency=0.93)
        9300.0
    """
    power = within("electric power", electrical_power_w, 0.0, 1e8, "W")
    return plain(power * within("efficiency", efficiency, 0.01, 1.0, ""))


def service_factor_load(
    *, shaft_power_w: FloatOrArray, rated_power_w: FloatOrArray, service_factor: FloatOrArray = 1.0
) -> FloatOrArray:
    """Return the shaft power as a share of what the motor may carry, service factor included.

        load = P / (SF P_r)

    Args:
        shaft_power_w: P [W], 0 to 1e8.
        rated_power_w: nameplate power P_r [W], above 0.
        service_factor: SF [-], 1 to 1.5; 1.0 on a drive unless its maker says otherwise, and it holds only at
            rated voltage, frequency and ambient temperature.

    Raises:
        OutOfRange: an argument lies outside.

    Source: NEMA MG 1 (from memory); 1.0 on a drive is common practice, no source.

    Example:
        >>> round(service_factor_load(shaft_power_w=22.1, rated_power_w=20.0, service_factor=1.15), 4)
        0.9609
    """
    power = within("shaft power", shaft_power_w, 0.0, 1e8, "W")
    rated = within("rated power", rated_power_w, 1e-3, 1e8, "W")
    return plain(power / (rated * within("service factor", service_factor, 1.0, 1.5, "")))


def winding_temperature_rise_fraction(*, voltage_unbalance: FloatOrArray) -> FloatOrArray:
    """Return by what share a voltage unbalance raises the temperature rise of the winding: a rule of thumb.

        extra = 2 u^2 / 100 with u in per cent, that is 200 u^2 with u as a ratio

    Args:
        voltage_unbalance: u by `unbalance` [-], 0 to 0.05; above it a motor should not run.

    Raises:
        OutOfRange: the unbalance lies outside.

    Source: rule of thumb read on a public page.

    Example:
        >>> round(winding_temperature_rise_fraction(voltage_unbalance=0.03), 3)
        0.18
    """
    return plain(200.0 * within("voltage unbalance", voltage_unbalance, 0.0, 0.05, "") ** 2)


def unbalance_derating(*, voltage_unbalance: FloatOrArray) -> FloatOrArray:
    """Return the share of its rating that a motor may carry under a voltage unbalance.

        1 to 1 %, 0.95 at 2 %, 0.88 at 3 %, 0.82 at 4 %, 0.75 at 5 %; straight between

    Args:
        voltage_unbalance: by `unbalance` [-], 0 to 0.05; above it a motor should not run.

    Raises:
        OutOfRange: the unbalance lies outside.

    Source: NEMA MG 1 prints a curve (fig. 14-1, from memory); read off to +-0.02.

    Example:
        >>> unbalance_derating(voltage_unbalance=0.02)
        0.95
    """
    share = within("voltage unbalance", voltage_unbalance, 0.0, 0.05, "")
    return plain(np.interp(share, (0.01, 0.02, 0.03, 0.04, 0.05), (1.0, 0.95, 0.88, 0.82, 0.75)))


def _mean_of_phases(readings: FloatArray) -> FloatArray:
    return np.asarray(np.mean(readings, axis=-1)) if readings.ndim else readings
