"""A log's file through a mapping: series in SI on the clock of UTC, and what was repaired on the way."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import polars as pl

from commissioning.engineering import units
from commissioning.logs.clock import to_utc
from commissioning.logs.layout import Layout, layout_of
from commissioning.logs.mapping import LogMapping, MappedPoint
from commissioning.logs.moments import NONE, Moments, moments_of
from commissioning.logs.order import in_order
from commissioning.logs.problems import CannotRead, Remark
from commissioning.logs.read import read
from commissioning.logs.roles import MODE, STATE, roles, words_of
from commissioning.logs.series import Floats, Point, sampling_of
from commissioning.logs.table import Table
from commissioning.logs.values import Values, decimal_of, values_of
from commissioning.logs.words import of_values, without_moment

MOST_SAMPLES = 5_000_000
_MOST_UNREADABLE = 0.2
_ALWAYS_ALLOWED = 10

Lines = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Series:
    point: Point
    times_s: Floats
    values: Floats


@dataclass(frozen=True)
class Converted:
    """With `problems` nothing may be kept. `left_out` are the file's points that the mapping does not name."""

    series: tuple[Series, ...]
    problems: tuple[Remark, ...]
    repairs: tuple[Remark, ...]
    left_out: tuple[str, ...]

    @property
    def samples(self) -> int:
        return sum(len(one.times_s) for one in self.series)


@dataclass(frozen=True)
class _Column:
    """What one mapped point has in the file before it is understood."""

    mapped: MappedPoint
    texts: pl.Series
    us: npt.NDArray[np.int64]
    is_utc: bool
    lines: Lines


def convert(data: bytes, mapping: LogMapping) -> Converted:
    """Read it whole. What stands in the way is in `problems`, never raised."""
    try:
        table = read(data, delimiter=mapping.delimiter, sheet=mapping.sheet)
        return _converted(table, layout_of(table, mapping), mapping)
    except CannotRead as no:
        return Converted((), (no.remark,), (), ())


def _converted(table: Table, layout: Layout, mapping: LogMapping) -> Converted:
    repairs: list[Remark] = [*table.remarks, *layout.remarks]
    problems: list[Remark] = []
    if not mapping.points:
        raise CannotRead("nothing_mapped", "No point of the log is mapped. Say what at least one of them is.")
    frame, lines = table.frame.slice(layout.body), table.lines[layout.body :]
    columns = _long(frame, lines, layout, mapping, repairs) if layout.form == "long" else None
    names = set(columns[1]) if columns else {layout.names[one] for one in layout.points}
    given = columns[0] if columns else _wide(frame, lines, layout, mapping, repairs)
    series = []
    found, count = set(), 0
    for column in given:
        found.add(column.mapped.name)
        made = _series(column, mapping, table.delimiter, repairs, problems)
        if made is not None:
            series.append(made)
            count += len(made.times_s)
        if count > MOST_SAMPLES:
            told = f"There are more than {MOST_SAMPLES:,} samples. Export a shorter period, or map fewer points."
            raise CannotRead("too_many_samples", told)
    absent = [one.name for one in mapping.points if one.name not in found]
    repairs += [Remark("no_point", 0, f"The log has no point {name}.", point=name) for name in absent]
    if not series and not problems:
        problems.append(Remark("no_samples", 0, "None of the mapped points has a sample in this log."))
    left_out = tuple(sorted(names - {one.name for one in mapping.points}))
    return Converted(tuple(series), tuple(problems), tuple(_merged(repairs)), left_out)


def _wide(
    frame: pl.DataFrame, lines: Lines, layout: Layout, mapping: LogMapping, repairs: list[Remark]
) -> Iterator[_Column]:
    clocks: dict[tuple[int, ...], tuple[Moments, npt.NDArray[np.bool_]]] = {}
    mapped = {one.name: one for one in mapping.points}
    for number in layout.points:
        point = mapped.get(layout.names[number])
        if point is None:
            continue
        place = layout.time_of(number)
        if place not in clocks:
            clocks[place] = _clock(
                frame, lines, place, mapping, repairs, may_end=len(layout.times) > 1 and not layout.apart
            )
        moments, known = clocks[place]
        yield _Column(point, frame[str(number)].filter(known), moments.us[known], moments.is_utc, lines[known])


def _clock(
    frame: pl.DataFrame,
    lines: Lines,
    place: tuple[int, ...],
    mapping: LogMapping,
    repairs: list[Remark],
    *,
    may_end: bool = False,
) -> tuple[Moments, npt.NDArray[np.bool_]]:
    """The moments of some columns, and which rows have one. Few rows without are left out, many are refused."""
    column = frame[str(place[0])]
    if len(place) == 2:
        apart = frame.select(pl.concat_str([pl.col(str(n)).str.strip_chars() for n in place], separator=" "))
        column = apart.to_series()
    moments = moments_of(column, lines, mapping.time_format)
    known = moments.us != NONE
    is_empty = column.is_null().to_numpy()
    if column.dtype == pl.String:
        is_empty = is_empty | (column.str.strip_chars() == "").fill_null(True).to_numpy()
    if not may_end:
        row = pl.any_horizontal([pl.col(name).is_not_null() for name in frame.columns])
        is_empty = is_empty & ~frame.select(row).to_series().to_numpy()
    lost = np.flatnonzero(~known & ~is_empty)
    if len(lost):
        text = str(column[int(lost[0])] or "")
        line = int(lines[lost[0]])
        if not known.any() or len(lost) > max(_ALWAYS_ALLOWED, _MOST_UNREADABLE * len(known)):
            told = f"{text[:60]!r} is no moment as {moments.format} writes them; {len(lost):,} rows are like it."
            raise CannotRead("time_format", told, line=line)
        repairs.append(without_moment(text, line, len(lost)))
    repairs += moments.remarks
    if not known.any():
        raise CannotRead("no_samples", "There are headings and no samples. Export a period that has some.")
    if not moments.is_utc:
        moments, known = _on_utc(moments, known, lines, mapping, repairs)
    return moments, known


def _on_utc(
    moments: Moments, known: npt.NDArray[np.bool_], lines: Lines, mapping: LogMapping, repairs: list[Remark]
) -> tuple[Moments, npt.NDArray[np.bool_]]:
    placed = to_utc(moments.us[known], lines[known], mapping)
    repairs += placed.remarks
    us = moments.us.copy()
    us[known] = placed.us
    return replace(moments, us=us, is_utc=True), us != NONE


def _long(
    frame: pl.DataFrame, lines: Lines, layout: Layout, mapping: LogMapping, repairs: list[Remark]
) -> tuple[Iterator[_Column], list[str]]:
    """Rows by point. The clock of each point is told apart by its own order."""
    local = mapping.model_copy(update={"zone": "UTC"})
    moments, known = _clock(frame, lines, layout.times, local, repairs)
    stated = (
        moments_of(frame[str(layout.times[0])].head(200), lines, moments.format).is_utc
        if (len(layout.times) == 1 and frame[str(layout.times[0])].dtype == pl.String)
        else _is_aware(frame, layout)
    )
    names = frame[str(layout.name)].cast(pl.String).str.strip_chars().fill_null("")
    held = pl.DataFrame({"name": names, "at": np.arange(frame.height)}).filter(pl.Series(known))
    places = {str(name[0]): part["at"].to_numpy() for name, part in held.group_by("name", maintain_order=True)}
    mapped = {one.name: one for one in mapping.points}

    def each() -> Iterator[_Column]:
        for name, at in places.items():
            if name not in mapped:
                continue
            us, here = moments.us[at], lines[at]
            if not stated:
                placed = to_utc(us, here, mapping)
                repairs.extend(placed.remarks)
                stays = placed.us != NONE
                us, here, at = placed.us[stays], here[stays], at[stays]
            if layout.unit >= 0:
                _check_unit(mapped[name], frame[str(layout.unit)].gather(at), here)
            yield _Column(mapped[name], frame[str(layout.value)].gather(at), us, True, here)

    return each(), [name for name in places if name]


def _is_aware(frame: pl.DataFrame, layout: Layout) -> bool:
    kind = frame[str(layout.times[0])].dtype
    return kind.is_numeric() or (isinstance(kind, pl.Datetime) and kind.time_zone is not None)


def _check_unit(mapped: MappedPoint, column: pl.Series, lines: Lines) -> None:
    """A file that says another unit than the mapping, or two, is refused: values in two units are no series."""
    if not mapped.unit:
        return
    quantity = roles()[mapped.role].quantity
    said = column.cast(pl.String).str.strip_chars().fill_null("")
    for text in said.unique(maintain_order=True).to_list():
        found = units.recognise(text, quantity=quantity) if text else None
        if found is not None and found.code != mapped.unit:
            line = int(lines[int((said == text).arg_max() or 0)])
            told = f"The file gives {mapped.name} in {text}, the mapping in {units.unit(mapped.unit).label}."
            raise CannotRead("other_unit", told, line=line, point=mapped.name)


def _series(
    column: _Column, mapping: LogMapping, delimiter: str, repairs: list[Remark], problems: list[Remark]
) -> Series | None:
    mapped, role = column.mapped, roles()[column.mapped.role]
    decimal = mapping.decimal or _decimal(column.texts, delimiter)
    if not decimal:
        told = "A comma may part thousands or decimals here. State the decimal sign."
        problems.append(Remark("decimal", int(column.lines[0]), told, point=mapped.name))
        return None
    read_values = values_of(
        column.texts,
        quantity=role.quantity,
        unit=mapped.unit,
        decimal=decimal,
        no_value=frozenset(mapping.no_value),
        words={**words_of(role), **mapped.words},
    )
    bad, good = of_values(read_values, mapped, column.lines)
    problems += bad
    repairs += good
    if bad:
        return None
    kept = read_values.is_kept
    times_s, values = column.us[kept] / 1e6, _si(read_values, kept, mapped, problems, column.lines)
    if not len(times_s):
        return None
    times_s, values = in_order(times_s, values, column.lines[kept], mapped.name, mapping, repairs)
    by_change, interval_s, longest_gap_s = sampling_of(times_s, values)
    if mapped.by_change is not None and mapped.by_change != by_change:
        by_change, interval_s = mapped.by_change, 0.0 if mapped.by_change else float(np.median(np.diff(times_s)))
    none = int(np.count_nonzero(np.isnan(values)))
    point = Point(
        mapped.name,
        mapped.role,
        mapped.tag,
        mapped.unit,
        by_change,
        interval_s,
        longest_gap_s,
        len(values) - none,
        none,
        float(times_s[0]),
        float(times_s[-1]),
        dict(read_values.words),
    )
    return Series(point, times_s, values)


def _decimal(texts: pl.Series, delimiter: str) -> str:
    if texts.dtype != pl.String:
        return "."
    held = texts.drop_nulls()
    some = held.filter(held.str.contains(",", literal=True)).head(200)
    return decimal_of([*some.str.strip_chars().to_list(), *held.head(200).to_list()], delimiter) if len(some) else "."


def _si(
    read_values: Values, kept: npt.NDArray[np.bool_], mapped: MappedPoint, problems: list[Remark], lines: Lines
) -> Floats:
    values = read_values.values[kept]
    quantity = roles()[mapped.role].quantity
    if quantity == MODE:
        return values
    if quantity == STATE:
        odd = np.flatnonzero(~np.isnan(values) & (values != 0.0) & (values != 1.0))
        if len(odd) and set(np.unique(values[~np.isnan(values)]).tolist()) <= {0.0, 100.0}:
            return values / 100.0
        if len(odd):
            told = f"{mapped.name} is mapped to a state, and {values[odd[0]]:g} is neither 0 nor 1."
            problems.append(Remark("not_a_state", int(lines[kept][odd[0]]), told, len(odd), mapped.name))
        return values
    return np.atleast_1d(np.asarray(units.to_si(values, mapped.unit), np.float64))


def _merged(repairs: list[Remark]) -> list[Remark]:
    """The same sentence once, from its first line."""
    held: dict[tuple[str, str, str], Remark] = {}
    for one in repairs:
        key = (one.code, one.point, one.sentence)
        before = held.get(key)
        held[key] = one if before is None else replace(before, line=min(before.line, one.line))
    return list(held.values())
