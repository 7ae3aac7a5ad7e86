"""Where the headings stand, which columns hold the moments, and whether each point has a column or each row a point."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from commissioning.engineering import units
from commissioning.logs.mapping import LogMapping
from commissioning.logs.problems import CannotRead, Remark
from commissioning.logs.table import Table

NAME_WORDS = frozenset(
    [
        "point",
        "point name",
        "pointname",
        "name",
        "tag",
        "tag name",
        "object",
        "object name",
        "variable",
        "sensor",
        "trend",
        "trend name",
        "series",
        "signal",
        "measurement",
        "item",
        "path",
        "source",
        "point id",
        "id",
        "channel",
        "log",
        "log name",
    ]
)
VALUE_WORDS = frozenset(
    ["value", "present value", "reading", "val", "sample", "result", "measured value", "sample value", "data"]
)
UNIT_WORDS = frozenset(["unit", "units", "uom", "engineering unit", "engineering units", "eu"])

_DATE = (
    r"(?:\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.](?:\d{4}|\d{2})|\d{1,2}[- ][A-Za-z]{3,9}[- ,]+\d{2,4}"
)
_DATE += r"|[A-Za-z]{3,9} \d{1,2},? \d{4}|20\d{6})"
_TIME = r"\d{1,2}[:.]\d{2}(?:[:.]\d{2}(?:[.,]\d+)?)?(?: ?[AaPp]\.?[Mm]\.?)?"
_WEEKDAY = r"(?:(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)[a-z]*,? +)?"
_MOMENT = re.compile(rf"{_WEEKDAY}{_DATE}(?:[T ,_]+{_TIME}(?: ?[A-Z]{{1,5}}| ?[+-]\d\d:?\d\d)?)?")
_ONLY_DATE = re.compile(rf"{_WEEKDAY}{_DATE}")
_ONLY_TIME = re.compile(_TIME)
_EPOCH = re.compile(r"1\d{9}(?:\.\d+)?|1\d{12}")
_TIME_HEADING = re.compile(r"\b(?:time|date|timestamp|datetime|epoch|moment|zeit|datum|fecha|hora)", re.IGNORECASE)
_SEEN = 200


@dataclass(frozen=True)
class Layout:
    """`names` are the points' or columns' names; `units` what the file says of each column's unit, or ''.

    `times` are the columns of moments: one; two where date and time stand apart (`apart`); or one before each group of
    points.
    """

    names: tuple[str, ...]
    units: tuple[str, ...]
    heading: int  # row of the headings, -1 where there are none
    body: int  # first row of samples
    form: str
    times: tuple[int, ...]
    apart: bool = False
    name: int = -1
    value: int = -1
    unit: int = -1
    remarks: tuple[Remark, ...] = ()

    @property
    def points(self) -> list[int]:
        """Columns that hold values, of the wide form."""
        return [number for number in range(len(self.names)) if number not in self.times]

    def time_of(self, column: int) -> tuple[int, ...]:
        """Where the moments of a column stand."""
        if self.apart or len(self.times) == 1:
            return self.times
        before = [number for number in self.times if number < column]
        return (before[-1] if before else self.times[0],)

    def column(self, name: str) -> int:
        return self.names.index(name) if name in self.names else -1


def layout_of(table: Table, mapping: LogMapping | None = None) -> Layout:
    """What the table looks like; what the mapping states of it is taken as stated."""
    if table.names:
        found = _typed(table)
    else:
        times, apart, body = _moments(table)
        found = _headed(table, times, apart, body)
    found = _with_form(table, found)
    return _as_stated(found, mapping) if mapping is not None else found


def is_moment(text: str) -> bool:
    """
    >>> is_moment("3/8/2026 2:30 PM"), is_moment("2026-03-08T02:30:00Z"), is_moment("72.4")
    (True, True, False)
    """
    return _MOMENT.fullmatch(text) is not None


def _typed(table: Table) -> Layout:
    """A Parquet file: a column of moments by its type, else by its name and its texts."""
    kinds = table.frame.dtypes
    times = [number for number, kind in enumerate(kinds) if kind.is_temporal()]
    if not times:
        heads = [number for number, name in enumerate(table.names) if _TIME_HEADING.search(name)]
        times = [n for n in heads if any(_is_time_cell(row[n]) for row in table.head)][:1]
    if not times:
        raise _no_moments()
    return Layout(_once(table.names)[0], _units_of(table.names, ()), -1, 0, "wide", (times[0],))


def _moments(table: Table) -> tuple[list[int], bool, int]:
    """The columns of moments, whether date and time stand apart, and the first row of the body."""
    width = table.frame.width
    counts = [sum(_is_time_cell(row[column]) for row in table.head) for column in range(width)]
    most = max(counts, default=0)
    if not most:
        raise _no_moments()
    times = [column for column, count in enumerate(counts) if count >= max(1, most * 0.6)]
    first = times[0]
    body = next(index for index in range(len(table.head)) if _begins(table, first, index))
    times = [column for column in times if _holds(table, column, body, _is_time_cell)] or [first]
    if _holds(table, first, body, lambda text: _ONLY_DATE.fullmatch(text) is not None):
        for column in (first + 1, first - 1):
            if 0 <= column < width and _holds(table, column, body, lambda t: _ONLY_TIME.fullmatch(t) is not None):
                return [first, column], True, body
    if all(_EPOCH.fullmatch(table.head[body][column]) for column in times):
        times = times[:1]
    return times, False, body


def _begins(table: Table, column: int, index: int) -> bool:
    rest = [row[column] for row in table.head[index:] if any(row)]
    return _is_time_cell(table.head[index][column]) and sum(map(_is_time_cell, rest)) >= 0.6 * len(rest)


def _holds(table: Table, column: int, body: int, test: object) -> bool:
    assert callable(test)
    held = [row[column] for row in table.head[body:] if row[column]]
    return bool(held) and sum(bool(test(text)) for text in held) >= 0.6 * len(held)


def _is_time_cell(text: str) -> bool:
    return is_moment(text) or _EPOCH.fullmatch(text) is not None


def _headed(table: Table, times: list[int], apart: bool, body: int) -> Layout:
    above = [index for index in range(body) if any(table.head[index])]
    width = table.frame.width
    remarks: list[Remark] = []
    heading, unit_row = -1, None
    if above and len(above) >= 2 and _is_units_row(table.head[above[-1]], times):
        heading, unit_row = above[-2], above[-1]
    elif above and sum(1 for cell in table.head[above[-1]] if cell) >= min(2, width):
        heading = above[-1]
    if heading < 0:
        names: list[str] = [f"column {number + 1}" for number in range(width)]
        remarks.append(Remark("no_headings", 0, "There are no headings; the columns were numbered."))
    else:
        names = _full_names(table, heading, [one for one in above if one < heading])
    aliases = _aliases(table, above)
    said = [aliases.get(name, name) for name in names]
    if said != names:
        remarks.append(Remark("key", 0, "The points' names were taken from the table above the samples."))
    unique, again = _once(said)
    if again:
        line = int(table.lines[heading])
        told = f"{again[0]} is the heading of several columns; the later ones were numbered."
        remarks.append(Remark("same_heading", line, told, len(again)))
    held = table.head[unit_row] if unit_row is not None else ()
    return Layout(unique, _units_of(unique, held), heading, body, "wide", tuple(times), apart, remarks=tuple(remarks))


def _is_units_row(row: Sequence[str], times: list[int]) -> bool:
    cells = [cell for number, cell in enumerate(row) if cell and number not in times]
    known = [cell for cell in cells if guess_unit(f"x ({cell})") or cell.casefold() in _NO_UNITS]
    return bool(cells) and len(known) >= 0.6 * len(cells)


_NO_UNITS = frozenset(("on/off", "off/on", "bool", "-", "none", "state", "binary", "digital", "no units", "enum"))


def _full_names(table: Table, heading: int, above: list[int]) -> list[str]:
    """A heading that stands several times is told by the one above it, which may span several columns."""
    names = [cell or f"column {number + 1}" for number, cell in enumerate(table.head[heading])]
    if not above or len(set(names)) == len(names):
        return names
    spanning, last = [], ""
    for cell in table.head[above[-1]]:
        last = cell or last
        spanning.append(last)
    twice = {name for name in names if names.count(name) > 1}
    if len(set(spanning) - {""}) < 2:
        return names
    return [f"{over} {name}".strip() if name in twice else name for over, name in zip(spanning, names, strict=True)]


def _aliases(table: Table, above: list[int]) -> dict[str, str]:
    held = {}
    for index in above[:-1]:
        row = table.head[index]
        if len(row) > 1 and row[0].endswith(":") and row[1] and row[0].rstrip(":"):
            held[row[0].rstrip(":").strip()] = row[1]
    return held


def _once(names: Sequence[str]) -> tuple[tuple[str, ...], list[str]]:
    seen: dict[str, int] = {}
    made, again = [], []
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        made.append(name[:380] if seen[name] == 1 else f"{name[:380]} ({seen[name]})")
        again += [name] if seen[name] == 2 else []
    return tuple(made), again


def _units_of(names: Sequence[str], row: Sequence[str]) -> tuple[str, ...]:
    return tuple(
        (guess_unit(f"x ({row[number]})") if number < len(row) and row[number] else "") or guess_unit(name)
        for number, name in enumerate(names)
    )


def guess_unit(name: str) -> str:
    """The unit that a heading ends with, in brackets or after a comma, a space or an underscore; '' if none is sure.

    >>> guess_unit("AHU-1 SAT (°F)"), guess_unit("ERV2_SA_CFM"), guess_unit("Room CO2, ppm"), guess_unit("Zone B")
    ('degF', 'cfm', 'ppm', '')
    """
    bracket = re.search(r"[(\[{]([^()\[\]{}]{1,30})[)\]}]\s*$", name)
    if bracket:
        found = units.recognise(bracket.group(1), quantity=_sided(bracket.group(1)))
        return found.code if found else ""
    for tail in (name.rpartition(",")[2], name.rpartition(" ")[2], name.rpartition("_")[2]):
        text = tail.strip()
        if text == name or (len(text) < 2 and text != "%"):
            continue
        found = units.recognise(text, quantity=_sided(text))
        if found and found.code not in ("in", "m", "1", "min", "h", "s", "ft"):
            return found.code
    return ""


def _sided(text: str) -> str | None:
    """A bare letter in a log is a temperature; a bare inch a pressure of water."""
    spelling = text.strip()
    if spelling in ("F", "C", "K"):
        return "temperature"
    return "pressure" if spelling.casefold() in ("in.", '"') else None


def _with_form(table: Table, found: Layout) -> Layout:
    """Long where a column is headed as a name and one as a value; without headings, texts before numbers."""
    plain = [re.sub(r"[\s_]+", " ", name).strip().casefold() for name in found.names]
    rest = [number for number in range(len(plain)) if number not in found.times]
    name = next((n for n in rest if plain[n] in NAME_WORDS and not _numeric(table, n, found.body)), -1)
    value = next((n for n in rest if plain[n] in VALUE_WORDS), -1)
    unit = next((n for n in rest if plain[n] in UNIT_WORDS), -1)
    if found.heading < 0 and not table.names and len(rest) in (2, 3):
        texts = [n for n in rest if not _numeric(table, n, found.body)]
        numbers = [n for n in rest if n not in texts]
        if texts and numbers and texts[0] < numbers[0]:
            name, value = texts[0], numbers[0]
    if name < 0 or value < 0:
        return found
    return replace(found, form="long", name=name, value=value, unit=unit, times=_one_time(found))


def _one_time(found: Layout) -> tuple[int, ...]:
    return found.times if found.apart else found.times[:1]


def _numeric(table: Table, column: int, body: int) -> bool:
    cells = [row[column] for row in table.head[body:] if row[column]]
    return bool(cells) and sum(bool(re.fullmatch(r"[-+]?[\d.,]+", cell)) for cell in cells) > 0.5 * len(cells)


def _as_stated(found: Layout, mapping: LogMapping) -> Layout:
    def place(name: str) -> int:
        number = found.column(name)
        if number < 0:
            raise CannotRead("no_column", f"There is no column {name}; there are {', '.join(found.names)[:300]}.")
        return number

    made = found
    if mapping.time_columns:
        times = tuple(place(name) for name in mapping.time_columns)
        made = replace(made, times=times, apart=len(times) == 2)
    if mapping.form:
        made = replace(made, form=mapping.form)
    if made.form == "long":
        made = replace(
            made,
            name=place(mapping.name_column) if mapping.name_column else made.name,
            value=place(mapping.value_column) if mapping.value_column else made.value,
            unit=place(mapping.unit_column) if mapping.unit_column else made.unit,
        )
        if made.name < 0 or made.value < 0:
            raise CannotRead("no_column", "Say which column holds the points' names and which the values.")
    return made


def _no_moments() -> CannotRead:
    return CannotRead("no_time", "No column holds moments. Export with date and time, or say which column has them.")
