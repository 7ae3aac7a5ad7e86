"""Expectations of a loop whose output stands at an end: capacity left at the upper, turned down enough at the lower."""

import numpy as np

from commissioning.dossier.trends.controlling import LOOP_NEEDS, LOOPS, controlled, steady_setpoint
from commissioning.dossier.trends.kind import Kind, Limit, Terms
from commissioning.dossier.trends.logged import Log
from commissioning.dossier.trends.said import Said, by_lasting, not_asked
from commissioning.dossier.trends.sensing import SETTLED_S, name, running
from commissioning.dossier.trends.steady import by_blocks
from commissioning.engineering.guards import FloatArray
from commissioning.engineering.temporal import HOLDS, both
from commissioning.engineering.trend_screens import held_before, lasting, lasts_s

UPPER, LOWER = 0.97, 0.03
AT_END_S = 600.0
_OUTPUT = "The loop's output is not logged."


def _saturated(log: Log, terms: Terms) -> Said:
    loop = LOOPS[terms.at]
    if not log.has(loop.output):
        return not_asked(_OUTPUT)
    work_s = lasts_s(claim=both(claims=[log.on(loop.output, LOWER), running(log, loop.side, 900.0)]))
    if work_s < terms["at_least_s"]:
        return not_asked("The loop is not at work for long enough in this log.")
    full = [held_before(claim=log.on(loop.output, UPPER), window_s=AT_END_S), running(log, loop.side, 900.0)]
    limit = terms["share"] if loop.relative else terms["apart_k"]

    def margin(value: FloatArray, setpoint: FloatArray) -> FloatArray:
        short = setpoint - value
        left: FloatArray = limit - (short / np.maximum(setpoint, 1e-9) if loop.relative else short)
        return left

    claim, asked_s = by_blocks(log, (loop.value, loop.setpoint), margin, both(claims=full))
    if asked_s <= 0.0:
        return Said(HOLDS, f"The {name(loop.output)} did not stand at its end for long.", asked_s=work_s)
    unit = "1" if loop.relative else loop.unit
    return by_lasting(
        log, lasting(claim=claim, at_least_s=terms["at_least_s"]), unit=unit, asked_s=asked_s,
        holds=f"With the {name(loop.output)} at its end the {name(loop.value)} still kept its setpoint.",
        fails=f"With the {name(loop.output)} at its end the {name(loop.value)} stayed below its setpoint "
        "for {lasting}, first at {at}: it has nothing left to give.",
    )  # fmt: skip


def _turns_down(log: Log, terms: Terms) -> Said:
    """A speed has its lower end where its minimum is set; what is commanded to nothing has it there."""
    loop = LOOPS[terms.at]
    if not log.has(loop.output):
        return not_asked(_OUTPUT)
    lowest = LOWER + terms.limits.get(f"{loop.side}_minimum", 0.0) * loop.output.endswith("_speed_command")
    work = [*controlled(log, loop._replace(output=""), SETTLED_S), steady_setpoint(log, loop, SETTLED_S)]
    work_s = lasts_s(claim=both(claims=work))
    if work_s < terms["at_least_s"]:
        return not_asked("The loop is not at work for long enough in this log with a steady setpoint.")
    least = held_before(claim=log.off(loop.output, lowest), window_s=AT_END_S)

    def margin(value: FloatArray, setpoint: FloatArray) -> FloatArray:
        left: FloatArray = terms["share"] - (value - setpoint) / np.maximum(setpoint, 1e-9)
        return left

    claim, asked_s = by_blocks(log, (loop.value, loop.setpoint), margin, both(claims=[*work, least]))
    amounts = {"lowest": (lowest - LOWER, "1"), "limit": (terms["share"], "1")}
    if asked_s <= 0.0:
        words = f"The {name(loop.output)} did not stand at its lower end of {{lowest}} for long."
        return Said(HOLDS, words, amounts, asked_s=work_s)
    return by_lasting(
        log, lasting(claim=claim, at_least_s=terms["at_least_s"]), unit="1", asked_s=asked_s, amounts=amounts,
        holds=f"With the {name(loop.output)} at its lower end of {{lowest}} the {name(loop.value)} was not above its "
        "setpoint by more than {limit}.",
        fails=f"With the {name(loop.output)} at its lower end of {{lowest}} the {name(loop.value)} stayed above its "
        "setpoint for {lasting}, {worst} beyond the {limit} allowed, first at {at}: it cannot be turned down further.",
    )  # fmt: skip


KINDS = (
    Kind(
        "saturated", "Capacity left", LOOP_NEEDS, _saturated,
        "What limits it: water or power at the coil, filters, a belt, a maximum that is set, a damper in the way.",
        {"apart_k": Limit("delta_K", 1.0), "share": Limit("1", 0.05), "at_least_s": Limit("s", 1800.0)}, tuple(LOOPS),
    ),
    Kind(
        "turns_down", "Turns down far enough", LOOP_NEEDS, _turns_down,
        "A minimum speed that is set too high for this setpoint, a fan too large, a damper that does not shut tight; "
        "then whether the sensor reads high.",
        {"share": Limit("1", 0.1), "at_least_s": Limit("s", 1800.0),
         "supply_minimum": Limit("1", 0.0, "supply_minimum_speed"),
         "exhaust_minimum": Limit("1", 0.0, "exhaust_minimum_speed")},
        tuple(code for code, one in LOOPS.items() if one.relative),
    ),
)  # fmt: skip
