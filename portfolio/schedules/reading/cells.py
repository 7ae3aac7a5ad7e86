"""What a read file is made of: cells with an address, rows, grids, and the error that points at a cell."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

MAX_COLUMNS = 200
MAX_ROWS = 50_000
MAX_CELLS = 1_000_000
MAX_CELL_TEXT = 32_767

FORMULA_WITHOUT_VALUE = "formula_without_value"
ERROR_VALUE = "error_value"
DATE_VALUE = "date_value"


@lru_cache(maxsize=1024)
def column_letter(index: int) -> str:
    """The letter of a column counted from 1.

    >>> column_letter(1), column_letter(28), column_letter(16384)
    ('A', 'AB', 'XFD')
    """
    letters = ""
    while index > 0:
        index, remainder = divmod(index - 1, 26)
        letters = chr(65 + remainder) + letters
    return letters


@lru_cache(maxsize=1024)
def column_index(letters: str) -> int:
    """The column of a letter, counted from 1; 0 for what is no column letter.

    >>> column_index("XFD"), column_index("7")
    (16384, 0)
    """
    index = 0
    for letter in letters:
        if not "A" <= letter <= "Z":
            return 0
        index = index * 26 + ord(letter) - 64
    return index


class Address(NamedTuple):
    """Where something is written: sheet, row number, column letter. Row 0 stands for the sheet's own name."""

    sheet: str
    row: int
    column: str

    def __str__(self) -> str:
        place = f"{self.column}{self.row}" if self.row else "its name"
        return f"{self.sheet}!{place}" if self.sheet else place


class Cell(NamedTuple):
    """One cell that holds something.

    A merged region is one `Cell` standing at each of its places, so that `is` tells "the same cell", and its address
    is where the value is written.

    Attributes:
        row, column: where it is written (column counted from 1).
        text: what a person reads in the file, trimmed.
        number: the number, if the *file* says that it is one; a per cent is held as 72, not 0.72.
        unit: what the number's format prints beside it ('%', 'CFM'), else ''.
        fault: '' or why the cell has no usable value.
        merged: the number of places that it covers (1 for an ordinary cell).
    """

    row: int
    column: int
    text: str
    number: float | None = None
    unit: str = ""
    fault: str = ""
    merged: int = 1


class GridRow(NamedTuple):
    """A row that holds something: its number, its cells by column index, whether the file hides it."""

    number: int
    cells: dict[int, Cell]
    hidden: bool = False


@dataclass(frozen=True, slots=True)
class ScheduleError:
    """Why something cannot be used, where, and what to do about it.

    `row` is 0 and `column` is '' where the error is not about one cell.
    """

    sheet: str
    row: int
    column: str
    value: str
    reason: str
    remedy: str
    code: str

    def __str__(self) -> str:
        where = str(Address(self.sheet, self.row, self.column)) if self.row else self.sheet
        shown = f" ({self.value!r})" if self.value else ""
        return f"{where}{shown}: {self.reason}. {self.remedy}."


@dataclass(frozen=True)
class Grid:
    """One sheet, or one text file: its rows in order, only those that hold something.

    Attributes:
        sheet: the sheet's name, or the file's name without its ending.
        form: 'workbook', 'text' or 'pasted'.
        delimiter: what parted the fields of a text, else ''.
        hidden: the file hides the whole sheet.
        errors: why the file could not be read; then there are no rows.
    """

    sheet: str
    rows: tuple[GridRow, ...] = ()
    form: str = "workbook"
    delimiter: str = ""
    hidden: bool = False
    errors: tuple[ScheduleError, ...] = ()
    _places: dict[int, GridRow] = field(init=False, repr=False, compare=False, default_factory=dict)

    def __post_init__(self) -> None:
        self._places.update((row.number, row) for row in self.rows)

    def row(self, number: int) -> GridRow:
        """The row with this number; an empty one where the file has nothing."""
        return self._places.get(number) or GridRow(number, {})

    def address(self, cell: Cell) -> Address:
        return Address(self.sheet, cell.row, column_letter(cell.column))


class Unreadable(Exception):
    """Raised inside this package when a file cannot be read as a whole; `files` turns it into a grid's error."""

    def __init__(
        self,
        code: str,
        reason: str,
        remedy: str,
        *,
        at: tuple[int, int] = (0, 0),
        sheet: str = "",
        value: str = "",
    ) -> None:
        self.code = code
        self.reason = reason
        self.remedy = remedy
        self.at = at
        self.sheet = sheet
        self.value = value
        super().__init__(f"{code}: {reason}")

    def as_error(self, name: str) -> ScheduleError:
        row, column = self.at
        return ScheduleError(
            sheet=self.sheet or name,
            row=row,
            column=column_letter(column),
            value=self.value[:80],
            reason=self.reason,
            remedy=self.remedy,
            code=self.code,
        )


def check_place(row: int, column: int, text: str, *, sheet: str) -> None:
    """Refuse a cell that lies beyond the limits: a sheet of that size is no schedule, and could fill the memory."""
    if row > MAX_ROWS or column > MAX_COLUMNS:
        raise Unreadable(
            "too_large",
            f"the sheet reaches to {column_letter(column)}{row}; at most {MAX_ROWS:,} rows and {MAX_COLUMNS} "
            "columns are read",
            "Delete what lies beyond the schedule, or split the file",
            at=(row, column),
            sheet=sheet,
            value=text,
        )
    if len(text) > MAX_CELL_TEXT:
        raise Unreadable(
            "cell_too_long",
            f"the cell holds {len(text):,} characters; at most {MAX_CELL_TEXT:,} are read",
            "Shorten the text",
            at=(row, column),
            sheet=sheet,
            value=text,
        )


def check_count(count: int, *, sheet: str) -> None:
    """Refuse a file with more filled cells than any schedule has."""
    if count > MAX_CELLS:
        raise Unreadable(
            "too_many_cells",
            f"the file holds more than {MAX_CELLS:,} filled cells",
            "Split the file",
            sheet=sheet,
        )


def rows_in_order(cells: Iterable[tuple[int, int, Cell]], hidden: frozenset[int]) -> tuple[GridRow, ...]:
    """Rows by number from (row, column, cell); the last of two cells at one place counts."""
    rows: dict[int, dict[int, Cell]] = {}
    for row, column, cell in cells:
        rows.setdefault(row, {})[column] = cell
    return tuple(GridRow(number, rows[number], number in hidden) for number in sorted(rows))
