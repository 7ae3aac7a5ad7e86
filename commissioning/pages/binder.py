"""Binders: ask for one, watch it being built, take the document."""

import uuid
from dataclasses import dataclass, replace
from typing import Any

from django.db import transaction
from django.http import HttpRequest, HttpResponse

from commissioning.models import Binder
from portfolio import audit
from portfolio.access import Scope, may
from portfolio.dashboards.page import Page, SeeOther, text_of
from portfolio.dashboards.words import moment
from portfolio.jobs import queue
from portfolio.models import Building, Job, Position, Project, Site

MOST_UNITS = 2000


@dataclass(frozen=True)
class _Units:
    """Several units of a project as one thing that an act is done to."""

    project: Project
    buildings: frozenset[uuid.UUID]

    def access_scope(self) -> Scope:
        return replace(self.project.access_scope(), building_ids=self.buildings)


class BindersPage(Page):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        return self.answer(self.visible(Project.objects, pk))

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        """The units ticked, or all of the buildings ticked."""
        project = self.visible(Project.objects, pk)
        title = text_of(request.POST, "title", 200)
        seen = self.seen(Position.objects).filter(building__site__project=project)
        buildings = seen.filter(building__in=_ids(request.POST.getlist("building")))
        units = seen.filter(pk__in=_ids(request.POST.getlist("unit")))
        positions = list((buildings | units).distinct()[: MOST_UNITS + 1])
        self.require(
            "build_binder", _Units(project, frozenset(p.building_id for p in positions)) if positions else project
        )
        if not title or not positions:
            fault = "A binder needs a title." if positions else "Choose at least one building or unit that has units."
            return self.answer(project, fault=fault, status=400)
        if len(positions) > MOST_UNITS:
            return self.answer(project, fault=f"A binder holds at most {MOST_UNITS:,} units.", status=400)
        with transaction.atomic():
            binder = Binder.objects.create(project=project, title=title, asked_by=self.person)
            binder.positions.set(positions)
            queue.want("binder", [binder.pk])
            detail = {"units": len(positions)}
            audit.note(
                request=request,
                person=self.person,
                verb="build_binder",
                obj=binder,
                project_id=project.pk,
                detail=detail,
            )
        return SeeOther(f"/binders/{binder.pk}")

    def answer(self, project: Project, *, fault: str = "", status: int = 200) -> HttpResponse:
        posted, chosen = self.request.POST, self.request.GET.get("building", "")
        buildings = list(self.seen(Building.objects).filter(site__project=project).order_by("name"))
        ticked = set(posted.getlist("building")) | {chosen}
        units = self.seen(Position.objects).filter(building__site__project=project).select_related("building")
        first = next((b.name for b in buildings if str(b.pk) == chosen), "")
        context: dict[str, Any] = {
            "here": "projects",
            "project": project,
            "binders": list(
                self.seen(Binder.objects).filter(project=project).select_related("project").order_by("-asked_at")[:100]
            ),
            "may": may(self.person, "build_binder", project),
            "fault": fault,
            "title": posted.get("title", first),
            "buildings": [(b, str(b.pk) in ticked) for b in buildings],
            "units": [
                (u, str(u.pk) in set(posted.getlist("unit")))
                for u in units.order_by("building__name", "tag")[:MOST_UNITS]
            ],
        }
        return self.show("commissioning/binders.html", context, status=status)


class BinderPage(Page):
    """A binder, and how far it is."""

    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        binder = self.visible(Binder.objects.select_related("project", "asked_by", "document"), pk)
        job = Job.objects.filter(kind="binder", subject=binder.pk).first()
        site = Site.objects.filter(project=binder.project_id).order_by("name").first()
        zone = site.time_zone if site else "UTC"
        context = {
            "here": "projects",
            "binder": binder,
            "asked": moment(binder.asked_at, zone),
            "built": moment(binder.built_at, zone),
            "sentence": _sentence(binder, job),
            "steps_done": job.steps_done if job else 0,
            "steps_all": job.steps_all if job else 0,
            "since": moment(job.changed_at, zone) if job else "",
            "units": list(binder.positions.select_related("building").order_by("building__name", "tag")),
        }
        response = self.show("commissioning/binder.html", context)
        if not binder.document_id and job is not None and job.due:
            response["Refresh"] = "3"  # progress without a script
        return response


def _sentence(binder: Binder, job: Job | None) -> str:
    if binder.document_id:
        return f"It is built: {binder.pages} pages."
    if job is not None and not job.due and job.error:
        return (
            f"It could not be built: {job.error.strip().rpartition(chr(10))[2].partition(': ')[2] or job.error.strip()}"
        )
    if job is not None and job.token is not None:
        done = f" {job.steps_done} of {job.steps_all} steps are done." if job.steps_all else ""
        return f"It is being built.{done}"
    return "It waits to be built."


def _ids(texts: list[str]) -> list[uuid.UUID]:
    found = []
    for text in texts[:MOST_UNITS]:
        try:
            found.append(uuid.UUID(text))
        except ValueError:
            continue
    return found
