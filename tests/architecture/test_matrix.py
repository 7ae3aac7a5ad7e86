"""Every route × role × relation gets the answer of policy.py, and nobody meets a canary that is not theirs."""

from typing import Any

import pytest

from portfolio import access
from portfolio.door.views import DoorView, check_declared
from portfolio.models import (
    Building,
    Company,
    Firm,
    Installation,
    Instrument,
    Membership,
    Owner,
    Person,
    Position,
    Project,
    Site,
)
from portfolio.models.people import PersonQuerySet
from tests.architecture import matrix
from tests.architecture.policy import THINGS
from tests.cast import RELATIONS, Cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def stage(cast: Cast) -> Cast:
    for add in THINGS:
        add(cast)
    return cast


def test_every_route_has_its_line_and_every_line_its_route() -> None:
    assert sorted(matrix.unlisted()) == []


def test_every_api_route_is_a_door_view_that_declares_its_verbs() -> None:
    faults = []
    for route in matrix.routes():
        if not route.path.startswith("api/"):
            continue
        if not (isinstance(route.view, type) and issubclass(route.view, DoorView)):
            faults.append(f"{route.path} is no DoorView")
        else:
            faults += check_declared(route.view)
    assert faults == []


@pytest.mark.parametrize("relation", [*RELATIONS, "anonymous"])
def test_everyone_gets_the_answer_of_the_policy(stage: Cast, relation: str) -> None:
    assert list(matrix.faults(stage, relations=[relation])) == []


def test_every_actor_is_of_one_of_these_relations(stage: Cast) -> None:
    assert {actor.relation for actor in stage.actors} == {*RELATIONS, "anonymous"}


# --- the test of the test --------------------------------------------------------------------------------------


def test_a_refusal_that_changed_something_is_red(stage: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    may = access.may

    def note_and_ask(person: Person, verb: str, obj: Any) -> Any:
        Firm.objects.create(name="of nobody")
        return may(person, verb, obj)

    monkeypatch.setattr(access, "may", note_and_ask)
    told = next(matrix.faults(stage, relations=["own"]), "")
    assert told.endswith("refused, and yet it changed ['portfolio.Firm']")


@pytest.mark.parametrize(
    "model",
    [Firm, Owner, Company, Project, Site, Building, Position, Installation, Instrument, Membership, Person],
    ids=lambda model: model.__name__,
)
def test_without_a_tenant_filter_it_is_red(stage: Cast, monkeypatch: pytest.MonkeyPatch, model: Any) -> None:
    queryset = PersonQuerySet if model is Person else type(model.objects.all())
    monkeypatch.setattr(queryset, "visible_to", lambda self, person: self.all())
    if model is not Person:
        monkeypatch.setattr(type(model.objects), "visible_to", lambda self, person: self.all())
    assert next(matrix.faults(stage, relations=["foreign", "near"]), None) is not None


def test_with_everything_allowed_it_is_red(stage: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(access, "may", lambda person, verb, obj: access.Allowed())
    assert next(matrix.faults(stage, relations=["own"]), None) is not None


def test_with_ended_roles_still_in_force_it_is_red(stage: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    everyone = property(lambda person: list(Membership.objects.filter(person=person)))
    monkeypatch.setattr(Person, "memberships_in_force", everyone)
    assert next(matrix.faults(stage, relations=["revoked"]), None) is not None
