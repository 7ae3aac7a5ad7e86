"""Numbers as they are written: thousands separators, decimal commas, fractions. One decimal style for a whole file.

`1,200` is twelve hundred in one office and one and a fifth in another. No cell can tell on its own, so every number
of the file is looked at first; what cannot be told is asked, and two styles in one file are an error.
"""

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from portfolio.schedules.understanding.memory import remembered

POINT, COMMA = "point", "comma"

_GROUPED_BY_SPACE = re.compile(r"(?<![0-9.,])([0-9]{1,3})((?:[ '’\u00a0\u202f][0-9]{3})+)(?![0-9])")
_TOKEN = re.compile(r"[0-9][0-9.,]*[0-9]|[0-9]")
_POINT_NUMBER = re.compile(r"[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?|[0-9]*\.[0-9]+|[0-9]+\.?")
_COMMA_NUMBER = re.compile(r"[0-9]{1,3}(?:\.[0-9]{3})+(?:,[0-9]+)?|[0-9]*,[0-9]+|[0-9]+,?")
_FRACTION = re.compile(r"(?:([0-9]{1,3})(?:\s+|\s*-\s*))?([0-9]{1,2})\s*/\s*([0-9]{1,2})")
_VULGAR = re.compile(r"(?<=[0-9])(?=[¼-¾⅐-⅞])")


@remembered(16384)
def plain(text: str) -> str:
    """One form for look-alikes: full-width digits, vulgar fractions, minus signs, spaces between thousands.

    >>> plain("1½"), plain("12 500"), plain("−0.5")
    ('1 1/2', '12500', '-0.5')
    """
    text = unicodedata.normalize("NFKC", _VULGAR.sub(" ", text)).replace("⁄", "/")
    text = re.sub(r"[\u2212\u2010\u2011\u2012\u2013\u2014]", "-", text)
    text = _GROUPED_BY_SPACE.sub(lambda match: match.group(1) + re.sub(r"\D", "", match.group(2)), text)
    return re.sub(r"\s+", " ", text).strip()


@remembered(16384)
def number_of(written: str, style: str) -> float | None:
    """The number that a text is in one decimal style, or None.

    >>> number_of("1,200.5", "point"), number_of("1.200,5", "comma"), number_of("1,20", "point")
    (1200.5, 1200.5, None)
    """
    sign = -1.0 if written[:1] == "-" else 1.0
    digits = written.lstrip("+-")
    if len(written) - len(digits) > 1 or len(digits) > 20:
        return None
    if style == COMMA:
        if not _COMMA_NUMBER.fullmatch(digits):
            return None
        digits = digits.replace(".", "").replace(",", ".")
    else:
        if not _POINT_NUMBER.fullmatch(digits):
            return None
        digits = digits.replace(",", "")
    return sign * float(digits)


@remembered(4096)
def fraction_of(written: str) -> float | None:
    """A fraction as motors have them.

    >>> fraction_of("1-1/2"), fraction_of("3/4"), fraction_of("460/3")
    (1.5, 0.75, None)
    """
    match = _FRACTION.fullmatch(written.strip())
    if match is None:
        return None
    whole, upper, lower = (int(part) if part else 0 for part in match.groups())
    if not 0 < upper < lower:
        return None
    return whole + upper / lower


@dataclass(frozen=True, slots=True)
class Style:
    """The file's decimal style, and how sure it is.

    Attributes:
        style: 'point' or 'comma'.
        sure: some number can be read in one way only, or nothing depends on it.
        against: indexes (into what was looked at) of one number of each style, if the file mixes them.
        example: index of a number that decides, or that could be read both ways; -1 if there is none.
    """

    style: str
    sure: bool
    against: tuple[int, int] | None = None
    example: int = -1


def style_of(texts: Iterable[str], *, delimiter: str) -> Style:
    """Decide the decimal style from all number cells that the file keeps as text.

    Args:
        texts: the cells' texts.
        delimiter: what parts the fields of the file; a file parted by `;` often has decimal commas, so that there
            `1,200` alone does not tell.

    >>> style_of(["1,200", "0,75"], delimiter=";").style
    'comma'
    >>> style_of(["1,200", "0.75"], delimiter=",").style
    'point'
    >>> style_of(["1.200"], delimiter="").sure
    False
    """
    first: dict[str, int] = {}
    for index, text in enumerate(texts):
        if "," in text or "." in text:
            for token in _TOKEN.findall(plain(text)):
                seen = _evidence(token)
                if seen:
                    first.setdefault(seen, index)
    if POINT in first and COMMA in first:
        return Style(POINT, True, (first[POINT], first[COMMA]), first[POINT])
    if POINT in first:
        return Style(POINT, True, example=first[POINT])
    if COMMA in first:
        return Style(COMMA, True, example=first[COMMA])
    if "1,000" in first and "1.000" in first:
        return Style(POINT, True, (first["1.000"], first["1,000"]), first["1.000"])
    if "1.000" in first:
        return Style(POINT, False, example=first["1.000"])
    if "1,000" in first:
        return Style(POINT, delimiter != ";", example=first["1,000"])
    return Style(POINT, True)


def _evidence(token: str) -> str:
    """'point' or 'comma' where the token can be read in one way; '1,000' or '1.000' where in both; '' for neither."""
    commas, points = token.count(","), token.count(".")
    if commas and points:
        return POINT if token.rfind(".") > token.rfind(",") else COMMA
    if not commas and not points:
        return ""
    separator, decimal, grouping = (",", COMMA, POINT) if commas else (".", POINT, COMMA)
    groups = token.split(separator)
    grouped = 1 <= len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:]) and groups[0] != "0"
    if len(groups) > 2:
        return grouping if grouped else ""
    if not grouped:
        return decimal
    return "1,000" if commas else "1.000"
