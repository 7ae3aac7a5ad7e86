"""The two fonts that the binder brings along, and the one function through which every text reaches the paper.

Text is drawn as glyphs, never read as markup: a tag, a comment or an address in it is printed as it stands. What has
no glyph, or cannot be seen, is printed as its code, such as ⟦U+200B⟧; nothing is left out silently.
"""

import unicodedata
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

FOLDER = Path(__file__).resolve().parent.parent / "fonts"
FILES = {"Text": "DejaVuSansCondensed.ttf", "Bold": "DejaVuSansCondensed-Bold.ttf"}
INITIAL = {"initialFontName": "Text"}
"""A canvas begins with a font of ours, so that none is named that is not embedded."""

_BEYOND = 0x10000
"""Characters from here on have glyphs here and there, and no way back from glyph to text that every reader knows."""

_UNSEEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def _registered(name: str) -> TTFont:
    font = TTFont(name, str(FOLDER / FILES[name]))
    pdfmetrics.registerFont(font)
    return font


_FONTS = {name: _registered(name) for name in FILES}
_COVERED = frozenset.intersection(*(frozenset(font.face.charToGlyph) for font in _FONTS.values()))
_WIDTHS: dict[str, dict[str, float]] = {name: {} for name in FILES}


def versions() -> dict[str, str]:
    """The hash of each font file: another file would be another document."""
    return {name: sha256((FOLDER / file).read_bytes()).hexdigest() for name, file in FILES.items()}


@lru_cache(maxsize=4096)
def _shown(character: str) -> str:
    if character == "\t":
        return "    "
    if ord(character) < _BEYOND and ord(character) in _COVERED and unicodedata.category(character) not in _UNSEEN:
        return character
    return f"⟦U+{ord(character):04X}⟧"


def printable(text: str) -> str:
    """One line of any text as it can be printed: the only way onto the paper.

    >>> printable("5 <!-- hidden --> 6 ± 0.2 m³/s, ρ₀"), printable("a\\u200bb")
    ('5 <!-- hidden --> 6 ± 0.2 m³/s, ρ₀', 'a⟦U+200B⟧b')
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(map(_shown, text))


def width(text: str, font: str, size: float) -> float:
    """How wide printable text runs."""
    known = _WIDTHS[font]
    try:
        return size * sum([known[character] for character in text])
    except KeyError:
        for character in text:
            if character not in known:
                known[character] = _FONTS[font].face.getCharWidth(ord(character)) / 1000.0
        return size * sum([known[character] for character in text])


@lru_cache(maxsize=8192)
def _word_width(word: str, font: str) -> float:
    return width(word, font, 1.0)


def lines_of(text: str, font: str, size: float, room: float) -> list[str]:
    """Any text broken into printable lines no wider than `room`; a word that is wider is broken where it must be."""
    lines: list[str] = []
    for paragraph in text.replace("\r\n", "\n").split("\n"):
        plain = printable(paragraph)
        if len(plain) < 400 and width(plain, font, size) <= room:
            lines.append(plain)
        else:
            lines += _broken(plain, font, room / size)
    return lines


def _broken(text: str, font: str, room: float) -> list[str]:
    lines: list[str] = []
    space = _word_width(" ", font)
    held: list[str] = []
    used = 0.0
    for word in text.split(" "):
        wide = _word_width(word, font) if len(word) < 200 else width(word, font, 1.0)
        if held and used + space + wide > room:
            lines.append(" ".join(held))
            held, used = [], 0.0
        if wide > room:
            *full, word = _pieces(" ".join([*held, word]), font, room)
            lines += full
            held, wide, used = [], width(word, font, 1.0), 0.0
        used += wide + (space if held else 0.0)
        held.append(word)
    return [*lines, " ".join(held)]


def _pieces(word: str, font: str, room: float) -> list[str]:
    width(word, font, 1.0)
    known, pieces, start, used = _WIDTHS[font], [], 0, 0.0
    for index, character in enumerate(word):
        used += known[character]
        if used > room and index > start:
            pieces.append(word[start:index])
            start, used = index, known[character]
    return [*pieces, word[start:]]
