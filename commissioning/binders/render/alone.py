"""A document of one unit alone: blocks, ink and edges of a binder, without cover, contents or attachment."""

from bisect import bisect_left
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from commissioning.binders.render import ink
from commissioning.binders.render.blocks import COMPACT, Surroundings, draw
from commissioning.binders.render.fonts import INITIAL, printable
from commissioning.binders.render.ink import PAPERS, Paper
from commissioning.binders.render.sheet import Sheet
from commissioning.binders.render.tables import Column, table
from commissioning.blocks import Block, Table

COLUMNS, GAP = 3, 16.0
SCALES = (1.0, 0.96, 0.92, 0.88, 0.84, 0.8, 0.77, 0.74, 0.7, 0.65, 0.6)
"""From the usual type down to the least that is read on paper: the smallest cell is 4.6 points then, 6.1 at 0.8."""
_STEP = 18.0
_SHARES = {2: (0.59, 0.41), 3: (0.42, 0.29, 0.29)}
_WHERE = ink.Style(9.0, 12.0, ink=ink.GREY)


class TooMuch(ValueError):
    """What is to stand on one page does not, at any size."""


@dataclass(frozen=True)
class Heading:
    """What stands at the head and at the edges of a document of one unit."""

    title: str
    tag: str
    where: str
    foot: str


def on_pages(heading: Heading, sections: Iterable[tuple[str, Sequence[Block]]], display: str) -> bytes:
    """As many pages as it takes. A section without a title stands under the document's own."""
    file = BytesIO()
    paper = _paper(display)
    canvas = _canvas(file, heading, paper)
    sheet = _begun(canvas, paper, heading)
    for title, blocks in sections:
        if title:
            sheet.heading(title, ink.PART, keep=80.0)
        draw(sheet, blocks, Surroundings())
    sheet.finish()
    canvas.save()
    return file.getvalue()


def on_one_page(heading: Heading, head: Sequence[Block], body: Sequence[Block], display: str) -> bytes:
    """`head` across the page, `body` in columns under it: in the largest type that fits, its columns even."""

    def drawn(scale: float, foot: float) -> bytes | None:
        return _drawn(_scaled(_paper(display), scale), scale, foot, heading, head, body)

    scale = _first(SCALES, lambda one: drawn(one, _foot(one, display)) is not None)
    feet = _feet(_scaled(_paper(display), scale))
    made = drawn(scale, _first(feet, lambda foot: drawn(scale, foot) is not None))
    assert made is not None
    return made


def _first(among: Sequence[float], fits: Callable[[float], bool]) -> float:
    """The first that fits, where all behind it do as well."""
    at = bisect_left(among, True, key=fits)
    if at == len(among):
        raise TooMuch("This does not fit on one page.")
    return among[at]


def _drawn(
    paper: Paper, scale: float, foot: float, heading: Heading, head: Sequence[Block], body: Sequence[Block]
) -> bytes | None:
    """None where it does not fit above this foot."""
    file = BytesIO()
    canvas = _canvas(file, heading, paper, scale)
    sheet = _begun(canvas, paper, heading)
    draw(sheet, head, Surroundings())
    if sheet.page or sheet.y <= foot:
        return None
    try:
        _flow(_Columns(canvas, replace(paper, top=paper.height - sheet.y, foot=foot)), body)
    except TooMuch:
        return None
    sheet.finish()
    canvas.save()
    return file.getvalue()


def _foot(scale: float, display: str) -> float:
    return _scaled(_paper(display), scale).foot


def _feet(paper: Paper) -> list[float]:
    """Where columns may end: from high on the page down to its foot."""
    most = paper.height - paper.top - paper.foot
    return [paper.foot + most - _STEP * step for step in range(int(most / _STEP) + 1)] + [paper.foot]


class _Columns(Sheet):
    """The same pen in narrow columns side by side; behind the last one there is nothing."""

    def __init__(self, canvas: Canvas, whole: Paper) -> None:
        self.column = 0
        wide = (whole.text_width - GAP * (COLUMNS - 1)) / COLUMNS
        super().__init__(canvas, replace(whole, outer=whole.width - whole.binding - wide), running="", foot="")

    def new_page(self, *, skip: int = 0) -> None:
        if self.column == COLUMNS - 1:
            raise TooMuch("The last column is full.")
        self.column += 1
        self._begin()
        self.left += self.column * (self.paper.text_width + GAP)
        self.right = self.left + self.paper.text_width


def _flow(sheet: Sheet, blocks: Iterable[Block]) -> None:
    """Tables close together, each caption in the place of its first column's title, so that it comes again above."""
    for block in blocks:
        if isinstance(block, Table) and len(block.columns) in _SHARES:
            heads = [block.caption, *(one.title for one in block.columns[1:])]
            columns = [Column(*pair) for pair in zip(heads, _SHARES[len(block.columns)], strict=True)]
            table(sheet, columns, block.rows, style=COMPACT, ruled=False, pad=0.4)
        else:
            draw(sheet, (block,), Surroundings())


def _begun(canvas: Canvas, paper: Paper, heading: Heading) -> Sheet:
    sheet = Sheet(canvas, paper, running=heading.title, foot=heading.foot)
    sheet.tag = heading.tag
    sheet.heading(f"{heading.title}: {heading.tag}", ink.CHAPTER)
    sheet.paragraph(heading.where, _WHERE)
    return sheet


def _paper(display: str) -> Paper:
    return PAPERS.get(display, PAPERS["si"])


def _scaled(paper: Paper, scale: float) -> Paper:
    """The same sheet, measured in points of the smaller type."""
    return Paper(
        paper.width / scale,
        paper.height / scale,
        paper.binding / scale,
        paper.outer / scale,
        paper.top / scale,
        paper.foot / scale,
    )


def _canvas(file: BytesIO, heading: Heading, paper: Paper, scale: float = 1.0) -> Canvas:
    size = (paper.width * scale, paper.height * scale)
    canvas = Canvas(file, pagesize=size, invariant=1, pageCompression=1, **INITIAL)
    canvas.setTitle(printable(f"{heading.title}: {heading.tag}"))
    canvas.scale(scale, scale)
    return canvas
