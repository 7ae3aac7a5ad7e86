"""Voltage at the motor: the mean lies within 10 % of the nameplate's; what the frequency is off takes its part of that.

It is a rule for motors at the mains. A drive and an electronic motor have the range that their maker states.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, WorkingLine
from commissioning.dossier import motor_judging, printing, shows
from commissioning.dossier.figures import Figure
from commissioning.dossier.motor_judging import FanRecord, Rule, absent, decided, for_information, recorded
from commissioning.dossier.motor_shows import volts
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits, relative_deviation
from commissioning.engineering.drives import VOLTAGE_TOLERANCE

CODE = "motor_voltage"
TITLE = "Voltage at the motor"
VERSION = 2  # 1 told too small an uncertainty of what is for information
PRIORITY = "performance"
OF = "fan"
RULE = Rule(CODE, VERSION, "NEMA MG 1, 12.44 (from memory)")
FREQUENCY_TOLERANCE = 0.05
_MAINS_HZ = (50.0, 60.0)
_STEPS = (
    "Nameplate: is its voltage that of the connection that was made, and of this supply?",
    "Voltage at the disconnect with the fan off and on: what falls between is the feeder's and its terminals'.",
    "Voltage at the distribution and at the taps of its transformer: the electrician's to say.",
)


def judge(view: View) -> Iterator[Judgement]:
    for fan, record in recorded(view, with_air=False):
        if isinstance(record, Absence):
            yield absent(RULE, fan, record)
        elif record.figure("voltage") is not None or (record.is_metered and record.is_at_mains):
            yield _judge(view, record)


def _judge(view: View, record: FanRecord) -> Judgement:
    figure = record.judged_figure("voltage", "Voltage")
    if isinstance(figure, Absence):
        return absent(RULE, record.fan, figure)
    rated = record.motor.voltage_v
    if not rated:
        text = "Neither a nameplate that was seen nor the design gives the motor's voltage."
        return absent(RULE, record.fan, Absence("not_given", text))
    off = float(relative_deviation(measured=figure.value, required=rated))
    printed = f"{volts(figure.value)}, {printing.percent(off, signed=True)} of {volts(rated)}"
    if record.motor.has_drive:
        why = "Its drive's maker states the range of the supply."
        return for_information(RULE, record, figure, off, printed, why, scale=1.0 / rated)
    if record.motor.kind == "electronically_commutated":
        why = "The motor's maker states the range of its supply."
        return for_information(RULE, record, figure, off, printed, why, scale=1.0 / rated)
    return _compare(view, record, figure, off, rated)


def _compare(view: View, record: FanRecord, figure: Figure, off: float, rated: float) -> Judgement:
    frequency = record.figure("frequency")
    allowance, frequency_off = _allowance(frequency.value if frequency else None)
    return decided(
        RULE,
        view,
        record.fan,
        [record.final],
        value=off,
        standard_uncertainty=(figure.standard_uncertainty or 0.0) / rated,
        expanded_uncertainty=(figure.expanded_uncertainty or 0.0) / rated,
        limits=Limits(-allowance, allowance),
        facts={
            "voltage_v": figure.value,
            "expanded_uncertainty_v": figure.expanded_uncertainty,
            "nameplate_voltage_v": rated,
            "frequency_off": frequency_off,
            "inputs": [list(pair) for pair in figure.inputs],
            **motor_judging.motor_facts(record),
        },
        look_next=_STEPS,
        sources=record.motor.sources,
    )


def _allowance(frequency_hz: float | None) -> tuple[float, float | None]:
    """What is left for the voltage: together they may be 10 % off, the frequency 5 % at the most.

    >>> _allowance(None), _allowance(60.0), [round(x, 9) for x in _allowance(58.8)], _allowance(54.0)[0]
    ((0.1, None), (0.1, 0.0), [0.08, 0.02], 0.0)
    """
    if frequency_hz is None:
        return VOLTAGE_TOLERANCE, None
    off = min(abs(frequency_hz / mains - 1.0) for mains in _MAINS_HZ)
    return (VOLTAGE_TOLERANCE - off if off <= FREQUENCY_TOLERANCE else 0.0), off


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    if judgement["absence"] is not None:
        return motor_judging.absent_page(judgement, TITLE)
    facts = judgement["facts"]
    off = printing.percent_beside_limits(judgement["value"], (judgement["low"], judgement["high"]))
    wide = printing.two_digits(facts["expanded_uncertainty_v"] or 0.0)
    read = f"{volts(facts['voltage_v']).removesuffix(' V')} ± {wide} V"
    text = f"{motor_judging.fan_of(judgement)}: {read}, {off} of the nameplate's {volts(facts['nameplate_voltage_v'])}."
    source = shows.source_of(judgement, "voltage_v")
    lines = [WorkingLine(label[:1].upper() + label[1:], "", value) for label, value in facts["inputs"]]
    lines += [
        WorkingLine("Mean voltage", "V", f"{facts['voltage_v']:.4f} V"),
        WorkingLine("Nameplate", "V_n", f"{facts['nameplate_voltage_v']:g} V", source),
        WorkingLine("Deviation", "(V − V_n) / V_n", printing.signed_percent(judgement["value"], 4)),
    ]
    if facts["frequency_off"] is not None:
        told = f"{100 * facts['frequency_off']:.2f} %"
        lines.append(WorkingLine("Frequency off", "|f / f_n − 1|, taken off the 10 %", told, judgement["clause"]))
    limits = shows.limits_in_words(judgement["low"], judgement["high"])
    lines.append(WorkingLine("Limits", "", limits, judgement["clause"]))
    return motor_judging.page(judgement, TITLE, text, lines)
