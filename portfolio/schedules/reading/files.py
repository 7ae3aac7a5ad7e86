"""The two ways in: a file's bytes, or a pasted text. What a file is, its content decides and not its name."""

from pathlib import PurePosixPath

from portfolio.schedules.reading.cells import Grid, ScheduleError, Unreadable
from portfolio.schedules.reading.collector import held
from portfolio.schedules.reading.delimited import grid_from_paste, read_text
from portfolio.schedules.reading.package import Package, read_parts
from portfolio.schedules.reading.sheet import read_sheet

MAX_FILE_BYTES = 50 * 1024 * 1024
_ZIP = (b"PK\x03\x04", b"PK\x05\x06", b"PK\x07\x08")
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")


def read_workbook(name: str, data: bytes) -> tuple[Grid, ...]:
    """Read a schedule's file: .xlsx (or .xlsm, its macros ignored), .csv, .tsv, .txt.

    Args:
        name: the file's name, for addresses and messages; its ending is not trusted.
        data: the file.

    Returns:
        One grid per sheet. A file that cannot be read at all gives one grid without rows and with one error.
    """
    stem = PurePosixPath(name.replace("\\", "/")).stem or "file"
    try:
        with held():
            return _read(stem, data)
    except Unreadable as exc:
        return (Grid(sheet=stem, errors=(exc.as_error(stem),)),)
    except (MemoryError, RecursionError):
        return (Grid(sheet=stem, errors=(_beyond_us(stem),)),)


def read_pasted(text: str) -> tuple[Grid, ...]:
    """Read cells that were copied from a spreadsheet program and pasted into a page."""
    try:
        if len(text) > MAX_FILE_BYTES:
            raise _too_large(len(text))
        if not text.strip():
            raise _empty()
        with held():
            return (grid_from_paste(text),)
    except Unreadable as exc:
        return (Grid(sheet="Pasted", form="pasted", errors=(exc.as_error("Pasted"),)),)


def _read(stem: str, data: bytes) -> tuple[Grid, ...]:
    if len(data) > MAX_FILE_BYTES:
        raise _too_large(len(data))
    if not data.strip(b" \t\r\n\xef\xbb\xbf"):
        raise _empty()
    if data.startswith(_OLE):
        raise _old_container(data)
    if data.startswith(b"%PDF"):
        raise Unreadable(
            "pdf",
            "the file is a PDF; its tables cannot be read safely",
            "Ask for the schedule as .xlsx or .csv",
        )
    if not data.startswith(_ZIP):
        return (read_text(stem, data),)
    package = Package(data)
    workbook = read_parts(package)
    grids: list[Grid] = []
    count = 0
    for part in workbook.sheets:
        grid = read_sheet(package, workbook, part, already=count)
        count += sum(len(row.cells) for row in grid.rows)
        grids.append(grid)
    if not any(grid.rows for grid in grids):
        raise _empty()
    return tuple(grids)


def _old_container(data: bytes) -> Unreadable:
    if _ENCRYPTED in data:
        return Unreadable(
            "protected", "the workbook is protected by a password", "Save it without a password and send that"
        )
    return Unreadable(
        "old_workbook",
        "the file is a workbook of the old .xls kind",
        "Open it in a spreadsheet program and save it as .xlsx",
    )


def _too_large(size: int) -> Unreadable:
    return Unreadable(
        "file_too_large",
        f"the file has {size / 1048576:.0f} MB; at most {MAX_FILE_BYTES // 1048576} MB are read",
        "Remove pictures and sheets that are no schedule",
    )


def _empty() -> Unreadable:
    return Unreadable("empty", "nothing is written in it", "Send the file that holds the schedule")


def _beyond_us(name: str) -> ScheduleError:
    return Unreadable("too_large", "the file needs more memory than it may take", "Split the file").as_error(name)
