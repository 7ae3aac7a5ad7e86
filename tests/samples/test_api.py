"""Samples over the API: what a draw sends back is enough to draw again; results go to whoever they are for."""

from typing import Any

import pytest

from commissioning.engineering.acceptance_sampling import draw_order
from commissioning.models import Sample
from portfolio.models import Position
from tests.cast import Cast

pytestmark = pytest.mark.django_db

TERMS = {"title": "Stage", "confidence": 0.8, "largest_defective_share": 0.5, "seed": "2026-05-05 A"}


@pytest.fixture
def stage(cast: Cast) -> Cast:
    for n in range(2, 11):
        Position.objects.create(building=cast.things["building"], tag=f"ERV-{n}", kind="erv")
    return cast


def ask(cast: Cast, role: str = "lead", **body: Any) -> Any:
    path = f"projects/{cast.things['project'].pk}/samples"
    return cast.actor("own", role).call("POST", path, {**TERMS, **body})


def test_the_answer_is_enough_to_draw_again(stage: Cast) -> None:
    answer = ask(stage, buildings=[str(stage.things["building"].pk)])
    assert answer.status_code == 201, answer.content
    told = answer.json()
    assert answer["Location"] == f"/api/v1/samples/{told['id']}"
    order = draw_order(seed=told["seed"], units=told["population"]["erv"])
    assert list(order) == told["order"]["erv"]
    assert told["drawn"]["erv"] == list(order[:3])
    assert [one["due"] for one in told["units"]] == [True, True, True]
    listed = stage.actor("own", "owner").call("GET", f"projects/{stage.things['project'].pk}/samples").json()
    assert [one["id"] for one in listed["results"]] == [told["id"]]


def test_a_technician_reads_which_units_and_no_results(stage: Cast) -> None:
    made = ask(stage, buildings=[str(stage.things["building"].pk)]).json()
    for role, sees in (("technician", False), ("owner", True), ("engineer", True)):
        told = stage.actor("own", role).call("GET", f"samples/{made['id']}").json()
        assert (told["result"] is not None) is sees
        assert all(("state" in one) is sees for one in told["units"])
        assert len(told["units"]) == 3


def test_by_system_and_by_unit(stage: Cast) -> None:
    told = ask(stage, systems=[str(stage.things["system"].pk)]).json()
    assert told["population"] == {"erv": [str(stage.things["position"].pk)]}
    assert told["plan"]["strata"][0]["whole"] is True  # one unit alone
    units = [str(pk) for pk in Position.objects.filter(tag__in=["ERV-2", "ERV-3"]).values_list("pk", flat=True)]
    told = ask(stage, positions=units, central=units[:1]).json()
    assert told["population"] == {"central": units[:1], "erv": units[1:]}


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({}, 400),
        ({"confidence": 1.0}, 400),
        ({"whole": ["boiler"]}, 400),
        ({"anything": 1}, 400),
        ({"central": ["00000000-0000-4000-8000-000000000000"]}, 400),
        ({"positions": ["00000000-0000-4000-8000-000000000000"]}, 404),
    ],
)
def test_what_cannot_be_drawn_is_refused(stage: Cast, body: dict[str, Any], status: int) -> None:
    named = {} if not body else {"buildings": [str(stage.things["building"].pk)]}
    assert ask(stage, **{**named, **body}).status_code == status
    assert not Sample.objects.exists()


def test_units_of_another_firm_are_not_found(stage: Cast) -> None:
    assert ask(stage, positions=[str(stage.things["foreign_position"].pk)]).status_code == 404
    assert ask(stage, systems=[str(stage.things["foreign_system"].pk)]).status_code == 404
    assert ask(stage, buildings=[str(stage.things["foreign_building"].pk)]).status_code == 404


def test_what_did_not_fail_is_not_enlarged(stage: Cast) -> None:
    made = ask(stage, buildings=[str(stage.things["building"].pk)]).json()
    answer = stage.actor("own", "lead").call("POST", f"samples/{made['id']}/enlargement")
    assert (answer.status_code, answer.json()["code"]) == (409, "not_drawn")
