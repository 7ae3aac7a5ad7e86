"""From the commit of a cause to the start of its job, between real processes: without a broker, and with one."""

import random
import shutil
import tempfile
import time
import uuid
from pathlib import Path

from django.db import transaction

from portfolio.jobs import queue
from tests.bench.timing import Line, percentile
from tests.live import Redis, installed, wait_until

ASKED = 120


def lines(database_url: str) -> list[Line]:
    found = [_measure("B6a", "commit to job start, p95, no broker", database_url, broker=False)]
    if shutil.which("redis-server") and shutil.which("redis-cli") and database_url.startswith("postgres"):
        found.append(_measure("B6b", "commit to job start, p95, relay and Celery", database_url, broker=True))
    return found


def _measure(code: str, what: str, database_url: str, *, broker: bool) -> Line:
    folder = Path(tempfile.mkdtemp(prefix="ventfolio-bench-"))
    starts = folder / "starts"
    starts.touch()
    extra = {"DJANGO_SETTINGS_MODULE": "tests.bench.settings", "BENCH_STARTS_FILE": str(starts)}
    try:
        with installed(folder, database_url=database_url, extra=extra) as here:
            if broker:
                redis = Redis(here)
                redis.start()
                here.broker_url = redis.url
                here.worker(processes=1)
            here.relay()
            _ask(starts, 5, 0.2)
            waited = _ask(starts, ASKED, 0.1)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    waited = [1e3 * one for one in waited]
    p95 = percentile(waited, 0.95)
    figures = f"median {percentile(waited, 0.5):.1f} ms of {len(waited)}"
    return Line(code, what, p95, min(waited), max(waited), 50.0, 5.0, more_is_better=False, unit="ms", figures=figures)


def _ask(starts: Path, number: int, most_s: float) -> list[float]:
    """Causes at irregular moments, each after the one before has begun; how long each waited."""
    dice, waited = random.Random(3), []
    for _ in range(number):
        time.sleep(dice.uniform(0.0, most_s))
        subject = uuid.uuid4()
        with transaction.atomic():
            queue.want("bench", [subject])
        committed = time.time()
        wait_until(lambda: str(subject) in starts.read_text(), "the job began", pause=0.01)  # noqa: B023
        began = next(
            float(line.split()[1]) for line in starts.read_text().splitlines() if line.startswith(str(subject))
        )
        waited.append(max(0.0, began - committed))
    return waited
