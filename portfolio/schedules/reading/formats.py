"""What a workbook's number format does to a number that a person reads.

A schedule's `72%` is stored as 0.72, its `1200 CFM` may be 1200 with the unit in the format, its `ERV-03` may be 3.
The stored number alone would lose all of that.
"""

import re
from datetime import datetime, timedelta
from functools import lru_cache
from typing import NamedTuple

_BUILT_IN_DATES = frozenset({14, 15, 16, 17, 18, 19, 20, 21, 22, 27, 28, 29, 30, 31, 36, 45, 46, 47, 50, 57})
_BUILT_IN_CODES = {1: "0", 2: "0.00", 3: "#,##0", 4: "#,##0.00", 9: "0%", 10: "0.00%"}
_LITERAL = re.compile(r'"([^"]*)"|\\(.)|\[[^\]]*\]|_.|\*.')
_EPOCH_1900 = datetime(1899, 12, 30)
_DAYS_1904 = 1462
_LAST_DAY = 2_958_465


class Look(NamedTuple):
    """How a format shows a number: as a date, as a per cent, with text before and after, with leading zeros."""

    date: bool = False
    percent: bool = False
    before: str = ""
    after: str = ""
    digits: int = 0


PLAIN = Look()


@lru_cache(maxsize=4096)
def look_of(number_format_id: int, code: str | None) -> Look:
    """Read a number format by its id and, for a format of the file's own, its code.

    >>> look_of(164, '#,##0" CFM"').after
    'CFM'
    >>> look_of(9, None).percent, look_of(14, None).date
    (True, True)
    >>> look_of(165, '"ERV-"00')[2:]
    ('ERV-', '', 2)
    """
    if code is None:
        if number_format_id in _BUILT_IN_DATES:
            return Look(date=True)
        code = _BUILT_IN_CODES.get(number_format_id, "General")
    if code.casefold() == "general" or len(code) > 255:
        return PLAIN
    section, texts = _first_section(code)
    placeholders = re.search(r"[0#?][0#?.,]*", section)
    if placeholders is None:
        return Look(date=bool(re.search(r"[ymdhs]", section, re.IGNORECASE)))
    if "E" in section or "/" in section:
        return PLAIN
    before = _words(section[: placeholders.start()], texts).lstrip()
    after = _words(section[placeholders.end() :], texts).strip()
    zeros = placeholders.group()
    digits = len(zeros) if len(zeros) > 1 and set(zeros) == {"0"} else 0
    percent = "%" in section
    return Look(False, percent, before, after.replace("%", "").strip() if percent else after, digits)


def shown(number: float, raw: str, look: Look) -> tuple[str, float, str]:
    """The text, the number and the unit that a person reads.

    >>> shown(0.72, "0.72", Look(percent=True))
    ('72%', 72.0, '%')
    >>> shown(3.0, "3", Look(before="ERV-", digits=2))
    ('ERV-03', 3.0, '')
    """
    if look is PLAIN:
        return (raw if raw.isdigit() else f"{number:.15g}"), number, ""
    if look.percent:
        hundred = float(f"{number * 100:.13g}")
        return f"{hundred:.13g}%", hundred, "%"
    text = f"{number:.15g}"
    if look.digits and number >= 0 and number.is_integer():
        text = text.zfill(look.digits)
    gap = " " if look.after else ""
    return f"{look.before}{text}{gap}{look.after}", number, look.after


def date_text(serial: float, *, since_1904: bool) -> str:
    """A day number as a date; as a number where it is none."""
    days = serial + (_DAYS_1904 if since_1904 else 0)
    if not 0 <= days <= _LAST_DAY:
        return f"{serial:.15g}"
    moment = _EPOCH_1900 + timedelta(days=days)
    return moment.date().isoformat() if days >= 1 else moment.time().isoformat("minutes")


def _first_section(code: str) -> tuple[str, dict[str, str]]:
    """The part for positive numbers, its literal texts replaced by private-use characters."""
    texts: dict[str, str] = {}

    def hide(match: re.Match[str]) -> str:
        literal = match.group(1) if match.group(1) is not None else match.group(2)
        if literal is None:
            return ""
        mark = chr(0xE000 + len(texts))
        texts[mark] = literal
        return mark

    return _LITERAL.sub(hide, code).split(";")[0], texts


def _words(part: str, texts: dict[str, str]) -> str:
    return "".join(texts.get(character, "" if character in "#?0,. " else character) for character in part)
