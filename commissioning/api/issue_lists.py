"""A company's list out as a spreadsheet and back in; the link by which it answers without an account."""

import uuid
from typing import Any

from django.db import transaction
from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from commissioning.api.submissions import EvidenceView
from commissioning.issues import actions, exchange, links
from commissioning.issues.queries import with_everything
from commissioning.models import AnswerLink, Issue
from portfolio import audit
from portfolio.api.writes import read, wrong
from portfolio.door.bodies import body_of
from portfolio.door.fields import Id, Strict
from portfolio.door.problems import not_found
from portfolio.door.views import DoorView
from portfolio.models import Company, Project

SHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def company_of(view: DoorView, project: Project, pk: uuid.UUID) -> Company:
    found = view.seen(Company.objects).filter(pk=pk, projects=project).first()
    if found is None:
        raise not_found()
    return found


def issues_of(view: DoorView, project: Project, company: Company) -> list[Issue]:
    rows = view.seen(Issue.objects).filter(project=project, company=company)
    return list(with_everything(rows.exclude(state__in=["draft", "dropped", "merged"])).order_by("number"))


class ListView(EvidenceView):
    """GET the list; POST it back. `dry_run=1` tells what would be done and does nothing."""

    verbs = {"GET": "see", "POST": "see"}

    @extend_schema(
        operation_id="issue_list", summary="A company's issues as a spreadsheet", responses={(200, SHEET): bytes}
    )
    def get(self, request: Request, project_id: uuid.UUID, company_id: uuid.UUID) -> HttpResponse:
        project = self.visible(Project.objects, project_id)
        company = company_of(self, project, company_id)
        data = exchange.write(issues_of(self, project, company), f"{project.name}: issues of {company.name}")
        response = HttpResponse(data, content_type=SHEET)
        response["Content-Disposition"] = f'attachment; filename="issues-{project.code}-{company.pk}.xlsx"'
        return response

    @extend_schema(
        operation_id="issue_list_back",
        summary="Take the company's answers from its list",
        request={SHEET: bytes},
        parameters=[OpenApiParameter("dry_run", bool)],
        responses={200: OpenApiTypes.OBJECT},
    )
    def post(self, request: Request, project_id: uuid.UUID, company_id: uuid.UUID) -> Response:
        project = self.visible(Project.objects, project_id)
        company = company_of(self, project, company_id)
        issues = issues_of(self, project, company)
        reading = exchange.read(body_of(request, limit_bytes=exchange.MOST_BYTES), issues)
        if request.query_params.get("dry_run") not in (None, "0", "false"):
            return Response({"applied": False} | reading.to_json())
        try:
            with transaction.atomic():
                exchange.apply(reading, issues, actions.Actor(person=self.person, request=request))
        except actions.CannotAct as fault:
            raise wrong(f"/{fault.field}", "cannot_act", fault.reason, fault.remedy) from fault
        return Response({"applied": True} | reading.to_json())


class LinkForm(Strict):
    company = Id()
    days = serializers.IntegerField(min_value=1, max_value=90, default=links.DAYS)


class LinksView(DoorView):
    verbs = {"POST": "release_issue", "GET": "release_issue"}

    @extend_schema(
        operation_id="make_answer_link",
        summary="A link to answer one list",
        request=LinkForm,
        responses={201: OpenApiTypes.OBJECT},
    )
    def post(self, request: Request, project_id: uuid.UUID) -> Response:
        project = self.visible(Project.objects, project_id)
        values = read(LinkForm, request)
        company = company_of(self, project, values["company"])
        with transaction.atomic():
            link, secret = links.make(project=project, company=company, person=self.person, days=values["days"])
            audit.note(request=request, person=self.person, verb="make_answer_link", obj=link, project_id=project.pk)
        return Response(_show(link) | {"path": f"/answer/{secret}"}, status=201)

    @extend_schema(
        operation_id="answer_links", summary="Answer links of a project", responses={200: OpenApiTypes.OBJECT}
    )
    def get(self, request: Request, project_id: uuid.UUID) -> Response:
        project = self.visible(Project.objects, project_id)
        return Response({"results": [_show(link) for link in project.answer_links.order_by("-made_at")]})


class LinkView(DoorView):
    verbs = {"DELETE": "release_issue"}

    @extend_schema(operation_id="revoke_answer_link", summary="Revoke an answer link", responses={204: None})
    def delete(self, request: Request, project_id: uuid.UUID, pk: uuid.UUID) -> Response:
        project = self.visible(Project.objects, project_id)
        link = AnswerLink.objects.filter(pk=pk, project=project).first()
        if link is None:
            raise not_found()
        with transaction.atomic():
            links.revoke(link)
            audit.note(request=request, person=self.person, verb="revoke_answer_link", obj=link, project_id=project.pk)
        return Response(status=204)


def _show(link: AnswerLink) -> dict[str, Any]:
    return {
        "id": str(link.pk),
        "company": str(link.company_id),
        "expires_at": link.expires_at,
        "revoked_at": link.revoked_at,
    }
