"""Runs days, logs them, has the logs judged by the plan that their settings give, and counts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from commissioning.dossier.trends import Logged, analyse, default_plan
from fixtures.simulation_days.faults import FAULTS, Fault, Planted
from fixtures.simulation_days.logs import logged
from fixtures.simulation_days.running import run
from fixtures.simulation_days.world import ZONE, drawn

AT_ONCE = 60
FIRST_FAULTY = 5_000
WHOLE = (0.0, 24.0)


@dataclass
class Row:
    """Of one fault in one size: on how many of the days it was found, and what was found besides."""

    found: int = 0
    false: list[str] = field(default_factory=list)


def healthy(seeds: Sequence[int], hours: tuple[float, float] = WHOLE) -> tuple[dict[int, list[str]], Counter[str]]:
    """By seed what was found, which is all false; and how often an expectation held, or could not be told."""
    found, outcomes = {}, Counter[str]()
    for seed, said in zip(seeds, analysed([(drawn(seed), ()) for seed in seeds], hours), strict=True):
        found[seed] = [f"{one['code']} {one['at']}".strip() for one in said["findings"]]
        outcomes.update(one["outcome"] for one in said["results"])
    return found, outcomes


def planted(
    faults: Sequence[Fault] = FAULTS,
    days: int = 3,
    sizes: Sequence[int] = (0, 1, 2),
    hours: tuple[float, float] = WHOLE,
) -> dict[tuple[str, int], Row]:
    """By fault and size, each on as many days; the days of one fault are those of every other before it was planted."""
    todo = [(fault, size, FIRST_FAULTY + day) for fault in faults for size in sizes for day in range(days)]
    rows: dict[tuple[str, int], Row] = {}
    days_of = [fault.plant(drawn(seed), size) for fault, size, seed in todo]
    for (fault, size, _), said in zip(todo, analysed(days_of, hours), strict=True):
        row = rows.setdefault((fault.code, size), Row())
        codes = {one["code"] for one in said["findings"]}
        row.found += bool(codes & set(fault.shows))
        row.false += sorted(codes - set(fault.shows) - set(fault.also))
    return rows


def analysed(days: Sequence[Planted], hours: tuple[float, float] = WHOLE) -> Iterator[dict[str, Any]]:
    for first in range(0, len(days), AT_ONCE):
        batch = days[first : first + AT_ONCE]
        clock, truth = run([day for day, _ in batch], *hours)
        for i, (day, faults) in enumerate(batch):
            log = logged(
                day, clock[:, i], {role: values[:, i].astype(np.float64) for role, values in truth.items()}, faults
            )
            series = {role: Logged(one.times_s, one.values, one.by_change) for role, one in log.items()}
            yield analyse(series, default_plan(series, day.settings(), ZONE))
