"""A port off its design is told what the unit's sisters read: those of its building, system and kind."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from commissioning.models import CurrentVerdict, JudgedPosition
from commissioning.verdicts import dossiers, sisters
from portfolio.jobs import queue
from portfolio.models import System
from tests.pages import world
from tests.pages.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm() -> World:
    made = world.found()
    riser = System.objects.create(building=made.buildings["Sorrel Hall"], name="Riser 2")
    for tag in ("ERV-1", "ERV-2", "ERV-3"):
        made.unit(tag, "Sorrel Hall", system=riser)
    made.unit("ERV-4", "Sorrel Hall")  # of no system
    made.unit("ERV-8", "Thane Hall")
    return made


def told(firm: World, tag: str, port: str = "supply") -> list[str]:
    """The lines about sisters at a port."""
    kept = CurrentVerdict.objects.get(position=firm.units[tag], requirement="design_airflow", port=port)
    return [line for line in kept.judgement.result["look_next"] if "sister" in line]


def test_whichever_is_read_last_the_failing_one_names_its_sister_on_its_page_and_the_good_one_names_none(
    firm: World,
) -> None:
    for tag in ("ERV-4", "ERV-8"):
        firm.measured(tag)
    firm.measured("ERV-3", {"supply": 790})
    firm.judged()
    assert told(firm, "ERV-3") == []
    firm.measured("ERV-1", {"supply": 1040})
    firm.judged()
    (line,) = told(firm, "ERV-3")
    assert line.startswith("Its sister ERV-1 reads 104 % of its own design, the same (±")
    assert line.endswith("look first at what is this unit's own.")
    assert "ERV-4" not in line
    assert "ERV-8" not in line
    assert told(firm, "ERV-1") == []
    client = Client()
    client.force_login(firm.people["technician"])
    assert "Its sister ERV-1 reads 104 %" in client.get(f"/units/{firm.units['ERV-3'].pk}").content.decode()


def test_two_that_are_off_alike_name_one_another_and_stop_when_one_is_set_right(firm: World) -> None:
    firm.measured("ERV-1", {"supply": 800})
    firm.measured("ERV-2", {"supply": 790})
    firm.judged()
    assert "ERV-2 is off alike" in told(firm, "ERV-1")[0]
    assert "ERV-1 is off alike" in told(firm, "ERV-2")[0]
    firm.measured("ERV-1", session="AL-2", at="2026-05-05T10:15:00-06:00")
    firm.judged()
    assert told(firm, "ERV-1") == []
    assert "sister ERV-1 reads 100 %" in told(firm, "ERV-2")[0]


def test_what_stands_is_what_a_fresh_reading_of_the_tables_gives(firm: World) -> None:
    for tag, flow in (("ERV-1", 800), ("ERV-2", 1000), ("ERV-3", 700)):
        firm.measured(tag, {"supply": flow})
    firm.judged()
    units = [firm.units[tag].pk for tag in ("ERV-1", "ERV-2", "ERV-3")]
    before = dict(JudgedPosition.objects.values_list("pk", "inputs_hash"))
    queue.want("judge", units)
    firm.judged()
    assert dict(JudgedPosition.objects.values_list("pk", "inputs_hash")) == before


def test_a_sister_that_is_not_counted_is_not_named(firm: World) -> None:
    firm.measured("ERV-1")
    firm.units["ERV-1"].scope = "by_others"
    firm.units["ERV-1"].save(update_fields=["scope"])
    firm.measured("ERV-3", {"supply": 790})
    firm.judged()
    assert told(firm, "ERV-3") == []


def test_they_are_read_in_one_query_whatever_their_number(firm: World) -> None:
    for tag, flow in (("ERV-1", 800), ("ERV-2", 1000), ("ERV-3", 700)):
        firm.measured(tag, {"supply": flow})
    firm.judged()
    with CaptureQueriesContext(connection) as asked:
        found = sisters.near([firm.units["ERV-1"].pk, firm.units["ERV-3"].pk])
    assert len(asked) == 1
    assert {len(found[firm.units[tag].pk]) for tag in ("ERV-1", "ERV-3")} == {2}
    assert dossiers.gather([firm.units["ERV-2"].pk]).sisters == {}
