"""A unit's sheet: where it stands, what was designed and measured, what follows, and the working behind it."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from commissioning.binders.render import ink, words
from commissioning.binders.render.blocks import COMPACT, Surroundings, draw
from commissioning.binders.render.content import Content, title_of, where_of
from commissioning.binders.render.marks import band_cell, outcome
from commissioning.binders.render.sheet import Sheet
from commissioning.binders.render.start import start_of
from commissioning.binders.render.tables import Column, Set, table
from commissioning.blocks import Block, Photo, Table, Working
from commissioning.dossier import printing
from commissioning.dossier.quantities import si
from commissioning.dossier.shows import CALIBRATIONS, GRADES, METHODS
from commissioning.judging import KINDS, RULES, headline
from commissioning.requirements import design_airflow

_PORTS = ("supply", "return", "outdoor", "exhaust")


def unit_sheet(sheet: Sheet, content: Content, unit: Mapping[str, Any], around: Surroundings) -> None:
    sheet.tag = unit["tag"]
    building = content.buildings[unit["building"]]["name"]
    sheet.entry(unit["tag"], 1, f"{unit['kind']}, {building}")
    sheet.heading(unit["tag"], ink.CHAPTER)
    where = ", ".join(part for part in (unit["kind"], building, unit["location"]) if part)
    sheet.paragraph(where, ink.Style(9.0, 12.0, ink=ink.GREY))
    sheet.paragraph(unit["standing"]["sentence"], ink.LEAD)
    _identity(sheet, content, unit)
    _against_design(sheet, content, unit)
    _requirements(sheet, content, unit)
    start_of(sheet, content, unit, around)
    _how_measured(sheet, content, unit)
    _issues(sheet, content, unit)
    _photos(sheet, content, unit, around)
    _working(sheet, content, unit, around)


def _identity(sheet: Sheet, content: Content, unit: Mapping[str, Any]) -> None:
    machines = [
        " ".join(filter(None, (one["maker"], one["model"], f"serial {one['serial']}")))
        + f", since {words.day(one['since'])}"
        + (f" until {words.day(one['until'])}" if one["until"] else "")
        for one in unit["machines"]
    ]
    scope = unit["scope_in_words"] + (f": {unit['scope_reason']}" if unit["scope_reason"] else "")
    rows = [
        ("Machine", "; ".join(machines) or "not on record"),
        ("Serves", ", ".join(unit["serves"])),
        ("System", content.given[unit["position"]].get("system") or ""),
        ("Also called", ", ".join(unit["also_called"])),
        ("Signed", _signed(unit.get("signature"))),
        ("Scope", scope if unit["scope"] != "in_scope" else ""),
    ]
    shown = [(Set(name, ink.ASIDE), value) for name, value in rows if value]
    table(sheet, (Column("", 0.14), Column("", 0.86)), shown, ruled=False)


def _signed(signature: Mapping[str, Any] | None) -> str:
    if not signature:
        return ""
    note = f", with the note “{signature['note']}”" if signature["note"] else ""
    by = f"{words.moment(signature['at'])}, by {signature['by']}{note}, over SHA-256 {signature['sha256'][:16]}…"
    return by + ("" if signature["stands"] else f" {signature['void']}")


# --- design against measured -------------------------------------------------------------------------------------
def _against_design(sheet: Sheet, content: Content, unit: Mapping[str, Any]) -> None:
    unit_of_flow = printing.airflow_unit(content.display)
    columns = (
        Column("Air", 0.13),
        Column("Design", 0.1, "right", unit_of_flow),
        Column("Measured", 0.11, "right", unit_of_flow),
        Column("Uncertainty", 0.11, "right", f"± {unit_of_flow}"),
        Column("Off design", 0.1, "right"),
        Column("", 0.26, "centre"),
        Column("Verdict", 0.21),
    )
    position = unit["position"]
    held = [one for one in content.judgements(position) if one["requirement"] == design_airflow.CODE]
    rows = [_flow_row(content, position, one) for one in sorted(held, key=_port_rank)]
    sheet.heading("Design against measured", keep=60.0)
    table(sheet, columns, rows, empty="No design airflow is given for this unit, and none was measured.")


def _port_rank(judgement: Mapping[str, Any]) -> int:
    return _PORTS.index(judgement["port"]) if judgement["port"] in _PORTS else len(_PORTS)


def _flow_row(content: Content, position: str, judgement: Mapping[str, Any]) -> tuple[Any, ...]:
    facts, port = judgement["facts"], judgement["port"]
    code = content.outcome(position, judgement)
    picture = content.band(position, port)
    cell = outcome(code, provisional=judgement["provisional"])
    if judgement["verdict"] is None:
        return (words.port(port), _designed(content, position, port), "–", "–", "–", band_cell(None), cell)
    return (
        words.port(port),
        printing.airflow_designed(facts["design_m3_s"], content.display),
        printing.airflow(facts["measured_m3_s"], content.display),
        printing.airflow_uncertainty(facts["expanded_uncertainty_m3_s"], content.display),
        printing.percent_beside_limits(judgement["value"], (judgement["low"], judgement["high"])),
        band_cell(replace(picture, outcome=code) if picture and judgement["verdict"] else picture),
        cell,
    )


def _designed(content: Content, position: str, port: str) -> str:
    design = content.given[position].get("design") or {}
    given = (design.get("ports", {}).get(port) or {}).get("airflow")
    return printing.airflow_designed(si(given), content.display) if given else "–"


# --- everything that is asked of it ------------------------------------------------------------------------------
_ASKED = (
    Column("Requirement", 0.2),
    Column("Where", 0.13),
    Column("Verdict", 0.22),
    Column("Limits and rule, or the reason", 0.45),
)


def _requirements(sheet: Sheet, content: Content, unit: Mapping[str, Any]) -> None:
    position = unit["position"]
    rows = [
        (
            title_of(one["requirement"]),
            where_of(one),
            outcome(content.outcome(position, one), provisional=one["provisional"]),
            _limits(one),
        )
        for one in content.judgements(position)
    ]
    sheet.heading("What is asked, and what follows", keep=60.0)
    table(sheet, _ASKED, rows, empty="Nothing has been judged of this unit.")


def _limits(judgement: Mapping[str, Any]) -> str:
    if judgement["absence"] is not None:
        return str(judgement["absence"]["text"])
    parts = []
    if judgement["clause"]:
        parts.append(judgement["clause"])
    if judgement["rule"]:
        parts.append(judgement["rule"].replace("_", " ") + (" acceptance" if judgement["rule"] == "simple" else ""))
    return "; ".join(parts)


# --- how it was measured -----------------------------------------------------------------------------------------
_MEASURED = (
    Column("Air", 0.11),
    Column("Method, grade", 0.19),
    Column("Instrument, calibration", 0.3),
    Column("Session", 0.2),
    Column("When, by whom", 0.2),
)


def _how_measured(sheet: Sheet, content: Content, unit: Mapping[str, Any]) -> None:
    rows = [_measured_row(content, one) for one in content.measurements(unit["position"])]
    sheet.heading("How it was measured", keep=60.0)
    table(sheet, _MEASURED, rows, empty="Nothing has been measured yet.")


def _measured_row(content: Content, m: Mapping[str, Any]) -> tuple[str, ...]:
    tools = [content.instruments.get(id) for id in m.get("instruments") or [m["instrument"] or ""]]
    named = ", ".join(f"{tool['name']} {tool['serial']}" for tool in tools if tool) or "none: the value is reported"
    calibration = " ".join(filter(None, (CALIBRATIONS.get(m["calibration"], m["calibration"]), m["certificate"])))
    record = content.evidence.get(m["envelope"])
    who = record["observed_by"] if record else ""
    return (
        _where(m),
        f"{METHODS.get(m['method'], m['method'])}; {GRADES.get(m['grade'], m['grade'])}",
        f"{named}; calibration {calibration}",
        f"{m['session']}, {m['purpose'].replace('_', ' ')}, {m['stage']}",
        f"{words.moment(m['observed_at'])}" + (f", {who}" if who else ""),
    )


def _where(m: Mapping[str, Any]) -> str:
    """The port of an airflow; of another record, what it is a record of."""
    return words.port(m["port"]) if m["port"] else KINDS[m["kind"]].TITLE


def _issues(sheet: Sheet, content: Content, unit: Mapping[str, Any]) -> None:
    held = content.issues_of.get(unit["position"], [])
    if held:
        sheet.heading("Issues", keep=40.0)
        rows = [(f"Issue {one['number']}", one["title"], one["state_in_words"]) for one in held]
        table(sheet, (Column("", 0.14), Column("", 0.62), Column("", 0.24)), rows)


def _photos(sheet: Sheet, content: Content, unit: Mapping[str, Any], around: Surroundings) -> None:
    held = [
        one
        for record in content.evidence_of.get(unit["position"], ())
        for one in content.photos.get(f"evidence {record['id']}", ())
    ]
    if held:
        sheet.heading("Photos", keep=120.0)
        draw(sheet, [Photo(one["sha256"], one["caption"]) for one in held], around)


# --- the working -------------------------------------------------------------------------------------------------
def _working(sheet: Sheet, content: Content, unit: Mapping[str, Any], around: Surroundings) -> None:
    """Every judgement, then every measurement that one rests on; of the others, what they were."""
    judgements = [one for one in content.judgements(unit["position"]) if one["verdict"] is not None]
    measurements = content.measurements(unit["position"])
    by_key = {f"{one['envelope']} {one['port']}": one for one in measurements}
    if judgements or measurements:
        sheet.heading(f"Working of {unit['tag']}", ink.PART, keep=80.0)
    for one in judgements:
        rule = RULES.get(one["requirement"])
        where = f", {where_of(one).lower()}" if one["port"] else ""
        sheet.heading(f"{title_of(one['requirement'])}{where}", keep=90.0)
        shown = rule.show(one, by_key, content.display) if rule else ()
        draw(sheet, _plainer(shown, content, title_of(one["requirement"])), around)
    carrying = {envelope for one in judgements for envelope in one["rests_on"]}
    for one in measurements:
        if one["envelope"] in carrying:
            where = f"{_where(one).lower()}, session {one['session']}"
            sheet.heading(f"Measurement: {where}, {words.moment(one['observed_at'])}", keep=90.0)
            draw(sheet, _plainer(KINDS[one["kind"]].show(one, content.display), content), around)
    _earlier(sheet, content, [one for one in measurements if one["envelope"] not in carrying])


_EARLIER = (Column("Air", 0.2), Column("Measured", 0.3), Column("Session", 0.27), Column("When", 0.23))


def _earlier(sheet: Sheet, content: Content, measurements: Iterable[Mapping[str, Any]]) -> None:
    """What no verdict rests on; its readings are in the attached document like all others."""
    rows = [
        (
            _where(one),
            headline(one, content.display),
            f"{one['session']}, {one['stage']}",
            words.moment(one["observed_at"]),
        )
        for one in measurements
    ]
    if rows:
        sheet.heading("Also measured, and no verdict rests on it", keep=50.0)
        table(sheet, _EARLIER, rows, style=COMPACT, ruled=False, pad=1.0)


def _plainer(blocks: Iterable[Block], content: Content, heading: str = "") -> Iterable[Block]:
    """Instruments by their name where a working names them by id; no empty tables, no title twice."""
    for block in blocks:
        if isinstance(block, Working):
            lines = tuple(replace(line, value=_instrument(content, line.value)) for line in block.lines)
            yield replace(block, lines=lines, title="" if block.title == heading else block.title)
        elif not isinstance(block, Table) or block.rows:
            yield block


def _instrument(content: Content, value: str) -> str:
    tool = content.instruments.get(value)
    return f"{tool['name']} {tool['serial']}" if tool else value
