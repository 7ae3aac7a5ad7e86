"""Wanting, claiming and finishing jobs. The clock is the database's alone.

`want` belongs inside the transaction of its cause. `claim` stands alone. `finish` stands first in the transaction of
the effect: it is fenced by the claim's token, so a worker that slept past its lease changes nothing.
"""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from functools import cache
from typing import Any
from uuid import UUID, uuid4

from django.conf import settings
from django.db import connection, transaction
from django.db.models import F, Q, QuerySet
from django.db.models.functions import Now

from portfolio.models import Job
from portfolio.models.prepared import Prepared

RENEW = "renew"
"""The job that looks whether what is derived is still what it would be now; it has no subject but itself."""

_CHUNK = 200


@dataclass(frozen=True)
class Claim:
    """The right to do one job until its lease ends."""

    job_id: int
    kind: str
    subject: UUID
    token: UUID
    tries: int


def want(kind: str, subjects: Iterable[UUID]) -> None:
    """One more reason to do this for each subject. Call it in the transaction that is the reason."""
    ordered = sorted(set(subjects))  # one order everywhere: two bursts cannot lock each other out
    for start in range(0, len(ordered), _CHUNK):
        _upsert(kind, ordered[start : start + _CHUNK])


def _upsert(kind: str, subjects: Sequence[UUID]) -> None:
    subject_field = Job._meta.get_field("subject")
    values: list[Any] = []
    for subject in subjects:
        values += [kind, subject_field.get_db_prep_value(subject, connection)]
    row = "(%s, %s, 1, 0, 0, true, 0, 0, 0, '', CURRENT_TIMESTAMP)"
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO portfolio_job"  # noqa: S608  (nothing but our own placeholders is formatted in)
            " (kind, subject, wanted, done, claimed, due, tries, steps_done, steps_all, error, changed_at)"
            f" VALUES {', '.join([row] * len(subjects))}"
            " ON CONFLICT (kind, subject) DO UPDATE SET wanted = portfolio_job.wanted + 1, due = true, tries = 0,"
            " error = '', not_before = NULL, published_at = NULL, changed_at = CURRENT_TIMESTAMP",
            values,
        )


def want_renewal() -> None:
    """At each start of who keeps the jobs going: code, or files, may be others than before."""
    if RENEW in settings.JOB_HANDLERS:
        with transaction.atomic():
            want(RENEW, [UUID(int=0)])


@contextmanager
def passing() -> Iterator[None]:
    """A transaction that need not be on the disk when it ends, and so ends sooner.

    For a hint or a claim: if the database loses it in a crash, it is as if it had not been made, and a worker whose
    claim is gone finds at `finish` that it is not its own.
    """
    with transaction.atomic():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET LOCAL synchronous_commit TO off")
        yield


def waiting(kind: str | None = None) -> QuerySet[Job]:
    """Jobs that a worker could start now."""
    free = Q(lease_until__isnull=True) | Q(lease_until__lt=Now())
    ripe = Q(not_before__isnull=True) | Q(not_before__lte=Now())
    jobs = Job.objects.filter(free, ripe, due=True, tries__lt=settings.JOB_TRIES)
    return jobs.filter(kind=kind) if kind else jobs


def due_kinds() -> set[str]:
    """Kinds of which something waits: a mere look, and a cheap one, since it is taken a hundred times a second."""
    return set(_KINDS())


_KINDS = Prepared(lambda: waiting().order_by("kind").values_list("kind", flat=True).distinct())


def held() -> QuerySet[Job]:
    """Jobs that somebody is doing."""
    return Job.objects.filter(lease_until__gt=Now())


def claim(kind: str, most: int = 1) -> list[Claim]:
    """Take up to `most` jobs. One that was started before and not finished is taken alone.

    So what shares a batch with a job that kills its worker is never given up with it.
    """
    token = uuid4()
    with passing():
        free = _free(most)(kind)
        taken = [row for row in free if row[2] == 0] or free[:1]
        if not taken:
            return []
        Job.objects.filter(id__in=[job_id for job_id, _, _ in taken]).update(
            token=token,
            lease_until=Now() + timedelta(seconds=settings.JOB_LEASE_S),
            claimed=F("wanted"),
            tries=F("tries") + 1,
            steps_done=0,
            steps_all=0,
        )
    return [Claim(job_id, kind, subject, token, tries + 1) for job_id, subject, tries in sorted(taken)]


@cache
def _free(most: int) -> Prepared:
    """Locked and passed by where others lock; on SQLite a write transaction is alone in any case."""
    names = ("id", "subject", "tries")
    return Prepared(
        lambda kind: (
            waiting(kind).select_for_update(skip_locked=True).order_by("tries", "id").values_list(*names)[:most]
        ),
        str,
    )


def finish(claims: Sequence[Claim]) -> list[Claim]:
    """Mark as done, and say which of the claims were still ours: only their effects may be written.

    Must be the first statement of the effect's transaction.
    """
    if not transaction.get_connection().in_atomic_block:
        raise RuntimeError("finish() belongs in the transaction of the effect")
    ids = {claim.job_id: claim for claim in claims}
    token = claims[0].token
    ours = Job.objects.filter(id__in=ids, token=token)
    kept = list(ours.select_for_update().order_by("id").values_list("id", flat=True))
    Job.objects.filter(id__in=kept, token=token).update(
        done=F("claimed"), token=None, lease_until=None, tries=0, error="", published_at=None, not_before=None
    )
    Job.objects.filter(id__in=kept).update(due=Q(wanted__gt=F("done")))
    return [ids[job_id] for job_id in kept]


def failed(claim: Claim, error: str) -> None:
    """The job raised: try again later, or give up and show the error to people."""
    mine = Job.objects.filter(id=claim.job_id, token=claim.token)
    if claim.tries >= settings.JOB_TRIES:
        mine.update(due=False, token=None, lease_until=None, error=error)
    else:
        mine.update(
            token=None,
            lease_until=None,
            error=error,
            not_before=Now() + timedelta(seconds=2**claim.tries),
            published_at=None,
        )


def progress(claim: Claim, *, done: int, whole: int) -> bool:
    """Say how far it is, and stretch the lease. False when the claim is no longer ours: stop."""
    changed = Job.objects.filter(id=claim.job_id, token=claim.token).update(
        steps_done=done, steps_all=whole, lease_until=Now() + timedelta(seconds=settings.JOB_LEASE_S)
    )
    return changed == 1


def sweep() -> int:
    """Give up what was started too often and never finished; returns how many."""
    return Job.objects.filter(due=True, tries__gte=settings.JOB_TRIES, lease_until__lt=Now()).update(
        due=False,
        token=None,
        lease_until=None,
        error=f"Started {settings.JOB_TRIES} times and never finished: the worker died each time.",
    )
