"""Visits over HTTP: what is due where, day and person planned by If-Match, and a call-out that was wasted."""

import uuid
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from commissioning.models import Issue, Visit
from commissioning.samples.population import part_of
from commissioning.visits.actions import CannotPlan, NothingWasted, PlannedMeanwhile, plan_visit, waste_call_out
from commissioning.visits.stops import Stop, plan_for
from portfolio.api.writes import read, wrong
from portfolio.door import conditional
from portfolio.door.fields import Day, Id, Strict, Text
from portfolio.door.problems import Problem
from portfolio.door.views import DoorView
from portfolio.models import Position, Project

_IF_MATCH = [OpenApiParameter("If-Match", str, OpenApiParameter.HEADER, required=True)]


class VisitForm(Strict):
    day = Day(allow_null=True)
    person = Id(allow_null=True)


class WastedForm(Strict):
    cause = Text(lines=True, max_length=1000)


def _stop(one: Stop) -> dict[str, Any]:
    return {
        "position": str(one.unit.pk),
        "tag": one.unit.tag,
        "building": one.unit.building.name,
        "site": one.unit.building.site.name,
        "version": one.version,
        "day": one.day,
        "person": str(one.person.pk) if one.person else None,
        "tests": [test.code for test in one.tests],
        "retests": [{"id": str(issue.pk), "number": issue.number} for issue in one.retests],
        "verify": one.verify,
        "what": one.what,
        "needs": one.needs,
    }


def _plan(unit: Position, newest: Visit | None) -> dict[str, Any]:
    return {
        "position": str(unit.pk),
        "version": newest.version if newest else 0,
        "day": newest.day if newest else None,
        "person": str(newest.person_id) if newest and newest.person_id else None,
        "planned_by": str(newest.planned_by_id) if newest else None,
        "planned_at": newest.planned_at if newest else None,
    }


class VisitsView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(
        operation_id="visits",
        summary="The plan of two weeks: units to be visited, by whom, for what, with what it needs",
        description="A lead reads all of it, a technician their own. What was missed and what has no day is told too.",
        responses={200: OpenApiTypes.OBJECT},
    )
    def get(self, request: Request, project_id: uuid.UUID) -> Response:
        part = part_of(self.person, self.visible(Project.objects, project_id))
        self.allow(part, verb="submit_evidence")
        plan = plan_for(self.person, part)
        return Response({"today": plan.today, "results": [_stop(one) for one in plan.ahead], "next": None})


class VisitView(DoorView):
    """The planned visit of a unit. Every plan before is kept; the newest holds."""

    verbs = {"GET": "see", "PUT": "plan_visits", "DELETE": "plan_visits"}

    @extend_schema(
        operation_id="visit", summary="When somebody goes to a unit, and who", responses={200: OpenApiTypes.OBJECT}
    )
    def get(self, request: Request, pk: uuid.UUID) -> Response:
        unit = self.visible(Position.objects, pk)
        self.allow(unit, verb="plan_visits")
        return _answer(unit, _newest(unit))

    @extend_schema(
        operation_id="plan_visit",
        summary="Plan or change a visit",
        description="`day` and `person`, either of them null. The person is a lead or a technician of the unit.",
        request=VisitForm,
        responses={200: OpenApiTypes.OBJECT},
        parameters=_IF_MATCH,
    )
    def put(self, request: Request, pk: uuid.UUID) -> Response:
        unit = self.visible(Position.objects, pk)
        return _answer(unit, self._planned(request, unit, **read(VisitForm, request)))

    @extend_schema(
        operation_id="cancel_visit", summary="Take a visit off the plan", responses={204: None}, parameters=_IF_MATCH
    )
    def delete(self, request: Request, pk: uuid.UUID) -> Response:
        self._planned(request, self.visible(Position.objects, pk), day=None, person=None)
        return Response(status=204)

    def _planned(self, request: Request, unit: Position, **values: Any) -> Visit:
        seen = _seen(request, unit)
        try:
            return plan_visit(position=unit, seen=seen, by=self.person, request=request, **values)
        except PlannedMeanwhile as late:
            raise _stale(unit, late) from late
        except CannotPlan as why:
            raise wrong(f"/{why.field}", "cannot_plan", why.reason, why.remedy) from why


class WastedView(DoorView):
    verbs = {"POST": "plan_visits"}

    @extend_schema(
        operation_id="waste_call_out",
        summary="The call-out was wasted, with its cause",
        description="Counted at each issue that waits for a retest there; it is released again. The visit is off.",
        request=WastedForm,
        responses={200: OpenApiTypes.OBJECT},
        parameters=_IF_MATCH,
    )
    def post(self, request: Request, pk: uuid.UUID) -> Response:
        unit = self.visible(Position.objects, pk)
        cause = read(WastedForm, request)["cause"]
        seen = _seen(request, unit)
        try:
            counted = waste_call_out(position=unit, cause=cause, seen=seen, by=self.person, request=request)
        except PlannedMeanwhile as late:
            raise _stale(unit, late) from late
        except NothingWasted as why:
            raise Problem(409, "nothing_wasted", "There is no call-out to count", str(why)) from why
        except CannotPlan as why:
            raise wrong(f"/{why.field}", "cannot_plan", why.reason, why.remedy) from why
        newest = _newest(unit)
        told = _plan(unit, newest) | {"counted_at": [_counted(one) for one in counted]}
        return Response(told, headers=_etag(newest))


def _counted(issue: Issue) -> dict[str, Any]:
    return {
        "id": str(issue.pk),
        "number": issue.number,
        "state": issue.state,
        "wasted_call_outs": issue.wasted_call_outs,
    }


def _newest(unit: Position) -> Visit | None:
    return Visit.objects.filter(position=unit).newest().first()


def _seen(request: Request, unit: Position) -> int:
    """The version that If-Match names, if it is the newest; whether it still is when it is planned, the act asks."""
    newest = _newest(unit)
    version = newest.version if newest else 0
    conditional.require_match(request, version, _plan(unit, newest))
    return version


def _answer(unit: Position, newest: Visit | None) -> Response:
    return Response(_plan(unit, newest), headers=_etag(newest))


def _etag(newest: Visit | None) -> dict[str, str]:
    return {"ETag": conditional.etag(newest.version if newest else 0)}


def _stale(unit: Position, late: PlannedMeanwhile) -> Problem:
    return conditional.stale(late.newest.version if late.newest else 0, _plan(unit, late.newest))
