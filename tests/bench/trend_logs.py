"""A trend log of six points: hashed, told what it is, typed, in SI, on UTC and kept as Parquet, against a bare read.

The other side is polars reading the same bytes as a table, types found by itself: it knows no unit, state, zone or gap.
Judging is not in it: see `trend_journey`.
"""

import hashlib
import io
from typing import BinaryIO

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


DAY, FROM, TO = 24 * 60, 6 * 60, 18 * 60  # minutes


def lines(rows: int) -> list[Line]:
    data, told = log_of(rows), mapping()

    def ours(_: int) -> None:
        hashlib.sha256(data).hexdigest()
        keep(data, told, io.BytesIO())

    mine, theirs = in_turns(ours, lambda _: bare(data), rounds=4)
    what = "a trend log hashed, converted and kept as Parquet, to a bare read by polars"
    figures = f"{rows:,} rows of {len(POINTS)} points, {len(data) >> 20} MB; {min(cpu(mine)):.2f} s of CPU"
    return [ratio("B11", what, cpu(mine), cpu(theirs), floor=6, goal=3, more_is_better=False, figures=figures)]


def keep(data: bytes, told: LogMapping, file: BinaryIO) -> None:
    held = convert(data, told)
    assert not held.problems
    write(file, [(one.point, one.times_s, one.values) for one in held.series])


def bare(data: bytes) -> None:
    pl.read_csv(io.BytesIO(data), try_parse_dates=True)


def mapping() -> LogMapping:
    given = [{"name": name, "role": role, "unit": unit} for name, role, unit in POINTS]
    return LogMapping.model_validate({"source": "bench", "zone": "America/Phoenix", "points": given})


def log_of(rows: int) -> bytes:
    """A row a minute of a unit that runs from 6 to 18 each day."""
    dice = np.random.default_rng(11)
    minute = np.arange(rows)
    times = np.datetime64("2026-01-01", "us") + minute * np.timedelta64(60_000_000, "us")
    on = (minute % DAY >= FROM) & (minute % DAY < TO)
    warm = np.sin(2 * np.pi * (minute % DAY - 9 * 60) / DAY)
    values = {
        "supply_temperature": np.where(on, 65.0, 70.0 + warm),
        "outdoor_temperature": 50.0 + 15.0 * warm,
        "return_temperature": 72.0 + warm,
        "supply_airflow": np.where(on, 1200.0, 0.0),
        "duct_static_pressure": np.where(on, 1.25, 0.0),
    }
    columns = {"Timestamp": pl.Series(times).dt.strftime("%Y-%m-%d %H:%M:%S")}
    for name, role, unit in POINTS:
        noisy = np.round(values[role] * dice.normal(1.0, 0.01, rows), 2) if unit else np.where(on, "On", "Off")
        columns[name] = pl.Series(noisy)
    return pl.DataFrame(columns).write_csv().encode()
