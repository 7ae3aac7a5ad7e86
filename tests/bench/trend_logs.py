"""A trend log of six points: hashed, told what it is, typed, in SI, on UTC and kept as Parquet, against a bare read.

The other side is polars reading the same bytes as a table, types found by itself: it knows no unit, state, zone or gap.
Judging is not in it.
"""

import hashlib
import io

import numpy as np
import polars as pl

from commissioning.logs.convert import convert
from commissioning.logs.mapping import LogMapping
from commissioning.logs.store import write
from tests.bench.timing import Line, cpu, in_turns, ratio

POINTS = (
    *(("SAT (°F)", "supply_temperature", "degF"), ("OAT (°F)", "outdoor_temperature", "degF")),
    *(("RAT (°F)", "return_temperature", "degF"), ("SA flow (cfm)", "supply_airflow", "cfm")),
    *(("DSP (in wc)", "duct_static_pressure", "in_wc"), ("SF-S", "supply_fan_status", "")),
)


def lines(rows: int) -> list[Line]:
    data = _log(rows)
    given = [{"name": name, "role": role, "unit": unit} for name, role, unit in POINTS]
    mapping = LogMapping.model_validate({"source": "bench", "zone": "America/Phoenix", "points": given})

    def ours(_: int) -> None:
        hashlib.sha256(data).hexdigest()
        held = convert(data, mapping)
        assert not held.problems
        write(io.BytesIO(), [(one.point, one.times_s, one.values) for one in held.series])

    def bare(_: int) -> None:
        pl.read_csv(io.BytesIO(data), try_parse_dates=True)

    mine, theirs = in_turns(ours, bare, rounds=4)
    what = "a trend log hashed, converted and kept as Parquet, to a bare read by polars"
    figures = f"{rows:,} rows of {len(POINTS)} points, {len(data) >> 20} MB; {min(cpu(mine)):.2f} s of CPU"
    return [ratio("B11", what, cpu(mine), cpu(theirs), floor=6, goal=3, more_is_better=False, figures=figures)]


def _log(rows: int) -> bytes:
    dice = np.random.default_rng(11)
    times = np.datetime64("2026-01-01", "us") + np.arange(rows) * np.timedelta64(60_000_000, "us")
    columns = {"Timestamp": pl.Series(times).dt.strftime("%Y-%m-%d %H:%M:%S")}
    for name, _, unit in POINTS:
        values = np.round(dice.normal(60.0, 5.0, rows), 2) if unit else np.where(dice.random(rows) < 0.5, "On", "Off")
        columns[name] = pl.Series(values)
    return pl.DataFrame(columns).write_csv().encode()
