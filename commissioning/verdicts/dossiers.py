"""From the tables to the judging document: the one reader of the ORM on the way to a verdict.

Everything that a judgement rests on is gathered here, in a fixed number of queries whatever the number of positions,
in the very form in which `judge FILE.json` and the binder take it.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef, Prefetch, Q

from commissioning.models import OwnChecks, OwnProcedures, Record, Supersession
from commissioning.verdicts import sampled_tests, trend_analyses
from commissioning.verdicts import shared_rooms as room_parts
from commissioning.verdicts import sisters as sister_finals
from commissioning.verdicts.neighbours import Near, near
from portfolio.models import Calibration, Installation, Instrument, Position, Project, ProjectConventions, bulk
from portfolio.models.design import DesignEntry, fold_entries

SCHEMA = "ventfolio/judge/1"


@dataclass
class Gathered:
    """The pieces of a judging document, each in the document's form, with what belongs to which position."""

    conventions: dict[UUID, dict[str, Any]]  # by project
    instruments: dict[UUID, list[dict[str, Any]]]  # by firm
    positions: dict[UUID, dict[str, Any]]
    project_of: dict[UUID, UUID]
    firm_of: dict[UUID, UUID]
    envelopes: dict[UUID, list[bytes]] = field(default_factory=lambda: defaultdict(list))
    near: dict[UUID, Near] = field(default_factory=dict)  # of those with an address on a network
    sisters: dict[UUID, sister_finals.Given] = field(default_factory=dict)  # of those with a port off its design
    shared_rooms: dict[UUID, room_parts.Given] = field(default_factory=dict)  # of those that share a room

    def document(self, position: UUID) -> dict[str, Any]:
        """The judging document of one position: what stands, nothing that was superseded."""
        return {
            "schema": SCHEMA,
            "conventions": self.conventions[self.project_of[position]],
            "instruments": self.instruments.get(self.firm_of[position], []),
            "positions": [self.positions[position]],
            "envelopes": [raw.decode() for raw in self.envelopes[position]],
        }


def gather(positions: Collection[UUID]) -> Gathered:
    rows = list(
        Position.objects.filter(bulk.among("pk", positions))
        .select_related("building__site__project", "system")
        .prefetch_related(
            Prefetch("design_entries", DesignEntry.objects.select_related("revision")),
            Prefetch("installations", Installation.objects.filter(until__isnull=True).select_related("machine")),
        )
        .order_by("pk")
    )
    projects = {p.pk: p.building.site.project for p in rows}
    gathered = Gathered(
        conventions=conventions_of({p.pk for p in projects.values()}),
        instruments=instruments_of({p.firm_id for p in projects.values()}),
        positions={p.pk: describe(p) for p in rows},
        project_of={pk: project.pk for pk, project in projects.items()},
        firm_of={pk: project.firm_id for pk, project in projects.items()},
        near=near(positions),
        sisters={pk: given for pk, given in sister_finals.near(positions).items() if pk in projects},
        shared_rooms={pk: given for pk, given in room_parts.near(positions).items() if pk in projects},
    )
    for pk, found in gathered.near.items():
        gathered.positions[pk]["neighbours"] = found.given
    for pk, given in gathered.sisters.items():
        gathered.positions[pk]["sisters"] = given
    for pk, shared in gathered.shared_rooms.items():
        gathered.positions[pk]["shared_rooms"] = shared
    for pk, analyses in trend_analyses.given(positions).items():
        gathered.positions[pk]["trends"] = analyses
    for pk, sampled in sampled_tests.given(positions).items():
        gathered.positions[pk]["sampled_tests"] = sampled
    for position, raw in standing_envelopes(positions):
        gathered.envelopes[position].append(raw)
    return gathered


def standing_envelopes(positions: Collection[UUID]) -> Iterable[tuple[UUID, bytes]]:
    """Envelopes that stand: readable, and not superseded by anyone of the same firm."""
    rows = (
        Record.objects.filter(~Exists(superseding()), bulk.among("position", positions), needs_attention=False)
        .order_by("position", "observed_at", "submission__client_id")
        .values_list("position", "submission__raw")
    )
    return ((position, bytes(raw)) for position, raw in rows)


def superseding() -> Any:
    """For an outer Record: the supersessions that take it out.

    Whose they may be was decided at the door: who may not submit at the named record's place cannot supersede it.
    """
    return Supersession.objects.filter(
        names=OuterRef("submission__client_id"),
        record__needs_attention=False,
        record__position__building__site__project__firm=OuterRef("position__building__site__project__firm"),
    )


def conventions_of(projects: Collection[UUID]) -> dict[UUID, dict[str, Any]]:
    """The newest version of each project's conventions, with what its firm has of its own."""
    found: dict[UUID, dict[str, Any]] = {}
    for row in ProjectConventions.objects.filter(project__in=projects).order_by("version"):
        found[row.project_id] = {**row.agreed, "version": row.version}
    missing = Project.objects.filter(Q(pk__in=projects) & ~Q(pk__in=found)).values_list("code", flat=True)
    if missing:
        raise LookupError(f"Project {missing[0]} has no conventions: agree on them before anything is judged.")
    for name, model in (("own_checks", OwnChecks), ("own_procedures", OwnProcedures)):
        for project, own in model.objects.by_project(set(found)).items():
            found[project][name] = own
    return found


def instruments_of(firms: Collection[UUID]) -> dict[UUID, list[dict[str, Any]]]:
    found: dict[UUID, list[dict[str, Any]]] = defaultdict(list)
    calibrations = Prefetch("calibrations", Calibration.objects.order_by("on", "certificate"))
    for one in Instrument.objects.filter(firm__in=firms).prefetch_related(calibrations).order_by("pk"):
        found[one.firm_id].append(
            {
                "id": str(one.pk),
                "name": one.name,
                "serial": one.serial,
                "kind": one.kind,
                "accuracy": one.accuracy,
                "resolution": one.resolution,
                "calibrations": [
                    {
                        "certificate": c.certificate,
                        "on": c.on.isoformat(),
                        "due": c.due.isoformat(),
                        "as_found": c.as_found,
                    }
                    for c in one.calibrations.all()
                ],
            }
        )
    return found


def describe(position: Position) -> dict[str, Any]:
    """A position in the document's form. Expects the relations that `gather` reads."""
    site = position.building.site
    installed = next(iter(position.installations.all()), None)
    return {
        "id": str(position.pk),
        "tag": position.tag,
        "kind": position.kind,
        "scope": position.scope,
        "elevation": {"value": site.elevation_m, "unit": "m"},
        "time_zone": site.time_zone,
        "system": position.system.name if position.system else None,
        "machine": ({"serial": installed.machine.serial, "since": installed.since.isoformat()} if installed else None),
        "design": fold_entries(position.design_entries.all()),
    }
