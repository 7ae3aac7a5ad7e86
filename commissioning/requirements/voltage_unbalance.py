"""Voltage unbalance of three phases, as NEMA MG 1 defines it, against what the motor bears at the load that it has.

Up to 1 % it carries its rating; above, less and less; above 5 % it should not be operated.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, WorkingLine
from commissioning.dossier import motor_judging
from commissioning.dossier.figures import Figure
from commissioning.dossier.motor_judging import FanRecord, Rule, absent, decided, for_information, recorded
from commissioning.dossier.motor_shows import tenths
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits
from commissioning.engineering.motors import unbalance_derating, winding_temperature_rise_fraction
from commissioning.engineering.unbalance_allowance import DO_NOT_OPERATE, NO_DERATING, allowed_voltage_unbalance

CODE = "voltage_unbalance"
TITLE = "Voltage unbalance"
VERSION = 1
PRIORITY = "performance"
OF = "fan"
RULE = Rule(CODE, VERSION, "NEMA MG 1, 12.45 and 14.36 (from memory); derating read off its curve to ±0.02")
_LARGEST_LOAD = 20.0
_STEPS = (
    "Read the three voltages again at the disconnect, with the fan off: is it the supply or the motor?",
    "Terminals, fuses and contacts of the leg that differs; a blown fuse shows as a large unbalance.",
    "Single-phase loads on the same panel, and the voltages at the distribution: the electrician's to say.",
    "Above 5 % leave it off until the cause is found.",
)


def judge(view: View) -> Iterator[Judgement]:
    for fan, record in recorded(view, with_air=False):
        if isinstance(record, Absence):
            yield absent(RULE, fan, record)
        elif CODE in record.facts["not_applicable"]:
            continue
        elif record.figure(CODE) is not None or (record.is_metered and record.is_at_mains):
            yield _judge(view, record)


def _judge(view: View, record: FanRecord) -> Judgement:
    figure = record.judged_figure(CODE, "The voltage of all three phases")
    if isinstance(figure, Absence):
        return absent(RULE, record.fan, figure)
    if record.motor.has_drive:
        why = "Before a drive, the drive's maker states what it bears."
        return for_information(RULE, record, figure, figure.value, tenths(figure.value), why)
    load = _load(record)
    if load is None and NO_DERATING < figure.value <= DO_NOT_OPERATE:
        text = (
            f"It is {tenths(figure.value)}. Between 1 and 5 % it depends on the motor's load: read its current, "
            "and see its nameplate."
        )
        return absent(RULE, record.fan, Absence("not_judged", text))
    return _compare(view, record, figure, load)


def _load(record: FanRecord) -> float | None:
    """The motor's current as a share of the nameplate's, where both are known."""
    current, nameplate = record.figure("current"), record.motor.current_a
    if current is None or current.doubts or not nameplate or current.value <= 0.0:
        return None
    return min(current.value / nameplate, _LARGEST_LOAD)


def _compare(view: View, record: FanRecord, figure: Figure, load: float | None) -> Judgement:
    if load is not None:
        high = float(allowed_voltage_unbalance(load_share=load))
    else:
        high = NO_DERATING if figure.value <= NO_DERATING else DO_NOT_OPERATE
    bearable = figure.value <= DO_NOT_OPERATE
    return decided(
        RULE,
        view,
        record.fan,
        [record.final],
        value=figure.value,
        standard_uncertainty=figure.standard_uncertainty or 0.0,
        expanded_uncertainty=figure.expanded_uncertainty or 0.0,
        limits=Limits(None, high),
        facts={
            "load_share": load,
            "derating": float(unbalance_derating(voltage_unbalance=figure.value)) if bearable else None,
            "extra_winding_rise": (
                float(winding_temperature_rise_fraction(voltage_unbalance=figure.value)) if bearable else None
            ),
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
    fan = motor_judging.fan_of(judgement)
    if facts["derating"] is None:
        rest = "above 5 % a motor should not be operated"
    else:
        rest = f"the motor may carry {100 * facts['derating']:.0f} % of its rating"
    text = f"{fan}: {tenths(judgement['value'])} ± {wide}, at most {tenths(judgement['high'])} at its load; {rest}."
    lines = [WorkingLine(label[:1].upper() + label[1:], "", value) for label, value in facts["inputs"]]
    lines.append(
        WorkingLine("Unbalance", "max|V_i − mean| / mean", f"{100 * judgement['value']:.4f} %", judgement["clause"])
    )
    load = "not known" if facts["load_share"] is None else f"{facts['load_share']:.4f}"
    lines.append(WorkingLine("Load", "I / I_n, the highest leg", load))
    lines.append(
        WorkingLine("Limit", "the unbalance that it bears at that load, 1 to 5 %", f"{100 * judgement['high']:.4f} %")
    )
    if facts["extra_winding_rise"] is not None:
        rise = f"{100 * facts['extra_winding_rise']:.1f} %"
        lines.append(WorkingLine("Hotter winding", "2 u², u in per cent", rise, "rule of thumb"))
    return motor_judging.page(judgement, TITLE, text, lines)
