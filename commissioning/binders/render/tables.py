"""Tables with fixed columns: where a page ends the head is drawn again; a row stays whole if a page can hold it."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from commissioning.binders.render import ink
from commissioning.binders.render.fonts import lines_of, printable, width
from commissioning.binders.render.ink import Style
from commissioning.binders.render.sheet import Sheet

PAD = 3.0
GAP = 8.0


@dataclass(frozen=True, slots=True)
class Column:
    """`share` is the column's part of the table's width; the unit stands once, under the title."""

    title: str
    share: float
    align: str = "left"
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A cell that draws itself into (x, top, width, height)."""

    height: float
    draw: Callable[[Sheet, float, float, float, float], None]


@dataclass(frozen=True, slots=True)
class Set:
    """A text cell set otherwise than the table's own."""

    text: str
    style: Style


Cell: TypeAlias = str | Drawn | Set


@dataclass(slots=True)
class _Laid:
    """A cell broken to its column."""

    lines: list[str]
    style: Style
    drawn: Drawn | None = None

    @property
    def height(self) -> float:
        return self.drawn.height if self.drawn else len(self.lines) * self.style.leading


class Grid:
    """Where the columns lie; the same for every row, computed once."""

    def __init__(self, columns: Sequence[Column], room: float) -> None:
        self.columns, self.wide = columns, room
        spare = room - GAP * (len(columns) - 1)
        whole = sum(column.share for column in columns)
        self.widths = [spare * column.share / whole for column in columns]
        self.starts = [sum(self.widths[:index]) + GAP * index for index in range(len(columns))]
        self.head = [
            lines_of(column.title, ink.HEAD.font, ink.HEAD.size, wide) + ([printable(column.unit)] * bool(column.unit))
            for column, wide in zip(columns, self.widths, strict=True)
        ]
        self.head_height = max(map(len, self.head)) * ink.HEAD.leading + PAD

    def lay(self, row: Sequence[Cell], style: Style) -> list[_Laid]:
        laid = []
        for cell, wide in zip(row, self.widths, strict=True):
            if isinstance(cell, Drawn):
                laid.append(_Laid([], style, cell))
            else:
                text, own = (cell, style) if isinstance(cell, str) else (cell.text, cell.style)
                laid.append(_Laid(lines_of(text, own.font, own.size, wide), own))
        return laid


def table(
    sheet: Sheet,
    columns: Sequence[Column],
    rows: Iterable[Sequence[Cell]],
    *,
    style: Style = ink.CELL,
    empty: str = "",
    indent: float = 0.0,
    ruled: bool = True,
    pad: float = PAD,
    room: float | None = None,
) -> None:
    grid = Grid(columns, room or sheet.paper.text_width - indent)
    has_head = any(column.title for column in columns)
    is_empty = True
    for row in rows:
        laid = grid.lay(row, style)
        height = max(cell.height for cell in laid) + 2 * pad
        above = grid.head_height if has_head and is_empty else 0.0
        turned = sheet.need(min(height, sheet.whole_room - grid.head_height) + above)
        if has_head and (is_empty or turned):
            _head(sheet, grid, indent)
        _row(sheet, grid, laid, indent, has_head, pad)
        if ruled:
            sheet.rule(sheet.left + indent, sheet.left + indent + grid.wide, sheet.y)
        is_empty = False
    if is_empty and empty:
        sheet.paragraph(empty, ink.ASIDE, indent=indent)
    sheet.down(6.0)


def _head(sheet: Sheet, grid: Grid, indent: float) -> None:
    lowest = max(map(len, grid.head))
    for column, lines, start, wide in zip(grid.columns, grid.head, grid.starts, grid.widths, strict=True):
        top = sheet.y - (lowest - len(lines)) * ink.HEAD.leading
        _text(sheet, sheet.left + indent + start, top, lines, ink.HEAD, column.align, wide)
    sheet.down(grid.head_height)
    sheet.rule(sheet.left + indent, sheet.left + indent + grid.wide, sheet.y, weight=0.8, colour=ink.BLACK)


def _row(sheet: Sheet, grid: Grid, laid: list[_Laid], indent: float, has_head: bool, pad: float) -> None:
    """One row; what no page can hold is cut between lines."""
    while True:
        height = max(cell.height for cell in laid) + 2 * pad
        room = sheet.room
        if height <= room:
            _cells(sheet, grid, laid, indent, height, pad)
            return
        leading = max(cell.style.leading for cell in laid)
        fit = max(1, int((room - 2 * pad) / leading))
        _cells(sheet, grid, [_cut(cell, 0, fit) for cell in laid], indent, room, pad)
        laid = [_cut(cell, fit, None) for cell in laid]
        sheet.new_page()
        if has_head:
            _head(sheet, grid, indent)


def _cut(cell: _Laid, start: int, end: int | None) -> _Laid:
    return replace(cell, lines=cell.lines[start:end], drawn=cell.drawn if start == 0 else None)


def _cells(sheet: Sheet, grid: Grid, laid: list[_Laid], indent: float, height: float, pad: float) -> None:
    top = sheet.y - pad
    for column, cell, start, wide in zip(grid.columns, laid, grid.starts, grid.widths, strict=True):
        x = sheet.left + indent + start
        if cell.drawn:
            cell.drawn.draw(sheet, x, top, wide, height - 2 * pad)
        else:
            _text(sheet, x, top, cell.lines, cell.style, column.align, wide)
    sheet.down(height)


def _text(sheet: Sheet, x: float, top: float, lines: list[str], style: Style, align: str, wide: float) -> None:
    if align == "left":
        if lines != [""]:
            sheet.lines_at(x, top, lines, style)
        return
    for index, line in enumerate(lines):
        sheet.line_at(x, top - style.size - index * style.leading, line, style, align=align, room=wide)


def shares_of(head: Sequence[str], rows: Sequence[Sequence[str]], style: Style, room: float) -> list[float]:
    """Column widths for a table whose content is not known beforehand: as wide as its lines, none below its words."""
    room -= GAP * (len(head) - 1)
    widest, least = [], []
    for index, title in enumerate(head):
        texts = [(printable(title), ink.HEAD), *((printable(row[index]), style) for row in rows)]
        cells = [width(text, own.font, own.size) for text, own in texts[1:]]
        words = [width(word, own.font, own.size) for text, own in texts for word in text.split(" ")]
        least.append(min(max(words) + 1.0, room / 3))
        widest.append(min(max([*cells, least[-1]]) + 1.0, 0.7 * room))
    spare = room - sum(least)
    wish = [wide - low for wide, low in zip(widest, least, strict=True)]
    factor = max(0.0, min(1.0, spare / sum(wish))) if sum(wish) > 0 else 0.0
    return [low + factor * more for low, more in zip(least, wish, strict=True)]
