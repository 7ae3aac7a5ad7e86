"""Rotation: the fan turns the right way, as somebody saw it. A reversed fan moves some air and draws current too."""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, WorkingLine
from commissioning.dossier import motor_judging
from commissioning.dossier.motor_judging import FanRecord, Rule, absent, recorded
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Verdict

CODE = "fan_rotation"
TITLE = "Rotation of the fan"
VERSION = 1
PRIORITY = "performance"
OF = "fan"
RULE = Rule(CODE, VERSION, "rotation as marked on the casing; common practice, no source")
_STEPS = (
    "Is it the fan that turns wrongly, or its mark? Look at the arrow on the casing and at the shape of the blades.",
    "Three phases: the electrician exchanges two leads, of a drive on its output. One phase: by the motor's diagram.",
    "With a drive: see the rotation again on the bypass, which has its own order of phases.",
    "Whatever was read while it ran backwards (airflow, pressures, amps) is read again.",
)


def judge(view: View) -> Iterator[Judgement]:
    for fan, record in recorded(view, with_air=False, with_meter=False):
        yield absent(RULE, fan, record) if isinstance(record, Absence) else _judge(record)


def _judge(record: FanRecord) -> Judgement:
    seen = record.facts["rotation"]
    if seen == "not_seen":
        text = "Nobody saw which way it turns; current and airflow do not tell, a reversed fan has both."
        return absent(RULE, record.fan, Absence("not_judged", text))
    wrong = seen == "reversed"
    return Judgement(
        CODE,
        record.fan,
        VERSION,
        verdict=Verdict.DOES_NOT_CONFORM if wrong else Verdict.CONFORMS,
        clause=RULE.clause,
        rule="simple",
        rests_on=(record.final.envelope,),
        facts={"rotation": seen, **motor_judging.motor_facts(record)},
        look_next=_STEPS if wrong else (),
    )


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    if judgement["absence"] is not None:
        return motor_judging.absent_page(judgement, TITLE)
    way = "the wrong way" if judgement["facts"]["rotation"] == "reversed" else "the right way"
    lines = (WorkingLine("Rotation", "as seen", judgement["facts"]["rotation"], judgement["clause"]),)
    return motor_judging.page(judgement, TITLE, f"{motor_judging.fan_of(judgement)}: turns {way}.", lines)
