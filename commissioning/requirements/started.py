"""Started: the unit runs, nothing holds it back, its fans are proven in order, and its settings are left on record.

What fails by a requirement of its own keeps the start open here. A unit that does not run says why, and who is next.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table, Working, WorkingLine
from commissioning.dossier import shows
from commissioning.dossier.checklist_shows import who_next
from commissioning.dossier.figures import Figures
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.startup.standing import KIND, standing
from commissioning.dossier.startup.whole import Part, parts_of
from commissioning.dossier.startup.words import CAUTION
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Verdict

CODE = "started"
TITLE = "Started"
VERSION = 1
PRIORITY = "performance"
CLAUSE = (
    "runs with nothing held back, in order, each fan proven, settings as left on record; common practice, no source"
)
NOT_SAID = (
    "That a unit is started says nothing about whether it may be energised or entered. Local codes, the site's permits "
    "and licensed persons decide that."
)
_STATES = {"fails": "does not hold", "again": "due again", "open": "open", "settled": "settled"}


def judge(view: View) -> Iterator[Judgement]:
    if not view.of_kind(KIND):
        return
    if not view.place.is_counted:
        yield Judgement(CODE, "", VERSION, absence=view.not_counted())
        return
    start = standing(view)
    yield Judgement(CODE, "", VERSION, absence=start) if isinstance(start, Absence) else _judge(view, start)


def _judge(view: View, start: Figures) -> Judgement:
    parts = parts_of(view, start)
    told: dict[str, Any] = {
        "clause": CLAUSE,
        "rests_on": tuple(dict.fromkeys(envelope for one in parts for envelope in one.rests_on)),
        "facts": {"parts": [one.to_json() for one in parts], "observed_at": start.observed_at},
    }
    failing, open_ = ([one for one in parts if one.state in states] for states in (("fails",), ("again", "open")))
    if failing:
        steps = tuple(f"{_upper(who_next(*one.mover))}: {one.said}" for one in failing)
        verdict = Verdict.DOES_NOT_CONFORM
        return Judgement(CODE, "", VERSION, verdict=verdict, rule="simple", look_next=steps, **told)
    if open_:
        return Judgement(CODE, "", VERSION, absence=_absence(open_), **told)
    return Judgement(CODE, "", VERSION, verdict=Verdict.CONFORMS, rule="simple", **told)


def _absence(open_: list[Part]) -> Absence:
    again = [one for one in open_ if one.state == "again"]
    first = (again or open_)[0]
    more = f" And {len(open_) - 1} more." if len(open_) > 1 else ""
    text = f"{first.name}: {first.said}{more} Next: {who_next(*first.mover)}."
    return Absence("recheck" if again else "not_due", text)


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    parts = judgement["facts"].get("parts", [])
    closing = Sentence(NOT_SAID, "aside")
    if judgement["absence"] is not None:
        care = (CAUTION,) if parts else ()
        return (*care, *shows.absent(judgement, TITLE), *_table(parts), closing)
    failing = [one["said"] for one in parts if one["state"] == "fails"]
    text = " ".join(failing) or f"Started, and nothing of it is open; {len(parts)} parts."
    lines = (WorkingLine("Criterion", "", judgement["clause"]), *shows.decision(judgement))
    return (
        *((CAUTION,) if failing else ()),
        shows.lead(judgement, text),
        *_table(parts),
        Working(lines, TITLE),
        *shows.next_steps(judgement),
        closing,
    )


def _table(parts: list[Mapping[str, Any]]) -> tuple[Block, ...]:
    rows = tuple(
        (one["part"], _STATES[one["state"]], one["said"], who_next(*one["mover"]) if any(one["mover"]) else "")
        for one in parts
    )
    columns = (Column("Part"), Column("It is"), Column("In words"), Column("Who is next"))
    return (Table(columns, rows, "The start, part by part"),) if rows else ()


def _upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
