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
from commissioning.catalogue.procedures import LIBRARY
from commissioning.catalogue.units import VOCABULARY
from commissioning.dossier.checklist import equipment_of
from commissioning.evidence.own_checks import catalogue_of
from commissioning.pages.field_page import design_of
from commissioning.pages.field_sheet import NotReadable
from commissioning.pages.outlet_design import heading_of
from portfolio import audit
from portfolio.access import may
from portfolio.dashboards.page import Page, SeeOther, text_of
from portfolio.dashboards.words import natural
from portfolio.jobs import queue
from portfolio.models import DesignRevision, Position
from portfolio.schedules.writing import write

LISTS = {"options": VOCABULARY.options, "field_sensors": VOCABULARY.sensors, "tests": LIBRARY.listable}
TITLES = {"options": "Options", "field_sensors": "Field sensors", "tests": "Functional tests asked for"}
NONE = "none"


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
        typed.update({"dated": today.isoformat(), "source": "design", "kind": unit.kind})
        typed["ducted"] = held.get("ducted") or ""
        for name in LISTS:
            given = held.get(name)
            typed.setlist(name, [NONE] if given == [] else list(given or ()))
        return self._show(unit, typed)

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        """`act` is what the pressed button says: look only, or apply."""
        unit, typed = self._unit(pk), request.POST
        try:
            steps = list(self._steps(unit, typed))
            if text_of(typed, "act") == "look":
                return self._show(unit, typed, steps)
            heading = heading_of({name: text_of(typed, name, 300) for name in ("dated", "source", "title")})
            changing = [step for step in steps if step.is_change]
            if not changing:
                raise NotReadable("set-up", "", "Nothing would change.", "Tick what the unit has, or leave it.")
        except NotReadable as fault:
            return self._show(unit, typed, fault=f"{fault.name}: {fault.reason} {fault.remedy}", status=400)
        project = unit.building.site.project
        with transaction.atomic():
            for step in changing:
                self._rename_kind(step)
            entries = {step.unit.pk: {"equipment": {"unit": step.fields}} for step in changing if step.fields}
            if entries:
                revision = write(project=project, person=self.person, heading=heading, entries=entries)
                audit.note(
                    request=request, person=self.person, verb="write_revision", obj=revision, project_id=project.pk
                )
        told = f"by {revision}" if entries else "in its kind"
        messages.info(request, f"{len(changing)} unit{'s' * (len(changing) > 1)} set up {told}.")
        return SeeOther(f"/units/{unit.pk}")

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
        said = _said(typed)
        kind = text_of(typed, "kind")
        if kind not in Position.Kind.values:
            raise NotReadable("kind", kind, "There is no such kind of unit.", "Choose it from the list.")
        checks = catalogue_of(unit.building.site.project_id)
        yield _step(unit, kind, said, checks)
        chosen = typed.getlist("sister")
        known = {str(one.pk): one for one in self._sisters(unit)} if chosen else {}
        strange = [one for one in chosen if one not in known]
        if strange:
            reason = "There is no such unit in this project, or it is not yours to design."
            raise NotReadable("sister", strange[0], reason, "Load the page again and choose from the list.")
        carried = {name: value for name, value in (_held(design_of(unit)) | said).items() if value is not None}
        yield from (_step(known[one], kind, carried, checks) for one in dict.fromkeys(chosen))

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
        groups = [
            {
                "name": name,
                "title": TITLES[name],
                "rows": [(code, words, code in typed.getlist(name)) for code, words in held.items()],
                "none": NONE in typed.getlist(name),
            }
            for name, held in LISTS.items()
        ]
        context = {
            "unit": unit,
            "typed": {name: text_of(typed, name, 300) for name in ("kind", "ducted", "dated", "source", "title")},
            "fault": fault,
            "steps": steps,
            "changing": sum(step.is_change for step in steps or ()),
            "kinds": Position.Kind.choices,
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
    return {name: held[name] for name in (*LISTS, "ducted") if name in held}


def _said(typed: QueryDict) -> dict[str, Any]:
    """What the form names."""
    said: dict[str, Any] = {}
    for name, known in LISTS.items():
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


def _step(unit: Position, kind: str, said: Mapping[str, Any], checks: Catalogue) -> Step:
    design = design_of(unit)
    held = _held(design)
    step = Step(unit, fields={name: value for name, value in said.items() if not _same(held.get(name), value)})
    if kind != unit.kind:
        step.kind = kind
        before, after = (Position.Kind(one).label.lower() for one in (unit.kind, kind))
        step.changes.append(f"kind: {before} → {after}")
    for name, value in step.fields.items():
        title = TITLES.get(name, name).lower()
        step.changes.append(f"{title}: {_words(name, held.get(name))} → {_words(name, value)}")
    after_all = {**design, "equipment": {"unit": {**held, **step.fields}}}
    counts = [
        sum(1 for _ in checks.applying(equipment_of(of, given)))
        for of, given in ((unit.kind, design), (kind, after_all))
    ]
    step.items = f"{counts[0]} → {counts[1]}" if counts[0] != counts[1] else str(counts[0])
    return step


def _same(held: Any, value: Any) -> bool:
    return set(held) == set(value) if isinstance(held, list) and isinstance(value, list) else bool(held == value)


def _words(name: str, value: Any) -> str:
    if value is None:
        return "not given"
    known = {**LISTS, "ducted": VOCABULARY.ducted}[name]
    codes = value if isinstance(value, list) else [value]
    return ", ".join(known.get(code, code) for code in codes) or "none"
