"""Jobs without a trade: one that is done at once, one that takes a while, one that kills its process."""

import os
import signal
import time
from collections.abc import Sequence

from django.db import transaction

from portfolio.jobs import queue
from portfolio.jobs.queue import Claim

SLOW_JOB_S = 1.5


def quick(claims: Sequence[Claim]) -> None:
    with transaction.atomic():
        queue.finish(claims)


def slow(claims: Sequence[Claim]) -> None:
    for claim in claims:
        queue.progress(claim, done=0, whole=1)
    time.sleep(SLOW_JOB_S)
    quick(claims)


def deadly(claims: Sequence[Claim]) -> None:
    os.kill(os.getpid(), signal.SIGKILL)
