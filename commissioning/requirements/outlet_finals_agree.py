"""Two finals of outlets agree: of the outlets that somebody read again, none differs by more than both uncertainties.

As for two finals of a port: only what was verified is held against anything, nothing is averaged, and a dispute lasts
until the outlet is read again as left.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from commissioning.blocks import Block, Column, Table, Working, WorkingLine
from commissioning.dossier import parts, printing, shows
from commissioning.dossier.outlet_readings import readings_of
from commissioning.dossier.outlets_standing import Standing, standing_outlets
from commissioning.dossier.outlets_verified import LARGEST, Pair, verifications
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Verdict

CODE = "outlet_finals_agree"
TITLE = "Two finals of outlets agree"
VERSION = 1
PRIORITY = "performance"
FAILS = "two finals of outlets disagree"
_UNVERIFIED = Absence("not_due", "There is a verification, and no as-left final that it could verify.")
_STEPS = (
    "The right outlet: number on the drawing, and the same face of it covered?",
    "Operating state: was it the same at both times, doors and the other outlets of the branch included?",
    "Was a damper set between the two?",
    "Instruments, hood factors and air basis: read both records side by side.",
    "Then read it again together; the two are never averaged.",
)


def judge(view: View) -> Iterator[Judgement]:
    checks = verifications(view)
    if not checks:
        return
    standing = standing_outlets(view)
    verified = {one.name: one.port for check in checks for one in readings_of(check)}
    for port in ("supply", "return", "outdoor", "exhaust"):
        names = sorted(name for name, at in verified.items() if at == port)
        if names and isinstance(standing, Absence):
            yield Judgement(CODE, port, VERSION, absence=_UNVERIFIED if standing.code == "not_due" else standing)
        elif names and isinstance(standing, Standing):
            yield _judge(view, port, standing, names)


def _judge(view: View, port: str, standing: Standing, names: Sequence[str]) -> Judgement:
    held = [standing.verified[name] for name in names if name in standing.verified]
    alone = {name: _why_alone(view, standing, name) for name in names if name not in standing.verified}
    if not held:
        return _none_compared(view, port, standing, alone)
    worst = max(held, key=lambda pair: (pair.normalised_difference, pair.standing.name))
    envelopes = dict.fromkeys(one.envelope for pair in held for one in (pair.standing, pair.verifying))
    rests = [one for one in view.records if one.envelope in envelopes]
    return Judgement(
        CODE,
        port,
        VERSION,
        verdict=Verdict.DOES_NOT_CONFORM if worst.is_disputed else Verdict.CONFORMS,
        provisional=view.is_provisional(*rests),
        value=worst.normalised_difference,
        unit="1",
        high=LARGEST,
        clause="normalised difference at most 1 (ISO 13528, from memory)",
        rule="simple",
        margin=LARGEST - worst.normalised_difference,
        rests_on=tuple(one.envelope for one in rests),
        facts={"outlets": _rows(held), "alone": _in_words(alone), "counts": parts.counts(_rows(held), "outlets")},
        look_next=_STEPS if worst.is_disputed else (),
    )


def _rows(held: Sequence[Pair]) -> list[dict[str, Any]]:
    found = [
        {
            "name": pair.standing.name,
            "room": pair.standing.room,
            "verdict": (Verdict.DOES_NOT_CONFORM if pair.is_disputed else Verdict.CONFORMS).value,
            "normalised_difference": pair.normalised_difference,
            "correlation": pair.correlation,
            "standing": _told(pair.standing),
            "verifying": _told(pair.verifying),
        }
        for pair in held
    ]
    return sorted(found, key=lambda row: (-float(row["normalised_difference"]), row["name"]))


def _told(one: Any) -> dict[str, Any]:
    return {"airflow_m3_s": one.airflow_m3_s, "expanded_uncertainty_m3_s": one.expanded_uncertainty_m3_s}


def _why_alone(view: View, standing: Standing, name: str) -> Absence:
    """Why a verified outlet is compared with nothing; `not_given` where nothing is owed."""
    own = standing.readings.get(name)
    if own is None:
        return Absence("not_due", "there is no as-left final that the verification could verify")
    why = standing.why_not.get(name)
    if why is not None and why.code != "not_given":
        return why
    last = [one for one in verifications(view) if any(reading.name == name for reading in readings_of(one))][-1]
    if last.when < standing.records[own.envelope].when:
        return Absence("not_given", "a single final stands, newer than any repeat")
    doubt = view.doubt(last)
    if doubt is not None:
        return Absence("not_judged", f"the verification cannot count. {doubt.text}")
    return Absence("not_judged", "the verification did not read it in the same mode and on the same air basis")


def _in_words(alone: Mapping[str, Absence]) -> list[list[str]]:
    return [[name, why.text] for name, why in alone.items()]


def _none_compared(view: View, port: str, standing: Standing, alone: Mapping[str, Absence]) -> Judgement:
    """No pair at this port: every outlet was read again since, or one of the two readings cannot count."""
    hindered = [(name, why) for name, why in alone.items() if why.code != "not_given"]
    if hindered:
        name, why = hindered[0]
        text = f"{len(hindered)} of {len(alone)} verified outlets are compared with nothing. {name}: {why.text}"
        return Judgement(CODE, port, VERSION, absence=Absence(why.code, text.rstrip(".") + "."))
    finals = standing.finals([standing.readings[name] for name in alone])
    return Judgement(
        CODE,
        port,
        VERSION,
        verdict=Verdict.CONFORMS,
        provisional=view.is_provisional(*finals),
        clause="a single final stands",
        rule="simple",
        rests_on=tuple(one.envelope for one in finals),
        facts={"outlets": [], "alone": _in_words(alone)},
    )


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    absent = shows.absent(judgement, TITLE)
    if absent:
        return absent
    facts = judgement["facts"]
    if not facts["outlets"]:
        text = f"{shows.port_of(judgement)}: a single final stands at each outlet, newer than any repeat."
        return (shows.lead(judgement, text),)
    worst = facts["outlets"][0]
    told = [_exact(worst[key], display) for key in ("standing", "verifying")]
    text = (
        f"{shows.port_of(judgement)}: {facts['counts']}. Furthest apart is {worst['name']}: "
        f"{_printed(worst['standing'], display)} as left, {_printed(worst['verifying'], display)} on verification."
    )
    lines = (
        WorkingLine("As-left final", "a, U", told[0]),
        WorkingLine("Verification", "b, U", told[1]),
        WorkingLine(
            "Shared error", "r, of one instrument used for both", printing.minus(f"{worst['correlation']:.4f}")
        ),
        WorkingLine(
            "Normalised difference",
            "E = |a - b| / √(U_a² + U_b² - 2 r U_a U_b)",
            f"{judgement['value']:.4f}",
            judgement["clause"],
        ),
        *shows.decision(judgement),
    )
    return (
        shows.lead(judgement, text),
        _table(facts, display),
        Working(lines, f"{TITLE}, {worst['name']}"),
        *shows.next_steps(judgement),
    )


def _table(facts: Mapping[str, Any], display: str) -> Table:
    unit = printing.airflow_unit(display)
    columns = (
        Column("Outlet"),
        Column("Room"),
        Column("As left", unit, "right"),
        Column("On verification", unit, "right"),
        Column("E", "", "right"),
        Column("Outcome"),
    )
    rows = [
        (
            row["name"],
            row["room"],
            *(printing.airflow(row[key]["airflow_m3_s"], display) for key in ("standing", "verifying")),
            f"{row['normalised_difference']:.2f}",
            shows.VERDICTS[row["verdict"]].lower(),
        )
        for row in facts["outlets"]
    ]
    rows += [(name, "", "", "", "", f"not compared: {why}") for name, why in facts["alone"]]
    return Table(columns, tuple(rows), "Outlets read again, furthest apart first")


def _printed(one: Mapping[str, Any], display: str) -> str:
    return shows.airflow_with_uncertainty(one["airflow_m3_s"], one["expanded_uncertainty_m3_s"], display)


def _exact(one: Mapping[str, Any], display: str) -> str:
    flow, wide = (printing.airflow_exact(one[name], display) for name in ("airflow_m3_s", "expanded_uncertainty_m3_s"))
    return f"{flow} ± {wide} {printing.airflow_unit(display)}"
