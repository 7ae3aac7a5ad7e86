"""What a unit has: kind, options, field sensors, duct. A lead sets it, and takes it to sister units, in one revision.

A dry run first. A group in which nothing is ticked says nothing, unless `none of these` is: only what is named changes.
"""

import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse, QueryDict
from django.utils import timezone

from commissioning.catalogue.checks import Catalogue
from commissioning.catalogue.units import VOCABULARY, Vocabulary
from commissioning.dossier.checklist import equipment_of
from commissioning.evidence.own_checks import catalogue_of
from commissioning.evidence.own_procedures import library_of
from commissioning.pages.field_page import design_of
from commissioning.pages.field_sheet import NotReadable
from commissioning.pages.outlet_design import heading_of
from portfolio import audit
from portfolio.access import may
from portfolio.dashboards.page import Page, SeeOther, text_of
from portfolio.dashboards.words import natural
from portfolio.jobs import queue
from portfolio.models import DesignRevision, Position
from portfolio.schedules.importing import hold_words
from portfolio.schedules.writing import write

TITLES = {"options": "Options", "field_sensors": "Field sensors", "tests": "Functional tests asked for"}
NONE = "none"
Lists = Mapping[str, Mapping[str, str]]


@dataclass
class Step:
    """What the revision would do to one unit."""

    unit: Position
    kind: str = ""  # the new one, where it changes
    fields: dict[str, Any] = field(default_factory=dict)
    changes: list[str] = field(default_factory=list)
    items: str = ""  # how many checks apply before and after

    @property
    def is_change(self) -> bool:
        return bool(self.changes)


class EquipmentPage(Page):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        unit = self._unit(pk)
        today = timezone.now().astimezone(ZoneInfo(unit.building.site.time_zone)).date()
        held = _held(design_of(unit))
        typed = QueryDict(mutable=True)
        kind = _kind_held(unit, held, catalogue_of(unit.building.site.project_id).words)
        typed.update({"dated": today.isoformat(), "source": "design", "kind": kind})
        typed["ducted"] = held.get("ducted") or ""
        for name in TITLES:
            given = held.get(name)
            typed.setlist(name, [NONE] if given == [] else list(given or ()))
        return self._show(unit, typed)

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        """`act` is what the pressed button says: look only, or apply."""
        unit, typed = self._unit(pk), request.POST
        try:
            if text_of(typed, "act") == "look":
                return self._show(unit, typed, list(self._steps(unit, typed)))
            with transaction.atomic():
                told = self._apply(unit, typed)
        except NotReadable as fault:
            return self._show(unit, typed, fault=f"{fault.name}: {fault.reason} {fault.remedy}", status=400)
        messages.info(request, told)
        return SeeOther(f"/units/{unit.pk}")

    def _apply(self, unit: Position, typed: QueryDict) -> str:
        """Everything or nothing; what came of it, in words."""
        project = unit.building.site.project
        hold_words(project.pk)
        heading = heading_of({name: text_of(typed, name, 300) for name in ("dated", "source", "title")})
        changing = [step for step in self._steps(unit, typed) if step.is_change]
        if not changing:
            raise NotReadable("set-up", "", "Nothing would change.", "Tick what the unit has, or leave it.")
        for step in changing:
            self._rename_kind(step)
        entries = {step.unit.pk: {"equipment": {"unit": step.fields}} for step in changing if step.fields}
        if entries:
            revision = write(project=project, person=self.person, heading=heading, entries=entries)
            audit.note(
                request=self.request, person=self.person, verb="write_revision", obj=revision, project_id=project.pk
            )
        how = f"by {revision}" if entries else "in its kind"
        return f"{len(changing)} unit{'s' * (len(changing) > 1)} set up {how}."

    def _unit(self, pk: uuid.UUID) -> Position:
        rows = Position.objects.select_related("building__site__project", "system")
        return self.visible(rows, pk, verb="import_design")

    def _rename_kind(self, step: Step) -> None:
        if step.kind:
            step.unit.kind = step.kind
            step.unit.save(update_fields=["kind"])
            project = step.unit.building.site.project_id
            audit.note(
                request=self.request, person=self.person, verb="edit_portfolio", obj=step.unit, project_id=project
            )
            queue.want("judge", [step.unit.pk])

    def _sisters(self, unit: Position) -> list[Position]:
        """The other units of the project that the lead may design, those of the same system and kind first."""
        rows = self.seen(Position.objects).filter(building__site__project=unit.building.site.project_id)
        near = rows.exclude(pk=unit.pk).select_related("building__site__project__firm", "system")
        units = [one for one in near if may(self.person, "import_design", one)]
        return sorted(units, key=lambda one: (not _is_sister(unit, one), one.building.name, natural(one.tag)))

    def _steps(self, unit: Position, typed: QueryDict) -> Iterator[Step]:
        """First the unit itself, then each sister that was chosen."""
        checks = catalogue_of(unit.building.site.project_id)
        lists = _lists(unit, checks.words)
        said = _said(typed, lists)
        kind, own_kind = _kind_chosen(text_of(typed, "kind"), checks.words)
        yield _step(unit, kind, said | own_kind, checks, lists)
        chosen = typed.getlist("sister")
        known = {str(one.pk): one for one in self._sisters(unit)} if chosen else {}
        strange = [one for one in chosen if one not in known]
        if strange:
            reason = "There is no such unit in this project, or it is not yours to design."
            raise NotReadable("sister", strange[0], reason, "Load the page again and choose from the list.")
        carried = {name: value for name, value in (_held(design_of(unit)) | said).items() if value is not None}
        yield from (_step(known[one], kind, carried | own_kind, checks, lists) for one in dict.fromkeys(chosen))

    def _show(
        self,
        unit: Position,
        typed: QueryDict,
        steps: list[Step] | None = None,
        *,
        fault: str = "",
        status: int = 200,
    ) -> HttpResponse:
        chosen = set(typed.getlist("sister"))
        is_first = self.request.method != "POST"
        near = self._sisters(unit)
        others = [(one, str(one.pk) in chosen) for one in near if not _is_sister(unit, one)]
        words = catalogue_of(unit.building.site.project_id).words
        groups = [
            {
                "name": name,
                "title": TITLES[name],
                "rows": [(code, words, code in typed.getlist(name)) for code, words in held.items()],
                "none": NONE in typed.getlist(name),
            }
            for name, held in _lists(unit, words).items()
        ]
        context = {
            "unit": unit,
            "typed": {name: text_of(typed, name, 300) for name in ("kind", "ducted", "dated", "source", "title")},
            "fault": fault,
            "steps": steps,
            "changing": sum(step.is_change for step in steps or ()),
            "kinds": [*Position.Kind.choices, *((code, words.kinds[code]) for code in words.like)],
            "groups": groups,
            "ducted": VOCABULARY.ducted.items(),
            "sisters": [(one, is_first or str(one.pk) in chosen) for one in near if _is_sister(unit, one)],
            "others": others,
            "any_other": any(is_ticked for _, is_ticked in others),
            "sources": DesignRevision.Source.choices,
        }
        return self.show("commissioning/equipment_design.html", context, status=status)


def _is_sister(unit: Position, other: Position) -> bool:
    return unit.system_id is not None and unit.system_id == other.system_id and unit.kind == other.kind


def _held(design: Mapping[str, Any]) -> dict[str, Any]:
    held = (design.get("equipment") or {}).get("unit") or {}
    return {name: held[name] for name in (*TITLES, "ducted", "own_kind") if name in held}


def _kind_held(unit: Position, held: Mapping[str, Any], words: Vocabulary) -> str:
    """The firm's own kind where it has one that is like the unit's, else the unit's."""
    own = str(held.get("own_kind") or "")
    return own if words.like.get(own) == unit.kind else unit.kind


def _kind_chosen(kind: str, words: Vocabulary) -> tuple[str, dict[str, Any]]:
    """The unit's kind, and what its design then says of a kind of the firm's own."""
    if kind in words.like:
        return words.like[kind], {"own_kind": kind}
    if kind in Position.Kind.values:
        return kind, {"own_kind": None}
    raise NotReadable("kind", kind, "There is no such kind of unit.", "Choose it from the list.")


def _lists(unit: Position, words: Vocabulary) -> Lists:
    """What may be ticked, with the words for it."""
    tests = library_of(unit.building.site.project_id).listable
    return {"options": words.options, "field_sensors": words.sensors, "tests": tests}


def _said(typed: QueryDict, lists: Lists) -> dict[str, Any]:
    """What the form names."""
    said: dict[str, Any] = {}
    for name, known in lists.items():
        given = typed.getlist(name)
        codes = [code for code in known if code in given]
        strange = [one for one in given if one not in known and one != NONE]
        if strange:
            reason = f"{strange[0][:60]} is not known."
            raise NotReadable(name, strange[0], reason, f"Known are {', '.join(known.values())}.")
        if codes and NONE in given:
            reason = "None of these is ticked, and some are."
            raise NotReadable(TITLES[name], ", ".join(codes), reason, "Leave one of the two.")
        if given:
            said[name] = codes
    ducted = text_of(typed, "ducted")
    if ducted:
        if ducted not in VOCABULARY.ducted:
            raise NotReadable("ducted", ducted, "This is not known.", "Choose it from the list.")
        said["ducted"] = ducted
    return said


def _step(unit: Position, kind: str, said: Mapping[str, Any], checks: Catalogue, lists: Lists) -> Step:
    design = design_of(unit)
    held = _held(design)
    step = Step(unit, fields={name: value for name, value in said.items() if not _same(held.get(name), value)})
    becomes = {**held, **step.fields}
    _may_have(unit, kind, becomes, checks.words)
    step.kind = kind if kind != unit.kind else ""
    if step.kind or "own_kind" in step.fields:
        before, after = _kind_held(unit, held, checks.words), becomes.get("own_kind") or kind
        step.changes.append(f"kind: {_of_kind(before, checks.words)} → {_of_kind(after, checks.words)}")
    for name, value in step.fields.items():
        if name == "own_kind":
            continue
        title = TITLES.get(name, name).lower()
        step.changes.append(f"{title}: {_words(lists, name, held.get(name))} → {_words(lists, name, value)}")
    after_all = {**design, "equipment": {"unit": becomes}}
    counts = [
        sum(1 for _ in checks.applying(equipment_of(of, given)))
        for of, given in ((unit.kind, design), (kind, after_all))
    ]
    step.items = f"{counts[0]} → {counts[1]}" if counts[0] != counts[1] else str(counts[0])
    return step


def _may_have(unit: Position, kind: str, becomes: Mapping[str, Any], words: Vocabulary) -> None:
    for name in ("options", "field_sensors"):
        for code in becomes.get(name) or ():
            if not words.may_have(code, kind, becomes.get("own_kind") or ""):
                title = {**words.options, **words.sensors}[code]
                reason = f"{unit.tag} is of a kind that may not have {title}."
                raise NotReadable(TITLES[name], code, reason, "Leave it unticked there, or choose another kind.")


def _of_kind(kind: str, words: Vocabulary) -> str:
    return words.kinds[kind] if kind in words.like else Position.Kind(kind).label.lower()


def _same(held: Any, value: Any) -> bool:
    return set(held) == set(value) if isinstance(held, list) and isinstance(value, list) else bool(held == value)


def _words(lists: Lists, name: str, value: Any) -> str:
    if value is None:
        return "not given"
    known = {**lists, "ducted": VOCABULARY.ducted}[name]
    codes = value if isinstance(value, list) else [value]
    return ", ".join(known.get(code, code) for code in codes) or "none"
