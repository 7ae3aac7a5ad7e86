"""The words of the printed page: counts, dates and codes as people say them. Nothing here asks a locale or a clock."""

import re
from collections.abc import Sequence
from datetime import date, datetime

from commissioning.dossier.shows import PORTS

_SMALL = (
    *("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"),
    *("thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty"),
)
_CODE = re.compile("[a-z_]+")
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

ACTS = {
    "draft": "found by judging",
    "release": "released",
    "hand_over": "handed to another company",
    "describe": "described",
    "answer_ready": "declared ready",
    "answer_not_ours": "answered: not ours",
    "schedule": "retest scheduled",
    "waste_call_out": "call-out wasted",
    "retest_failed": "retest failed",
    "evidence_passes": "evidence passes",
    "close": "closed on passing evidence",
    "accept": "accepted as is",
    "reopen": "opened again",
    "merge": "merged",
    "split": "split",
    "comment": "comment",
    "add_photo": "photo",
}


def count(number: int) -> str:
    """
    >>> count(0), count(18), count(48), count(1200)
    ('no', 'eighteen', '48', '1,200')
    """
    return _SMALL[number] if number < len(_SMALL) else f"{number:,}"


def opening(text: str) -> str:
    return text[:1].upper() + text[1:]


def of(number: int, one: str, many: str = "") -> str:
    """
    >>> of(1, "unit"), of(3, "unit"), of(2, "company", "companies")
    ('one unit', 'three units', 'two companies')
    """
    return f"{count(number)} {one if number == 1 else many or one + 's'}"


def listed(parts: Sequence[str]) -> str:
    """
    >>> listed(["a"]), listed(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    return " and ".join(filter(None, [", ".join(parts[:-1]), *parts[-1:]]))


def spaced(text: str) -> str:
    """A code of ours as words; any other text stays as it is.

    >>> spaced("capture_hood"), spaced("HOOD_2 (new)")
    ('capture hood', 'HOOD_2 (new)')
    """
    return text.replace("_", " ") if _CODE.fullmatch(text) else text


def port(name: str) -> str:
    return PORTS.get(name, name)


def moment(text: str) -> str:
    """
    >>> moment("2026-05-04T10:15:00-06:00")
    'Mon 4 May 2026, 10:15'
    """
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return text
    return f"{_date(at.date())}, {at:%H:%M}"


def day(text: str | None) -> str:
    """
    >>> day("2026-05-04"), day(None)
    ('Mon 4 May 2026', '')
    """
    if not text:
        return ""
    try:
        return _date(date.fromisoformat(text))
    except ValueError:
        return text


def _date(value: date) -> str:
    return f"{_DAYS[value.weekday()]} {value.day} {_MONTHS[value.month - 1]} {value.year}"


def seconds_of(text: str) -> str:
    """A moment in a narrow column.

    >>> seconds_of("2026-05-04T10:15:00-06:00")
    '2026-05-04 10:15'
    """
    return text[:16].replace("T", " ")
