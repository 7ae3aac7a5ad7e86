"""Grids to an understanding: tables, columns, the file's decimal style, rows, and what stands in the way."""

import re
from dataclasses import dataclass

from portfolio.schedules.reading.cells import Address, Cell, Grid, ScheduleError, column_letter
from portfolio.schedules.reading.collector import held
from portfolio.schedules.understanding.air import basis_in, settled
from portfolio.schedules.understanding.building import design_row
from portfolio.schedules.understanding.columns import Columns, meanings_of, understand_columns
from portfolio.schedules.understanding.drafts import Draft
from portfolio.schedules.understanding.equipment import OwnWord
from portfolio.schedules.understanding.joining import one_per_tag
from portfolio.schedules.understanding.meanings import ELECTRICAL, TEXT
from portfolio.schedules.understanding.notes import NoteBook
from portfolio.schedules.understanding.numbers import COMMA, POINT, Style, style_of
from portfolio.schedules.understanding.places import building_of_sheet
from portfolio.schedules.understanding.plausible import remarks_on
from portfolio.schedules.understanding.result import (
    AirBasis,
    Choices,
    Question,
    Remark,
    TableFound,
    Understanding,
)
from portfolio.schedules.understanding.rows import RowReader
from portfolio.schedules.understanding.said import Said
from portfolio.schedules.understanding.tables import Sheet, Table, read_sheet_tables

_BEGINS_WITH_FIGURE = re.compile(r"[\s(+-]*[0-9]")
_CITED = re.compile(r"[\(\[][0-9, ]*[\)\]]\s*$")
_PARTIAL = re.compile(
    r"\bNOT\s+SHOWN\s+REMAIN|\bADDENDUM\b|\bREVISED\s+UNITS\b|\bREMAIN(?:S)?\s+(?:AS|UNCHANGED)", re.I
)
AIR_BASES = ("standard", "actual", "not stated")


@dataclass
class _Read:
    """A table with what its columns mean; `basis` is settled later."""

    sheet: Sheet
    table: Table
    columns: Columns
    skipped: bool
    basis: AirBasis | None = None


def understand(
    grids: tuple[Grid, ...],
    *,
    choices: Choices | None = None,
    known_tags: frozenset[str] = frozenset(),
    own: tuple[OwnWord, ...] = (),
) -> Understanding:
    """Understand a schedule.

    Args:
        grids: what `read_workbook` or `read_pasted` gave.
        choices: what a person said after an earlier dry run.
        known_tags: tags that the project has; they are read as they are, and a new tag close to one is remarked on.
        own: options and field sensors that the firm has beside those of the catalogue.

    Returns:
        Everything that was understood. Never raises for what a file may hold: what cannot be used is an error in it.
    """
    with held():
        return _understand(grids, choices or Choices(), known_tags, own)


def _understand(
    grids: tuple[Grid, ...], choices: Choices, known_tags: frozenset[str], own: tuple[OwnWord, ...]
) -> Understanding:
    said = Said()
    unreadable = tuple(error for grid in grids for error in grid.errors)
    if unreadable:
        return Understanding(errors=unreadable)
    sheets = [read_sheet_tables(grid) for grid in grids]
    read = [_read(sheet, table, choices, said) for sheet in sheets for table in sheet.tables]
    if not read:
        return Understanding(errors=(_no_header(grids),))
    _stale_choices(read, choices, said)
    used = [one for one in read if not one.skipped]
    decimal, style_question = _decimal(grids, used, choices, said)
    _settle_air(sheets, used, choices, said)
    drafts = one_per_tag(_drafts(used, decimal, known_tags, said, own), choices, said)
    _tell_of_sheets(sheets, used, said)
    said.remarks += remarks_on(drafts)
    questions = tuple(question for question in (style_question, _air_question(drafts)) if question is not None)
    if used and not drafts and not said.errors:
        said.errors.append(_no_rows(used[0].table))
    return Understanding(
        rows=tuple(design_row(draft) for draft in drafts),
        columns=tuple(column for one in read for column in meanings_of(one.table, one.columns)),
        tables=tuple(_found(one, drafts) for one in read),
        errors=tuple(sorted(said.errors, key=lambda error: _order(grids, error))),
        remarks=tuple(said.remarks),
        questions=questions,
        decimal=decimal,
    )


def _read(sheet: Sheet, table: Table, choices: Choices, said: Said) -> _Read:
    skipped = (table.sheet, table.number) in {(name, number) for name, number in choices.skip}
    columns = understand_columns(table, choices)
    if not skipped:
        said.errors += columns.errors
        said.remarks += columns.remarks
    return _Read(sheet, table, columns, skipped)


def _order(grids: tuple[Grid, ...], error: ScheduleError) -> tuple[int, int, int, str]:
    place = next((index for index, grid in enumerate(grids) if grid.sheet == error.sheet), len(grids))
    return place, error.row, len(error.column), error.column


def _no_header(grids: tuple[Grid, ...]) -> ScheduleError:
    grid = next((grid for grid in grids if grid.rows), grids[0] if grids else Grid(""))
    first = grid.rows[0] if grid.rows else None
    cell = next(iter(first.cells.values())) if first else None
    return ScheduleError(
        grid.sheet,
        cell.row if cell else 0,
        column_letter(cell.column) if cell else "",
        cell.text[:80] if cell else "",
        "no row was found that names the columns of a schedule",
        "Give the table a header with a tag column (TAG, MARK or UNIT NO.) and columns such as SUPPLY AIRFLOW (CFM)",
        "no_header",
    )


def _no_rows(table: Table) -> ScheduleError:
    return ScheduleError(
        table.sheet,
        table.header.last_row,
        "",
        table.title_text[:80],
        "a header was found, and no unit below it",
        "Send the schedule with its rows",
        "no_rows",
    )


def _stale_choices(read: list[_Read], choices: Choices, said: Said) -> None:
    """A choice for a table that is not in the file may have been meant for another file."""
    known = {(one.table.sheet, one.table.number) for one in read}
    named = {(choice.sheet, choice.table) for choice in choices.columns} | set(choices.skip)
    for sheet, number in sorted(named - known):
        said.error(
            Address(sheet, 0, ""),
            f"table {number}",
            "a choice names a table that is not in the file",
            "Look at the file's tables and choose again",
            "choice_does_not_fit",
        )


def _decimal(grids: tuple[Grid, ...], used: list[_Read], choices: Choices, said: Said) -> tuple[str, Question | None]:
    """The one decimal style of the file."""
    cells = list(_text_numbers(used))
    if choices.decimal:
        return (COMMA if choices.decimal == COMMA else POINT), None
    delimiter = next((grid.delimiter for grid in grids if grid.delimiter), "")
    style = style_of([_CITED.sub("", cell.text) for _, cell in cells], delimiter=delimiter)
    if style.against is not None:
        (one_sheet, one), (other_sheet, other) = (cells[index] for index in style.against)
        first = Address(one_sheet, one.row, column_letter(one.column))
        second = Address(other_sheet, other.row, column_letter(other.column))
        said.error(
            second,
            other.text,
            f"the file mixes decimal points and decimal commas: {one.text!r} in {first}, {other.text!r} in {second}",
            "Write all numbers in one way, or choose the decimal mark",
            "decimal_mixed",
        )
        return style.style, None
    if style.example < 0:
        return style.style, None
    return style.style, _decimal_question(style, *cells[style.example], said)


def _decimal_question(style: Style, sheet: str, cell: Cell, said: Said) -> Question | None:
    at = Address(sheet, cell.row, column_letter(cell.column))
    if not style.sure:
        text = f"Is {cell.text!r} in {at} a number of thousands, or has it decimals? Nothing in the file tells."
        return Question("decimal", text, (POINT, COMMA), (str(at),))
    if "." not in cell.text and style.style == POINT:
        said.remark(at, f"'{cell.text}' is read with a comma between thousands", "thousands_comma")
    return None


def _text_numbers(used: list[_Read]) -> list[tuple[str, Cell]]:
    found: list[tuple[str, Cell]] = []
    for one in used:
        indexes = [
            column.index
            for column in one.columns.all
            if column.meaning is not None and column.meaning.form not in (TEXT, ELECTRICAL)
        ]
        for row in one.table.body:
            cells = row.cells
            for index in indexes:
                cell = cells.get(index)
                if cell is None or cell.number is not None or not ("," in cell.text or "." in cell.text):
                    continue
                if _BEGINS_WITH_FIGURE.match(cell.text) or "MAX" in cell.text.upper():
                    found.append((one.table.sheet, cell))
    return found


def _settle_air(sheets: list[Sheet], used: list[_Read], choices: Choices, said: Said) -> None:
    """The air basis of each table: its own texts, the sheet's, or a sheet of notes; then a person's word.

    A person answers for the tables that do not say, or that say both; what a table states plainly stays: one answer
    for an open sheet must not turn another sheet's stated air into something else.
    """
    chosen = AirBasis(choices.air_basis, "chosen", Address("", 0, "")) if choices.air_basis in AIR_BASES else None
    general = [found for sheet in sheets if not sheet.tables for found in _bases(sheet.grid.sheet, sheet.loose)]
    for one in used:
        around = _bases(one.table.sheet, one.sheet.loose)
        for found in (_own_bases(one), around, general):
            basis, against = settled(found)
            if against is not None and chosen is None:
                _contradicting(against, said)
            if basis is not None or against is not None:
                one.basis = basis if against is None else chosen or basis
                break
        one.basis = one.basis or chosen


def _bases(sheet: str, cells: list[Cell]) -> list[AirBasis]:
    found = (basis_in(cell.text, Address(sheet, cell.row, column_letter(cell.column))) for cell in cells)
    return [basis for basis in found if basis is not None]


def _own_bases(one: _Read) -> list[AirBasis]:
    table = one.table
    found = [AirBasis(column.basis, column.header, column.at) for column in one.columns.all if column.basis]
    heads = {id(cell): cell for column in table.header.columns for cell in column.cells}
    found += _bases(table.sheet, list(heads.values()))
    found += [basis for note in table.notes if (basis := basis_in(note.text, note.at)) is not None]
    return found + _bases(table.sheet, table.title + table.sections)


def _contradicting(against: tuple[AirBasis, AirBasis], said: Said) -> None:
    first, second = against
    where = f"{first.at} and {second.at}" if first.at != second.at else str(first.at)
    said.error(
        second.at,
        second.text,
        f"the air basis is stated as standard and as actual ({where})",
        "Choose the air basis",
        "air_basis_contradicts",
    )


def _air_question(drafts: list[Draft]) -> Question | None:
    """Ask for the air basis where a row gives airflows and nothing says of which air."""
    open_tables = dict.fromkeys(
        f"{draft.key.at.sheet}, table {draft.table}"
        for draft in drafts
        if draft.basis is None and any(path.endswith(("airflow", "minimum")) for path in draft.values)
    )
    if not open_tables:
        return None
    text = "Do the airflows count standard air or actual air? These tables do not say."
    return Question("air_basis", text, AIR_BASES, tuple(open_tables))


def _drafts(
    used: list[_Read], decimal: str, known: frozenset[str], said: Said, own: tuple[OwnWord, ...]
) -> list[Draft]:
    notes = NoteBook([one.table for one in used])
    found: list[Draft] = []
    for one in used:
        reader = RowReader(
            one.table,
            one.columns,
            style=decimal,
            known=known,
            notes=notes,
            basis=one.basis,
            said=said,
            sheet_building=building_of_sheet(one.table.sheet),
            own=own,
        )
        found += reader.drafts()
    return found


def _tell_of_sheets(sheets: list[Sheet], used: list[_Read], said: Said) -> None:
    """What a reader of the file may not see, or may miss in what was understood."""
    for sheet in sheets:
        name = sheet.grid.sheet
        if sheet.grid.rows and not sheet.tables:
            said.remarks.append(Remark(name, 0, "", "no table was found on this sheet", "no_table_on_sheet"))
        for row in sheet.figures[:5]:
            text = f"row {row.number} has figures and belongs to no table"
            said.remarks.append(Remark(name, row.number, "", text, "outside_tables"))
        if sheet.grid.hidden and sheet.tables:
            said.remarks.append(Remark(name, 0, "", "the sheet is hidden in the file, and was read", "hidden_sheet"))
    for one in used:
        hidden = [row.number for row in one.table.body if row.hidden]
        if hidden:
            numbers = ", ".join(str(number) for number in hidden[:10]) + (" ..." if len(hidden) > 10 else "")
            text = f"{len(hidden)} hidden rows were read: {numbers}"
            said.remarks.append(Remark(one.table.sheet, hidden[0], "", text, "hidden_rows"))
    texts = [cell for one in used for cell in (*one.sheet.loose, *one.table.title)]
    partial = next((cell for cell in texts if _PARTIAL.search(cell.text)), None)
    if partial is not None:
        text = f"'{partial.text}': this may be a partial revision"
        said.remarks.append(Remark("", partial.row, column_letter(partial.column), text, "looks_partial"))


def _found(one: _Read, drafts: list[Draft]) -> TableFound:
    table = one.table
    left, right = table.header.span
    place = (table.sheet, table.number)
    count = sum(1 for draft in drafts if (draft.key.at.sheet, draft.table) == place) if not one.skipped else 0
    return TableFound(
        sheet=table.sheet,
        number=table.number,
        title=table.title_text,
        header_row=table.header.first_row,
        first_row=table.body[0].number if table.body else table.header.last_row + 1,
        last_row=table.last_row,
        first_column=column_letter(left),
        last_column=column_letter(right),
        rows=count,
        air_basis=one.basis,
        skipped=one.skipped,
    )
