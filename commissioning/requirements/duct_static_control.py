"""Duct static pressure control: a fan holds its setpoint at design and at minimum demand, and soon.

Within ±10 % of the setpoint of the moment, stable within 5 minutes, and the setpoint lower at minimum demand where
zones ask for it: California NA7.5.6, in the wording of UMC E 805.7.1.2 (read in a stored source).
"""

from collections.abc import Iterator, Mapping
from functools import partial
from typing import Any

from commissioning.blocks import Block, Column, Table, Working, WorkingLine
from commissioning.dossier import parts, printing, shows
from commissioning.dossier import pressure_parts as pressures
from commissioning.dossier.figures import Figure, Figures
from commissioning.dossier.given import Tolerance
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits

CODE = "duct_static_control"
TITLE = "Duct static pressure control"
VERSION = 2
PRIORITY = "code"
OF = "fan"
NAME = "controlled_static"
DEMANDS = ("design", "minimum")
CLAUSE = "UMC E 805.7.1.2 (California NA7.5.6)"
USUAL = Tolerance(-0.1, 0.1, CLAUSE)
STABLE_WITHIN_S = 300.0
_STEPS = (
    "Operating state: did the demand hold still while it was read, and the dampers with it?",
    "The sensor: its place, its tubes, its zero and range against the manometer.",
    "The fan: is it at its least or largest speed already, where no controller can hold anything?",
    "The loop: only then its tuning; then read both demands again.",
)


def judge(view: View) -> Iterator[Judgement]:
    for fan in ("supply", "exhaust"):
        inch = view.conventions.inch_of_water_pa
        design = pressures.design_of(view.place, NAME, fan, inch_of_water_pa=inch)
        due = design.pressure_pa is not None and pressures.has_stream(view.place, fan)
        if not due and not pressures.holds(view, partial(_of, fan=fan)):
            continue
        record = pressures.newest(view, partial(_of, fan=fan))
        sources = {NAME: design.source} if design.source else {}
        if isinstance(record, Absence):
            yield Judgement(CODE, fan, VERSION, absence=record, sources=sources)
        else:
            yield _judge(view, fan, record, design.tolerance or USUAL, design.pressure_pa, sources)


def _of(figure: Figure, fan: str) -> bool:
    return figure.name == NAME and figure.at.partition(" ")[0] == fan


def _judge(
    view: View, fan: str, record: Figures, tolerance: Tolerance, design_pa: float | None, sources: dict[str, str]
) -> Judgement:
    held = {one["at"]: one for one in record.facts["controlled"]}
    found: list[dict[str, Any]] = []
    for demand in DEMANDS:
        figure = record.figure(NAME, f"{fan} {demand}")
        if figure is not None:
            found += _at(view, figure, held[figure.at], demand, tolerance)
    missing = [demand for demand in DEMANDS if record.figure(NAME, f"{fan} {demand}") is None]
    if not missing:
        found.append(_falls(view, held[f"{fan} design"], held[f"{fan} minimum"], record.facts["reset_by_zones"]))
    return parts.judgement(
        view,
        found,
        requirement=CODE,
        port=fan,
        rule_version=VERSION,
        absence=Absence("not_due", f"Not read yet at {missing[0]} demand.") if missing else None,
        provisional=view.is_provisional(record),
        rests_on=(record.envelope,),
        sources=sources,
        look_next=_STEPS,
        facts={"parts": found, "design_pa": design_pa},
    )


def _at(
    view: View, figure: Figure, held: Mapping[str, Any], demand: str, tolerance: Tolerance
) -> Iterator[dict[str, Any]]:
    yield {
        "name": f"pressure held at {demand} demand",
        "pressure_pa": figure.value,
        "expanded_pa": figure.expanded_uncertainty,
        "setpoint_pa": held["setpoint_pa"],
        **parts.against_design(
            view.conventions,
            measured=figure.value,
            standard_uncertainty=figure.standard_uncertainty or 0.0,
            expanded_uncertainty=figure.expanded_uncertainty or 0.0,
            design=held["setpoint_pa"],
            tolerance=tolerance,
        ),
    }
    if held["stabilised_s"] is not None:
        within = Limits(high=STABLE_WITHIN_S)
        yield {"name": f"stable at {demand} demand", **_exact(view, held["stabilised_s"], within, "s")}


def _falls(
    view: View, design: Mapping[str, Any], minimum: Mapping[str, Any], reset_by_zones: bool | None
) -> dict[str, Any]:
    """Where zones ask for the setpoint, it is lower at minimum demand than at design demand."""
    change = minimum["setpoint_pa"] - design["setpoint_pa"]
    told = {"name": "setpoint at minimum less that at design demand", "value": change, "unit": "Pa"}
    if reset_by_zones:
        return told | _exact(view, change, Limits(high=-1e-6), "Pa")
    return told | parts.not_assessed("not_given")


def _exact(view: View, value: float, limits: Limits, unit: str) -> dict[str, Any]:
    """What is seen on a display and has no uncertainty of its own."""
    return parts.assessed(
        view.conventions,
        value=value,
        standard_uncertainty=0.0,
        expanded_uncertainty=0.0,
        limits=limits,
        clause=CLAUSE,
        unit=unit,
    )


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    found = judgement["facts"].get("parts", [])
    absent = shows.absent(judgement, TITLE)
    if absent and not found:
        return absent
    opening = absent or (shows.lead(judgement, f"{shows.port_of(judgement)}: {_sentence(judgement)}"),)
    columns = (
        Column("What"),
        Column("Held", pressures.unit(display), "right"),
        Column("Setpoint", pressures.unit(display), "right"),
        Column("Value", "", "right"),
        Column("Outcome"),
    )
    rows = tuple(_row(one, display) for one in found)
    blocks: list[Block] = [*opening, Table(columns, rows, "Each demand")]
    if not absent:
        blocks.append(Working(tuple(_lines(judgement, found)), TITLE))
    return (*blocks, *shows.next_steps(judgement))


def _sentence(judgement: Mapping[str, Any]) -> str:
    worst = parts.worst_of(judgement, judgement["facts"]["parts"])
    return f"{worst['name']}, {_value(worst)}."


def _value(one: Mapping[str, Any]) -> str:
    if one["unit"] == "1":
        return f"{printing.percent_beside_limits(one['value'], (one['low'], one['high']))} of its setpoint"
    if one["unit"] == "s":
        return f"{one['value']:.0f} s"
    return printing.minus(f"{one['value']:+.0f} Pa")


def _row(one: Mapping[str, Any], display: str) -> tuple[str, ...]:
    held, setpoint = (
        pressures.number(one[name], display) if name in one else "" for name in ("pressure_pa", "setpoint_pa")
    )
    outcome = str(one["verdict"] or "for information").replace("_", " ")
    return (one["name"], held, setpoint, _value(one), outcome)


def _lines(judgement: Mapping[str, Any], found: list[dict[str, Any]]) -> Iterator[WorkingLine]:
    for one in found:
        if one["verdict"] is None:
            continue
        if one["unit"] == "1":
            expression = f"({one['pressure_pa']:.6g} - {one['setpoint_pa']:.6g}) / {one['setpoint_pa']:.6g}"
            value = f"{printing.signed_percent(one['value'], 4)} ± {100 * one['expanded_uncertainty']:.4f} %"
            limits = f"{shows.limits_in_words(one['low'], one['high'])}, {one['clause']}"
        else:
            expression, value, limits = "", _value(one), one["clause"]
        yield WorkingLine(one["name"].capitalize(), expression, value, limits)
    yield from shows.decision(judgement)
