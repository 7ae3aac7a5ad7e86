"""The sheet in the press: where the pen is, what stands at the edges, when a page is full.

Drawn once, from top to bottom. The number of pages is not known until the end, so it is drawn as a form that every
page refers to and that is filled last.
"""

from dataclasses import dataclass
from typing import Any

from reportlab.pdfgen.canvas import Canvas

from commissioning.binders.render import ink
from commissioning.binders.render.fonts import lines_of, printable, width
from commissioning.binders.render.ink import Colour, Paper, Style

_TOTAL = "number-of-pages"


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the contents: what begins where. `page` counts from 0 within the sheets drawn here."""

    title: str
    level: int
    page: int
    number: int
    note: str = ""


class Sheet:
    """One document being drawn. `y` is the height above the paper's lower edge down to which it is filled."""

    def __init__(self, canvas: Canvas, paper: Paper, *, running: str, foot: str, first: int = 1) -> None:
        self.canvas, self.paper = canvas, paper
        self.running, self.foot = printable(running), printable(foot)
        self.number, self.page = first, 0
        self.tag = ""
        self.entries: list[Entry] = []
        self.bare = False  # a page without edges, such as the cover
        self._begin()

    def _begin(self) -> None:
        self.left = self.paper.left(self.number)
        self.right = self.left + self.paper.text_width
        self.y = self.paper.height - self.paper.top
        self.is_fresh = True

    # --- pages ---------------------------------------------------------------------------------------------------
    @property
    def room(self) -> float:
        return self.y - self.paper.foot

    @property
    def whole_room(self) -> float:
        return self.paper.height - self.paper.top - self.paper.foot

    def need(self, height: float) -> bool:
        """Go to a new page unless there is this much room; what is taller than any page begins on a new one."""
        if self.room >= height or self.is_fresh:
            return False
        self.new_page()
        return True

    def new_page(self, *, skip: int = 0) -> None:
        """`skip` pages are left out of the count: they are put in afterwards."""
        self._edges()
        self.canvas.showPage()
        self.number += 1 + skip
        self.page += 1
        self._begin()

    def finish(self) -> int:
        """The last page, and the number of pages for all of them."""
        self._edges()
        self.canvas.showPage()
        self.canvas.beginForm(_TOTAL, 0, -4, 60, 12)
        self.canvas.setFillColorRGB(*ink.EDGE.ink)
        self.canvas.setFont(ink.EDGE.font, ink.EDGE.size)
        self.canvas.drawString(0, 0, str(self.number))
        self.canvas.endForm()
        return self.number

    def _edges(self) -> None:
        if self.bare:
            self.bare = False
            return
        edges(self.canvas, self.paper, self.number, tag=self.tag, running=self.running, foot=self.foot)

    # --- the contents and the bookmarks ----------------------------------------------------------------------------
    def entry(self, title: str, level: int, note: str = "") -> None:
        """Something begins here: a bookmark, and a line of the contents for the upper two levels."""
        key = f"at-{len(self.entries)}"
        self.canvas.bookmarkPage(key, fit="XYZ", left=0, top=min(self.y + 24, self.paper.height), zoom=0)
        self.canvas.addOutlineEntry(printable(title), key, level, closed=level > 0)
        self.entries.append(Entry(title, level, self.page, self.number, note))

    # --- text ------------------------------------------------------------------------------------------------------
    def pen(self, colour: Colour) -> None:
        self.canvas.setFillColorRGB(*colour)

    def line_at(self, x: float, y: float, text: str, style: Style, *, align: str = "left", room: float = 0.0) -> None:
        """One printable line with its base at `y`; right and centre are within `room`."""
        if align != "left":
            spare = room - width(text, style.font, style.size)
            x += spare if align == "right" else spare / 2
        self.canvas.setFillColorRGB(*style.ink)
        self.canvas.setFont(style.font, style.size)
        self.canvas.drawString(x, y, text)

    def lines_at(self, x: float, top: float, lines: list[str], style: Style) -> None:
        """Printable lines under one another, the first one's top at `top`."""
        drawn = self.canvas.beginText(x, top - style.size)
        drawn.setFont(style.font, style.size, style.leading)
        drawn.setFillColorRGB(*style.ink)
        for line in lines:
            drawn.textLine(line)
        self.canvas.drawText(drawn)

    def paragraph(self, text: str, style: Style = ink.BODY, *, indent: float = 0.0, room: float | None = None) -> None:
        """Any text, over as many pages as it takes; `room` is its width."""
        lines = lines_of(text, style.font, style.size, room or self.paper.text_width - indent)
        while lines:
            fit = int(self.room / style.leading + 1e-6)
            if fit < min(len(lines), 2) and not self.is_fresh:  # never one line of several alone
                self.new_page()
                continue
            self.lines_at(self.left + indent, self.y, lines[:fit], style)
            self.down(len(lines[:fit]) * style.leading)
            lines = lines[fit:]
        self.down(style.after)

    def heading(self, text: str, style: Style = ink.HEADING, *, keep: float = 40.0) -> None:
        """A heading with room for `keep` points of what it stands over."""
        lines = lines_of(text, style.font, style.size, self.paper.text_width)
        if not self.is_fresh:
            self.down(6.0)
        self.need(len(lines) * style.leading + style.after + keep)
        self.lines_at(self.left, self.y, lines, style)
        self.down(len(lines) * style.leading + style.after)

    def down(self, distance: float) -> None:
        self.y -= distance
        self.is_fresh = False

    # --- lines and shapes --------------------------------------------------------------------------------------------
    def rule(self, x1: float, x2: float, y: float, *, weight: float = 0.4, colour: Colour = ink.HAIR) -> None:
        self.stroke(colour, weight)
        self.canvas.line(x1, y, x2, y)

    def stroke(self, colour: Colour, weight: float) -> None:
        self.canvas.setStrokeColorRGB(*colour)
        self.canvas.setLineWidth(weight)


def edges(canvas: Any, paper: Paper, number: int, *, tag: str, running: str, foot: str) -> None:
    """Head and foot: the tag and *page x of y* at the outer corner, title and hash at the binding."""
    left, right = paper.left(number), paper.left(number) + paper.text_width
    is_right_hand = number % 2 == 1
    head_y, foot_y = paper.height - 36.0, 28.0
    _edge(canvas, left, right, head_y, printable(tag), is_right_hand, bold=True)
    _edge(canvas, left, right, head_y, _shortened(running, paper.text_width * 0.6), not is_right_hand)
    _edge(canvas, left, right, foot_y, foot, not is_right_hand)
    page, of = f"page {number}", " of "
    before = width(page + of, ink.EDGE.font, ink.EDGE.size)
    x = right - before - width("000", ink.EDGE.font, ink.EDGE.size) if is_right_hand else left
    canvas.setFillColorRGB(*ink.EDGE.ink)
    canvas.setFont(ink.EDGE.font, ink.EDGE.size)
    canvas.drawString(x, foot_y, page + of)
    canvas.saveState()
    canvas.translate(x + before, foot_y)
    canvas.doForm(_TOTAL)
    canvas.restoreState()
    canvas.setStrokeColorRGB(*ink.HAIR)
    canvas.setLineWidth(0.4)
    canvas.line(left, head_y - 7, right, head_y - 7)


def _edge(canvas: Any, left: float, right: float, y: float, text: str, at_right: bool, *, bold: bool = False) -> None:
    if not text:
        return
    font = "Bold" if bold else ink.EDGE.font
    size = 9.0 if bold else ink.EDGE.size
    canvas.setFillColorRGB(*(ink.BLACK if bold else ink.EDGE.ink))
    canvas.setFont(font, size)
    canvas.drawString(right - width(text, font, size) if at_right else left, y, text)


def _shortened(text: str, room: float) -> str:
    """At the edge a long title is cut; it stands whole on the cover."""
    if width(text, ink.EDGE.font, ink.EDGE.size) <= room:
        return text
    while text and width(text + "…", ink.EDGE.font, ink.EDGE.size) > room:
        text = text[:-1]
    return text + "…"
