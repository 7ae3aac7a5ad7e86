"""What a log tells of a loop: how it answered steps of its setpoint, what its process is, and settings by SIMC.

A process is told only by steps of the output that the loop did not make itself: while a hand switch or override stands,
so that the output moves the air and the air does not move the output. In a closed loop the two cannot be told apart.
"""

import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from commissioning.dossier.trends.controlling import LOOPS, Loop
from commissioning.dossier.trends.logged import Log
from commissioning.dossier.trends.starting import fan
from commissioning.engineering.first_order import Fit, fit
from commissioning.engineering.guards import FloatArray
from commissioning.engineering.loop_response import step_answer
from commissioning.engineering.loop_tuning import margins, simc_pi
from commissioning.engineering.signals import level_at
from commissioning.engineering.temporal import Claim, both
from commissioning.engineering.trend_lines import at_steps, holds_at
from commissioning.engineering.trend_screens import merged

ASSUMPTION = (
    "This is by SIMC, and takes it that near this point the process is of first order with dead time, the controller "
    "of the ideal form Kc (1 + 1/(Ti s)), nothing saturated, and a closed-loop time constant as long as the dead time "
    "fast enough; a controller that counts in proportional band or in repeats needs its own numbers."
)
STEADY_S, WATCHED_S = 900.0, 3600.0
MOST_STEPS = 10
LEAST_OUTPUT_STEP = 0.05
LEAST_SAMPLES = 30


def loops(log: Log) -> list[dict[str, Any]]:
    """For each loop that is logged: its setpoint's steps, and its process where a bump tells it."""
    found = []
    for code, loop in LOOPS.items():
        if (
            log.has(loop.value)
            and log.has(loop.setpoint)
            and log.has(f"{loop.side}_fan_status|{loop.side}_fan_command")
        ):
            steps = list(_steps(log, loop))
            process = _process(log, loop)
            if steps or process:
                found.append({"loop": code, "unit": loop.unit, "steps": steps, "process": process})
    return found


def _steps(log: Log, loop: Loop) -> Iterator[dict[str, Any]]:
    step_s = log.step_s(loop.value)
    times, (value, setpoint) = at_steps(signals=[log.signal(loop.value), log.signal(loop.setpoint)], step_s=step_s)
    runs = holds_at(claim=fan(log, loop.side), at_s=times)
    least = 1.0 if not loop.relative else 0.1 * float(np.nanmax(np.abs(setpoint), initial=0.0))
    before, after = int(STEADY_S / step_s), int(WATCHED_S / step_s)
    count = 0
    for i in np.flatnonzero(np.abs(np.diff(setpoint)) >= max(least, 1e-9)) + 1:
        if i < before or i + 5 >= times.size or count >= MOST_STEPS:
            continue
        steady = runs[i - before : i].all() and np.ptp(setpoint[i - before : i]) == 0.0
        end = i + _until_change(setpoint[i : i + after], runs[i : i + after])
        if not steady or end - i < max(5, before):
            continue
        count += 1
        level = float(np.nanmean(value[i - max(1, before // 3) : i]))
        size = float(setpoint[i]) - level
        if not math.isfinite(size) or size == 0.0 or np.isfinite(value[i:end]).sum() < 5:
            continue
        band = max(abs(0.05 * size), 0.3 if not loop.relative else 0.02 * abs(float(setpoint[i])))
        answer = step_answer(
            times_s=times[i:end], values=value[i:end], step_at_s=float(times[i]), from_level=level,
            set_point=float(setpoint[i]), band=band,
        )  # fmt: skip
        yield {
            "at_s": float(times[i]),
            "from": level,
            "to": float(setpoint[i]),
            "overshoot": answer.overshoot,
            "settling_s": _number(answer.settling_s),
            "rise_s": _number(answer.rise_s),
            "steady_error": answer.steady_error,
            "band": band,
        }


def _until_change(setpoint: FloatArray, runs: np.ndarray) -> int:
    other = np.flatnonzero((setpoint != setpoint[0]) | ~runs)
    return int(other[0]) if other.size else int(setpoint.size)


def _process(log: Log, loop: Loop) -> dict[str, Any] | None:
    """The process by the longest stretch under override in which the output was stepped by hand."""
    if not (log.has("override") and log.has(loop.output)):
        return None
    claim = merged(claim=both(claims=[log.on("override"), fan(log, loop.side)]))
    best: tuple[float, dict[str, Any]] | None = None
    for begin, end in _held(claim):
        one = _fitted(log, loop, begin, end)
        if one is not None and (best is None or end - begin > best[0]):
            best = end - begin, one
    return best[1] if best else None


def _held(claim: Claim) -> Iterator[tuple[float, float]]:
    turns = np.diff(np.concatenate([[0], (claim.least >= 0.0).astype(np.int8), [0]]))
    for a, b in zip(np.flatnonzero(turns == 1), np.flatnonzero(turns == -1), strict=True):
        yield float(claim.times_s[a]), float(claim.times_s[b])


def _fitted(log: Log, loop: Loop, begin: float, end: float) -> dict[str, Any] | None:
    values, outputs = log.signal(loop.value), log.signal(loop.output)
    inside = (values.times_s[:-1] >= begin) & (values.times_s[:-1] < end)
    at, y = values.times_s[:-1][inside], values.levels[inside]
    moved = (outputs.times_s[:-1] > begin) & (outputs.times_s[:-1] < end) & np.isfinite(outputs.levels)
    times = np.concatenate([[begin], outputs.times_s[:-1][moved]])
    levels = np.concatenate([level_at(signal=outputs, at_s=np.array([begin])), outputs.levels[moved]])
    changed = np.concatenate([[True], np.abs(np.diff(levels)) > 1e-9])
    times, levels = times[changed], levels[changed]
    known = np.isfinite(y)
    largest = float(np.abs(np.diff(levels)).max(initial=0.0))
    if known.sum() < LEAST_SAMPLES or not np.isfinite(levels).all() or largest < LEAST_OUTPUT_STEP:
        return None
    if times.size < 2 or not at[known][0] <= times[1] < at[known][-1]:
        return None
    found = fit(times_s=at[known], outputs=y[known], input_times_s=times, inputs=levels)
    return _told(found, begin, end)


def _told(found: Fit, begin: float, end: float) -> dict[str, Any]:
    process = found.process
    told: dict[str, Any] = {
        "from_s": begin,
        "to_s": end,
        "gain": process.gain,
        "gain_uncertainty": found.gain_uncertainty,
        "time_constant_s": process.time_constant_s,
        "time_constant_uncertainty_s": found.time_constant_uncertainty_s,
        "dead_time_s": process.dead_time_s,
        "dead_time_uncertainty_s": found.dead_time_uncertainty_s,
        "signal_to_noise": _number(found.signal_to_noise),
        "doubts": list(found.doubts),
        "advice": None,
    }
    if process.dead_time_s == 0.0:
        told["doubts"].append(
            "No dead time was seen, by which the rule would tell how fast the loop may be: log faster."
        )
    if not told["doubts"]:
        settings = simc_pi(process=process)
        margin = margins(process=process, settings=settings)
        told["advice"] = {
            "controller_gain": settings.controller_gain,
            "integral_time_s": settings.integral_time_s,
            "phase_margin_deg": _number(margin.phase_margin_deg),
            "gain_margin": _number(margin.gain_margin),
            "assumption": ASSUMPTION,
        }
    return told


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
