"""`python -m tests.bench [--full] [--only B1,B3]`: measures, prints one line per ratio, and fails below a floor."""

import argparse
import os
import platform
import shutil
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.bench.database import own_database
from tests.bench.timing import Line


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--full", action="store_true", help="10,000 positions and rows where fewer are usual")
    parser.add_argument("--only", default="", help="some of them, such as B1,B3")
    options = parser.parse_args()
    wanted = {name.strip().upper() for name in options.only.split(",") if name.strip()}
    folder = Path(tempfile.mkdtemp(prefix="ventfolio-bench-"))
    try:
        with own_database(folder) as url:
            return _run(folder, url, wanted, full=options.full)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _run(folder: Path, url: str, wanted: set[str], *, full: bool) -> int:
    (folder / "static").mkdir()
    os.environ |= {
        "DJANGO_SETTINGS_MODULE": "tests.bench.settings",
        "DATABASE_URL": url,
        "BROKER_URL": "",
        "VAR_DIR": str(folder),
        "BLOB_DIR": str(folder / "blobs"),
    }
    warnings.simplefilter("ignore")
    import django

    django.setup()
    from django.core.management import call_command
    from django.db import connection

    call_command("migrate", verbosity=0, interactive=False)
    call_command("migrate", run_syncdb=True, verbosity=0, interactive=False)
    from tests.bench import database

    print(f"{_machine()}; {time.strftime('%Y-%m-%d')}; {database.in_words()}")
    found: list[Line] = []
    try:
        for name, measure in _benches(url, full=full).items():
            if not wanted or name in wanted:
                began = time.monotonic()
                for line in measure():
                    found.append(line)
                    print(_told(line), flush=True)
                print(f"     ({time.monotonic() - began:.0f} s)", flush=True)
    finally:
        connection.close()
    below = [line.code for line in found if not line.holds]
    print(f"Below the floor: {', '.join(below)}" if below else "Every floor holds.")
    return 1 if below else 0


def _benches(url: str, *, full: bool) -> dict[str, Callable[[], list[Line]]]:
    from tests.bench import (
        binders,
        latency,
        moist_air,
        pages,
        readers,
        rejudging,
        schedules,
        settings_rules,
        settings_search,
        standings,
        submissions,
        trend_journey,
        trend_logs,
        trend_windows,
        visible,
        world,
    )

    made: dict[str, Any] = {}

    def judged() -> world.World:
        if "judged" not in made:
            made["judged"] = world.build("judged", projects=6, each=1667 if full else 200)
            world.keep(made["judged"], made["judged"].positions)
        there: world.World = made["judged"]
        return there

    def measured() -> world.World:
        if "measured" not in made:
            made["measured"] = world.build("measured", projects=1, each=21 * 40)
        there: world.World = made["measured"]
        return there

    def stood(name: str, number: int) -> world.World:
        if name not in made:
            made[name] = pages.stood(name, number)
        there: world.World = made[name]
        return there

    def few_and_plenty() -> tuple[world.World, world.World]:
        return stood("few", pages.FEW), stood("plenty", 10_000)

    return {
        "B1": lambda: submissions.lines(measured(), 40),
        "B2": lambda: submissions.batch(measured()),
        "B3": lambda: rejudging.lines(judged()),
        "B3C": lambda: rejudging.pure(judged()),
        "B4": lambda: pages.lines(*few_and_plenty()),
        "B5": lambda: binders.lines(180 if full else 30),
        "B6": lambda: latency.lines(url),
        "B7": lambda: standings.lines(judged()),
        "B8": lambda: schedules.lines(10_000 if full else 1_000),
        "B9": moist_air.lines,
        "B10": settings_rules.lines,
        "B11": lambda: trend_logs.lines(800_000 if full else 200_000),
        "B12": lambda: trend_windows.lines(5_000_000 if full else 1_000_000),
        "B13": lambda: trend_journey.lines(1_000_000 if full else 200_000),
        "B14": lambda: visible.lines(url, each=500 if full else 100),
        "B15": lambda: readers.lines(url, *few_and_plenty(), each=20 if full else 4),
        "B16": lambda: settings_search.lines(*few_and_plenty()),
    }


def _told(line: Line) -> str:
    sign = "≥" if line.more_is_better else "≤"
    bounds = f"floor {sign} {line.floor:g}, goal {sign} {line.goal:g}" if line.floor is not None else ""
    state = "goal reached" if line.reaches_goal else "holds" if line.holds else "BELOW THE FLOOR"
    value = f"{line.value:.2f} {line.unit} ({line.low:.2f} to {line.high:.2f})"
    return f"{line.code:<4} {line.what}\n     {value}; {bounds}: {state}" + (
        f"\n     {line.figures}" if line.figures else ""
    )


def _machine() -> str:
    model = ""
    try:
        told = Path("/proc/cpuinfo").read_text()
        model = next(line.split(":")[1].strip() for line in told.splitlines() if line.startswith("model name"))
    except (OSError, StopIteration):
        model = platform.processor()
    return f"{os.cpu_count()} cores, {model}, Python {platform.python_version()}, load {os.getloadavg()[0]:.1f}"


if __name__ == "__main__":
    sys.exit(main())
