"""Fan proven: on by command, turning the right way, and moving air, seen by a pressure or a flow.

Neither a command nor a current proves a fan. A short loss of proof inside its delay is logged and fails nothing.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Column, Table, Working, WorkingLine
from commissioning.dossier import motor_judging, shows
from commissioning.dossier.motor_shows import amps
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.startup import words
from commissioning.dossier.startup.proof import Proof, proof_of
from commissioning.dossier.startup.standing import KIND, Delay, fans_of, rests_on
from commissioning.dossier.startup.words import CAUTION, seconds
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Verdict

CODE = "fan_proven"
TITLE = "Fan proven"
VERSION = 1
PRIORITY = "performance"
OF = "fan"
CLAUSE = "a command is no proof, a current alone neither: air is seen to move; common practice, no source"
_STEPS = (
    "Locked out and standing still: belt, coupling, wheel on its shaft; then dampers, filters and the path of the air.",
    "No current: disconnect, fuses, overload, drive and its enable, the controller's output; by a qualified person.",
    "Rotation: a short start, watched as it runs down; the electrician exchanges two leads where it is wrong.",
    "The proof itself: tubing, setting and wiring of the switch; with the fan off it has to be open.",
)
_LOSSES = {
    "on_purpose": "on purpose",
    "short": "inside its delay: logged",
    "long": "longer than its delay",
    "stays_lost": "did not come back",
    "not_given": "no delay given",
}


def judge(view: View) -> Iterator[Judgement]:
    if not view.of_kind(KIND):
        return
    for fan in fans_of(view):
        if not view.place.is_counted:
            yield Judgement(CODE, fan, VERSION, absence=view.not_counted())
            continue
        found = proof_of(view, fan)
        yield Judgement(CODE, fan, VERSION, absence=found) if isinstance(found, Absence) else _judge(view, found)


def _judge(view: View, found: Proof) -> Judgement:
    limit = Delay(**found.facts["delay"]) if found.facts["lost"] else Delay(None)
    motor = (found.electrical,) if found.electrical else ()
    told: dict[str, Any] = {
        "clause": CLAUSE,
        "rests_on": (*rests_on(view, found.start, limit), *motor),
        "facts": {**found.facts, "why": list(found.fails)},
    }
    if found.absence is not None:
        return Judgement(CODE, found.fan, VERSION, absence=found.absence, **told)
    verdict = Verdict.DOES_NOT_CONFORM if found.fails else Verdict.CONFORMS
    steps = _STEPS if found.fails else ()
    return Judgement(CODE, found.fan, VERSION, verdict=verdict, rule="simple", look_next=steps, **told)


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    facts = judgement["facts"]
    if judgement["absence"] is not None:
        return (*motor_judging.absent_page(judgement, TITLE), *(_steps(facts) if facts else ()))
    first = () if judgement["verdict"] == "conforms" else (CAUTION,)
    lines = (WorkingLine("Criterion", "", judgement["clause"]), *shows.decision(judgement))
    told = " ".join(facts["why"]) or f"Commanded, and {_by(facts)}; {words.ROTATIONS[facts['rotation']]}."
    return (
        *first,
        shows.lead(judgement, f"{motor_judging.fan_of(judgement)}: {told[:1].lower()}{told[1:]}"),
        *_steps(facts),
        Working(lines, TITLE),
        *shows.next_steps(judgement),
    )


def _by(facts: Mapping[str, Any]) -> str:
    by = words.AIR_BY.get(facts["air"]["by"], "")
    return f"{words.AIR[facts['air']['seen']]}{f' by {by}' if by else ''}"


def _steps(facts: Mapping[str, Any]) -> tuple[Block, ...]:
    seen = f", in {facts['rotation_seen']}" if facts["rotation_seen"] else ""
    rows = [
        ("Command", "on", _time(facts["commanded_s"])),
        ("Current", words.CURRENTS[facts["current"]["seen"]], _time(facts["current"]["at_s"])),
        ("Air", _by(facts), _time(facts["air"]["at_s"])),
        ("Rotation", f"{words.ROTATIONS[facts['rotation']]}{seen}", ""),
    ]
    if facts["current_a"] is not None:
        rows.append(("Current, in the record of its motor", amps(facts["current_a"]), ""))
    if facts["speed_rpm"] is not None:
        rows.append(("Speed, in the record of its motor", f"{facts['speed_rpm']:.0f} rpm", ""))
    for one in facts["lost"]:
        lasted = "" if one["lasted_s"] is None else f", for {seconds(one['lasted_s'])}"
        rows.append((f"Loss of {one['of']} proof", f"{_LOSSES[one['state']]}{lasted}", _time(one["at_s"])))
    columns = (Column("Step"), Column("Seen"), Column("At", "", "right"))
    return (Table(columns, tuple(rows), "Command against proof, from the start command"),)


def _time(value: float | None) -> str:
    return "" if value is None else seconds(value)
