"""One worksheet of a workbook, streamed: values, merged regions, hidden rows, formulas that nobody computed.

One pass over the sheet's XML gives all of it. What is read is what the spreadsheet program last showed: the cached
value of a formula, never the formula; a formula whose value was never stored is a fault of its cell.
"""

import math
import re
from dataclasses import dataclass, field

from portfolio.schedules.reading.cells import (
    DATE_VALUE,
    ERROR_VALUE,
    FORMULA_WITHOUT_VALUE,
    MAX_CELL_TEXT,
    MAX_COLUMNS,
    MAX_ROWS,
    Cell,
    Grid,
    GridRow,
    Unreadable,
    check_count,
    check_place,
    column_index,
    column_letter,
)
from portfolio.schedules.reading.formats import PLAIN, Look, date_text, shown
from portfolio.schedules.reading.package import Handler, Package, SheetPart, Workbook, local, unescaped

MAX_MERGED_REGIONS = 20_000
MAX_FILLED_PLACES = 500_000
_REFERENCE = re.compile(r"\$?([A-Z]{1,3})\$?([0-9]{1,7})")


@dataclass
class _Reading:
    """The cell being read: where, of which type and style, and what came so far."""

    row: int = 0
    column: int = 0
    kind: str = "n"
    style: int = 0
    formula: bool = False
    valued: bool = False
    parts: list[str] = field(default_factory=list)


class _Handler(Handler):
    def __init__(self, workbook: Workbook, sheet: str) -> None:
        super().__init__()
        self.rows: dict[int, dict[int, Cell]] = {}
        self.hidden: set[int] = set()
        self.regions: list[tuple[int, int, int, int]] = []
        self.count = 0
        self._workbook = workbook
        self._sheet = sheet
        self._cell = _Reading()
        self._row = 0
        self._listening = False
        self._phonetic = False

    def begin(self, name: str, attrs: dict[str, str]) -> None:
        if ":" in name:
            name = local(name)
        if name == "c":
            self._begin_cell(attrs)
        elif name == "v":
            self._listening = self._cell.valued = True
        elif name == "f":
            self._cell.formula = True
        elif name == "row":
            self._begin_row(attrs)
        elif name == "t":
            self._listening = not self._phonetic and self._cell.kind == "inlineStr"
        elif name == "rPh":
            self._phonetic = True
        elif name == "mergeCell":
            self._add_region(str(attrs.get("ref", "")))

    def characters(self, content: str) -> None:
        if self._listening:
            self._cell.parts.append(content)

    def end(self, name: str) -> None:
        if ":" in name:
            name = local(name)
        if name == "v" or name == "t":
            self._listening = False
        elif name == "c":
            self._end_cell()
        elif name == "rPh":
            self._phonetic = False

    def _begin_row(self, attrs: dict[str, str]) -> None:
        number = str(attrs.get("r", ""))
        self._row = int(number) if number.isdigit() and len(number) < 9 else self._row + 1
        self._cell.column = 0
        if attrs.get("hidden") in ("1", "true"):
            self.hidden.add(self._row)

    def _begin_cell(self, attrs: dict[str, str]) -> None:
        cell = self._cell
        place = attrs.get("r")
        if place is None:
            cell.row, cell.column = self._row, cell.column + 1
        else:
            match = _REFERENCE.fullmatch(place)
            if match is None:
                raise Unreadable("damaged", f"{place!r} is no cell address", "Save the file again", sheet=self._sheet)
            cell.column, cell.row = column_index(match.group(1)), int(match.group(2))
        cell.kind = attrs.get("t", "n")
        style = attrs.get("s", "0")
        cell.style = int(style) if style.isdigit() and len(style) < 8 else 0
        cell.formula = cell.valued = False
        cell.parts = []

    def _end_cell(self) -> None:
        reading = self._cell
        raw = "".join(reading.parts)
        if not raw and not reading.formula:
            return
        cell = self._made(reading, raw)
        if cell is None:
            return
        if cell.row > MAX_ROWS or cell.column > MAX_COLUMNS or len(cell.text) > MAX_CELL_TEXT:
            check_place(cell.row, cell.column, cell.text, sheet=self._sheet)
        self.count += 1
        if not self.count % 1000:
            check_count(self.count, sheet=self._sheet)
        self.rows.setdefault(cell.row, {})[cell.column] = cell

    def _made(self, reading: _Reading, raw: str) -> Cell | None:
        row, column, kind = reading.row, reading.column, reading.kind
        if reading.formula and not raw and not (kind == "str" and reading.valued):
            return Cell(row, column, "", fault=FORMULA_WITHOUT_VALUE)
        if kind == "n":
            return self._number(row, column, raw, reading.style)
        if kind == "s":
            texts = self._workbook.texts
            index = int(raw) if raw.isdigit() and len(raw) < 10 else -1
            if not 0 <= index < len(texts):
                where = f"{column_letter(column)}{row}"
                raise Unreadable("damaged", f"{where} points at no text", "Save the file again", sheet=self._sheet)
            raw = texts[index]
        elif kind == "b":
            raw = "TRUE" if raw == "1" else "FALSE"
        elif kind == "e":
            return Cell(row, column, raw, fault=ERROR_VALUE)
        elif kind == "d":
            return Cell(row, column, raw, fault=DATE_VALUE)
        else:
            raw = unescaped(raw)
        text = raw.strip()
        return Cell(row, column, text) if text else None

    def _number(self, row: int, column: int, raw: str, style: int) -> Cell | None:
        try:
            number = float(raw)
        except ValueError:
            return Cell(row, column, raw.strip(), fault=ERROR_VALUE)
        if not math.isfinite(number):
            return Cell(row, column, raw.strip(), fault=ERROR_VALUE)
        look = self._look(style)
        if look is PLAIN and raw.isdigit():
            return Cell(row, column, raw, number)
        if look.date:
            text = date_text(number, since_1904=self._workbook.since_1904)
            return Cell(row, column, text, fault=DATE_VALUE)
        text, number, unit = shown(number, raw, look)
        return Cell(row, column, text, number, unit)

    def _look(self, style: int) -> Look:
        looks = self._workbook.looks
        return looks[style] if style < len(looks) else PLAIN

    def _add_region(self, reference: str) -> None:
        first, _, last = reference.partition(":")
        corners = [_REFERENCE.fullmatch(corner) for corner in (first, last or first)]
        if len(self.regions) >= MAX_MERGED_REGIONS:
            raise _too_much_merged(self._sheet)
        top, bottom = corners
        if top and bottom:
            self.regions.append(
                (int(top[2]), column_index(top[1]), int(bottom[2]), column_index(bottom[1])),
            )


def read_sheet(package: Package, workbook: Workbook, part: SheetPart, *, already: int) -> Grid:
    """Stream one sheet into a grid; `already` is the number of cells that earlier sheets of the file took."""
    handler = _Handler(workbook, part.name)
    handler.count = already
    package.feed(part.part, handler)
    check_count(handler.count, sheet=part.name)
    rows = handler.rows
    _fill_merged(rows, handler.regions, part.name)
    ordered = tuple(
        GridRow(number, dict(sorted(rows[number].items())), number in handler.hidden) for number in sorted(rows)
    )
    return Grid(sheet=part.name, rows=ordered, hidden=part.hidden)


def _fill_merged(rows: dict[int, dict[int, Cell]], regions: list[tuple[int, int, int, int]], sheet: str) -> None:
    """Let the one cell of each merged region stand at every place of it, as far as the sheet is used."""
    if not rows or not regions:
        return
    last_row = max(rows)
    last_column = max(max(cells) for cells in rows.values() if cells)
    filled = 0
    for top, left, bottom, right in regions:
        cell = rows.get(top, {}).get(left)
        if cell is None:
            continue
        bottom, right = min(bottom, max(last_row, top)), min(right, max(last_column, left))
        places = (bottom - top + 1) * (right - left + 1)
        filled += places
        if filled > MAX_FILLED_PLACES:
            raise _too_much_merged(sheet)
        whole = cell._replace(merged=max(places, 1))
        for row in range(top, bottom + 1):
            cells = rows.setdefault(row, {})
            for column in range(left, right + 1):
                cells[column] = whole


def _too_much_merged(sheet: str) -> Unreadable:
    return Unreadable(
        "too_much_merged",
        "the merged cells of the sheet cover more places than any schedule has",
        "Unmerge the cells outside the schedule",
        sheet=sheet,
    )
