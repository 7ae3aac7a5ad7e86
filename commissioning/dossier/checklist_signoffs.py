"""Sign-offs: a company's authorised person says that the items of its trade on a unit are complete.

The newest of each trade stands. It is void for an item that did not stand right when it was signed, or was answered
otherwise afterwards; then the trade signs again. An item whose hold was released or lifted takes nothing from it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from commissioning.blocks import Block, Column, Table
from commissioning.catalogue.units import VOCABULARY
from commissioning.dossier.checklist import KIND, Checklist, Standing
from commissioning.dossier.checklist_shows import Own, title_of, who_next
from commissioning.dossier.figures import Figures
from commissioning.dossier.view import View

STATES = {"signed": "signed", "void": "to be signed again", "again": "to be signed again", "due": "not signed yet"}


@dataclass(frozen=True, slots=True)
class SignOff:
    """Where one trade stands with its sign-off; `given` as the kind keeps it."""

    trade: str
    state: str
    given: Mapping[str, Any] | None = None
    broken: tuple[str, ...] = ()  # items for which it is void
    again: str = ""

    def to_json(self) -> dict[str, Any]:
        return {
            "trade": self.trade,
            "state": self.state,
            "given": dict(self.given) if self.given else None,
            "broken": list(self.broken),
            "again": self.again,
        }


def signoffs_of(view: View, found: Checklist) -> list[SignOff]:
    """Of each trade that the project asks for, and that has items on this unit; and of who signed all the same."""
    records = view.of_kind(KIND)
    trades = {one.item.trade for one in found.standings}
    asked = {trade for trade in view.conventions.signoffs_required if trade in trades}
    signed = {one["trade"] for record in records for one in record.facts.get("signoffs", ())}
    return [_of_trade(view, found, trade, records) for trade in VOCABULARY.trades if trade in asked | signed]


def missing(view: View, signoffs: Sequence[SignOff]) -> list[SignOff]:
    return [one for one in signoffs if one.state != "signed" and one.trade in view.conventions.signoffs_required]


def _of_trade(view: View, found: Checklist, trade: str, records: Sequence[Figures]) -> SignOff:
    given = [(record, one) for record in records for one in record.facts.get("signoffs", ()) if one["trade"] == trade]
    doubts = [view.doubt(record) for record, _ in given]
    counted = [one for one, doubt in zip(given, doubts, strict=True) if doubt is None]
    if not counted:
        again = next((doubt.text for doubt in reversed(doubts) if doubt is not None), "")
        return SignOff(trade, "again" if again else "due", again=again)
    record, newest = counted[-1]
    own = [one for one in found.standings if one.item.trade == trade and one.state != "lifted"]
    broken = tuple(one.item.id for one in own if _is_broken(view, one, record, records))
    return SignOff(trade, "void" if broken else "signed", newest, broken)


def _is_broken(view: View, one: Standing, signed: Figures, records: Sequence[Figures]) -> bool:
    outcomes = [
        (record.when > signed.when, answer["outcome"])
        for record in records
        if view.doubt(record) is None
        for answer in record.facts["answers"]
        if answer["item"] == one.item.id
    ]
    before = [outcome for is_later, outcome in outcomes if not is_later]
    return any(outcome != "right" for outcome in before[-1:]) or any(
        outcome != "right" for is_later, outcome in outcomes if is_later
    )


def who_signs(signoffs: Sequence[SignOff]) -> str:
    """Who has yet to sign, in words.

    >>> given = {"company": "Halvard Electric", "person": "Tove Brandeis", "on": "2026-05-04"}
    >>> who_signs([SignOff("controls", "due"), SignOff("electrical", "void", given, ("grounded",))])
    'controls; Halvard Electric (electrical) again, for 1 item answered otherwise since'
    """
    return "; ".join(_who_signs(one) for one in signoffs)


def _who_signs(one: SignOff) -> str:
    who = who_next(one.trade, one.given["company"] if one.given else "")
    count = len(one.broken)
    if count:
        return f"{who} again, for {count} item{'s' if count > 1 else ''} answered otherwise since"
    return f"{who} again" if one.again else who


def signoff_table(rows: Sequence[Mapping[str, Any]], own: Own) -> tuple[Block, ...]:
    """From a judgement's facts."""
    cells = tuple(
        (VOCABULARY.trades.get(one["trade"], one["trade"]), _state(one, own), _given(one["given"])) for one in rows
    )
    columns = (Column("Trade"), Column("It is"), Column("Signed by"))
    return (Table(columns, cells, "Sign-offs"),) if cells else ()


def _state(one: Mapping[str, Any], own: Own) -> str:
    why = one["again"] or " ".join(title_of(item, own) for item in one["broken"])
    return f"{STATES[one['state']]}{': ' if why else ''}{why}"


def _given(given: Mapping[str, Any] | None) -> str:
    return signed_by(given) if given else ""


def signed_by(given: Mapping[str, Any]) -> str:
    """
    >>> signed_by({"company": "Halvard Electric", "person": "Tove Brandeis", "on": "2026-05-04", "note": "both units"})
    'Tove Brandeis, Halvard Electric, 2026-05-04: both units'
    """
    note = f": {given['note']}" if given.get("note") else ""
    return f"{given['person']}, {given['company']}, {given['on']}{note}"
