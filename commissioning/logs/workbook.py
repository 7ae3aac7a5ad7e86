"""A sheet of a workbook as rows of text, streamed, behind limits: a small file may unpack to gigabytes.

The values are those that were last shown; a formula that nobody computed is an empty field. Moments become ISO text.
"""

import datetime
import io
import zipfile
from collections.abc import Iterator
from typing import Any

import openpyxl
from defusedxml.common import DefusedXmlException
from openpyxl.utils.exceptions import InvalidFileException

from commissioning.logs.problems import CannotRead
from commissioning.logs.table import MOST_CELLS, MOST_COLUMNS, Table, of_rows

MOST_UNPACKED = 600 * 1024 * 1024
MOST_PARTS = 2_000
MOST_RATIO = 100
_RATIO_MATTERS_FROM = 1024 * 1024


def of_workbook(data: bytes, sheet: str = "") -> Table:
    """The named sheet, else the one that reaches furthest down of those that are shown."""
    _check_package(data)
    try:
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
        names = tuple(one.title for one in book.worksheets if one.sheet_state == "visible")
        if not names:
            raise CannotRead("empty", "The workbook has no sheet that is shown.")
        if sheet and sheet not in names:
            raise CannotRead("no_sheet", f"There is no sheet {sheet}; there are {', '.join(names)[:200]}.")
        chosen = sheet or _largest(book, names)
        rows, lines = [], []
        for line, row in _rows(book[chosen]):
            rows.append(row)
            lines.append(line)
    except CannotRead:
        raise
    except (InvalidFileException, KeyError, ValueError, TypeError, IndexError, OSError, EOFError, SyntaxError) as error:
        if isinstance(error, DefusedXmlException) or isinstance(error.__context__, DefusedXmlException):
            told = "A part declares entities, which no spreadsheet program writes."
            raise CannotRead("entity_bomb", told) from error
        raise CannotRead("damaged", "The workbook is damaged. Open it, let it be repaired, save it again.") from error
    except (zipfile.BadZipFile, zipfile.LargeZipFile) as error:
        raise CannotRead("damaged", "The workbook is cut off or damaged. Send it again.") from error
    return of_rows(rows, lines, sheet=chosen, sheets=names)


def _check_package(data: bytes) -> None:
    try:
        parts = zipfile.ZipFile(io.BytesIO(data)).infolist()
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError) as error:
        raise CannotRead("damaged", "The workbook is cut off or damaged. Send it again.") from error
    if len(parts) > MOST_PARTS:
        raise CannotRead("too_many_parts", f"The workbook holds {len(parts):,} parts. Save the log alone.")
    if any(part.flag_bits & 1 for part in parts):
        raise CannotRead("protected", "The workbook is protected by a password. Save it without one.")
    total = sum(part.file_size for part in parts)
    if total > MOST_UNPACKED:
        raise CannotRead("unpacks_too_large", f"The workbook would unpack to {total >> 20:,} MB. Send CSV instead.")
    if total > _RATIO_MATTERS_FROM and total > MOST_RATIO * len(data):
        raise CannotRead("packed_too_tight", "The workbook would unpack to over a hundred times its size.")


def _largest(book: Any, names: tuple[str, ...]) -> str:
    if len(names) == 1:
        return names[0]
    return max(names, key=lambda name: sum(1 for _ in _some(book[name])))


def _some(sheet: Any) -> Iterator[Any]:
    for number, row in enumerate(sheet.iter_rows(values_only=True)):
        if number >= 1000:
            return
        if any(value is not None for value in row):
            yield row


def _rows(sheet: Any) -> Iterator[tuple[int, tuple[str | None, ...]]]:
    sheet.reset_dimensions()
    cells = 0
    for line, row in enumerate(sheet.iter_rows(values_only=True), start=1):
        if len(row) > MOST_COLUMNS:
            raise CannotRead("too_many_columns", f"There are {len(row):,} columns.", line=line)
        if all(value is None for value in row):
            continue
        cells += len(row)
        if cells > MOST_CELLS:
            raise CannotRead("too_many_samples", f"There are over {MOST_CELLS:,} fields. Export a part of it.")
        yield line, tuple(map(_text, row))


def _text(value: Any) -> str | None:
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, datetime.datetime):
        return _rounded(value).isoformat(" ")
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, datetime.time):
        return value.isoformat()
    if isinstance(value, datetime.timedelta):
        return str(value)
    return repr(value)


def _rounded(moment: datetime.datetime) -> datetime.datetime:
    """A spreadsheet keeps days; a millisecond of that is noise."""
    return (moment + datetime.timedelta(microseconds=500)).replace(
        microsecond=(moment + datetime.timedelta(microseconds=500)).microsecond // 1000 * 1000
    )
