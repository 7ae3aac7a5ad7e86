"""From the job table to the broker. The web never opens a socket to Redis: this process alone publishes.

A message is only a hint that there is work of a kind; losing all of them loses nothing, since what stays due is
published again.
"""

import logging
from datetime import timedelta

from django.db.models import F, Q, QuerySet
from django.db.models.functions import Now
from kombu.exceptions import OperationalError

from portfolio.celery import app
from portfolio.jobs import queue, runner
from portfolio.models import Job
from portfolio.models.prepared import Prepared

logger = logging.getLogger(__name__)

AGAIN_S = 10
"""A job that nobody has taken up by then is published again."""

MOST = 2000


def publish() -> int:
    """Publish hints for what is due and not yet published; returns how many jobs they stand for."""
    due = _UNHEARD()
    if not due:
        return 0
    for kind in {kind for _, kind in due}:
        ids = [job_id for job_id, k in due if k == kind]
        # Marked first: a worker that is quicker than the mark would find the row locked, pass it by, and nobody
        # would hear of it until it is published again.
        with queue.passing():
            Job.objects.filter(id__in=ids).update(published_at=Now())
        for job_id in ids[:: runner.BATCH.get(kind, 1)]:
            if not _send(job_id):
                Job.objects.filter(id__in=ids).update(published_at=None)
                return 0
    return len(due)


def _unheard() -> QuerySet[Job, tuple[int, str]]:
    """What is due and not yet published, or was and nobody took it up."""
    stale = (
        Q(published_at__isnull=True)
        | Q(published_at__lt=Now() - timedelta(seconds=AGAIN_S))
        | Q(published_at__lt=F("lease_until"))  # whoever took it up let its lease end
    )
    return queue.waiting().filter(stale).order_by("id").values_list("id", "kind")[:MOST]


_UNHEARD = Prepared(_unheard)


def _send(job_id: int) -> bool:
    try:
        app.send_task("run_job", args=[job_id], retry=False)
    except (OperationalError, OSError) as error:
        logger.warning("the broker does not take messages (%s); jobs wait in the table", error)
        return False
    return True
