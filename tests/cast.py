"""The cast: two firms, and in them a person for every role and relation to the *stage*.

The stage is building *Stage* of project P1 of firm A. A person's relation to it:

    own       their role's scope reaches the stage
    near      same firm, but another building (a contractor: party to another project only)
    foreign   the other firm
    revoked   like own, but the role has ended
    (anonymous is nobody at all)

Every name in a region holds that region's canary, a random word. `Cast.forbidden` are the canaries that a person may
never meet. Rooms above add what they keep by `cast.things["issue"] = …`, see tests/architecture/policy.py.
"""

import hashlib
import json
import secrets
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any

from django.test import Client
from django.utils import timezone

from portfolio.api.agreements import usual_conventions
from portfolio.door import tokens
from portfolio.models import (
    Building,
    Calibration,
    Company,
    DeviceToken,
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
    System,
)
from portfolio.models.people import Role

ROLES = tuple(role.value for role in Role)
RELATIONS = ("own", "near", "foreign", "revoked")
REGIONS = ("a", "p1", "stage", "b2", "p2", "b")

# What each (relation, role) may meet. Everyone else meets nothing.
KNOWN: dict[tuple[str, str], set[str]] = {
    **{("own", role): {"a", "p1", "stage", "b2"} for role in ROLES},
    ("own", "lead"): {"a", "p1", "stage", "b2", "p2"},
    **{("near", role): {"a", "p1", "b2"} for role in ROLES},
    ("near", "contractor"): {"a", "p2"},
    **{("foreign", role): {"b"} for role in ROLES},
}


@dataclass
class Actor:
    """A person of the cast, with a token that may do whatever the person may."""

    relation: str
    role: str
    person: Person | None = None
    secret: str = ""

    @property
    def name(self) -> str:
        return f"{self.relation} {self.role}".strip()

    @property
    def headers(self) -> dict[str, str]:
        return {"Authorization": f"Bearer {self.secret}"} if self.secret else {}

    def call(self, method: str, path: str, body: Any = None, *, headers: dict[str, str] | None = None) -> Any:
        """Ask the API (`path` begins after ``/api/v1/``) with a JSON body, or with bytes as they are."""
        content = body if isinstance(body, bytes) else b"" if body is None else json.dumps(body).encode()
        return Client().generic(
            method, f"/api/v1/{path}", content, "application/json", headers={**self.headers, **(headers or {})}
        )


@dataclass
class Cast:
    canaries: dict[str, str] = field(default_factory=dict)
    things: dict[str, Any] = field(default_factory=dict)
    actors: list[Actor] = field(default_factory=list)

    @classmethod
    def assemble(cls) -> "Cast":
        cast = cls(canaries={region: f"zq{secrets.token_hex(6)}" for region in REGIONS})
        _firm_a(cast)
        _firm_b(cast)
        for relation in RELATIONS:
            for role in ROLES:
                cast.actors.append(_actor(cast, relation, role))
        cast.actors.append(Actor("anonymous", ""))
        for region, building in (("stage", "building"), ("b", "foreign_building")):
            extra = Person.objects.create_person(f"{region}@cast.example", cast.named(region, "Extra"))
            Membership.objects.create(person=extra, role=Role.TECHNICIAN, building=cast.things[building])
        cast.things["membership"] = Membership.objects.get(person__email="near.engineer@cast.example")
        return cast

    def named(self, region: str, text: str) -> str:
        return f"{text} {self.canaries[region]}"

    def actor(self, relation: str, role: str) -> Actor:
        return next(a for a in self.actors if (a.relation, a.role) == (relation, role))

    def person(self, relation: str, role: str) -> Person:
        """As freshly read: what it remembers of its roles is forgotten."""
        known = self.actor(relation, role).person
        assert known is not None
        return Person.objects.get(pk=known.pk)

    def known(self, actor: Actor) -> set[str]:
        return {self.canaries[region] for region in KNOWN.get((actor.relation, actor.role), set())}

    def forbidden(self, actor: Actor) -> set[str]:
        return set(self.canaries.values()) - self.known(actor)

    def token_id(self, actor: Actor) -> Any:
        """Of the actor's own token (for nobody, somebody's)."""
        actor = actor if actor.secret else self.actor("own", "lead")
        return DeviceToken.objects.get(digest=hashlib.sha256(actor.secret.encode()).hexdigest()).pk


def _firm_a(cast: Cast) -> None:
    things, named = cast.things, cast.named
    firm = things["firm"] = Firm.objects.create(name=named("a", "Firm A"))
    owner = things["owner"] = Owner.objects.create(firm=firm, name=named("p1", "Owner"))
    company = things["company"] = _company(firm, named("p1", "Mechanical"))
    things["project"] = _project(cast, "p1", firm, owner, [company])
    things["site"] = _site(cast, "p1", things["project"])
    _building(cast, "stage", "", things["site"])
    _building(cast, "b2", "near_", things["site"])
    things["other_owner"] = Owner.objects.create(firm=firm, name=named("p2", "Another owner"))
    other_company = things["other_company"] = _company(firm, named("p2", "Another mechanical"))
    things["other_project"] = _project(cast, "p2", firm, things["other_owner"], [other_company])
    _building(cast, "p2", "other_", _site(cast, "p2", things["other_project"]))
    things["instrument"], things["calibration"] = _instrument(firm, named("a", "Hood"))


def _firm_b(cast: Cast) -> None:
    things, named = cast.things, cast.named
    firm = things["foreign_firm"] = Firm.objects.create(name=named("b", "Firm B"))
    owner = things["foreign_owner"] = Owner.objects.create(firm=firm, name=named("b", "Owner"))
    company = things["foreign_company"] = _company(firm, named("b", "Mechanical"))
    things["foreign_project"] = _project(cast, "b", firm, owner, [company])
    things["foreign_site"] = _site(cast, "b", things["foreign_project"])
    _building(cast, "b", "foreign_", things["foreign_site"])
    things["foreign_instrument"], _ = _instrument(firm, named("b", "Hood"))


def _company(firm: Firm, name: str) -> Company:
    return Company.objects.create(firm=firm, name=name, trade=Company.Trade.MECHANICAL)


def _project(cast: Cast, region: str, firm: Firm, owner: Owner, parties: Iterable[Company]) -> Project:
    project = Project.objects.create(
        firm=firm, owner=owner, code=cast.canaries[region], name=cast.named(region, "Project")
    )
    project.parties.set(parties)
    ProjectConventions.objects.create(project=project, version=1, agreed=usual_conventions())
    return project


def _site(cast: Cast, region: str, project: Project) -> Site:
    return Site.objects.create(
        project=project, name=cast.named(region, "Site"), time_zone="America/Denver", elevation_m=1600
    )


def _building(cast: Cast, region: str, prefix: str, site: Site) -> None:
    """A building with one of everything; `prefix` is what its things are called by in `things`."""
    things, named = cast.things, cast.named
    building = things[f"{prefix}building"] = Building.objects.create(site=site, name=named(region, "Building"))
    things[f"{prefix}system"] = System.objects.create(building=building, name=named(region, "Riser"))
    things[f"{prefix}space"] = ServedSpace.objects.create(building=building, name=named(region, "Room"))
    position = things[f"{prefix}position"] = Position.objects.create(
        building=building,
        system=things[f"{prefix}system"],
        tag=named(region, "ERV-1"),
        kind=Position.Kind.ERV,
        location=named(region, "Roof"),
    )
    position.spaces.set([things[f"{prefix}space"]])
    machine = Machine.objects.create(project=site.project, serial=named(region, "SN"), maker=named(region, "Maker"))
    things[f"{prefix}installation"] = Installation.objects.create(
        position=position, machine=machine, since=date(2026, 1, 5)
    )


def _instrument(firm: Firm, name: str) -> tuple[Instrument, Calibration]:
    instrument = Instrument.objects.create(
        firm=firm,
        name=name,
        kind="flow hood",
        serial=name,
        accuracy={"relative": 0.03, "absolute": {"value": 7, "unit": "cfm"}, "shape": "rectangular"},
    )
    calibration = Calibration.objects.create(
        instrument=instrument, certificate=name, on=date(2026, 1, 10), due=date(2027, 1, 10), as_found="within"
    )
    return instrument, calibration


_PLACES = {
    ("own", "lead"): ("firm", "firm"),
    ("own", "technician"): ("project", "project"),
    ("own", "contractor"): ("company", "company"),
    ("own", "owner"): ("owner", "owner"),
    ("own", "engineer"): ("project", "project"),
    ("near", "contractor"): ("company", "other_company"),
    ("foreign", "lead"): ("firm", "foreign_firm"),
    ("foreign", "technician"): ("firm", "foreign_firm"),
    ("foreign", "contractor"): ("company", "foreign_company"),
    ("foreign", "owner"): ("owner", "foreign_owner"),
    ("foreign", "engineer"): ("project", "foreign_project"),
}


def _actor(cast: Cast, relation: str, role: str) -> Actor:
    place = ("own" if relation == "revoked" else relation, role)
    scope, thing = _PLACES.get(place, ("building", "near_building"))
    person = Person.objects.create_person(f"{relation}.{role}@cast.example", f"{relation} {role}")
    ended = {"until": datetime(2026, 6, 1, tzinfo=UTC)} if relation == "revoked" else {}
    Membership.objects.create(
        person=person, role=role, since=timezone.now() - timedelta(days=900), **{scope: cast.things[thing]}, **ended
    )
    _, secret = tokens.make(person=person, label="of the cast", scope="act", days=30)
    return Actor(relation, role, person, secret)
