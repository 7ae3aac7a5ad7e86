"""Planning a visit to a unit, and saying that a call-out was wasted: by whoever saw the newest plan."""

from collections.abc import Iterable
from datetime import date
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Q, QuerySet
from django.http import HttpRequest
from django.utils import timezone
from rest_framework.request import Request

from commissioning.issues.actions import Actor, Wish, act
from commissioning.models import Issue, Visit
from commissioning.samples.population import Units
from portfolio import access, audit
from portfolio.models import Membership, Person, Position
from portfolio.models.people import Role


class PlannedMeanwhile(Exception):
    """Somebody else planned the visit since the plan was looked at."""

    def __init__(self, newest: Visit | None) -> None:
        super().__init__(f"the plan has version {newest.version if newest else 0} by now")
        self.newest = newest


class CannotPlan(Exception):
    """Which field cannot be so, why, and what to do instead."""

    def __init__(self, field: str, value: str, reason: str, remedy: str) -> None:
        super().__init__(f"{reason} {remedy}")
        self.field, self.value, self.reason, self.remedy = field, value, reason, remedy


class NothingWasted(CannotPlan):
    """No issue at the unit waits for a retest."""


def plan_visit(
    *,
    position: Position,
    day: date | None,
    person: UUID | None,
    seen: int,
    by: Person,
    request: Request | HttpRequest | None,
) -> Visit:
    """`seen` is the version on which the plan rests, 0 where there was none; without a day it is off the plan.

    Raises access.Forbidden, CannotPlan or PlannedMeanwhile; then nothing has changed.
    """
    access.require(by, "plan_visits", position)
    with transaction.atomic():
        _hold(position, seen)
        return _plan(position, day, _of_crew(position, person), seen, by, request)


def waste_call_out(
    *, position: Position, cause: str, seen: int, by: Person, request: Request | HttpRequest | None
) -> list[Issue]:
    """Somebody came and nothing could be retested: counted at each issue that waits there, and off the plan.

    Raises access.Forbidden, CannotPlan, NothingWasted or PlannedMeanwhile; then nothing has changed.
    """
    access.require(by, "plan_visits", position)
    if len(cause) < _FEW_WORDS:
        raise CannotPlan("cause", cause, "It is not said why the call-out was wasted.", "A few words are enough.")
    with transaction.atomic():
        _hold(position, seen)
        waiting = Issue.objects.visible_to(by).filter(checks__position=position, state=Issue.State.READY).distinct()
        issues = list(waiting.order_by("number"))
        if not issues:
            raise NothingWasted(
                "",
                position.tag,
                f"No issue at {position.tag} is declared ready, so there is no retest that was wasted.",
                "If a test was to be run, send its record with `wasted`: cause and company.",
            )
        actor, wish = Actor(person=by, request=request), Wish(text=cause)
        counted = [act(issue=one, code="waste_call_out", actor=actor, version=one.version, wish=wish) for one in issues]
        _plan(position, None, None, seen, by, request, wasted=[one.number for one in issues])
    return counted


_FEW_WORDS = 5


def crew(part: Units) -> QuerySet[Person]:
    """Leads and technicians in force whose role reaches all the buildings of a project that somebody sees."""
    project = part.project
    near = Q(firm=project.firm_id) | Q(owner=project.owner_id) | Q(project=project) | Q(building__in=part.buildings)
    held = Membership.objects.filter(near, role__in=(Role.LEAD, Role.TECHNICIAN)).values("person")
    people = Person.objects.filter(pk__in=held, is_active=True)
    ids = [one.pk for one in people if access.may(one, "submit_evidence", part)]
    return Person.objects.filter(pk__in=ids).order_by("name")


def _of_crew(position: Position, id: UUID | None) -> Person | None:
    if id is None:
        return None
    person = Person.objects.filter(pk=id, is_active=True).first()
    if person is None or not access.may(person, "submit_evidence", position):
        raise CannotPlan("person", str(id), "This person is not of the crew here.", "Choose another.")
    return person


def _hold(position: Position, seen: int) -> None:
    Position.objects.select_for_update().get(pk=position.pk)
    newest = Visit.objects.filter(position=position).newest().first()
    if (newest.version if newest else 0) != seen:
        raise PlannedMeanwhile(newest)


def _plan(
    position: Position,
    day: date | None,
    person: Person | None,
    seen: int,
    by: Person,
    request: Request | HttpRequest | None,
    wasted: Iterable[int] = (),
) -> Visit:
    made = Visit.objects.create(
        position=position, version=seen + 1, day=day, person=person, planned_by=by, planned_at=timezone.now()
    )
    detail: dict[str, Any] = {
        "version": made.version,
        "day": str(day or ""),
        "person": str(person.pk) if person else "",
    }
    audit.note(
        request=request,
        person=by,
        verb="plan_visit",
        obj=made,
        project_id=position.access_scope().project_id,
        detail=detail | ({"wasted": list(wasted)} if wasted else {}),
    )
    return made
