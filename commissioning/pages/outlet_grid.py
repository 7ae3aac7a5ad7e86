"""A table of outlets pasted from a spreadsheet: what each column is, what each row says, and what cannot be read.

Columns are known by their heading; without headings they are outlet, room, branch, device, design, then readings. An
error names row, column, value, reason and remedy, and while there is one nothing is taken of the table.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from portfolio.schedules.reading import Cell, Grid, read_pasted
from portfolio.schedules.reading.cells import column_letter
from portfolio.schedules.understanding.headings import unit_in
from portfolio.schedules.understanding.numbers import number_of, plain, style_of

WORDS: dict[str, tuple[str, ...]] = {
    "outlet": (
        "outlet",
        "no",
        "number",
        "tag",
        "terminal",
        "mark",
        "outlet no",
        "diffuser no",
        "grille no",
        "grd",
        "id",
    ),
    "port": ("port", "air", "service", "sa/ra/ea", "air stream"),
    "room": ("room", "space", "area", "room no", "room number", "room name"),
    "branch": ("branch", "duct", "run", "main", "branch duct", "riser"),
    "device": ("device", "type", "device type", "outlet type", "diffuser", "grille", "diffuser type"),
    "design": ("design", "design airflow", "design flow", "required", "specified", "design air", "schedule"),
    "reading": ("reading", "measured", "airflow", "actual", "final", "preliminary", "test", "flow", "value", "r"),
    "factor": ("factor", "hood factor", "cf", "correction", "correction factor"),
    "setting": ("setting", "damper", "damper setting", "damper position"),
    "reason": ("reason", "why", "state", "status", "why not read"),
}
DEFAULT = ("outlet", "room", "branch", "device", "design")
PORTS = {
    "supply": ("supply", "supply air", "sa", "s"),
    "return": ("return", "return air", "ra", "r"),
    "exhaust": ("exhaust", "exhaust air", "ea", "e", "extract", "extract air", "ex"),
    "outdoor": ("outdoor", "outdoor air", "oa", "outside air", "fresh air"),
}
STATES = {
    "closed": ("closed", "shut", "off"),
    "blocked": ("blocked", "obstructed", "covered"),
    "no_access": ("no access", "not accessible", "inaccessible", "not reached", "locked"),
}
NUMBERS = ("design", "reading", "factor")
_MEANING = {word: meaning for meaning, words in WORDS.items() for word in words}
_PORT = {word: port for port, words in PORTS.items() for word in words}


@dataclass(frozen=True, slots=True)
class GridError:
    row: int
    column: str  # letter, and its heading where there is one
    value: str
    reason: str
    remedy: str


@dataclass(frozen=True, slots=True)
class OutletLine:
    """One row as understood; numbers in the units of the grid."""

    row: int
    name: str
    port: str | None = None
    room: str | None = None
    branch: str | None = None
    device: str | None = None
    design: float | None = None
    readings: tuple[float, ...] = ()
    factor: float | None = None
    setting: str = ""
    state: str = "read"
    reason: str = ""

    @property
    def is_read(self) -> bool:
        return bool(self.readings) or self.state != "read"


@dataclass(frozen=True)
class OutletGrid:
    """A table as understood: its rows or its errors, the units of its airflows, columns that nobody could place."""

    lines: tuple[OutletLine, ...] = ()
    errors: tuple[GridError, ...] = ()
    reading_unit: str = ""  # as a heading says it; empty where none does
    design_unit: str = ""
    columns: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()


@dataclass
class _Column:
    index: int
    meaning: str
    title: str = ""
    unit: str = ""

    @property
    def letter(self) -> str:
        return f"{column_letter(self.index)} ({self.title})" if self.title else column_letter(self.index)


@dataclass
class _Reading:
    grid: Grid
    columns: list[_Column]
    style: str = "point"
    errors: list[GridError] = field(default_factory=list)

    def wrong(self, cell: Cell, column: str, reason: str, remedy: str) -> None:
        self.errors.append(GridError(cell.row, column, cell.text[:80], reason, remedy))


def read(text: str) -> OutletGrid:
    """The table in a pasted text.

    >>> grid = read("Outlet\\tRoom\\tDesign cfm\\tReading cfm\\nD1\\t112\\t200\\t195,5\\nD2\\t112\\t200\\tblocked")
    >>> [(line.name, line.readings, line.state) for line in grid.lines], grid.reading_unit
    ([('D1', (195.5,), 'read'), ('D2', (), 'blocked')], 'cfm')
    """
    (grid,) = read_pasted(text)
    if grid.errors:
        return OutletGrid(
            errors=tuple(GridError(one.row, one.column, one.value, one.reason, one.remedy) for one in grid.errors)
        )
    columns, has_header = _columns(grid)
    held = _Reading(grid, columns)
    _check_columns(held, has_header)
    _settle_style(held, has_header)
    lines = tuple(_lines(held, has_header)) if not held.errors else ()
    units = {meaning: {one.unit for one in columns if one.meaning == meaning and one.unit} for meaning in NUMBERS}
    return OutletGrid(
        lines=() if held.errors else lines,
        errors=tuple(held.errors),
        reading_unit=next(iter(sorted(units["reading"])), ""),
        design_unit=next(iter(sorted(units["design"])), ""),
        columns=tuple(f"{column_letter(one.index)}: {one.meaning}" for one in columns if one.meaning),
        left_out=tuple(one.letter for one in columns if not one.meaning),
    )


def _columns(grid: Grid) -> tuple[list[_Column], bool]:
    """By the headings of the first row, where it has an outlet's and one more; else by their order."""
    first = grid.rows[0]
    titled = [_titled(index, cell.text) for index, cell in sorted(first.cells.items())]
    known = {one.meaning for one in titled}
    if "outlet" in known and len(known - {""}) > 1:
        return titled, True
    widest = max(max(row.cells) for row in grid.rows)
    names = (*DEFAULT, *["reading"] * max(0, widest - len(DEFAULT)))
    return [_Column(index, names[index - 1]) for index in range(1, widest + 1)], False


def _titled(index: int, title: str) -> _Column:
    words = re.sub(r"[\[\](),:.#]", " ", title)
    unit = ""
    parts = []
    for word in words.split():
        found = unit_in(word)
        if found is not None and found[0] == "airflow":
            unit = found[1]
        else:
            parts.append(word)
    told = re.sub(r"\s*\d+$", "", " ".join(parts).casefold()).strip()
    meaning = _MEANING.get(told, "reading" if unit and not told else "")
    return _Column(index, meaning, title, unit)


def _check_columns(held: _Reading, has_header: bool) -> None:
    first = held.grid.rows[0]
    seen: dict[str, _Column] = {}
    for one in held.columns if has_header else ():
        cell = first.cells[one.index]
        if one.meaning and one.meaning != "reading" and one.meaning in seen:
            held.wrong(cell, one.letter, f"Two columns are the {one.meaning}.", "Take one of them out.")
        seen.setdefault(one.meaning, one)
        if one.meaning == "reading" and one.unit and seen["reading"].unit != one.unit:
            held.wrong(cell, one.letter, "The readings have two units.", "Paste readings of one unit at a time.")


def _settle_style(held: _Reading, has_header: bool) -> None:
    """One decimal style for the whole table; a number that could be read in two ways is asked about."""
    numbers = {one.index: one.letter for one in held.columns if one.meaning in NUMBERS}
    cells = [
        (cell, numbers[index])
        for row in held.grid.rows[has_header:]
        for index, cell in sorted(row.cells.items())
        if index in numbers
    ]
    found = style_of((cell.text for cell, _ in cells), delimiter=held.grid.delimiter)
    held.style = found.style
    if found.against:
        for index in found.against:
            held.wrong(*cells[index], "The table has decimal points and decimal commas.", "Use one of them.")
    elif not found.sure:
        cell, letter = cells[found.example]
        held.wrong(cell, letter, "This can be read in two ways.", "Write thousands without a separator.")


def _lines(held: _Reading, has_header: bool) -> Iterator[OutletLine]:
    names: dict[str, int] = {}
    for row in held.grid.rows[has_header:]:
        line = _line(held, row.number, row.cells)
        if line is None:
            continue
        if line.name in names:
            cell = next(row.cells[one.index] for one in held.columns if one.meaning == "outlet")
            held.wrong(cell, "outlet", f"This outlet stands in row {names[line.name]} too.", "Say each outlet once.")
        names.setdefault(line.name, row.number)
        yield line


def _line(held: _Reading, number: int, cells: dict[int, Cell]) -> OutletLine | None:
    texts: dict[str, str] = {}
    numbers: dict[str, float] = {}
    readings: list[float] = []
    state, reason = "read", ""
    for column in held.columns:
        cell = cells.get(column.index)
        if cell is None or not column.meaning:
            continue
        if column.meaning not in NUMBERS:
            texts[column.meaning] = cell.text[:200]
            continue
        said = state_of(cell.text)
        if column.meaning == "reading" and said:
            state, reason = said, cell.text[:200]
            continue
        value = number_of(plain(cell.text).replace(" ", ""), held.style)
        if value is None or value < 0.0:
            what = "This is no airflow." if column.meaning != "factor" else "This is no factor."
            held.wrong(cell, column.letter, what, "Write a number of 0 or more, or closed, blocked or no access.")
        elif column.meaning == "reading":
            readings.append(value)
        else:
            numbers[column.meaning] = value
    if not texts.get("outlet"):
        first = cells[min(cells)]
        held.wrong(first, column_letter(first.column), "This row names no outlet.", "Give its number on the drawing.")
        return None
    return _made(held, number, cells, texts, numbers, readings, state, reason)


def _made(
    held: _Reading,
    number: int,
    cells: dict[int, Cell],
    texts: dict[str, str],
    numbers: dict[str, float],
    readings: list[float],
    state: str,
    reason: str,
) -> OutletLine:
    port = texts.get("port")
    if port is not None and port.casefold() not in _PORT:
        column = next(one for one in held.columns if one.meaning == "port")
        known = ", ".join(PORTS)
        held.wrong(cells[column.index], column.letter, "This is no port of a unit.", f"Write one of: {known}.")
    told = texts.get("reason", "")
    if not readings and state == "read" and told:
        state = state_of(told)
        if not state:
            column = next(one for one in held.columns if one.meaning == "reason")
            held.wrong(
                cells[column.index],
                column.letter,
                "It does not say whether the outlet is closed, blocked or out of reach.",
                "Begin with closed, blocked or no access.",
            )
    if readings and state != "read":
        held.wrong(cells[min(cells)], "reading", "It has a reading and was not read.", "Leave one of them out.")
    return OutletLine(
        row=number,
        name=texts["outlet"][:60],
        port=_PORT.get(port.casefold()) if port else None,
        room=texts.get("room"),
        branch=texts.get("branch"),
        device=texts.get("device"),
        design=numbers.get("design"),
        readings=tuple(readings),
        factor=numbers.get("factor"),
        setting=texts.get("setting", ""),
        state=state or "read",
        reason=told or reason,
    )


def state_of(text: str) -> str:
    """The state that a text begins with, or ''.

    >>> state_of("No access: locked"), state_of("closed"), state_of("12")
    ('no_access', 'closed', '')
    """
    said = re.sub(r"[^a-z]+", " ", text.casefold()).strip()
    return next((state for state, words in STATES.items() if _begins(said, words)), "")


def _begins(said: str, words: Sequence[str]) -> bool:
    return any(said == word or said.startswith(f"{word} ") for word in words)
