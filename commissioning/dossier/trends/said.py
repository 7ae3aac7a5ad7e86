"""What becomes of one expectation over a log, as plain facts with a sentence, in SI and in the reader's units."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from commissioning.dossier import printing
from commissioning.dossier.trends.logged import Log
from commissioning.engineering import units
from commissioning.engineering.sequences import Occurrence
from commissioning.engineering.temporal import FAILS, HOLDS, UNKNOWN
from commissioning.engineering.trend_screens import Lasting

MOST_MARKS = 50
Amount = tuple[float, str]  # value in SI, unit code; "s" for a time
_SHOWN = {  # code in SI: code, decimals in SI and in inch-pound units
    "degC": (("degC", 1), ("degF", 1)),
    "delta_K": (("delta_K", 1), ("delta_degF", 1)),
    "m3/s": (("L/s", 0), ("cfm", 0)),
    "Pa": (("Pa", 0), ("in_wc", 2)),
    "1": (("%", 0), ("%", 0)),
    "mol/mol": (("ppm", 0), ("ppm", 0)),
}
_LABEL = {"delta_K": "K", "delta_degF": "°F", "%": "%"}


@dataclass(frozen=True)
class Said:
    """`least` and `most` bound the margin in `unit`; `asked_s` is for how long or, in `times`, how often it was asked.

    `words` has the names of `amounts` in braces.
    """

    outcome: str
    words: str
    amounts: Mapping[str, Amount] = field(default_factory=dict)
    least: float = -math.inf
    most: float = math.inf
    unit: str = ""
    at_s: float | None = None
    marks: tuple[tuple[float, float], ...] = ()
    failing_s: float = 0.0
    unknown_s: float = 0.0
    asked_s: float = 0.0
    times: int = 0


def not_asked(why: str) -> Said:
    return Said(UNKNOWN, why)


def by_lasting(
    log: Log, found: Lasting, *, unit: str, holds: str, fails: str, asked_s: float,
    amounts: Mapping[str, Amount] | None = None,
) -> Said:  # fmt: skip
    """`fails` may name {worst}, by how much it fails, {lasting}, for how long in all, and {at}, since when."""
    given = dict(amounts or {})
    if found.outcome == FAILS:
        worst = min(found.stretches, key=lambda one: one.margin)
        given |= {"lasting": (found.failing_s, "s"), "worst": (-worst.margin, unit)}
        return Said(
            FAILS, fails.replace("{at}", log.clock(found.stretches[0].from_s)), given, -math.inf, worst.margin, unit,
            found.stretches[0].from_s, tuple((one.from_s, one.to_s) for one in found.stretches),
            found.failing_s, found.unknown_s, asked_s, len(found.stretches),
        )  # fmt: skip
    given["asked"] = (asked_s, "s")
    if found.outcome == HOLDS:
        return Said(HOLDS, holds, given, found.margin, found.margin, unit, asked_s=asked_s)
    given["unknown"] = (found.unknown_s, "s")
    words = "It holds wherever the log tells; for {unknown} it is not known."
    return Said(UNKNOWN, words, given, -math.inf, found.margin, unit, unknown_s=found.unknown_s, asked_s=asked_s)


def by_times(log: Log, found: list[Occurrence], *, holds: str, fails: str, none: str, allowed: int = 0) -> Said:
    """Of things that happen: `fails` may name {worst} in seconds, {count} of {all} and {at}."""
    if not found:
        return not_asked(none)
    failing = [one for one in found if one.outcome == FAILS]
    unknown = [one for one in found if one.outcome == UNKNOWN]
    if len(failing) > allowed:
        worst = min(failing, key=lambda one: one.most)
        words = fails.replace("{at}", log.clock(worst.at_s))
        words = words.replace("{count}", str(len(failing))).replace("{all}", str(len(found)))
        return Said(
            FAILS, words, {"worst": (-worst.most, "s")}, worst.least, worst.most, "s", worst.at_s,
            tuple((one.at_s, one.at_s) for one in failing), times=len(found),
        )  # fmt: skip
    least, most = min(one.least for one in found), min(one.most for one in found)
    if len(failing) + len(unknown) > allowed:
        words = f"Of {len(found)}, {len(unknown)} cannot be told: the log is too coarse there or has a gap."
        return Said(UNKNOWN, words, {}, least, most, "s", unknown[0].at_s, times=len(found))
    return Said(
        HOLDS, holds.replace("{all}", str(len(found))), {"worst": (least, "s")}, least, most, "s", times=len(found)
    )


def by_figure(
    log: Log, *, value: float, doubt: float, low: float, high: float, unit: str, words: str,
    from_s: float, to_s: float, lasting_s: float, amounts: Mapping[str, Amount] | None = None,
) -> Said:  # fmt: skip
    """A measured figure with its expanded uncertainty against limits: told only where the doubt leaves one answer."""
    margin = min(value - low, high - value)
    least, most = margin - doubt, margin + doubt
    outcome = HOLDS if least >= 0.0 else FAILS if most < 0.0 else UNKNOWN
    given = {"value": (value, unit), "doubt": (doubt, unit), "lasting": (lasting_s, "s"), **(amounts or {})}
    if outcome == UNKNOWN:
        words += " That is too near its limit to tell, or known too little."
    marks = ((from_s, to_s),) if outcome == FAILS else ()
    return Said(outcome, words, given, least, most, unit, from_s, marks, lasting_s if marks else 0.0, asked_s=lasting_s)


def printed(words: str, amounts: Mapping[str, Any], display: str = "si") -> str:
    """The sentence in the reader's units.

    >>> printed("It is {worst} off for {lasting}.", {"worst": (2.0, "delta_K"), "lasting": (5400.0, "s")}, "ip")
    'It is 3.6 °F off for 1.5 h.'
    """
    for name, amount in amounts.items():
        value, unit = (amount["value"], amount["unit"]) if isinstance(amount, Mapping) else amount
        words = words.replace("{" + name + "}", shown(value, unit, display))
    return words


def shown(value: float | None, unit: str, display: str) -> str:
    """
    >>> shown(0.25, "m3/s", "si"), shown(45.0, "s", "si"), shown(700.0, "s", "ip"), shown(-0.051, "1", "si")
    ('250 L/s', '45 s', '12 min', '−5 %')
    >>> shown(None, "degC", "si")
    'an unknown amount'
    """
    if value is None or not math.isfinite(value):
        return "an unknown amount"
    if unit == "s":
        return printing.minus(_time(value))
    if unit not in _SHOWN:
        return printing.minus(f"{value:,.3g} {unit}".strip())
    code, decimals = _SHOWN[unit][display == "ip"]
    number = f"{float(units.from_si(value, code)):,.{decimals}f}"
    return f"{printing.minus(number)} {_LABEL.get(code) or units.unit(code).label}"


def _time(seconds: float) -> str:
    if abs(seconds) < 120.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if abs(seconds) < 5400.0 else f"{seconds / 3600.0:.1f} h"


def as_json(said: Said) -> dict[str, Any]:
    """Plain facts; None stands for what is not known or without bound."""
    return {
        "outcome": said.outcome,
        "margin": {"least": _number(said.least), "most": _number(said.most), "unit": said.unit} if said.unit else None,
        "at_s": said.at_s,
        "lasting_s": said.failing_s,
        "unknown_s": said.unknown_s,
        "asked_s": said.asked_s,
        "times": said.times,
        "marks": [list(one) for one in said.marks[:MOST_MARKS]],
        "words": said.words,
        "amounts": {name: {"value": _number(value), "unit": unit} for name, (value, unit) in said.amounts.items()},
        "sentence": printed(said.words, said.amounts),
    }


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
