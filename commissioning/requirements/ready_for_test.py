"""Ready for test: everything on the checklist that applies to the unit is answered rightly, or its hold is lifted.

Counts by group, and who has the next move by trade. What somebody cannot answer yet is open and not failing. Where
the project asks for sign-offs, the company of each trade that has items here has signed that they are complete.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table, Working, WorkingLine
from commissioning.catalogue.checks import CATALOGUE
from commissioning.dossier import checklist as standing
from commissioning.dossier import shows
from commissioning.dossier.checklist_shows import Own, cautions, conflict_table, move_table, said_table, who_next
from commissioning.dossier.checklist_signoffs import SignOff, missing, signoff_table, signoffs_of, who_signs
from commissioning.dossier.own_checks import group_titles
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Verdict

CODE = "ready_for_test"
TITLE = "Ready for test"
VERSION = CATALOGUE.version
PRIORITY = "performance"
CLAUSE = "every item that applies answered rightly, or its hold lifted; common practice, no source"
NOT_NAMED = "The design names no options or field sensors of this unit: what only some units have is not asked."
_SHOWN_STEPS = 6


def judge(view: View) -> Iterator[Judgement]:
    found = standing.checklist_of(view)
    if found is not None and found.standings:
        yield _judge(view, found)


def _judge(view: View, found: standing.Checklist) -> Judgement:
    told: dict[str, Any] = {
        "clause": CLAUSE,
        "rests_on": found.rests_on,
        "sources": dict(found.sources),
        "facts": {
            "catalogue": CATALOGUE.version,
            "design_named": standing.says_what_it_has(view.place.parts("equipment").get("unit")),
            "groups": standing.counts(found),
            "moves": standing.moves(found),
            "items": [one.to_json() for one in found.among(*standing.OPEN, *standing.SETTLED)],
        },
    }
    if not view.place.is_counted:
        return Judgement(CODE, "", VERSION, absence=view.not_counted(), **told)
    signoffs = signoffs_of(view, found)
    if found.own:
        told["facts"]["own"] = found.own
    if signoffs:
        told["facts"]["signoffs"] = [one.to_json() for one in signoffs]
    failing = found.among("held", "wrong")
    if failing:
        steps = [f"{who_next(*one.mover).capitalize()}: {one.item.text} {one.item.how}" for one in failing]
        more = [f"And {len(steps) - _SHOWN_STEPS} more, in the table."] if len(steps) > _SHOWN_STEPS else []
        look_next = (*steps[:_SHOWN_STEPS], *more)
        return Judgement(
            CODE, "", VERSION, verdict=Verdict.DOES_NOT_CONFORM, rule="simple", look_next=look_next, **told
        )
    absence = _open(found) or _unsigned(missing(view, signoffs))
    if absence is not None:
        return Judgement(CODE, "", VERSION, absence=absence, **told)
    return Judgement(CODE, "", VERSION, verdict=Verdict.CONFORMS, rule="simple", **told)


def _open(found: standing.Checklist) -> Absence | None:
    again, due, cannot = (found.among(state) for state in ("again", "due", "cannot"))
    if not (again or due or cannot):
        return None
    first = standing.moves(found)[0]
    who = f" Next: {who_next(first['trade'], first['company'])}, {len(first['items'])}."
    if again:
        return Absence(
            "recheck", f"To be answered again: {len(again)} of {len(found.standings)}. {again[0].again}{who}"
        )
    why = f", {len(cannot)} of them cannot be yet" if cannot else ""
    return Absence("not_due", f"Not answered: {len(due) + len(cannot)} of {len(found.standings)}{why}.{who}")


def _unsigned(yet: list[SignOff]) -> Absence | None:
    if not yet:
        return None
    code = "recheck" if any(one.given or one.again for one in yet) else "not_due"
    return Absence(code, f"Every item is answered. Yet to be signed off by: {who_signs(yet)}.")


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    facts = judgement["facts"]
    by_state = {state: [one for one in facts["items"] if one["state"] == state] for state in standing.STATES}
    own = facts.get("own", {})
    care = cautions((one["item"] for one in facts["items"] if one["state"] not in standing.SETTLED), own)
    tables = (
        *said_table(by_state["held"], "Safety holds without a release", own),
        *said_table(by_state["wrong"], "What is wrong", own),
        *said_table(by_state["cannot"], "What cannot be answered yet", own),
        *move_table(facts["moves"], own),
        *signoff_table(facts.get("signoffs", ()), own),
        _groups(facts["groups"], own),
        *said_table(by_state["lifted"], "Wrong, and its hold lifted", own),
        *conflict_table(facts["items"], own),
        *(() if facts["design_named"] else (Sentence(NOT_NAMED, "aside"),)),
    )
    if judgement["absence"] is not None:
        return (*care, *shows.absent(judgement, TITLE), *tables)
    working = (WorkingLine("Criterion", "", judgement["clause"]), *shows.decision(judgement))
    return (
        *care,
        shows.lead(judgement, _text(by_state, len(facts["items"]))),
        *tables,
        Working(working, TITLE),
        *shows.next_steps(judgement),
    )


def _text(by_state: Mapping[str, list[Any]], items: int) -> str:
    wrong, held, lifted = (len(by_state[state]) for state in ("wrong", "held", "lifted"))
    if not wrong and not held:
        more = f", {lifted} of them with the hold lifted" if lifted else ""
        return f"All {items} items that apply are answered{more}."
    parts = [f"{held} hold for safety" if held > 1 else "1 holds for safety"] if held else []
    parts += [f"{wrong} {'is' if wrong == 1 else 'are'} wrong"] if wrong else []
    return f"Of {items} items {' and '.join(parts)}."


def _groups(groups: list[Mapping[str, Any]], own: Own) -> Table:
    titles = group_titles(own)
    rows = tuple(
        (
            titles.get(one["group"], one["group"]),
            str(one["items"]),
            str(one["right"] + one["lifted"]),
            str(one["held"] + one["wrong"]),
            str(one["cannot"]),
            str(one["due"] + one["again"]),
        )
        for one in groups
    )
    columns = (
        Column("Group"),
        *(Column(title, "", "right") for title in ("Items", "Settled", "Failing", "Cannot yet", "Open")),
    )
    return Table(columns, rows, "By group")
