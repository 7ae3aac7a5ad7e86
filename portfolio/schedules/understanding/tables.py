"""Tables on a sheet: the title above a header, the rows below it, section headings among them, footnotes after them."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from portfolio.schedules.reading.cells import Cell, Grid, GridRow, column_letter
from portfolio.schedules.understanding.headers import Header, distinct, find_headers
from portfolio.schedules.understanding.result import Note
from portfolio.schedules.understanding.tags import looks_like_tag

_NOTES = re.compile(
    r"(?:GENERAL |KEY ?|FOOT|SCHEDULE |EQUIPMENT |UNIT )?NOTES?\s*(?:[:.\-]\s*(.*)|)",
    re.IGNORECASE | re.DOTALL,
)
_NUMBERED = re.compile(r"[\(\[]?([0-9]{1,2}|[A-Z]|\*+)\s*[.):\]]+\s*(\S.*)", re.DOTALL)
_NUMBER_ALONE = re.compile(r"[\(\[]?([0-9]{1,2}|[A-Z]|\*+)\s*[.):\]]*")
_TOTAL = re.compile(r"(?:SUB-?\s?|GRAND )?TOTALS?\b.*|SUM\b.*", re.IGNORECASE)
_FIGURE = re.compile(r"[\(]?[+-]?[0-9.,]*[0-9]")


@dataclass
class BodyRow:
    """A row below a header: its cells inside the table, the section heading above it."""

    number: int
    cells: dict[int, Cell]
    section: Cell | None = None
    hidden: bool = False


@dataclass
class Table:
    """A table as it stands on the sheet, before its columns are understood."""

    sheet: str
    number: int
    header: Header
    title: list[Cell] = field(default_factory=list)
    body: list[BodyRow] = field(default_factory=list)
    continued: list[tuple[BodyRow, BodyRow]] = field(default_factory=list)
    without_key: list[BodyRow] = field(default_factory=list)
    totals: list[BodyRow] = field(default_factory=list)
    sections: list[Cell] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    own_notes: bool = False

    @property
    def title_text(self) -> str:
        return " / ".join(" ".join(cell.text.split()) for cell in self.title)

    @property
    def last_row(self) -> int:
        return max((row.number for row in (*self.body, *self.without_key)), default=self.header.last_row)


@dataclass
class Sheet:
    """All that was found on a sheet: tables, texts outside of them, rows of figures that belong to none."""

    grid: Grid
    tables: list[Table] = field(default_factory=list)
    loose: list[Cell] = field(default_factory=list)
    figures: list[GridRow] = field(default_factory=list)


def read_sheet_tables(grid: Grid) -> Sheet:
    """Part a sheet into tables, their notes, and the texts around them."""
    sheet = Sheet(grid)
    headers = find_headers(grid)
    starts = sorted({header.first_row for header in headers})
    before = _rows_between(grid, 0, starts[0] if starts else 10**9, None)
    title, notes = _Walk(grid, None).outside(before, sheet)
    titles = {starts[0]: title} if starts else {}
    for number, header in enumerate(headers, start=1):
        table = Table(grid.sheet, number, header)
        stop = min((other.first_row for other in headers if _below(other, header)), default=10**9)
        trailing = _Walk(grid, table).body(_rows_between(grid, header.last_row, stop, _span(header, headers)))
        if stop in titles:
            titles[stop].extend(cell for cell in trailing if cell not in titles[stop])
        else:
            titles[stop] = trailing
        sheet.tables.append(table)
    for table in sheet.tables:
        table.title = _titles_of(table, titles.get(table.header.first_row, []))
    sheet.loose += title + titles.get(10**9, [])
    _share_notes(sheet.tables, notes)
    return sheet


def _below(other: Header, header: Header) -> bool:
    """Whether another header ends this one's rows: it stands lower, over some of the same columns."""
    left, right = header.span
    return other.first_row > header.last_row and other.span[0] <= right and other.span[1] >= left


def _span(header: Header, headers: list[Header]) -> tuple[int, int]:
    """The columns of a table: those of its header, and what is free beside it."""
    left, right = header.span
    beside = [other for other in headers if other is not header and other.first_row == header.first_row]
    lower = max((other.span[1] + 1 for other in beside if other.span[1] < left), default=1)
    upper = min((other.span[0] - 1 for other in beside if other.span[0] > right), default=10**6)
    return (lower if not beside else left), (upper if beside else 10**6)


def _titles_of(table: Table, cells: list[Cell]) -> list[Cell]:
    """The title cells over a table; for tables side by side only those over its own columns."""
    left, right = table.header.span
    own = [cell for cell in cells if left <= cell.column <= right]
    return own or cells


def _rows_between(grid: Grid, after: int, before: int, span: tuple[int, int] | None) -> Iterator[GridRow]:
    for row in grid.rows:
        if row.number <= after:
            continue
        if row.number >= before:
            break
        if span is None or (span[0] <= 1 and span[1] >= 10**6):
            yield row
        else:
            inside = {column: cell for column, cell in row.cells.items() if span[0] <= column <= span[1]}
            if inside:
                yield GridRow(row.number, inside, row.hidden)


def _share_notes(tables: list[Table], before: list[Note]) -> None:
    """Footnotes close the tables above them: a block counts for all tables since the block before it."""
    waiting: list[Table] = []
    for table in tables:
        waiting.append(table)
        if table.own_notes:
            for earlier in waiting[:-1]:
                earlier.notes = list(table.notes)
            waiting = []
    blocks = [table.notes for table in tables if table.own_notes]
    for table in waiting:
        if len(blocks) == 1:
            table.notes = list(blocks[0])
    if before:
        for table in tables:
            table.notes = before + table.notes


class _Walk:
    """One pass over the rows below a header (or above the first one), telling figures from texts and notes."""

    def __init__(self, grid: Grid, table: Table | None) -> None:
        self._grid = grid
        self._table = table
        self._key = table.header.key_column if table else 0
        self._section: Cell | None = None
        self._loose: list[Cell] = []
        self._notes: list[Note] = []
        self._in_notes = False
        self._last = 0

    def outside(self, rows: Iterator[GridRow], sheet: Sheet) -> tuple[list[Cell], list[Note]]:
        """Read what belongs to no table: texts, notes, and rows of figures that nothing explains."""
        for row in rows:
            cells = distinct(row)
            if self._noted(row, cells):
                continue
            if sum(1 for _, cell in cells if _is_figure(cell)) >= 3:
                sheet.figures.append(row)
            self._loose += [cell for _, cell in cells if cell.text]
            self._last = row.number
        return self._loose, self._notes

    def body(self, rows: Iterator[GridRow]) -> list[Cell]:
        """Read the rows of the table; the texts left at its end are the next table's title."""
        table = self._table
        assert table is not None
        for row in rows:
            self._one(table, row)
            self._last = row.number
        table.notes = self._notes
        table.own_notes = bool(self._notes)
        return self._loose

    def _one(self, table: Table, row: GridRow) -> None:
        cells = distinct(row) if len(row.cells) < 4 or any(c.merged > 1 for c in row.cells.values()) else None
        key = row.cells.get(self._key) if self._key else None
        many = cells is None or len(cells) > 1
        if cells is not None and self._noted(row, cells, key):
            return
        if many and key is not None and (key.number is not None or not _TOTAL.fullmatch(key.text)):
            self._data(table, row)
        elif many and key is not None:
            table.totals.append(self._row(row))
        elif cells is not None and len(cells) == 1:
            self._alone(table, row, cells[0][1], key)
        elif any(_is_figure(cell) or cell.fault for cell in row.cells.values()):
            first = next(iter(row.cells.values()))
            (table.totals if _TOTAL.fullmatch(first.text) else table.without_key).append(self._row(row))
        elif table.body:
            table.continued.append((table.body[-1], self._row(row)))

    def _data(self, table: Table, row: GridRow) -> None:
        self._in_notes = False
        if self._loose:
            self._section = self._loose[-1]
            table.sections += self._loose
            self._loose = []
        table.body.append(self._row(row))

    def _row(self, row: GridRow) -> BodyRow:
        return BodyRow(row.number, row.cells, self._section, row.hidden)

    def _alone(self, table: Table, row: GridRow, cell: Cell, key: Cell | None) -> None:
        """A row with one thing in it: a tag, a total, the end of the text above, or a section's heading."""
        if key is not None and looks_like_tag(cell.text) and cell.merged == 1:
            self._data(table, row)
        elif key is None and cell.number is not None:
            table.without_key.append(self._row(row))
        elif key is None and cell.column > table.header.key_column > 0 and self._follows(table, row):
            table.continued.append((table.body[-1], self._row(row)))
        else:
            self._loose.append(cell)

    def _follows(self, table: Table, row: GridRow) -> bool:
        return bool(table.body) and not self._loose and row.number - max(self._last, 0) == 1

    def _noted(self, row: GridRow, cells: list[tuple[int, Cell]], key: Cell | None = None) -> bool:
        """Take the row as (part of) a note, if it is one."""
        first = cells[0][1]
        heading = _NOTES.fullmatch(first.text) if len(cells) <= 2 else None
        if heading:
            self._in_notes = True
            rest = (heading.group(1) or "").strip() or (cells[1][1].text if len(cells) == 2 else "")
            if rest:
                self._add_note(rest, first)
            self._last = row.number
            return True
        if not self._in_notes and not (self._table and self._table.body and self._starts_notes(cells, key)):
            return False
        if len(cells) > 2 and key is not None and looks_like_tag(key.text):
            return False
        joined = " ".join(cell.text for _, cell in cells)
        number = _NUMBER_ALONE.fullmatch(first.text) if len(cells) > 1 else None
        if number is None and not _NUMBERED.fullmatch(joined) and row.number - self._last > 1 and self._notes:
            self._in_notes = False
            return False
        if number:
            joined = f"{number.group(1)}. " + " ".join(cell.text for _, cell in cells[1:])
        self._in_notes = True
        self._add_note(joined, first)
        self._last = row.number
        return True

    def _starts_notes(self, cells: list[tuple[int, Cell]], key: Cell | None) -> bool:
        """A numbered sentence under a table begins its notes, though nobody wrote NOTES over it."""
        if len(cells) == 1:
            match = _NUMBERED.fullmatch(cells[0][1].text)
            return bool(match) and len(cells[0][1].text.split()) > 2 and not looks_like_tag(cells[0][1].text)
        if len(cells) != 2:
            return False
        number, text = cells[0][1], cells[1][1]
        return bool(_NUMBER_ALONE.fullmatch(number.text)) and len(text.text.split()) > 2 and text.number is None

    def _add_note(self, text: str, cell: Cell) -> None:
        at = self._grid.address(cell)
        for piece in text.split("\n"):
            words = " ".join(piece.split())
            if not words:
                continue
            match = _NUMBERED.fullmatch(words)
            if match:
                self._notes.append(Note(match.group(1), match.group(2), at))
            elif (self._notes and piece is not text and self._notes[-1].at == at and self._notes[-1].number) or (
                self._notes and self._notes[-1].number and at.row == self._last + 1 and words[:1].islower()
            ):
                last = self._notes.pop()
                self._notes.append(Note(last.number, f"{last.text} {words}", last.at))
            else:
                self._notes.append(Note("", words, at))


def _is_figure(cell: Cell) -> bool:
    return cell.number is not None or bool(_FIGURE.match(cell.text))


def place(cell: Cell) -> str:
    """A cell's place on its sheet, for a sentence."""
    return f"{column_letter(cell.column)}{cell.row}"
