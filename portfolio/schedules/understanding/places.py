"""What stands around a table and counts for its rows: the building of a title or section, the scope of a table."""

import re

from portfolio.schedules.reading.cells import Address, Cell, column_letter
from portfolio.schedules.understanding.memory import remembered
from portfolio.schedules.understanding.result import ScopeWord, Written
from portfolio.schedules.understanding.tables import BodyRow, Table

_NUMBERED_PLACE = re.compile(
    r"\b(?:BUILDING|BLDG\.?|BLOCK|TOWER|WING)\s+(?:NO\.?\s*)?(?:[A-Z]|[0-9]{1,4}[A-Z]?)\b", re.I
)
_NAMED_PLACE = re.compile(
    r"(?:[\w'&.-]+\s+){1,4}(?:HALL|HOUSE|PAVILION|ANNEX|WING|BLOCK|TOWER|BUILDING|GYMNASIUM|LIBRARY|CENTER|CENTRE)",
    re.IGNORECASE,
)
_PARTS = re.compile(r"\s+[-–—|/:]+\s+|,\s*|:\s+|\s*\n\s*")
_NO_PLACE = re.compile(r"\b(?:SCHEDULE|UNITS?|FANS?|SERVES|AUTOMATION|NOTE|ALL)\b", re.IGNORECASE)
_TITLE_SCOPE = (
    ("added", r"(?:ADDED|ADDITIONAL|NEW(?:LY)? ADDED)"),
    ("deleted", r"(?:DELETED|REMOVED)"),
    ("existing", r"EXISTING"),
    ("deferred", r"(?:FUTURE|DEFERRED)"),
)
_THINGS = r"\s+(?:UNITS?|EQUIPMENT|FANS?|[A-Z]{2,4}S?)\b"


@remembered(1024)
def building_in(text: str) -> str:
    """The building that a title names, '' if none.

    >>> building_in("MESA HOUSE - FAN SCHEDULE"), building_in("BUILDING A ERV SCHEDULE"), building_in("FAN SCHEDULE")
    ('MESA HOUSE', 'BUILDING A', '')
    """
    for part in _PARTS.split(text):
        if _NAMED_PLACE.fullmatch(part.strip()) and not _NO_PLACE.search(part):
            return part.strip()
    numbered = _NUMBERED_PLACE.search(text)
    return numbered.group() if numbered else ""


def building_of(table: Table, row: BodyRow, sheet_building: Written | None) -> Written | None:
    """A row's building: of its section, of its table's title (the nearest line first), or of its sheet."""
    cells: list[Cell] = [row.section] if row.section is not None else []
    for cell in (*cells, *reversed(table.title)):
        name = building_in(cell.text)
        if name:
            return Written(name, Address(table.sheet, cell.row, column_letter(cell.column)))
    return sheet_building


def building_of_sheet(sheet: str) -> Written | None:
    """The building in a sheet's name."""
    name = building_in(sheet)
    return Written(name, Address(sheet, 0, "")) if name else None


def scope_of_title(table: Table) -> ScopeWord | None:
    """`ADDED UNITS` over a table counts for all its rows."""
    if not table.title:
        return None
    cell = table.title[-1]
    for code, words in _TITLE_SCOPE:
        if re.match(words + _THINGS, cell.text.strip(), re.IGNORECASE):
            return ScopeWord(code, cell.text, Address(table.sheet, cell.row, column_letter(cell.column)))
    return None
