"""Planning a visit to a unit: one day and one person, by whoever saw the newest plan."""

from datetime import date

from django.db import transaction
from django.http import HttpRequest
from django.utils import timezone

from commissioning.models import Visit
from portfolio import audit
from portfolio.models import Person, Position


class PlannedMeanwhile(Exception):
    """Somebody else planned the visit since the plan was looked at."""


def plan_visit(
    *, position: Position, day: date | None, person: Person | None, seen: int, by: Person, request: HttpRequest | None
) -> Visit:
    """`seen` is the version on which the plan rests, 0 where there was none. Raises PlannedMeanwhile."""
    with transaction.atomic():
        Position.objects.select_for_update().get(pk=position.pk)
        newest = Visit.objects.filter(position=position).newest().first()
        if (newest.version if newest else 0) != seen:
            raise PlannedMeanwhile
        made = Visit.objects.create(
            position=position, version=seen + 1, day=day, person=person, planned_by=by, planned_at=timezone.now()
        )
        audit.note(
            request=request,
            person=by,
            verb="plan_visit",
            obj=made,
            project_id=position.access_scope().project_id,
            detail={"version": made.version, "day": str(day or ""), "person": str(person.pk) if person else ""},
        )
    return made
