"""A real relay, worker and Redis: jobs are done once, whoever is killed or frozen meanwhile.

The jobs are those of tests/services/jobs.py; a lease is short, so that a death shows soon.
"""

from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import pytest
from django.db import transaction

from portfolio.jobs import queue
from portfolio.models import Job
from tests.live import Installation, Redis, installed, wait_until

LEASE_S = 3


@pytest.fixture
def quick_lease(live: Installation) -> Iterator[Installation]:
    live.extra = {
        **live.extra,
        "DJANGO_SETTINGS_MODULE": "tests.services.settings",
        "JOB_LEASE_S": str(LEASE_S),
    }
    yield live
    for running in live.started:
        print(f"--- {running.name}\n{running.output()}")  # shown by pytest when the test fails


def want(kind: str, count: int = 1) -> None:
    with transaction.atomic():
        queue.want(kind, [uuid4() for _ in range(count)])


def left() -> int:
    return Job.objects.filter(due=True).count()


def is_held() -> bool:
    return Job.objects.filter(token__isnull=False).exists()


@pytest.mark.services
def test_relay_and_worker_empty_the_table(quick_lease: Installation) -> None:
    quick_lease.relay()
    quick_lease.worker()
    want("judge", 300)
    wait_until(lambda: left() == 0, "no job is due")
    assert set(Job.objects.values_list("wanted", "done", "error")) == {(1, 1, "")}


@pytest.mark.services
def test_jobs_wait_for_a_worker_that_comes_later(quick_lease: Installation) -> None:
    quick_lease.relay()
    want("judge", 5)
    wait_until(lambda: not Job.objects.filter(published_at__isnull=True).exists(), "all are published")
    assert left() == 5
    quick_lease.worker()
    wait_until(lambda: left() == 0, "no job is due")


@pytest.mark.services
def test_a_killed_workers_job_is_done_by_another(quick_lease: Installation) -> None:
    quick_lease.relay()
    first = quick_lease.worker()
    want("binder")
    wait_until(is_held, "the job is held")
    first.kill()
    assert left() == 1
    quick_lease.worker()
    took = wait_until(lambda: left() == 0, "the job is done")
    assert took < LEASE_S + 20
    assert Job.objects.values_list("wanted", "done").get() == (1, 1)


@pytest.mark.services
def test_a_job_that_kills_its_process_is_given_up_after_three_starts(quick_lease: Installation) -> None:
    quick_lease.relay()
    quick_lease.worker()
    want("rejudge")
    want("judge", 20)
    wait_until(lambda: left() == 0, "the others are done and the deadly one is given up", seconds=90)
    deadly = Job.objects.get(kind="rejudge")
    assert (deadly.done, deadly.tries) == (0, 3)
    assert "never finished" in deadly.error
    assert set(Job.objects.filter(kind="judge").values_list("done", flat=True)) == {1}


@pytest.mark.services
def test_a_frozen_and_then_killed_redis_loses_nothing(quick_lease: Installation, private_redis: Redis) -> None:
    quick_lease.relay()
    quick_lease.worker()
    want("judge", 5)
    wait_until(lambda: left() == 0, "no job is due")

    running = private_redis.running
    assert running is not None
    running.freeze()
    want("judge", 50)
    running.kill()
    want("judge", 50)
    private_redis.start()
    wait_until(lambda: left() == 0, "no job is due", seconds=60)
    assert Job.objects.filter(done=1).count() == 105


def test_without_a_broker_the_relay_does_the_jobs(tmp_path: Path) -> None:
    extra = {"DJANGO_SETTINGS_MODULE": "tests.services.settings", "JOB_LEASE_S": str(LEASE_S)}
    with installed(tmp_path, extra=extra) as here:
        here.migrate()
        here.relay()
        here.manage(
            "shell",
            "-c",
            "import uuid; from portfolio.jobs import queue; queue.want('judge', [uuid.uuid4() for _ in range(20)])",
        )
        jobs = "SELECT count(*) FROM portfolio_job WHERE due = ?"
        wait_until(lambda: here.rows(jobs, [False]) == [(20,)], "all twenty are done")
    assert not any(running.is_alive for running in here.started)
