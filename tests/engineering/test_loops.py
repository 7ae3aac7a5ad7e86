"""Loops against their exact forms, scipy, and the SIMC examples of Skogestad (2003), these from memory.

The logs that are fitted are made by scipy's integrator, which knows nothing of the exact steps that the fit uses.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import least_squares
from scipy.signal import TransferFunction, step

from commissioning.engineering.first_order import FirstOrder, by_half_rule, by_two_points, fit, response
from commissioning.engineering.guards import FloatArray, OutOfRange
from commissioning.engineering.loop_response import (
    damping_from_overshoot,
    decay_ratio_from_overshoot,
    half_cycle_error,
    hunting,
    overshoot_from_damping,
    settling_time_s,
    step_answer,
)
from commissioning.engineering.loop_tuning import PiSettings, margins, set_point_response, simc_pi

STEPS, INPUTS = np.array([-100.0, 50.0, 350.0]), np.array([20.0, 30.0, 25.0])
EVERY = np.arange(0.0, 700.0, 5.0)


def integrated(process: FirstOrder, at: FloatArray) -> FloatArray:
    def slope(t: float, y: FloatArray) -> FloatArray:
        level = INPUTS[np.searchsorted(STEPS, t - process.dead_time_s, side="right") - 1] - INPUTS[0]
        return np.asarray((process.gain * level - y) / process.time_constant_s, dtype=np.float64)

    told = solve_ivp(slope, (0.0, float(at[-1])), [0.0], t_eval=at, max_step=1.0, rtol=1e-9, atol=1e-9)
    return np.asarray(told.y[0], dtype=np.float64)


def noisy(process: FirstOrder, seed: int, size: float) -> FloatArray:
    return 12.0 + integrated(process, EVERY) + np.random.default_rng(seed).normal(0.0, size, EVERY.size)


PROCESSES = [FirstOrder(2.5, 40.0, 12.0), FirstOrder(-0.3, 90.0, 0.0), FirstOrder(0.05, 15.0, 45.0)]


@pytest.mark.parametrize("process", PROCESSES)
def test_the_answer_to_steps_is_that_of_scipys_integrator(process: FirstOrder) -> None:
    ours = response(process=process, input_times_s=STEPS, inputs=INPUTS, at_s=EVERY)
    assert ours == pytest.approx(integrated(process, EVERY), abs=0.01 * abs(process.gain) * 10.0)


@pytest.mark.parametrize("process", PROCESSES)
def test_a_fit_finds_the_process_within_its_uncertainty(process: FirstOrder) -> None:
    """Noise of a fiftieth of the step; three standard uncertainties for each of three numbers."""
    outputs = noisy(process, 7, abs(process.gain) * 10.0 / 50.0)
    found = fit(times_s=EVERY, outputs=outputs, input_times_s=STEPS, inputs=INPUTS)
    assert abs(found.process.gain - process.gain) < 3.0 * found.gain_uncertainty
    assert abs(found.process.time_constant_s - process.time_constant_s) < 3.0 * found.time_constant_uncertainty_s
    assert abs(found.process.dead_time_s - process.dead_time_s) < 3.0 * found.dead_time_uncertainty_s
    assert found.gain_uncertainty < 0.02 * abs(process.gain)
    assert not found.doubts


def test_a_fit_and_its_uncertainty_are_those_of_scipy() -> None:
    process = PROCESSES[0]
    outputs = noisy(process, 3, 0.5)

    def left(at: FloatArray) -> FloatArray:
        one = FirstOrder(at[0], at[1], at[2])
        return np.asarray(at[3] + response(process=one, input_times_s=STEPS, inputs=INPUTS, at_s=EVERY) - outputs)

    theirs = least_squares(left, [2.0, 30.0, 10.0, 12.0], x_scale=[1.0, 10.0, 10.0, 1.0], xtol=1e-12, ftol=1e-12)
    ours = fit(times_s=EVERY, outputs=outputs, input_times_s=STEPS, inputs=INPUTS)
    found = [ours.process.gain, ours.process.time_constant_s, ours.process.dead_time_s]
    assert found == pytest.approx(theirs.x[:3], rel=2e-3)
    covariance = np.linalg.inv(theirs.jac.T @ theirs.jac) * 2.0 * theirs.cost / (EVERY.size - 4)
    residuals = theirs.fun
    follows = max(0.0, float(residuals[1:] @ residuals[:-1] / (residuals @ residuals)))
    widened = np.sqrt(np.diag(covariance)[:3] * (1.0 + follows) / (1.0 - follows))
    own = [ours.gain_uncertainty, ours.time_constant_uncertainty_s, ours.dead_time_uncertainty_s]
    assert own == pytest.approx(widened, rel=0.05)


def test_the_uncertainty_of_a_fit_covers_the_truth_as_often_as_it_says() -> None:
    """Thirty logs: within two standard uncertainties 95 % are expected, fewer than 25 come by chance once in 490."""
    process, inside, at = PROCESSES[0], 0, EVERY[::2]
    clean = integrated(process, at)
    for seed in range(30):
        outputs = clean + np.random.default_rng(seed).normal(0.0, 1.0, at.size)
        found = fit(times_s=at, outputs=outputs, input_times_s=STEPS, inputs=INPUTS)
        inside += abs(found.process.time_constant_s - process.time_constant_s) < 2.0 * found.time_constant_uncertainty_s
    assert inside >= 25


@pytest.mark.parametrize(
    ("seconds", "size", "said"),
    [(700, 20.0, "5 times or more"), (70, 0.1, "before the response has settled")],
)
def test_a_fit_says_what_speaks_against_it(seconds: int, size: float, said: str) -> None:
    use = seconds > EVERY
    found = fit(times_s=EVERY[use], outputs=noisy(PROCESSES[0], 5, size)[use], input_times_s=STEPS, inputs=INPUTS)
    assert any(said in doubt for doubt in found.doubts)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"inputs": np.array([20.0, 20.0, 20.0])}, "does not change"),
        ({"outputs": np.full(EVERY.size, np.nan)}, "0 are known"),
        ({"inputs": np.array([20.0, np.nan, 20.0])}, "is a number"),
        ({"input_times_s": np.array([0.0, 0.0, 9.0])}, "times rise"),
        ({"times_s": EVERY[::-1]}, "times rise"),
    ],
)
def test_what_cannot_be_fitted_is_refused(change: dict[str, FloatArray], said: str) -> None:
    told = {"times_s": EVERY, "outputs": 1.0 + EVERY, "input_times_s": STEPS, "inputs": INPUTS}
    with pytest.raises(ValueError, match=said):
        fit(**{**told, **change})


def test_two_points_give_the_process_back() -> None:
    """T11.12: K 2.5, tau 40, theta 12; t28 = 12 - 40 ln 0.717, t63 = 12 - 40 ln 0.368."""
    process = by_two_points(
        gain=2.5, time_to_28_s=12.0 - 40.0 * math.log(1.0 - 0.283), time_to_63_s=12.0 - 40.0 * math.log(1.0 - 0.632)
    )
    assert process.time_constant_s == pytest.approx(40.02, abs=0.05)
    assert process.dead_time_s == pytest.approx(11.97, abs=0.05)


def test_the_half_rule_and_simc_give_what_skogestad_gives() -> None:
    """T11.07: tau 2.5, theta 1.47, K_c 0.85, tau_I 2.50 for k = 1."""
    process = by_half_rule(gain=1.0, lags_s=[2, 1, 0.4, 0.2, 0.05, 0.05, 0.05], leads_s=[-0.3, 0.08])
    settings = simc_pi(process=process)
    assert [process.time_constant_s, process.dead_time_s] == pytest.approx([2.5, 1.47])
    assert settings.controller_gain == pytest.approx(0.85, abs=0.005)
    assert settings.integral_time_s == pytest.approx(2.5, abs=0.005)


@pytest.mark.parametrize(
    ("process", "gain", "integral"),
    [(FirstOrder(1.0, 8.0, 1.0), 4.0, 8.0), (FirstOrder(2.0, 100.0, 10.0), 2.5, 80.0)],
)
def test_simc_settings_are_those_of_the_rule(process: FirstOrder, gain: float, integral: float) -> None:
    """T11.05 and T11.06."""
    assert simc_pi(process=process) == PiSettings(gain, integral)


def test_the_margins_of_a_simc_loop_are_the_exact_ones() -> None:
    """T11.08 to T11.10: L = e^(-theta s)/(2 theta s), 90 deg - 0.5 rad, pi, 1.59."""
    process = FirstOrder(1.0, 8.0, 1.0)
    found = margins(process=process, settings=simc_pi(process=process))
    assert found.phase_margin_deg == pytest.approx(90.0 - math.degrees(0.5), abs=0.01)
    assert found.gain_margin == pytest.approx(math.pi, abs=1e-3)
    assert found.peak_sensitivity == pytest.approx(1.59, abs=0.005)


@pytest.mark.parametrize("slower", [1.0, 2.0, 5.0])
def test_the_margins_follow_their_formula_for_other_closed_loops(slower: float) -> None:
    """For tau_I = tau: PM = 90 deg - theta/(tau_c + theta) rad, GM = pi (tau_c + theta)/(2 theta)."""
    process = FirstOrder(-3.0, 60.0, 20.0)
    settings = simc_pi(process=process, closed_loop_time_constant_s=slower * 20.0)
    found = margins(process=process, settings=settings)
    assert settings.integral_time_s == 60.0
    assert found.phase_margin_deg == pytest.approx(90.0 - math.degrees(1.0 / (slower + 1.0)), abs=0.02)
    assert found.gain_margin == pytest.approx(math.pi * (slower + 1.0) / 2.0, rel=1e-3)


def test_the_closed_loop_overshoots_as_simulated_elsewhere() -> None:
    """T11.11: k 1, tau 8, theta 1, K_c 4, tau_I 8: 4.068702 %."""
    process = FirstOrder(1.0, 8.0, 1.0)
    answer = set_point_response(process=process, settings=PiSettings(4.0, 8.0), at_s=np.arange(0.0, 30.0, 0.01))
    assert 100.0 * (answer.max() - 1.0) == pytest.approx(4.068702, abs=0.1)


def test_a_loop_without_dead_time_answers_as_scipy_says() -> None:
    """K = 2, tau = 10, K_c = 3, tau_I = 5: closed loop 6 (5 s + 1) / (50 s^2 + 5 s + 30 s + 6)."""
    at = np.linspace(0.0, 40.0, 81)
    _, theirs = step(TransferFunction([30.0, 6.0], [50.0, 35.0, 6.0]), T=at)
    ours = set_point_response(process=FirstOrder(2.0, 10.0, 0.0), settings=PiSettings(3.0, 5.0), at_s=at)
    assert ours == pytest.approx(theirs, abs=0.01)


def test_a_controller_of_the_other_sign_is_refused() -> None:
    with pytest.raises(ValueError, match="runs away"):
        margins(process=FirstOrder(-1.0, 8.0, 1.0), settings=PiSettings(4.0, 8.0))
    with pytest.raises(ValueError, match="how fast"):
        simc_pi(process=FirstOrder(1.0, 8.0, 0.0))


def test_second_order_figures_are_exact() -> None:
    """T11.01 to T11.04."""
    assert 100 * overshoot_from_damping(damping=0.5) == pytest.approx(16.30335, abs=1e-4)
    assert 100 * overshoot_from_damping(damping=0.7) == pytest.approx(4.598791, abs=1e-5)
    assert damping_from_overshoot(overshoot=0.25) == pytest.approx(0.4037128, abs=1e-6)
    assert decay_ratio_from_overshoot(overshoot=0.25) == 0.0625
    assert overshoot_from_damping(damping=1.0) == 0.0
    assert damping_from_overshoot(overshoot=0.0) == 1.0


def test_settling_and_half_cycle_are_exact() -> None:
    """T12.03 and T11.13."""
    assert settling_time_s(error=0.25, band=0.1, time_constant_s=60.0) == pytest.approx(54.97744, abs=1e-4)
    assert settling_time_s(error=0.05, band=0.1, time_constant_s=60.0) == 0.0
    assert half_cycle_error(amplitude=2.0, period_s=120.0) == pytest.approx(76.39437, abs=1e-4)


@pytest.mark.parametrize("damping", [0.3, 0.5, 0.7])
def test_a_second_order_answer_is_measured_as_it_was_made(damping: float) -> None:
    at = np.linspace(0.0, 60.0, 6001)
    _, unit = step(TransferFunction([1.0], [1.0, 2.0 * damping, 1.0]), T=at)
    answer = step_answer(times_s=at, values=20.0 - 4.0 * unit, step_at_s=0.0, from_level=20.0, set_point=16.0, band=0.2)
    made = math.exp(-math.pi * damping / math.sqrt(1.0 - damping**2))
    assert answer.overshoot == pytest.approx(made, abs=1e-3)
    assert answer.decay_ratio == pytest.approx(made**2, abs=2e-3)
    assert answer.steady_error == pytest.approx(0.0, abs=1e-3)
    outside = np.abs(unit - 1.0) > 0.05
    assert answer.settling_s == pytest.approx(at[np.flatnonzero(outside)[-1] + 1])


def test_an_answer_that_never_settles_says_so() -> None:
    at = np.arange(0.0, 100.0)
    answer = step_answer(times_s=at, values=20.0 + 0.01 * at, step_at_s=0.0, from_level=20.0, set_point=22.0, band=0.2)
    assert answer.settling_s == math.inf
    assert math.isnan(answer.rise_s)
    assert answer.steady_error == pytest.approx(-2.0 + 0.01 * 89.5)


@pytest.mark.parametrize(("period", "amplitude", "noise"), [(120.0, 2.0, 0.0), (300.0, 1.0, 0.2), (90.0, 3.0, 0.5)])
def test_a_loop_that_hunts_is_found_with_its_period_and_amplitude(
    period: float, amplitude: float, noise: float
) -> None:
    at = np.arange(0.0, 3600.0, 5.0)
    errors = amplitude * np.sin(2.0 * math.pi * at / period + 0.4) + np.random.default_rng(1).normal(
        0.0, noise, at.size
    )
    found = hunting(times_s=at, errors=errors, least_amplitude=0.5)
    assert found.outcome == "hunts strongly"
    assert found.period_s == pytest.approx(period, rel=0.05)
    assert found.amplitude == pytest.approx(amplitude, rel=0.1)


@pytest.mark.parametrize("seed", range(8))
def test_a_loop_that_is_pushed_about_does_not_hunt(seed: int) -> None:
    """Noise through a lag, as doors and people make it, white noise, and small ripples that do not matter."""
    draw = np.random.default_rng(seed)
    at = np.arange(0.0, 7200.0, 5.0)
    pushes = draw.normal(size=at.size)
    lagged = np.zeros(at.size)
    for i in range(1, at.size):
        lagged[i] = 0.97 * lagged[i - 1] + 0.25 * pushes[i]
    assert hunting(times_s=at, errors=lagged, least_amplitude=0.1).outcome == "steady"
    assert hunting(times_s=at, errors=pushes, least_amplitude=0.1).outcome == "steady"
    ripple = 0.1 * np.sin(2.0 * math.pi * at / 120.0)
    assert hunting(times_s=at, errors=ripple, least_amplitude=0.5).outcome == "steady"


def test_a_log_with_few_halves_is_too_short_to_tell() -> None:
    at = np.arange(0.0, 300.0, 5.0)
    found = hunting(times_s=at, errors=np.sin(2.0 * math.pi * at / 120.0), least_amplitude=0.2)
    assert found.outcome == "too short"


@pytest.mark.parametrize(
    "call",
    [
        lambda: FirstOrder(0.0, 1.0, 1.0),
        lambda: FirstOrder(1.0, 0.0, 1.0),
        lambda: FirstOrder(1.0, 1.0, -1.0),
        lambda: by_two_points(gain=1.0, time_to_28_s=9.0, time_to_63_s=8.0),
        lambda: by_half_rule(gain=1.0, lags_s=[]),
        lambda: by_half_rule(gain=1.0, lags_s=[1.0, 0.1], leads_s=[5.0]),
        lambda: PiSettings(0.0, 1.0),
        lambda: PiSettings(1.0, 0.0),
        lambda: settling_time_s(error=1.0, band=0.0, time_constant_s=1.0),
        lambda: hunting(times_s=np.arange(9.0), errors=np.zeros(9), least_amplitude=0.0),
        lambda: hunting(times_s=np.arange(2.0), errors=np.zeros(2), least_amplitude=1.0),
    ],
)
def test_what_is_no_loop_is_refused(call: object) -> None:
    with pytest.raises((ValueError, OutOfRange)):
        call()  # type: ignore[operator]
