"""The demo draws one verification sample, once, and says what is still to be repeated."""

from __future__ import annotations

from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any

import pytest

from commissioning.models import Sample
from fixtures.demo import closing
from fixtures.demo.stage import Stage
from portfolio.models import Position
from tests.cast import Cast

pytestmark = pytest.mark.django_db


class _Lead:
    """The lead of a firm, asking as the demo's client does."""

    def __init__(self, people: Cast) -> None:
        self.actor = people.actor("own", "lead")

    def get(self, path: str) -> Any:
        return self.ask("GET", path).json

    def all_of(self, path: str) -> Iterator[Any]:
        yield from self.get(f"{path}?page_size=500")["results"]

    def ask(self, method: str, path: str, body: Any = None, *, expect: tuple[int, ...] = (200,)) -> Any:
        answer = self.actor.call(method, path.removeprefix("/api/v1/"), body)
        assert answer.status_code in expect, answer.content
        return SimpleNamespace(json=answer.json())


def test_it_is_drawn_once_and_told_in_numbers(cast: Cast) -> None:
    """At 90 % for 30 % of seven, which is three bad ones: four drawn miss them all in C(4, 4) / C(7, 4) = 1 / 35, and
    three would in 4 / 35, more than a tenth."""
    for number in range(2, 8):
        Position.objects.create(building=cast.things["building"], tag=f"ERV-{number}", kind="erv")
    ids = {"project": cast.things["project"].pk, "building": cast.things["building"].pk}
    counted: list[tuple[str, bool]] = []
    stage = SimpleNamespace(
        lead=_Lead(cast),
        id=lambda kind, key: str(ids[kind]),
        count=lambda what, is_new: counted.append((what, is_new)),
    )
    first, again = (closing.sample(_as_stage(stage)) for _ in range(2))
    assert first == again == "4 of 7 units, 4 of them still to be repeated"
    assert counted == [("verification samples", True), ("verification samples", False)]
    assert Sample.objects.count() == 1


def _as_stage(stage: Any) -> Stage:
    found: Stage = stage
    return found
