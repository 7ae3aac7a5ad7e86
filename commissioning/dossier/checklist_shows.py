"""Words and blocks that checklist records and what is judged from them have in common. From kept JSON alone."""

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Any

from commissioning.blocks import Block, Caution, Column, Table
from commissioning.catalogue.checks import CATALOGUE
from commissioning.catalogue.units import VOCABULARY

_LISTED = 5
_ROLES = {"installing_contractor": "installing contractor", "licensed_person": "licensed person"}


Own = Mapping[str, Mapping[str, Any]]
"""Items that a firm added or worded otherwise, as a judgement or a measurement keeps them: see `own_checks`."""


def title_of(item: str, own: Own = MappingProxyType({})) -> str:
    """The item's text, the firm's own before the catalogue's; an id that neither has stays an id."""
    if item in own:
        return str(own[item]["text"])
    known = CATALOGUE.items.get(item)
    return known.text if known else item


def cautions(items: Iterable[str], own: Own = MappingProxyType({})) -> tuple[Caution, ...]:
    """Each hazard of these items once, in the order of the vocabulary."""
    held = {id: one.caution for id, one in CATALOGUE.items.items()} | {id: one["caution"] for id, one in own.items()}
    codes = {code for id in items for code in held.get(id, ())}
    return tuple(Caution(one.text, one.title) for code, one in VOCABULARY.hazards.items() if code in codes)


def who_next(trade: str, company: str) -> str:
    """
    >>> who_next("electrical", "Halvard Electric"), who_next("general", ""), who_next("", "Halvard Electric")
    ('Halvard Electric (electrical)', 'general contracting', 'Halvard Electric')
    """
    words = VOCABULARY.trades.get(trade, trade)
    return f"{company} ({words})" if company and words else company or words


def lifted_by(lift: Mapping[str, Any]) -> str:
    """
    >>> lifted_by({"by": "Ysolde Marr", "reason": "the owner takes it like this", "on": "2026-05-04"})
    'Ysolde Marr, 2026-05-04: the owner takes it like this'
    """
    if "reason" in lift:
        return f"{lift['by']}, {lift['on']}: {lift['reason']}"
    licence = f", licence {lift['licence']}" if lift["licence"] else ""
    note = f": {lift['note']}" if lift["note"] else ""
    return f"{lift['person']}, {lift['company']}, {_ROLES[lift['by']]}{licence}, {lift['on']}{note}"


def move_table(moves: Iterable[Mapping[str, Any]], own: Own) -> tuple[Block, ...]:
    """Who has the next move, and on what."""
    rows = tuple(
        (who_next(one["trade"], one["company"]), str(len(one["items"])), _listed(one["items"], own)) for one in moves
    )
    columns = (Column("Who has the next move"), Column("Items", "", "right"), Column("Which"))
    return (Table(columns, rows, "Who has the next move"),) if rows else ()


def _listed(items: Sequence[str], own: Own) -> str:
    more = f" And {len(items) - _LISTED} more." if len(items) > _LISTED else ""
    return " ".join(title_of(id, own) for id in items[:_LISTED]) + more


def said_table(rows: Iterable[Mapping[str, Any]], caption: str, own: Own) -> tuple[Block, ...]:
    """Items as they stand: the answer, when, the note, and what lifts it."""
    cells = tuple(
        (title_of(one["item"], own), _answered(one), lifted_by(one["lift"]) if one["lift"] else "") for one in rows
    )
    columns = (Column("Item"), Column("Answer"), Column("Released or lifted by"))
    return (Table(columns, cells, caption),) if cells else ()


def _answered(one: Mapping[str, Any]) -> str:
    told = when_said(one) if one["said"] else "no answer that counts"
    note = f"; {one['note']}" if one["note"] else ""
    since = "; answered right since, which releases nothing" if one["right_since"] else ""
    return f"{told}{note}{since}"


def when_said(one: Mapping[str, Any]) -> str:
    """What was said, and at which minute, by the clock that the phone had; a contractor's word with its company."""
    company = f", {one['company']}" if one.get("company") else ""
    return f"{one['said']}, {one['on'][:16].replace('T', ' ')}{company}"


def conflict_table(rows: Iterable[Mapping[str, Any]], own: Own) -> tuple[Block, ...]:
    """Where two people answered differently: the newest stands, and the other stays in sight."""
    cells = tuple(
        (
            title_of(one["item"], own),
            when_said(one),
            "; ".join(when_said(other) for other in one["others"]),
        )
        for one in rows
        if one["others"]
    )
    columns = (Column("Item"), Column("Stands"), Column("Another person said"))
    return (Table(columns, cells, "Where two people answered differently"),) if cells else ()
