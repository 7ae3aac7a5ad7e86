"""A trend log of five million samples, drawn: reduced to two values for a pixel, against reading its samples at all."""

from io import BytesIO

import numpy as np

from commissioning.dossier.trend_logs import in_window, series_of
from commissioning.dossier.trends.logged import Log, Logged
from commissioning.logs.series import Point
from commissioning.logs.store import open_log, write
from tests.bench.timing import Line, cpu, in_turns, ratio

ROLES = ("supply_temperature", "return_temperature", "outdoor_temperature", "supply_airflow", "room_co2")
STEP_S = 10.0
PIXELS = 1000


def lines(samples: int) -> list[Line]:
    count = samples // len(ROLES)
    log = open_log(_kept(count))
    points = [{"role": role, "name": role, "by_change": False} for role in ROLES]
    held: dict[str, Logged] = series_of(log, points)

    def drawn(_: int) -> None:
        whole = Log(held)
        shown = list(in_window(held, whole, whole.begin_s, whole.end_s, PIXELS // 2))
        assert all(len(one["values"]) <= 2 * PIXELS + 2 for one in shown)

    def read(_: int) -> None:
        series_of(log, points)

    ours, theirs = in_turns(drawn, read)
    s = [sum(cpu(side)) / len(side) for side in (ours, theirs)]
    return [
        ratio(
            "B12",
            f"{samples:,} samples of {len(ROLES)} points drawn for {PIXELS} pixels / read from their Parquet, CPU",
            cpu(ours),
            cpu(theirs),
            floor=3.0,
            goal=1.5,
            more_is_better=False,
            figures=f"{s[0]:.2f} s against {s[1]:.2f} s",
        )
    ]


def _kept(count: int) -> bytes:
    dice = np.random.default_rng(12)
    times = np.arange(count, dtype=np.float64) * STEP_S
    file = BytesIO()
    last = float(times[-1])
    points = [Point(role, role, "", "", False, STEP_S, STEP_S, count, 0, 0.0, last) for role in ROLES]
    write(file, [(point, times, 20.0 + np.cumsum(dice.normal(0.0, 0.01, count))) for point in points])
    return file.getvalue()
