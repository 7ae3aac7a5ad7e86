"""Safety holds: what was answered wrongly at a safety item holds power back until its release is recorded.

By the installing contractor or a licensed person; nobody else lifts it, whatever role or reason. That no hold is open
is no statement that a unit may be energised or entered: that is said by those who are licensed to say it.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Sentence, WorkingLine
from commissioning.blocks import Working as Lines
from commissioning.catalogue.checks import CATALOGUE
from commissioning.dossier import checklist as standing
from commissioning.dossier import shows
from commissioning.dossier.checklist_shows import cautions, said_table, who_next
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Verdict

CODE = "safety_holds"
TITLE = "Safety holds"
VERSION = CATALOGUE.version
PRIORITY = "safety"
FAILS = "a safety hold stands"
CLAUSE = "every safety item answered rightly, or its release recorded; common practice, no source"
NOT_SAID = (
    "That no hold is open says nothing about whether the unit may be energised or entered. Local codes, the site's "
    "permits and licensed persons decide that."
)


def judge(view: View) -> Iterator[Judgement]:
    found = standing.checklist_of(view)
    if found is not None and found.safety.standings:
        yield _judge(view, found.safety)


def _judge(view: View, found: standing.Checklist) -> Judgement:
    held = found.among("held")
    told: dict[str, Any] = {
        "clause": CLAUSE,
        "rests_on": found.rests_on,
        "sources": dict(found.sources),
        "facts": {
            "catalogue": CATALOGUE.version,
            "items": [one.to_json() for one in found.among(*standing.OPEN, *standing.SETTLED)],
        }
        | ({"own": found.own} if found.own else {}),
    }
    if not view.place.is_counted:
        return Judgement(CODE, "", VERSION, absence=view.not_counted(), **told)
    if held:
        steps = tuple(f"{who_next(*one.mover).capitalize()}: {one.item.text} {one.item.how}" for one in held)
        closing = "The release is given by the installing contractor or a licensed person, and recorded with the name."
        return Judgement(
            CODE,
            "",
            VERSION,
            verdict=Verdict.DOES_NOT_CONFORM,
            rule="simple",
            look_next=(*steps, closing),
            **told,
        )
    absence = _open(found)
    if absence is not None:
        return Judgement(CODE, "", VERSION, absence=absence, **told)
    return Judgement(CODE, "", VERSION, verdict=Verdict.CONFORMS, rule="simple", **told)


def _open(found: standing.Checklist) -> Absence | None:
    again, due, cannot = (found.among(state) for state in ("again", "due", "cannot"))
    if again:
        return Absence("recheck", f"{_items(len(again))} to be answered again: {again[0].again}")
    if due or cannot:
        why = f", {len(cannot)} of them cannot be answered yet" if cannot else ""
        return Absence("not_due", f"{_items(len(due) + len(cannot))} not answered yet{why}.")
    return None


def _items(count: int) -> str:
    return f"{count} safety item is" if count == 1 else f"{count} safety items are"


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    items = judgement["facts"]["items"]
    held = [one for one in items if one["state"] == "held"]
    lifted = [one for one in items if one["lift"]]
    own = judgement["facts"].get("own", {})
    care = cautions((one["item"] for one in items if one["state"] not in standing.SETTLED), own)
    closing = Sentence(NOT_SAID, "aside")
    if judgement["absence"] is not None:
        return (*care, *shows.absent(judgement, TITLE), *said_table(lifted, "Released", own), closing)
    return (
        *care,
        shows.lead(judgement, _text(len(held), len(items), len(lifted))),
        *said_table(held, "What holds", own),
        *said_table(lifted, "Released", own),
        Lines((WorkingLine("Criterion", "", judgement["clause"]), *shows.decision(judgement)), TITLE),
        *shows.next_steps(judgement),
        closing,
    )


def _text(held: int, items: int, lifted: int) -> str:
    released = f", {lifted} by a recorded release" if lifted else ""
    if held:
        return f"{_count(held, 'safety hold')} of {items} safety items without a release; nobody here overrides one."
    return f"No safety hold is open: {_count(items, 'safety item')} answered{released}."


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
