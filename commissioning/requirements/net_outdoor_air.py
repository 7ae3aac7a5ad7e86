"""Net outdoor air: the supply air less the return air carried over into it, against the ventilation minimum.

    q_net = q_supply (1 − EATR)

A verdict only where the transfer ratio is known by tracer gas; else it is for information.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Sentence, Working, WorkingLine
from commissioning.dossier import printing, shows
from commissioning.dossier.exchanger_design import recorded, standing
from commissioning.dossier.figures import Figure, Figures
from commissioning.dossier.results import Absence, Judgement, Measurement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits, Verdict
from commissioning.engineering.exchanger import net_outdoor_airflow_m3_s
from commissioning.engineering.uncertainty import Component, combine

CODE = "net_outdoor_air"
TITLE = "Net outdoor air"
VERSION = 1
PRIORITY = "code"
TRACER, ROOM_CO2 = "transfer_ratio", "transfer_ratio_by_room_co2"
MOST = 0.5  # of a transfer ratio; above it something else is wrong
_STEPS = (
    "Transfer: pressures at the seals first, then seals and purge.",
    "Supply airflow: what was measured is gross; more of it carries more of both.",
)


def judge(view: View) -> Iterator[Judgement]:
    names = recorded(view, TRACER, ROOM_CO2)
    if not names:
        return
    yield _judge(view, names)


def _judge(view: View, names: tuple[str, ...]) -> Judgement:
    if not view.place.is_counted:
        return _absent(view.not_counted())
    by_tracer = {name: standing(view, name, TRACER) for name in recorded(view, TRACER)}
    records = [one for one in by_tracer.values() if isinstance(one, Figures)]
    found = [(one, figure) for one in records if (figure := one.figure(TRACER)) is not None]
    gross = view.ground("supply")
    if not found or len(found) < len(names):
        return _absent(_no_tracer(view, by_tracer))
    if isinstance(gross, Absence):
        return _absent(Absence(gross.code, f"It takes the final of the supply air. {gross.text}"))
    if any(figure.value > MOST for _, figure in found):
        return _absent(
            Absence("not_judged", f"A transfer ratio above {MOST:.0%} is no leakage: repeat the tracer test.")
        )
    return _compare(view, gross, found)


def _no_tracer(view: View, by_tracer: Mapping[str, Figures | Absence]) -> Absence:
    waiting = next((one for one in by_tracer.values() if isinstance(one, Absence)), None)
    if waiting is not None:
        return Absence(waiting.code, f"It takes a tracer gas test. {waiting.text}")
    return Absence("not_given", "For information alone: what is carried over is not known by tracer gas.")


def _absent(absence: Absence) -> Judgement:
    return Judgement(CODE, "supply", VERSION, absence=absence)


def _compare(view: View, gross: Measurement, found: list[tuple[Figures, Figure]]) -> Judgement:
    port, minimum = _minimum(view)
    flow, scale = _on_basis_of(view, gross, port)
    share, kept = _kept([figure for _, figure in found])
    net = float(net_outdoor_airflow_m3_s(supply_airflow_m3_s=flow, transfer_ratio=share))
    budget = combine(
        [
            Component("supply airflow", gross.standard_uncertainty_m3_s * scale, 1.0 - share),
            Component("transfer ratio", kept, flow),
        ],
        coverage_probability=view.conventions.coverage_probability,
    )
    told: dict[str, Any] = {
        "value": net,
        "expanded_uncertainty": budget.expanded_uncertainty,
        "unit": "m3/s",
        "rests_on": tuple(dict.fromkeys((gross.envelope, *(record.envelope for record, _ in found)))),
        "facts": {
            "gross_m3_s": flow,
            "gross_expanded_m3_s": gross.expanded_uncertainty_m3_s * scale,
            "transfer_ratio": share,
            "transfer_expanded": max((figure.expanded_uncertainty or 0.0) for _, figure in found),
            "minimum_of": port,
            "guard_multiplier": view.conventions.guard_multiplier,
        },
    }
    if minimum is None:
        printed = shows.airflow_with_uncertainty(net, budget.expanded_uncertainty, view.conventions.display)
        text = f"The schedule gives no ventilation minimum. For information: {printed}."
        return Judgement(CODE, "supply", VERSION, absence=Absence("not_given", text), **told)
    assessment = view.conventions.assess(
        value=net,
        standard_uncertainty=budget.standard_uncertainty,
        expanded_uncertainty=budget.expanded_uncertainty,
        limits=Limits(low=minimum),
    )
    return Judgement(
        CODE,
        "supply",
        VERSION,
        verdict=assessment.verdict,
        provisional=view.is_provisional(gross, *(record for record, _ in found)),
        low=minimum,
        clause=f"design schedule, ventilation minimum of the {port} air",
        rule=str(view.conventions.decision_rule),
        margin=assessment.margin,
        conformance_probability=assessment.conformance_probability,
        sources=dict(view.place.ports[port].sources),
        look_next=() if assessment.verdict is Verdict.CONFORMS else _STEPS,
        **told,
    )


def _minimum(view: View) -> tuple[str, float | None]:
    """Of the outdoor air, or else of the supply air."""
    for port in ("outdoor", "supply"):
        design = view.place.ports.get(port)
        if design is not None and design.minimum_m3_s is not None:
            return port, design.minimum_m3_s
    return "supply", None


def _on_basis_of(view: View, gross: Measurement, port: str) -> tuple[float, float]:
    """The supply airflow on the air basis of the port whose minimum it is held to, and what scales its uncertainty."""
    design = view.place.ports.get(port)
    basis = design.basis if design is not None else "not_stated"
    if basis == "not_stated":
        basis = view.conventions.basis_when_not_stated
    flow = gross.actual_airflow_m3_s
    if basis == "standard":
        flow *= gross.density_kg_m3 / gross.standard_density_kg_m3
    return flow, flow / gross.airflow_m3_s if gross.airflow_m3_s > 0.0 else 0.0


def _kept(figures: list[Figure]) -> tuple[float, float]:
    """The share carried over by all exchangers in a row, and its standard uncertainty; below zero there is none."""
    passed, relative = 1.0, 0.0
    for one in figures:
        share = min(max(one.value, 0.0), MOST)
        passed *= 1.0 - share
        relative = (relative**2 + ((one.standard_uncertainty or 0.0) / (1.0 - share)) ** 2) ** 0.5
    return 1.0 - passed, passed * relative


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    absent = shows.absent(judgement, TITLE)
    if judgement["value"] is None:
        return absent
    facts, unit = judgement["facts"], printing.airflow_unit(display)
    net = shows.airflow_with_uncertainty(judgement["value"], judgement["expanded_uncertainty"], display)
    gross = shows.airflow_with_uncertainty(facts["gross_m3_s"], facts["gross_expanded_m3_s"], display)
    share = f"{100 * facts['transfer_ratio']:.2f} % ± {100 * facts['transfer_expanded']:.2f} %"
    lines = [
        WorkingLine("Supply air, gross", "q", gross),
        WorkingLine("Carried over", "EATR, by tracer gas", share),
        WorkingLine("Net outdoor air", "q (1 − EATR)", f"{printing.airflow_exact(judgement['value'], display)} {unit}"),
    ]
    if judgement["verdict"] is None:
        text = f"Net outdoor air {net}, of {gross} supply air."
        return (*absent, Sentence(text), Working(tuple(lines), TITLE))
    least = f"{printing.airflow(judgement['low'], display)} {unit}"
    lines += [
        WorkingLine("Minimum", f"of the {facts['minimum_of']} air", least, shows.source_of(judgement, "minimum")),
        WorkingLine("Margin", "q_net − q_min", f"{printing.airflow_exact(judgement['margin'], display)} {unit}"),
        *shows.decision(judgement),
    ]
    return (
        shows.lead(judgement, f"Net outdoor air {net} against a minimum of {least}; {gross} supply air is gross."),
        Working(tuple(lines), TITLE),
        *shows.next_steps(judgement),
    )
