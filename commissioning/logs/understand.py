"""A log as it looks before anybody says what it means: a preview, and a mapping to begin with. Nothing is kept."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import polars as pl

from commissioning.engineering import units
from commissioning.logs.guess import guess_role
from commissioning.logs.layout import Layout, guess_unit, layout_of
from commissioning.logs.mapping import MOST_POINTS, LogMapping
from commissioning.logs.moments import NONE, Moments, moments_of
from commissioning.logs.problems import CannotRead, Remark, told
from commissioning.logs.read import read
from commissioning.logs.roles import MODE, STATE, roles
from commissioning.logs.series import sampling_of
from commissioning.logs.table import Table
from commissioning.logs.values import decimal_of

_EXAMPLES = 3
_WORDS = 12


@dataclass(frozen=True)
class SeenPoint:
    """A point of the file: its name, what its unit and its role seem to be, and how it was logged.

    `first` and `last` are on the clock of the file. `words` are its texts that are no numbers, some of them.
    """

    name: str
    unit: str
    role: str
    samples: int
    first: str
    last: str
    by_change: bool
    interval_s: float
    longest_gap_s: float
    examples: tuple[str, ...]
    words: tuple[str, ...]


@dataclass(frozen=True)
class Understanding:
    """`columns` are all headings. `is_utc`: the moments carry their offset; the zone is then only the building's."""

    kind: str
    form: str
    delimiter: str
    decimal: str
    sheet: str
    sheets: tuple[str, ...]
    heading_line: int
    first_line: int
    rows: int
    columns: tuple[str, ...]
    time_columns: tuple[str, ...]
    time_format: str
    is_utc: bool
    duplicates: int
    points: tuple[SeenPoint, ...]
    remarks: tuple[Remark, ...]
    problems: tuple[Remark, ...]

    def to_json(self) -> dict[str, Any]:
        return asdict(self) | {"remarks": told(self.remarks), "problems": told(self.problems)}


def understand(data: bytes, stated: LogMapping | None = None) -> Understanding:
    """What the file seems to be; `stated` is what somebody already said of it."""
    try:
        table = read(data, delimiter=stated.delimiter if stated else "", sheet=stated.sheet if stated else "")
    except CannotRead as no:
        return _nothing(no.remark)
    try:
        layout = layout_of(table, stated)
        return _seen(table, layout, stated)
    except CannotRead as no:
        return _nothing(no.remark, table)


def propose(seen: Understanding, *, source: str, zone: str, known: LogMapping | None = None) -> dict[str, Any]:
    """A mapping to begin with, as a form holds it: what is known of the source, else what its names hint at.

    A point whose unit does not fit its role is proposed without a role.
    """
    if known is not None:
        return known.model_dump()
    points, taken = [], set()
    for point in seen.points:
        role = point.role if point.role not in taken and _fits(point) else ""
        if role:
            taken.add(role)
            state = roles()[role].quantity in (STATE, MODE)
            points.append({"name": point.name, "role": role, "tag": "", "unit": "" if state else point.unit})
    return {"source": source, "zone": zone, "form": seen.form, "points": points[:MOST_POINTS]}


def _fits(point: SeenPoint) -> bool:
    if not point.role:
        return False
    quantity = roles()[point.role].quantity
    return quantity in (STATE, MODE) or point.unit in units.codes_of(quantity)


def _seen(table: Table, layout: Layout, stated: LogMapping | None) -> Understanding:
    frame, lines = table.frame.slice(layout.body), table.lines[layout.body :]
    clocks: dict[tuple[int, ...], Moments] = {}
    points, problems = [], []
    repeated = 0
    try:
        for point, again in _points(frame, lines, layout, stated, clocks):
            points.append(point)
            repeated += again
    except CannotRead as no:
        problems.append(no.remark)
    first = next(iter(clocks.values()), None)
    remarks = [*table.remarks, *layout.remarks, *(first.remarks if first else ())]
    if len(points) > MOST_POINTS:
        remarks.append(Remark("many_points", 0, f"There are {len(points):,} points; at most {MOST_POINTS} are mapped."))
    return Understanding(
        table.kind,
        layout.form,
        table.delimiter,
        _decimal(frame, layout, table.delimiter),
        table.sheet,
        table.sheets,
        int(table.lines[layout.heading]) if layout.heading >= 0 else 0,
        int(lines[0]) if len(lines) else 0,
        frame.height,
        layout.names,
        tuple(layout.names[number] for number in layout.times),
        first.format if first else "",
        bool(first and first.is_utc),
        repeated,
        tuple(points[: 2 * MOST_POINTS]),
        tuple(remarks),
        tuple(problems),
    )


def _points(
    frame: pl.DataFrame,
    lines: npt.NDArray[np.int64],
    layout: Layout,
    stated: LogMapping | None,
    clocks: dict[tuple[int, ...], Moments],
) -> Iterator[tuple[SeenPoint, int]]:
    format = stated.time_format if stated else ""

    def clock(place: tuple[int, ...]) -> Moments:
        if place not in clocks:
            column = frame[str(place[0])]
            if len(place) == 2:
                apart = [pl.col(str(number)).str.strip_chars() for number in place]
                column = frame.select(pl.concat_str(apart, separator=" ")).to_series()
            clocks[place] = moments_of(column, lines, format)
        return clocks[place]

    if layout.form != "long":
        for number in layout.points:
            moments = clock(layout.time_of(number))
            yield _point(layout.names[number], layout.units[number], frame[str(number)], moments.us)
        return
    moments = clock(layout.times)
    names = frame[str(layout.name)].cast(pl.String).str.strip_chars().fill_null("")
    held = pl.DataFrame({"name": names, "at": np.arange(frame.height)}).filter(pl.Series(moments.us != NONE))
    for (name,), part in held.group_by("name", maintain_order=True):
        at = part["at"].to_numpy()
        unit = ""
        if layout.unit >= 0:
            said = frame[str(layout.unit)].gather(at).cast(pl.String).drop_nulls()
            unit = guess_unit(f"x ({said[0]})") if len(said) else ""
        name = str(name)
        yield _point(name, unit or guess_unit(name), frame[str(layout.value)].gather(at), moments.us[at])


def _point(name: str, unit: str, column: pl.Series, us: npt.NDArray[np.int64]) -> tuple[SeenPoint, int]:
    texts = column.cast(pl.String).str.strip_chars()
    kept = (us != NONE) & (texts.fill_null("") != "").to_numpy()
    held, at = texts.filter(pl.Series(kept)), us[kept]
    order = np.argsort(at, kind="stable")
    times_s = at[order] / 1e6
    numbers = held.gather(order).str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
    values = numbers.fill_null(float("nan")).to_numpy()
    if numbers.null_count() == len(numbers):
        values = held.gather(order).cast(pl.Categorical).to_physical().cast(pl.Float64).to_numpy()
    again = int(np.count_nonzero(np.diff(times_s) == 0))
    single = np.concatenate([[True], np.diff(times_s) > 0]) if len(times_s) else np.zeros(0, bool)
    by_change, interval_s, longest_gap_s = sampling_of(times_s[single], values[single])
    words = held.filter(~held.str.contains(r"^[-+]?[\d.,]+$")).unique(maintain_order=True).head(_WORDS)
    return SeenPoint(
        name,
        unit,
        guess_role(name),
        len(held),
        _local(at.min()) if len(at) else "",
        _local(at.max()) if len(at) else "",
        by_change,
        interval_s,
        longest_gap_s,
        tuple(held.head(_EXAMPLES).to_list()),
        tuple(word[:80] for word in words.to_list()),
    ), again


def _local(us: np.int64) -> str:
    return str(np.datetime64(int(us), "us").astype("datetime64[s]")).replace("T", " ")


def _decimal(frame: pl.DataFrame, layout: Layout, delimiter: str) -> str:
    columns = [layout.value] if layout.form == "long" else layout.points
    texts: list[str] = []
    for number in columns:
        column = frame[str(number)]
        if column.dtype == pl.String:
            texts += [text.strip() for text in column.head(100).drop_nulls().to_list()]
    return decimal_of([text for text in texts if re.match(r"[-+]?\d", text)], delimiter)


def _nothing(problem: Remark, table: Table | None = None) -> Understanding:
    said: Mapping[str, Any] = {"kind": table.kind, "sheets": table.sheets} if table else {"kind": "", "sheets": ()}
    columns = tuple(cell for cell in (table.head[0] if table and table.head else ()) if cell)
    delimiter, sheet = (table.delimiter, table.sheet) if table else ("", "")
    remarks = table.remarks if table else ()
    return Understanding(
        said["kind"], "", delimiter, "", sheet, said["sheets"], 0, 0, 0, columns, (), "", False, 0, (), remarks,
        (problem,),
    )  # fmt: skip
