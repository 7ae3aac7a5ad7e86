"""Who keeps the jobs going has what is derived looked at once, at its start."""

import signal
from typing import Any

import pytest

from portfolio.jobs import queue
from portfolio.management.commands import relay, run_jobs
from portfolio.models import Job

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("room", [run_jobs, relay])
def test_a_start_wants_a_renewal_once(room: Any, monkeypatch: pytest.MonkeyPatch, settings: Any) -> None:
    settings.BROKER_URL = "redis://127.0.0.1:1/0"  # never opened: nothing is published
    command, rounds = room.Command(), iter((False, False, True))
    monkeypatch.setattr(signal, "signal", lambda *_: None)
    monkeypatch.setattr(room, "SWEEP_S", -1.0)
    monkeypatch.setattr(queue, "sweep", lambda: setattr(command, "stopped", next(rounds)))
    monkeypatch.setattr("portfolio.jobs.relay.publish", lambda: 1)
    monkeypatch.setattr("portfolio.jobs.queue.due_kinds", set)
    command.handle(drain=False, of_relay=False)
    assert Job.objects.get(kind="renew").wanted == 1
