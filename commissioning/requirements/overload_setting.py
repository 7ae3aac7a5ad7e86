"""Overload setting: between the motor's nameplate current and the usual limit above it, or in the design's own range.

The electrician decides, by the code in force; a finding here is a question to them.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Sentence, WorkingLine
from commissioning.dossier import motor_judging, shows
from commissioning.dossier.given import FanDesign
from commissioning.dossier.motor_judging import FanRecord, Rule, absent, decided, recorded
from commissioning.dossier.motor_shows import amps
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits
from commissioning.engineering.drives import OverloadCheck, overload_check

CODE = "overload_setting"
TITLE = "Overload setting"
VERSION = 1
PRIORITY = "code"
OF = "fan"
RULE = Rule(CODE, VERSION, "NFPA 70, 430.32(A)(1) (from memory); at least the nameplate: common practice, no source")
_STEPS = (
    "Nameplate: is it this motor, and is its current that of the voltage that is connected?",
    "The relay or the drive's parameter: some trip at 1.15 to 1.25 times what the dial shows; see its label.",
    "The electrician sets it by the code in force, and proves it as the relay's maker says.",
)
_SEEN = ("relay", "drive", "none")  # what is inside the motor cannot be set
_DIAL = "The relay's range does not reach this motor: it is another size's."


def judge(view: View) -> Iterator[Judgement]:
    asked = [fan for fan, one in view.place.fans.items() if _range_of(one) is not None]
    for fan, record in recorded(view, with_air=False, with_meter=False, also=asked):
        if isinstance(record, Absence):
            yield absent(RULE, fan, record)
        elif CODE not in record.facts["not_applicable"] and (record.facts["protection"] in _SEEN or fan in asked):
            yield _judge(view, record)


def _range_of(design: FanDesign | None) -> tuple[float | None, float | None] | None:
    if design is None or (design.overload_low_a is None and design.overload_high_a is None):
        return None
    return design.overload_low_a, design.overload_high_a


def _judge(view: View, record: FanRecord) -> Judgement:
    protection = record.facts["protection"]
    if protection == "none":
        text = "No overload protection was seen; the electrician says where it is."
        return absent(RULE, record.fan, Absence("not_judged", text))
    figure = record.judged_figure(CODE, "The overload setting")
    if isinstance(figure, Absence):
        return absent(RULE, record.fan, figure)
    nameplate = record.motor.current_a
    design = view.place.fans.get(record.fan)
    given = _range_of(design)
    if not nameplate:
        text = "Neither a nameplate that was seen nor the design gives the motor's current."
        return absent(RULE, record.fan, Absence("not_given", text))
    check = _checked(record, figure.value, nameplate)
    rule, limits = _limits(check, given, design, nameplate)
    return decided(
        rule,
        view,
        record.fan,
        [record.final],
        value=check.share,
        standard_uncertainty=0.0,
        expanded_uncertainty=0.0,
        limits=limits,
        facts={
            "setting_a": figure.value,
            "nameplate_current_a": nameplate,
            "protection": protection,
            "dial_low_a": record.facts["dial_low_a"],
            "dial_high_a": record.facts["dial_high_a"],
            "out_of_reach": _out_of_reach(record, limits, nameplate),
            "service_factor": record.motor.service_factor,
            **motor_judging.motor_facts(record),
        },
        look_next=_STEPS,
        sources=record.motor.sources,
    )


def _checked(record: FanRecord, setting_a: float, nameplate_a: float) -> OverloadCheck:
    return overload_check(
        setting_a=setting_a,
        nameplate_current_a=nameplate_a,
        service_factor=record.motor.service_factor,
        temperature_rise_k=record.motor.temperature_rise_k,
        relay_least_a=record.facts["dial_low_a"] or None,
        relay_most_a=record.facts["dial_high_a"] or None,
    )


def _limits(
    check: OverloadCheck,
    given: tuple[float | None, float | None] | None,
    design: FanDesign | None,
    nameplate_a: float,
) -> tuple[Rule, Limits]:
    """The design's range where it gives one, else the usual one; as shares of the nameplate."""
    if given is None or design is None:
        return RULE, Limits(1.0, check.limit_share)
    low, high = (None if end is None else end / nameplate_a for end in given)
    source = design.sources.get("overload_high") or design.sources.get("overload_low") or "the design"
    return Rule(CODE, VERSION, source), Limits(low, high)


def _out_of_reach(record: FanRecord, limits: Limits, nameplate_a: float) -> bool:
    """Whether the dial cannot be turned to where it ought to stand."""
    least, most = record.facts["dial_low_a"], record.facts["dial_high_a"]
    too_large = least is not None and limits.high is not None and least > limits.high * nameplate_a
    too_small = most is not None and limits.low is not None and most < limits.low * nameplate_a
    return too_large or too_small


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    if judgement["absence"] is not None:
        return motor_judging.absent_page(judgement, TITLE)
    facts = judgement["facts"]
    nameplate = facts["nameplate_current_a"]
    low, high = (None if judgement[end] is None else judgement[end] * nameplate for end in ("low", "high"))
    allowed = " to ".join(amps(end) for end in (low, high) if end is not None)
    text = (
        f"{motor_judging.fan_of(judgement)}: set to {amps(facts['setting_a'])} for a motor of {amps(nameplate)}; "
        f"allowed {'at least ' if high is None else 'at most ' if low is None else ''}{allowed}."
    )
    lines = (
        WorkingLine("Setting", f"I_set, of the {facts['protection']}", f"{facts['setting_a']:g} A"),
        WorkingLine("Nameplate", "I_n", f"{nameplate:g} A", shows.source_of(judgement, "current_a")),
        WorkingLine("Share", "I_set / I_n", f"{judgement['value']:.4f}"),
        WorkingLine("Service factor marked", "from 1.15 on 1.25 I_n, else 1.15 I_n", f"{facts['service_factor']:g}"),
        WorkingLine("Limits", "", f"{allowed}", judgement["clause"]),
    )
    told = (Sentence(_DIAL),) if facts["out_of_reach"] else ()
    return motor_judging.page(judgement, TITLE, text, lines, *told)
