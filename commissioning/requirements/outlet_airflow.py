"""Outlet airflow: each outlet of a port delivers its design within its tolerance. One verdict per port, the worst's."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from commissioning.blocks import Block, Column, Table, Working, WorkingLine
from commissioning.dossier import balancing_advice, parts, printing, shows
from commissioning.dossier.outlet_readings import OutletReading
from commissioning.dossier.outlets_standing import BLOCKING, Standing, ports_of, standing_outlets
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View

CODE = "outlet_airflow"
TITLE = "Outlet airflow"
VERSION = 3
PRIORITY = "performance"
RECORDS = "Records: unit, hood factor and type of device of the worst outlet, and its number on the drawing."
_SHOWN = 8  # names in a sentence


def judge(view: View) -> Iterator[Judgement]:
    ports = ports_of(view)
    standing = standing_outlets(view) if ports else None
    for port in ports:
        if isinstance(standing, Absence):
            yield Judgement(CODE, port, VERSION, absence=standing)
        elif standing is not None:
            yield _judge(view, port, standing)


def _judge(view: View, port: str, standing: Standing) -> Judgement:
    held = standing.at(port)
    rows = parts.worst_first([_row(view, one, standing) for one in held])
    unread = standing.unread(port)
    facts = {
        "outlets": rows,
        "unread": unread,
        "counts": parts.counts(rows, "outlets"),
    }
    absence = _absence(rows, unread)
    told: dict[str, Any] = {"facts": facts, "rests_on": standing.rests_on(held)}
    if absence is None:
        fails = rows[0]["verdict"] != "conforms"
        advice = _advice(rows, [one for one in held if one.name not in standing.why_not]) if fails else []
        told["facts"] = facts | {"advice": advice}
        told["look_next"] = _next(rows[0], standing, advice)
        told["sources"] = dict(standing.design[rows[0]["name"]].sources)
    unsure = any(row.get("code") == "not_counted" for row in rows)  # closed, blocked, out of reach
    return parts.judgement(
        view,
        rows,
        requirement=CODE,
        port=port,
        rule_version=VERSION,
        absence=absence,
        provisional=unsure or view.is_provisional(*standing.finals(held)),
        **told,
    )


def _row(view: View, one: OutletReading, standing: Standing) -> dict[str, Any]:
    design = standing.design.get(one.name)
    told = {
        "name": one.name,
        "branch": one.branch,
        "room": one.room,
        "device": one.device,
        "basis": one.basis,
        "design_m3_s": design.airflow_m3_s if design else None,
        "measured_m3_s": one.airflow_m3_s,
        "expanded_uncertainty_m3_s": one.expanded_uncertainty_m3_s,
    }
    why = standing.why_not.get(one.name)
    if why is not None or design is None or not design.airflow_m3_s or one.airflow_m3_s is None:
        why = why or Absence("not_judged", "it was not read")
        return told | parts.not_assessed(why.code, why.text)
    return told | parts.against_design(
        view.conventions,
        measured=one.airflow_m3_s,
        standard_uncertainty=one.standard_uncertainty_m3_s,
        expanded_uncertainty=one.expanded_uncertainty_m3_s,
        design=design.airflow_m3_s,
        tolerance=design.tolerance or view.conventions.default_tolerance,
    )


def _absence(rows: Sequence[Mapping[str, Any]], unread: Sequence[str]) -> Absence | None:
    """Why the port has no verdict. What fails, fails whatever else is missing."""
    worst = rows[0]["verdict"] if rows else None
    if worst == "does_not_conform":
        return None
    blocked = parts.blocked(rows, BLOCKING)
    if blocked:
        names = _some([row["name"] for row in blocked])
        text = f"{len(blocked)} of {len(rows)} outlets cannot be judged, {names}: {blocked[0]['why']}"
        return Absence(blocked[0]["code"], text)
    if unread:
        whole = len(rows) + len(unread)
        return Absence("not_due", f"{len(unread)} of {whole} outlets are not read yet: {_some(unread)}.")
    if worst is None:
        given = any(row.get("code") != "not_given" for row in rows)
        if given:
            return Absence("not_judged", "None of its outlets could be read.")
        return Absence("not_given", "No design revision gives an airflow for its outlets. For information only.")
    return None


def _advice(rows: Sequence[Mapping[str, Any]], held: Sequence[OutletReading]) -> list[dict[str, Any]]:
    """For the branches with an outlet that does not conform, and for the branches among themselves."""
    concerned = {row["branch"] for row in rows if row["verdict"] not in (None, "conforms")}
    return [one for one in balancing_advice.advise(held) if one["of"] == "branches" or one["branch"] in concerned]


def _some(names: Sequence[str]) -> str:
    more = len(names) - _SHOWN
    return ", ".join(names[:_SHOWN]) + (f" and {more} more" if more > 0 else "")


def _next(worst: Mapping[str, Any], standing: Standing, advice: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    steps = [RECORDS, *balancing_advice.steps(advice)]
    if worst["verdict"] == "inconclusive":
        steps.insert(0, _settles(standing.readings[worst["name"]]))
    return tuple(steps)


def _settles(one: OutletReading) -> str:
    part = max(one.components, key=lambda component: abs(component.contribution))
    if part.name in ("repeatability", "single reading"):
        return f"What would settle it: read {one.name} four times or more."
    return (
        f"What would settle it at {one.name}: another method, or a factor found by traverse; most of its uncertainty "
        f"is {part.name}, which more readings do not lessen."
    )


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    facts = judgement["facts"]
    absent = shows.absent(judgement, TITLE)
    table = (_table(facts["outlets"], display),) if facts.get("outlets") else ()
    if absent:
        return (*absent, *table)
    worst, unit = facts["outlets"][0], printing.airflow_unit(display)
    printed = shows.airflow_with_uncertainty(worst["measured_m3_s"], worst["expanded_uncertainty_m3_s"], display)
    off = printing.percent_beside_limits(judgement["value"], (judgement["low"], judgement["high"]))
    design = f"{printing.airflow_designed(worst['design_m3_s'], display)} {unit}"
    unread = f" Not read yet: {_some(facts['unread'])}." if facts["unread"] else ""
    return (
        shows.lead(
            judgement,
            f"{shows.port_of(judgement)}: {facts['counts']}. Furthest off is {worst['name']}: {printed} against "
            f"{design} designed, {off}.{unread}",
        ),
        *table,
        Working(_lines(judgement, worst, display), f"{TITLE}, {worst['name']}"),
        *shows.next_steps(judgement),
        *balancing_advice.show(facts["advice"], display),
    )


def _lines(judgement: Mapping[str, Any], worst: Mapping[str, Any], display: str) -> tuple[WorkingLine, ...]:
    unit = printing.airflow_unit(display)
    measured, design = (
        f"{printing.airflow_exact(worst[name], display)} {unit}" for name in ("measured_m3_s", "design_m3_s")
    )
    return (
        WorkingLine("Measured", "q, on the design's basis", measured, f"{worst['basis']} air"),
        WorkingLine("Design", "q_d", design, shows.source_of(judgement, "airflow")),
        WorkingLine("Deviation", "d = (q - q_d) / q_d", printing.signed_percent(worst["deviation"], 4)),
        WorkingLine("Limits", "", shows.limits_in_words(judgement["low"], judgement["high"]), judgement["clause"]),
        WorkingLine("Expanded uncertainty", "U / q_d", f"\u00b1{100 * judgement['expanded_uncertainty']:.4f} %"),
        WorkingLine("Margin", "to the nearest limit", printing.signed_percent(judgement["margin"], 4)),
        *shows.decision(judgement),
    )


def _table(rows: Sequence[Mapping[str, Any]], display: str) -> Table:
    unit = printing.airflow_unit(display)
    columns = (
        Column("Outlet"),
        Column("Verdict"),
        Column("Design", unit, "right"),
        Column("Measured", unit, "right"),
        Column("\u00b1", unit, "right"),
        Column("Deviation", "", "right"),
        Column("Allowed"),
        Column("Room"),
        Column("Branch"),
    )
    return Table(columns, tuple(_printed(row, display) for row in rows), "Outlets, worst first")


def _printed(row: Mapping[str, Any], display: str) -> tuple[str, ...]:
    def flow(name: str) -> str:
        return "" if row[name] is None else printing.airflow(row[name], display)

    design = "" if row["design_m3_s"] is None else printing.airflow_designed(row["design_m3_s"], display)
    found = (design, flow("measured_m3_s"))
    where = (row["room"], row["branch"])
    wide = ""
    if row["measured_m3_s"] is not None:
        wide = printing.airflow_uncertainty(row["expanded_uncertainty_m3_s"], display)
    if row["verdict"] is None:
        return (row["name"], f"not judged: {row['why']}", *found, wide, "", "", *where)
    limits = (row["low"], row["high"])
    return (
        row["name"],
        shows.VERDICTS[row["verdict"]].lower(),
        *found,
        wide,
        printing.percent_beside_limits(row["value"], limits),
        shows.limits_in_words(*limits),
        *where,
    )
