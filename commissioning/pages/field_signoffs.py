"""Who answers a checklist: those who commission everything, a contractor the items of its trade; and its sign-offs."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from commissioning.catalogue.checks import Item
from commissioning.catalogue.units import VOCABULARY
from commissioning.dossier.checklist_signoffs import STATES, signed_by
from commissioning.evidence.senders import SUBMIT
from commissioning.models import CurrentVerdict
from commissioning.pages.field_sheet import NotReadable, Sheet
from commissioning.verdicts.dossiers import conventions_of
from portfolio.access import companies_on, may
from portfolio.models import Company, Person, Position


@dataclass(frozen=True)
class Answering:
    """For whom a person answers at a unit; without a company, for those who commission."""

    company: Company | None
    others: Sequence[Company] = ()  # in whose name the same person may answer as well

    @property
    def name(self) -> str:
        return self.company.name if self.company else ""

    def asks(self, items: Iterable[Item]) -> list[Item]:
        return [item for item in items if self.company is None or item.trade == self.company.trade]


def answering(person: Person, unit: Position, company: str) -> Answering:
    """`company`: the id that the form carries, where a contractor works for several."""
    scope = unit.access_scope()
    if may(person, SUBMIT, scope):
        return Answering(None)
    held = companies_on(person, scope)
    chosen = next((one for one in held if str(one.pk) == company), held[0])
    return Answering(chosen, [one for one in held if one != chosen])


def asked(
    person: Person, unit: Position, who: Answering, trades: Iterable[str], typed: Mapping[str, str]
) -> list[dict[str, Any]]:
    """The sign-offs that the project asks for and this person may give or write down, each with where it stands."""
    if not may(person, "sign_off", unit):
        return []
    project = unit.building.site.project_id
    required = conventions_of({project})[project].get("signoffs_required") or ()
    before = _before(unit)
    here = set(trades)
    return [
        {"trade": trade, "words": VOCABULARY.trades[trade], "state": _state(before.get(trade))}
        | {name: typed.get(f"signed-{name}-{trade}", "") for name in ("person", "company", "on")}
        | {"is_signed": typed.get(f"sign-{trade}") == "yes"}
        for trade in required
        if trade in here and (who.company is None or who.company.trade == trade)
    ]


def given(sheet: Sheet, person: Person, who: Answering) -> list[dict[str, Any]]:
    found = (_given(sheet, trade, person, who) for trade in VOCABULARY.signing)
    return [one for one in found if one is not None]


def _given(sheet: Sheet, trade: str, person: Person, who: Answering) -> dict[str, Any] | None:
    on = sheet.text(f"signed-on-{trade}") or sheet.observed_at[:10]
    if who.company is not None:
        is_signed = trade == who.company.trade and sheet.text(f"sign-{trade}") == "yes"
        return {"trade": trade, "company": who.name, "person": person.name, "on": on} if is_signed else None
    names = {name: sheet.text(f"signed-{name}-{trade}") for name in ("person", "company")}
    if not any(names.values()):
        return None
    for name, text in names.items():
        if len(text) < 2:
            raise NotReadable(f"signed-{name}-{trade}", text, "A sign-off names company and person.", "Fill in both.")
    return {"trade": trade, **names, "on": on}


def _before(unit: Position) -> dict[str, Mapping[str, Any]]:
    rows = CurrentVerdict.objects.filter(position=unit, requirement="ready_for_test").select_related("judgement")
    return {one["trade"]: one for row in rows for one in row.judgement.result["facts"].get("signoffs", ())}


def _state(before: Mapping[str, Any] | None) -> str:
    if before is None:
        return STATES["due"]
    by = f": {signed_by(before['given'])}" if before["given"] else ""
    return f"{STATES[before['state']]}{by}"
