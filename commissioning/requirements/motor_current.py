"""Motor current: the highest leg draws no more than the nameplate's current, times the service factor where it counts.

It counts at rated voltage and balance alone, and is 1.0 on a drive unless the motor's maker says otherwise.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, WorkingLine
from commissioning.dossier import motor_judging, printing, shows
from commissioning.dossier.motor import Motor
from commissioning.dossier.motor_judging import FanRecord, Rule, absent, decided, recorded
from commissioning.dossier.motor_shows import amps
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits
from commissioning.engineering.drives import current_load, voltage_is_within
from commissioning.engineering.unbalance_allowance import NO_DERATING

CODE = "motor_current"
TITLE = "Motor current"
VERSION = 1
PRIORITY = "performance"
OF = "fan"
RULE = Rule(CODE, VERSION, "the motor's nameplate; service factor by NEMA MG 1 (from memory)")
_STEPS = (
    "Nameplate: is it this motor, and is its current that of the voltage that is connected?",
    "Rotation and speed: is it the speed that was designed?",
    "Voltage of each phase, and its unbalance: low or unequal volts draw more amps.",
    "Air: more than design, with doors open, filters out or little resistance, loads many fans beyond their motor.",
    "Belt, bearings, alignment, and a wheel that rubs.",
    "Do not leave it running above its nameplate while somebody looks for the cause.",
)


def judge(view: View) -> Iterator[Judgement]:
    for fan, record in recorded(view):
        if isinstance(record, Absence):
            yield absent(RULE, fan, record)
        elif record.is_metered:
            yield _judge(view, record)


def _judge(view: View, record: FanRecord) -> Judgement:
    figure = record.judged_figure("current", "Current")
    if isinstance(figure, Absence):
        return absent(RULE, record.fan, figure)
    nameplate = record.motor.current_a
    if not nameplate:
        text = "Neither a nameplate that was seen nor the design gives the motor's current."
        return absent(RULE, record.fan, Absence("not_given", text))
    factor, why = _service_factor(record)
    load = current_load(current_a=figure.value, nameplate_current_a=nameplate, service_factor=factor)
    return decided(
        RULE,
        view,
        record.fan,
        [record.final],
        value=load.share,
        standard_uncertainty=(figure.standard_uncertainty or 0.0) / nameplate,
        expanded_uncertainty=(figure.expanded_uncertainty or 0.0) / nameplate,
        limits=Limits(None, load.allowed_share),
        facts={
            "current_a": figure.value,
            "expanded_uncertainty_a": figure.expanded_uncertainty,
            "nameplate_current_a": nameplate,
            "service_factor": factor,
            "service_factor_reason": why,
            "inputs": [list(pair) for pair in figure.inputs],
            **motor_judging.motor_facts(record),
        },
        look_next=_STEPS,
        sources=record.motor.sources,
    )


def _service_factor(record: FanRecord) -> tuple[float, str]:
    """The service factor that counts here, and why."""
    motor = record.motor
    factor = motor.counted_service_factor
    if motor.kind == "electronically_commutated":
        return 1.0, "its electronics limit what it takes: its own limit counts"
    if motor.has_drive:
        if factor > 1.0:
            return factor, "as the motor's maker allows on a drive"
        return 1.0, "on a drive, unless the motor's maker says otherwise"
    if factor == 1.0:
        return 1.0, "no more is marked"
    if not _at_rated_voltage(record, motor):
        return 1.0, f"{factor:g} is marked and holds at rated voltage, which was not read or is off"
    unbalance = record.figure("voltage_unbalance")
    if unbalance is not None and unbalance.value > NO_DERATING:
        return 1.0, f"{factor:g} is marked and holds where the voltages are balanced, which they are not"
    return factor, "as marked, at rated voltage"


def _at_rated_voltage(record: FanRecord, motor: Motor) -> bool:
    voltage = record.figure("voltage")
    if voltage is None or voltage.doubts or not motor.voltage_v or voltage.value < 1.0:
        return False
    return voltage_is_within(voltage_v=voltage.value, rated_voltage_v=motor.voltage_v)


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    if judgement["absence"] is not None:
        return motor_judging.absent_page(judgement, TITLE)
    facts = judgement["facts"]
    wide = printing.two_digits(facts["expanded_uncertainty_a"] or 0.0)
    read = f"{amps(facts['current_a']).removesuffix(' A')} ± {wide} A"
    share = printing.percent(judgement["value"])
    factor = f"{facts['service_factor']:g}"
    text = (
        f"{motor_judging.fan_of(judgement)}: {read} of {amps(facts['nameplate_current_a'])} on the nameplate, {share}; "
        f"service factor counted {factor}."
    )
    lines = (
        *(WorkingLine(label[:1].upper() + label[1:], "", value) for label, value in facts["inputs"]),
        WorkingLine("Current", "I, the highest leg", f"{facts['current_a']:.4f} A"),
        WorkingLine("Nameplate", "I_n", f"{facts['nameplate_current_a']:g} A", shows.source_of(judgement, "current_a")),
        WorkingLine("Share", "I / I_n", f"{judgement['value']:.4f}"),
        WorkingLine("Expanded uncertainty", "U / I_n", f"±{judgement['expanded_uncertainty']:.4f}"),
        WorkingLine("Service factor", facts["service_factor_reason"], factor, judgement["clause"]),
        WorkingLine("Limit", "I / I_n ≤ SF", f"{judgement['high']:g}"),
    )
    return motor_judging.page(judgement, TITLE, text, lines)
