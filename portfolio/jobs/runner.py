"""Doing jobs: the same code in a Celery worker and in `run_jobs`."""

import logging
import time
import traceback
from collections.abc import Callable, Sequence
from typing import cast

from django.conf import settings
from django.db.models.functions import Now
from django.utils.module_loading import import_string

from portfolio.jobs import queue
from portfolio.jobs.queue import Claim
from portfolio.models import Beat, Job

logger = logging.getLogger(__name__)

type_of_handler = Callable[[Sequence[Claim]], None]

BATCH = {"judge": 128}
"""How many jobs of a kind are done in one go; others are done singly."""

DRAIN_S = 30.0
"""How long one message may keep a worker at it."""


def handler_of(kind: str) -> type_of_handler:
    return cast(type_of_handler, import_string(settings.JOB_HANDLERS[kind]))


def run(job_id: int) -> None:
    """A message said that there is work of this job's kind: do it, and what else of that kind is due."""
    kind = Job.objects.filter(id=job_id).values_list("kind", flat=True).first()
    if kind is not None:
        drain([kind], seconds=DRAIN_S)


def drain(kinds: Sequence[str] | None = None, *, seconds: float = float("inf")) -> int:
    """Do due jobs until none is left or the time is over; returns how many were done."""
    end = time.monotonic() + seconds
    count = 0
    while time.monotonic() < end:
        done = sum(run_batch(kind) for kind in kinds or list(settings.JOB_HANDLERS))
        if not done:
            break
        count += done
    return count


def run_batch(kind: str) -> int:
    claims = queue.claim(kind, BATCH.get(kind, 1))
    if claims:
        _attempt(handler_of(kind), claims)
    return len(claims)


def _attempt(handler: type_of_handler, claims: Sequence[Claim]) -> None:
    try:
        handler(claims)
    except Exception:
        if len(claims) > 1:  # one of them is bad: each for itself, so that it does not stop its neighbours
            for claim in claims:
                _attempt(handler, [claim])
            return
        logger.exception("job %s %s failed", claims[0].kind, claims[0].subject)
        queue.failed(claims[0], traceback.format_exc(limit=-5))


def beat(name: str) -> None:
    """Written by whoever consumed or looked for work: proves consumption, not life."""
    Beat.objects.update_or_create(name=name, defaults={"at": Now()})
