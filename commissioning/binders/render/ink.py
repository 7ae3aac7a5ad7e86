"""Ink, sizes and measures of the printed page. Colours only repeat what words and shapes say already."""

from dataclasses import dataclass

BLACK = (0.09, 0.09, 0.09)
GREY = (0.33, 0.33, 0.33)  # text that is read second; still 7:1 on paper
HAIR = (0.62, 0.62, 0.62)
WASH = (0.88, 0.88, 0.88)
BRICK = (0.56, 0.15, 0.09)
OCHRE = (0.43, 0.30, 0.0)

Colour = tuple[float, float, float]

INK_OF = {"does_not_conform": BRICK, "inconclusive": OCHRE, "recheck": OCHRE, "disputed": OCHRE}
"""The ink of an outcome; every other is black."""


@dataclass(frozen=True, slots=True)
class Style:
    """How a piece of text is set; all in points."""

    size: float
    leading: float
    bold: bool = False
    ink: Colour = BLACK
    after: float = 4.0

    @property
    def font(self) -> str:
        return "Bold" if self.bold else "Text"


TITLE = Style(24.0, 29.0, bold=True, after=8.0)
CHAPTER = Style(17.0, 21.0, bold=True, after=8.0)
HEADING = Style(11.0, 14.0, bold=True, after=4.0)
SUBHEADING = Style(9.0, 12.0, bold=True, after=3.0)
LEAD = Style(10.5, 14.0, after=6.0)
BODY = Style(9.0, 12.5)
ASIDE = Style(8.0, 11.0, ink=GREY)
CELL = Style(8.0, 10.5)
CELL_BOLD = Style(8.0, 10.5, bold=True)
HEAD = Style(7.5, 9.5, bold=True, ink=GREY)
SMALL = Style(6.8, 9.0, ink=GREY)
TINY = Style(6.2, 8.2)
EDGE = Style(8.0, 10.0, ink=GREY)
PART = Style(13.0, 17.0, bold=True)


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet with its margins: wide at the binding, narrow at the outer edge."""

    width: float
    height: float
    binding: float = 62.0
    outer: float = 40.0
    top: float = 62.0
    foot: float = 52.0

    @property
    def text_width(self) -> float:
        return self.width - self.binding - self.outer

    def left(self, number: int) -> float:
        """Where text begins on a page: odd pages are bound at the left."""
        return self.binding if number % 2 else self.outer


LETTER = Paper(612.0, 792.0)
A4 = Paper(595.2756, 841.8898)
PAPERS = {"ip": LETTER, "si": A4}
