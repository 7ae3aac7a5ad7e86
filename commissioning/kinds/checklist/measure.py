"""From a checklist's payload to what it amounts to: each answer right, wrong or impossible, in words and as data."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, cast

from commissioning.catalogue.checks import CATALOGUE, Item
from commissioning.catalogue.units import VOCABULARY
from commissioning.dossier.envelope import Envelope
from commissioning.dossier.figures import Figures, figures_of
from commissioning.dossier.given import Conventions, Instrument, Place
from commissioning.dossier.own_checks import differing
from commissioning.engineering import units
from commissioning.kinds.checklist.payload import Answer, ChecklistPayload, fault_of

VERSION = CATALOGUE.version  # a change of either raises the other: then everything is judged again


def instruments(payload: ChecklistPayload) -> frozenset[str]:
    return frozenset()


def measure(
    envelope: Envelope, place: Place, conventions: Conventions, tools: Mapping[str, Instrument]
) -> list[Figures]:
    payload = cast(ChecklistPayload, envelope.payload)
    listed = {one.sha256 for one in envelope.photos}
    items = conventions.checks.items
    faults = {one.item: _fault(one, items.get(one.item)) for one in payload.answers}
    answers = [one for one in payload.answers if not faults[one.item]]
    answered = {one.item: items[one.item] for one in answers}
    facts = {
        "catalogue": CATALOGUE.version,
        "by": str(envelope.observed_by),
        "company": payload.on_behalf_of,
        "answers": [_answer(one, answered[one.item], listed) for one in answers],
        "releases": [one.model_dump(mode="json") for one in payload.releases],
        "lifts": [one.model_dump(mode="json") for one in payload.lifts],
        "signoffs": [one.model_dump(mode="json") for one in payload.signoffs],
    }
    named = {*answered, *(one.item for one in payload.releases), *(one.item for one in payload.lifts)}
    asked = {id: items[id] for id in sorted(named) if id in items}
    if own := differing(asked, conventions.checks.groups):
        facts["own"] = own
    lost = [one.item for one in answers if not listed.issuperset(one.photos)]
    remarks = [f"The photos of the record lack one that an answer names: {answered[id].text}" for id in lost]
    remarks += [f"An answer is left out: {fault}." for fault in faults.values() if fault]
    made = figures_of(envelope, place, [], method="checklist", tools=[], remarks=remarks, facts=facts)
    grade = "contractor" if payload.on_behalf_of else made.grade
    return [replace(made, grade=grade, faults=(), unseen=())]  # what the unit does meanwhile takes nothing from it


def _fault(given: Answer, item: Item | None) -> str:
    if item is None:
        return f"no item of this firm's checklist is called {given.item}"
    return fault_of(given, item)


def _answer(given: Answer, item: Item, listed: set[str]) -> dict[str, Any]:
    cannot = given.cannot
    photos = [one for one in given.photos if one in listed]
    outcome = "cannot" if cannot else "right" if _is_right(given, item, photos) else "wrong"
    return {
        "item": given.item,
        "outcome": outcome,
        "said": said(given),
        "reason": cannot.reason if cannot else "",
        "trade": cannot.unblocked_by if cannot else "",
        "company": cannot.company.strip() if cannot else "",
        "photos": photos,
        "note": given.note.strip(),
    }


def _is_right(given: Answer, asked: Item, photos: list[str]) -> bool:
    if asked.answer == "photo":
        return bool(photos)
    if given.number is not None:
        return asked.is_within(given.number.value, given.number.unit)
    if given.choice is not None:
        return given.choice in asked.right
    return given.yes is True


def said(given: Answer) -> str:
    """The answer in words, as it was given."""
    if given.cannot is not None:
        return VOCABULARY.reasons[given.cannot.reason].words
    if given.number is not None:
        return f"{given.number.value:g} {units.unit(given.number.unit).label}"
    if given.choice is not None:
        return given.choice
    if given.yes is None:
        return "photo" if len(given.photos) == 1 else f"{len(given.photos)} photos"
    return "yes" if given.yes else "no"
