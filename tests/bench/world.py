"""Positions by the thousand with a design each, and envelopes for them: made in bulk, since making is not measured."""

import json
import random
import uuid
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from django.utils import timezone

from portfolio import models as m
from portfolio.dashboards.words import REQUIREMENTS
from portfolio.models.standing import as_text
from tests import envelopes

SPACE = uuid.UUID("be0c0000-0000-4000-8000-000000000000")
DESIGN_CFM = {"supply": 1000.0, "return": 950.0, "outdoor": 1000.0, "exhaust": 950.0}
POINTS = 20
AREA_M2 = 0.6 * 0.4
M3_S_PER_CFM = 4.719474432e-4


@dataclass
class Place:
    """A project with its positions."""

    project: m.Project
    building: m.Building
    positions: list[m.Position] = field(default_factory=list)


@dataclass
class World:
    firm: m.Firm
    person: m.Person
    owner: m.Person
    token: str
    instrument: m.Instrument
    places: list[Place]

    @property
    def positions(self) -> list[m.Position]:
        return [position for place in self.places for position in place.positions]


def build(name: str, *, projects: int, each: int) -> World:
    from portfolio.api.agreements import usual_conventions
    from portfolio.door import tokens

    firm = m.Firm.objects.create(name=f"Firm {name}")
    owner = m.Owner.objects.create(firm=firm, name=f"Owner {name}")
    person, client = _person(f"lead@{name}.example"), _person(f"owner@{name}.example")
    m.Membership.objects.create(person=person, role="lead", firm=firm)
    m.Membership.objects.create(person=client, role="owner", owner=owner)
    _, secret = tokens.make(person=person, label="phone", scope="act", days=30)
    instrument = m.Instrument.objects.create(
        firm=firm,
        name="Meter",
        kind="micromanometer",
        serial="M-1",
        accuracy={"relative": 0.03, "absolute": {"value": 0.5, "unit": "Pa"}, "shape": "rectangular"},
        resolution={"value": 0.1, "unit": "Pa"},
    )
    m.Calibration.objects.create(
        instrument=instrument, certificate="C-1", on=date(2026, 1, 10), due=date(2027, 1, 10), as_found="within"
    )
    places = []
    for number in range(projects):
        project = m.Project.objects.create(firm=firm, owner=owner, code=f"{name}-{number}", name=f"Project {number}")
        m.ProjectConventions.objects.create(project=project, version=1, agreed=usual_conventions())
        site = m.Site.objects.create(project=project, name="Site", time_zone="America/Denver", elevation_m=100)
        place = Place(project, m.Building.objects.create(site=site, name=f"Building {number}"))
        revision = m.DesignRevision.objects.create(
            project=project, number=1, dated=date(2026, 1, 5), source="design", applied_by=person
        )
        place.positions = _positions(place.building, revision, each)
        places.append(place)
    return World(firm, person, client, secret, instrument, places)


def _person(email: str) -> m.Person:
    person = m.Person(email=email, name=email)
    person.set_unusable_password()
    person.save(force_insert=True)
    return person


def _positions(building: m.Building, revision: m.DesignRevision, number: int) -> list[m.Position]:
    made = [m.Position(building=building, tag=f"ERV-{n + 1}", kind="erv") for n in range(number)]
    m.Position.objects.bulk_create(made, batch_size=500)
    fields = envelopes.design(DESIGN_CFM, minimum={"outdoor": 700.0})
    m.DesignEntry.objects.bulk_create(
        (m.DesignEntry(revision=revision, position=one, fields=fields) for one in made), batch_size=500
    )
    return made


def pressures(flow_cfm: float, dice: random.Random, points: int = POINTS) -> list[float]:
    """Velocity pressures over a plane that carries about this flow, in Pa."""
    speed = flow_cfm * M3_S_PER_CFM / AREA_M2
    return [round(0.6 * (speed * dice.uniform(0.92, 1.08)) ** 2, 2) for _ in range(points)]


def of_one_port(world: World, position: m.Position, dice: random.Random) -> dict[str, Any]:
    """A supply traverse of twenty points: 20 readings in all."""
    return _envelope(world, position, {"supply": dice.uniform(950, 1050)}, dice)


def of_four_ports(world: World, position: m.Position, dice: random.Random) -> dict[str, Any]:
    """Four traverses of twenty points each: 80 readings."""
    return _envelope(
        world, position, {port: flow * dice.uniform(0.93, 1.03) for port, flow in DESIGN_CFM.items()}, dice
    )


def _envelope(world: World, position: m.Position, flows: dict[str, float], dice: random.Random) -> dict[str, Any]:
    made = envelopes.envelope(
        str(uuid.uuid4()), position=position.pk, person=world.person.pk, instrument=world.instrument.pk, flows=flows
    )
    for port in made["payload"]["ports"]:
        port["method"] = {
            "method": "traverse",
            "reads": "velocity_pressure",
            "plane": {
                "shape": "rectangular",
                "width": {"value": 600, "unit": "mm"},
                "height": {"value": 400, "unit": "mm"},
            },
            "layout": "log_tchebycheff",
            "readings": {"values": pressures(flows[port["port"]], dice), "unit": "Pa"},
            "probe_coefficient": 1.0,
        }
    return made


def as_sheet(given: dict[str, Any]) -> bytes:
    """What an envelope of one port holds, in the form in which the plain insert takes it."""
    payload = given["payload"]
    (port,) = payload["ports"]
    return json.dumps(
        {
            "client_id": given["id"],
            "position": given["position"],
            "kind": given["kind"],
            "observed_at": given["observed_at"],
            "observed_by": given["observed_by"],
            "stage": payload["stage"],
            "session": payload["session"]["id"],
            "grade": payload["grade"],
            "port": port["port"],
            "width_mm": port["method"]["plane"]["width"]["value"],
            "height_mm": port["method"]["plane"]["height"]["value"],
            "dry_bulb_c": 21.1,
            "relative_humidity": 0.4,
            "readings": [
                {"number": number, "value": value, "unit": "Pa"}
                for number, value in enumerate(port["method"]["readings"]["values"])
            ],
        },
        separators=(",", ":"),
    ).encode()


def keep(world: World, positions: list[m.Position]) -> None:
    """Four finals at each of these, kept as accepted."""
    from commissioning.evidence.accept import Kept, Sender, accept

    dice = random.Random(1)
    for start in range(0, len(positions), 200):
        raws = [envelopes.raw(of_four_ports(world, one, dice)) for one in positions[start : start + 200]]
        assert all(isinstance(one, Kept) for one in accept(Sender(world.person), raws))


def stand(positions: list[m.Position]) -> None:
    """Standings without a judging, as pages read them: a third can be signed, the rest waits for somebody."""
    code = m.Standing.Code
    say = [
        (code.SIGNABLE, "Everything that is due conforms: sign.", "lead"),
        (code.NOT_MEASURED, "Nothing is measured yet.", "technician"),
        (code.DRAFT, "Release or drop issue 7.", "lead"),
    ]
    band = {"block": "band", "label": "Supply", "low": 90.0, "high": 110.0, "minimum": None, "measured": 97.0}
    band |= {"uncertainty": 4.0, "earlier": [88.0], "outcome": "conforms"}
    now = datetime(2026, 5, 4, tzinfo=UTC)
    m.Standing.objects.bulk_create(
        (
            m.Standing(
                position=one,
                code=say[n % 3][0],
                sentence=say[n % 3][1],
                mover=say[n % 3][2],
                since=date(2026, 4, 1 + n % 28),
                band=band if n % 3 != 1 else None,
                last_observed_at=now if n % 3 != 1 else None,
                building_id=one.building_id,
                tag=one.tag,
                outcomes=as_text(dict.fromkeys(REQUIREMENTS, ("conforms", "not_due", "does_not_conform")[n % 3])),
            )
            for n, one in enumerate(positions)
        ),
        batch_size=500,
    )


def today() -> datetime:
    return timezone.now()
