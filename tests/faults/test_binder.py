"""Workers killed in the middle of a binder and of a re-judging: done elsewhere, once."""

import time
from typing import Any

import pytest
from django.db import transaction

from commissioning.models import Binder, Judgement
from portfolio.jobs import queue, runner
from portfolio.models import AuditEvent, Job, Membership, Person, Position, Project
from tests.end_state import end_state
from tests.faults import world as faults
from tests.live import Installation, wait_until

pytestmark = pytest.mark.services


def judged_world() -> faults.World:
    """The fault tests' world with a few records of each unit, judged."""
    from commissioning.evidence.accept import Sender, accept

    world = faults.build()
    for start in range(0, len(world.envelopes), faults.PER_POSITION):
        accept(Sender(world.person), world.envelopes[start : start + 12])
    runner.drain()
    return world


def asked_binder() -> Binder:
    project = Project.objects.get(pk=faults.named("project"))
    lead = Person.objects.create_person("lead@faults.example", "Lead")
    Membership.objects.create(person=lead, role="lead", firm=project.firm)
    with transaction.atomic():
        binder = Binder.objects.create(project=project, title="All of it", asked_by=lead)
        binder.positions.set(Position.objects.all())
        queue.want("binder", [binder.pk])
    return binder


def job(kind: str) -> Any:
    return Job.objects.filter(kind=kind).values_list("token", "steps_done", "due").get()


def test_a_binder_whose_worker_is_killed_is_built_by_another_once(live: Installation) -> None:
    judged_world()
    live.extra = {**live.extra, "JOB_LEASE_S": "2", "JOB_TRIES": "50"}  # a busy machine loses leases too
    binder = asked_binder()
    live.relay()
    worker = live.worker()
    wait_until(lambda: job("binder")[0] is not None, "somebody builds it")
    worker.kill()
    binder.refresh_from_db()
    killed_in_the_middle = binder.document_id is None
    began = time.monotonic()
    live.worker()
    wait_until(lambda: not job("binder")[2], "another builds it", seconds=60)
    took = time.monotonic() - began
    binder.refresh_from_db()
    assert binder.document_id is not None
    assert killed_in_the_middle
    assert AuditEvent.objects.filter(verb="binder.built").count() == 1
    print(f"built again within {took:.1f} s of the kill")


def test_a_re_judging_whose_workers_are_killed_ends_as_if_nobody_had_died(live: Installation) -> None:
    judged_world()
    before = end_state()
    live.extra = {**live.extra, "JOB_LEASE_S": "2", "JOB_TRIES": "50"}  # a busy machine loses leases too
    from commissioning.verdicts import keep

    keep.burn()
    _ask_to_judge_again()
    live.relay()
    for _ in range(3):
        worker = live.worker()
        time.sleep(0.4)
        worker.kill()
    live.worker()
    _until_judged()
    assert end_state() == before
    # How often a unit was judged on the way lies in who was killed when: each as its sisters became known. None of it
    # is made a second time.
    rows = Judgement.objects.count()
    _ask_to_judge_again()
    _until_judged()
    assert Judgement.objects.count() == rows
    assert end_state() == before


def _ask_to_judge_again() -> None:
    with transaction.atomic():
        queue.want("rejudge", [faults.named("project")])


def _until_judged() -> None:
    wait_until(lambda: not Job.objects.filter(due=True).exists(), "all is judged again", seconds=60)
