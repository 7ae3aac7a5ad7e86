"""The relay: what is due is told to the broker, and told again when nobody took it up."""

import pytest
from django.db import transaction
from kombu.exceptions import OperationalError

from portfolio.jobs import queue, relay
from portfolio.models import Job
from tests.jobs.test_queue import want

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_hint_is_marked_and_its_row_free_before_it_is_sent(monkeypatch: pytest.MonkeyPatch) -> None:
    """A worker may be at work before `send` returns: it must find the job marked, and nobody holding its row."""
    want()
    seen: list[object] = []

    def quick_worker(name: str, args: list[int], **_: object) -> None:
        seen.append((Job.objects.get().published_at is not None, transaction.get_connection().in_atomic_block))
        seen.append(len(queue.claim("judge")))

    monkeypatch.setattr("portfolio.jobs.relay.app.send_task", quick_worker)
    assert relay.publish() == 1
    assert seen == [(True, False), 1]


def test_what_was_told_is_not_told_again_while_it_is_fresh(monkeypatch: pytest.MonkeyPatch) -> None:
    want(count=3)
    told: list[int] = []
    monkeypatch.setattr("portfolio.jobs.relay.app.send_task", lambda name, args, **_: told.append(args[0]))
    assert relay.publish() == 3
    assert len(told) == 1  # judging goes in batches: one hint stands for them all
    assert relay.publish() == 0
    Job.objects.update(published_at=None)
    assert relay.publish() == 3


def test_a_broker_that_takes_nothing_leaves_the_jobs_unmarked(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuses(*_: object, **__: object) -> None:
        raise OperationalError("connection refused")

    want(count=2)
    monkeypatch.setattr("portfolio.jobs.relay.app.send_task", refuses)
    assert relay.publish() == 0
    assert Job.objects.filter(published_at=None).count() == 2
