"""A log as a table of text before anybody says what it means: each row with its line number."""

import io
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import polars as pl

from commissioning.logs.problems import CannotRead, Remark
from commissioning.logs.text import Text

MOST_COLUMNS = 1_000
MOST_CELLS = 40_000_000


@dataclass(frozen=True)
class Table:
    """`frame` has the columns "0", "1" .., of text, or typed where the file says the type (Parquet).

    `lines` is each row's line in the file. `names` are the headings where the file itself knows them (Parquet).
    """

    frame: pl.DataFrame
    lines: npt.NDArray[np.int64]
    kind: str  # "text", "workbook" or "parquet"
    delimiter: str = ""
    sheet: str = ""
    sheets: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    remarks: tuple[Remark, ...] = ()
    head: tuple[tuple[str, ...], ...] = field(default=())

    def row(self, index: int) -> tuple[str, ...]:
        return self.head[index]


def of_text(text: Text) -> Table:
    """Every line is a row, short ones filled up; what is longer than all its neighbours is refused by its line."""
    width = _width(text)
    schema: Mapping[str, pl.DataType | type[pl.DataType]] = {str(number): pl.String for number in range(width + 1)}
    try:
        frame = pl.read_csv(
            io.BytesIO(text.data),
            has_header=False,
            separator=text.delimiter,
            schema=dict(schema),
            infer_schema=False,
            truncate_ragged_lines=True,
            missing_columns="insert",
            quote_char='"' if b'"' in text.data else None,
        )
    except (pl.exceptions.ComputeError, pl.exceptions.NoDataError, pl.exceptions.ShapeError) as error:
        raise CannotRead("damaged_text", "The lines cannot be read as a table. Export it again.") from error
    if frame.height != len(text.lines):
        raise CannotRead("damaged_text", "Its quotes do not pair up. Export it again, without quotes if you can.")
    beyond = frame[str(width)].is_not_null().arg_true()
    if len(beyond):
        raise CannotRead(
            "too_many_fields",
            f"There are more than {width} fields where other lines have {width}. If commas are decimals, the fields "
            "need another delimiter; else quote the text that holds one.",
            line=int(text.lines[beyond[0]]),
        )
    frame = frame.drop(str(width))
    _check_size(frame)
    return Table(frame, text.lines, "text", text.delimiter, remarks=text.remarks, head=_head(frame))


def _width(text: Text) -> int:
    """The most fields of the first lines that at least three lines have, or the most of all in a short file."""
    frame = pl.Series(text.head, dtype=pl.String)
    counts = [_fields(line, text.delimiter) for line in frame.to_list()]
    common = [number for number in set(counts) if counts.count(number) >= 3]
    most = max(common) if common else max(counts)
    if most > MOST_COLUMNS:
        raise CannotRead("too_many_columns", f"There are {most:,} columns; at most {MOST_COLUMNS:,} are read.")
    return most


def _fields(line: str, delimiter: str) -> int:
    return sum(part.count(delimiter) for part in line.split('"')[::2]) + 1


def of_rows(rows: list[tuple[str | None, ...]], lines: list[int], *, sheet: str, sheets: tuple[str, ...]) -> Table:
    """From a sheet's rows, of text already."""
    width = max((len(row) for row in rows), default=0)
    if not width:
        raise CannotRead("empty", f"The sheet {sheet} is empty. Choose another.")
    if width > MOST_COLUMNS:
        raise CannotRead("too_many_columns", f"There are {width:,} columns; at most {MOST_COLUMNS:,} are read.")
    columns = {
        str(number): pl.Series([row[number] if number < len(row) else None for row in rows], dtype=pl.String)
        for number in range(width)
    }
    frame = pl.DataFrame(columns)
    return Table(frame, np.asarray(lines, np.int64), "workbook", sheet=sheet, sheets=sheets, head=_head(frame))


def of_parquet(data: bytes) -> Table:
    """Columns keep their types; the row's number, counted from 1, stands for its line."""
    try:
        schema = pl.read_parquet_schema(io.BytesIO(data))
        if len(schema) > MOST_COLUMNS:
            raise CannotRead("too_many_columns", f"There are {len(schema):,} columns.")
        rows = int(pl.scan_parquet(io.BytesIO(data)).select(pl.len()).collect().item())
        if rows * len(schema) > MOST_CELLS:
            raise _too_many(rows * len(schema))
        frame = pl.read_parquet(io.BytesIO(data))
    except (pl.exceptions.PolarsError, OSError, ValueError) as error:
        raise CannotRead("damaged", "The Parquet is cut off or damaged. Export it again.") from error
    except BaseException as error:
        if type(error).__name__ != "PanicException":
            raise
        raise CannotRead("damaged", "The Parquet is damaged. Export it again.") from None
    names = tuple(frame.columns)
    frame = frame.rename({name: str(number) for number, name in enumerate(names)})
    nested = [name for name, kind in zip(names, frame.dtypes, strict=True) if kind.is_nested()]
    if nested:
        raise CannotRead("nested", f"The column {nested[0]} holds lists or structures. Export a plain table.")
    lines = np.arange(1, frame.height + 1, dtype=np.int64)
    return Table(frame, lines, "parquet", names=names, head=_head(frame))


def _check_size(frame: pl.DataFrame) -> None:
    if frame.height * frame.width > MOST_CELLS:
        raise _too_many(frame.height * frame.width)


def _too_many(cells: int) -> CannotRead:
    return CannotRead("too_many_samples", f"There are {cells:,} fields; at most {MOST_CELLS:,}. Export a part of it.")


def _head(frame: pl.DataFrame) -> tuple[tuple[str, ...], ...]:
    shown = frame.head(200).rows()
    return tuple(tuple("" if value is None else str(value).strip() for value in row) for row in shown)
