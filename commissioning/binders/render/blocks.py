"""Blocks on paper: one function per block, held complete by a test."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any

from reportlab.lib.utils import ImageReader

from commissioning.binders.render import ink
from commissioning.binders.render.marks import band_alone
from commissioning.binders.render.plots import plot
from commissioning.binders.render.sheet import Sheet
from commissioning.binders.render.tables import GAP, Column, Set, shares_of, table
from commissioning.binders.render.time_plots import time_plot
from commissioning.blocks import Band, Block, Caution, Photo, Plot, Sentence, Table, TimePlot, Working

_WEIGHTS = {"lead": ink.LEAD, "plain": ink.BODY, "aside": ink.ASIDE}
_PHOTO_HIGH, _PHOTO_WIDE = 190.0, 300.0
COMPACT = ink.Style(7.6, 9.6)
_SOURCE = ink.Style(7.2, 9.6, ink=ink.GREY)
INDENT = 8.0


@dataclass
class Surroundings:
    """What a block may need beside itself: the photos by hash, and where cited sources are gathered."""

    photos: Mapping[str, bytes] = field(default_factory=dict)
    views: Mapping[str, str] = field(default_factory=dict)  # the hash of the copy that is shown, by the original's
    sources: set[str] = field(default_factory=set)


def sentence(sheet: Sheet, block: Sentence, around: Surroundings) -> None:
    sheet.paragraph(block.text, _WEIGHTS[block.weight])


def caution(sheet: Sheet, block: Caution, around: Surroundings) -> None:
    sheet.need(30.0)
    top, page = sheet.y, sheet.page
    title = f"Caution: {block.hazard}" if block.hazard else "Caution"
    sheet.paragraph(title, ink.Style(9.0, 12.5, bold=True, ink=ink.BRICK, after=0.0), indent=10.0)
    sheet.paragraph(block.text, ink.BODY, indent=10.0)
    if sheet.page == page:
        sheet.stroke(ink.BRICK, 2.0)
        sheet.canvas.line(sheet.left + 2, top - 1, sheet.left + 2, sheet.y + 5)


def block_table(sheet: Sheet, block: Table, around: Surroundings) -> None:
    if block.caption:
        sheet.heading(block.caption, ink.SUBHEADING, keep=36.0)
    head = [f"{column.title} {column.unit}".strip() for column in block.columns]
    shares = shares_of(head, block.rows, COMPACT, sheet.paper.text_width - INDENT)
    spare = max(0.0, sheet.paper.text_width - INDENT - sum(shares) - GAP * (len(shares) - 1))
    shares[-1] += spare if block.columns[-1].align == "left" else 0.0
    room = sum(shares) + GAP * (len(shares) - 1)
    columns = [
        Column(column.title, share, column.align, column.unit)
        for column, share in zip(block.columns, shares, strict=True)
    ]
    table(sheet, columns, block.rows, empty=block.empty, style=COMPACT, indent=INDENT, ruled=False, pad=1.0, room=room)


def band(sheet: Sheet, block: Band, around: Surroundings) -> None:
    band_alone(sheet, block)


def draw_plot(sheet: Sheet, block: Plot, around: Surroundings) -> None:
    plot(sheet, block)


def draw_time_plot(sheet: Sheet, block: TimePlot, around: Surroundings) -> None:
    time_plot(sheet, block)


_WORKING = (Column("", 0.19), Column("", 0.23), Column("", 0.36), Column("", 0.22))


def working(sheet: Sheet, block: Working, around: Surroundings) -> None:
    if block.title:
        sheet.heading(block.title, ink.SUBHEADING, keep=36.0)
    around.sources.update(line.source for line in block.lines if line.source)
    rows = [(line.label, line.expression, line.value, Set(line.source, _SOURCE)) for line in block.lines]
    table(sheet, _WORKING, rows, style=COMPACT, indent=INDENT, ruled=False, pad=1.0)


def photo(sheet: Sheet, block: Photo, around: Surroundings) -> None:
    shown = around.views.get(block.sha256, block.sha256)
    data = around.photos.get(shown)
    words = f"Photo {block.sha256}" + (f": {block.caption}" if block.caption else "")
    if data is None:
        sheet.paragraph(f"{words} (its file is not in this binder)", ink.ASIDE)
        return
    picture = ImageReader(BytesIO(data))
    wide, high = picture.getSize()
    factor = min(_PHOTO_WIDE / wide, _PHOTO_HIGH / high)
    sheet.need(high * factor + 30.0)
    sheet.canvas.drawImage(picture, sheet.left, sheet.y - high * factor, wide * factor, high * factor)
    sheet.down(high * factor + 3.0)
    sheet.paragraph(words, ink.ASIDE)


RENDERERS: dict[type[Block], Callable[[Sheet, Any, Surroundings], None]] = {
    Sentence: sentence,
    Caution: caution,
    Table: block_table,
    Band: band,
    Plot: draw_plot,
    TimePlot: draw_time_plot,
    Working: working,
    Photo: photo,
}


def draw(sheet: Sheet, blocks: Iterable[Block], around: Surroundings) -> None:
    for block in blocks:
        RENDERERS[type(block)](sheet, block, around)
