"""A small world with fixed ids, so that two databases, two orders of arrival or two fates can be compared by hash.

    python -m tests.faults.world SEED [REPEATS]

makes it on the database of DATABASE_URL, submits everything in the order of the seed, each envelope 1 to REPEATS
times, does all jobs and prints the hash of the end state.
"""

import json
import os
import random
import sys
import uuid
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

from tests import envelopes

SPACE = uuid.UUID("5e1f0000-0000-4000-8000-000000000000")
POSITIONS = 20
PER_POSITION = 50
STEP = 400
DESIGN = {"supply": 1000.0, "return": 950.0, "outdoor": 1000.0, "exhaust": 950.0}


def named(name: str) -> uuid.UUID:
    return uuid.uuid5(SPACE, name)


@dataclass(frozen=True)
class World:
    person: Any
    token: str
    envelopes: list[bytes]


def build() -> World:
    """Firm, project, building, instrument, positions with a design, and a technician with a token."""
    from portfolio import models as m
    from portfolio.api.agreements import usual_conventions
    from portfolio.door import tokens

    firm = m.Firm.objects.create(id=named("firm"), name="Firm of the fault tests")
    owner = m.Owner.objects.create(id=named("owner"), firm=firm, name="Owner")
    project = m.Project.objects.create(id=named("project"), firm=firm, owner=owner, code="F-1", name="Faults")
    m.ProjectConventions.objects.create(project=project, version=1, agreed=usual_conventions())
    site = m.Site.objects.create(
        id=named("site"), project=project, name="Site", time_zone="America/Denver", elevation_m=1600
    )
    building = m.Building.objects.create(id=named("building"), site=site, name="Building")
    instrument = m.Instrument.objects.create(
        id=named("instrument"),
        firm=firm,
        name="Meter",
        kind="airflow meter",
        serial="M-1",
        accuracy={"relative": 0.03, "absolute": {"value": 2, "unit": "cfm"}, "shape": "rectangular"},
    )
    m.Calibration.objects.create(
        instrument=instrument, certificate="C-1", on=date(2026, 1, 10), due=date(2027, 1, 10), as_found="within"
    )
    person = m.Person(id=named("person"), email="tech@faults.example", name="Technician")
    person.set_unusable_password()
    person.save(force_insert=True)
    m.Membership.objects.create(person=person, role="technician", firm=firm)
    _, secret = tokens.make(person=person, label="phone", scope="submit", days=30)
    revision = m.DesignRevision.objects.create(
        project=project, number=1, dated=date(2026, 1, 5), source="design", applied_by=person
    )
    for number in range(POSITIONS):
        position = m.Position.objects.create(
            id=named(f"position {number}"), building=building, tag=f"ERV-{number + 1}", kind="erv"
        )
        m.DesignEntry.objects.create(
            revision=revision, position=position, fields=envelopes.design(DESIGN, minimum={"outdoor": 700.0})
        )
    return World(person, secret, [one for number in range(POSITIONS) for one in _of_position(number)])


def _of_position(number: int) -> list[bytes]:
    """Preliminary readings, then as-left sessions of which some fail, verifications and corrections."""
    dice = random.Random(number)
    start = datetime(2026, 5, 4, 15, 0, tzinfo=UTC)
    made = []
    for index in range(PER_POSITION):
        factor = dice.uniform(0.85, 1.1)
        name = f"{number}/{index}"
        purpose = "verification" if index % 7 == 6 else "as_left"
        before = str(uuid.uuid5(envelopes.NAMESPACE, f"{number}/{index - 1}"))
        given = envelopes.envelope(
            name,
            position=named(f"position {number}"),
            person=named("person"),
            instrument=named("instrument"),
            flows={port: round(flow * factor, 1) for port, flow in DESIGN.items()},
            stage="preliminary" if index < 5 else "final",
            session=f"S-{index // 5}",
            purpose=purpose,
            at=(start + timedelta(hours=index)).isoformat(),
            supersedes=[{"id": before, "reason": "a digit was lost"}] if index % 11 == 10 else None,
        )
        made.append(envelopes.raw(given))
    return made


def shuffled(raws: list[bytes], seed: int, repeats: int) -> list[bytes]:
    dice = random.Random(seed)
    order = [raw for raw in raws for _ in range(dice.randint(1, repeats))]
    dice.shuffle(order)
    return order


def main(seed: int, repeats: int) -> None:
    from commissioning.evidence.accept import Kept, Sender, accept
    from portfolio.jobs import runner
    from tests.end_state import end_hash, end_state

    world = build()
    order = shuffled(world.envelopes, seed, repeats)
    for start in range(0, len(order), STEP):
        outcomes = accept(Sender(world.person), order[start : start + STEP])
        assert all(isinstance(one, Kept) for one in outcomes), outcomes
        runner.drain()
    print(
        json.dumps(
            {"hash": end_hash(), "counts": {k: v if isinstance(v, int) else len(v) for k, v in end_state().items()}}
        )
    )


if __name__ == "__main__":
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "portfolio.settings")
    django.setup()
    main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1)
