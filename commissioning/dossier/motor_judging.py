"""What the requirements on motors have in common: the record that stands for a fan, the decision, the page's frame."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from commissioning.blocks import Block, Sentence, Working, WorkingLine
from commissioning.dossier import shows
from commissioning.dossier.figures import Figure, Figures
from commissioning.dossier.motor import LIVE_PARTS, Motor
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Limits, Verdict

KIND = "electrical"
FANS = ("supply", "exhaust")
INFORMATION = "The contract makes it no criterion. For information: "


@dataclass(frozen=True, slots=True)
class FanRecord:
    """The final that stands for one fan, and its motor."""

    fan: str
    final: Figures
    motor: Motor
    facts: Mapping[str, Any]

    @property
    def is_metered(self) -> bool:
        """Whether somebody read it with a meter: then the rest of what a meter reads is due too."""
        return any(self.figure(name) is not None for name in ("voltage", "current", "electrical_power"))

    @property
    def is_at_mains(self) -> bool:
        return not self.motor.has_drive and self.motor.kind != "electronically_commutated"

    def figure(self, name: str) -> Figure | None:
        return self.final.figure(name, self.fan)

    def judged_figure(self, name: str, missing: str) -> Figure | Absence:
        """A figure on which a verdict can rest, or why none can."""
        found = self.figure(name)
        if found is None:
            return Absence("not_due", f"{missing} was not read at the {self.fan} fan.")
        if found.doubts:
            return Absence("not_judged", f"{found.doubts[0][:1].upper()}{found.doubts[0][1:]}.")
        return found


def recorded(
    view: View, *, with_air: bool = True, with_meter: bool = True, also: Sequence[str] = ()
) -> Iterator[tuple[str, FanRecord | Absence]]:
    """Each fan that was recorded, and those of `also`, with the final that stands or why none does.

    What does not depend on the path of the air, or on a meter, is judged whatever the dampers and the papers are.
    """
    for fan in FANS:
        held = [one for one in view.records if one.kind == KIND and fan in one.facts["fans"]]
        if not with_air:
            held = [replace(one, faults=()) for one in held]
        if not with_meter:
            held = [replace(one, calibration="not_applicable") for one in held]
        if not held and fan not in also:
            continue
        final = replace(view, records=held).record(KIND)
        if isinstance(final, Absence):
            yield fan, final
        else:
            facts = final.facts["fans"][fan]
            yield fan, FanRecord(fan, final, Motor(**facts["motor"]), facts)


@dataclass(frozen=True, slots=True)
class Rule:
    """Which rule speaks, under which clause."""

    code: str
    version: int
    clause: str = ""


def absent(rule: Rule, fan: str, absence: Absence, **told: Any) -> Judgement:
    return Judgement(rule.code, fan, rule.version, absence=absence, **told)


def for_information(
    rule: Rule, record: FanRecord, figure: Figure, value: float, text: str, why: str, *, scale: float = 1.0
) -> Judgement:
    """A value beside its reason why nobody judges it; `scale` carries the figure's uncertainty to it."""
    return absent(
        rule,
        record.fan,
        Absence("not_given", f"{why} For information: {text}."),
        value=value,
        expanded_uncertainty=None if figure.expanded_uncertainty is None else figure.expanded_uncertainty * scale,
        unit="1",
        rests_on=(record.final.envelope,),
        facts=motor_facts(record),
    )


def decided(
    rule: Rule,
    view: View,
    port: str,
    finals: Sequence[Any],
    *,
    value: float,
    standard_uncertainty: float,
    expanded_uncertainty: float,
    limits: Limits,
    unit: str = "1",
    facts: Mapping[str, Any] | None = None,
    look_next: Sequence[str] = (),
    sources: Mapping[str, str] | None = None,
) -> Judgement:
    """The value against its limits by the project's decision rule."""
    conventions = view.conventions
    assessment = conventions.assess(
        value=value,
        standard_uncertainty=standard_uncertainty,
        expanded_uncertainty=expanded_uncertainty,
        limits=limits,
    )
    return Judgement(
        rule.code,
        port,
        rule.version,
        verdict=assessment.verdict,
        provisional=view.is_provisional(*finals),
        value=value,
        expanded_uncertainty=expanded_uncertainty,
        unit=unit,
        low=limits.low,
        high=limits.high,
        clause=rule.clause,
        rule=str(conventions.decision_rule),
        margin=assessment.margin,
        conformance_probability=assessment.conformance_probability,
        rests_on=tuple(dict.fromkeys(one.envelope for one in finals)),
        sources=dict(sources or {}),
        facts={**(facts or {}), "guard_multiplier": conventions.guard_multiplier},
        look_next=() if assessment.verdict is Verdict.CONFORMS else tuple(look_next),
    )


def motor_facts(record: FanRecord) -> dict[str, Any]:
    return {"motor": record.motor.to_json(), "read_at": record.facts["read_at"]}


def fan_of(judgement: Mapping[str, Any]) -> str:
    return f"{judgement['port'].capitalize()} fan" if judgement["port"] else "The unit"


def page(
    judgement: Mapping[str, Any], title: str, text: str, lines: Sequence[WorkingLine], *more: Block
) -> tuple[Block, ...]:
    """The page of a judgement with a verdict. The caution stands first where somebody is sent to live parts."""
    first = () if judgement["verdict"] == "conforms" else (LIVE_PARTS,)
    closing = shows.decision(judgement)
    return (
        *first,
        shows.lead(judgement, text),
        *more,
        Working((*lines, *closing), title),
        *shows.next_steps(judgement),
    )


def information(lines: Sequence[WorkingLine], title: str) -> tuple[Block, ...]:
    """The arithmetic of a value that nobody judges."""
    return (Working(tuple(lines), f"{title}, for information"),)


def absent_page(judgement: Mapping[str, Any], title: str) -> tuple[Block, ...]:
    """The page of a judgement without one; empty where there is one."""
    absence = judgement["absence"]
    if absence is None:
        return ()
    code = shows.ABSENCES[absence["code"]]
    who = fan_of(judgement)
    text = f"{title}, {who[:1].lower()}{who[1:]}: {code[:1].lower()}{code[1:]}. {absence['text']}"
    return (Sentence(text),)
