"""Ventilation minimum: at every condition the port delivers at least what the design asks for, without tolerance.

One-sided, and judged at the lowest of the finals in the modes design maximum and minimum.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from commissioning.blocks import Block, Working, WorkingLine
from commissioning.dossier import diagnosis, printing, shows, speed_remedy, ventilation_need
from commissioning.dossier.given import PortDesign
from commissioning.dossier.results import Absence, Judgement, Measurement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Assessment, Limits, Verdict
from commissioning.engineering.diagnosis import Cause

CODE = "ventilation_minimum"
TITLE = "Ventilation minimum"
VERSION = 4
PRIORITY = "code"
MODES = ("minimum", "design_maximum")


def judge(view: View) -> Iterator[Judgement]:
    usual = "outdoor" if "outdoor" in view.ports else "supply"
    for port in view.ports:
        design = view.place.ports.get(port)
        if port == usual or (design is not None and design.minimum_m3_s is not None):
            yield _judge(view, port, design)


def _judge(view: View, port: str, design: PortDesign | None) -> Judgement:
    grounds = [view.ground(port, (mode,)) for mode in MODES]
    finals = [one for one in grounds if isinstance(one, Measurement)]
    first = view.ground(port, MODES)
    sources = dict(design.sources) if design else {}
    if isinstance(first, Absence) and first.code == "not_counted":
        return Judgement(CODE, port, VERSION, absence=first)
    if design is None or design.minimum_m3_s is None:
        absence = Absence("not_given", "The schedule gives no ventilation minimum for this port.")
        return Judgement(CODE, port, VERSION, absence=absence)
    if not finals:
        assert isinstance(first, Absence)
        return Judgement(CODE, port, VERSION, absence=first, sources=sources)
    lowest = min(finals, key=lambda one: one.airflow_m3_s)
    return _compare(view, lowest, design, design.minimum_m3_s)


def _compare(view: View, final: Measurement, design: PortDesign, minimum_m3_s: float) -> Judgement:
    conventions = view.conventions
    assessment = conventions.assess(
        value=final.airflow_m3_s,
        standard_uncertainty=final.standard_uncertainty_m3_s,
        expanded_uncertainty=final.expanded_uncertainty_m3_s,
        limits=Limits(low=minimum_m3_s),
    )
    fails = assessment.verdict is not Verdict.CONFORMS
    target = max(minimum_m3_s, design.airflow_m3_s or 0.0)
    at_design = fails and final.mode == "design_maximum"
    causes = diagnosis.causes_of(view, final, target) if at_design else ()
    remedy = speed_remedy.remedy(view, final, target, causes) if at_design else None
    return Judgement(
        CODE,
        final.port,
        VERSION,
        verdict=assessment.verdict,
        provisional=view.is_provisional(final),
        value=final.airflow_m3_s,
        expanded_uncertainty=final.expanded_uncertainty_m3_s,
        unit="m3/s",
        low=minimum_m3_s,
        clause="design schedule, ventilation minimum",
        rule=str(conventions.decision_rule),
        margin=assessment.margin,
        conformance_probability=assessment.conformance_probability,
        rests_on=(final.envelope,),
        sources=dict(design.sources),
        facts={
            "mode": final.mode,
            "basis": final.basis,
            "basis_assumed": final.basis_assumed,
            "guard_multiplier": conventions.guard_multiplier,
            **_beside(view, final, design, minimum_m3_s),
        }
        | ({"causes": diagnosis.told_of(causes)} if causes else {})
        | ({"remedy": remedy.data} if remedy else {}),
        look_next=_next(view, final, assessment, causes, target),
        remedy=remedy.text if remedy else "",
    )


def _beside(view: View, final: Measurement, design: PortDesign, minimum_m3_s: float) -> dict[str, Any]:
    """Required, designed and measured; required is what the rooms ask for where the design tells it of all of them."""
    by_rooms = ventilation_need.need_of(view.place).airflow_m3_s
    required = minimum_m3_s if by_rooms is None else ventilation_need.to_basis(by_rooms, final)
    flows = ventilation_need.side_by_side(
        required, design.airflow_m3_s, final.airflow_m3_s, final.expanded_uncertainty_m3_s
    )
    return {"side_by_side": flows, "required_by": "the schedule" if by_rooms is None else "the rooms"}


def _next(
    view: View, final: Measurement, assessment: Assessment, causes: Sequence[Cause], target_m3_s: float
) -> tuple[str, ...]:
    if assessment.verdict is Verdict.CONFORMS:
        return ()
    steps = diagnosis.look_next(view, final, causes, target_m3_s)
    if assessment.verdict is Verdict.INCONCLUSIVE:
        return (diagnosis.what_settles(final, assessment.margin, view.conventions), *steps)
    return steps


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    absent = shows.absent(judgement, TITLE)
    if absent:
        return absent
    unit = printing.airflow_unit(display)
    printed = shows.airflow_with_uncertainty(judgement["value"], judgement["expanded_uncertainty"], display)
    least = f"{printing.airflow(judgement['low'], display)} {unit}"
    return (
        shows.lead(judgement, f"{shows.port_of(judgement)}: {printed} against a minimum of {least}."),
        *_table(judgement["facts"], display),
        Working(
            (
                WorkingLine("Measured, lowest of the modes", judgement["facts"]["mode"].replace("_", " "), printed),
                WorkingLine(
                    "Minimum",
                    "q_min",
                    f"{printing.airflow_exact(judgement['low'], display)} {unit}",
                    shows.source_of(judgement, "minimum"),
                ),
                WorkingLine("Margin", "q - q_min", f"{printing.airflow_exact(judgement['margin'], display)} {unit}"),
                *shows.decision(judgement),
            ),
            TITLE,
        ),
        *shows.next_steps(judgement),
    )


def _table(facts: Mapping[str, Any], display: str) -> tuple[Block, ...]:
    if "side_by_side" not in facts:  # kept by an earlier version
        return ()
    return (ventilation_need.table(facts["side_by_side"], f"by {facts['required_by']}", display),)
