"""A binder tells the verification samples of its buildings: when and by which seed, which units, what follows."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

from commissioning.binders import pages
from commissioning.binders.freeze import freeze
from commissioning.binders.render import render
from commissioning.binders.verify import verify
from commissioning.dossier.canonical import canonical_json
from commissioning.models import Binder, Sample
from commissioning.samples.draw import draw, enlarge
from portfolio.models import Position
from tests.pages.world import World
from tests.samples import world

pytestmark = pytest.mark.django_db


def frozen(firm: World, *, tags: tuple[str, ...] = ()) -> dict[str, Any]:
    binder = Binder.objects.create(
        project=firm.project, title="Closeout", asked_by=firm.people["lead"], asked_at=world.DRAWN_AT
    )
    units = Position.objects.filter(building__name="Sorrel Hall")
    binder.positions.set(units.filter(tag__in=tags) if tags else units)
    held: dict[str, Any] = json.loads(freeze(binder).json)
    return held


@pytest.fixture
def firm() -> World:
    return world.built()


def drawn_and_repeated(firm: World, flows: dict[str, float] | None = None) -> Sample:
    """Three of ten, at 80 % for half of them: C(5, 3) / C(10, 3) = 10 / 120 is at most 20 %."""
    sample = world.drawn(firm)
    for index, tag in enumerate(world.tags_of(sample)):
        world.repeated(firm, tag, flows if index == 0 else None)
    firm.judged()
    return sample


def text_of(held: dict[str, Any]) -> tuple[bytes, str]:
    pdf = render(canonical_json(held)).pdf
    return pdf, " ".join(" ".join(pages.read(pdf).pages).split())


def test_a_sample_is_told_with_its_seed_its_units_and_what_it_allows_to_say_and_is_verified_from_the_file(
    firm: World,
) -> None:
    sample = drawn_and_repeated(firm)
    held = frozen(firm)
    (told,) = held["samples"]
    (stratum,) = told["strata"]
    assert (told["seed"], told["drawn_by"], told["is_due"]) == (sample.seed, firm.people["lead"].name, False)
    assert [one["tag"] for one in stratum["order"]] == world.tags_of(sample, only_drawn=False)
    assert [one["outcome"] for one in stratum["order"]] == ["agrees"] * 3 + [None] * 7
    pdf, said = text_of(held)
    assert "Sample 1: Sorrel Hall" in said
    assert f"Seed {sample.seed}, typed by the lead" in said
    assert stratum["sentence"] in said
    assert "The sample is passed" in stratum["sentence"]
    assert verify(pdf).differences == []


def test_a_sample_of_a_functional_test_speaks_of_tests_and_not_of_finals(firm: World) -> None:
    drawn_and_repeated(firm)
    held = frozen(firm)
    assert held["samples"][0]["procedure"] == ""
    assert "both finals agree" in text_of(held)[1]
    held["samples"][0]["procedure"] = "power"
    said = text_of(held)[1]
    assert "the test passed" in said
    assert "if 50 % of the units or more fail" in said
    assert "finals" not in said.split("Verification samples")[-1].split("Also of this")[0].split("Kept with")[0][:900]


def test_an_enlargement_after_a_failure_names_the_sample_that_it_enlarges(firm: World) -> None:
    sample = drawn_and_repeated(firm, {"supply": 700.0})
    more = enlarge(sample=sample, person=firm.people["lead"], at=world.DRAWN_AT)
    for tag in world.tags_of(more)[3:]:
        world.repeated(firm, tag, day=8)
    firm.judged()
    first, second = frozen(firm)["samples"]
    assert [one["enlarges"] for one in (first, second)] == [None, 1]
    assert "not passed" in first["strata"][0]["sentence"]
    assert [one["outcome"] for one in second["strata"][0]["order"]].count("agrees") == 5
    assert second["strata"][0]["sample"] == 6


def test_while_units_are_still_to_be_repeated_neither_they_nor_the_seed_are_told(firm: World) -> None:
    sample = world.drawn(firm, seed="a seed to keep")
    world.repeated(firm, world.tags_of(sample)[0])
    firm.judged()
    held = frozen(firm)
    (told,) = held["samples"]
    assert told["is_due"]
    assert told["strata"][0]["order"] == []
    assert "a seed to keep" not in json.dumps(held["samples"])
    _, said = text_of(held)
    assert "2 of 3 drawn are still to be repeated" in said


def test_a_sample_with_a_unit_in_another_building_is_none_of_this_binder(firm: World) -> None:
    firm.unit("ERV-20", "Thane Hall")
    units = list(Position.objects.filter(tag__in=("ERV-1", "ERV-20")))
    draw(project=firm.project, person=firm.people["lead"], title="Both", units=units, terms=world.TERMS, seed="b")
    assert frozen(firm, tags=("ERV-1", "ERV-2"))["samples"] == []


def test_verifying_names_a_draw_that_its_seed_does_not_give(firm: World) -> None:
    drawn_and_repeated(firm)
    held = frozen(firm)
    for change in (_another_order, _another_unit):
        other = copy.deepcopy(held)
        change(other["samples"][0]["strata"][0]["order"])
        pdf, _ = text_of(other)
        (one,) = [found for found in verify(pdf).differences if found.item.startswith("sample")]
        assert one.item == "sample 1, Energy recovery ventilator"


def _another_order(order: list[dict[str, Any]]) -> None:
    order.reverse()


def _another_unit(order: list[dict[str, Any]]) -> None:
    order[2]["outcome"], order[3]["outcome"] = None, "agrees"


def test_a_binder_without_samples_has_no_such_chapter_and_an_older_one_can_be_read(firm: World) -> None:
    held = frozen(firm)
    assert held["samples"] == []
    del held["samples"]
    _, said = text_of(held)
    assert "Verification samples" not in said
