"""`python -m tests.mutation [--minutes 25] [--each 40] [--only budget,traverse]`: prints what survives, by module."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence

from tests.mutation import trial
from tests.mutation.mutants import Mutant, mutants

SEED = 20_261


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("--minutes", type=float, default=25.0, help="stop after this long; what is left is told")
    parser.add_argument("--each", type=int, default=40, help="mutants a module, drawn by a seeded hash; 0 for all")
    parser.add_argument("--only", default="", help="modules, in this order")
    options = parser.parse_args()
    trial.warm_up()
    wanted = [name for name in options.only.split(",") if name]
    folder = trial.ROOT / "commissioning" / "engineering"
    end = time.monotonic() + 60.0 * options.minutes
    totals = [0, 0, 0]
    there = {path.stem: path for path in sorted(folder.glob("*.py")) if path.stem != "__init__"}
    for path in [there[name] for name in wanted] or there.values():
        made = mutants(path.stem, path.read_text(encoding="utf-8"))
        drawn = sorted(made, key=lambda one: one.rank(SEED))[: options.each or None]
        if drawn:
            tried, killed = _module(path.stem, drawn, len(made), end)
            totals = [totals[0] + len(made), totals[1] + tried, totals[2] + killed]
    there_are, tried, killed = totals
    print(f"all | {killed} of {tried} tried were noticed, {killed / max(tried, 1):.1%}; {there_are} there are")
    return 0


def _module(module: str, drawn: Sequence[Mutant], there_are: int, end: float) -> tuple[int, int]:
    files = trial.tests_of(module)
    began = time.monotonic()
    if trial.survives(module, None, files) is not True:
        print(f"{module} | its own tests do not pass, so nothing can be said")
        return 0, 0
    tried = killed = 0
    alive = []
    for mutant in sorted(drawn, key=lambda one: one.line):
        if time.monotonic() > end:
            break
        tried += 1
        if trial.survives(module, mutant.tree, files):
            alive.append(mutant)
        else:
            killed += 1
    names = ", ".join(path.stem for path in files)
    took = time.monotonic() - began
    print(f"{module} | {killed} of {tried} tried | {there_are} there are | {names} | {took:.0f} s", flush=True)
    for mutant in alive:
        print(f"    {mutant.line}: {mutant.was[:100]!r} -> {mutant.now[:100]!r}", flush=True)
    return tried, killed


if __name__ == "__main__":
    sys.exit(main())
