"""Two sides measured in turns, so that what the machine does meanwhile falls on both.

CPU time is this process's and that of its database session where that runs on the same machine: a server next door
that works for us is work too.
"""

import gc
import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

ROUNDS = 6


@dataclass(frozen=True)
class Spent:
    cpu_s: float
    wall_s: float


@dataclass(frozen=True)
class Line:
    """One figure against its floor, and the goal beyond it."""

    code: str
    what: str
    value: float
    low: float
    high: float
    floor: float | None
    goal: float | None
    more_is_better: bool = True
    unit: str = "×"
    figures: str = ""

    @property
    def holds(self) -> bool:
        return self.floor is None or self._reaches(self.floor)

    @property
    def reaches_goal(self) -> bool:
        return self.goal is not None and self._reaches(self.goal)

    def _reaches(self, bound: float) -> bool:
        return self.value >= bound if self.more_is_better else self.value <= bound


def _session_cpu_s() -> float:
    """CPU seconds of the server process behind our connection, or 0 where nobody can know."""
    from django.db import connection

    if connection.vendor != "postgresql":
        return 0.0
    connection.ensure_connection()
    try:
        return int(Path(f"/proc/{connection.connection.info.backend_pid}/schedstat").read_text().split()[0]) / 1e9
    except (OSError, ValueError, AttributeError):
        return 0.0


def spent(do: Callable[[], object]) -> Spent:
    gc.collect()
    server, cpu, wall = _session_cpu_s(), time.process_time(), time.perf_counter()
    do()
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    return Spent(cpu + max(0.0, _session_cpu_s() - server), wall)


def in_turns(*sides: Callable[[int], object], rounds: int = ROUNDS) -> list[list[Spent]]:
    """Each side called with the number of each round; which one begins changes from round to round."""
    found: list[list[Spent]] = [[] for _ in sides]
    for number in range(rounds):
        order = list(range(len(sides)))
        for side in order if number % 2 == 0 else reversed(order):
            found[side].append(spent(lambda side=side, number=number: sides[side](number)))  # type: ignore[misc]
    return found


def cpu(times: Sequence[Spent]) -> list[float]:
    return [one.cpu_s for one in times]


def wall(times: Sequence[Spent]) -> list[float]:
    return [one.wall_s for one in times]


def ratio(
    code: str,
    what: str,
    above: Sequence[float],
    below: Sequence[float],
    *,
    floor: float | None,
    goal: float | None,
    more_is_better: bool,
    figures: str = "",
) -> Line:
    """The median of the rounds' ratios `above / below`, with the least and the most."""
    each = [a / b for a, b in zip(above, below, strict=True)]
    middle = statistics.median(each)
    return Line(code, what, middle, min(each), max(each), floor, goal, more_is_better, figures=figures)


def percentile(values: Sequence[float], share: float) -> float:
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]
