"""Issues over HTTP: lists, one issue with its story, and every act on it, versioned by If-Match."""

import uuid
from typing import Any

from django.db.models import QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from commissioning.issues import actions, queries
from commissioning.issues.states import ACTS, acts_from
from commissioning.models import Issue
from portfolio.api.writes import read, wrong
from portfolio.door import conditional
from portfolio.door.fields import Day, Id, Strict, Text
from portfolio.door.paging import page_of
from portfolio.door.problems import Problem, not_found
from portfolio.door.views import DoorView
from portfolio.models import Blob, Company, Person


def show(issue: Issue, checks: list[queries.Check]) -> dict[str, Any]:
    return {
        "id": str(issue.pk),
        "number": issue.number,
        "project": str(issue.project_id),
        "title": issue.title,
        "state": issue.state,
        "priority": issue.priority,
        "root_cause": issue.root_cause,
        "company": str(issue.company_id) if issue.company_id else None,
        "assignee": str(issue.assignee_id) if issue.assignee_id else None,
        "due": issue.due,
        "retest_on": issue.retest_on,
        "wasted_call_outs": issue.wasted_call_outs,
        "opened_at": issue.opened_at,
        "moved_at": issue.moved_at,
        "merged_into": str(issue.merged_into_id) if issue.merged_into_id else None,
        "version": issue.version,
        "checks": [
            {
                "id": check.pk,
                "position": check.position_id,
                "tag": check.tag,
                "building": check.building,
                "requirement": check.requirement,
                "port": check.port,
                "outcome": check.outcome,
            }
            for check in checks
        ],
    }


def show_whole(issue: Issue) -> dict[str, Any]:
    """With the story and the acts that can follow. Expects `queries.with_everything`."""
    story = [
        {
            "at": event.at,
            "person": str(event.person_id) if event.person_id else None,
            "said_by": event.said_by,
            "act": event.act,
            "before": event.before,
            "after": event.after,
            "text": event.text,
            "detail": event.detail,
        }
        for event in issue.events.all()
    ]
    checks = queries.checks_of([issue])[str(issue.pk)]
    return show(issue, checks) | {"story": story, "acts": [act.code for act in acts_from(issue.state)]}


class IssuesView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(
        operation_id="issues",
        summary="Issues that you may see",
        parameters=[
            OpenApiParameter("project", OpenApiTypes.UUID),
            OpenApiParameter("company", OpenApiTypes.UUID),
            OpenApiParameter("state", str),
            OpenApiParameter("position", OpenApiTypes.UUID),
        ],
        responses={200: OpenApiTypes.OBJECT},
    )
    def get(self, request: Request) -> Response:
        rows = queries.with_everything(self.seen(Issue.objects))
        rows = _filtered(request, rows)
        page = page_of(
            request,
            rows,
            order=["-number", "id"],
            show=lambda i: i,
            filters=["project", "company", "state", "position"],
        )
        checks = queries.checks_of(page["results"])
        page["results"] = [show(issue, checks[str(issue.pk)]) for issue in page["results"]]
        return Response(page)


def _filtered(request: Request, rows: QuerySet[Issue]) -> QuerySet[Issue]:
    fields = {"project": "project", "company": "company", "position": "checks__position"}
    for name, path in fields.items():
        if name in request.query_params:
            try:
                rows = rows.filter(**{path: uuid.UUID(request.query_params[name])})
            except ValueError:
                raise wrong(f"?{name}", "invalid", "This is no id.", "Send the id of what you look for.") from None
    if "state" in request.query_params:
        rows = rows.filter(state=request.query_params["state"])
    return rows.distinct()


class IssueView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(operation_id="issue", summary="An issue and its story", responses={200: OpenApiTypes.OBJECT})
    def get(self, request: Request, pk: uuid.UUID) -> Response:
        issue = self.visible(queries.with_everything(Issue.objects.all()), pk)
        return Response(show_whole(issue), headers={"ETag": conditional.etag(issue.version)})


class ActForm(Strict):
    act = serializers.ChoiceField(choices=sorted(ACTS))
    text = Text(lines=True, required=False, max_length=10_000)
    company = Id(required=False)
    assignee = Id(required=False)
    title = Text(required=False, max_length=200)
    priority = serializers.ChoiceField(choices=Issue.Priority.choices, required=False)
    root_cause = Text(required=False, max_length=400)
    due = Day(required=False)
    retest_on = Day(required=False)
    into = Id(required=False)
    checks = serializers.ListField(child=serializers.IntegerField(), required=False, max_length=2000)
    photo = serializers.RegexField(r"^[0-9a-f]{64}$", required=False)


class ActView(DoorView):
    """One act on one issue. What the act needs is in docs/api.md and in the refusal."""

    verbs = {"POST": "see"}  # whether the person may do this very act is asked by the act itself

    @extend_schema(
        operation_id="act_on_issue",
        summary="Do one act on an issue",
        request=ActForm,
        responses={200: OpenApiTypes.OBJECT},
        parameters=[OpenApiParameter("If-Match", str, OpenApiParameter.HEADER, required=True)],
    )
    def post(self, request: Request, pk: uuid.UUID) -> Response:
        issue = self.visible(queries.with_everything(Issue.objects.all()), pk)
        values = read(ActForm, request)
        conditional.require_match(request, issue.version, _state(issue))
        code = values.pop("act")
        try:
            done = actions.act(
                issue=issue,
                code=code,
                actor=actions.Actor(person=self.person, request=request),
                version=issue.version,
                wish=self._wish(values),
            )
        except actions.CannotAct as fault:
            raise wrong(f"/{fault.field}", "cannot_act", fault.reason, fault.remedy) from fault
        except actions.Stale as late:
            raise conditional.stale(late.issue.version, _state(late.issue)) from late
        whole = queries.with_everything(Issue.objects.filter(pk=done.pk)).get()
        return Response(show_whole(whole), headers={"ETag": conditional.etag(whole.version)})

    def _wish(self, values: dict[str, Any]) -> actions.Wish:
        """Ids to rows that this person sees: what is named and not seen does not exist."""
        named: dict[str, Any] = dict(values)
        rows: dict[str, QuerySet[Any]] = {
            "company": self.seen(Company.objects),
            "into": self.seen(Issue.objects),
            "assignee": colleagues(self.person),
            "photo": Blob.objects.all(),
        }
        for name, candidates in rows.items():
            if name in named:
                found = candidates.filter(pk=named[name]).first()
                if found is None:
                    raise wrong(f"/{name}", "not_found", "There is no such thing, or you do not see it.", "Look again.")
                named[name] = found
        return actions.Wish(**named)


def colleagues(person: Person) -> QuerySet[Person]:
    """People that one may name: those with a membership in force near one's own."""
    reach = person.reach
    rows = Person.objects.filter(is_active=True)
    return (
        rows.filter(memberships__firm__in=reach.firms)
        | rows.filter(memberships__company__firm__in=reach.firms)
        | rows.filter(memberships__project__firm__in=reach.firms)
        | rows.filter(pk=person.pk)
    ).distinct()


def _state(issue: Issue) -> dict[str, Any]:
    return {"version": issue.version, "state": issue.state, "title": issue.title}


def issues_of_project(view: DoorView, project: Any) -> QuerySet[Issue]:
    return queries.with_everything(view.seen(Issue.objects).filter(project=project)).order_by("number")


__all__ = ["ActView", "IssueView", "IssuesView", "Problem", "not_found", "show", "show_whole"]
