"""Binders over HTTP: ask for one, watch it being built, take the document or the frozen data behind it."""

import uuid
from dataclasses import dataclass, replace
from typing import Any

from django.db import transaction
from django.http import FileResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from commissioning.models import Binder
from portfolio import audit
from portfolio.access import Scope
from portfolio.api.writes import read, wrong
from portfolio.door.fields import Id, Strict, Text
from portfolio.door.files import serve
from portfolio.door.paging import page_of
from portfolio.door.problems import Problem, not_found
from portfolio.door.views import DoorView
from portfolio.jobs import queue
from portfolio.models import Building, Job, Position, Project

MOST_UNITS = 2000


class BinderForm(Strict):
    """What it is called, and its units: by id, or all of one or several buildings."""

    title = Text(max_length=200)
    positions = serializers.ListField(child=Id(), required=False, max_length=MOST_UNITS)
    building = Id(required=False)
    buildings = serializers.ListField(child=Id(), required=False, max_length=200)


@dataclass(frozen=True)
class _Units:
    """Several units of a project as one thing that an act is done to."""

    project: Project
    positions: list[Position]

    def access_scope(self) -> Scope:
        buildings = frozenset(one.building_id for one in self.positions)
        return replace(self.project.access_scope(), building_ids=buildings)


def show(binder: Binder, job: Job | None) -> dict[str, Any]:
    return {
        "id": str(binder.pk),
        "project": str(binder.project_id),
        "title": binder.title,
        "asked_by": str(binder.asked_by_id),
        "asked_at": binder.asked_at,
        "positions": sorted(str(one.pk) for one in binder.positions.all()),
        "state": _state(binder, job),
        "steps_done": job.steps_done if job else 0,
        "steps_all": job.steps_all if job else 0,
        "error": _last_line(job.error) if job else "",
        "built_at": binder.built_at,
        "pages": binder.pages,
        "input_hash": binder.input_hash or None,
        "sha256": binder.document_id,
        "file": f"/api/v1/binders/{binder.pk}/file" if binder.document_id else None,
        "frozen": f"/api/v1/binders/{binder.pk}/frozen" if binder.frozen_id else None,
    }


def _state(binder: Binder, job: Job | None) -> str:
    if binder.document_id:
        return "built"
    if job is not None and not job.due:
        return "failed" if job.error else "building"  # it may have ended since the binder was read
    return "building" if job is not None and job.token is not None else "waiting"


def _last_line(error: str) -> str:
    """For people: the sentence, without where in the code it was said."""
    last = error.strip().rpartition("\n")[2]
    return last.partition(": ")[2] or last


def jobs_of(binders: list[Binder]) -> dict[uuid.UUID, Job]:
    rows = Job.objects.filter(kind="binder", subject__in=[one.pk for one in binders])
    return {job.subject: job for job in rows}


class BindersView(DoorView):
    verbs = {"GET": "see", "POST": "build_binder"}

    @extend_schema(
        operation_id="binders", summary="Binders of a project that you may see", responses={200: OpenApiTypes.OBJECT}
    )
    def get(self, request: Request, project_id: uuid.UUID) -> Response:
        project = self.visible(Project.objects, project_id)
        rows = self.seen(Binder.objects).filter(project=project).prefetch_related("positions")
        page = page_of(request, rows, order=["-asked_at", "id"], show=lambda one: one)
        jobs = jobs_of(page["results"])
        page["results"] = [show(one, jobs.get(one.pk)) for one in page["results"]]
        return Response(page)

    @extend_schema(
        operation_id="ask_for_binder",
        summary="Have a binder built",
        description="It is built in the background; follow the link in `Location` until its state is `built`.",
        request=BinderForm,
        responses={202: OpenApiTypes.OBJECT},
    )
    def post(self, request: Request, project_id: uuid.UUID) -> Response:
        project = self.visible(Project.objects, project_id, verb="see")
        values = read(BinderForm, request)
        positions = self._positions(project, values)
        self.allow(_Units(project, positions))
        with transaction.atomic():
            binder = Binder.objects.create(project=project, title=values["title"], asked_by=self.person)
            binder.positions.set(positions)
            queue.want("binder", [binder.pk])
            audit.note(
                request=request,
                person=self.person,
                verb="build_binder",
                obj=binder,
                project_id=project.pk,
                detail={"units": len(positions)},
            )
        job = Job.objects.get(kind="binder", subject=binder.pk)
        return Response(show(binder, job), status=202, headers={"Location": f"/api/v1/binders/{binder.pk}"})

    def _positions(self, project: Project, values: dict[str, Any]) -> list[Position]:
        """The units named, all of them seen and of this project; what is not is not found."""
        named = [name for name in ("positions", "building", "buildings") if values.get(name)]
        if len(named) != 1:
            raise wrong("", "one_of", "Name the units in one way.", "Send positions, building or buildings.")
        seen = self.seen(Position.objects).filter(building__site__project=project)
        if named == ["positions"]:
            wanted = set(values["positions"])
            rows = seen.filter(pk__in=wanted)
        else:
            wanted = set(values.get("buildings") or [values["building"]])
            if self.seen(Building.objects).filter(site__project=project, pk__in=wanted).count() < len(wanted):
                raise not_found()
            rows = seen.filter(building__in=wanted)
        positions = list(rows.order_by("pk")[: MOST_UNITS + 1])
        if named == ["positions"] and len(positions) < len(wanted):
            raise not_found()
        if not positions or len(positions) > MOST_UNITS:
            raise wrong(f"/{named[0]}", "units", f"A binder holds 1 to {MOST_UNITS} units.", "Name others, or fewer.")
        return positions


class BinderView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(operation_id="binder", summary="A binder, and how far it is", responses={200: OpenApiTypes.OBJECT})
    def get(self, request: Request, pk: uuid.UUID) -> Response:
        binder = self.visible(Binder.objects, pk)
        return Response(show(binder, jobs_of([binder]).get(binder.pk)))


def file_of(view: DoorView, pk: uuid.UUID, part: str) -> FileResponse:
    """A file of a binder, with a line in the audit: who reads what was handed over is on record."""
    binder = view.visible(Binder.objects, pk)
    blob = binder.document if part == "document" else binder.frozen
    if blob is None:
        raise Problem(409, "not_built", "It is not built yet", "Ask for the binder until its state is `built`.")
    audit.note(
        request=view.request,
        person=view.person,
        verb=f"binder.read_{part}",
        obj=binder,
        project_id=binder.project_id,
        detail={"sha256": blob.sha256},
    )
    return serve(blob, name=f"{binder.title}.{'pdf' if part == 'document' else 'json'}")


class BinderFileView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(summary="A binder as PDF", responses={200: OpenApiTypes.BINARY})
    def get(self, request: Request, pk: uuid.UUID) -> FileResponse:
        return file_of(self, pk, "document")


class BinderFrozenView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(
        operation_id="binder_frozen",
        summary="The frozen document behind a binder",
        description="`ventfolio/binder/1`, see docs/binder.md: all that is printed, and what it takes to judge again.",
        responses={200: OpenApiTypes.OBJECT},
    )
    def get(self, request: Request, pk: uuid.UUID) -> FileResponse:
        return file_of(self, pk, "frozen")
