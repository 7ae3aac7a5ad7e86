"""Expectations of what is controlled: schedule, setpoints held, hunting, saturation, reset line, floor and ratio."""

import math
from datetime import datetime, timedelta
from typing import NamedTuple

import numpy as np

from commissioning.dossier.trends.kind import Kind, Limit, Terms, Week
from commissioning.dossier.trends.logged import Log
from commissioning.dossier.trends.said import Said, by_figure, by_lasting, not_asked
from commissioning.dossier.trends.sensing import EXHAUST_RUNS, SETTLED_S, SUPPLY_RUNS, name, running
from commissioning.dossier.trends.starting import RUNS, asked, fan
from commissioning.dossier.trends.steady import COVERAGE, average, by_blocks
from commissioning.engineering.guards import FloatArray
from commissioning.engineering.loop_response import Hunting, hunting
from commissioning.engineering.signals import Signal
from commissioning.engineering.temporal import FAILS, HOLDS, UNKNOWN, Claim, both, is_on, negated
from commissioning.engineering.trend_lines import Line, at_steps, holds_at, straight_line
from commissioning.engineering.trend_screens import held_before, lasting, schedule_edges

NEVER_MIND_S = 60.0
SHORTEST_HUNT_S = 3600.0
LEAST_HUNTS = 8
EDGE_REACH_S = 7200.0


class Loop(NamedTuple):
    """A controlled quantity, what it should be, what works on it, and its unit; `relative`: limits are shares of it."""

    value: str
    setpoint: str
    output: str
    side: str
    unit: str
    relative: bool


LOOPS = {
    "supply_temperature": Loop(
        "supply_temperature", "supply_temperature_setpoint", "heating_valve", "supply", "delta_K", False
    ),
    "supply_airflow": Loop(
        "supply_airflow", "supply_airflow_setpoint", "supply_fan_speed_command", "supply", "m3/s", True
    ),
    "exhaust_airflow": Loop(
        "exhaust_airflow", "exhaust_airflow_setpoint", "exhaust_fan_speed_command", "exhaust", "m3/s", True
    ),
    "outdoor_airflow": Loop(
        "outdoor_airflow", "outdoor_airflow_setpoint", "outdoor_damper_command", "supply", "m3/s", True
    ),
    "duct_static_pressure": Loop(
        "duct_static_pressure", "duct_static_pressure_setpoint", "supply_fan_speed_command", "supply", "Pa", True
    ),
}


def scheduled(week: Week, log: Log) -> tuple[FloatArray, list[bool]]:
    """Every change that a weekly schedule asks for over a log, with a day to spare at both ends."""
    day = datetime.fromtimestamp(log.begin_s, log.zone).replace(hour=0, minute=0, second=0, microsecond=0)
    edges: list[tuple[float, bool]] = []
    day -= timedelta(days=1)
    while day.timestamp() < log.end_s + 86400.0:
        if day.weekday() in week.days and week.from_h != week.to_h:
            past_midnight = week.to_h <= week.from_h
            edges.append((_at(day, week.from_h), True))
            edges.append((_at(day + timedelta(days=int(past_midnight)), week.to_h), False))
        day += timedelta(days=1)
    edges.sort()
    kept = [one for i, one in enumerate(edges) if not (i and edges[i - 1][0] == one[0])]
    return np.array([at for at, _ in kept]), [on for _, on in kept]


def _at(day: datetime, hour: float) -> float:
    """A wall-clock hour of a local day; of an hour that a clock change leaves out, the one after."""
    return (day + timedelta(seconds=round(3600.0 * hour))).timestamp()


def _free(log: Log) -> list[Claim]:
    return [negated(claim=log.on(role)) for role in ("override", "smoke_state") if log.has(role)]


def _on_time(log: Log, terms: Terms) -> Said:
    assert terms.week is not None
    edges, on = scheduled(terms.week, log)
    state = fan(log, "supply")
    found = [
        one for one in schedule_edges(state=state, edges_s=edges, on=on, reach_s=EDGE_REACH_S)
        if math.isfinite(one.earliest_s) and math.isfinite(one.latest_s)
    ]  # fmt: skip
    if not found:
        return not_asked("The log has no change of the schedule with two hours on both sides.")
    limit = terms["within_s"]
    most = [limit - max(one.earliest_s, -one.latest_s, 0.0) for one in found]
    least = [limit - max(abs(one.earliest_s), abs(one.latest_s)) for one in found]
    worst = int(np.argmin(most))
    edge = found[worst]
    late = max(edge.earliest_s, -edge.latest_s)
    outcome = FAILS if most[worst] < 0.0 else HOLDS if min(least) >= 0.0 else UNKNOWN
    way = ("start" if edge.on else "stop") + (" later" if edge.earliest_s > 0.0 else " earlier")
    words = {
        FAILS: f"It shall run by its schedule, and did {way} by {{worst}} at {log.clock(edge.asked_s)}.",
        HOLDS: f"At each of {len(found)} changes of the schedule it followed within {{limit}}.",
        UNKNOWN: "Whether it follows its schedule closely enough cannot be told: the log is too coarse there.",
    }[outcome]
    failing = [one for one, margin in zip(found, most, strict=True) if margin < 0.0]
    marks = tuple(
        (one.asked_s + min(0.0, one.latest_s), one.asked_s + max(0.0, one.earliest_s)) for one in failing
    )  # fmt: skip
    return Said(
        outcome, words, {"worst": (late, "s"), "limit": (limit, "s")}, min(least), min(most), "s",
        marks[0][0] if marks else None, marks, times=len(found),
    )  # fmt: skip


def _as_scheduled(log: Log, terms: Terms) -> Said:
    assert terms.week is not None
    edges, on = scheduled(terms.week, log)
    state = fan(log, "supply")
    begin, end = float(state.times_s[0]), float(state.times_s[-1])
    inner = (edges > begin) & (edges < end)
    before = np.flatnonzero(edges <= begin)
    first = bool(on[before[-1]]) if before.size else False
    times = np.concatenate([[begin], edges[inner], [end]])
    levels = np.array([first, *(one for one, inside in zip(on, inner, strict=True) if inside)], dtype=float)
    due = is_on(signal=Signal(times, levels))
    claims = [held_before(claim=one, window_s=terms["beyond_s"]) for one in (due, negated(claim=due))]
    free = _free(log)
    should = asked(
        log, both(claims=[claims[0], *free]), state, at_least_s=terms["at_least_s"],
        holds="It ran through every scheduled period.",
        fails="It stood still within its scheduled periods for {lasting} in all, first at {at}.",
        none="The schedule has no period in this log.",
    )  # fmt: skip
    should_not = asked(
        log, both(claims=[claims[1], *free]), negated(claim=state), at_least_s=terms["at_least_s"],
        holds="It rested outside of its schedule.",
        fails="It ran outside of its schedule for {lasting} in all, first at {at}.",
        none="The schedule has no rest in this log.",
    )  # fmt: skip
    if terms.at == "occupied":
        return should
    return should_not


def steady_setpoint(log: Log, loop: Loop, settle_s: float) -> Claim:
    """The claim that a set point has stood still, within a little, for as long as the loop may take."""
    signal = log.signal(loop.setpoint)
    little = 0.3 if loop.unit == "delta_K" else 0.05 * max(float(np.nanmax(np.abs(signal.levels))), 1e-9)
    moved = np.abs(np.diff(signal.levels, prepend=signal.levels[:1])) > little
    times = signal.times_s
    calm = np.where(moved, -1.0, 1.0)
    claim = Claim(times, calm, calm)
    return held_before(claim=claim, window_s=settle_s)


def controlled(log: Log, loop: Loop, settle_s: float) -> list[Claim]:
    """When a loop can do its work: the fan runs, no frost action pushes it, and its output is not at an end."""
    claims = [running(log, loop.side, settle_s)]
    if loop.relative:  # a share of a setpoint of nothing says nothing
        claims.append(log.on(loop.setpoint, 0.05 * float(np.nanmax(log.signal(loop.setpoint).levels))))
    claims += [
        held_before(claim=log.off(role), window_s=settle_s)
        for role in ("frost_state", "defrost_state")
        if log.has(role)
    ]
    if log.has(loop.output):
        high = held_before(claim=log.off(loop.output, 0.97), window_s=NEVER_MIND_S)
        claims.append(high)
        if loop.output == "heating_valve":
            claims.append(held_before(claim=log.on(loop.output, 0.03), window_s=settle_s / 2.0))
    return claims


def _at_work(log: Log, loop: Loop) -> list[Claim]:
    """As `_controlled`, but a loop that throws its output from end to end is at work too."""
    claims = controlled(log, loop._replace(output=""), 900.0)
    if log.has(loop.output):
        rests = (log.off(loop.output, 0.03), log.on(loop.output, 0.97))
        claims += [negated(claim=held_before(claim=one, window_s=1800.0)) for one in rests]
    return claims


def _setpoint_held(log: Log, terms: Terms) -> Said:
    loop = LOOPS[terms.at]
    limit = terms["share"] if loop.relative else terms["apart_k"]

    def error(value: FloatArray, setpoint: FloatArray) -> FloatArray:
        away: FloatArray = (value - setpoint) / np.maximum(setpoint, 1e-9) if loop.relative else value - setpoint
        return away

    condition = both(claims=[*controlled(log, loop, SETTLED_S), steady_setpoint(log, loop, SETTLED_S)])
    unit = "1" if loop.relative else loop.unit
    high, asked_s = by_blocks(log, (loop.value, loop.setpoint), lambda v, s: limit - error(v, s), condition)
    low, _ = by_blocks(log, (loop.value, loop.setpoint), lambda v, s: limit + error(v, s), condition)
    if asked_s <= 0.0:
        return not_asked("The loop is not at work for long enough in this log with a steady setpoint.")
    found = lasting(claim=both(claims=[high, low]), at_least_s=terms["at_least_s"])
    return by_lasting(
        log, found, unit=unit, asked_s=asked_s, amounts={"limit": (limit, unit)},
        holds=f"The {name(loop.value)} stayed within {{limit}} of its setpoint.",
        fails=f"The {name(loop.value)} stood off its setpoint for {{lasting}}, {{worst}} beyond the {{limit}} allowed, "
        "first at {at}.",
    )  # fmt: skip


def _hunts(log: Log, terms: Terms) -> Said:
    loop = LOOPS[terms.at]
    step = log.step_s(loop.value, loop.setpoint)
    times, (value, setpoint) = at_steps(signals=[log.signal(loop.value), log.signal(loop.setpoint)], step_s=step)
    controlled = holds_at(claim=both(claims=_at_work(log, loop)), at_s=times)
    usable = controlled & np.isfinite(value) & np.isfinite(setpoint)
    typical = float(np.median(setpoint[usable])) if usable.any() else math.nan
    limit = terms["share"] * typical if loop.relative else terms["apart_k"]
    worst: tuple[Hunting, float, float] | None = None
    asked_s = 0.0
    turns = np.diff(np.concatenate([[0], usable.astype(np.int8), [0]]))
    for a, b in zip(np.flatnonzero(turns == 1), np.flatnonzero(turns == -1), strict=True):
        if (b - a) * step < SHORTEST_HUNT_S or not limit > 0.0:
            continue
        asked_s += float((b - a) * step)
        error = value[a:b] - setpoint[a:b]
        found = hunting(times_s=times[a:b], errors=error - error.mean(), least_amplitude=limit)
        if worst is None or _badness(found, limit) > _badness(worst[0], limit):
            worst = found, float(times[a]), float(times[b - 1]) + step
    if worst is None:
        return not_asked("The loop is not at work for an hour without a break in this log.")
    hunt, begin, end = worst
    amounts = {"amplitude": (hunt.amplitude, loop.unit), "limit": (limit, loop.unit), "period": (hunt.period_s, "s")}
    if _badness(hunt, limit) > 0.0:
        return Said(
            FAILS,
            f"The {name(loop.value)} goes to and fro by ±{{amplitude}} every {{period}}, from {log.clock(begin)} on.",
            amounts, most=limit - hunt.amplitude, unit=loop.unit, at_s=begin, marks=((begin, end),),
            failing_s=end - begin, asked_s=asked_s, times=hunt.halves,
        )  # fmt: skip
    return Said(HOLDS, f"The {name(loop.value)} does not hunt by ±{{limit}} or more.", amounts, asked_s=asked_s)


def _badness(found: Hunting, limit: float) -> float:
    told = found.outcome.startswith("hunts") and found.halves >= LEAST_HUNTS and found.amplitude > limit
    return found.amplitude if told else 0.0


def _reset_line(log: Log, terms: Terms) -> Said:
    co2, flow = log.one_of("room_co2|return_co2") or "", log.one_of("supply_airflow_setpoint|supply_airflow") or ""
    low, high = terms["low_co2"], terms["high_co2"]
    lowest, highest = terms["airflow_at_low"], terms["airflow_at_high"]
    if not low < high or lowest == highest:
        return not_asked("The reset line as set has no slope.")
    floor = max(terms["floor"], min(lowest, highest))
    times, (x, y) = at_steps(signals=[log.signal(co2), log.signal(flow)], step_s=log.step_s(co2, flow))
    held = holds_at(claim=both(claims=controlled(log, LOOPS["supply_airflow"]._replace(output=""), 600.0)), at_s=times)
    inset = 0.05 * (high - low)
    slope = (highest - lowest) / (high - low)
    on_line = held & (x > low + inset) & (x < high - inset) & (y > floor * 1.02)
    span = float(np.ptp(x[on_line])) if on_line.any() else 0.0
    if on_line.sum() < terms["pairs"] or span < terms["span"] * (high - low):
        return not_asked("The CO2 does not pass over enough of the reset line in this log.")
    line = straight_line(x=x[on_line], y=y[on_line])
    ends = [(line.y(at) - lowest - slope * (at - low), COVERAGE * line.y_uncertainty(at), at) for at in _ends(line)]
    off, doubt, at = max(ends, key=lambda one: abs(one[0]) - one[1])
    limit = terms["share"] * max(lowest, highest)
    begin, end = float(times[on_line][0]), float(times[on_line][-1])
    lasting_s = float(on_line.sum() * (times[1] - times[0]))
    return by_figure(
        log, value=off, doubt=doubt, low=-limit, high=limit, unit="m3/s",
        words="Measured over {lasting}, the reset line lies {value} above the one set, give or take {doubt}, at {co2}; "
        "its slope is {slope} of the one set.", amounts={"co2": (at, "mol/mol"), "slope": (line.slope / slope, "1")},
        from_s=begin, to_s=end, lasting_s=lasting_s,
    )  # fmt: skip


def _ends(line: Line) -> tuple[float, float]:
    return line.low, line.high


def _floor(log: Log, terms: Terms) -> Said:
    role = log.one_of("outdoor_airflow|supply_airflow") or ""
    least = terms["floor"] * (1.0 - terms["share"])
    claims = [running(log, "supply", 900.0)]
    claims += [log.off(one) for one in ("frost_state", "defrost_state") if log.has(one)]
    claim, asked_s = by_blocks(log, (role,), lambda flow: flow - least, both(claims=claims))
    if asked_s <= 0.0:
        return not_asked("The unit does not run long enough in this log.")
    return by_lasting(
        log, lasting(claim=claim, at_least_s=terms["at_least_s"]), unit="m3/s", asked_s=asked_s,
        amounts={"floor": (terms["floor"], "m3/s"), "share": (terms["share"], "1")},
        holds=f"The {name(role)} stayed above the ventilation floor of {{floor}} less {{share}}.",
        fails=f"The {name(role)} fell below the ventilation floor of {{floor}} less {{share}} for {{lasting}}, "
        "by {worst} at the worst, first at {at}.",
    )  # fmt: skip


def _ratio(log: Log, terms: Terms) -> Said:
    claims = [running(log, "supply", 900.0), running(log, "exhaust", 900.0)]
    claims += [log.off(one) for one in ("frost_state", "defrost_state") if log.has(one)]
    found = average(
        log, ("exhaust_airflow", "supply_airflow"), lambda e, s: e / np.where(s > 0.0, s, np.nan), both(claims=claims)
    )
    if found is None or found.lasting_s < terms["at_least_s"]:
        return not_asked("The two fans do not run together long enough in this log.")
    ratio = terms["ratio"]
    return by_figure(
        log, value=found.value, doubt=COVERAGE * found.uncertainty, unit="1",
        low=ratio * (1.0 - terms["share"]), high=ratio * (1.0 + terms["share"]),
        words="Exhaust over supply airflow was {value} over {lasting}, give or take {doubt}; {ratio} is set.",
        amounts={"ratio": (ratio, "1")}, from_s=found.from_s, to_s=found.to_s, lasting_s=found.lasting_s,
    )  # fmt: skip


LOOP_NEEDS = ("{at}", "{at}_setpoint")
_LIMITS = "steady limits often specified: ±1 K, ±10 % of flow or static pressure; common practice, no source"
_RESET = "supply_airflow_setpoint|supply_airflow", "room_co2|return_co2", RUNS.format(at="supply")
KINDS = (
    Kind(
        "on_time", "Starts and stops on time", (RUNS.format(at="supply"),), _on_time,
        "The controller's clock, zone and daylight saving; then the hours of its schedule, then the start's delays.",
        {"within_s": Limit("s", 600.0)}, by_week=True,
    ),
    Kind(
        "as_scheduled", "Runs by its schedule", (RUNS.format(at="supply"),), _as_scheduled,
        "What else enables it: override, hand, a second schedule, an input that stays closed.",
        {"beyond_s": Limit("s", 900.0), "at_least_s": Limit("s", 900.0)}, ("occupied", "unoccupied"), by_week=True,
    ),
    Kind(
        "setpoint_held", "Setpoint held", LOOP_NEEDS, _setpoint_held,
        "Whether the loop has an integral part; the sensor's place and zero; then what works against it.",
        {"apart_k": Limit("delta_K", 1.0, source=_LIMITS), "share": Limit("1", 0.1, source=_LIMITS),
         "at_least_s": Limit("s", 1800.0)}, tuple(LOOPS),
    ),
    Kind(
        "hunts", "Loop does not hunt", LOOP_NEEDS, _hunts,
        "Less gain first; then a valve too large, an actuator that sticks, a sensor far away from what it controls.",
        {"apart_k": Limit("delta_K", 0.5), "share": Limit("1", 0.06)}, tuple(LOOPS),
    ),
    Kind(
        "reset_line", "Reset line as set", _RESET, _reset_line,
        "The four numbers of the line in the controller, the sensor's range there, and what else asks for air.",
        {"low_co2": Limit("mol/mol", setting="reset_low_co2"), "high_co2": Limit("mol/mol", setting="reset_high_co2"),
         "airflow_at_low": Limit("m3/s", setting="reset_airflow_at_low"),
         "airflow_at_high": Limit("m3/s", setting="reset_airflow_at_high"),
         "floor": Limit("m3/s", 0.0, "ventilation_floor"), "share": Limit("1", 0.05), "span": Limit("1", 0.3),
         "pairs": Limit("", 30.0)},
        when={"supply_control": ("airflow_reset_on_co2",)},
    ),
    Kind(
        "floor_held", "Ventilation floor held", ("outdoor_airflow|supply_airflow", RUNS.format(at="supply")), _floor,
        "The minimum of the reset line and of the fan; then the airflow sensor against a traverse.",
        {"floor": Limit("m3/s", setting="ventilation_floor"), "share": Limit("1", 0.1),
         "at_least_s": Limit("s", 1200.0)},
    ),
    Kind(
        "ratio_held", "Exhaust follows supply",
        ("exhaust_airflow", "supply_airflow", SUPPLY_RUNS, EXHAUST_RUNS), _ratio,
        "The ratio that is set, the exhaust fan's minimum and maximum, and both airflow sensors' zeros.",
        {"ratio": Limit("1", setting="exhaust_ratio"), "share": Limit("1", 0.1), "at_least_s": Limit("s", 5400.0)},
        when={"exhaust_control": ("follows_supply_by_airflow_ratio",)},
    ),
)  # fmt: skip
