"""Series kept as Parquet: long, by point and time, in row groups of which one point needs few."""

import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import IO

import numpy as np
import polars as pl

from commissioning.logs.series import Floats, Point

FORMAT = "ventfolio/log/1"
_ROWS_IN_GROUP = 65_536
_KEY = "ventfolio"


class NotALog(ValueError):
    """The file is no Parquet that was made here."""


def write(file: IO[bytes] | Path, points: Sequence[tuple[Point, Floats, Floats]]) -> None:
    """`points` with their times [s since 1970, UTC, rising] and values [SI; NaN where none was logged]."""
    ordered = sorted(points, key=lambda one: one[0].code)
    frame = pl.concat(
        [
            pl.DataFrame(
                {
                    "point": pl.repeat(point.code, len(times), dtype=pl.String, eager=True),
                    "time_s": times,
                    "value": values,
                }
            )
            for point, times, values in ordered
        ]
    )
    said = {"format": FORMAT, "points": [asdict(point) for point, _, _ in ordered]}
    frame.write_parquet(
        file,
        compression="zstd",
        compression_level=1,
        statistics=True,
        row_group_size=_ROWS_IN_GROUP,
        metadata={_KEY: json.dumps(said, ensure_ascii=False)},
    )


class Log:
    """A kept log: what its points are, and each point's samples by its code."""

    def __init__(self, source: Path | bytes) -> None:
        self._source = source
        try:
            held = pl.read_parquet_metadata(self._file())
            said = json.loads(held[_KEY])
        except (pl.exceptions.PolarsError, KeyError, ValueError, OSError) as error:
            raise NotALog("this is no log that was kept here") from error
        if said.get("format") != FORMAT:
            raise NotALog(f"the log is of the format {said.get('format')}")
        self.points: Mapping[str, Point] = {one["code"]: Point(**one) for one in said["points"]}

    def series(self, point: str) -> tuple[Floats, Floats]:
        """Times [s since 1970, UTC, rising] and values [SI; NaN where none was logged]."""
        if point not in self.points:
            raise KeyError(point)
        held = pl.scan_parquet(self._file()).filter(pl.col("point") == point).select("time_s", "value").collect()
        return _floats(held["time_s"]), _floats(held["value"])

    def _file(self) -> Path | io.BytesIO:
        return io.BytesIO(self._source) if isinstance(self._source, bytes) else self._source


def open_log(source: Path | bytes) -> Log:
    """A kept log from its file or its bytes, or NotALog."""
    return Log(source)


def _floats(column: pl.Series) -> Floats:
    return np.asarray(column.cast(pl.Float64).fill_null(float("nan")).to_numpy(), np.float64)
