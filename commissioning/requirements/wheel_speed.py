"""Speed of an exchanger's wheel: as submitted, within its tolerance. Half the speed barely shows in effectiveness."""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Working, WorkingLine
from commissioning.dossier import exchanger_judging as common
from commissioning.dossier import printing, shows
from commissioning.dossier.exchanger_design import ExchangerDesign, exchanger, exchangers, recorded, standing
from commissioning.dossier.exchanger_words import of_figure
from commissioning.dossier.figures import Figure, Figures
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import relative_deviation

CODE = "wheel_speed"
TITLE = "Wheel speed"
VERSION = 1
PRIORITY = "performance"
_STEPS = (
    "Control: does it command full speed, and does the drive follow? Off or idling in mild weather is no fault.",
    "Belt: tension, splice, a belt that slips on the rim or turned over.",
    "Pulley and gear: as submitted? A wheel of another size needs another pulley.",
    "Seals: a wheel that rubs turns slowly, and wears.",
    "Count again: turns of a mark on the rim in one minute or more.",
)


def judge(view: View) -> Iterator[Judgement]:
    asked = {name for name, design in exchangers(view.place).items() if design.wheel_speed_rpm}
    names = sorted(asked | set(recorded(view, CODE)))
    if not names:
        return
    if not view.place.is_counted:
        yield Judgement(CODE, "", VERSION, absence=view.not_counted())
        return
    yield common.worst_of([_of(view, name) for name in names])


def _of(view: View, name: str) -> Judgement:
    design, record = exchanger(view.place, name), standing(view, name, CODE)
    facts, sources = {"exchanger": name}, dict(design.sources)
    if isinstance(record, Absence):
        return Judgement(CODE, "", VERSION, absence=record, facts=facts, sources=sources)
    figure = record.figure(CODE)
    assert figure is not None
    if not design.wheel_speed_rpm:
        told = f"No revision gives the wheel's speed. For information: {of_figure(figure)}."
        return Judgement(
            CODE,
            "",
            VERSION,
            absence=Absence("not_given", told),
            value=figure.value,
            expanded_uncertainty=figure.expanded_uncertainty,
            unit="rpm",
            rests_on=(record.envelope,),
            facts=facts,
            sources=sources,
        )
    return _compare(view, record, figure, design, design.wheel_speed_rpm)


def _compare(view: View, record: Figures, figure: Figure, design: ExchangerDesign, designed_rpm: float) -> Judgement:
    tolerance = design.wheel_speed_tolerance
    deviation = float(relative_deviation(measured=figure.value, required=designed_rpm))
    compared = tolerance.compared(deviation)
    wide = (figure.expanded_uncertainty or 0.0) / designed_rpm
    assessment = view.conventions.assess(
        value=compared,
        standard_uncertainty=(figure.standard_uncertainty or 0.0) / designed_rpm,
        expanded_uncertainty=wide,
        limits=tolerance.limits,
    )
    return common.judged(
        view,
        CODE,
        VERSION,
        record,
        assessment,
        value=compared,
        expanded_uncertainty=wide,
        low=tolerance.low,
        high=tolerance.high,
        clause=tolerance.clause,
        sources=dict(design.sources),
        look_next=_STEPS,
        facts={
            "exchanger": record.facts["exchanger"],
            "about": "speed of the wheel",
            "measured_rpm": figure.value,
            "expanded_uncertainty_rpm": figure.expanded_uncertainty,
            "designed_rpm": designed_rpm,
            "deviation": deviation,
        },
    )


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    absent = shows.absent(judgement, TITLE)
    if absent:
        return (*absent, *common.table_of_all(judgement))
    facts = judgement["facts"]
    off = printing.percent_beside_limits(judgement["value"], (judgement["low"], judgement["high"]))
    wide = printing.two_digits(facts["expanded_uncertainty_rpm"] or 0.0)
    read = f"{facts['measured_rpm']:.3g} ± {wide} rpm"
    limits = shows.limits_in_words(judgement["low"], judgement["high"])
    lines = (
        WorkingLine("Measured", "n", f"{facts['measured_rpm']:.6g} rpm"),
        WorkingLine("Submitted", "n_d", f"{facts['designed_rpm']:g} rpm", shows.source_of(judgement, "wheel_speed")),
        WorkingLine("Deviation", "d = (n − n_d) / n_d", printing.signed_percent(facts["deviation"], 4)),
        WorkingLine("Limits", "", limits, judgement["clause"]),
        WorkingLine("Expanded uncertainty", "U / n_d", f"±{100 * judgement['expanded_uncertainty']:.4f} %"),
        WorkingLine("Margin", "to the nearest limit", printing.signed_percent(judgement["margin"], 4)),
    )
    return (
        shows.lead(judgement, f"The wheel turns at {read} against {facts['designed_rpm']:g} rpm submitted, {off}."),
        Working((*lines, *shows.decision(judgement)), TITLE),
        *common.table_of_all(judgement),
        *shows.next_steps(judgement),
    )
