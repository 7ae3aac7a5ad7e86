"""The job table: nothing lost, nothing doubled, nothing runs for ever."""

import uuid
from datetime import timedelta

import pytest
from django.conf import settings
from django.db import transaction
from django.db.models.functions import Now

from portfolio.jobs import queue, runner
from portfolio.jobs.queue import Claim
from portfolio.models import Job

pytestmark = pytest.mark.django_db(transaction=True)


def want(kind: str = "judge", count: int = 1) -> list[uuid.UUID]:
    subjects = [uuid.uuid4() for _ in range(count)]
    with transaction.atomic():
        queue.want(kind, subjects)
    return subjects


def finish(claims: list[Claim]) -> list[Claim]:
    with transaction.atomic():
        return queue.finish(claims)


def expire_leases() -> None:
    Job.objects.filter(lease_until__isnull=False).update(lease_until=Now() - timedelta(seconds=1))


def test_a_burst_of_causes_is_one_job_and_one_run() -> None:
    (subject,) = want()
    for _ in range(4):
        with transaction.atomic():
            queue.want("judge", [subject])
    claims = queue.claim("judge", 10)
    assert [c.subject for c in claims] == [subject]
    assert finish(claims) == claims
    job = Job.objects.get()
    assert (job.wanted, job.done, job.due) == (5, 5, False)


def test_a_cause_that_comes_while_the_job_runs_makes_it_due_again() -> None:
    (subject,) = want()
    claims = queue.claim("judge")
    with transaction.atomic():
        queue.want("judge", [subject])
    finish(claims)
    job = Job.objects.get()
    assert (job.wanted, job.done, job.due) == (2, 1, True)
    assert [c.subject for c in queue.claim("judge")] == [subject]


def test_what_is_claimed_is_not_claimed_twice() -> None:
    want(count=3)
    assert len(queue.claim("judge", 2)) == 2
    assert len(queue.claim("judge", 2)) == 1
    assert queue.claim("judge", 2) == []


def test_a_worker_that_slept_past_its_lease_finishes_nothing() -> None:
    want()
    slept = queue.claim("judge")
    expire_leases()
    second = queue.claim("judge")
    assert [c.subject for c in second] == [c.subject for c in slept]
    assert finish(slept) == []
    assert Job.objects.get().due
    assert finish(second) == second


def test_a_rolled_back_effect_leaves_the_job_claimed_and_due() -> None:
    want()
    claims = queue.claim("judge")

    @transaction.atomic
    def effect_that_fails() -> None:
        queue.finish(claims)
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        effect_that_fails()
    job = Job.objects.get()
    assert job.due
    assert job.token == claims[0].token


def test_a_job_that_kills_its_worker_is_given_up_after_its_tries_and_says_so() -> None:
    want()
    for _ in range(settings.JOB_TRIES):
        assert len(queue.claim("judge")) == 1
        expire_leases()
    assert queue.claim("judge") == []
    assert queue.sweep() == 1
    job = Job.objects.get()
    assert not job.due
    assert "never finished" in job.error


def test_what_shared_a_batch_with_a_killer_is_taken_alone_and_not_given_up() -> None:
    want(count=3)
    assert len(queue.claim("judge", 10)) == 3
    expire_leases()
    assert len(queue.claim("judge", 10)) == 1


def test_a_new_cause_gives_a_given_up_job_its_tries_again() -> None:
    (subject,) = want()
    for _ in range(settings.JOB_TRIES):
        queue.claim("judge")
        expire_leases()
    queue.sweep()
    with transaction.atomic():
        queue.want("judge", [subject])
    assert [c.subject for c in queue.claim("judge")] == [subject]


def test_an_error_is_kept_tried_again_later_and_given_up_at_last(monkeypatch: pytest.MonkeyPatch) -> None:
    def bad(claims: object) -> None:
        raise RuntimeError("the reading is cursed")

    monkeypatch.setattr(runner, "handler_of", lambda kind: bad)
    want()
    assert runner.run_batch("judge") == 1
    job = Job.objects.get()
    assert "cursed" in job.error
    assert job.due
    assert queue.claim("judge") == []  # not before its time
    for _ in range(settings.JOB_TRIES - 1):
        Job.objects.update(not_before=None)
        runner.run_batch("judge")
    job.refresh_from_db()
    assert not job.due


def test_one_bad_job_of_a_batch_does_not_stop_its_neighbours(monkeypatch: pytest.MonkeyPatch) -> None:
    subjects = want(count=5)
    bad = subjects[2]

    def handler(claims: list[Claim]) -> None:
        if any(c.subject == bad for c in claims):
            raise RuntimeError("bad")
        finish(claims)

    monkeypatch.setattr(runner, "handler_of", lambda kind: handler)
    runner.run_batch("judge")
    assert set(Job.objects.filter(due=True).values_list("subject", flat=True)) == {bad}
    assert Job.objects.filter(done=1).count() == 4


def test_progress_stretches_the_lease_and_tells_who_lost_it_to_stop() -> None:
    want("binder")
    (claim,) = queue.claim("binder")
    assert queue.progress(claim, done=3, whole=10)
    job = Job.objects.get()
    assert (job.steps_done, job.steps_all) == (3, 10)
    expire_leases()
    queue.claim("binder")
    assert not queue.progress(claim, done=4, whole=10)


def test_finish_outside_a_transaction_is_a_mistake_that_is_caught() -> None:
    want()
    claims = queue.claim("judge")
    with pytest.raises(RuntimeError, match="transaction"):
        queue.finish(claims)


def test_kinds_are_due_while_something_of_them_waits_and_no_longer() -> None:
    want("judge", 2)
    want("binder")
    assert queue.due_kinds() == {"judge", "binder"}
    queue.claim("judge", 10)
    assert queue.due_kinds() == {"binder"}
