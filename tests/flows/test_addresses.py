"""Two units of one site with one address: both are told, whichever was read last, and both once it is set right."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from commissioning.evidence.accept import Kept, Sender, accept
from commissioning.models import CurrentVerdict, SettingsNow
from commissioning.verdicts import dossiers
from portfolio.jobs import queue
from portfolio.models import Building, Installation, Machine, Position, Site
from tests.envelopes import raw
from tests.kinds.settings_records import record, values
from tests.pages import world
from tests.pages.world import World

pytestmark = pytest.mark.django_db
CODE, HELD = "settings_consistent", "device_instance"


@pytest.fixture
def firm() -> World:
    made = world.found()
    for tag in ("ERV-1", "ERV-2"):
        made.unit(tag, "Sorrel Hall", designed=False)
    made.unit("ERV-8", "Thane Hall", designed=False)
    return made


def read(firm: World, tag: str, day: int, instance: int, **changes: Any) -> None:
    at = f"2026-05-{day:02d}T09:00:00-06:00"
    made = record(values(device_instance=instance, **changes), at=at, controller_time=None)
    made |= {"id": str(uuid.uuid4()), "position": str(firm.units[tag].pk), "observed_by": str(_who(firm).pk)}
    made["payload"]["serial_seen"] = None
    [outcome] = accept(Sender(_who(firm), None, "addresses"), [raw(made)])
    assert isinstance(outcome, Kept), outcome


def _who(firm: World) -> Any:
    return firm.people["technician"]


def told(unit: Position) -> list[tuple[str, list[str]]]:
    """The findings over addresses, each with the units that it names."""
    facts = CurrentVerdict.objects.get(position=unit, requirement=CODE).judgement.result["facts"]
    return [(one["code"], one["others"]) for one in facts["findings"] if one["code"] in ("E07", "E08")]


def test_the_last_one_read_makes_the_first_fail_too_and_setting_either_right_heals_both(firm: World) -> None:
    read(firm, "ERV-1", 4, 30021)
    firm.judged()
    assert told(firm.units["ERV-1"]) == []
    read(firm, "ERV-2", 5, 30021, network_address=22)
    firm.judged()
    assert told(firm.units["ERV-1"]) == [("E07", ["ERV-2"])]
    assert told(firm.units["ERV-2"]) == [("E07", ["ERV-1"])]
    read(firm, "ERV-1", 6, 30044)
    firm.judged()
    assert told(firm.units["ERV-1"]) == told(firm.units["ERV-2"]) == []


def test_two_that_come_at_once_both_name_the_other(firm: World) -> None:
    read(firm, "ERV-1", 4, 30021)
    read(firm, "ERV-2", 4, 30021, network_address=22)
    firm.judged()
    assert told(firm.units["ERV-1"]) == [("E07", ["ERV-2"])]
    assert told(firm.units["ERV-2"]) == [("E07", ["ERV-1"])]


def test_a_unit_of_another_building_is_not_named_and_one_of_another_site_does_not_enter(firm: World) -> None:
    site = Site.objects.create(project=firm.project, name="South campus", time_zone="America/Denver", elevation_m=1600)
    firm.buildings["Far Hall"] = Building.objects.create(site=site, name="Far Hall")
    firm.unit("ERV-F", "Far Hall", designed=False)
    for tag in ("ERV-1", "ERV-8", "ERV-F"):
        read(firm, tag, 4, 30021)
    firm.judged()
    beyond = "a unit in another building of the site"
    assert told(firm.units["ERV-1"]) == [("E07", [beyond]), ("E08", [beyond])]
    assert told(firm.units["ERV-8"]) == [("E07", [beyond]), ("E08", [beyond])]
    assert told(firm.units["ERV-F"]) == []
    kept = CurrentVerdict.objects.get(position=firm.units["ERV-1"], requirement=CODE).judgement.result
    assert "ERV-8" not in str(kept)
    client = Client()
    client.force_login(firm.people["lead"])
    assert b">ERV-8</a> (Thane Hall)" in client.get(f"/units/{firm.units['ERV-1'].pk}/settings").content


def test_the_address_of_a_machine_that_was_taken_out_is_no_longer_there(firm: World) -> None:
    read(firm, "ERV-1", 4, 30021)
    read(firm, "ERV-2", 4, 30021, network_address=22)
    firm.judged()
    unit = firm.units["ERV-2"]
    Installation.objects.filter(position=unit).update(until="2026-05-10")
    machine = Machine.objects.create(project=firm.project, serial="SN-NEW", maker="Aldermoor", model="AV-12")
    Installation.objects.create(position=unit, machine=machine, since="2026-05-10")
    queue.want("judge", [unit.pk])
    firm.judged()
    assert CurrentVerdict.objects.get(position=unit, requirement=CODE).outcome == "recheck"
    assert told(firm.units["ERV-1"]) == []


def test_the_number_of_queries_does_not_grow_with_the_units_that_share_an_address(firm: World) -> None:
    def asked(*tags: str) -> int:
        with CaptureQueriesContext(connection) as counted:
            found = dossiers.gather([firm.units[tag].pk for tag in tags])
        assert all(found.positions[firm.units[tag].pk]["neighbours"] for tag in tags)
        return len(counted)

    for unit in firm.units.values():
        SettingsNow.objects.create(
            position=unit, moment="as_left", observed_at=timezone.now(), envelope=uuid.uuid4(), values={HELD: 30021.0}
        )
    assert asked("ERV-1") == asked(*firm.units)
