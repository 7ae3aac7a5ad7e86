"""Room airflow: what a room is given, and what is taken from it, within the tolerance of its total.

Outlets may all conform and their room not, or the other way round: totals and parts are criteria of their own. A room
that other units of the building serve too is judged by the sum of all; what is kept tells this unit's own parts, for
them.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from commissioning.blocks import Block, Column, Table, Working, WorkingLine
from commissioning.dossier import outlet_design, parts, printing, room_parts, shows
from commissioning.dossier.outlet_design import RoomDesign
from commissioning.dossier.outlet_readings import OutletReading
from commissioning.dossier.outlets_standing import Standing, standing_outlets
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.room_parts import RoomPart
from commissioning.dossier.room_totals import SIDES, judgement_of, of_room, rooms_read, sum_of, why_incomplete
from commissioning.dossier.view import View

CODE = "room_airflow"
TITLE = "Room airflow"
VERSION = 3
PRIORITY = "performance"
_NO_CRITERION = "The contract makes it no criterion."
NEXT = (
    "Outlets of the room first: a total is off where its outlets lean the same way.",
    "Is an outlet of the room missing from the record, or does another room's stand in it?",
    "Where other units serve the room too: whose part is off its design?",
)


def judge(view: View) -> Iterator[Judgement]:
    rooms = outlet_design.rooms_of(view.place)
    limited = any(room.tolerance is not None for room in rooms.values())
    standing = standing_outlets(view)
    own = room_parts.own(view, standing)
    if isinstance(standing, Absence):
        if limited or (own and view.place.is_counted):
            why = standing if limited else Absence("not_given", f"{_NO_CRITERION} {standing.text}")
            yield Judgement(CODE, "", VERSION, absence=why, facts={"parts": own})
        return
    names = sorted({*rooms_read(standing), *(name for name, room in rooms.items() if room.tolerance is not None)})
    rows = [row for name in names for row in _rows(view, standing, name, rooms.get(name))]
    if not rows:
        return
    rows = parts.worst_first(rows)
    worst = rooms.get(rows[0]["room"])
    found = judgement_of(
        view,
        standing,
        rows,
        requirement=CODE,
        rule_version=VERSION,
        noun="room totals",
        not_given=f"{_NO_CRITERION} For information: the totals of the rooms that were read.",
        sources=worst.sources if worst else {},
        look_next=NEXT,
    )
    yield replace(found, facts={**found.facts, "parts": own})


def _rows(view: View, standing: Standing, name: str, room: RoomDesign | None) -> Iterator[dict[str, Any]]:
    for side, ports in SIDES.items():
        held = of_room(standing, name, ports)
        incomplete = why_incomplete(standing, name, ports, held)
        if held or incomplete:
            others = room_parts.of_others(view, name, ports)
            yield _row(view, f"{name}, {side}", held, room, incomplete or room_parts.missing(others), others)


def _row(
    view: View,
    label: str,
    held: Sequence[OutletReading],
    room: RoomDesign | None,
    incomplete: str,
    others: Sequence[RoomPart],
) -> dict[str, Any]:
    known = [one.reading for one in others if one.airflow_m3_s is not None]
    found = sum_of([*held, *known], view.conventions.coverage_probability)
    told = {
        "name": label,
        "room": label.rsplit(", ", 1)[0],
        "outlets": sorted(one.name for one in held),
        "others": [one.told() for one in others],
        "design_m3_s": found.design_m3_s,
        "measured_m3_s": found.airflow_m3_s,
        "expanded_uncertainty_m3_s": found.budget.expanded_uncertainty,
    }
    if incomplete:
        return told | parts.not_assessed("not_due", incomplete)
    if len(found.bases) > 1:
        return told | parts.not_assessed("not_judged", "its outlets are designed on different air bases")
    if not found.design_m3_s:
        return told | parts.not_assessed("not_given", "an outlet has no design airflow")
    if room is None or room.tolerance is None:
        return told | parts.not_assessed("not_given", "the contract gives no tolerance for its total")
    return told | parts.against_design(
        view.conventions,
        measured=found.airflow_m3_s,
        standard_uncertainty=found.budget.standard_uncertainty,
        expanded_uncertainty=found.budget.expanded_uncertainty,
        design=found.design_m3_s,
        tolerance=room.tolerance,
    )


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    facts = judgement["facts"]
    absent = shows.absent(judgement, TITLE)
    table = (_table(facts["rooms"], display),) if facts.get("rooms") else ()
    if absent:
        return (*absent, *table)
    worst, unit = facts["rooms"][0], printing.airflow_unit(display)
    printed = shows.airflow_with_uncertainty(worst["measured_m3_s"], worst["expanded_uncertainty_m3_s"], display)
    off = printing.percent_beside_limits(judgement["value"], (judgement["low"], judgement["high"]))
    design = f"{printing.airflow_designed(worst['design_m3_s'], display)} {unit}"
    measured, designed = (
        f"{printing.airflow_exact(worst[name], display)} {unit}" for name in ("measured_m3_s", "design_m3_s")
    )
    lines = (
        WorkingLine("Measured", f"Σ q of {', '.join(worst['outlets'])}{_and_others(worst)}", measured),
        *_lines_of_others(worst, display),
        WorkingLine("Design", "Σ q_d of the same", designed),
        WorkingLine("Deviation", "d = (q - q_d) / q_d", printing.signed_percent(worst["deviation"], 4)),
        WorkingLine("Limits", "", shows.limits_in_words(judgement["low"], judgement["high"]), judgement["clause"]),
        WorkingLine(
            "Expanded uncertainty",
            "U / q_d; what outlets share of their errors is added before it is squared",
            f"\u00b1{100 * judgement['expanded_uncertainty']:.4f} %",
            "JCGM 100:2008, 5.2.2",
        ),
        WorkingLine("Margin", "to the nearest limit", printing.signed_percent(judgement["margin"], 4)),
        *shows.decision(judgement),
    )
    return (
        shows.lead(
            judgement,
            f"{facts['counts']}. Furthest off is room {worst['name']}: {printed} against {design} designed, {off}.",
        ),
        *table,
        Working(lines, f"{TITLE}, {worst['name']}"),
        *shows.next_steps(judgement),
    )


def _and_others(row: Mapping[str, Any]) -> str:
    return "".join(f", and of {one['tag']}" for one in row.get("others", ()))


def _lines_of_others(row: Mapping[str, Any], display: str) -> Iterator[WorkingLine]:
    for one in row.get("others", ()):
        flow = f"{printing.airflow_exact(one['airflow_m3_s'], display)} {printing.airflow_unit(display)}"
        yield WorkingLine(f"Of it {one['tag']}", f"Σ q of {', '.join(one['outlets'])}", flow, "as it stands there")


def _table(rows: Sequence[Mapping[str, Any]], display: str) -> Table:
    unit = printing.airflow_unit(display)
    columns = (
        Column("Room"),
        Column("Verdict"),
        Column("Outlets", "", "right"),
        Column("Design", unit, "right"),
        Column("Measured", unit, "right"),
        Column("\u00b1", unit, "right"),
        Column("Deviation", "", "right"),
        Column("Allowed"),
    )
    return Table(columns, tuple(_printed(row, display) for row in rows), "Rooms, worst first")


def _printed(row: Mapping[str, Any], display: str) -> tuple[str, ...]:
    design = "not given" if row["design_m3_s"] is None else printing.airflow_designed(row["design_m3_s"], display)
    more = sum(len(one["outlets"]) for one in row.get("others", ()))
    told = (
        f"{len(row['outlets'])} and {more} of others" if more else str(len(row["outlets"])),
        design,
        printing.airflow(row["measured_m3_s"], display),
        printing.airflow_uncertainty(row["expanded_uncertainty_m3_s"], display),
    )
    if row["verdict"] is None:
        return (row["name"], f"not judged: {row['why']}", *told, "", "")
    limits = (row["low"], row["high"])
    off = printing.percent_beside_limits(row["value"], limits)
    return (row["name"], shows.VERDICTS[row["verdict"]].lower(), *told, off, shows.limits_in_words(*limits))
