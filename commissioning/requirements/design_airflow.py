"""Design airflow: each port delivers its design, within the tolerance of the contract."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from commissioning.blocks import Band, Block, Working, WorkingLine
from commissioning.dossier import diagnosis, printing, shows, speed_remedy
from commissioning.dossier.given import PortDesign, Tolerance
from commissioning.dossier.results import Absence, Judgement, Measurement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Assessment, Verdict, relative_deviation
from commissioning.engineering.diagnosis import Cause

CODE = "design_airflow"
TITLE = "Design airflow"
VERSION = 3
PRIORITY = "performance"


def judge(view: View) -> Iterator[Judgement]:
    for port in view.ports:
        yield _judge(view, port)


def _judge(view: View, port: str) -> Judgement:
    ground = view.ground(port)
    if isinstance(ground, Absence) and ground.code == "not_counted":
        return _absent(port, ground)
    design = view.place.ports.get(port)
    if design is None or not design.airflow_m3_s:
        return _absent(port, Absence("not_given", "No design revision gives an airflow for this port."))
    if isinstance(ground, Absence):
        return _absent(port, ground, design)
    return _compare(view, ground, design, design.airflow_m3_s)


def _absent(port: str, absence: Absence, design: PortDesign | None = None) -> Judgement:
    sources = dict(design.sources) if design else {}
    return Judgement(CODE, port, VERSION, absence=absence, sources=sources)


def _compare(view: View, final: Measurement, design: PortDesign, airflow_m3_s: float) -> Judgement:
    conventions = view.conventions
    tolerance = design.tolerance or conventions.default_tolerance
    deviation = float(relative_deviation(measured=final.airflow_m3_s, required=airflow_m3_s))
    compared = tolerance.compared(deviation)
    assessment = conventions.assess(
        value=compared,
        standard_uncertainty=final.standard_uncertainty_m3_s / airflow_m3_s,
        expanded_uncertainty=final.expanded_uncertainty_m3_s / airflow_m3_s,
        limits=tolerance.limits,
    )
    fails = assessment.verdict is not Verdict.CONFORMS
    causes = diagnosis.causes_of(view, final, airflow_m3_s) if fails else ()
    remedy = speed_remedy.remedy(view, final, airflow_m3_s, causes) if fails else None
    return Judgement(
        CODE,
        final.port,
        VERSION,
        verdict=assessment.verdict,
        provisional=view.is_provisional(final),
        value=compared,
        expanded_uncertainty=final.expanded_uncertainty_m3_s / airflow_m3_s,
        unit="1",
        low=tolerance.low,
        high=tolerance.high,
        clause=tolerance.clause,
        rule=str(conventions.decision_rule),
        margin=assessment.margin,
        conformance_probability=assessment.conformance_probability,
        rests_on=(final.envelope,),
        sources=dict(design.sources),
        facts=_facts(view, final, design, tolerance, deviation)
        | ({"causes": diagnosis.told_of(causes)} if causes else {})
        | ({"remedy": remedy.data} if remedy else {}),
        look_next=_next(view, final, assessment, airflow_m3_s, causes),
        remedy=remedy.text if remedy else "",
    )


def _next(
    view: View, final: Measurement, assessment: Assessment, airflow_m3_s: float, causes: Sequence[Cause]
) -> tuple[str, ...]:
    if assessment.verdict is Verdict.CONFORMS:
        return ()
    steps = diagnosis.look_next(view, final, causes, airflow_m3_s)
    if assessment.verdict is Verdict.INCONCLUSIVE:
        distance = assessment.margin * airflow_m3_s
        return (diagnosis.what_settles(final, distance, view.conventions), *steps)
    return steps


def _facts(
    view: View, final: Measurement, design: PortDesign, tolerance: Tolerance, deviation: float
) -> dict[str, Any]:
    assert design.airflow_m3_s
    earlier = [
        round(100.0 * one.airflow_m3_s / design.airflow_m3_s, 2)
        for one in view.of(final.port)
        if one.envelope != final.envelope and one.mode == final.mode
    ]
    return {
        "design_m3_s": design.airflow_m3_s,
        "measured_m3_s": final.airflow_m3_s,
        "expanded_uncertainty_m3_s": final.expanded_uncertainty_m3_s,
        "basis": final.basis,
        "basis_assumed": final.basis_assumed,
        "deviation": deviation,
        "rounding": tolerance.rounding,
        "minimum_m3_s": design.minimum_m3_s,
        "guard_multiplier": view.conventions.guard_multiplier,
        "earlier_percent": earlier[-5:],
    }


def band(judgement: Mapping[str, Any]) -> Band | None:
    """The picture of a judgement: everything in per cent of design."""
    facts = judgement["facts"]
    if judgement["verdict"] is None or not facts:
        return None
    design = facts["design_m3_s"]
    measured, wide = (100.0 * facts[name] / design for name in ("measured_m3_s", "expanded_uncertainty_m3_s"))
    low, high = (None if end is None else 100.0 * (1.0 + end) for end in (judgement["low"], judgement["high"]))
    minimum = None if facts["minimum_m3_s"] is None else 100.0 * facts["minimum_m3_s"] / design
    words = judgement["verdict"].replace("_", " ")
    limits = shows.limits_in_words(judgement["low"], judgement["high"])
    notch = "" if minimum is None else f"; the ventilation minimum is at {minimum:.0f} %"
    label = (
        f"{shows.port_of(judgement)} measured at {measured:.0f} % of design, \u00b1{printing.two_digits(wide)} %; "
        f"allowed {limits}{notch}: {words}."
    )
    return Band(
        label=label,
        low=low,
        high=high,
        minimum=minimum,
        measured=measured,
        uncertainty=wide,
        earlier=tuple(facts["earlier_percent"]),
        outcome=judgement["verdict"],
    )


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    absent = shows.absent(judgement, TITLE)
    picture = None if absent else band(judgement)
    if absent or picture is None:
        return absent
    facts, unit = judgement["facts"], printing.airflow_unit(display)
    printed = shows.airflow_with_uncertainty(facts["measured_m3_s"], facts["expanded_uncertainty_m3_s"], display)
    design = f"{printing.airflow_designed(facts['design_m3_s'], display)} {unit}"
    off = printing.percent_beside_limits(judgement["value"], (judgement["low"], judgement["high"]))
    return (
        shows.lead(judgement, f"{shows.port_of(judgement)}: {printed} against {design} designed, {off}."),
        picture,
        Working(_lines(judgement, facts, display), TITLE),
        *shows.next_steps(judgement),
    )


def _lines(judgement: Mapping[str, Any], facts: Mapping[str, Any], display: str) -> tuple[WorkingLine, ...]:
    unit = printing.airflow_unit(display)
    measured, design = (
        f"{printing.airflow_exact(facts[name], display)} {unit}" for name in ("measured_m3_s", "design_m3_s")
    )
    basis = f"{facts['basis']} air" + (", as agreed where the schedule does not state it" * facts["basis_assumed"])
    lines = [
        WorkingLine("Measured", "q, on the design's basis", measured, basis),
        WorkingLine("Design", "q_d", design, shows.source_of(judgement, "airflow")),
        WorkingLine("Deviation", "d = (q - q_d) / q_d", printing.signed_percent(facts["deviation"], 4)),
    ]
    if facts["rounding"] == "percent_1":
        rounded = printing.signed_percent(judgement["value"], 0)
        lines.append(WorkingLine("Rounded as the contract says", "d to the next whole per cent", rounded))
    limits = shows.limits_in_words(judgement["low"], judgement["high"])
    lines.append(WorkingLine("Limits", "", limits, judgement["clause"]))
    wide = f"\u00b1{100 * judgement['expanded_uncertainty']:.4f} %"
    lines.append(WorkingLine("Expanded uncertainty", "U / q_d", wide))
    lines.append(WorkingLine("Margin", "to the nearest limit", printing.signed_percent(judgement["margin"], 4)))
    return (*lines, *shows.decision(judgement))
