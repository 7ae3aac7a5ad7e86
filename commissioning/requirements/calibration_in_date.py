"""Calibration in date: the instrument of each final was calibrated when it was read, and was found good afterwards.

A lapsed calibration settles nothing either way, so the other verdicts of the port are provisional. One that later
found the instrument outside its limits reopens what was read since the calibration before it.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Working, WorkingLine
from commissioning.dossier import shows
from commissioning.dossier.results import Absence, Judgement, Measurement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Verdict

CODE = "calibration_in_date"
TITLE = "Calibration in date"
VERSION = 1
PRIORITY = "paper"
FAILS = "an instrument out of calibration"
MODES = ("design_maximum", "minimum", "other")
OUTCOMES = {
    "in_date": Verdict.CONFORMS,
    "lapsed": Verdict.INCONCLUSIVE,
    "none": Verdict.INCONCLUSIVE,
    "failed": Verdict.DOES_NOT_CONFORM,
}
_SAYS = {
    "in_date": "was in date",
    "lapsed": "had lapsed",
    "none": "has no calibration on record for that day",
    "failed": "was found outside its limits at the next calibration",
}
_STEPS = {
    "in_date": (),
    "lapsed": ("Calibrate it, and look at what it was found like; or read the port with one that is in date.",),
    "none": ("Enter its certificate, or read the port with an instrument that has one.",),
    "failed": ("Read the port again with an instrument that is in date; what this one read since cannot count.",),
}


def judge(view: View) -> Iterator[Judgement]:
    for port in view.ports:
        final = view.final(port, MODES)
        if isinstance(final, Absence) or final.calibration == "not_applicable":
            continue
        yield _judge(view, final)


def _judge(view: View, final: Measurement) -> Judgement:
    if not view.place.is_counted:
        return Judgement(CODE, final.port, VERSION, absence=view.not_counted())
    tool = view.instruments.get(final.instrument or "")
    return Judgement(
        CODE,
        final.port,
        VERSION,
        verdict=OUTCOMES[final.calibration],
        clause="calibrated on the day of reading, and found within its limits at the next calibration",
        rule="simple",
        rests_on=(final.envelope,),
        facts={
            "calibration": final.calibration,
            "certificate": final.certificate,
            "instrument": final.instrument,
            "name": f"{tool.name} {tool.serial}" if tool else "",
            "day": view.day(final).isoformat(),
        },
        look_next=_STEPS[final.calibration],
    )


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    absent = shows.absent(judgement, TITLE)
    if absent:
        return absent
    facts = judgement["facts"]
    name = facts["name"] or "The instrument, which is not in the list,"
    return (
        shows.lead(judgement, f"{shows.port_of(judgement)}: {name} {_SAYS[facts['calibration']]}."),
        Working(
            (
                WorkingLine("Read on", "in the site's zone", facts["day"]),
                WorkingLine("Certificate", "", facts["certificate"] or "none"),
                *shows.decision(judgement),
            ),
            TITLE,
        ),
        *shows.next_steps(judgement),
    )
