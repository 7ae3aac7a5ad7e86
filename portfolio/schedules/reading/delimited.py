"""Text with parted fields: .csv in the encodings and with the delimiters that offices send, and pasted cells."""

import codecs
import csv
import io
import re
from collections import Counter

from portfolio.schedules.reading.cells import (
    MAX_CELL_TEXT,
    MAX_COLUMNS,
    MAX_ROWS,
    Cell,
    Grid,
    GridRow,
    Unreadable,
    check_count,
    check_place,
)

_DELIMITERS = ("\t", ";", ",")
_LOOKED_AT = 200
_DIGIT_COMMA_DIGIT = re.compile(r"(?<=\d),(?=\d)")
_QUOTED = re.compile(r'"[^"\n]*"')
_UTF16_SHARE = 0.3


def decode(data: bytes) -> str:
    """Text from bytes: a byte order mark decides; else UTF-8 if it is valid, else the Windows code page 1252."""
    if data.startswith(codecs.BOM_UTF8):
        return _strictly(data, "utf-8-sig")
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return _strictly(data, "utf-16")
    zeros = data.count(0)
    if zeros:
        if len(data) % 2 == 0 and zeros > _UTF16_SHARE * len(data):
            return _strictly(data, "utf-16-be" if data[0] == 0 else "utf-16-le")
        raise _no_text()
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return _strictly(data, "cp1252")


def _strictly(data: bytes, encoding: str) -> str:
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as exc:
        raise _no_text() from exc
    head = text[:10_000]
    odd = sum(1 for character in head if character < " " and character not in "\t\r\n\f")
    if "\0" in text or odd > len(head) / 100:
        raise _no_text()
    return text


def _no_text() -> Unreadable:
    return Unreadable(
        "not_text",
        "the file is neither a workbook nor readable text",
        "Save the schedule as .xlsx or .csv, or copy its cells and paste them",
    )


def delimiter_of(text: str) -> str:
    """The delimiter that parts most lines into the same number of fields.

    Commas between digits do not count: they are decimal commas as often as delimiters.
    """
    lines = [line for line in text.split("\n", _LOOKED_AT)[:_LOOKED_AT] if line.strip()]
    best, best_score = ",", 0.0
    for delimiter in _DELIMITERS:
        widths: Counter[int] = Counter()
        for line in lines:
            bare = _QUOTED.sub("", line)
            if delimiter == ",":
                bare = _DIGIT_COMMA_DIGIT.sub("", bare)
            widths[bare.count(delimiter)] += 1
        score = max((count * width for width, count in widths.items()), default=0) / max(len(lines), 1)
        if score > best_score:
            best, best_score = delimiter, score
    return best


def read_text(name: str, data: bytes) -> Grid:
    """A .csv, .tsv or .txt file as one grid."""
    text = decode(data)
    return grid_from(name, text, delimiter_of(text), form="text")


def grid_from(sheet: str, text: str, delimiter: str, *, form: str) -> Grid:
    """Part a text into a grid; a row's number is the one that a spreadsheet program shows, quoted line breaks apart."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[GridRow] = []
    count = number = line = 0
    try:
        for number, fields in enumerate(reader, start=1):
            line = reader.line_num
            cells: dict[int, Cell] = {}
            for column, value in enumerate(fields, start=1):
                stripped = value.strip()
                if stripped:
                    if number > MAX_ROWS or column > MAX_COLUMNS or len(stripped) > MAX_CELL_TEXT:
                        check_place(number, column, stripped, sheet=sheet)
                    cells[column] = Cell(number, column, stripped)
            if cells:
                count += len(cells)
                check_count(count, sheet=sheet)
                rows.append(GridRow(number, cells))
    except csv.Error as exc:
        raise _badly_quoted(sheet, number + 1, line + 1, text, exc) from exc
    return Grid(sheet=sheet, rows=tuple(rows), form=form, delimiter=delimiter)


def grid_from_paste(text: str) -> Grid:
    """Cells copied from a spreadsheet program; a quote that nobody closes is then just an inch mark."""
    delimiter = "\t" if "\t" in text else delimiter_of(text)
    if "\0" in text:
        raise _no_text()
    try:
        return grid_from("Pasted", text, delimiter, form="pasted")
    except Unreadable as exc:
        if exc.code != "unclosed_quote" or delimiter != "\t":
            raise
    rows = []
    for number, line in enumerate(text.splitlines(), start=1):
        values = ((column, value.strip()) for column, value in enumerate(line.split("\t"), start=1))
        cells = {column: Cell(number, column, value) for column, value in values if value}
        for column, cell in cells.items():
            check_place(number, column, cell.text, sheet="Pasted")
        if cells:
            rows.append(GridRow(number, cells))
    check_count(sum(len(row.cells) for row in rows), sheet="Pasted")
    return Grid(sheet="Pasted", rows=tuple(rows), form="pasted", delimiter="\t")


def _badly_quoted(sheet: str, row: int, line: int, text: str, exc: csv.Error) -> Unreadable:
    if "field limit" in str(exc):
        return Unreadable(
            "cell_too_long",
            f"a field that begins in line {line} is longer than any cell may be; a quote may be left open",
            "Close the quote, or shorten the text",
            sheet=sheet,
            at=(row, 0),
        )
    lines = text.splitlines()
    shown = lines[line - 1] if line <= len(lines) else ""
    return Unreadable(
        "unclosed_quote",
        f"a quotation mark in line {line} is not closed, or text follows it before the next delimiter",
        "Close the quotation mark; write an inch mark inside a quoted field twice",
        sheet=sheet,
        at=(row, 0),
        value=shown,
    )
