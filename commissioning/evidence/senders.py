"""Whose word a record is: what only others may say, such as the lead, or the company of another trade.

Such a record is kept and never evaluated, with a problem at each field that is not its sender's to say.
"""

from collections.abc import Iterator

from commissioning import judging
from commissioning.dossier.envelope import Envelope
from commissioning.dossier.field_record import FieldRecord
from commissioning.dossier.problem import Problem
from commissioning.evidence.own_checks import catalogue_of
from portfolio import access
from portfolio.models import Person

SUBMIT = "submit_evidence"
COMPANY = "/payload/company"
_AGAIN = "Supersede it without this, and have it sent by who may."


def verb_of(kind: str) -> str:
    """What one has to be allowed where the record is, to submit one of this kind."""
    known = judging.KINDS.get(kind)
    return str(getattr(known.Payload, "submitted_by", SUBMIT)) if known else SUBMIT


def pointers_of(payload: object) -> set[str]:
    """Every field of a payload whose fault only acceptance can see."""
    if not isinstance(payload, FieldRecord):
        return set()
    return {COMPANY, *payload.verbs, *(one.pointer for one in payload.claims)}


def beyond(person: Person, envelope: Envelope, place: access.Scope) -> list[Problem]:
    """What is in a record that its sender may not say there."""
    payload = envelope.payload
    if not isinstance(payload, FieldRecord):
        return []
    answers = {pointer: access.may(person, verb, place) for pointer, verb in payload.verbs.items()}
    found = [Problem(at, "", one.reason, _AGAIN) for at, one in answers.items() if isinstance(one, access.Denied)]
    if payload.submitted_by == SUBMIT:
        return found
    if access.may(person, SUBMIT, place):
        return [*found, *_not_a_contractor(payload)]
    return [*found, *_of_another_trade(person, payload, place)]


def _not_a_contractor(payload: FieldRecord) -> Iterator[Problem]:
    if payload.on_behalf_of:
        reason = "Only a contractor of that company answers in its name."
        yield Problem(COMPANY, payload.on_behalf_of, reason, "Supersede it without the company.")


def _of_another_trade(person: Person, payload: FieldRecord, place: access.Scope) -> Iterator[Problem]:
    own = access.companies_on(person, place)
    mine = next((one for one in own if one.name == payload.on_behalf_of), None)
    if mine is None:
        names = " or ".join(one.name for one in own)
        reason = "A contractor answers in the name of its own company."
        yield Problem(COMPANY, payload.on_behalf_of, reason, f"Supersede it with {names} as its company.")
        return
    trade_of = _own_trades(payload, place)
    for one in payload.claims:
        trade = one.trade or trade_of.get(one.value, "")
        if trade != mine.trade:
            trade = trade.replace("_", " ") or "that asks it: the firm has no such item"
            reason = f"This is for the company of the trade {trade}; {mine.name} answers for its own trade."
            yield Problem(one.pointer, one.value, reason, "Supersede it without this, and leave it to them.")
        elif one.company and one.company != mine.name:
            reason = f"A contractor signs and releases for its own company, which is {mine.name}."
            yield Problem(one.pointer, one.company, reason, "Supersede it without this, and leave it to them.")


def _own_trades(payload: FieldRecord, place: access.Scope) -> dict[str, str]:
    """The trades of a firm's own items, where the record names any."""
    if all(one.trade for one in payload.claims) or place.project_id is None:
        return {}
    return {id: item.trade for id, item in catalogue_of(place.project_id).items.items()}
