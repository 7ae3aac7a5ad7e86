"""Positions (tags), and the machines that come to sit in them."""

from datetime import date
from typing import Any
from uuid import UUID

from django.db import transaction
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from portfolio.api.forms import (
    InstallationEnd,
    InstallationIn,
    InstallationOut,
    PositionIn,
    PositionOut,
    PositionPatch,
    listing,
)
from portfolio.api.placing import end_installation, place_machine
from portfolio.api.writes import add, change, note, read, refuse_second, wrong
from portfolio.door.fields import Id
from portfolio.door.paging import filters_of, page_of
from portfolio.door.views import DoorView
from portfolio.jobs import queue
from portfolio.models import Building, Installation, Position, ServedSpace, System, TagAlias


def _system(building: Building, system_id: UUID | None) -> System | None:
    if system_id is None:
        return None
    system: System | None = building.systems.filter(pk=system_id).first()
    if system is None:
        raise wrong("/system", "does_not_exist", "The building has no such system.", "Add the system first.")
    return system


def _spaces(building: Building, ids: list[UUID]) -> list[ServedSpace]:
    found = {space.pk: space for space in building.spaces.filter(pk__in=ids)}
    for index, space_id in enumerate(ids):
        if space_id not in found:
            raise wrong(f"/spaces/{index}", "does_not_exist", "The building has no such space.", "Add the space first.")
    return list(found.values())


class PositionsView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(
        parameters=[OpenApiParameter(name, str) for name in ("tag", "building", "project")],
        responses=listing(PositionOut),
    )
    def get(self, request: Request) -> Response:
        """Positions that one sees, by tag; narrowed by tag, building or project."""
        wanted = filters_of(request, "tag", "building", "project")
        rows = self.seen(Position.objects).prefetch_related("spaces", "aliases")
        for name, path in (("building", "building"), ("project", "building__site__project")):
            if name in wanted:
                rows = rows.filter(**{path: Id().run_validation(wanted[name])})
        if "tag" in wanted:
            rows = rows.filter(tag=wanted["tag"])
        filters = ("tag", "building", "project")
        page = page_of(request, rows, order=("tag", "id"), filters=filters, show=lambda row: PositionOut(row).data)
        return Response(page)


class BuildingPositionsView(DoorView):
    verbs = {"POST": "edit_portfolio"}

    @extend_schema(request=PositionIn, responses={201: PositionOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Add a position to a building."""
        building = self.visible(Building.objects, pk)
        values = read(PositionIn, request)
        spaces = _spaces(building, values.pop("spaces", []))
        values["system"] = _system(building, values.get("system"))
        position = Position(building=building, **values)
        with transaction.atomic():
            add(self, position, once=("building", "tag"))
            position.spaces.set(spaces)
            queue.want("judge", [position.pk])
        return Response(PositionOut(position).data, status=201)


class PositionView(DoorView):
    verbs = {"GET": "see", "PATCH": "edit_portfolio"}

    @extend_schema(responses=PositionOut)
    def get(self, request: Request, pk: UUID) -> Response:
        """One position."""
        return Response(PositionOut(self.visible(Position.objects, pk)).data)

    @extend_schema(request=PositionPatch, responses=PositionOut)
    def patch(self, request: Request, pk: UUID) -> Response:
        """Change its tag (the old one stays as an alias), kind, place, system, spaces, or, with a reason, its scope."""
        position = self.visible(Position.objects, pk)
        values = read(PositionPatch, request, partial=True)
        if ("scope" in values) != ("reason" in values):
            missing = "/reason" if "scope" in values else "/scope"
            raise wrong(missing, "required", "Scope and reason come together.", "Send both or neither.")
        spaces = _spaces(position.building, values.pop("spaces")) if "spaces" in values else None
        if "system" in values:
            values["system"] = _system(position.building, values["system"])
        with transaction.atomic():
            self._apply(position, values)
            if spaces is not None:
                position.spaces.set(spaces)
            queue.want("judge", [position.pk])
        return Response(PositionOut(position).data)

    def _apply(self, position: Position, values: dict[str, Any]) -> None:
        old_tag = position.tag
        reason = values.pop("reason", None)
        if reason is not None:
            values["scope_reason"] = reason
        if values.get("tag", old_tag) != old_tag:
            refuse_second(Position(building=position.building, tag=values["tag"]), ("building", "tag"))
            TagAlias.objects.create(position=position, tag=old_tag)
        change(self, position, values, detail={"tag_before": old_tag} if "tag" in values else None)


class InstallationsView(DoorView):
    verbs = {"GET": "see", "POST": "edit_portfolio"}

    @extend_schema(responses=listing(InstallationOut))
    def get(self, request: Request, pk: UUID) -> Response:
        """The machines of a position, the newest first."""
        rows = Installation.objects.filter(position=self.visible(Position.objects, pk)).select_related("machine")
        page = page_of(request, rows, order=("-since", "id"), show=lambda row: InstallationOut(row).data)
        return Response(page)

    @extend_schema(request=InstallationIn, responses={201: InstallationOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Put a machine into a position from a date on. The one that sat there ends on that date."""
        position = self.visible(Position.objects, pk)
        values = read(InstallationIn, request)
        with transaction.atomic():
            installation = place_machine(position=position, **values)
            note(self, installation, {"position": str(position.pk), "since": str(values["since"])})
        return Response(InstallationOut(installation).data, status=201)


class InstallationView(DoorView):
    verbs = {"PATCH": "edit_portfolio"}

    @extend_schema(request=InstallationEnd, responses=InstallationOut)
    def patch(self, request: Request, pk: UUID) -> Response:
        """Say that a machine was taken out, and when."""
        installation = self.visible(Installation.objects, pk)
        until: date = read(InstallationEnd, request)["until"]
        with transaction.atomic():
            end_installation(installation=installation, until=until)
            note(self, installation, {"until": str(until)})
        return Response(InstallationOut(installation).data)
