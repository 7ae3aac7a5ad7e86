"""A browser for each person of the small firm at work, and a device that asks the API for them."""

from collections.abc import Callable

import pytest
from django.test import Client

from portfolio.door import tokens
from portfolio.models import Person
from tests.cast import Actor
from tests.pages import world
from tests.pages.world import World
from tests.put_back import PutBack

Browser = Callable[..., Client]
Device = Callable[..., Actor]


WITH_ISSUES = PutBack(world.with_issues)


@pytest.fixture
def firm(db: None) -> World:
    return WITH_ISSUES()


@pytest.fixture
def browser() -> Browser:
    def signed_in(who: str) -> Client:
        client = Client()
        client.force_login(Person.objects.get(email=f"{who}@example.test"))
        return client

    return signed_in


@pytest.fixture
def device() -> Device:
    def of(who: str, scope: str = "act") -> Actor:
        person = Person.objects.get(email=f"{who}@example.test")
        return Actor("own", who, person, tokens.make(person=person, label="test", scope=scope)[1])

    return of
