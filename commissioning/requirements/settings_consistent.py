"""Settings that fit one another, the sensors, the order and the site: rules over the newest snapshot as left.

Only what was read is looked at. What changed since the final readings is told here and fails nothing: the ports that it
moves are measured again.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table
from commissioning.dossier import printing, shows
from commissioning.dossier.figures import Figures
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.settings import behaviour, printed, show_behaviour, show_drift, snapshot
from commissioning.dossier.settings.all_rules import findings
from commissioning.dossier.settings.compare import changes, in_both
from commissioning.dossier.settings.rules import CLOCK, SEVERITIES, WINTER, Case, Rule
from commissioning.dossier.settings.words import MOMENTS, clock, person
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Verdict

CODE = "settings_consistent"
TITLE = "Controller settings"
VERSION = 3
PRIORITY = "performance"
FAILS = "settings contradict something"
_CLAUSE = "rules over settings, each with its source"
_NOTHING_READ = "Nothing was read that a rule could look at."


def judge(view: View) -> Iterator[Judgement]:
    if not snapshot.snapshots(view):
        return
    if not view.place.is_counted:
        yield Judgement(CODE, "", VERSION, absence=view.not_counted())
        return
    standing = snapshot.standing(view)
    yield Judgement(CODE, "", VERSION, absence=standing) if isinstance(standing, Absence) else _judge(view, standing)


def _judge(view: View, standing: Figures) -> Judgement:
    case = snapshot.case_of(view, standing)
    found = findings(case)
    facts = {
        "moment": standing.facts["moment"],
        "observed_at": standing.observed_at,
        "findings": [_finding(rule, case) for rule in found.fired],
        "held": found.held,
        "not_read": [{"code": rule.code, "settings": _missing(rule, case)} for rule in found.not_read],
        "obstacles": show_behaviour.obstacles_json(
            behaviour.obstacles(case, standing.facts["now"], standing.facts["second_of_day"])
        ),
        "behaviour": show_behaviour.rows_json(behaviour.table(case)),
        "before": _compared(snapshot.before(view, standing), standing, is_earlier=True),
        "later": _compared(snapshot.later_look(view, standing), standing, is_earlier=False),
        "since_finals": show_drift.since_finals(view),
    }
    rests_on = (standing.envelope,)
    if not found.fired and not found.held:
        absence = Absence("not_judged", _NOTHING_READ)
        return Judgement(CODE, "", VERSION, absence=absence, rests_on=rests_on, facts=facts)
    fails = any(rule.severity != "look" for rule in found.fired)
    return Judgement(
        CODE,
        "",
        VERSION,
        verdict=Verdict.DOES_NOT_CONFORM if fails else Verdict.CONFORMS,
        clause=_CLAUSE,
        rule="simple",
        rests_on=rests_on,
        facts=facts,
        look_next=tuple(dict.fromkeys(rule.remedy for rule in found.fired)) if fails else (),
    )


def _finding(rule: Rule, case: Case) -> dict[str, Any]:
    beside = {CLOCK: case.clock_off_s, WINTER: case.winter_c}
    values = [[name, case.values[name] if name in case.values else beside.get(name)] for name in rule.needs]
    return {
        "code": rule.code,
        "severity": rule.severity,
        "reason": rule.reason,
        "remedy": rule.remedy,
        "source": rule.source,
        "values": values,
        "others": [one.name for one in rule.others(case)],
    }


def _missing(rule: Rule, case: Case) -> list[str]:
    return [name for name in rule.needs if not case.knows(name)]


def _compared(other: Figures | None, standing: Figures, *, is_earlier: bool) -> dict[str, Any] | None:
    """What changed between the snapshot judged and another; what was read at one of them only is no change."""
    if other is None:
        return None
    pair = (other, standing) if is_earlier else (standing, other)
    found = in_both(changes(pair[0].facts["values"], pair[1].facts["values"]))
    return {
        "moment": other.facts["moment"],
        "observed_at": other.observed_at,
        "by": person(other.facts["by"]),
        "is_earlier": is_earlier,
        "changes": show_behaviour.changes_json(found),
    }


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    absent = shows.absent(judgement, TITLE)
    facts = judgement["facts"]
    if not facts:
        return absent
    return (
        *(absent or (shows.lead(judgement, _said(facts)),)),
        *_findings(facts["findings"], display),
        *_not_read(facts["not_read"]),
        *show_drift.show(facts["since_finals"], display),
        *show_behaviour.starting(facts["obstacles"]),
        *show_behaviour.behaviour(facts["behaviour"], display),
        *(
            block
            for name in ("before", "later")
            for block in show_behaviour.compared(facts[name], display, now=_when(facts))
        ),
        *shows.next_steps(judgement),
    )


def _said(facts: Mapping[str, Any]) -> str:
    hard = sum(one["severity"] != "look" for one in facts["findings"])
    soft = len(facts["findings"]) - hard
    said = (
        f"{_count(hard, 'setting contradicts', 'settings contradict')} something"
        if hard
        else "Nothing that was read contradicts"
    )
    more = f"; {_count(soft, 'more is', 'more are')} worth a look" if soft else ""
    unread = len(facts["not_read"])
    beside = f", and {_count(unread, 'rule', 'rules')} could not be looked at" if unread else ""
    held = _count(facts["held"], "rule holds", "rules hold")
    return f"In the settings {_when(facts)}: {said[:1].lower()}{said[1:]}{more}. {held}{beside}."


def _when(facts: Mapping[str, Any]) -> str:
    return f"{MOMENTS[facts['moment']]}, {printing.moment(facts['observed_at'])}"


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def _findings(found: list[Mapping[str, Any]], display: str) -> tuple[Block, ...]:
    if not found:
        return ()
    rows = tuple(
        (
            f"{one['code']}, {SEVERITIES[one['severity']]}",
            one["reason"],
            "; ".join([*(_value(name, held, display) for name, held in one["values"]), *_others(one["others"])]),
            one["remedy"],
            one["source"],
        )
        for one in found
    )
    columns = (Column("Rule"), Column("What"), Column("As read"), Column("What to do"), Column("Source"))
    return (Table(columns, rows, "What the rules found, worst first"),)


def _others(names: list[str]) -> list[str]:
    return [f"the same at {', '.join(names)}"] if names else []


def _value(name: str, held: Any, display: str) -> str:
    if name == CLOCK:
        return f"clock {clock(held)}"
    if name == WINTER:
        return f"winter design {printed.value('frost_limit', held, display)}"
    return f"{printed.title_of(name)}: {printed.value(name, held, display)}"


def _not_read(missing: list[Mapping[str, Any]]) -> tuple[Block, ...]:
    if not missing:
        return ()
    beside = {CLOCK: "the controller's clock", WINTER: "the winter design temperature"}
    names = dict.fromkeys(name for one in missing for name in one["settings"])
    listed = ", ".join(beside.get(name) or printed.lower_title_of(name) for name in names)
    text = f"{_count(len(missing), 'rule', 'rules')} could not be looked at, for these were not read: {listed}."
    return (Sentence(text, "aside"),)
