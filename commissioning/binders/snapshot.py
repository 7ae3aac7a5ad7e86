"""All rows that a binder rests on, as of one moment, in a fixed number of queries whatever the number of units."""

import json
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import connection, transaction
from django.db.models import F, Prefetch

from commissioning import standing
from commissioning.binders import sampled
from commissioning.models import Binder, Issue, IssueCheck, IssueEvent, Record, Supersession
from commissioning.verdicts import dossiers
from portfolio.models import (
    Blob,
    Building,
    Installation,
    Person,
    Position,
    Project,
    ProjectConventions,
    ServedSpace,
    TagAlias,
)
from portfolio.models.design import DesignEntry

UNRELEASED = (Issue.State.DRAFT, Issue.State.DROPPED, Issue.State.MERGED)
"""Issues that are nobody's yet, or no longer: not for the owner's binder."""


@dataclass
class Snapshot:
    project: Project
    positions: list[Position]  # in the order of the binder: building, then tag
    gathered: dossiers.Gathered
    seen: dict[UUID, standing.Seen]
    records: list[Record]  # of these positions, superseded ones too
    elsewhere: list[Record]  # of other positions, superseding one of these
    supersessions: list[Supersession]
    issues: list[Issue]
    samples: list[sampled.Drawn]
    moments: list[datetime] = field(default_factory=list)  # when what the records do not tell was entered
    names: dict[UUID, str] = field(default_factory=dict)
    blobs: dict[str, Blob] = field(default_factory=dict)


@contextmanager
def one_moment() -> Iterator[None]:
    """Every query within sees the database as of the first one."""
    is_outermost = not connection.in_atomic_block
    with transaction.atomic():
        if is_outermost and connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        yield


def take(binder: Binder) -> Snapshot:
    with one_moment():
        project = Project.objects.select_related("owner", "firm").get(pk=binder.project_id)
        positions = list(
            binder.positions.select_related("building__site")
            .prefetch_related(
                Prefetch("spaces", ServedSpace.objects.order_by("name")),
                Prefetch("aliases", TagAlias.objects.order_by("pk")),
                Prefetch("installations", Installation.objects.select_related("machine").order_by("since", "pk")),
            )
            .order_by("building__site__name", "building__name", "tag", "pk")
        )
        ids = [position.pk for position in positions]
        records = _records(ids)
        supersessions = _supersessions({one.submission.client_id for one in records}, project)
        snapshot = Snapshot(
            project=project,
            positions=positions,
            gathered=dossiers.gather(ids),
            seen={one.position.pk: one for one in standing.gather(ids)},
            records=records,
            elsewhere=_elsewhere(supersessions, ids),
            supersessions=supersessions,
            issues=_issues(project, ids),
            samples=sampled.drawn_in(project, {one.building_id for one in positions}),
        )
        _moments(snapshot, ids)
        _names(snapshot)
        _blobs(snapshot)
        return snapshot


def _records(positions: Collection[UUID]) -> list[Record]:
    rows = Record.objects.filter(position__in=positions).select_related("submission", "position")
    return list(rows.order_by("position__tag", "position", "observed_at", "submission__client_id", "pk"))


def _supersessions(client_ids: Collection[UUID], project: Project) -> list[Supersession]:
    """Those that take one of these out: the same that judging on the server looks at."""
    rows = Supersession.objects.filter(
        names__in=client_ids,
        record__needs_attention=False,
        record__position__building__site__project__firm=project.firm_id,
    )
    return list(rows.select_related("record__submission").order_by("names", "record__submission__client_id", "pk"))


def _elsewhere(supersessions: list[Supersession], positions: Collection[UUID]) -> list[Record]:
    ids = {one.record_id for one in supersessions}
    rows = Record.objects.filter(pk__in=ids).exclude(position__in=positions)
    return list(rows.select_related("submission", "position").order_by("observed_at", "submission__client_id", "pk"))


def _issues(project: Project, positions: Collection[UUID]) -> list[Issue]:
    checks = IssueCheck.objects.filter(position__in=positions).select_related("position")
    rows = Issue.objects.filter(project=project, checks__position__in=positions).exclude(state__in=UNRELEASED)
    return list(
        rows.distinct()
        .select_related("company")
        .prefetch_related(
            Prefetch("checks", checks.order_by("position__tag", "port", "requirement")),
            Prefetch("events", IssueEvent.objects.order_by("pk")),
        )
        .order_by("number")
    )


def _moments(snapshot: Snapshot, positions: Collection[UUID]) -> None:
    entries = DesignEntry.objects.filter(position__in=positions)
    snapshot.moments += entries.annotate(at=F("revision__applied_at")).values_list("at", flat=True)
    agreed = ProjectConventions.objects.filter(project=snapshot.project)
    snapshot.moments += agreed.values_list("made_at", flat=True)
    snapshot.moments += [one.signature.signed_at for one in snapshot.seen.values() if one.signature]
    snapshot.moments += [one.sample.drawn_at for one in snapshot.samples]


def _names(snapshot: Snapshot) -> None:
    """Names as they are now: from here on they are text."""
    ids: set[Any] = {one.observed_by for one in snapshot.records}
    ids |= {one.submission.person_id for one in (*snapshot.records, *snapshot.elsewhere)}
    ids |= {one.signature.signed_by_id for one in snapshot.seen.values() if one.signature}
    ids |= {issue.assignee_id for issue in snapshot.issues}
    ids |= {event.person_id for issue in snapshot.issues for event in issue.events.all()}
    snapshot.names = dict(Person.objects.get_queryset().filter(pk__in=ids - {None}).values_list("pk", "name"))


def _blobs(snapshot: Snapshot) -> None:
    hashes = {sha256 for sha256, _, _ in photos_of(snapshot)}
    snapshot.blobs = {blob.pk: blob for blob in Blob.objects.filter(pk__in=hashes).select_related("view")}


def photos_of(snapshot: Snapshot) -> list[tuple[str, str, str]]:
    """(hash, caption, what it belongs to) of every photo that evidence or an issue names, each once per place."""
    found = []
    for record in snapshot.records:
        for one in _named_in(bytes(record.submission.raw)):
            found.append((one["sha256"], one.get("caption", ""), f"evidence {record.submission.client_id}"))
    for issue in snapshot.issues:
        for event in issue.events.all():
            if event.detail.get("sha256"):
                found.append((event.detail["sha256"], event.text, f"issue {issue.number}"))
    return found


def _named_in(raw: bytes) -> list[dict[str, str]]:
    photos = json.loads(raw).get("photos") or [] if b'"photos"' in raw else []
    return [one for one in photos if isinstance(one, dict) and isinstance(one.get("sha256"), str)]


def buildings_of(snapshot: Snapshot) -> list[Building]:
    return list({one.building_id: one.building for one in snapshot.positions}.values())
