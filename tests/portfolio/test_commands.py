"""From an empty database to the first token."""

from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from portfolio.models import AuditEvent, DeviceToken, Firm, Person
from tests.cast import Actor

pytestmark = pytest.mark.django_db


def found(**changes: Any) -> str:
    out = StringIO()
    options = {"name": "Firm", "lead_name": "Lead", "email": "Lead@Cast.example", "token_only": True} | changes
    call_command("found_firm", stdout=out, **options)
    return out.getvalue().strip()


def test_a_founded_firm_has_a_lead_who_may(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", StringIO("a long enough password\n"))
    actor = Actor("own", "lead", None, found(password_stdin=True))
    firm, lead = Firm.objects.get(), Person.objects.get()
    assert lead.email == "lead@cast.example"
    assert lead.check_password("a long enough password")
    assert actor.call("POST", f"firms/{firm.pk}/owners", {"name": "First"}).status_code == 201
    assert AuditEvent.objects.filter(verb="found_firm", object_id=str(firm.pk)).exists()


def test_nothing_is_founded_twice_or_by_halves(monkeypatch: pytest.MonkeyPatch) -> None:
    found()
    for changes in ({}, {"name": "Other"}, {"email": "no address", "name": "Third"}):
        with pytest.raises(CommandError):
            found(**changes)
    monkeypatch.setattr("sys.stdin", StringIO("short\n"))
    with pytest.raises(CommandError, match="too short"):
        found(name="Fourth", email="d@cast.example", password_stdin=True)
    assert (Firm.objects.count(), Person.objects.count()) == (1, 1)


def test_a_token_can_be_made_on_the_server() -> None:
    found()
    out = StringIO()
    call_command("make_token", email="lead@cast.example", scope="read", stdout=out)
    assert Actor("own", "lead", None, out.getvalue().strip()).call("GET", "me").status_code == 200
    assert DeviceToken.objects.filter(scope="read").count() == 1
    with pytest.raises(CommandError):
        call_command("make_token", email="nobody@cast.example")
    with pytest.raises(CommandError):
        call_command("make_token", email="lead@cast.example", days=0)
