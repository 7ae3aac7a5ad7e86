"""The whole chain, and nothing else: no rule lives here.

claim -> dossiers -> judging (pure) -> [fenced finish, verdicts, issues, standing] in one transaction
"""

from collections.abc import Sequence
from uuid import UUID

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from commissioning import judging, standing
from commissioning.binders.build import build
from commissioning.evidence.trends import reading
from commissioning.issues import drafts
from commissioning.verdicts import (
    dossiers,
    keep,
    neighbours,
    sampled_tests,
    settings_now,
    shared_rooms,
    sisters,
    trend_analyses,
)
from portfolio.jobs import queue
from portfolio.jobs.queue import Claim
from portfolio.models import Position


def judge(claims: Sequence[Claim]) -> None:
    """Judge these positions: all that stands about each, read once and judged without a lock."""
    positions = [claim.subject for claim in claims]
    gathered = dossiers.gather(positions)
    ready = {pk: judging.prepare(gathered.document(pk)) for pk in gathered.positions}
    same = keep.unchanged(positions, {pk: one.hashes for pk, one in ready.items()})
    found = {pk: _found(pk, one) for pk, one in ready.items() if pk not in same}
    with transaction.atomic():
        kept = [claim.subject for claim in queue.finish(claims)]
        fresh = [found[pk] for pk in kept if pk in found]
        judged = [one.position for one in fresh]
        read_before, found_before = sisters.near(judged), neighbours.addresses(judged)
        rooms_before = shared_rooms.near(judged)
        tested_before = sampled_tests.drawn(judged)
        keep.keep(fresh, timezone.now())
        settings_now.keep(fresh, gathered.positions)
        trend_analyses.follow(fresh)
        stale = sisters.stale(judged, gathered.sisters, read_before, sisters.near(judged))
        stale |= sisters.stale(judged, gathered.shared_rooms, rooms_before, shared_rooms.near(judged))
        stale |= neighbours.stale(found_before, judged, gathered.near)
        stale |= sampled_tests.stale(tested_before, sampled_tests.drawn(judged))
        if stale:
            queue.want("rejudge", stale)
        drafts.follow(kept)
        standing.refresh(kept)


def _found(position: UUID, ready: judging.Prepared) -> keep.Found:
    result = ready.judge()
    return keep.Found(
        position=position,
        inputs_hash=ready.hashes[0],
        rules_hash=ready.hashes[1],
        measurements=result["measurements"],
        judgements=result["judgements"],
        problems=result["problems"],
        band=result["band"],
    )


def rejudge(claims: Sequence[Claim]) -> None:
    """A convention, a calibration or a rule changed: want a judging for every position it may touch."""
    for claim in claims:
        with transaction.atomic():
            if queue.finish([claim]):
                queue.want("judge", positions_under(claim.subject).values_list("pk", flat=True))


def positions_under(subject: UUID) -> QuerySet[Position]:
    """The positions under a firm, an owner, a project, a site or a building, or one position."""
    return Position.objects.filter(
        Q(pk=subject)
        | Q(building=subject)
        | Q(building__site=subject)
        | Q(building__site__project=subject)
        | Q(building__site__project__owner=subject)
        | Q(building__site__project__firm=subject)
    )


def binder(claims: Sequence[Claim]) -> None:
    for claim in claims:
        build(claim)


def log(claims: Sequence[Claim]) -> None:
    for claim in claims:
        reading.work(claim)


def analyse(claims: Sequence[Claim]) -> None:
    for claim in claims:
        trend_analyses.work(claim)


def renew(claims: Sequence[Claim]) -> None:
    """Hold what is derived against what it is made of now: wanted at each start, so after an upgrade or a restore."""
    with transaction.atomic():
        if queue.finish(claims):
            queue.want("judge", keep.outdated())
            queue.want(trend_analyses.JOB, trend_analyses.units())
