"""From what an object answers to a value with our unit, or why it can be none. Its status is kept as remarks."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from commissioning.controllers import wire
from commissioning.controllers.sources import Source
from commissioning.controllers.wire import Answer, Held, Refusal
from commissioning.dossier.problem import Problem, shown

Plain = float | int | bool | str

# By kind of object: the type that its present value has (ANSI/ASHRAE 135, clause 12, from memory).
KINDS: Mapping[str, str] = {
    **{f"analog-{way}": "real" for way in ("input", "output", "value")},
    **{f"binary-{way}": "enumerated" for way in ("input", "output", "value")},
    **{f"multi-state-{way}": "unsigned" for way in ("input", "output", "value")},
    "large-analog-value": "double",
    "integer-value": "integer",
    "positive-integer-value": "unsigned",
    "characterstring-value": "text",
    "schedule": "",  # whatever it is made to give
}
_WORDS = {
    **{"null": "nothing", "yes_no": "a yes or no", "unsigned": "a count", "integer": "a whole number"},
    **{"real": "a number", "double": "a long number", "octets": "bytes", "text": "a text", "bits": "a row of bits"},
    **{"enumerated": "a word of a list", "date": "a date", "time": "a time", "object": "the name of an object"},
    "constructed": "a structure",
}
_PLAIN = ("yes_no", "unsigned", "integer", "real", "double", "text", "enumerated")
_FLAGS = ("in alarm", "in fault", "overridden at the controller", "out of service")
NO_UNITS = 95
# Codes of the standard's list of engineering units (ANSI/ASHRAE 135, clause 21, from memory) that are units here.
OUR_UNITS: Mapping[int, str] = {
    **{84: "cfm", 85: "m3/s", 87: "L/s", 135: "m3/h"},
    **{53: "Pa", 54: "kPa", 133: "hPa", 134: "hPa", 58: "in_wc", 206: "mm_wc", 61: "inHg", 56: "psi"},
    **{62: "degC", 64: "degF", 63: "K", 121: "delta_K", 120: "delta_degF"},
    **{98: "%", 29: "%", 96: "ppm", 73: "s", 72: "min", 71: "h"},
    **{74: "m/s", 77: "fpm", 78: "mph", 31: "m", 118: "cm", 30: "mm", 32: "in", 33: "ft", 0: "m2", 1: "ft2"},
    **{47: "W", 48: "kW", 51: "hp", 3: "A", 5: "V", 27: "Hz", 104: "rpm"},
    **{209: "kg/kg", 28: "g/kg", 186: "kg/m3", 39: "kg", 40: "lb", 42: "kg/s", 46: "lb/h"},
}


@dataclass(frozen=True)
class Point:
    """`unit` is our code, empty where the controller states none; `stated` is what it states in the standard's word."""

    source: Source
    value: Plain
    unit: str = ""
    stated: str = ""
    remarks: tuple[str, ...] = ()


def properties_of(source: Source) -> tuple[str, ...]:
    asked = ["present-value"]
    if KINDS[source.kind] in ("real", "double", "integer") or source.kind == "positive-integer-value":
        asked.append("units")
    if source.kind.startswith("multi-state"):
        asked.append("number-of-states")
    return (*asked, "status-flags", "reliability")


def point_of(source: Source, answers: Mapping[str, Answer]) -> Point | Problem:
    """
    >>> answers = {"present-value": Held("real", 450.0), "units": Held("enumerated", 84)}
    >>> point_of(Source("analog-value", 3), answers).unit
    'cfm'
    """
    given = answers["present-value"]
    if isinstance(given, Refusal):
        return _refused(source, given)
    if isinstance(given, tuple):
        return _problem(source, "several values", "It has several values where one is asked for.")
    reason = _why_not(source, given, answers)
    if reason:
        return _problem(source, given.value, reason)
    value = bool(given.value) if source.kind.startswith("binary") else given.value
    unit, stated = _unit(answers.get("units"))
    return Point(source, value, unit, stated, tuple(_remarks(source, answers)))


def _refused(source: Source, given: Refusal) -> Problem:
    if given.why == "unknown-object":
        return _problem(
            source, "", "The controller has no such object.", "Correct the mapping, or look which device answers."
        )
    return _problem(
        source, "", f"The controller does not give its value: {given.why}.", "Read it at the controller itself."
    )


def _problem(source: Source, value: object, reason: str, remedy: str = "") -> Problem:
    return Problem(
        str(source), shown(value), reason, remedy or "Look at the object in the controller; correct the mapping."
    )


def _why_not(source: Source, given: Held, answers: Mapping[str, Answer]) -> str:
    expected = KINDS[source.kind]
    if given.tag != expected and (expected or given.tag not in _PLAIN):
        told = f", where {_WORDS[expected]} is expected" if expected else ""
        return f"Its value is {_WORDS[given.tag]}{told}."
    if isinstance(given.value, float) and not math.isfinite(given.value):
        return "Its value is no finite number."
    if source.kind.startswith("binary") and given.value not in (0, 1):
        return "Its value is neither active nor inactive."
    if source.kind.startswith("multi-state"):
        most = answers.get("number-of-states")
        states = most.value if isinstance(most, Held) and most.tag == "unsigned" else math.inf
        if not 1 <= given.value <= states:
            return f"Its value is none of its states, which are 1 to {states}."
    return ""


def _unit(given: Answer | None) -> tuple[str, str]:
    if not isinstance(given, Held) or given.tag != "enumerated" or given.value == NO_UNITS:
        return "", ""
    return OUR_UNITS.get(given.value, ""), wire.unit_of(given.value)


def _remarks(source: Source, answers: Mapping[str, Answer]) -> list[str]:
    flags, reliability = answers.get("status-flags"), answers.get("reliability")
    held = []
    if isinstance(flags, Held) and flags.tag == "bits":
        held = [word for word, is_set in zip(_FLAGS, flags.value, strict=False) if is_set]
    if isinstance(reliability, Held) and reliability.tag == "enumerated" and reliability.value:
        held.append(f"reliability {wire.reliability_of(reliability.value)}")
    return [f"{source}: {', '.join(held)}"] if held else []
