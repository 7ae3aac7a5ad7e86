"""The examples in the words of the pages hold, and the buildings' sentences in every case."""

import doctest
import importlib
from collections import Counter

import pytest

from commissioning.issues import drafts
from portfolio.dashboards.buildings import BuildingPicture, Failing, sentence_of
from portfolio.models import Building, Position

MODULES = (
    "portfolio.dashboards.words",
    "portfolio.dashboards.sheet",
    "portfolio.dashboards.worklist",
    "commissioning.pages.contractor",
    "commissioning.pages.field_test_answers",
    "commissioning.pages.unit_design",
    "commissioning.pages.imports",
)


@pytest.mark.parametrize("name", MODULES)
def test_examples_hold(name: str) -> None:
    results = doctest.testmod(importlib.import_module(name))
    assert results.failed == 0
    assert results.attempted > 0


@pytest.mark.parametrize(
    ("counted", "outcomes", "sentence"),
    [
        (0, {}, "Stage House has no unit in scope yet."),
        (1, {"conforms": 1}, "The one unit in Stage House delivers its air."),
        (1, {}, "The one unit in Stage House does not yet deliver its air."),
        (20, {"conforms": 20}, "All twenty units in Stage House deliver their air."),
        (
            20,
            {"conforms": 18, "does_not_conform": 2},
            "Eighteen of twenty units in Stage House deliver their air. "
            "Two do not: ERV-3 (Room 1 and Room 2) at 82 % of design and ERV-7.",
        ),
        (
            30,
            {"conforms": 22, "recheck": 1, "disputed": 1, "accepted": 1, "not_given": 2},
            "22 of 30 units in Stage House deliver their air. Two have to be measured again. "
            "One is accepted as it is. Three have no final reading yet. Two have no design airflow.",
        ),
        (3, {}, "None of three units in Stage House deliver their air yet. Three have no final reading yet."),
    ],
)
def test_a_building_in_one_sentence(counted: int, outcomes: dict[str, int], sentence: str) -> None:
    picture = BuildingPicture(Building(name="Stage House"), counted=counted)
    picture.outcomes["design_airflow"] = Counter(outcomes)
    if outcomes.get("does_not_conform"):
        picture.failing = [Failing("ERV-3", 81.7, ("Room 1", "Room 2")), Failing("ERV-7", None, ())]
    assert sentence_of(picture) == sentence


@pytest.mark.parametrize(
    ("port", "requirements", "title"),
    [
        ("supply", ["overload_setting"], "ERV-3 supply fan: overload setting not met"),
        ("supply", ["design_airflow"], "ERV-3 supply air: design airflow not met"),
        (
            "exhaust",
            ["design_airflow", "motor_current"],
            "ERV-3 exhaust air and fan: design airflow and motor current not met",
        ),
        ("", ["mass_balance"], "ERV-3: mass balance not met"),
        ("", ["settings_consistent"], "ERV-3: settings contradict something"),
        ("", ["one_session", "mass_balance"], "ERV-3: mass balance not met; finals of more than one session"),
    ],
)
def test_an_issue_is_named_by_what_its_port_means(port: str, requirements: list[str], title: str) -> None:
    unit = Position(tag="ERV-3")
    assert drafts._title(unit, port, [drafts.Key(unit.pk, one, port) for one in requirements]) == title
