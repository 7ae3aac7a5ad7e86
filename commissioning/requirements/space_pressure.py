"""Space pressure: each space stands to its neighbour or to outdoors as designed, in sign and in size.

The sign has to be certain: a pressure that its uncertainty cannot tell from zero proves none, whatever the decision
rule. As the pressure of a space is seldom known better than to 1 Pa, *inconclusive* is common, and what would settle it
is said.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table, Working, WorkingLine
from commissioning.dossier import parts, printing, shows
from commissioning.dossier import pressure_parts as pressures
from commissioning.dossier.figures import Figure, Figures
from commissioning.dossier.quantities import si
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits, Verdict

CODE = "space_pressure"
TITLE = "Space pressure"
VERSION = 2
PRIORITY = "code"
NAME = "space_pressure"
_STEPS = (
    "Operating state: doors closed, every fan of the space and of its neighbours on as designed.",
    "Readings: a minute or longer each, zero set, the tap outdoors shielded, hardly any wind.",
    "The offset: supply of the space less what leaves it, by all its units; flows may conform and it reverse.",
    "Leakage: door undercuts, ceilings and shafts; a leaky space needs more offset for the same pressure.",
)


def judge(view: View) -> Iterator[Judgement]:
    rooms = {_key(name): (name, room) for name, room in view.place.parts("rooms").items()}
    due = any(room.get("pressure") for _, room in rooms.values())
    if not due and not pressures.holds(view, _wanted):
        return
    record = pressures.newest(view, _wanted)
    sources = {name: source for name, room in rooms.values() if (source := _source(room))}
    if isinstance(record, Absence):
        yield Judgement(CODE, "", VERSION, absence=record, sources=sources)
        return
    figures = record.named(NAME)
    found = [_part(view, record, figure, rooms.get(_key(figure.at), (figure.at, {}))[1]) for figure in figures]
    seen = {_key(figure.at) for figure in figures}
    missing = [name for key, (name, room) in rooms.items() if room.get("pressure") and key not in seen]
    yield parts.judgement(
        view,
        found,
        requirement=CODE,
        port="",
        rule_version=VERSION,
        absence=pressures.open_parts(found, missing, _for_information(found, view.conventions.display)),
        provisional=view.is_provisional(record),
        rests_on=(record.envelope,),
        sources=sources,
        facts={"parts": found},
        look_next=(*_settles(found), *_STEPS),
    )


def _wanted(figure: Figure) -> bool:
    return figure.name == NAME


def _key(name: str) -> str:
    return " ".join(name.lower().split())


def _source(room: Mapping[str, Any]) -> str:
    sources = room.get("sources") or {}
    return str(sources.get("pressure") or sources.get("relation") or "")


def _part(view: View, record: Figures, figure: Figure, room: Mapping[str, Any]) -> dict[str, Any]:
    given = room.get("pressure")
    least = abs(si(given, inch_of_water_pa=view.conventions.inch_of_water_pa)) if given else None
    relation = room.get("relation")
    told = {
        "name": figure.at,
        "value": figure.value,
        "expanded_uncertainty": figure.expanded_uncertainty or 0.0,
        "relation": relation,
        "least_pa": least,
        "against": record.facts["spaces"][figure.at],
        "readings": record.facts["readings"][figure.at],
        "dominant": max(figure.budget, key=lambda one: one.share).name if figure.budget else "",
    }
    limits = _limits(relation, least)
    if limits is None:
        return told | parts.not_assessed("not_given", "; ".join(figure.doubts))
    if figure.doubts:
        return told | parts.not_assessed("not_judged", "; ".join(figure.doubts))
    row = told | parts.assessed(
        view.conventions,
        value=figure.value,
        standard_uncertainty=figure.standard_uncertainty or 0.0,
        expanded_uncertainty=figure.expanded_uncertainty or 0.0,
        limits=limits,
        clause=_source(room),
        unit="Pa",
    )
    return row if relation == "neutral" else _sign_first(row)


def _limits(relation: str | None, least_pa: float | None) -> Limits | None:
    if relation == "positive":
        return Limits(low=least_pa or 0.0)
    if relation == "negative":
        return Limits(high=-(least_pa or 0.0))
    if relation == "neutral" and least_pa is not None:
        return Limits(-least_pa, least_pa)
    return None


def _sign_first(row: dict[str, Any]) -> dict[str, Any]:
    """Inconclusive where the sign is not certain, unless the true pressure could not be enough anyway."""
    value, wide = row["value"], row["expanded_uncertainty"]
    verdict = parts.sign_first(Verdict(row["verdict"]), margin=row["margin"], value=value, expanded_uncertainty=wide)
    if verdict == row["verdict"]:
        return row
    return row | {
        "verdict": verdict.value,
        "why": f"{abs(value):.2g} Pa cannot be told from zero with ±{wide:.2g} Pa",
    }


def _settles(found: list[dict[str, Any]]) -> tuple[str, ...]:
    """What would settle it: by the largest part of the uncertainty, or by what was not as it has to be."""
    told = []
    for part in found:
        if part["verdict"] == "inconclusive":
            told.append(f"What would settle {part['name']}: {_by_dominant(part['dominant'])}.")
        elif part.get("code") == "not_judged":
            told.append(f"Read {part['name']} again: {part['why']}.")
    return tuple(told)


def _by_dominant(name: str) -> str:
    if name.startswith("wind"):
        return "a still day, or an average over many minutes at a well shielded tap"
    if name.startswith(("repeatability", "single reading")):
        return "a longer average and more of them, until they hardly scatter"
    if name.startswith(("scale", "resolution", "zero")) or ", averages" in name:
        return "a better instrument, with a range of some 50 Pa and its zero set at the door"
    return "more offset between supply and exhaust; no usual instrument tells so small a pressure from zero"


def _for_information(found: list[dict[str, Any]], display: str) -> str:
    told = "; ".join(
        f"{one['name']} {pressures.printed(one['value'], one['expanded_uncertainty'], display)} "
        f"against {one['against']}"
        for one in found
    )
    return f"No design revision gives a relation or a pressure for these spaces. For information: {told}."


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    found = judgement["facts"].get("parts", [])
    absent = shows.absent(judgement, TITLE)
    if absent and not found:
        return absent
    opening = absent or (shows.lead(judgement, _sentence(judgement, display)),)
    columns = (
        Column("Space"),
        Column("Against"),
        Column("Required"),
        Column("Measured", pressures.unit(display), "right"),
        Column("±", "", "right"),
        Column("Outcome"),
    )
    blocks: list[Block] = [*opening, Table(columns, tuple(_row(one, display) for one in found), "Each space")]
    if not absent:
        blocks.append(Working(tuple(_lines(judgement, found)), TITLE))
    aside = "Air moves from the higher to the lower pressure. Positive is above what the space is read against."
    return (*blocks, Sentence(aside, "aside"), *shows.next_steps(judgement))


def _sentence(judgement: Mapping[str, Any], display: str) -> str:
    worst = parts.worst_of(judgement, judgement["facts"]["parts"])
    value = pressures.printed(worst["value"], worst["expanded_uncertainty"], display)
    why = f" {worst['why']}." if worst["why"] else ""
    return f"{worst['name']} {value} against {worst['against']}; required {_required(worst, display)}.{why}"


def _required(one: Mapping[str, Any], display: str) -> str:
    if one["relation"] is None:
        return "nothing given"
    if one["least_pa"] is None:
        return str(one["relation"])
    word = "at most" if one["relation"] == "neutral" else "at least"
    return f"{one['relation']}, {word} {pressures.printed(one['least_pa'], None, display)}"


def _row(one: Mapping[str, Any], display: str) -> tuple[str, ...]:
    outcome = str(one["verdict"]).replace("_", " ") if one["verdict"] else one["why"] or "for information"
    return (
        one["name"],
        one["against"],
        _required(one, display),
        pressures.number(one["value"], display),
        pressures.spread(one["expanded_uncertainty"], display),
        outcome,
    )


def _lines(judgement: Mapping[str, Any], found: list[dict[str, Any]]) -> Iterator[WorkingLine]:
    for one in found:
        if one["verdict"] is None:
            continue
        ends = " to ".join(printing.minus(f"{end:.4g} Pa") for end in (one["low"], one["high"]) if end is not None)
        read = printing.minus(f"{one['value']:.6g} ± {one['expanded_uncertainty']:.4g} Pa")
        value = f"{read}, {str(one['verdict']).replace('_', ' ')}"
        yield WorkingLine(one["name"], f"limit {ends}", value, one["clause"])
    yield WorkingLine("Sign", "certain where |p| > U; else inconclusive under any rule", "", "JCGM 106:2012, 7")
    yield from shows.decision(judgement)
