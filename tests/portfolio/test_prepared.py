"""A prepared query answers as its queryset does, in whatever connection it is asked."""

import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from portfolio import access
from portfolio.models import Membership, Person, Position
from portfolio.models.prepared import Prepared
from tests.cast import Cast

pytestmark = pytest.mark.django_db


def _in_force(at: datetime, person: uuid.UUID) -> Any:
    return Membership.objects.in_force(at).filter(person=person).select_related("firm")


def test_a_prepared_query_gives_the_objects_of_its_queryset_for_one_argument_after_another(cast: Cast) -> None:
    asked = Prepared(_in_force, datetime, uuid.UUID)
    for person in Person.objects.all():
        for at in (timezone.now(), timezone.now() + timedelta(days=4000), datetime(1999, 1, 1, tzinfo=UTC)):
            want = list(_in_force(at, person.pk))
            got = asked(at, person.pk)
            assert [(m.pk, m.role, m.since, m.until, m.firm) for m in got] == [
                (m.pk, m.role, m.since, m.until, m.firm) for m in want
            ]


def test_related_objects_come_with_the_same_one_query(cast: Cast) -> None:
    asked = Prepared(_in_force, datetime, uuid.UUID)
    lead = cast.person("own", "lead")
    with CaptureQueriesContext(connection) as held:
        (found,) = asked(timezone.now(), lead.pk)
        assert found.firm == cast.things["firm"]
    assert len(held) == 1


def test_a_membership_that_ended_is_gone_at_the_next_asking(cast: Cast) -> None:
    lead = cast.person("own", "lead")
    assert Person.objects.get(pk=lead.pk).memberships_in_force
    Membership.objects.filter(person=lead).update(until=timezone.now())
    assert Person.objects.get(pk=lead.pk).memberships_in_force == []


def test_an_argument_that_the_query_does_not_hold_is_refused() -> None:
    asked = Prepared(lambda tag: Position.objects.all(), str)
    with pytest.raises(TypeError, match="not every argument"):
        asked("ERV-1")


def test_where_positions_lie_is_what_each_of_them_says(cast: Cast) -> None:
    each = {position.pk: position.access_scope() for position in Position.objects.all()}
    assert Position.lie(each) == each
    for pk, scope in each.items():
        assert Position.lie([pk]) == {pk: scope}
    assert Position.lie([uuid.uuid4()]) == {}


def test_whoever_may_submit_at_a_position_sees_it(cast: Cast) -> None:
    """Acceptance looks at rights first, and asks who sees what only for those who have none."""
    allowed = 0
    for person in Person.objects.all():
        for project in (None, cast.things["project"].pk, uuid.uuid4()):
            asker = Person.objects.get(pk=person.pk)
            asker.only_project = project
            seen = set(Position.objects.visible_to(asker).values_list("pk", flat=True))
            may = {
                pk
                for pk, scope in Position.lie(list(Position.objects.values_list("pk", flat=True))).items()
                if access.may(asker, "submit_evidence", scope)
            }
            assert may <= seen
            allowed += len(may)
    assert allowed
