"""The meeting's sheet on paper: the same words as the page, drawn as glyphs and never read as markup."""

from io import BytesIO

from reportlab.lib.pagesizes import A4, letter
from reportlab.pdfgen.canvas import Canvas

from commissioning.binders.render.fonts import INITIAL, lines_of, printable, width
from commissioning.blocks import Block, Sentence, Table
from commissioning.pages.meeting import Sheet

MOST_PAGES = 2
MARGIN, GAP = 42.0, 10.0
SIZE, HEAD, LEADING = 8.5, 11.5, 11.0
_INK, _HAIR, _QUIET = 0.08, 0.7, 0.35


class _Paper:
    def __init__(self, sheet: Sheet, size: tuple[float, float], pages: int) -> None:
        self.sheet = sheet
        self.pages = pages
        self.width, self.height = size
        self.held = BytesIO()
        self.canvas = Canvas(self.held, pagesize=size, invariant=1, **INITIAL)
        self.canvas.setTitle(printable(f"{sheet.project.name}: {sheet.title}"))
        self.page = 1
        self.y = self.height - MARGIN
        self._foot()

    @property
    def room(self) -> float:
        return self.width - 2 * MARGIN

    def _foot(self) -> None:
        self.canvas.setFillGray(_QUIET)
        self.canvas.setFont("Text", 7.5)
        self.canvas.drawString(MARGIN, MARGIN - 18, printable(f"{self.sheet.project.name}. {self.sheet.heading}"))
        self.canvas.drawRightString(self.width - MARGIN, MARGIN - 18, f"page {self.page} of {self.pages}")
        self.canvas.setFillGray(_INK)

    def need(self, points: float) -> None:
        if self.y - points < MARGIN:
            self.canvas.showPage()
            self.page += 1
            self.y = self.height - MARGIN
            self._foot()

    def text(self, text: str, *, font: str = "Text", size: float = SIZE, gap: float = 2.0) -> None:
        lines = lines_of(text, font, size, self.room)
        for line in lines:
            self.need(size * 1.3)
            self.canvas.setFont(font, size)
            self.y -= size * 1.3
            self.canvas.drawString(MARGIN, self.y, line)
        self.y -= gap

    def table(self, block: Table) -> None:
        if not block.rows:
            self.text(block.empty)
            return
        widths = _widths(block, self.room)
        self._row(tuple(c.title for c in block.columns), block, widths, "Bold")
        for row in block.rows:
            self._row(row, block, widths, "Text")

    def _row(self, row: tuple[str, ...], block: Table, widths: list[float], font: str) -> None:
        cells = [lines_of(text, font, SIZE, w - GAP) for text, w in zip(row, widths, strict=True)]
        high = max(len(lines) for lines in cells) * LEADING + 3
        self.need(high)
        self.canvas.setFont(font, SIZE)
        x = MARGIN
        for lines, column, wide in zip(cells, block.columns, widths, strict=True):
            for number, line in enumerate(lines):
                y = self.y - LEADING * (number + 1) + 2
                if column.align == "right":
                    self.canvas.drawRightString(x + wide - GAP, y, line)
                else:
                    self.canvas.drawString(x, y, line)
            x += wide
        self.y -= high
        self.canvas.setStrokeGray(_INK if font == "Bold" else _HAIR)
        self.canvas.setLineWidth(0.6 if font == "Bold" else 0.3)
        self.canvas.line(MARGIN, self.y, self.width - MARGIN, self.y)

    def finish(self) -> bytes:
        self.canvas.save()
        return self.held.getvalue()


def _widths(block: Table, room: float) -> list[float]:
    """As wide as the widest cell, the long ones shrunk until the table fits."""
    wanted = []
    for index, column in enumerate(block.columns):
        texts = [column.title, *(row[index] for row in block.rows)]
        wanted.append(max(width(printable(text[:120]), "Bold", SIZE) for text in texts) + GAP + 1)
    if sum(wanted) <= room:
        left = [number for number, column in enumerate(block.columns) if column.align == "left"]
        wanted[max(left, key=lambda number: wanted[number], default=0)] += room - sum(wanted)
        return wanted
    floor = room / len(wanted)
    narrow = sum(w for w in wanted if w <= floor)
    wide = sum(w for w in wanted if w > floor)
    return [w if w <= floor else w * (room - narrow) / wide for w in wanted]


def _draw(sheet: Sheet, size: tuple[float, float], pages: int) -> tuple[bytes, int]:
    paper = _Paper(sheet, size, pages)
    paper.text(f"{sheet.project.name}: {sheet.title}", font="Bold", size=15, gap=1)
    paper.text(sheet.heading, gap=4)
    paper.text(sheet.sentence, size=10.5, gap=4)
    for section in sheet.sections:
        paper.need(HEAD * 1.3 + 3 * LEADING)  # never a heading alone at a foot
        paper.y -= 5
        paper.text(section.title, font="Bold", size=HEAD, gap=2)
        for block in section.blocks:
            _block(paper, block)
    return paper.finish(), paper.page


def _block(paper: _Paper, block: Block) -> None:
    if isinstance(block, Table):
        paper.table(block)
    elif isinstance(block, Sentence):
        paper.text(block.text)


def pages_of(sheet: Sheet, display: str) -> tuple[bytes, int]:
    """The document, and on how many pages it fits."""
    size = letter if display == "ip" else A4
    _, pages = _draw(sheet, size, 0)
    return _draw(sheet, size, pages)
