"""The database itself refuses to change what came from the field."""

import uuid

import pytest
from django.db import connection, transaction
from django.db.utils import DatabaseError

from portfolio.models import AuditEvent
from portfolio.models.insert_only import INSERT_ONLY, missing


def _event() -> AuditEvent:
    return AuditEvent.objects.create(verb="see", object_type="x", object_id=str(uuid.uuid4()))


@pytest.mark.django_db
@pytest.mark.parametrize(
    "statement", ["UPDATE portfolio_auditevent SET verb = 'y'", "DELETE FROM portfolio_auditevent"]
)
def test_a_kept_row_is_never_changed(statement: str) -> None:
    kept = _event()
    with pytest.raises(DatabaseError, match="never changed or deleted"), transaction.atomic():
        connection.cursor().execute(statement)
    assert AuditEvent.objects.get(pk=kept.pk).verb == "see"


@pytest.mark.django_db
def test_every_insert_only_table_has_its_triggers() -> None:
    assert missing() == []
    assert len(INSERT_ONLY) == 11


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("turn", [1, 2])
def test_the_emptying_between_tests_puts_the_triggers_back(turn: int) -> None:
    assert missing() == []
    assert not AuditEvent.objects.exists()
    _event()
    with pytest.raises(DatabaseError):
        AuditEvent.objects.update(verb="y")


@pytest.mark.django_db(transaction=True)
def test_the_ways_round_the_triggers_are_closed() -> None:
    """SQLite replaces a row by inserting; PostgreSQL empties a table without deleting."""
    kept = _event()
    roundabout = (
        "INSERT OR REPLACE INTO portfolio_auditevent (id, at, request_id, verb, object_type, object_id, detail)"
        f" VALUES ({kept.pk}, '2026-01-01', '', 'y', '', '', '{{}}')"
        if connection.vendor == "sqlite"
        else "TRUNCATE portfolio_auditevent"
    )
    with pytest.raises(DatabaseError, match="never changed or deleted"):
        connection.cursor().execute(roundabout)
    assert AuditEvent.objects.get(pk=kept.pk).verb == "see"
