"""The outlets of a unit as designed, pasted by a lead: looked at as a dry run, then a partial revision."""

import uuid
from collections.abc import Mapping
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from pydantic import ValidationError

from commissioning.dossier.document_model import DesignModel
from commissioning.dossier.faults import problems_of
from commissioning.engineering import units
from commissioning.pages import outlet_grid
from commissioning.pages.field_page import design_of
from commissioning.pages.field_sheet import UNITS, NotReadable
from commissioning.pages.outlet_grid import PORTS, OutletGrid, OutletLine
from commissioning.pages.unit_design import words
from portfolio import audit
from portfolio.dashboards.display import display_for
from portfolio.dashboards.page import Page, SeeOther, text_of
from portfolio.models import DesignRevision, Position
from portfolio.schedules.plan import Heading
from portfolio.schedules.writing import write

BASES = {"": "as designed before", "standard": "standard air", "actual": "actual air"}


class OutletDesignPage(Page):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        unit = self._unit(pk)
        today = timezone.now().astimezone(ZoneInfo(unit.building.site.time_zone)).date()
        return self._show(unit, {"dated": today.isoformat(), "source": "design"})

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        """`act` is what the pressed button says: look only, or apply."""
        unit = self._unit(pk)
        typed = {name: text_of(request.POST, name, 100_000) for name in request.POST}
        if typed.get("act") == "look":
            return self._show(unit, typed)
        try:
            heading, outlets = heading_of(typed), self._outlets(unit, typed)
        except NotReadable as fault:
            return self._show(unit, typed, fault=f"{fault.name}: {fault.reason} {fault.remedy}", status=400)
        project = unit.building.site.project
        with transaction.atomic():
            revision = write(
                project=project, person=self.person, heading=heading, entries={unit.pk: {"outlets": outlets}}
            )
            audit.note(request=request, person=self.person, verb="write_revision", obj=revision, project_id=project.pk)
        messages.info(request, f"{len(outlets)} outlets are designed by {revision}.")
        return SeeOther(f"/units/{unit.pk}")

    def _unit(self, pk: uuid.UUID) -> Position:
        rows = Position.objects.select_related("building__site__project")
        return self.visible(rows, pk, verb="import_design")

    def _display(self, unit: Position, typed: Mapping[str, str]) -> str:
        held = typed.get("display", "")
        return held if held in ("ip", "si") else display_for(self.request, unit.building.site.project)

    def _outlets(self, unit: Position, typed: Mapping[str, str]) -> dict[str, dict[str, Any]]:
        grid = _pasted(typed)
        if grid.errors:
            first = grid.errors[0]
            raise NotReadable(
                "table", first.value, f"row {first.row}, column {first.column}: {first.reason}", first.remedy
            )
        if not grid.lines:
            raise NotReadable("table", "", "No outlet is named.", "Paste a table with one row for each outlet.")
        outlets = {line.name: _fields(line, grid, typed, self._display(unit, typed)) for line in grid.lines}
        try:
            DesignModel.model_validate({"outlets": outlets})
        except ValidationError as error:
            first_problem = problems_of(error, {"outlets": outlets})[0]
            name = first_problem.pointer.split("/")[2]
            raise NotReadable(name, first_problem.value, first_problem.reason, first_problem.remedy) from None
        return outlets

    def _show(self, unit: Position, typed: Mapping[str, str], *, fault: str = "", status: int = 200) -> HttpResponse:
        display = self._display(unit, typed)
        held = design_of(unit).get("outlets", {})
        grid = _pasted(typed)
        context = {
            "unit": unit,
            "typed": typed,
            "fault": fault,
            "grid": grid,
            "steps": [_step(line, held, _fields(line, grid, typed, display), display) for line in grid.lines],
            "not_named": len(held.keys() - {line.name for line in grid.lines}),
            "held": len(held),
            "display_kept": display,
            "airflow": units.unit(grid.design_unit or UNITS["airflow"][display]).label,
            "ports": list(PORTS),
            "bases": BASES.items(),
            "sources": DesignRevision.Source.choices,
        }
        return self.show("commissioning/outlet_design.html", context, status=status)


def _pasted(typed: Mapping[str, str]) -> OutletGrid:
    text = typed.get("paste", "")
    return outlet_grid.read(text) if text.strip() else OutletGrid()


def heading_of(typed: Mapping[str, str]) -> Heading:
    try:
        dated = date.fromisoformat(typed.get("dated", ""))
    except ValueError:
        raise NotReadable("dated", typed.get("dated", ""), "This is no date.", "Write it like 2026-05-04.") from None
    source = typed.get("source", "")
    if source not in DesignRevision.Source.values:
        raise NotReadable("source", source, "A revision has a source.", "Choose it from the list.")
    return Heading(dated=dated, source=source, title=typed.get("title", "")[:200], partial=True)


def _fields(line: OutletLine, grid: OutletGrid, typed: Mapping[str, str], display: str) -> dict[str, Any]:
    """Only what the table names, and what the form says for all of it; the rest stays as it was."""
    fields: dict[str, Any] = {}
    port = line.port or typed.get("port", "")
    if port in PORTS:
        fields["port"] = port
    fields |= {name: getattr(line, name) for name in ("branch", "room", "device") if getattr(line, name)}
    if line.design is not None:
        fields["airflow"] = {"value": line.design, "unit": grid.design_unit or UNITS["airflow"][display]}
    if typed.get("basis") in ("standard", "actual"):
        fields["basis"] = typed["basis"]
    return fields


def _step(line: OutletLine, held: Mapping[str, Any], fields: Mapping[str, Any], display: str) -> dict[str, Any]:
    """What the revision would do to one outlet."""
    before = held.get(line.name)
    changes = [
        f"{name} {words(before[name], display)} → {words(value, display)}"
        if before and before.get(name) is not None
        else f"{name} {words(value, display)}"
        for name, value in fields.items()
        if before is None or before.get(name) != value
    ]
    what = "new" if before is None else "changed" if changes else "as it was"
    return {"name": line.name, "what": what, "changes": "; ".join(changes)}
