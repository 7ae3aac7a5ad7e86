"""Order of the start: dampers open before a fan is commanded, each delay inside its limit, alarms in time, the stop.

Whether a fan is proven at all is judged by itself. A short loss of proof inside its delay is logged and fails nothing.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from commissioning.blocks import Block, Column, Table, Working, WorkingLine
from commissioning.dossier import shows
from commissioning.dossier.figures import Figures
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.startup import sequence
from commissioning.dossier.startup.sequence import STATES, Row
from commissioning.dossier.startup.standing import ALLOWANCE_S, KIND, delays, is_commanded, rests_on, standing
from commissioning.dossier.startup.words import CAUTION, cause_of
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Verdict

CODE = "start_sequence"
TITLE = "Order of the start"
VERSION = 1
PRIORITY = "performance"
CLAUSE = "dampers open, then the fan; delays as given or as set; common practice, no source"
_STEPS = {
    "open_before": "Damper: linkage, actuator, end switch and its wiring; then the controller's order of start.",
    "travel": "Damper: how long its actuator takes by its plate, and whether it binds; then the delay in the settings.",
    "fan_order": "The delay from supply fan to exhaust fan in the settings, and what else commands either.",
    "in_time": "Ramp of the drive, then the place and the setting of the switch that proves the air, then the delay.",
    "alarm": "The alarm's delay and whether it is switched on; then lose the proof again on purpose, and time it.",
    "stop": "The order of the stop in the controller: the fans first, then the dampers.",
}


def judge(view: View) -> Iterator[Judgement]:
    if not view.of_kind(KIND):
        return
    if not view.place.is_counted:
        yield Judgement(CODE, "", VERSION, absence=view.not_counted())
        return
    start = standing(view)
    yield Judgement(CODE, "", VERSION, absence=start) if isinstance(start, Absence) else _judge(view, start)


def _judge(view: View, start: Figures) -> Judgement:
    rows = sequence.rows_of(view, start)
    told: dict[str, Any] = {
        "clause": CLAUSE,
        "rests_on": rests_on(view, start, *delays(view, start).values()),
        "facts": {"rows": rows, "observed_at": start.observed_at},
    }
    failing = [one for one in rows if one["state"] == "fails"]
    if failing:
        steps = dict.fromkeys(_STEPS[one["code"]] for one in failing)
        verdict = Verdict.DOES_NOT_CONFORM
        return Judgement(CODE, "", VERSION, verdict=verdict, rule="simple", look_next=tuple(steps), **told)
    absence = _open(start, rows)
    if absence is not None:
        return Judgement(CODE, "", VERSION, absence=absence, **told)
    return Judgement(CODE, "", VERSION, verdict=Verdict.CONFORMS, rule="simple", **told)


def _open(start: Figures, rows: Sequence[Row]) -> Absence | None:
    if not is_commanded(start):
        stop = start.facts["not_running"]
        why = f"It does not run: {cause_of(stop)}." if stop else "No fan was commanded."
        return Absence("not_due", why)
    untimed = [one for one in rows if one["state"] == "not_timed"]
    if untimed:
        return Absence("not_judged", f"{untimed[0]['step']}: {untimed[0]['seen']}.")
    if not any(one["state"] == "holds" for one in rows):
        return Absence("not_given", "No damper has to open before a fan, and no delay is given or was read.")
    return None


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    rows = judgement["facts"].get("rows", [])
    table = _table(rows)
    if judgement["absence"] is not None:
        return (*shows.absent(judgement, TITLE), *table)
    first = () if judgement["verdict"] == "conforms" else (CAUTION,)
    lines = (
        WorkingLine("Criterion", "", judgement["clause"]),
        WorkingLine("Allowance of a delay", "", f"± {ALLOWANCE_S:g} s", sequence.COMMON),
        *shows.decision(judgement),
    )
    return (*first, shows.lead(judgement, _text(rows)), *table, Working(lines, TITLE), *shows.next_steps(judgement))


def _text(rows: Sequence[Row]) -> str:
    failing = [one for one in rows if one["state"] == "fails"]
    if failing:
        told = "; ".join(f"{one['step']}: {one['seen']}" for one in failing)
        return f"{told}."
    leads = [one for one in rows if one["code"] == "open_before" and one["state"] == "holds"]
    holds = sum(one["state"] == "holds" for one in rows)
    first = f" {leads[0]['step']}: {leads[0]['seen']}." if leads else ""
    return f"{holds} step{'s' if holds != 1 else ''} of the start in order and in time.{first}"


def _table(rows: Sequence[Row]) -> tuple[Block, ...]:
    cells = tuple((one["step"], one["seen"], one["limit"], STATES[one["state"]], one["source"]) for one in rows)
    columns = tuple(Column(one) for one in ("Step", "Seen", "Limit", "It", "Source of the limit"))
    return (Table(columns, cells, "The start, step by step"),) if cells else ()
