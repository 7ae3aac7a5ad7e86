"""A browser for each person of the small firm at work."""

from collections.abc import Callable

import pytest
from django.test import Client

from portfolio.models import Person
from tests.pages import world
from tests.pages.world import World
from tests.put_back import PutBack

Browser = Callable[..., Client]


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
