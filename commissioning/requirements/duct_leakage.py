"""Duct leakage: what a port gives and its outlets do not, as a difference with its uncertainty.

Judged only where the contract limits it. Where the outlets give more than the port, by more than the uncertainty of the
difference, a reading or a factor is wrong, and neither is a ground for anything.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Working, WorkingLine
from commissioning.dossier import printing, shows
from commissioning.dossier.outlet_readings import OutletReading, Total, total
from commissioning.dossier.outlets_standing import Standing, ports_of, standing_outlets
from commissioning.dossier.results import Absence, Judgement, Measurement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits, Verdict
from commissioning.engineering.outlets import Leakage, duct_leakage
from commissioning.engineering.uncertainty import expanded

CODE = "duct_leakage"
TITLE = "Duct leakage"
VERSION = 2
PRIORITY = "performance"
NEXT = (
    "Records: hood factors by type of device, the plane and factor of the port, air basis of both.",
    "Was the port read with the same damper settings as its outlets?",
    "Connections of flexible ducts, access doors and end caps, from the fan outwards.",
    "A leakage test of the duct under pressure, section by section, tells what a difference cannot.",
)
MISREAD = (
    "The outlets give more than their port, by more than both uncertainties together: a misreading, a wrong hood "
    "factor or an outlet of another duct. Find it before either is relied on."
)


def judge(view: View) -> Iterator[Judgement]:
    ports = ports_of(view)
    standing = standing_outlets(view) if ports else None
    for port in ports:
        limit = view.place.parts("ports").get(port, {}).get("leakage_maximum")
        found = _judge(view, port, standing, None if limit is None else float(limit)) if standing is not None else None
        if found is not None:
            yield found


def _judge(view: View, port: str, standing: Standing | Absence, limit: float | None) -> Judgement | None:
    """A judgement where there is a limit, or where there is something to say for information."""
    ground = view.ground(port)
    why = next((one for one in (standing, ground) if isinstance(one, Absence)), None)
    if why is None and isinstance(standing, Standing) and isinstance(ground, Measurement):
        held = standing.at(port)
        why = _incomplete(standing, port, held, ground)
        if why is None:
            return _compare(view, ground, standing, held, limit)
    return None if limit is None or why is None else Judgement(CODE, port, VERSION, absence=why)


def _incomplete(standing: Standing, port: str, held: list[OutletReading], ground: Measurement) -> Absence | None:
    for one in held:
        why = standing.why_not.get(one.name)
        if why is not None and one.state != "closed" and why.code != "not_given":
            code = "not_judged" if why.code == "not_counted" else why.code
            return Absence(code, f"The sum of the outlets is not known. {one.name}: {why.text}")
    unread = standing.unread(port)
    if unread or not held:
        return Absence("not_due", f"{len(unread)} outlets of this port are not read yet.")
    if {one.basis for one in held} != {ground.basis}:
        return Absence("not_judged", "The outlets and their port are designed on different air bases.")
    if ground.airflow_m3_s <= 0.0:
        return Absence("not_judged", "No air moves at the port.")
    return None


def _compare(
    view: View, ground: Measurement, standing: Standing, held: list[OutletReading], limit: float | None
) -> Judgement:
    found = total(held, coverage_probability=view.conventions.coverage_probability)
    correlation = _correlation(ground, found)
    leakage = duct_leakage(
        port_airflow_m3_s=ground.airflow_m3_s,
        outlets_airflow_m3_s=found.airflow_m3_s,
        port_standard_uncertainty_m3_s=ground.standard_uncertainty_m3_s,
        outlets_standard_uncertainty_m3_s=found.budget.standard_uncertainty,
        correlation=correlation,
    )
    wide = expanded(
        standard_uncertainty=leakage.standard_uncertainty_m3_s,
        coverage_probability=view.conventions.coverage_probability,
    ).expanded_uncertainty
    facts = {
        "port_m3_s": ground.airflow_m3_s,
        "port_expanded_uncertainty_m3_s": ground.expanded_uncertainty_m3_s,
        "outlets_m3_s": found.airflow_m3_s,
        "outlets_expanded_uncertainty_m3_s": found.budget.expanded_uncertainty,
        "outlets": len(held),
        "leakage_m3_s": leakage.airflow_m3_s,
        "expanded_uncertainty_m3_s": wide,
        "correlation": correlation,
        "guard_multiplier": view.conventions.guard_multiplier,
    }
    told: dict[str, Any] = {
        "value": leakage.relative,
        "expanded_uncertainty": wide / ground.airflow_m3_s,
        "unit": "1",
        "rests_on": (ground.envelope, *standing.rests_on(held)),
        "facts": facts,
    }
    if leakage.airflow_m3_s < -wide:
        return Judgement(CODE, ground.port, VERSION, absence=Absence("not_judged", MISREAD), look_next=NEXT[:2], **told)
    if limit is None:
        text = f"The contract makes it no criterion. For information: {_information(facts, view.conventions.display)}"
        return Judgement(CODE, ground.port, VERSION, absence=Absence("not_given", text), **told)
    return _against(view, ground, standing, held, leakage, wide, limit, told)


def _against(
    view: View,
    ground: Measurement,
    standing: Standing,
    held: list[OutletReading],
    leakage: Leakage,
    wide: float,
    limit: float,
    told: Mapping[str, Any],
) -> Judgement:
    conventions = view.conventions
    assessment = conventions.assess(
        value=leakage.relative,
        standard_uncertainty=leakage.standard_uncertainty_m3_s / ground.airflow_m3_s,
        expanded_uncertainty=wide / ground.airflow_m3_s,
        limits=Limits(high=limit),
    )
    sources = view.place.parts("ports")[ground.port].get("sources", {})
    return Judgement(
        CODE,
        ground.port,
        VERSION,
        verdict=assessment.verdict,
        provisional=view.is_provisional(ground, *standing.finals(held)),
        high=limit,
        clause=sources.get("leakage_maximum", ""),
        rule=str(conventions.decision_rule),
        margin=assessment.margin,
        conformance_probability=assessment.conformance_probability,
        sources=dict(sources),
        look_next=() if assessment.verdict is Verdict.CONFORMS else NEXT,
        **told,
    )


def _correlation(ground: Measurement, found: Total) -> float:
    """Of the port and the sum of its outlets: what one instrument has in both."""
    at_port = sum(part.standard_uncertainty for part in ground.budget if part.name == "instrument")
    shared = sum(one.contribution for one in found.components if one.group and one.group == ground.instrument)
    whole = ground.standard_uncertainty_m3_s * found.budget.standard_uncertainty
    return min(1.0, at_port * shared / whole) if whole > 0.0 else 0.0


def _information(facts: Mapping[str, Any], display: str) -> str:
    unit = printing.airflow_unit(display)
    port, outlets = (printing.airflow(facts[name], display) for name in ("port_m3_s", "outlets_m3_s"))
    difference = shows.airflow_with_uncertainty(facts["leakage_m3_s"], facts["expanded_uncertainty_m3_s"], display)
    is_sure = abs(facts["leakage_m3_s"]) > facts["expanded_uncertainty_m3_s"]
    sure = "" if is_sure else ", which lies within its uncertainty"
    at_outlets = f"{outlets} {unit} at its {facts['outlets']} outlets"
    return f"{port} {unit} at the port, {at_outlets}, a difference of {difference}{sure}."


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    facts = judgement["facts"]
    absent = shows.absent(judgement, TITLE)
    if not facts:
        return absent
    work = Working(_lines(judgement, facts, display), TITLE)
    if absent:
        return (*absent, work, *shows.next_steps(judgement))
    off = printing.percent(judgement["value"])
    wide = printing.percent_uncertainty(judgement["expanded_uncertainty"])
    most = printing.percent(judgement["high"])
    return (
        shows.lead(
            judgement,
            f"{shows.port_of(judgement)} loses {off} \u00b1 {wide} of its air to leakage, at most {most} allowed: "
            f"{_information(facts, display)}",
        ),
        work,
        *shows.next_steps(judgement),
    )


def _lines(judgement: Mapping[str, Any], facts: Mapping[str, Any], display: str) -> tuple[WorkingLine, ...]:
    unit = printing.airflow_unit(display)

    def flow(name: str) -> str:
        return f"{printing.airflow_exact(facts[name], display)} {unit}"

    lines = (
        WorkingLine("At the port", "q_p", flow("port_m3_s"), f"\u00b1{flow('port_expanded_uncertainty_m3_s')}"),
        WorkingLine(
            "At the outlets", "Σ q", flow("outlets_m3_s"), f"\u00b1{flow('outlets_expanded_uncertainty_m3_s')}"
        ),
        WorkingLine("Difference", "q_p - Σ q", flow("leakage_m3_s"), "conservation of mass"),
        WorkingLine(
            "Expanded uncertainty",
            f"u² = u_p² + u_Σ² - 2 r u_p u_Σ, r = {facts['correlation']:.3f}",
            flow("expanded_uncertainty_m3_s"),
            "JCGM 100:2008, 5.2.2",
        ),
        WorkingLine("Of the port", "(q_p - Σ q) / q_p", printing.signed_percent(judgement["value"], 4)),
    )
    if judgement["verdict"] is None:
        return lines
    limits = shows.limits_in_words(judgement["low"], judgement["high"], signed=False)
    return (*lines, WorkingLine("Limit", "", limits, judgement["clause"]), *shows.decision(judgement))
