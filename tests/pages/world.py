"""A small firm at work, made by the doors that a real one uses: two buildings, units in every standing, issues.

Everything is judged by the jobs; nothing is written into a derived table by hand.
"""

import uuid
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from django.utils import timezone

from commissioning.evidence.accept import Kept, Sender, accept
from commissioning.issues.actions import Actor, Wish, act
from commissioning.models import Issue
from portfolio.api.agreements import usual_conventions
from portfolio.jobs import queue, runner
from portfolio.models import (
    Building,
    Calibration,
    Company,
    DesignEntry,
    DesignRevision,
    Firm,
    Installation,
    Instrument,
    Machine,
    Membership,
    Owner,
    Person,
    Position,
    Project,
    ProjectConventions,
    ServedSpace,
    Site,
)
from portfolio.models.people import Role
from tests import envelopes

DESIGN = {"supply": 1000.0, "return": 950.0, "outdoor": 1000.0, "exhaust": 950.0}
PASSWORD = "quiet-plant-room-door"
INSTALLED = date(2026, 1, 12)


@dataclass
class World:
    project: Project
    buildings: dict[str, Building]
    company: Company
    controls: Company
    instrument: Instrument
    people: dict[str, Person]
    revision: DesignRevision
    units: dict[str, Position] = field(default_factory=dict)

    def unit(self, tag: str, building: str, location: str = "", designed: bool = True, **fields: Any) -> Position:
        place = Position.objects.create(
            building=self.buildings[building], tag=tag, kind="erv", location=location, **fields
        )
        if designed:
            DesignEntry.objects.create(
                revision=self.revision, position=place, fields=envelopes.design(DESIGN, minimum={"outdoor": 850})
            )
        machine = Machine.objects.create(project=self.project, serial=f"SN-{tag}", maker="Aldermoor", model="AV-12")
        Installation.objects.create(position=place, machine=machine, since=INSTALLED)
        queue.want("judge", [place.pk])
        self.units[tag] = place
        return place

    def measured(self, tag: str, flows: dict[str, float] | None = None, *, name: str = "", **rest: Any) -> str:
        """One envelope of the technician: the design's flows but for those named; answers its id."""
        name = name or f"{tag} {rest.get('session', 'AL-1')}"
        made = envelopes.envelope(
            name,
            position=self.units[tag].pk,
            person=self.people["technician"].pk,
            instrument=self.instrument.pk,
            flows=DESIGN | (flows or {}),
            **rest,
        )
        (outcome,) = accept(Sender(self.people["technician"], None, "world"), [envelopes.raw(made)])
        assert isinstance(outcome, Kept), outcome
        return str(uuid.uuid5(envelopes.NAMESPACE, name))

    def judged(self) -> None:
        runner.drain()

    def issue_of(self, tag: str, port: str = "supply") -> Issue:
        found = Issue.objects.filter(checks__position=self.units[tag], checks__port=port).distinct()
        return found.exclude(state__in=["merged", "dropped"]).get()

    def act(self, issue: Issue, who: str, code: str, **wish: Any) -> Issue:
        issue.refresh_from_db()
        person = Person.objects.get(pk=self.people[who].pk)
        return act(issue=issue, code=code, actor=Actor(person=person), version=issue.version, wish=Wish(**wish))


def found() -> World:
    """The firm and its people; no unit yet."""
    firm = Firm.objects.create(name="Quillmoor Commissioning")
    owner = Owner.objects.create(firm=firm, name="Ostrander Vale Schools")
    company = Company.objects.create(firm=firm, name="Garrowby Mechanical", trade="mechanical")
    controls = Company.objects.create(firm=firm, name="Trelisk Controls", trade="controls")
    project = Project.objects.create(firm=firm, owner=owner, code="OV-2601", name="Ostrander Vale schools")
    project.parties.set([company, controls])
    ProjectConventions.objects.create(project=project, version=1, agreed=usual_conventions())
    site = Site.objects.create(project=project, name="North campus", time_zone="America/Denver", elevation_m=1600)
    buildings = {name: Building.objects.create(site=site, name=name) for name in ("Sorrel Hall", "Thane Hall")}
    scopes: dict[str, tuple[Role, dict[str, Any]]] = {
        "lead": (Role.LEAD, {"firm": firm}),
        "technician": (Role.TECHNICIAN, {"firm": firm}),
        "contractor": (Role.CONTRACTOR, {"company": company}),
        "owner": (Role.OWNER, {"owner": owner}),
        "engineer": (Role.ENGINEER, {"project": project}),
        "stranger": (Role.OWNER, {"owner": Owner.objects.create(firm=firm, name="Another owner")}),
    }
    names = {
        "lead": "Maren Tollefsby", "technician": "Idris Fenwarden", "contractor": "Rufus Amberly",
        "owner": "Hester Vanterpool", "engineer": "Nerida Quaylock", "stranger": "Amias Thornquist",
    }  # fmt: skip
    people = {}
    for key, (role, scope) in scopes.items():
        people[key] = Person.objects.create_person(f"{key}@example.test", names[key], PASSWORD)
        since = timezone.now() - timedelta(days=900)
        Membership.objects.create(person=people[key], role=role, since=since, **scope)
    accuracy = {"relative": 0.02, "absolute": {"value": 5, "unit": "cfm"}, "shape": "rectangular"}
    hood = Instrument.objects.create(firm=firm, name="Hood 3", kind="flow hood", serial="FH-300", accuracy=accuracy)
    Calibration.objects.create(
        instrument=hood, certificate="C-4410", on=date(2026, 1, 10), due=date(2027, 1, 10), as_found="within"
    )
    revision = DesignRevision.objects.create(
        project=project, number=1, dated=date(2026, 1, 5), source="design", applied_by=people["lead"]
    )
    return World(project, buildings, company, controls, hood, people, revision)


def at_work() -> World:
    """Eight counted units in two buildings: good, failing, answered, inconclusive, not measured; one by others."""
    world = found()
    for number in range(1, 6):
        world.unit(f"ERV-{number}", "Sorrel Hall", f"Roof, bay {number}")
    room = ServedSpace.objects.create(building=world.buildings["Sorrel Hall"], name="Room 112")
    world.units["ERV-3"].spaces.set([room])
    for number in range(6, 9):
        world.unit(f"ERV-{number}", "Thane Hall", "Plant room")
    world.unit("ERV-9", "Thane Hall", "Plant room", scope="by_others", scope_reason="supplied with the kitchen")
    world.measured("ERV-1")
    world.measured("ERV-2", {"supply": 1040, "exhaust": 930})
    world.measured("ERV-3", {"supply": 820, "outdoor": 820}, stage="preliminary", name="ERV-3 first look")
    world.measured("ERV-3", {"supply": 790, "outdoor": 800}, at="2026-05-04T14:15:00-06:00")
    world.measured("ERV-4", {"supply": 905})
    world.measured("ERV-6")
    world.measured("ERV-7", {"exhaust": 700})
    world.judged()
    return world


def with_issues() -> World:
    """As `at_work`; the company has the issue of ERV-3, and answered that of ERV-7."""
    world = at_work()
    world.act(world.issue_of("ERV-3"), "lead", "merge", into=world.issue_of("ERV-3", "outdoor"))
    low = world.issue_of("ERV-3", "outdoor")
    world.act(
        low, "lead", "release",
        company=world.company, due=date(2026, 5, 14), root_cause="outdoor damper stuck half open",
    )  # fmt: skip
    exhaust = world.issue_of("ERV-7", "exhaust")
    world.act(exhaust, "lead", "release", company=world.company, due=date(2026, 5, 21))
    world.act(exhaust, "contractor", "answer_ready", text="Belt replaced, pulley aligned.")
    return world
