"""Redis frozen, flushed and killed; workers killed in the middle: nothing lost, nothing doubled."""

import random
import threading
import time
import urllib.error
from collections.abc import Iterable

import pytest

from commissioning import judging
from commissioning.models import CurrentVerdict, Record, Submission
from commissioning.verdicts import dossiers
from portfolio.models import Job, Position
from tests.faults import world as faults
from tests.live import Installation, Redis, Web, wait_until

pytestmark = pytest.mark.services


class Phone(threading.Thread):
    """Sends its envelopes until each has a receipt; keeps what it was told outside of the system."""

    def __init__(self, web: Web, token: str, queue: Iterable[bytes]) -> None:
        super().__init__(daemon=True)
        self.web, self.queue = web, list(queue)
        self.headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
        self.receipts: list[bytes] = []
        self.took: list[float] = []
        self.refused: list[bytes] = []

    def run(self) -> None:
        for raw in self.queue:
            while True:
                began = time.monotonic()
                try:
                    status, body = self.web.send("POST", "/api/v1/submissions", raw, self.headers)
                except (OSError, urllib.error.URLError):
                    time.sleep(0.05)
                    continue
                self.took.append(time.monotonic() - began)
                if status == 201:
                    self.receipts.append(body)
                    break
                if status != 503:
                    self.refused.append(body)
                    break
                time.sleep(0.05)


def everything_is_as_if_nothing_had_happened(world: faults.World, phones: list[Phone]) -> None:
    """All that was acknowledged is there once; what holds is what the pure judge says of the same bytes."""
    assert not [body for phone in phones for body in phone.refused]
    acknowledged = {judging.read_envelope(raw).frame.id for raw in world.envelopes}  # type: ignore[union-attr]
    kept = list(Submission.objects.values_list("client_id", flat=True))
    assert len(kept) == len(set(kept)) == len(acknowledged)
    assert set(kept) == acknowledged
    assert Record.objects.count() == len(kept)
    assert not Job.objects.filter(due=True).exists()
    assert not Job.objects.exclude(error="").exists()
    for position in Position.objects.all():
        document = dossiers.gather([position.pk]).document(position.pk)
        judged = judging.judge_document(document)["positions"][0]["judgements"]
        expected = {(j["requirement"], j["port"]): j["verdict"] or j["absence"]["code"] for j in judged}
        held = CurrentVerdict.objects.filter(position=position)
        assert {(v.requirement, v.port): v.outcome for v in held} == expected
        assert held.count() == len(expected)


def test_a_thousand_submissions_while_redis_is_frozen_flushed_and_killed(
    live: Installation, private_redis: Redis
) -> None:
    world = faults.build()
    web, _, _ = live.web(), live.relay(), live.worker()
    order = faults.shuffled(world.envelopes, 5, 2)
    phones = [Phone(web, world.token, order[number::4]) for number in range(4)]
    for phone in phones:
        phone.start()

    def sent() -> int:
        return sum(len(phone.receipts) for phone in phones)

    wait_until(lambda: sent() > 300, "300 are sent", seconds=60)
    assert private_redis.running is not None
    private_redis.running.freeze()
    wait_until(lambda: sent() > 700, "the web does not wait for a frozen Redis", seconds=60)
    private_redis.running.thaw()
    private_redis.say("FLUSHALL")
    wait_until(lambda: sent() > 900, "the web goes on", seconds=60)
    private_redis.running.kill()
    for phone in phones:
        phone.join(120)
    private_redis.start()
    wait_until(lambda: not Job.objects.filter(due=True).exists(), "all is judged after the heal", seconds=90)
    everything_is_as_if_nothing_had_happened(world, phones)


def test_workers_killed_again_and_again_in_the_middle_of_judging(live: Installation) -> None:
    world = faults.build()
    # The same job may be in hand at every kill, and a busy machine loses leases too: it is not the killer.
    kills = 6
    live.extra = {**live.extra, "JOB_LEASE_S": "2", "JOB_TRIES": "50"}
    web, _, worker = live.web(), live.relay(), live.worker()
    phones = [Phone(web, world.token, world.envelopes[number::2]) for number in range(2)]
    for phone in phones:
        phone.start()
    dice = random.Random(7)
    for _ in range(kills):
        time.sleep(dice.uniform(0.3, 0.8))
        worker.kill()
        worker = live.worker()
    for phone in phones:
        phone.join(120)
    wait_until(lambda: not Job.objects.filter(due=True).exists(), "all is judged", seconds=90)
    everything_is_as_if_nothing_had_happened(world, phones)
