"""Finding headers: the rows that name columns, one to four of them, under titles and above figures.

A header is found by its words, not by its place. One row anchors it (it names the tag, or several quantities); the
rows above may group columns, the rows below may name sub-headings or units.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from portfolio.schedules.reading.cells import Cell, Grid, GridRow, column_letter
from portfolio.schedules.understanding.headings import is_heading_text
from portfolio.schedules.understanding.tags import looks_like_tag
from portfolio.schedules.understanding.words import is_weak_tag_heading, whole_heading

_ROWS_ABOVE = 2
_ROWS_BELOW = 3
_NEUTRAL = re.compile(r"[-–—.\s()]*")
_TITLE_SHARE = 0.7


@dataclass(frozen=True)
class HeaderColumn:
    """A column of a header: its place, and its texts from the top down."""

    index: int
    path: tuple[str, ...]
    cells: tuple[Cell, ...] = field(repr=False, default=())

    @property
    def letter(self) -> str:
        return column_letter(self.index)

    @property
    def text(self) -> str:
        return " / ".join(" ".join(part.split()) for part in self.path)


@dataclass(frozen=True)
class Header:
    """A header found on a sheet: its rows, its columns, and which of them holds the tag or the type."""

    first_row: int
    last_row: int
    columns: tuple[HeaderColumn, ...]
    tag_column: int
    type_column: int

    @property
    def key_column(self) -> int:
        """The column that says which unit a row is about; 0 if there is none."""
        return self.tag_column or self.type_column

    @property
    def span(self) -> tuple[int, int]:
        return self.columns[0].index, self.columns[-1].index


def distinct(row: GridRow) -> list[tuple[int, Cell]]:
    """A row's cells, a merged one only once."""
    seen: set[int] = set()
    found = []
    for column, cell in row.cells.items():
        if cell.merged > 1:
            if id(cell) in seen:
                continue
            seen.add(id(cell))
        found.append((column, cell))
    return found


def find_headers(grid: Grid) -> list[Header]:
    """All headers of a sheet, from the top down, side by side ones from the left."""
    headers: list[Header] = []
    used_to = 0
    for row in grid.rows:
        if row.number > used_to and _is_anchor(row):
            rows = _block(grid, row, used_to)
            used_to = rows[-1].number
            headers.extend(_headers_of(grid, rows))
    return headers


def _is_anchor(row: GridRow) -> bool:
    hints = others = 0
    strong = weak = False
    if len(row.cells) < 2 or any(cell.number is not None for cell in row.cells.values()):
        return False
    for _, cell in distinct(row):
        if is_heading_text(cell.text):
            hints += 1
            strong = strong or whole_heading(cell.text) in ("tag", "type")
            weak = weak or is_weak_tag_heading(cell.text)
        elif not _NEUTRAL.fullmatch(cell.text):
            others += 1
    if strong:
        return hints >= 2 and hints * 2 >= others
    return hints >= 3 and hints >= (others if weak else others * 2)


def _block(grid: Grid, anchor: GridRow, used_to: int) -> list[GridRow]:
    rows = [anchor]
    for number in range(anchor.number - 1, max(used_to, anchor.number - 1 - _ROWS_ABOVE), -1):
        row = grid.row(number)
        if not _continues(row) or _is_title(row, rows[0]):
            break
        rows.insert(0, row)
    for number in range(anchor.number + 1, anchor.number + 1 + _ROWS_BELOW):
        row = grid.row(number)
        if not _continues(row) or _is_section(row, anchor):
            break
        rows.append(row)
    return rows


def _continues(row: GridRow) -> bool:
    """Whether a row beside the anchor is part of the header: words of schedules and units, no figures, no tag."""
    cells = distinct(row)
    hints = others = 0
    for _, cell in cells:
        if cell.number is not None or cell.fault:
            return False
        if is_heading_text(cell.text):
            hints += 1
        elif looks_like_tag(cell.text) or any(character.isdigit() for character in cell.text):
            return False
        elif not _NEUTRAL.fullmatch(cell.text):
            others += 1
    return hints > 0 and hints >= others * 1.5


def _is_title(row: GridRow, below: GridRow) -> bool:
    """One text over the whole table is its title, though its words may be words of a header."""
    cells = distinct(row)
    if len(cells) > 1:
        return False
    column, cell = cells[0]
    columns = sorted(below.cells)
    covered = sum(1 for place in row.cells if columns[0] <= place <= columns[-1])
    return column <= columns[0] or (cell.merged > 1 and covered >= _TITLE_SHARE * len(columns))


def _is_section(row: GridRow, anchor: GridRow) -> bool:
    """One text at the left below a header begins a section, unless it belongs to a merged heading."""
    cells = distinct(row)
    return len(cells) == 1 and cells[0][0] <= min(anchor.cells) and cells[0][1].merged == 1


def _headers_of(grid: Grid, rows: list[GridRow]) -> list[Header]:
    columns = _columns(rows)
    runs = _runs(columns)
    if len(runs) > 1 and not all(_named(run, ("tag", "type")) for run in runs):
        runs = [columns]
    return [_header(grid, rows, run) for run in runs]


def _header(grid: Grid, rows: list[GridRow], columns: list[HeaderColumn]) -> Header:
    tag = _named(columns, ("tag",))
    kind = _named(columns, ("type",))
    if not tag and not kind:
        tag = next((column.index for column in columns if column.path and is_weak_tag_heading(column.path[-1])), 0)
        tag = tag or _inferred_tag(grid, rows[-1].number, columns)
    elif not tag:
        weak = next((column.index for column in columns if column.path and is_weak_tag_heading(column.path[-1])), 0)
        tag = weak if weak and _share_of_tags(grid, rows[-1].number, weak) >= 0.5 else 0
    return Header(rows[0].number, rows[-1].number, tuple(columns), tag, kind)


def _named(columns: Sequence[HeaderColumn], meanings: tuple[str, ...]) -> int:
    """The first column whose whole heading is one of these; a detail of a fan or motor is not."""
    for column in columns:
        joined = " ".join(column.path)
        if whole_heading(joined) in meanings:
            return column.index
        if column.path and whole_heading(column.path[-1]) in meanings and len(column.path) == 1:
            return column.index
    for column in columns:
        if len(column.path) > 1 and whole_heading(column.path[-1]) == "tag" and "tag" in meanings:
            return column.index
    return 0


def _inferred_tag(grid: Grid, header_end: int, columns: list[HeaderColumn]) -> int:
    first = columns[0].index
    for index in (first, first - 1, first + 1):
        if index > 0 and _share_of_tags(grid, header_end, index) >= 0.6:
            return index
    return 0


def _share_of_tags(grid: Grid, header_end: int, column: int) -> float:
    """How many of the next filled cells of a column look like tags."""
    looked = tags = 0
    for number in range(header_end + 1, header_end + 21):
        cell = grid.row(number).cells.get(column)
        if cell is not None:
            looked += 1
            tags += looks_like_tag(cell.text)
    return tags / looked if looked else 0.0


def _columns(rows: list[GridRow]) -> list[HeaderColumn]:
    found: list[HeaderColumn] = []
    for index in sorted({column for row in rows for column in row.cells}):
        texts: list[str] = []
        cells: list[Cell] = []
        for depth, row in enumerate(rows):
            cell = row.cells.get(index) or _group_from_left(rows, depth, index)
            if cell is None or _NEUTRAL.fullmatch(cell.text) or cell in cells:
                continue
            cells.append(cell)
            texts.append(cell.text)
        if texts and not _same_as(found, cells, rows, index):
            found.append(HeaderColumn(index, tuple(texts), tuple(cells)))
    return found


def _same_as(found: list[HeaderColumn], cells: list[Cell], rows: list[GridRow], index: int) -> bool:
    """A heading merged over two columns, with nothing below that parts them, is one column."""
    if not found or found[-1].index != index - 1:
        return False
    return all(cell.merged > 1 for cell in cells) and list(found[-1].cells) == cells


def _group_from_left(rows: list[GridRow], depth: int, index: int) -> Cell | None:
    """A group's heading that stands unmerged over its first column only (as in every .csv)."""
    if not any(index in row.cells for row in rows[depth + 1 :]):
        return None
    for column in range(index - 1, 0, -1):
        if not any(column in row.cells for row in rows):
            return None
        cell = rows[depth].cells.get(column)
        if cell is not None:
            if not _under_one_group(rows[:depth], column, index):
                return None
            groups = any(column in row.cells for row in rows[depth + 1 :])
            return cell if groups and cell.merged == 1 and not whole_heading(cell.text) else None
    return None


def _under_one_group(above: list[GridRow], left: int, right: int) -> bool:
    """Whether nothing above parts two columns: the right one has no heading there, or both have the same."""
    return all(row.cells.get(right) in (None, row.cells.get(left)) for row in above)


def _runs(columns: list[HeaderColumn]) -> list[list[HeaderColumn]]:
    runs: list[list[HeaderColumn]] = []
    for column in columns:
        if runs and runs[-1][-1].index == column.index - 1:
            runs[-1].append(column)
        else:
            runs.append([column])
    return runs
