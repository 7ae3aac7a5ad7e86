"""A room that two units of a building serve is judged by both, whichever is read last; what is read again follows."""

from __future__ import annotations

import json
import uuid
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from commissioning.evidence.accept import Kept, Sender, accept
from commissioning.models import CurrentVerdict, JudgedPosition
from commissioning.verdicts import shared_rooms
from portfolio.jobs import queue
from portfolio.models import DesignEntry
from tests import envelopes
from tests.pages import world
from tests.pages.world import World

pytestmark = pytest.mark.django_db
TOLERANCE = {"low": -0.05, "high": 0.05, "clause": "23 05 93, 3.8", "rounding": "none"}


@pytest.fixture
def firm() -> World:
    made = world.found()
    for tag, building in (("AHU-1", "Sorrel Hall"), ("AHU-2", "Sorrel Hall"), ("AHU-3", "Thane Hall")):
        made.unit(tag, building)
        fields = {
            "outlets": {
                f"{tag}-S1": {"port": "supply", "room": "112", "airflow": {"value": 500.0, "unit": "cfm"}},
            },
            "rooms": {"112": {"tolerance": TOLERANCE}} if tag != "AHU-2" else {},
        }
        entry = DesignEntry.objects.get(position=made.units[tag])
        entry.fields = {**entry.fields, **fields}
        entry.save()
    made.judged()
    return made


def read(firm: World, tag: str, flow: float, *, at: str = "2026-05-04T12:00:00-06:00") -> None:
    payload: dict[str, Any] = {
        "stage": "final",
        "session": {"id": "AL-1", "purpose": "as_left"},
        "grade": "measured",
        "serial_seen": f"SN-{tag}",
        "air": {"dry_bulb": {"value": 70.0, "unit": "degF"}, "relative_humidity": {"value": 40.0, "unit": "%"}},
        "state": {"outdoor_damper": "open", "exhaust_damper": "open", "bypass": "none", "wheel": "running",
                  "filters": "clean", "served_air_handler": "on", "others_on_riser": "on", "doors": "closed",
                  "mode": "design_maximum"},
        "unit": "cfm", "basis": "standard", "back_pressure": "compensated", "instrument": str(firm.instrument.pk),
        "outlets": [{"name": f"{tag}-S1", "port": "supply", "readings": [flow] * 4}],
    }  # fmt: skip
    person = firm.people["technician"]
    made = {
        "schema": "ventfolio/envelope/1",
        "id": str(uuid.uuid5(envelopes.NAMESPACE, f"outlets {tag} {at}")),
        "kind": "outlets",
        "position": str(firm.units[tag].pk),
        "observed_at": at,
        "observed_by": str(person.pk),
        "payload": payload,
    }
    (outcome,) = accept(Sender(person, None, "world"), [envelopes.raw(made)])
    assert isinstance(outcome, Kept), outcome
    firm.judged()


def verdict(firm: World, tag: str) -> tuple[str, dict[str, Any]]:
    kept = CurrentVerdict.objects.get(position=firm.units[tag], requirement="room_airflow")
    return kept.outcome, kept.judgement.result


def test_the_room_waits_for_the_other_units_part_and_is_judged_again_when_it_comes_and_when_it_changes(
    firm: World,
) -> None:
    """500 + 500 of 1000; then 500 + 600, 10 % high of ±5 %. AHU-3 serves another building's room of the same name."""
    read(firm, "AHU-1", 500.0)
    outcome, result = verdict(firm, "AHU-1")
    assert outcome == "not_due"
    assert "the part of AHU-2 is not known" in json.dumps(result)
    read(firm, "AHU-3", 300.0)
    assert verdict(firm, "AHU-3")[0] == "does_not_conform"
    read(firm, "AHU-2", 500.0)
    assert verdict(firm, "AHU-1")[0] == "conforms"
    assert verdict(firm, "AHU-2")[0] == "not_given"
    read(firm, "AHU-2", 600.0, at="2026-05-04T13:00:00-06:00")
    outcome, result = verdict(firm, "AHU-1")
    assert outcome == "does_not_conform"
    assert result["value"] == pytest.approx(0.1, abs=1e-6)
    client = Client()
    client.force_login(firm.people["technician"])
    assert "Of it AHU-2" in client.get(f"/units/{firm.units['AHU-1'].pk}").content.decode()


def test_what_stands_is_what_a_fresh_reading_of_the_tables_gives(firm: World) -> None:
    read(firm, "AHU-1", 500.0)
    read(firm, "AHU-2", 510.0)
    before = dict(JudgedPosition.objects.values_list("pk", "inputs_hash"))
    queue.want("judge", [one.pk for one in firm.units.values()])
    firm.judged()
    assert dict(JudgedPosition.objects.values_list("pk", "inputs_hash")) == before


def test_a_unit_that_is_not_counted_gives_no_part(firm: World) -> None:
    unit = firm.units["AHU-2"]
    unit.scope = "by_others"
    unit.save(update_fields=["scope"])
    queue.want("judge", [unit.pk])
    firm.judged()
    read(firm, "AHU-1", 500.0)
    assert verdict(firm, "AHU-1")[0] == "conforms"


def test_they_are_read_in_one_query_whatever_their_number(firm: World) -> None:
    with CaptureQueriesContext(connection) as asked:
        found = shared_rooms.near([one.pk for one in firm.units.values()])
    assert len(asked) == 1
    assert set(found) == {firm.units["AHU-1"].pk, firm.units["AHU-2"].pk}
