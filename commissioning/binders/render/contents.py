"""The contents, drawn after the body when every page is known, and the places of its links."""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from commissioning.binders.render import ink
from commissioning.binders.render.fonts import INITIAL, lines_of, printable, width
from commissioning.binders.render.ink import Paper, Style
from commissioning.binders.render.sheet import Entry, edges

LINE = 15.0
HEAD = 34.0
_LEVELS = (Style(9.5, LINE, bold=True), Style(8.8, LINE), Style(8.2, LINE))


@dataclass(frozen=True, slots=True)
class Link:
    """From a rectangle on a page of the contents (counted from 0) to a page of the body (counted from 0)."""

    on: int
    rectangle: tuple[float, float, float, float]
    to: int


def pages_for(lines: int, paper: Paper) -> int:
    """How many pages the contents take: known from the number of lines alone, so the body can be numbered at once."""
    return max(1, -(-lines // _per_page(paper)))


def _per_page(paper: Paper) -> int:
    return int((paper.height - paper.top - paper.foot - HEAD) / LINE)


def contents(
    entries: Sequence[Entry], paper: Paper, *, first: int, total: int, running: str, foot: str
) -> tuple[bytes, list[Link]]:
    """The pages of the contents as a document of their own, one line per entry, and where each leads."""
    file = BytesIO()
    canvas = Canvas(file, pagesize=(paper.width, paper.height), invariant=1, pageCompression=1, **INITIAL)
    links: list[Link] = []
    per_page = _per_page(paper)
    starts = range(0, len(entries), per_page)
    for index, start in enumerate(starts):
        number = first + index
        left = paper.left(number)
        y = paper.height - paper.top
        canvas.setFillColorRGB(*ink.BLACK)
        canvas.setFont(ink.CHAPTER.font, ink.CHAPTER.size)
        canvas.drawString(left, y - ink.CHAPTER.size, "Contents" if index == 0 else "Contents, continued")
        y -= HEAD
        for entry in entries[start : start + per_page]:
            _line(canvas, paper, left, y, entry)
            links.append(Link(index, (left, y - LINE + 3, left + paper.text_width, y + 3), entry.page))
            y -= LINE
        edges(canvas, paper, number, tag="Contents", running=printable(running), foot=foot)
        canvas.showPage()
    canvas.beginForm("number-of-pages", 0, -4, 60, 12)
    canvas.setFillColorRGB(*ink.EDGE.ink)
    canvas.setFont(ink.EDGE.font, ink.EDGE.size)
    canvas.drawString(0, 0, str(total))
    canvas.endForm()
    canvas.save()
    return file.getvalue(), links


def _line(canvas: Canvas, paper: Paper, left: float, y: float, entry: Entry) -> None:
    style = _LEVELS[min(entry.level, 2)]
    indent = 12.0 * entry.level
    number = str(entry.number)
    right = left + paper.text_width
    room = paper.text_width - indent - 40.0
    title = _fitted(entry.title, style, room * (0.6 if entry.note else 1.0))
    canvas.setFillColorRGB(*ink.BLACK)
    canvas.setFont(style.font, style.size)
    canvas.drawString(left + indent, y - style.size, title)
    if entry.note:
        start = left + indent + max(width(title, style.font, style.size) + 10.0, 0.3 * paper.text_width)
        canvas.setFillColorRGB(*ink.GREY)
        canvas.setFont(ink.ASIDE.font, ink.ASIDE.size)
        canvas.drawString(start, y - style.size, _fitted(entry.note, ink.ASIDE, right - 40.0 - start))
        canvas.setFillColorRGB(*ink.BLACK)
        canvas.setFont(style.font, style.size)
    canvas.drawString(right - width(number, style.font, style.size), y - style.size, number)


def _fitted(text: str, style: Style, room: float) -> str:
    """The first line of a text: what it names stands whole where it leads to."""
    lines = lines_of(text, style.font, style.size, room - 8.0)
    return lines[0] + ("…" if len(lines) > 1 else "")
