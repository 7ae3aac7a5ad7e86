"""Current unbalance of three legs: above about a tenth somebody looks at terminals, winding and supply."""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Sentence, WorkingLine
from commissioning.dossier import motor_judging
from commissioning.dossier.motor_judging import FanRecord, Rule, absent, decided, recorded
from commissioning.dossier.motor_shows import tenths
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits
from commissioning.engineering.drives import CURRENT_UNBALANCE_ACTION

CODE = "current_unbalance"
TITLE = "Current unbalance"
VERSION = 1
PRIORITY = "performance"
OF = "fan"
RULE = Rule(CODE, VERSION, "action limit; common practice, no source")
_STEPS = (
    "Voltage unbalance: the currents' is usually six to ten times the voltages'. Is it the supply?",
    "The electrician moves all three leads on by one: a high leg that moves with the motor's lead is the motor's.",
    "Terminals and contacts of the leg that differs; then the winding.",
)


def judge(view: View) -> Iterator[Judgement]:
    for fan, record in recorded(view, with_air=False):
        if isinstance(record, Absence):
            yield absent(RULE, fan, record)
        elif CODE in record.facts["not_applicable"] or _shown_by_drive_alone(record):
            continue
        elif record.is_metered:
            yield _judge(view, record)


def _shown_by_drive_alone(record: FanRecord) -> bool:
    """A drive that shows one current and made the phases itself: there are no legs to compare."""
    return record.motor.has_drive and (record.figure(CODE) is None or record.facts["read_at"] == "drive_input")


def _judge(view: View, record: FanRecord) -> Judgement:
    figure = record.judged_figure(CODE, "The current of all three legs")
    if isinstance(figure, Absence):
        return absent(RULE, record.fan, figure)
    voltage = record.figure("voltage_unbalance")
    return decided(
        RULE,
        view,
        record.fan,
        [record.final],
        value=figure.value,
        standard_uncertainty=figure.standard_uncertainty or 0.0,
        expanded_uncertainty=figure.expanded_uncertainty or 0.0,
        limits=Limits(None, CURRENT_UNBALANCE_ACTION),
        facts={
            "voltage_unbalance": None if voltage is None or voltage.doubts else voltage.value,
            "inputs": [list(pair) for pair in figure.inputs],
            **motor_judging.motor_facts(record),
        },
        look_next=_STEPS,
    )


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    if judgement["absence"] is not None:
        return motor_judging.absent_page(judgement, TITLE)
    facts = judgement["facts"]
    wide = tenths(judgement["expanded_uncertainty"])
    text = f"{motor_judging.fan_of(judgement)}: {tenths(judgement['value'])} ± {wide}, action above 10 %."
    lines = (
        *(WorkingLine(label[:1].upper() + label[1:], "", value) for label, value in facts["inputs"]),
        WorkingLine("Unbalance", "max|I_i − mean| / mean", f"{100 * judgement['value']:.4f} %"),
        WorkingLine("Action limit", "", f"{100 * judgement['high']:g} %", judgement["clause"]),
    )
    beside = (
        ()
        if facts["voltage_unbalance"] is None
        else (Sentence(f"The voltages' unbalance is {tenths(facts['voltage_unbalance'])}.", "aside"),)
    )
    return motor_judging.page(judgement, TITLE, text, lines, *beside)
