"""What the browser tests open: the firm of tests/pages/world.py at work, and one building for the story of one unit.

Run inside the installation that is to hold it: ``manage.py shell -c "from tests.browser.seed import sow; sow()"``.
It prints one line of JSON, read by conftest.py.
"""

import json
from datetime import UTC, datetime

import numpy as np
from django.core.management import call_command

from commissioning.dossier.trends import Logged
from commissioning.evidence.accept import Sender, accept
from commissioning.issues import links
from commissioning.models import AnswerLink, Issue
from portfolio.models import Building, DesignEntry, Position
from tests import envelopes
from tests.kinds import settings_records
from tests.kinds.trend_records import BEGIN_S, HOUR, LATE_DAMPER, day
from tests.pages import trend_world
from tests.pages.world import DESIGN, World, with_issues

STORY_BUILDING, STORY_UNIT = "Wend Hall", "ERV-20"
START_BUILDING, START_UNIT = "Fenn Lodge", "HRV-30"
TEST_BUILDING, TEST_UNIT = "Larch Hall", "ERV-40"
LOG_BUILDING, LOG_UNIT = "Moor House", "ERV-50"
SPIKE_S, SPIKE_C = 12.0 * HOUR + 10.0, 41.0  # of one sample, in the log of that unit
SMALL = {
    "fans": {fan: {"motor": "electronically_commutated", "drive": False} for fan in ("supply", "exhaust")},
    "equipment": {"unit": {"options": ["fixed_core", "outdoor_damper"], "field_sensors": []}},
}


def delivered(world: World) -> None:
    """A small unit that stands on its curb, and of which nothing is recorded."""
    unit = world.unit(START_UNIT, START_BUILDING, "Attic", designed=False)
    Position.objects.filter(pk=unit.pk).update(kind="hrv")
    fields = envelopes.design(DESIGN) | SMALL
    DesignEntry.objects.create(revision=world.revision, position=unit, fields=fields)


def to_be_tested(world: World) -> None:
    """A unit of which nothing is designed but that its power loss is tested."""
    unit = world.unit(TEST_UNIT, TEST_BUILDING, "Roof", designed=False)
    fields = {"equipment": {"unit": {"tests": ["power"]}}}
    DesignEntry.objects.create(revision=world.revision, position=unit, fields=fields)


def logged(world: World) -> None:
    """A unit whose damper opens too late by its log, each ten seconds a temperature; its settings changed meanwhile."""
    world.unit(LOG_UNIT, LOG_BUILDING, "Roof", designed=False)
    times = BEGIN_S + np.arange(0.0, 24.0 * HOUR, 10.0)
    held = 18.0 + np.sin(times / 900.0)
    held[times == BEGIN_S + SPIKE_S] = SPIKE_C
    trend_world.send(world, LOG_UNIT, day(**LATE_DAMPER, supply_temperature=Logged(times, held)), file="5" * 64)
    sender = Sender(world.people["technician"], None, "seed")
    for at, ratio in (("03T09", 90.0), ("04T15", 70.0)):
        given = settings_records.values(exhaust_ratio=settings_records.q(ratio, "%"))
        made = settings_records.record(given, name=f"{LOG_UNIT} {at}", at=f"2026-05-{at}:00:00-05:00")
        made |= {"position": str(world.units[LOG_UNIT].pk), "observed_by": str(sender.person.pk)}
        made["payload"] |= {"controller_time": None, "serial_seen": None}
        accept(sender, [envelopes.raw(made)])


def sow() -> None:
    call_command("migrate", interactive=False, verbosity=0)
    world = with_issues()
    site = world.buildings["Sorrel Hall"].site
    for name in (STORY_BUILDING, START_BUILDING, TEST_BUILDING, LOG_BUILDING):
        world.buildings[name] = Building.objects.create(site=site, name=name)
    world.unit(STORY_UNIT, STORY_BUILDING, "Roof")
    delivered(world)
    to_be_tested(world)
    logged(world)
    world.judged()
    secrets = {}
    for name in ("good", "expired"):
        link, secrets[name] = links.make(project=world.project, company=world.company, person=world.people["lead"])
        if name == "expired":
            AnswerLink.objects.filter(pk=link.pk).update(expires_at=datetime(2026, 5, 6, tzinfo=UTC))
    told = {
        "project": str(world.project.pk),
        "company": str(world.company.pk),
        "controls": str(world.controls.pk),
        "units": {tag: str(unit.pk) for tag, unit in world.units.items()},
        "buildings": {name: str(building.pk) for name, building in world.buildings.items()},
        "issues": {
            "released": str(world.issue_of("ERV-3", "outdoor").pk),
            "ready": str(world.issue_of("ERV-7", "exhaust").pk),
            "draft": str(Issue.objects.filter(state=Issue.State.DRAFT).order_by("number")[0].pk),
        },
        "links": secrets,
    }
    print(json.dumps(told))
