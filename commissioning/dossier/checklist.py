"""The checklist of a unit as it stands: everybody's answers merged item by item, and what holds the unit back.

The newest answer of each item stands, by the time of observation. A safety item that was once answered wrongly holds
until a release is recorded: no later answer lifts it. Answers of the machine before, or of another one, do not count.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any

from commissioning.catalogue.checks import CATALOGUE, Group, Item
from commissioning.catalogue.units import VOCABULARY, Equipment
from commissioning.dossier.figures import Figures
from commissioning.dossier.own_checks import differing
from commissioning.dossier.view import View

KIND = "checklist"
OPEN = ("held", "wrong", "cannot", "again", "due")  # the worst first; the others are right, lifted
SETTLED = ("lifted", "right")
STATES = {
    "held": "holds: no release is recorded",
    "wrong": "wrong",
    "cannot": "cannot be answered yet",
    "again": "to be answered again",
    "due": "not answered yet",
    "lifted": "wrong, and its hold is lifted",
    "right": "right",
}


@dataclass(frozen=True, slots=True)
class Said:
    """One answer as somebody gave it; `facts` as the kind keeps them."""

    record: Figures
    facts: Mapping[str, Any]

    @property
    def outcome(self) -> str:
        return str(self.facts["outcome"])  # right, wrong or cannot

    @property
    def by(self) -> str:
        return str(self.record.facts["by"])

    @property
    def words(self) -> str:
        return str(self.facts["said"])

    def to_json(self) -> dict[str, Any]:
        """What was said and when; where it is a contractor's word, whose."""
        company = str(self.record.facts.get("company") or "")
        told = {"said": self.words, "on": self.record.observed_at}
        return told | ({"company": company} if company else {})


@dataclass(frozen=True, slots=True)
class Standing:
    """Where one item stands."""

    item: Item
    answer: Said | None = None
    failed: Said | None = None  # the wrong answer that has to be lifted
    lift: Mapping[str, Any] | None = None  # the release, or the lead's reason, that lifts it
    again: str = ""  # why it is to be answered again
    others: tuple[Said, ...] = ()  # what other people said last, where it is something else

    @property
    def state(self) -> str:
        if self.failed is not None and self.item.hold == "safety" and self.lift is None:
            return "held"
        if self.answer is None:
            return "again" if self.again else "due"
        if self.answer.outcome == "wrong":
            return "wrong" if self.lift is None else "lifted"
        return self.answer.outcome

    @property
    def mover(self) -> tuple[str, str]:
        """The trade that has the next move, and the company where it was named."""
        if self.state == "cannot" and self.answer is not None:
            return self.answer.facts["trade"] or self.item.trade, self.answer.facts["company"]
        return self.item.trade, ""

    def to_json(self) -> dict[str, Any]:
        """As a judgement keeps it."""
        told = self.failed if self.state == "held" else self.answer
        return {
            "item": self.item.id,
            "state": self.state,
            **(told.to_json() if told else {"said": "", "on": ""}),
            "note": told.facts["note"] if told else self.again,
            "right_since": self.state == "held" and self.answer is not None and self.answer.outcome == "right",
            "mover": list(self.mover),
            "lift": dict(self.lift) if self.lift else None,
            "others": [one.to_json() for one in self.others],
        }


@dataclass(frozen=True)
class Checklist:
    """All items that apply to a unit, and those that somebody answered all the same."""

    equipment: Equipment
    standings: tuple[Standing, ...] = ()
    rests_on: tuple[str, ...] = ()
    sources: Mapping[str, str] = field(default_factory=dict)
    groups: tuple[Group, ...] = CATALOGUE.groups  # with those of the firm's own

    @property
    def own(self) -> dict[str, dict[str, Any]]:
        """Items that the firm added or worded otherwise, by id."""
        return differing({one.item.id: one.item for one in self.standings}, self.groups)

    def among(self, *states: str) -> list[Standing]:
        return [one for state in states for one in self.standings if one.state == state]

    @cached_property
    def safety(self) -> "Checklist":
        held = tuple(one for one in self.standings if one.item.hold == "safety")
        return Checklist(self.equipment, held, self.rests_on, self.sources, self.groups)


def equipment_of(kind: str, design: Mapping[str, Any]) -> Equipment:
    """What the design, in the document's form, says of a unit, its motors included."""
    given = (design.get("equipment") or {}).get("unit") or {}
    fans = (design.get("fans") or {}).values()
    motors = [fan["motor"] for fan in fans if fan.get("motor")]
    drives = {bool(fan["drive"]) for fan in fans if fan.get("drive") is not None}
    return Equipment(
        kind=kind,
        options=frozenset(given.get("options") or ()),
        sensors=frozenset(given.get("field_sensors") or ()),
        motors=frozenset(motors) if motors and len(motors) == len(fans) else None,
        drive=drives.pop() if len(drives) == 1 and all(fan.get("drive") is not None for fan in fans) else None,
        ducted=given.get("ducted") or "",
        own_kind=given.get("own_kind") or "",
    )


def says_what_it_has(unit: Mapping[str, Any] | None) -> bool:
    """Whether the design says what the unit has; a list of tests alone does not.

    >>> says_what_it_has({"tests": ["power"]}), says_what_it_has({"options": []}), says_what_it_has(None)
    (False, True, False)
    """
    return any((unit or {}).get(name) is not None for name in ("options", "field_sensors", "ducted"))


def checklist_of(view: View) -> Checklist | None:
    """The checklist as it stands; None where neither a record nor the design speaks of one."""
    records = view.of_kind(KIND)
    design = view.place.parts("equipment").get("unit")
    if not records and not says_what_it_has(design):
        return None
    equipment = equipment_of(view.place.kind, view.place.design)
    answered = {one["item"] for record in records for one in record.facts["answers"]}
    checks = view.conventions.checks
    applying = {item.id for item in checks.applying(equipment)}
    asked = [item for id, item in checks.items.items() if id in applying | answered]
    return Checklist(
        equipment,
        tuple(_standing(view, item, records) for item in asked),
        tuple(record.envelope for record in records),
        dict((design or {}).get("sources") or {}),
        checks.groups,
    )


def _standing(view: View, item: Item, records: Sequence[Figures]) -> Standing:
    given = [Said(record, one) for record in records for one in record.facts["answers"] if one["item"] == item.id]
    doubts = [view.doubt(one.record) for one in given]
    counted = [one for one, doubt in zip(given, doubts, strict=True) if doubt is None]
    again = next((doubt.text for doubt in reversed(doubts) if doubt is not None), "")
    if not counted:
        return Standing(item, again=again)
    answer = counted[-1]
    wrong = [one for one in counted if one.outcome == "wrong"] if item.hold == "safety" else [answer]
    failed = wrong[-1] if wrong and wrong[-1].outcome == "wrong" else None
    last_of = {one.by: one for one in counted}  # of each person the last
    others = tuple(one for one in last_of.values() if one.words != answer.words)
    lift = _lift(view, item, failed, records) if failed else None
    return Standing(item, answer, failed, lift, again, others)


def _lift(view: View, item: Item, failed: Said, records: Sequence[Figures]) -> Mapping[str, Any] | None:
    """The newest release or lift recorded no earlier than the wrong answer, and given no earlier than its day."""
    found = None
    for record in records:
        if record.when < failed.record.when or view.doubt(record) is not None:
            continue
        for one in record.facts["releases" if item.hold == "safety" else "lifts"]:
            if one["item"] == item.id and date.fromisoformat(one["on"]) >= view.day(failed.record):
                found = one
    return found


def moves(checklist: Checklist) -> list[dict[str, Any]]:
    """Who has the next move: for each trade, and company where one was named, its items, the most urgent first."""
    held: dict[tuple[str, str], list[Standing]] = {}
    for one in checklist.among(*OPEN):
        held.setdefault(one.mover, []).append(one)
    trades = list(VOCABULARY.trades)
    order = sorted(held, key=lambda mover: (-len(held[mover]), trades.index(mover[0]), mover[1]))
    return [
        {"trade": trade, "company": company, "items": [one.item.id for one in held[trade, company]]}
        for trade, company in order
    ]


def counts(checklist: Checklist) -> list[dict[str, Any]]:
    """Of each group that applies, how many items stand how."""
    return list(_counts(checklist))


def _counts(checklist: Checklist) -> Iterator[dict[str, Any]]:
    for group in checklist.groups:
        states = [one.state for one in checklist.standings if one.item.group == group.code]
        if states:
            yield {"group": group.code, "items": len(states)} | {state: states.count(state) for state in STATES}
