"""Room offset: what a room is given less what is taken from it has the sign and the size that the design asks for.

A criterion of its own: every outlet may conform and the offset still reverse. What one hood read on both sides cancels
in the difference as far as it is one error. As with the pressure of a space, the sign has to be certain: an offset that
its uncertainty cannot tell from none proves no sign, whatever the decision rule.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from commissioning.blocks import Block, Column, Table, Working, WorkingLine
from commissioning.dossier import outlet_design, parts, printing, room_parts, shows
from commissioning.dossier.outlet_design import EXTRACT, RoomDesign
from commissioning.dossier.outlet_readings import OutletReading
from commissioning.dossier.outlets_standing import Standing, standing_outlets
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.room_parts import RoomPart
from commissioning.dossier.room_totals import judgement_of, of_room, sum_of, why_incomplete
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits, Verdict

CODE = "room_offset"
TITLE = "Room offset"
VERSION = 4
PRIORITY = "code"
PORTS = ("supply", *EXTRACT)
NEXT = (
    "Doors and windows of the room closed, neighbours in their usual operation?",
    "Outlets of the side that is further from its design first; then the other side.",
    "Transfer grilles, and air that other units give to the room or take from it.",
)


def judge(view: View) -> Iterator[Judgement]:
    rooms = {
        name: room for name, room in outlet_design.rooms_of(view.place).items() if room.relation or room.offset_m3_s
    }
    if not rooms:
        return
    standing = standing_outlets(view)
    if isinstance(standing, Absence):
        yield Judgement(CODE, "", VERSION, absence=standing)
        return
    rows = parts.worst_first([_row(view, standing, room) for _, room in sorted(rooms.items())])
    yield judgement_of(
        view,
        standing,
        rows,
        requirement=CODE,
        rule_version=VERSION,
        noun="room offsets",
        not_given=f"Room {rows[0]['name']}: {rows[0].get('why', '')}. For information only.",
        sources=rooms[rows[0]["name"]].sources,
        look_next=NEXT,
    )


def _row(view: View, standing: Standing, room: RoomDesign) -> dict[str, Any]:
    own, others = of_room(standing, room.name, PORTS), room_parts.of_others(view, room.name, PORTS)
    held = [*own, *(one.reading for one in others if one.airflow_m3_s is not None)]
    found = sum_of(held, view.conventions.coverage_probability, leaving=EXTRACT)
    sides = [[one for one in held if (one.port in EXTRACT) == taken] for taken in (False, True)]
    supply, extract = (sum(one.airflow_m3_s or 0.0 for one in side) for side in sides)
    told = {
        "name": room.name,
        "relation": room.relation or "",
        "required_m3_s": room.offset_m3_s,
        "supply_m3_s": supply,
        "extract_m3_s": extract,
        "offset_m3_s": found.airflow_m3_s,
        "relative": found.airflow_m3_s / supply if supply > 0.0 else None,
        "expanded_uncertainty_m3_s": found.budget.expanded_uncertainty,
        "sign_is_certain": abs(found.airflow_m3_s) > found.budget.expanded_uncertainty,
        "outlets": sorted(one.name for one in own),
        "others": [one.told() for one in others],
    }
    limits = limits_of(room)
    if limits is None:
        why = "the design does not say in which sense, or by how much, the offset is to be"
        return told | parts.not_assessed("not_given", why)
    hindrance = _why_not(standing, room, own, others) or _why_no_sum(sides, found.bases)
    if hindrance is not None:
        return told | parts.not_assessed(hindrance.code, hindrance.text)
    row = told | parts.assessed(
        view.conventions,
        value=found.airflow_m3_s,
        standard_uncertainty=found.budget.standard_uncertainty,
        expanded_uncertainty=found.budget.expanded_uncertainty,
        limits=limits,
        clause=_clause(room),
        unit="m3/s",
    )
    return row if room.relation == "neutral" else _sign_first(row)


def _sign_first(row: dict[str, Any]) -> dict[str, Any]:
    offset, wide = row["offset_m3_s"], row["expanded_uncertainty_m3_s"]
    verdict = parts.sign_first(Verdict(row["verdict"]), margin=row["margin"], value=offset, expanded_uncertainty=wide)
    return row | {"verdict": verdict.value}


def limits_of(room: RoomDesign) -> Limits | None:
    """Between which ends the offset may lie; an offset that is not given is none, but of the right sign."""
    if room.relation == "positive":
        return Limits(low=room.offset_m3_s or 0.0)
    if room.relation == "negative":
        return Limits(high=-(room.offset_m3_s or 0.0))
    if room.relation == "neutral" and room.offset_m3_s is not None:
        return Limits(-room.offset_m3_s, room.offset_m3_s)
    return None


def _why_not(
    standing: Standing, room: RoomDesign, own: Sequence[OutletReading], others: Sequence[RoomPart]
) -> Absence | None:
    incomplete = why_incomplete(standing, room.name, PORTS, own) or room_parts.missing(others)
    return Absence("not_due", incomplete) if incomplete else None


def _why_no_sum(sides: Sequence[Sequence[OutletReading]], bases: frozenset[str]) -> Absence | None:
    if not any(sides):
        return Absence("not_due", "none of its outlets is read yet")
    if not all(sides):
        missing = "takes air from it" if sides[0] else "supplies it"
        return Absence(
            "not_judged", f"no outlet of a unit of the building {missing}, as far as their designs and records tell"
        )
    if len(bases) > 1:
        return Absence("not_judged", "its outlets are designed on different air bases")
    return None


def _clause(room: RoomDesign) -> str:
    return room.sources.get("offset") or room.sources.get("relation") or ""


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    facts = judgement["facts"]
    absent = shows.absent(judgement, TITLE)
    table = (_table(facts["rooms"], display),) if facts else ()
    if absent:
        return (*absent, *table)
    worst = facts["rooms"][0]
    printed = _signed(worst["offset_m3_s"], worst["expanded_uncertainty_m3_s"], display)
    sure = "" if worst["sign_is_certain"] else " Its sign lies within the uncertainty."
    return (
        shows.lead(
            judgement,
            f"{facts['counts']}. Room {worst['name']} is to be {worst['relation']} and has {printed} more supplied "
            f"than taken; allowed {_limits(worst, display)}.{sure}",
        ),
        *table,
        Working(_lines(judgement, worst, display), f"{TITLE}, room {worst['name']}"),
        *shows.next_steps(judgement),
    )


def _lines(judgement: Mapping[str, Any], worst: Mapping[str, Any], display: str) -> tuple[WorkingLine, ...]:
    unit = printing.airflow_unit(display)
    supply, extract, offset, wide, margin = (
        f"{printing.airflow_exact(value, display)} {unit}"
        for value in (
            worst["supply_m3_s"],
            worst["extract_m3_s"],
            worst["offset_m3_s"],
            worst["expanded_uncertainty_m3_s"],
            judgement["margin"],
        )
    )
    off = worst["relative"]
    relative = "" if off is None else f"{printing.signed_percent(off, 4)} of what is supplied"
    return (
        WorkingLine("Supplied", f"Σ q of the supply outlets{_and_others(worst)}", supply),
        WorkingLine("Taken", "Σ q of the return and exhaust outlets", extract),
        WorkingLine("Offset", "d = supplied - taken", offset, relative),
        WorkingLine(
            "Expanded uncertainty",
            "U of d; what both sides share of their errors cancels",
            wide,
            "JCGM 100:2008, 5.2.2",
        ),
        WorkingLine("Limits", "", _limits(worst, display), judgement["clause"]),
        WorkingLine("Margin", "to the nearest limit", margin),
        *_sign(worst),
        *shows.decision(judgement),
    )


def _and_others(worst: Mapping[str, Any]) -> str:
    tags = dict.fromkeys(one["tag"] for one in worst.get("others", ()))
    return f", those of {', '.join(tags)} with them" if tags else ""


def _sign(worst: Mapping[str, Any]) -> tuple[WorkingLine, ...]:
    if worst["relation"] == "neutral":
        return ()
    said = "certain" if worst["sign_is_certain"] else "not certain"
    return (WorkingLine("Sign", "certain where |d| > U; else inconclusive under any rule", said, "JCGM 106:2012, 7"),)


def _signed(flow_m3_s: float, expanded_m3_s: float, display: str) -> str:
    return shows.airflow_with_uncertainty(flow_m3_s, expanded_m3_s, display)


def _as_given(flow_m3_s: float, display: str) -> str:
    """A limit is printed as the contract has it, not to the step of what is measured: 12 cfm are not 10."""
    return printing.airflow_exact(flow_m3_s, display).removesuffix("0").removesuffix(".0")


def _limits(row: Mapping[str, Any], display: str) -> str:
    unit = printing.airflow_unit(display)
    low, high = (None if row[end] is None else _as_given(row[end], display) for end in ("low", "high"))
    if low is None:
        return f"at most {high} {unit}"
    return f"{low} {unit} or more" if high is None else f"{low} to {high} {unit}"


def _table(rows: Sequence[Mapping[str, Any]], display: str) -> Table:
    unit = printing.airflow_unit(display)
    columns = (
        Column("Room"),
        Column("Verdict"),
        Column("To be"),
        Column("Supplied", unit, "right"),
        Column("Taken", unit, "right"),
        Column("Offset", unit, "right"),
        Column("\u00b1", unit, "right"),
        Column("Allowed"),
    )
    return Table(columns, tuple(_printed(row, display) for row in rows), "Rooms, worst first")


def _printed(row: Mapping[str, Any], display: str) -> tuple[str, ...]:
    told = (
        row["relation"],
        *(printing.airflow(row[name], display) for name in ("supply_m3_s", "extract_m3_s", "offset_m3_s")),
        printing.airflow_uncertainty(row["expanded_uncertainty_m3_s"], display),
    )
    if row["verdict"] is None:
        return (row["name"], f"not judged: {row['why']}", *told, "")
    return (row["name"], shows.VERDICTS[row["verdict"]].lower(), *told, _limits(row, display))
