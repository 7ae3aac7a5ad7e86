"""`python -m tests.simulation`: the whole simulation, and docs/coverage.md written from it. Three to four minutes."""

from __future__ import annotations

import sys
import time
from pathlib import Path

from tests.simulation import budgets, judged, noticed, page
from tests.simulation.field.blunders import BLUNDERS
from tests.simulation.field.circumstances import CIRCUMSTANCES

SEED, TRIALS, UNITS, DRAWS = 20_260, 2_400, 100, 10_000
PAGE = Path(__file__).resolve().parents[2] / "docs" / "coverage.md"


def main() -> int:
    began = time.monotonic()
    tallies = {}
    for one in CIRCUMSTANCES:
        tallies[one.key] = judged.run(one, TRIALS, SEED)
        print(f"{one.key:4} {tallies[one.key].coverage:6.1%}  {time.monotonic() - began:4.0f} s", flush=True)
    text = page.written(
        tallies,
        {low: {one.key: noticed.shares(one, UNITS, SEED, low) for one in BLUNDERS} for low in (0.0, -0.2)},
        budgets.few_readings(DRAWS, SEED),
        budgets.mixed(DRAWS, SEED),
        budgets.outdoor_fractions(DRAWS, SEED),
        seed=SEED,
        trials=TRIALS,
        units=UNITS,
    )
    PAGE.write_text(text, encoding="utf-8")
    print(f"{PAGE.name} is written, {time.monotonic() - began:.0f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
