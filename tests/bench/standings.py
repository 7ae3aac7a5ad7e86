"""Standing made again for many positions, against a plain group-by over as many readings as rows."""

from collections.abc import Callable
from typing import Any

from django.db import connection, transaction

from commissioning import standing
from portfolio.jobs import runner
from portfolio.models import Standing
from tests.bench.submissions import copy_in
from tests.bench.timing import Line, cpu, in_turns, ratio
from tests.bench.world import World

READINGS = 80
BATCH = 500


def lines(there: World) -> list[Line]:
    """The evidence of the positions has been judged by now."""
    ids = [position.pk for position in there.positions]
    runner.drain()
    copy_in([[(n % 32_000, 1.5, "Pa")] * READINGS for n in range(len(ids))])
    before = _rows()
    assert len(before) >= len(ids)

    def ours(_: int) -> None:
        for start in range(0, len(ids), BATCH):
            with transaction.atomic():
                standing.refresh(ids[start : start + BATCH])

    def burnt(_: int) -> None:
        Standing.objects.filter(pk__in=ids).delete()

    def grouped(_: int) -> None:
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT number, count(*), avg(value), min(value), max(value) FROM nested_reading GROUP BY number"
            )
            cursor.fetchall()

    times = _in_turns_after(burnt, ours, grouped)
    assert _rows() == before, "what was made again differs from what was kept"
    ms = [1e3 * sum(cpu(side)) / len(side) for side in times]
    return [
        ratio(
            "B7",
            f"standing of {len(ids):,} positions made again / group-by over {len(ids) * READINGS:,} readings, CPU",
            cpu(times[0]),
            cpu(times[1]),
            floor=15,
            goal=5,
            more_is_better=False,
            figures=f"{ms[0]:.0f} against {ms[1]:.0f} ms; exact",
        )
    ]


def _in_turns_after(before: Callable[[int], None], *sides: Callable[[int], None]) -> list[Any]:
    found: list[list[Any]] = [[] for _ in sides]
    for number in range(6):
        before(number)
        for held, times in zip(found, in_turns(*sides, rounds=1), strict=True):
            held += times
    return found


def _rows() -> list[Any]:
    names = ("pk", "code", "sentence", "mover", "since", "due", "live_issues", "building", "tag", "outcomes")
    return sorted(Standing.objects.values_list(*names), key=repr)
