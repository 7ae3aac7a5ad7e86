"""From sending a submission to its verdict as a reader would see it, at 50 a second, through real processes.

Two web processes take it, the relay and a worker judge it. The sender does not wait for answers: who would have sent
at a moment counts from that moment, however busy the other side is.
"""

import http.client
import os
import random
import shutil
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit
from uuid import UUID

from django.conf import settings

from commissioning.models import CurrentVerdict
from tests import envelopes
from tests.bench import world
from tests.bench.timing import Line, percentile
from tests.live import SLOW_S, Installation, Redis, Web, installed, wait_until

PER_S = 50
ROUNDS = 6
WARM = 60
LOOK_S = 0.005
SENDERS = 16
_VERDICTS = ("conforms", "does_not_conform", "inconclusive")


@dataclass(frozen=True)
class Sent:
    """When each should have been sent, was answered and was judged, by the position that it is about."""

    due: dict[UUID, float]
    answered: dict[UUID, float]
    seen: dict[UUID, float]
    cpu_s: dict[str, float]

    def waited_ms(self, until: dict[UUID, float]) -> list[float]:
        return [1e3 * (until[position] - at) for position, at in self.due.items()]


def lines(database_url: str, *, each: int) -> list[Line]:
    """`each` submissions in each round, every one about a unit of its own."""
    there = world.build("visible", projects=ROUNDS, each=each + WARM // ROUNDS)
    on_server = database_url.startswith("postgres")
    broker = on_server and bool(shutil.which("redis-server") and shutil.which("redis-cli"))
    folder = Path(tempfile.mkdtemp(prefix="ventfolio-bench-"))
    extra = {"SECRET_KEY": settings.SECRET_KEY}
    try:
        with installed(folder, database_url=database_url, extra=extra) as here:
            if broker:
                redis = Redis(here)
                redis.start()
                here.broker_url = redis.url
                here.worker(processes=1)
            here.relay()
            here.web()
            sync_ms = _sync_ms(folder)
            rounds = _measure(here, there, each)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    how = "relay and Celery" if broker else "no broker"
    return [_line(rounds, f"submission to visible verdict at {PER_S} per second, p95, {how}", sync_ms)]


def _line(rounds: Sequence[Sent], what: str, sync_ms: float) -> Line:
    waited = [one.waited_ms(one.seen) for one in rounds]
    answered = [ms for one in rounds for ms in one.waited_ms(one.answered)]
    every = [ms for some in waited for ms in some]
    p95 = [percentile(some, 0.95) for some in waited]
    figures = f"median {percentile(every, 0.5):.0f} ms of {len(every)}; the slowest {max(every):.0f} ms; "
    figures += f"receipt p95 {percentile(answered, 0.95):.0f} ms, median {percentile(answered, 0.5):.0f} ms;\n     "
    figures += "CPU for each: " + ", ".join(
        f"{name} {1e3 * sum(one.cpu_s[name] for one in rounds) / len(every):.1f} ms" for name in rounds[0].cpu_s
    )
    figures += f"; the disk takes {sync_ms:.1f} ms to keep a page"
    return Line(
        "B14",
        what,
        percentile(every, 0.95),
        min(p95),
        max(p95),
        1000.0,
        100.0,
        more_is_better=False,
        unit="ms",
        figures=figures,
    )


def _sync_ms(folder: Path) -> float:
    """What every commit waits for: once on PostgreSQL, several times on SQLite without write-ahead logging."""
    took = []
    with (folder / "page").open("wb", buffering=0) as file:
        for _ in range(40):
            file.write(bytes(4096))
            began = time.monotonic()
            os.fsync(file.fileno())
            took.append(time.monotonic() - began)
    return 1e3 * percentile(took, 0.5)


def _measure(here: Installation, there: world.World, each: int) -> list[Sent]:
    dice = random.Random(13)
    bodies = {one.pk: envelopes.raw(world.of_one_port(there, one, dice)) for one in there.positions}
    units = list(bodies)
    with ThreadPoolExecutor(SENDERS) as senders:
        _round(senders, here, there.token, {unit: bodies[unit] for unit in units[:WARM]}, dice)
        return [
            _round(senders, here, there.token, {unit: bodies[unit] for unit in units[start : start + each]}, dice)
            for start in range(WARM, WARM + ROUNDS * each, each)
        ]


def _round(
    senders: ThreadPoolExecutor, here: Installation, token: str, bodies: dict[UUID, bytes], dice: random.Random
) -> Sent:
    """Each at a moment of its own, as many people would send: now two at once, now none for a while."""
    (address,) = [urlsplit(one.url).netloc for one in here.started if isinstance(one, Web)]
    spent = _cpu_s(here)
    last = CurrentVerdict.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    due: dict[UUID, float] = {}
    seen: dict[UUID, float] = {}
    answers: dict[UUID, Future[float]] = {}
    waiting, moment = list(bodies), time.monotonic() + 0.1

    def everything_is_seen() -> bool:
        nonlocal last, moment
        while waiting and time.monotonic() >= moment:
            unit = waiting.pop(0)
            due[unit] = moment
            answers[unit] = senders.submit(_post, address, token, bodies[unit])
            moment += dice.expovariate(PER_S)
        new = CurrentVerdict.objects.filter(pk__gt=last).order_by("pk").values_list("pk", "position_id", "outcome")
        found, now = list(new), time.monotonic()
        last = found[-1][0] if found else last
        for _, unit, outcome in found:
            if outcome in _VERDICTS and unit in bodies:
                seen.setdefault(unit, now)
        return len(seen) == len(bodies)

    wait_until(everything_is_seen, "every submission is judged", pause=LOOK_S, seconds=len(bodies) / PER_S + SLOW_S)
    answered = {unit: answer.result() for unit, answer in answers.items()}
    return Sent(due, answered, seen, {name: now_s - spent[name] for name, now_s in _cpu_s(here).items()})


def _cpu_s(here: Installation) -> dict[str, float]:
    """What each of our processes has taken so far, with its children."""
    return {
        one.name: sum(int(Path(f"/proc/{pid}/schedstat").read_text().split()[0]) for pid in (one.pid, *one.children()))
        / 1e9
        for one in here.started
    }


def _post(address: str, token: str, body: bytes) -> float:
    """When the receipt had come."""
    held = http.client.HTTPConnection(address, timeout=SLOW_S)
    try:
        headers = {"Content-Type": "application/json", "Authorization": f"Bearer {token}"}
        held.request("POST", "/api/v1/submissions", body, headers)
        answer = held.getresponse()
        said = answer.read()
        assert answer.status == 201, said[:500]
        return time.monotonic()
    finally:
        held.close()
