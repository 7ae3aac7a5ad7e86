"""`python -m tests.simulation_days`: all days, and docs/trend-findings.md written from them. A few minutes."""

from __future__ import annotations

import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from fixtures.simulation_days.faults import FAULTS
from tests.simulation_days import page, score

HEALTHY, DAYS, AT_ONCE = 100, 2, 2
PAGE = Path(__file__).resolve().parents[2] / "docs" / "trend-findings.md"


def main() -> int:
    began = time.monotonic()
    half = HEALTHY // 2
    healthy: dict[int, list[str]] = {}
    outcomes: Counter[str] = Counter()
    rows: dict[tuple[str, int], score.Row] = {}
    with ProcessPoolExecutor(AT_ONCE) as pool:
        days = [pool.submit(score.healthy, range(a, b)) for a, b in ((0, half), (half, HEALTHY))]
        faulty = [pool.submit(_quarter, first) for first in range(4)]
        for found, counted in (one.result() for one in days):
            healthy |= found
            outcomes += counted
        print(f"{sum(map(len, healthy.values()))} false on healthy days, {time.monotonic() - began:.0f} s", flush=True)
        for one in faulty:
            rows |= one.result()
    PAGE.write_text(page.written(healthy, outcomes, rows, DAYS), encoding="utf-8")
    print(f"{PAGE.name} is written, {time.monotonic() - began:.0f} s")
    return 0


def _quarter(first: int) -> dict[tuple[str, int], score.Row]:
    return score.planted(FAULTS[first::4], DAYS)


if __name__ == "__main__":
    sys.exit(main())
