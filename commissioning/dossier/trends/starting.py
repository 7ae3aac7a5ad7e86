"""Expectations of starting and stopping: what comes before what, what follows a command, what runs without one."""

from commissioning.dossier.trends.kind import DAMPER, SIDES, Kind, Limit, Terms
from commissioning.dossier.trends.logged import Log
from commissioning.dossier.trends.said import Said, by_lasting, by_times, not_asked
from commissioning.engineering.sequences import orders, runs
from commissioning.engineering.temporal import Claim, both, negated, whenever
from commissioning.engineering.trend_screens import held_before, lasting, lasts_s

OPEN, SHUT, OPENING = 0.9, 0.05, 0.02
COMMANDED = "{at}_fan_command|{at}_fan_speed_command"
PROVEN = "{at}_fan_status"
RUNS = "{at}_fan_status|{at}_fan_command|{at}_fan_speed_command"
DAMPER_PROOF = "{damper}_damper_open|{damper}_damper_position"


def fan(log: Log, side: str, what: str = RUNS) -> Claim:
    """The claim that a fan runs, or is told to."""
    return log.on(role := log.one_of(what.format(at=side)) or "", 0.02 if role.endswith("speed_command") else 0.5)


def damper_open(log: Log, side: str) -> Claim:
    name = f"{DAMPER[side]}_damper"
    if log.has(f"{name}_open"):
        return log.on(f"{name}_open")
    return log.on(f"{name}_position", OPEN)


def free_of_trips(log: Log, condition: Claim) -> Claim:
    """The condition, where no trip, frost action or hand switch has taken over."""
    roles = ("smoke_state", "frost_state", "defrost_state", "low_temperature_trip", "high_pressure_trip", "override")
    return both(claims=[condition, *(log.off(role) for role in roles if log.has(role))])


def asked(
    log: Log, condition: Claim, claim: Claim, *, holds: str, fails: str, none: str,
    unit: str = "", at_least_s: float = 0.0,
) -> Said:  # fmt: skip
    """A claim that has to hold wherever a condition does; a state has no margin, and none is shown."""
    asked_s = lasts_s(claim=condition)
    if asked_s <= 0.0:
        return not_asked(none)
    found = lasting(claim=whenever(condition=condition, claim=claim), at_least_s=max(at_least_s, log.slack_s))
    return by_lasting(log, found, unit=unit, holds=holds, fails=fails, asked_s=asked_s)


def _damper_before_fan(log: Log, terms: Terms) -> Said:
    found = orders(first=damper_open(log, terms.at), then=fan(log, terms.at, COMMANDED), lead_s=terms["lead_s"])
    name = f"{DAMPER[terms.at]} air damper"
    return by_times(
        log, found,
        holds=f"At each of {{all}} starts the {name} was proven open before the {terms.at} fan was commanded, "
        "the least time {worst}.",
        fails=f"At {{count}} of {{all}} starts the {terms.at} fan was commanded before the {name} was proven open, "
        "by {worst} at {at}.",
        none=f"The {terms.at} fan does not start in this log.",
    )  # fmt: skip


def _damper_opens(log: Log, terms: Terms) -> Said:
    name = DAMPER[terms.at]
    told = held_before(claim=log.on(f"{name}_damper_command", OPEN), window_s=terms["travel_s"])
    return asked(
        log, told, damper_open(log, terms.at),
        holds=f"The {name} air damper opened each time it was told to.",
        fails=f"The {name} air damper did not open fully while it was told to: {{lasting}} in all, first at {{at}}.",
        none=f"The {name} air damper is not told to open in this log.",
    )  # fmt: skip


def _damper_shuts(log: Log, terms: Terms) -> Said:
    name = DAMPER[terms.at]
    told = held_before(claim=log.off(f"{name}_damper_command", OPENING), window_s=terms["travel_s"])
    shut = [log.off(f"{name}_damper_position", SHUT)] if log.has(f"{name}_damper_position") else []
    shut += [log.on(f"{name}_damper_closed")] if log.has(f"{name}_damper_closed") else []
    return asked(
        log, told, both(claims=shut or [log.off(f"{name}_damper_open")]),
        holds=f"The {name} air damper shut each time it was told to.",
        fails=f"The {name} air damper stayed open while it was told to shut: {{lasting}} in all, first at {{at}}.",
        none=f"The {name} air damper is not told to shut in this log.",
    )  # fmt: skip


def _fan_proven(log: Log, terms: Terms) -> Said:
    told = held_before(claim=fan(log, terms.at, COMMANDED), window_s=terms["delay_s"] + terms["beyond_s"])
    return asked(
        log, told, log.on(f"{terms.at}_fan_status"),
        holds=f"The {terms.at} fan was proven whenever it had been commanded for long enough.",
        fails=f"The {terms.at} fan was commanded and not proven for {{lasting}} in all, first at {{at}}.",
        none=f"The {terms.at} fan is not commanded in this log.",
    )  # fmt: skip


def _fan_uncommanded(log: Log, terms: Terms) -> Said:
    told = held_before(
        claim=negated(claim=fan(log, terms.at, COMMANDED)), window_s=terms["delay_s"] + terms["rundown_s"]
    )
    return asked(
        log, told, log.off(f"{terms.at}_fan_status"),
        holds=f"The {terms.at} fan stood still whenever it had not been commanded.",
        fails=f"The {terms.at} fan ran without a command for {{lasting}} in all, first at {{at}}.",
        none=f"The {terms.at} fan is commanded all through this log.",
    )  # fmt: skip


def _unit_starts(log: Log, terms: Terms) -> Said:
    told = held_before(claim=free_of_trips(log, log.on("enable")), window_s=terms["delay_s"])
    return asked(
        log, told, fan(log, "supply", COMMANDED),
        holds="The supply fan was commanded each time the unit was enabled.",
        fails="The unit was enabled and its supply fan was not commanded for {lasting} in all, first at {at}.",
        none="The unit is not enabled in this log, or a trip or hand switch stood all the time.",
    )  # fmt: skip


def _fans_together(log: Log, terms: Terms) -> Said:
    other = "exhaust" if terms.at == "supply" else "supply"
    alone = held_before(claim=free_of_trips(log, fan(log, terms.at)), window_s=terms["delay_s"])
    return asked(
        log, alone, fan(log, other),
        holds=f"The {other} fan ran whenever the {terms.at} fan did.",
        fails=f"The {terms.at} fan ran without the {other} fan for {{lasting}} in all, first at {{at}}.",
        none=f"The {terms.at} fan does not run in this log.",
    )  # fmt: skip


def _short_runs(log: Log, terms: Terms) -> Said:
    found = runs(claim=fan(log, terms.at), at_least_s=terms["run_s"])
    return by_times(
        log, found, allowed=round(terms["allowed"]),
        holds=f"The {terms.at} fan started {{all}} times and did not cycle.",
        fails=f"The {terms.at} fan started {{all}} times and {{count}} of its runs were short, "
        "one by {worst} at {at}.",
        none=f"The {terms.at} fan does not start in this log.",
    )  # fmt: skip


KINDS = (
    Kind(
        "damper_before_fan", "Damper proven before the fan", (DAMPER_PROOF, COMMANDED), _damper_before_fan,
        "The end switch and what the fan's start waits for; then the delay from damper to fan.",
        {"lead_s": Limit("s", 0.0)}, SIDES,
    ),
    Kind(
        "damper_opens", "Damper opens when told", ("{damper}_damper_command", DAMPER_PROOF), _damper_opens,
        "Coupling, travel and end switch of the actuator, then its signal.",
        {"travel_s": Limit("s", 240.0)}, SIDES,
    ),
    Kind(
        "damper_shuts", "Damper shuts when told", ("{damper}_damper_command", DAMPER_PROOF), _damper_shuts,
        "Spring return and coupling of the actuator; a unit at rest freezes through an open damper.",
        {"travel_s": Limit("s", 240.0)}, SIDES,
    ),
    Kind(
        "fan_proven", "Fan proven when commanded", (COMMANDED, PROVEN), _fan_proven,
        "Overload, local switch, belt and drive fault; then the proof's own switch and where it is set.",
        {"delay_s": Limit("s", 60.0, "proof_delay"), "beyond_s": Limit("s", 15.0)}, SIDES,
    ),
    Kind(
        "fan_uncommanded", "Fan at rest without a command", (COMMANDED, PROVEN), _fan_uncommanded,
        "A drive or starter left in hand; then a proof that sticks, or a fan that turns in the draught.",
        {"delay_s": Limit("s", 30.0, "stop_delay"), "rundown_s": Limit("s", 180.0)}, SIDES,
    ),
    Kind(
        "unit_starts", "Starts when enabled", ("enable", COMMANDED.format(at="supply")), _unit_starts,
        "The permissives one by one: external contact, alarms that hold it, end switches.",
        {"delay_s": Limit("s", 600.0)},
    ),
    Kind(
        "fans_together", "Both fans run together", (RUNS, "supply_fan_status|supply_fan_command",
                                                    "exhaust_fan_status|exhaust_fan_command"), _fans_together,
        "The interlock between the fans, and what the sequence wants when one of them fails.",
        {"delay_s": Limit("s", 240.0)}, SIDES,
    ),
    Kind(
        "short_runs", "No short cycling", (RUNS,), _short_runs,
        "What stops it each time: a proof, a limit, a schedule with holes, a sensor close to its switching point.",
        {"run_s": Limit("s", 900.0), "allowed": Limit("", 2.0)}, SIDES,
    ),
)  # fmt: skip
