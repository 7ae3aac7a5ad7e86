"""Sites, buildings, systems and served spaces."""

from typing import Any, ClassVar
from uuid import UUID

from django.db import transaction
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from portfolio.api.forms import BuildingOut, InBuildingOut, NameIn, SiteIn, SiteOut, listing
from portfolio.api.writes import add, change, read
from portfolio.door.paging import page_of
from portfolio.door.views import DoorView
from portfolio.jobs import queue
from portfolio.models import Building, Project, ServedSpace, Site, System


def _of_site(values: dict[str, Any]) -> dict[str, Any]:
    """The form's elevation is the model's, in metres."""
    if "elevation" in values:
        values["elevation_m"] = values.pop("elevation")
    return values


class SitesView(DoorView):
    verbs = {"GET": "see", "POST": "edit_portfolio"}

    @extend_schema(responses=listing(SiteOut))
    def get(self, request: Request, pk: UUID) -> Response:
        """A project's sites that one sees."""
        project = self.visible(Project.objects, pk)
        sites = self.seen(Site.objects).filter(project=project)
        return Response(page_of(request, sites, order=("name", "id"), show=lambda row: SiteOut(row).data))

    @extend_schema(request=SiteIn, responses={201: SiteOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Add a site. Its elevation gives the air's pressure where nobody measured it."""
        project = self.visible(Project.objects, pk)
        site = Site(project=project, **_of_site(read(SiteIn, request)))
        return Response(SiteOut(add(self, site, once=("project", "name"))).data, status=201)


class SiteView(DoorView):
    verbs = {"GET": "see", "PATCH": "edit_portfolio"}

    @extend_schema(responses=SiteOut)
    def get(self, request: Request, pk: UUID) -> Response:
        """One site."""
        return Response(SiteOut(self.visible(Site.objects, pk)).data)

    @extend_schema(request=SiteIn, responses=SiteOut)
    def patch(self, request: Request, pk: UUID) -> Response:
        """Correct a site. Its project is judged again when elevation or time zone change."""
        site = self.visible(Site.objects, pk)
        values = _of_site(read(SiteIn, request, partial=True))
        with transaction.atomic():
            change(self, site, values)
            if {"elevation_m", "time_zone"} & set(values):
                queue.want("rejudge", [site.project_id])
        return Response(SiteOut(site).data)


class SiteBuildingsView(DoorView):
    verbs = {"POST": "edit_portfolio"}

    @extend_schema(request=NameIn, responses={201: BuildingOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Add a building to a site."""
        building = Building(site=self.visible(Site.objects, pk), **read(NameIn, request))
        return Response(BuildingOut(add(self, building, once=("site", "name"))).data, status=201)


class BuildingsView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(responses=listing(BuildingOut))
    def get(self, request: Request) -> Response:
        """Buildings that one sees."""
        buildings = self.seen(Building.objects)
        return Response(page_of(request, buildings, order=("name", "id"), show=lambda row: BuildingOut(row).data))


class BuildingView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(responses=BuildingOut)
    def get(self, request: Request, pk: UUID) -> Response:
        """One building."""
        return Response(BuildingOut(self.visible(Building.objects, pk)).data)


class _InBuildingView(DoorView):
    verbs = {"GET": "see", "POST": "edit_portfolio"}
    kind: ClassVar[type[System] | type[ServedSpace]]

    def _list(self, request: Request, pk: UUID) -> Response:
        rows = self.kind.objects.filter(building=self.visible(Building.objects, pk))
        return Response(page_of(request, rows, order=("name", "id"), show=lambda row: InBuildingOut(row).data))

    def _add(self, request: Request, pk: UUID) -> Response:
        row = self.kind(building=self.visible(Building.objects, pk), **read(NameIn, request))
        return Response(InBuildingOut(add(self, row, once=("building", "name"))).data, status=201)


class SystemsView(_InBuildingView):
    kind = System

    @extend_schema(responses=listing(InBuildingOut))
    def get(self, request: Request, pk: UUID) -> Response:
        """A building's systems: positions that share a duct or a pressure."""
        return self._list(request, pk)

    @extend_schema(request=NameIn, responses={201: InBuildingOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Add a system to a building."""
        return self._add(request, pk)


class SpacesView(_InBuildingView):
    kind = ServedSpace

    @extend_schema(responses=listing(InBuildingOut))
    def get(self, request: Request, pk: UUID) -> Response:
        """A building's served spaces."""
        return self._list(request, pk)

    @extend_schema(request=NameIn, responses={201: InBuildingOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Add a served space to a building."""
        return self._add(request, pk)
