"""The plan of the next two weeks as a page and as a PDF: a lead sees and plans all of it, a technician sees theirs."""

import uuid
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from commissioning.issues.visits import PlannedMeanwhile, plan_visit
from commissioning.models import Issue
from commissioning.pages import visits
from commissioning.pages.meeting import Section, Sheet
from commissioning.pages.meeting_pdf import pages_of
from commissioning.pages.render import render_all
from commissioning.pages.visits import Stop
from commissioning.samples.population import Units, lying_in, part_of
from portfolio.access import may
from portfolio.dashboards.display import display_for
from portfolio.dashboards.page import Page, SeeOther, text_of
from portfolio.models import Membership, Person, Position, Project, Site
from portfolio.models.people import Role


class _Plan(Page):
    """What page and paper read alike."""

    def _part(self, pk: uuid.UUID) -> tuple[Project, Units]:
        project = self.visible(Project.objects, pk)
        part = part_of(self.person, project)
        self.require("submit_evidence", part)
        return project, part

    def read(self, project: Project, part: Units) -> tuple[list[Stop], Sheet]:
        """All stops that may be planned, and the sheet of those that the reader is shown."""
        site = Site.objects.filter(project=project).order_by("name").first()
        zone = site.time_zone if site else "UTC"
        now = timezone.now()
        today = now.astimezone(ZoneInfo(zone)).date()
        counted = lying_in(part).filter(scope__in=Position.COUNTED).select_related("building__site")
        ready = self.seen(Issue.objects).filter(project=project, state=Issue.State.READY)
        held = visits.stops(list(counted), ready.prefetch_related("checks"))
        shown = held if may(self.person, "plan_visits", part) else visits.mine(held, self.person)
        sections = tuple(Section(title, blocks) for title, blocks in visits.days(shown, today))
        sheet = Sheet(project, now, now, zone, visits.sentence(shown, today), sections, "visits of two weeks")
        return held, sheet


class VisitsPage(_Plan):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        project, part = self._part(pk)
        return self._show(project, part)

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        project, part = self._part(pk)
        self.require("plan_visits", part)
        unit, _, seen = text_of(request.POST, "unit", 60).partition(":")
        found = lying_in(part).filter(pk=unit).first() if _is_id(unit) and seen.isdecimal() else None
        if found is None:
            return self._show(project, part, fault="No unit is chosen: choose one.", status=400)
        named = text_of(request.POST, "person", 40)
        person = _crew(part).filter(pk=named).first() if _is_id(named) else None
        if named and person is None:
            return self._show(project, part, fault="This person is not of the crew here: choose another.", status=400)
        try:
            typed = text_of(request.POST, "day", 10)
            day = date.fromisoformat(typed) if typed else None
        except ValueError:
            return self._show(project, part, fault=f"{typed} is no day: type it like 2026-05-04.", status=400)
        try:
            plan_visit(position=found, day=day, person=person, seen=int(seen), by=self.person, request=request)
        except PlannedMeanwhile:
            told = f"The visit to {found.tag} was planned by somebody else meanwhile: look at it, then plan it again."
            return self._show(project, part, fault=told, status=409)
        return SeeOther(f"/projects/{project.pk}/visits")

    def _show(self, project: Project, part: Units, *, fault: str = "", status: int = 200) -> HttpResponse:
        held, sheet = self.read(project, part)
        context: dict[str, Any] = {
            "here": "projects",
            "project": project,
            "sheet": sheet,
            "sections": [(one.title, render_all(one.blocks)) for one in sheet.sections],
            "may": may(self.person, "plan_visits", part),
            "units": [visits.typed(one) for one in held],
            "crew": _crew(part),
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


def _crew(part: Units) -> QuerySet[Person]:
    """Leads and technicians in force whose role reaches one of the buildings."""
    project = part.project
    near = Q(firm=project.firm_id) | Q(owner=project.owner_id) | Q(project=project) | Q(building__in=part.buildings)
    held = Membership.objects.filter(near, role__in=(Role.LEAD, Role.TECHNICIAN)).values("person")
    people = Person.objects.filter(pk__in=held, is_active=True)
    ids = [one.pk for one in people if may(one, "submit_evidence", part)]
    return Person.objects.filter(pk__in=ids).order_by("name")


def _is_id(text: str) -> bool:
    try:
        uuid.UUID(text)
    except ValueError:
        return False
    return True
