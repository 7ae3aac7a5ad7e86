"""What the columns of a table mean: recognised from their headings, or chosen by a person, and never dropped."""

from dataclasses import dataclass, field

from commissioning.engineering.units import codes_of
from portfolio.schedules.reading.cells import Address, Cell, ScheduleError, column_letter
from portfolio.schedules.understanding.headers import HeaderColumn
from portfolio.schedules.understanding.headings import read_heading
from portfolio.schedules.understanding.meanings import IGNORE, MEANINGS, TEXT, Meaning
from portfolio.schedules.understanding.result import (
    CHOSEN,
    NOT_UNDERSTOOD,
    RECOGNISED,
    Choices,
    ColumnChoice,
    ColumnMeaning,
    Remark,
)
from portfolio.schedules.understanding.tables import Table
from portfolio.schedules.understanding.tags import kind_of_title

_SHARED_TEXTS = frozenset({"remarks", "notes", "location", "serves", "scope", "kind", IGNORE})
_PORT_OF_KIND = {"exhaust_fan": "exhaust", "makeup_fan": "supply"}


@dataclass
class Column:
    """A column on its way into rows."""

    index: int
    header: str
    meaning: Meaning | None
    unit: str
    how: str
    at: Address
    cites: tuple[str, ...] = ()
    basis: str = ""

    @property
    def letter(self) -> str:
        return column_letter(self.index)


@dataclass
class Columns:
    """All columns of a table, and what was said about them."""

    all: list[Column] = field(default_factory=list)
    errors: list[ScheduleError] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)

    def named(self, code: str) -> list[Column]:
        return [column for column in self.all if column.meaning is not None and column.meaning.code == code]


def title_kind(table: Table) -> str:
    """The kind of unit that the title names; the line nearest to the header counts most."""
    for cell in reversed(table.title):
        kind = kind_of_title(cell.text)
        if kind:
            return kind
    return ""


def understand_columns(table: Table, choices: Choices) -> Columns:
    """Give each column of the table its meaning."""
    found = Columns()
    default_port = _PORT_OF_KIND.get(title_kind(table), "")
    chosen = {
        choice.column.upper(): choice
        for choice in choices.columns
        if choice.sheet == table.sheet and choice.table == table.number
    }
    for header in (*table.header.columns, *_without_heading(table)):
        column = _recognised(table, header, default_port, found)
        choice = chosen.pop(column.letter, None)
        if choice is not None:
            _choose(column, choice, found)
        found.all.append(column)
    for choice in chosen.values():
        found.errors.append(_choice_error(choice, "there is no such column in that table"))
    _tell_twins(table, found)
    return found


def _without_heading(table: Table) -> list[HeaderColumn]:
    """Columns that hold something below the header and have no heading; a merged neighbour's cells do not count."""
    named = {column.index for column in table.header.columns}
    extra: dict[int, None] = {}
    for row in table.body[:2000]:
        for index, cell in row.cells.items():
            if index not in named and not (
                cell.merged > 1 and any(c is cell for i, c in row.cells.items() if i != index)
            ):
                extra[index] = None
    return [HeaderColumn(index, ()) for index in sorted(extra)]


def _recognised(table: Table, header: HeaderColumn, default_port: str, found: Columns) -> Column:
    row = header.cells[-1].row if header.cells else table.header.last_row
    at = Address(table.sheet, row, header.letter)
    if header.index == table.header.tag_column:
        return Column(header.index, header.text, MEANINGS["tag"], "", RECOGNISED, at)
    heading = read_heading(header.path, default_port)
    if heading.meaning == "tag" or not heading.meaning:
        return Column(header.index, header.text, None, "", NOT_UNDERSTOOD, at, heading.cites)
    if heading.unsaid_pressure:
        text = f"'{header.text}' does not say external or total; it is taken as external"
        found.remarks.append(Remark(table.sheet, row, header.letter, text, "pressure_kind_not_said"))
    meaning = MEANINGS[heading.meaning]
    return Column(header.index, header.text, meaning, heading.unit, RECOGNISED, at, heading.cites, heading.basis)


def _choose(column: Column, choice: ColumnChoice, found: Columns) -> None:
    """Let a person's word win over what was recognised."""
    if choice.meaning:
        meaning = MEANINGS.get(choice.meaning)
        if meaning is None:
            found.errors.append(_choice_error(choice, f"'{choice.meaning}' is no meaning of a column"))
            return
        if column.meaning is None or column.meaning.quantity != meaning.quantity:
            column.unit = _unit_in_heading(column.header, meaning) or meaning.unit
        column.meaning = meaning
        column.how = CHOSEN
    if choice.unit:
        if column.meaning is None or not column.meaning.quantity:
            found.errors.append(_choice_error(choice, "a unit is chosen for a column that has no quantity"))
        elif not _fits(choice.unit, column.meaning.quantity):
            found.errors.append(_choice_error(choice, f"'{choice.unit}' is no unit of {column.meaning.quantity}"))
        else:
            column.unit = choice.unit
            column.how = CHOSEN


def _unit_in_heading(header: str, meaning: Meaning) -> str:
    heading = read_heading(tuple(header.split(" / ")))
    known = MEANINGS.get(heading.meaning)
    return heading.unit if known is not None and known.quantity == meaning.quantity else ""


def _fits(code: str, quantity: str) -> bool:
    return code in codes_of(quantity)


def _choice_error(choice: ColumnChoice, reason: str) -> ScheduleError:
    return ScheduleError(
        choice.sheet,
        0,
        choice.column,
        choice.meaning or choice.unit,
        reason,
        "Choose again",
        "choice_does_not_fit",
    )


def _tell_twins(table: Table, found: Columns) -> None:
    """Two columns with one meaning: in two units the first counts; in one unit nobody can tell, so it is an error."""
    first: dict[str, Column] = {}
    for column in found.all:
        meaning = column.meaning
        if meaning is None or meaning.code in _SHARED_TEXTS:
            continue
        earlier = first.setdefault(meaning.code, column)
        if earlier is column:
            continue
        if meaning.form == TEXT:
            column.meaning, column.how = None, NOT_UNDERSTOOD
            text = f"column {earlier.letter} already says this; '{column.header}' is kept beside it"
            found.remarks.append(Remark(table.sheet, column.at.row, column.letter, text, "column_twice"))
        elif meaning.quantity and column.unit and earlier.unit and column.unit != earlier.unit:
            column.meaning = MEANINGS[IGNORE]
            text = f"the same in {column.unit}; column {earlier.letter} in {earlier.unit} counts"
            found.remarks.append(Remark(table.sheet, column.at.row, column.letter, text, "second_unit"))
        else:
            found.errors.append(
                ScheduleError(
                    table.sheet,
                    column.at.row,
                    column.letter,
                    column.header,
                    f"columns {earlier.letter} and {column.letter} both read as {meaning.label}",
                    "Choose the meaning of one of them",
                    "column_twice",
                )
            )


def meanings_of(table: Table, columns: Columns) -> list[ColumnMeaning]:
    """The columns as a dry run shows them."""
    shown = []
    for column in columns.all:
        code = column.meaning.code if column.meaning else ""
        shown.append(
            ColumnMeaning(
                sheet=table.sheet,
                table=table.number,
                column=column.letter,
                header=column.header,
                meaning=code,
                unit=column.unit,
                how=column.how,
                sample=_sample(table, column.index),
            )
        )
    return shown


def _sample(table: Table, index: int) -> str:
    for row in table.body[:50]:
        cell: Cell | None = row.cells.get(index)
        if cell is not None and cell.text:
            return cell.text[:80]
    return ""
