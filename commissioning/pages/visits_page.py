"""The plan of the next two weeks as a page and as a PDF: a lead sees and plans all of it, a technician sees theirs."""

import uuid
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from commissioning.pages import visits
from commissioning.pages.meeting import Section, Sheet
from commissioning.pages.meeting_pdf import pages_of
from commissioning.pages.render import render_all
from commissioning.samples.population import Units, lying_in, part_of
from commissioning.visits.actions import CannotPlan, NothingWasted, PlannedMeanwhile, crew, plan_visit, waste_call_out
from commissioning.visits.stops import Plan, plan_for
from portfolio.access import may
from portfolio.dashboards.display import display_for
from portfolio.dashboards.page import Page, SeeOther, text_of
from portfolio.models import Position, Project


class _Plan(Page):
    """What page and paper read alike."""

    def _part(self, pk: uuid.UUID) -> tuple[Project, Units]:
        project = self.visible(Project.objects, pk)
        part = part_of(self.person, project)
        self.require("submit_evidence", part)
        return project, part

    def read(self, project: Project, part: Units) -> tuple[Plan, Sheet]:
        """The plan that the reader is shown, and its sheet."""
        plan, now = plan_for(self.person, part), timezone.now()
        sections = tuple(Section(title, blocks) for title, blocks in visits.days(plan.ahead, plan.today))
        said = visits.sentence(plan.stops, plan.today)
        return plan, Sheet(project, now, now, plan.zone, said, sections, "visits of two weeks")


class VisitsPage(_Plan):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        project, part = self._part(pk)
        return self._show(project, part)

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        """Which unit, and the version of its plan that was seen; then it is planned, or its call-out was wasted."""
        project, part = self._part(pk)
        self.require("plan_visits", part)
        unit, _, seen = text_of(request.POST, "unit", 60).partition(":")
        found = lying_in(part).filter(pk=unit).first() if _is_id(unit) and seen.isdecimal() else None
        if found is None:
            return self._show(project, part, fault="No unit is chosen: choose one.", status=400)
        try:
            act = self._waste if text_of(request.POST, "act", 20) == "waste" else self._plan
            act(request, found, int(seen))
        except PlannedMeanwhile:
            told = f"The visit to {found.tag} was planned by somebody else meanwhile: look at it, then plan it again."
            return self._show(project, part, fault=told, status=409)
        except CannotPlan as why:
            status = 409 if isinstance(why, NothingWasted) else 400
            return self._show(project, part, fault=f"{why.reason} {why.remedy}", status=status)
        return SeeOther(f"/projects/{project.pk}/visits")

    def _plan(self, request: HttpRequest, unit: Position, seen: int) -> None:
        named, day = text_of(request.POST, "person", 40), _day(text_of(request.POST, "day", 10))
        if named and not _is_id(named):
            raise CannotPlan("person", named, "This person is not of the crew here.", "Choose another.")
        person = uuid.UUID(named) if named else None
        plan_visit(position=unit, day=day, person=person, seen=seen, by=self.person, request=request)

    def _waste(self, request: HttpRequest, unit: Position, seen: int) -> None:
        cause = text_of(request.POST, "cause", 1000)
        waste_call_out(position=unit, cause=cause, seen=seen, by=self.person, request=request)

    def _show(self, project: Project, part: Units, *, fault: str = "", status: int = 200) -> HttpResponse:
        plan, sheet = self.read(project, part)
        context: dict[str, Any] = {
            "here": "projects",
            "project": project,
            "sheet": sheet,
            "sections": [(one.title, render_all(one.blocks)) for one in sheet.sections],
            "may": may(self.person, "plan_visits", part),
            "units": [visits.typed(one) for one in plan.stops],
            "waiting": [visits.typed(one) for one in plan.stops if one.retests],
            "crew": crew(part),
            "fault": fault,
        }
        return self.show("commissioning/visits.html", context, status=status)


class VisitsPaper(_Plan):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        project, part = self._part(pk)
        _, sheet = self.read(project, part)
        data, _ = pages_of(sheet, display_for(request, project))
        response = HttpResponse(data, content_type="application/pdf")
        response["Content-Disposition"] = f'inline; filename="visits-{sheet.as_of:%Y-%m-%d}.pdf"'
        response["X-Content-Type-Options"] = "nosniff"
        return response


def _day(typed: str) -> date | None:
    try:
        return date.fromisoformat(typed) if typed else None
    except ValueError:
        raise CannotPlan("day", typed, f"{typed} is no day.", "Type it like 2026-05-04.") from None


def _is_id(text: str) -> bool:
    try:
        uuid.UUID(text)
    except ValueError:
        return False
    return True
