"""Exhaust air transfer: how much of the supply air is return air carried over. By tracer gas alone.

The CO2 of the rooms is kept and never judged. Without a tracer test the pressures at the seals say which way they leak,
and the flows on both sides of the exchanger (OACF) how much leaks on the whole.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table, Working, WorkingLine
from commissioning.dossier import exchanger_judging as common
from commissioning.dossier import exchanger_words as words
from commissioning.dossier import printing, shows
from commissioning.dossier.exchanger_design import ExchangerDesign, exchanger, exchangers, recorded, standing
from commissioning.dossier.figures import Figures
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits

CODE = "exhaust_transfer"
TITLE = "Exhaust air transfer"
VERSION = 1
PRIORITY = "performance"
TRACER, ROOM_CO2, OACF, SEALS = (
    "transfer_ratio",
    "transfer_ratio_by_room_co2",
    "outdoor_air_correction_factor",
    "seal_pressure",
)
_STEPS = (
    "Pressures at the seals: the supply side should stand above the exhaust side; else move a fan or a damper.",
    "Seals: gap, wear, and whether they were set after shipping.",
    "Purge: angle and direction, and the side on which the pressure is higher.",
    "Short circuit outdoors: exhaust air that is drawn in again reads as transfer; compare with the background.",
    "The gas: evenly mixed in the return air, steady, and the analyser's zero in clean air.",
)


def judge(view: View) -> Iterator[Judgement]:
    asked = {name for name, design in exchangers(view.place).items() if design.transfer_ratio_maximum is not None}
    names = sorted(asked | set(recorded(view, TRACER, ROOM_CO2, OACF, SEALS)))
    if not names:
        return
    if not view.place.is_counted:
        yield Judgement(CODE, "", VERSION, absence=view.not_counted())
        return
    yield common.worst_of([_of(view, name) for name in names])


def _of(view: View, name: str) -> Judgement:
    design = exchanger(view.place, name)
    beside = _beside(view, name)
    facts = {"exchanger": name, "about": "transfer by tracer gas", **beside}
    record = standing(view, name, TRACER)
    if isinstance(record, Figures) and (figure := record.figure(TRACER)) is not None:
        if design.transfer_ratio_maximum is not None:
            return common.judged(
                view,
                CODE,
                VERSION,
                record,
                common.decide(view, figure, Limits(high=design.transfer_ratio_maximum)),
                value=figure.value,
                expanded_uncertainty=figure.expanded_uncertainty,
                high=design.transfer_ratio_maximum,
                clause=_clause(design),
                sources=dict(design.sources),
                look_next=_STEPS,
                facts={**facts, "gas": record.facts["gas"], "equation": figure.equation},
            )
        text = f"The contract gives it no limit. For information: {words.WORDS[TRACER]} {words.of_figure(figure)}."
        return _absent(design, Absence("not_given", text), facts, record, figure.value, figure.expanded_uncertainty)
    return _without_tracer(design, record, facts)


def _clause(design: ExchangerDesign) -> str:
    return design.sources.get("transfer_ratio_maximum", "design schedule, exhaust air transfer")


def _without_tracer(design: ExchangerDesign, record: Figures | Absence, facts: dict[str, Any]) -> Judgement:
    why = _why(record, facts)
    if design.transfer_ratio_maximum is None:
        text = f"The contract gives it no limit. For information: {why.text}"
        return _absent(design, Absence("not_given", text), facts, record)
    return _absent(design, why, facts, record)


def _why(record: Figures | Absence, facts: Mapping[str, Any]) -> Absence:
    """Why there is no transfer ratio that could be judged."""
    if isinstance(record, Figures):
        return Absence("not_judged", common.sentence(common.reason_of(record, TRACER)))
    if facts["room_co2"]:
        return Absence("not_judged", common.sentence(facts["room_co2"]["reason"]))
    if record.code == "not_due":
        return Absence("not_due", f"It takes a tracer gas test. {record.text}")
    return record


def _absent(
    design: ExchangerDesign,
    absence: Absence,
    facts: dict[str, Any],
    record: Figures | Absence,
    value: float | None = None,
    wide: float | None = None,
) -> Judgement:
    envelopes = [record.envelope] if isinstance(record, Figures) else []
    return Judgement(
        CODE,
        "",
        VERSION,
        absence=absence,
        value=value,
        expanded_uncertainty=wide,
        unit="1" if value is not None else "",
        rests_on=tuple(dict.fromkeys((*envelopes, *facts["envelopes"]))),
        facts=facts,
        sources=dict(design.sources),
    )


def _beside(view: View, name: str) -> dict[str, Any]:
    """What else tells of leakage, each from the record of it that stands."""
    held = {about: standing(view, name, about) for about in (ROOM_CO2, OACF, SEALS)}
    records = {about: one for about, one in held.items() if isinstance(one, Figures)}
    found: dict[str, Any] = {"room_co2": None, "oacf": None, "seals": []}
    if ROOM_CO2 in records and (figure := records[ROOM_CO2].figure(ROOM_CO2)) is not None:
        found["room_co2"] = {
            "value": figure.value,
            "expanded_uncertainty": figure.expanded_uncertainty,
            "reason": figure.doubts[0],
        }
    if OACF in records and (figure := records[OACF].figure(OACF)) is not None:
        found["oacf"] = {"value": figure.value, "expanded_uncertainty": figure.expanded_uncertainty}
    if SEALS in records:
        found["seals"] = [
            {"face": one.at, "pa": one.value, "expanded_pa": one.expanded_uncertainty or 0.0}
            for one in records[SEALS].named(SEALS)
        ]
    return found | {"envelopes": [one.envelope for one in records.values()]}


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    facts = judgement["facts"]
    opening = shows.absent(judgement, TITLE)
    blocks: list[Block] = list(opening)
    if not opening:
        off = f"{100 * judgement['value']:.1f} %"
        wide = printing.percent_uncertainty(judgement["expanded_uncertainty"])
        most = f"{100 * judgement['high']:g} %"
        lines = (
            WorkingLine("Transfer ratio", facts["equation"], f"{100 * judgement['value']:.4f} %", facts["gas"] or ""),
            WorkingLine("Expanded uncertainty", "U", f"±{100 * judgement['expanded_uncertainty']:.4f} %"),
            WorkingLine("Limit", "at most", most, judgement["clause"]),
            *shows.decision(judgement),
        )
        text = f"Of the supply air {off} ± {wide} is return air carried over, against at most {most}."
        blocks += [shows.lead(judgement, text), Working(lines, TITLE)]
    blocks += _shown_beside(facts, display)
    return (*blocks, *common.table_of_all(judgement), *shows.next_steps(judgement))


def _shown_beside(facts: Mapping[str, Any], display: str) -> Iterator[Block]:
    if facts.get("seals"):
        rows = []
        for one in facts["seals"]:
            told = {"name": SEALS, "value": one["pa"], "unit": "Pa", "expanded_uncertainty": one["expanded_pa"]}
            meaning = words.seal_meaning(one["face"], one["pa"], one["expanded_pa"])
            rows.append((words.FACES[one["face"]], words.with_uncertainty(told, display), meaning))
        columns = (Column("At"), Column("Supply side less exhaust side", "", "right"), Column("What it means"))
        yield Table(columns, tuple(rows), "Pressures at the seals")
    if facts.get("oacf"):
        one = facts["oacf"]
        way = "outdoor air leaks to the exhaust" if one["value"] > 1.0 else "exhaust air leaks in"
        if abs(one["value"] - 1.0) <= (one["expanded_uncertainty"] or 0.0):
            way = "no leakage that the flows could tell"
        printed = f"{one['value']:.3f} ± {printing.two_digits(one['expanded_uncertainty'] or 0.0)}"
        yield Sentence(f"Outdoor air correction factor {printed}, from the flows on both sides: {way}.")
    if facts.get("room_co2"):
        one = facts["room_co2"]
        printed = f"{100 * one['value']:.1f} % ± {100 * (one['expanded_uncertainty'] or 0.0):.1f} %"
        yield Sentence(f"By the CO2 of the rooms it would be {printed}, and is not judged: {one['reason']}.", "aside")
