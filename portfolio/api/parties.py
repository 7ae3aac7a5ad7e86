"""Firms with their owners and companies, and projects with what they have agreed on."""

from typing import Any
from uuid import UUID

from django.db import transaction
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from portfolio.api.agreements import Conventions, ConventionsOut, plain, usual_conventions
from portfolio.api.forms import (
    CompanyIn,
    CompanyOut,
    FirmOut,
    OwnerIn,
    OwnerOut,
    ProjectIn,
    ProjectOut,
    ProjectPatch,
    listing,
)
from portfolio.api.writes import add, change, read, refuse_second, wrong
from portfolio.door.paging import page_of
from portfolio.door.views import DoorView
from portfolio.jobs import queue
from portfolio.models import Company, Firm, Owner, Project, ProjectConventions


class FirmsView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(responses=listing(FirmOut))
    def get(self, request: Request) -> Response:
        """Firms that one belongs to or works with."""
        firms = self.seen(Firm.objects)
        return Response(page_of(request, firms, order=("name", "id"), show=lambda row: FirmOut(row).data))


class OwnersView(DoorView):
    verbs = {"GET": "see", "POST": "edit_portfolio"}

    @extend_schema(responses=listing(OwnerOut))
    def get(self, request: Request, pk: UUID) -> Response:
        """A firm's owners that one sees."""
        firm = self.visible(Firm.objects, pk)
        owners = self.seen(Owner.objects).filter(firm=firm)
        return Response(page_of(request, owners, order=("name", "id"), show=lambda row: OwnerOut(row).data))

    @extend_schema(request=OwnerIn, responses={201: OwnerOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Add an owner to the firm's directory."""
        owner = Owner(firm=self.visible(Firm.objects, pk), **read(OwnerIn, request))
        return Response(OwnerOut(add(self, owner, once=("firm", "name"))).data, status=201)


class CompaniesView(DoorView):
    verbs = {"GET": "see", "POST": "edit_portfolio"}

    @extend_schema(responses=listing(CompanyOut))
    def get(self, request: Request, pk: UUID) -> Response:
        """A firm's companies that one sees."""
        firm = self.visible(Firm.objects, pk)
        companies = self.seen(Company.objects).filter(firm=firm)
        return Response(page_of(request, companies, order=("name", "id"), show=lambda row: CompanyOut(row).data))

    @extend_schema(request=CompanyIn, responses={201: CompanyOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Add a company to the firm's directory."""
        company = Company(firm=self.visible(Firm.objects, pk), **read(CompanyIn, request))
        return Response(CompanyOut(add(self, company, once=("firm", "name"))).data, status=201)


class FirmProjectsView(DoorView):
    verbs = {"POST": "edit_portfolio"}

    @extend_schema(request=ProjectIn, responses={201: ProjectOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Begin a project for an owner. It starts with the usual conventions as its version 1."""
        firm = self.visible(Firm.objects, pk)
        values = read(ProjectIn, request)
        owner = self.seen(Owner.objects).filter(firm=firm, pk=values.pop("owner")).first()
        if owner is None:
            raise wrong("/owner", "does_not_exist", "There is no such owner of this firm.", "Add the owner first.")
        project = Project(firm=firm, owner=owner, **values)
        with transaction.atomic():
            add(self, project, once=("firm", "code"))
            ProjectConventions.objects.create(project=project, version=1, agreed=usual_conventions())
        return Response(ProjectOut(project).data, status=201)


class ProjectsView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(responses=listing(ProjectOut))
    def get(self, request: Request) -> Response:
        """Projects that one sees."""
        projects = self.seen(Project.objects).prefetch_related("parties")
        return Response(page_of(request, projects, order=("code", "id"), show=lambda row: ProjectOut(row).data))


class ProjectView(DoorView):
    verbs = {"GET": "see", "PATCH": "edit_portfolio"}

    @extend_schema(responses=ProjectOut)
    def get(self, request: Request, pk: UUID) -> Response:
        """One project."""
        return Response(ProjectOut(self.visible(Project.objects, pk)).data)

    @extend_schema(request=ProjectPatch, responses=ProjectOut)
    def patch(self, request: Request, pk: UUID) -> Response:
        """Rename it, or say which companies are party to it."""
        project = self.visible(Project.objects, pk)
        values = read(ProjectPatch, request, partial=True)
        parties = values.pop("parties", None)
        detail = {} if parties is None else {"parties": [str(company) for company in parties]}
        with transaction.atomic():
            change(self, project, values, detail=detail)
            if parties is not None:
                project.parties.set(self._companies(project, parties))
        return Response(ProjectOut(project).data)

    def _companies(self, project: Project, ids: list[UUID]) -> list[Company]:
        found = list(Company.objects.visible_to(self.person).filter(firm=project.firm_id, pk__in=ids))
        missing = set(ids) - {company.pk for company in found}
        if missing:
            index = next(i for i, one in enumerate(ids) if one in missing)
            raise wrong(
                f"/parties/{index}",
                "does_not_exist",
                "There is no such company of this firm.",
                "Add the company first.",
            )
        return found


def _shown(row: ProjectConventions) -> Any:
    return ConventionsOut({**row.agreed, "version": row.version, "made_at": row.made_at}).data


class ConventionsView(DoorView):
    verbs = {"GET": "see", "POST": "edit_portfolio"}

    @extend_schema(responses=listing(ConventionsOut))
    def get(self, request: Request, pk: UUID) -> Response:
        """What the project has agreed on, newest version first. The first is what holds."""
        rows = ProjectConventions.objects.filter(project=self.visible(Project.objects, pk))
        return Response(page_of(request, rows, order=("-version",), show=_shown))

    @extend_schema(request=Conventions, responses={201: ConventionsOut})
    def post(self, request: Request, pk: UUID) -> Response:
        """Agree on a new version. Every position of the project is judged again by it."""
        project = self.visible(Project.objects, pk)
        agreed = plain(read(Conventions, request))
        with transaction.atomic():
            newest = project.conventions.order_by("-version").values_list("version", flat=True).first() or 0
            row = ProjectConventions(project=project, version=newest + 1, agreed=agreed)
            refuse_second(row, ("project", "version"))
            add(self, row, detail={"version": row.version})
            queue.want("rejudge", [project.pk])
        return Response(_shown(row), status=201)
