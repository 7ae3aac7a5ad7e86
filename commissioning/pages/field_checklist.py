"""The checklist form: group by group in the order of the walk, cautions before the items that they guard.

Nothing is chosen beforehand: what was answered before stands beside, and only what is touched is sent. A contractor
is asked the items of its company's trade, and answers in the company's name.
"""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from commissioning.catalogue.checks import Catalogue, Item
from commissioning.catalogue.units import VOCABULARY
from commissioning.dossier.checklist import STATES, equipment_of, says_what_it_has
from commissioning.dossier.checklist_shows import cautions, when_said
from commissioning.dossier.own_checks import differing
from commissioning.engineering import units
from commissioning.evidence.own_checks import catalogue_of
from commissioning.models import CurrentVerdict
from commissioning.pages import field_signoffs
from commissioning.pages.field_page import RecordPage, design_of
from commissioning.pages.field_photos import hash_in, photo_of
from commissioning.pages.field_sheet import NotReadable, Sheet
from portfolio.access import may
from portfolio.models import Position

FRAME = {"stage": "final", "session": {"id": "checklist", "purpose": "verification"}, "grade": "witnessed"}
RELEASED_BY = {"installing_contractor": "the installing contractor", "licensed_person": "a licensed person"}


class ChecklistPage(RecordPage):
    kind = "checklist"
    template = "commissioning/field_checklist.html"

    def photos(self, sheet: Sheet) -> list[dict[str, str]]:
        found = {item.text: _photo(sheet, item) for item in _checks(sheet.position).items.values()}
        return [{"sha256": sha256, "caption": text} for text, sha256 in found.items() if sha256]

    def readings(self, sheet: Sheet) -> dict[str, Any]:
        unit = Position.objects.select_related("building__site__project").get(pk=sheet.position)
        who = field_signoffs.answering(self.person, unit, sheet.text("company"))
        checks = _checks(unit.pk)
        items = who.asks(checks.items.values())
        answers = [one for item in items if (one := _answer(sheet, item)) is not None]
        releases = [one for item in items if (one := _release(sheet, item, who.name)) is not None]
        signoffs = field_signoffs.given(sheet, self.person, who)
        lifts = [one for item in checks.items.values() if (one := _lift(sheet, item, self.person.name)) is not None]
        if lifts and not may(self.person, "lift_hold", unit):
            raise NotReadable(f"lift-{lifts[0]['item']}", "", "Only the lead lifts a quality hold.", "Ask the lead.")
        if not (answers or releases or lifts or signoffs):
            first = next(iter(checks.items))
            raise NotReadable(f"a-{first}", "", "Nothing is answered.", "Answer one item at least.")
        held = {"answers": answers, "releases": releases, "lifts": lifts}
        return FRAME | held | ({"signoffs": signoffs} if signoffs else {}) | ({"company": who.name} if who.name else {})

    def asked(self, unit: Position, display: str, typed: Mapping[str, str]) -> dict[str, Any]:
        design = design_of(unit)
        before = _before(unit)
        checks = _checks(unit.pk)
        applying = {item.id for item in checks.applying(equipment_of(unit.kind, design))}
        who = field_signoffs.answering(self.person, unit, typed.get("company") or self.request.GET.get("company", ""))
        items = who.asks(item for id, item in checks.items.items() if id in applying or id in before)
        own = differing({item.id: item for item in items}, checks.groups)
        shown = [_row(item, before.get(item.id), display, typed) for item in items]
        groups = [
            {"code": group.code, "title": group.title, "rows": rows, "open": sum(row["is_open"] for row in rows)}
            | {"cautions": cautions((row["item"].id for row in rows), own)}
            for group in checks.groups
            if (rows := [row for row in shown if row["item"].group == group.code])
        ]
        return {
            "groups": groups,
            "who": who,
            "signoffs": field_signoffs.asked(self.person, unit, who, {item.trade for item in items}, typed),
            "reasons": [(code, one.words) for code, one in VOCABULARY.reasons.items()],
            "released_by": RELEASED_BY.items(),
            "held": [row for row in shown if row["state"] == "held"],
            "liftable": [row for row in shown if row["state"] == "wrong" and row["item"].hold == "quality"],
            "may_lift": bool(may(self.person, "lift_hold", unit)),
            "named": says_what_it_has((design.get("equipment") or {}).get("unit")),
            "catalogue": checks.version,
        }


def _checks(position: UUID | str) -> Catalogue:
    """With what the firm has of its own."""
    where = Position.objects.filter(pk=position).values_list("building__site__project", flat=True)
    return catalogue_of(where.get())


def _before(unit: Position) -> dict[str, Mapping[str, Any]]:
    """Where each item stood when the unit was judged last."""
    rows = CurrentVerdict.objects.filter(position=unit, requirement="ready_for_test").select_related("judgement")
    return {one["item"]: one for row in rows for one in row.judgement.result["facts"]["items"]}


def _row(item: Item, before: Mapping[str, Any] | None, display: str, typed: Mapping[str, str]) -> dict[str, Any]:
    state = before["state"] if before else "due"
    told = when_said(before) if before and before["said"] else ""
    options = {
        "yes_no": [("yes", "yes"), ("no", "no")],
        "choice": [(choice, choice) for choice in item.choices],
    }.get(item.answer, [])
    names = ("a", "n", "why", "who", "note", "photo", "person", "company", "licence", "by", "on", "lift")
    held = {name: typed.get(f"{name}-{item.id}", "") for name in names}
    return {
        "item": item,
        "state": state,
        "state_words": STATES[state],
        "is_open": state not in ("right", "lifted"),
        "before": told,
        "options": options,
        "held": held,
        "has_photo": bool(hash_in(held, "photo")),
        "takes_photo": item.answer == "photo" or item.hold == "safety",
        "is_spread": bool(held["why"] or held["who"] or held["note"]),
        "unit": units.unit(item.asked_in(display)).label if item.answer == "number" else "",
        "limits": item.limits(display) if item.answer == "number" else "",
        "hazards": [VOCABULARY.hazards[code].title for code in item.caution],
    }


# What is read


def _answer(sheet: Sheet, item: Item) -> dict[str, Any] | None:
    chosen, value = sheet.text(f"a-{item.id}"), _number(sheet, item)
    photo = _photo(sheet, item)
    given: dict[str, Any] = {"item": item.id} | ({"photos": [photo]} if photo else {})
    if note := sheet.text(f"note-{item.id}"):
        given["note"] = note
    if chosen == "cannot":
        if value is not None:
            raise NotReadable(f"n-{item.id}", "", "A number is typed, and that it cannot be answered.", "Send one.")
        return {**given, "cannot": _cannot(sheet, item)}
    if value is not None:
        return {**given, "number": value}
    if item.answer == "photo" and photo:
        return given
    if chosen and item.answer in ("yes_no", "choice"):
        return {**given, **({"choice": chosen} if item.answer == "choice" else {"yes": chosen == "yes"})}
    if len(given) > 1 or sheet.text(f"why-{item.id}"):
        raise NotReadable(f"a-{item.id}", "", "There is a note, a reason or a photo, and no answer.", "Choose one.")
    return None


def _number(sheet: Sheet, item: Item) -> dict[str, Any] | None:
    return sheet.quantity(f"n-{item.id}", item.asked_in(sheet.display)) if item.answer == "number" else None


def _photo(sheet: Sheet, item: Item) -> str:
    return photo_of(sheet, f"photo-{item.id}")


def _cannot(sheet: Sheet, item: Item) -> dict[str, Any]:
    reason, company = sheet.text(f"why-{item.id}"), sheet.text(f"who-{item.id}")
    if reason not in VOCABULARY.reasons:
        raise NotReadable(f"why-{item.id}", reason, "It is not said why it cannot be answered.", "Choose the reason.")
    if not company and not VOCABULARY.reasons[reason].trade:
        raise NotReadable(f"who-{item.id}", "", "It is not said who unblocks it.", "Name the company.")
    return {"reason": reason, "company": company}


def _release(sheet: Sheet, item: Item, contractor: str) -> dict[str, Any] | None:
    names = {name: sheet.text(f"{name}-{item.id}") for name in ("person", "company", "licence")}
    if contractor:
        names["company"] = contractor if names["person"] or names["licence"] else ""
    if not any(names.values()):
        return None
    for name in ("person", "company"):
        if len(names[name]) < 2:
            raise NotReadable(f"{name}-{item.id}", "", "A release names company and person.", "Fill in both.")
    by = sheet.text(f"by-{item.id}") or "installing_contractor"
    if by == "licensed_person" and not names["licence"]:
        raise NotReadable(f"licence-{item.id}", "", "A licensed person's release names the licence.", "Fill it in.")
    return {"item": item.id, "by": by, **names, "on": sheet.text(f"on-{item.id}") or sheet.observed_at[:10]}


def _lift(sheet: Sheet, item: Item, lead: str) -> dict[str, Any] | None:
    reason = sheet.text(f"lift-{item.id}")
    if not reason:
        return None
    if len(reason) < 10:
        raise NotReadable(f"lift-{item.id}", reason, "The reason is printed: it needs a sentence.", "Say more.")
    return {"item": item.id, "by": lead, "reason": reason, "on": sheet.observed_at[:10]}
