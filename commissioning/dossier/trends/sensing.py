"""Expectations of sensors: what stands still, what cannot be, what disagrees with its neighbour, what shows at rest."""

import numpy as np

from commissioning.dossier.trends.kind import SIDES, Kind, Limit, Terms
from commissioning.dossier.trends.logged import Log
from commissioning.dossier.trends.said import Said, by_figure, by_lasting, not_asked
from commissioning.dossier.trends.starting import PROVEN, RUNS, asked, fan
from commissioning.dossier.trends.steady import COVERAGE, average, by_blocks
from commissioning.engineering import units
from commissioning.engineering.guards import FloatArray
from commissioning.engineering.signals import level_at
from commissioning.engineering.temporal import FAILS, HOLDS, Claim, both, negated
from commissioning.engineering.trend_lines import Average
from commissioning.engineering.trend_screens import held_before, lasting, lasts_s, stood_still
from commissioning.logs.roles import roles

SETTLED_S, UNHEATED_S = 1800.0, 1200.0
SHUT = 0.02
INSET_S = 600.0  # a sensor may answer so much later than what moves it
_SPEED = ("supply_fan_speed_command", 0.15)
MOVERS: dict[str, tuple[tuple[str, float], ...]] = {  # a sensor: what moves it, and how far that has to move
    "outdoor_temperature": (("exchanger_leaving_temperature", 3.0),),
    "exchanger_leaving_temperature": (("outdoor_temperature", 3.0), ("supply_fan_status", 0.5)),
    "supply_temperature": (("supply_fan_status", 0.5),),
    "exhaust_temperature": (("outdoor_temperature", 3.0), ("exhaust_fan_status", 0.5)),
    "return_temperature": (("room_temperature", 2.0),),
    "room_temperature": (("return_temperature", 2.0),),
    "room_co2": (("return_co2", 150e-6), ("supply_fan_status", 0.5)),
    "return_co2": (("room_co2", 150e-6), ("supply_fan_status", 0.5)),
    "supply_airflow": (_SPEED, ("supply_fan_status", 0.5)),
    "exhaust_airflow": (("exhaust_fan_speed_command", 0.15), ("exhaust_fan_status", 0.5)),
    "outdoor_airflow": (_SPEED, ("supply_fan_status", 0.5)),
    "duct_static_pressure": (_SPEED, ("supply_fan_status", 0.5)),
    "supply_filter_pressure_drop": (("supply_fan_status", 0.5), _SPEED),
    "exhaust_filter_pressure_drop": (("exhaust_fan_status", 0.5),),
}


def running(log: Log, side: str = "supply", settle_s: float = SETTLED_S) -> Claim:
    """The claim that a fan has run for long enough that temperatures and flows have settled."""
    return held_before(claim=fan(log, side), window_s=settle_s)


def unheated(log: Log) -> list[Claim]:
    """Claims that nothing has heated or cooled the supply air for a while, of what is logged."""
    coils = [role for role in ("heating_valve", "cooling_valve", "preheat_output") if log.has(role)]
    return [held_before(claim=log.off(role, SHUT), window_s=UNHEATED_S) for role in coils]


def name(role: str) -> str:
    return roles()[role].title


def _moves(log: Log, role: str) -> list[tuple[str, float]]:
    """A state moves nothing that is logged by change: that may well stay as it is over a start."""
    by_change = log.series[role].by_change
    return [(other, by) for other, by in MOVERS[role] if log.has(other) and not (by_change and by == 0.5)]


def _moved(log: Log, role: str, by: float) -> bool:
    levels = log.signal(role).levels
    known = levels[np.isfinite(levels)]
    return bool(known.size and np.ptp(known) > by)


def _stands_still(log: Log, terms: Terms) -> Said:
    movers = _moves(log, terms.at)
    if not movers:
        return not_asked(f"No other point of the log would tell that the {name(terms.at)} stands still.")
    found = stood_still(
        signal=log.signal(terms.at), quiet=0.0, at_least_s=terms["at_least_s"],
        others=[log.signal(other) for other, _ in movers], moves=[by for _, by in movers],
        inset_s=INSET_S,
    )  # fmt: skip
    code = units.SI_CODES.get(roles()[terms.at].quantity, "")
    asked_s = float(log.end_s - log.begin_s) - log.signal(terms.at).unknown_s
    if not found and not _moved(log, terms.at, 0.0) and not any(_moved(log, other, by) for other, by in movers):
        return not_asked(f"Nothing moved in this log that would tell whether the {name(terms.at)} stands still.")
    if not found:
        return Said(HOLDS, f"The {name(terms.at)} moved as the air did.", asked_s=asked_s)
    longest = max(found, key=lambda one: one.to_s - one.from_s)
    lasting_s = sum(one.to_s - one.from_s for one in found)
    words = f"The {name(terms.at)} stood still at {{level}} for {{lasting}} from {log.clock(longest.from_s)}, "
    return Said(
        FAILS, words + f"while the {name(movers[longest.mover][0])} moved.",
        {"level": (longest.level, code), "lasting": (longest.to_s - longest.from_s, "s")},
        most=terms["at_least_s"] - (longest.to_s - longest.from_s), unit="s", at_s=longest.from_s,
        marks=tuple((one.from_s, one.to_s) for one in found), failing_s=lasting_s, asked_s=asked_s, times=len(found),
    )  # fmt: skip


def _in_range(log: Log, terms: Terms) -> Said:
    low, high = roles()[terms.at].limits or (-np.inf, np.inf)
    code = units.SI_CODES.get(roles()[terms.at].quantity, "")
    claim = log.stays(terms.at, low, high)
    found = lasting(claim=Claim(claim.times_s, claim.most, claim.most), at_least_s=0.0)  # a gap is not out of range
    return by_lasting(
        log, found, unit="delta_K" if code == "degC" else code, asked_s=lasts_s(claim=claim),
        amounts={"low": (low, code), "high": (high, code)},
        holds=f"The {name(terms.at)} stayed where a reading can be.",
        fails=f"The {name(terms.at)} left {{low}} to {{high}} for {{lasting}} in all, first at {{at}}: "
        "no reading of air.",
    )  # fmt: skip


def _apart(
    log: Log, terms: Terms, pair: tuple[str, str], condition: Claim, unit: str, words: str, low: float, high: float
) -> Said:  # fmt: skip
    found = average(log, pair, lambda a, b: a - b, condition)
    if found is not None and found.value < 0.0:
        words = words.replace("{value} above", "{below} below")
    return _judged(log, found, terms, low, high, unit, words)


def _judged(log: Log, found: Average | None, terms: Terms, low: float, high: float, unit: str, words: str) -> Said:
    if found is None or found.lasting_s < terms["at_least_s"]:
        return not_asked("The two were not seen long enough under like conditions.")
    return by_figure(
        log, value=found.value, doubt=COVERAGE * found.uncertainty, low=low, high=high, unit=unit, words=words,
        from_s=found.from_s, to_s=found.to_s, lasting_s=found.lasting_s, amounts={"below": (-found.value, unit)},
    )  # fmt: skip


def _room_and_return(log: Log, terms: Terms) -> Said:
    words = "Return air read {value} above the room over {lasting} of running, give or take {doubt}."
    limit = terms["apart_k"]
    pair = ("return_temperature", "room_temperature")
    return _apart(log, terms, pair, running(log, "exhaust"), "delta_K", words, -limit, limit)


def _co2_pair(log: Log, terms: Terms) -> Said:
    words = "Return air CO2 read {value} above the room over {lasting} of running, give or take {doubt}."
    limit = terms["apart"]
    return _apart(log, terms, ("return_co2", "room_co2"), running(log, "exhaust"), "mol/mol", words, -limit, limit)


def _through_the_coil(log: Log, terms: Terms) -> Said:
    condition = both(claims=[running(log), *unheated(log)])
    words = "With heating and cooling shut the supply air read {value} above the air before them over {lasting}, "
    pair = ("supply_temperature", "exchanger_leaving_temperature")
    words += "give or take {doubt}; the fan's own heat is within that limit."
    return _apart(log, terms, pair, condition, "delta_K", words, terms["low_k"], terms["high_k"])


def _co2_at_rest(log: Log, terms: Terms) -> Said:
    role = log.one_of("room_co2|return_co2") or ""
    step = log.step_s(role)
    hour = max(1, round(3600.0 / step))
    signal = log.signal(role)
    times = np.arange(float(signal.times_s[0]), float(signal.times_s[-1]), step)
    levels = level_at(signal=signal, at_s=times)
    if times.size < hour or times[-1] - times[0] < terms["at_least_s"]:
        return not_asked("The log is shorter than a day: the CO2 may not have come down in it.")
    means = np.convolve(np.nan_to_num(levels, nan=1.0), np.ones(hour) / hour, mode="valid")
    least, at = float(means.min()), int(means.argmin())
    words = f"The lowest hour of the {name(role)} was {{value}}; outdoor air has about 420 ppm."
    return by_figure(
        log, value=least, doubt=0.0, low=terms["low"], high=terms["high"], unit="mol/mol", words=words,
        from_s=float(times[at]), to_s=float(times[at]) + 3600.0, lasting_s=3600.0,
    )  # fmt: skip


def _between_the_two(log: Log, terms: Terms) -> Said:
    role = log.one_of("exchanger_leaving_temperature|supply_temperature") or ""
    conditions = [running(log), *(unheated(log) if role == "supply_temperature" else [])]

    def margin(leaving: FloatArray, outdoor: FloatArray, back: FloatArray) -> FloatArray:
        inside: FloatArray = np.minimum(leaving - np.minimum(outdoor, back), np.maximum(outdoor, back) - leaving)
        return inside + terms["beyond_k"]

    condition = both(claims=conditions)
    claim, asked_s = by_blocks(log, (role, "outdoor_temperature", "return_temperature"), margin, condition)
    if asked_s <= 0.0:
        return not_asked("The unit does not run long enough in this log without heating or cooling.")
    return by_lasting(
        log, lasting(claim=claim, at_least_s=terms["at_least_s"]), unit="delta_K", asked_s=asked_s,
        holds=f"The {name(role)} lay between outdoor and return air.",
        fails=f"The {name(role)} lay outside of outdoor and return air for {{lasting}}, by {{worst}} beyond the limit, "
        "first at {at}: no exchanger does that.",
    )  # fmt: skip


def _airflow_at_rest(log: Log, terms: Terms) -> Said:
    role = f"{terms.at}_airflow"
    highest = float(np.nanmax(log.signal(role).levels))
    limit = terms["share"] * highest
    if lasts_s(claim=fan(log, terms.at)) < SETTLED_S:
        return not_asked(f"The {terms.at} fan does not run long enough in this log to compare with.")
    condition = held_before(claim=negated(claim=fan(log, terms.at)), window_s=600.0)
    found = average(log, (role,), lambda flow: flow, condition)
    if found is None or found.lasting_s < terms["at_least_s"] or highest <= 0.0:
        return not_asked(f"The {terms.at} fan does not rest for long in this log.")
    return by_figure(
        log, value=found.value, doubt=COVERAGE * found.uncertainty, low=-limit, high=limit, unit="m3/s",
        words=f"With the {terms.at} fan at rest its airflow read {{value}} over {{lasting}}, give or take {{doubt}}; "
        "{limit} is the limit.", amounts={"limit": (limit, "m3/s")},
        from_s=found.from_s, to_s=found.to_s, lasting_s=found.lasting_s,
    )  # fmt: skip


def _airflow_with_fan(log: Log, terms: Terms) -> Said:
    role = f"{terms.at}_airflow"
    command = f"{terms.at}_fan_speed_command"
    claims = [log.on(f"{terms.at}_fan_status")] + ([log.on(command, 0.2)] if log.has(command) else [])
    limit = terms["share"] * float(np.nanmax(log.signal(role).levels))
    return asked(
        log, held_before(claim=both(claims=claims), window_s=terms["delay_s"]), log.stays(role, low=limit),
        unit="m3/s", at_least_s=120.0,
        holds=f"Air moved whenever the {terms.at} fan was proven.",
        fails=f"The {terms.at} fan was proven and next to no air moved for {{lasting}} in all, first at {{at}}.",
        none=f"The {terms.at} fan is not proven for long in this log.",
    )  # fmt: skip


SUPPLY_RUNS, EXHAUST_RUNS = (RUNS.format(at=side) for side in SIDES)
KINDS = (
    Kind(
        "stands_still", "Sensor moves as the air does", ("{at}",), _stands_still,
        "Whether the point is forced in the controller or the log repeats an old value; then sensor and cable.",
        {"at_least_s": Limit("s", 7200.0)}, tuple(MOVERS),
    ),
    Kind(
        "in_range", "Reading can be", ("{at}",), _in_range,
        "An open or shorted sensor, its type or range in the controller, a wrong unit in the mapping of the log.",
        {}, tuple(code for code, role in roles().items() if role.limits is not None),
    ),
    Kind(
        "return_beside_room", "Return air reads like the room",
        ("return_temperature", "room_temperature", EXHAUST_RUNS), _room_and_return,
        "Both sensors against an instrument; where the room sensor hangs; leaks into the return duct.",
        {"apart_k": Limit("delta_K", 2.0), "at_least_s": Limit("s", 5400.0)},
    ),
    Kind(
        "co2_beside_co2", "Return air CO2 reads like the room's", ("return_co2", "room_co2", EXHAUST_RUNS),
        _co2_pair, "Both sensors against an instrument or in outdoor air.",
        {"apart": Limit("mol/mol", 150e-6, source="two sensors of ±75 ppm each; ±75 ppm from California AB 841"),
         "at_least_s": Limit("s", 5400.0)},
    ),
    Kind(
        "through_the_coil", "No heat from a shut coil",
        ("supply_temperature", "exchanger_leaving_temperature", SUPPLY_RUNS), _through_the_coil,
        "Whether the heating valve shuts tight and its actuator is set to its travel; then the two sensors.",
        {"low_k": Limit("delta_K", -1.0), "high_k": Limit("delta_K", 2.0), "at_least_s": Limit("s", 5400.0)},
    ),
    Kind(
        "co2_at_rest", "CO2 comes down to outdoor air", ("room_co2|return_co2",), _co2_at_rest,
        "The CO2 sensor against an instrument or in outdoor air; its own correction over weeks in a room never empty.",
        {"low": Limit("mol/mol", 345e-6, source="420 ppm outdoors less 75 ppm, from California AB 841"),
         "high": Limit("mol/mol", 600e-6), "at_least_s": Limit("s", 72000.0)},
    ),
    Kind(
        "between_the_two", "Exchanger air between its two airs",
        ("exchanger_leaving_temperature|supply_temperature", "outdoor_temperature", "return_temperature", SUPPLY_RUNS),
        _between_the_two, "Sensors swapped at the terminals or in the mapping; then each against an instrument.",
        {"beyond_k": Limit("delta_K", 2.0), "at_least_s": Limit("s", 1800.0)},
    ),
    Kind(
        "airflow_at_rest", "No airflow at rest", ("{at}_airflow", RUNS), _airflow_at_rest,
        "Zero of the airflow sensor with both tubes off; then a draught through an open damper.",
        {"share": Limit("1", 0.04), "at_least_s": Limit("s", 5400.0)}, SIDES,
    ),
    Kind(
        "airflow_with_fan", "Air moves with the fan", ("{at}_airflow", PROVEN), _airflow_with_fan,
        "Belt and coupling, a damper shut in the way, rotation; then the proof, which says more than is so.",
        {"share": Limit("1", 0.1), "delay_s": Limit("s", 300.0)}, SIDES,
    ),
)  # fmt: skip
