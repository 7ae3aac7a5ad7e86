"""Tags as schedules write them: one, a list, a run, a type that stands for several, with words of scope beside them."""

import re
from dataclasses import dataclass

from portfolio.schedules.understanding.memory import remembered
from portfolio.schedules.understanding.numbers import plain
from portfolio.schedules.understanding.values import scope_word

MAX_RUN = 1000

_TYPICAL = re.compile(
    r"[\(\[,]?\s*TYP(?:ICAL|\.)?\s*(?:OF|FOR|\()?\s*([0-9]{1,4})\s*\)?\s*(?:UNITS)?\s*[\)\]]?", re.IGNORECASE
)
_CITED = re.compile(r"[\(\[]\s*(?:SEE )?NOTES?\s*([0-9, &]+)[\)\]]|\s*\*+$", re.IGNORECASE)
_BRACKETED = re.compile(r"[\(\[]([^()\[\]]*)[\)\]]")
_TRAILING_SCOPE = re.compile(
    r"\s+-?\s*(EXISTING(?: TO REMAIN)?|FUTURE|DELETED|REMOVED|DEMOLISHED|NIC|BY OTHERS|ADDED)$", re.I
)
_LIST = re.compile(r"\s*(?:,|;|&|\+|\n|\bAND\b)\s*", re.IGNORECASE)
_RUN = re.compile(r"\s*(?:\b(?:THRU|THROUGH|TO|UNTIL)\b|\.\.\.?|~|→)\s*", re.IGNORECASE)
_DASHED_RUN = re.compile(r"(.*[0-9])\s+-\s+(.*[0-9].*)")
_ENDING = re.compile(r"(.*?)([0-9]+)([A-Z]?)", re.IGNORECASE)
_TAG_FORM = re.compile(r"[A-Z]{1,8}(?:[ ./_-]{0,2}[A-Z0-9]{1,6}){0,5}", re.IGNORECASE)
_KINDS = (
    ("erv", ("ERV", "ERU", "ERW")),
    ("hrv", ("HRV", "HRU", "MVHR")),
    ("doas", ("DOAS", "DOA", "DOU", "OAU", "DOAU")),
    ("ahu", ("AHU", "AH", "AC", "RTU", "ACU")),
    ("exhaust_fan", ("EF", "EXF", "TEF", "KEF", "GEF", "REF", "XF", "LEF", "EAF")),
    ("makeup_fan", ("MAU", "MUA", "MUF", "MAF", "SF", "SAF", "MUAU")),
)
_KIND_BY_PREFIX = {prefix: kind for kind, prefixes in _KINDS for prefix in prefixes}
_KIND_WORDS = (
    ("doas", r"DEDICATED OUT(?:DOOR|SIDE) AIR|\bDOAS\b|100\s?% OUT(?:DOOR|SIDE) AIR UNIT"),
    ("erv", r"ENERGY (?:(?:AND|&|/) HEAT )?RECOVERY|\bERVS?\b"),
    ("hrv", r"HEAT RECOVERY|\bHRVS?\b"),
    ("exhaust_fan", r"EXHAUST FAN"),
    ("makeup_fan", r"MAKE-?\s?UP AIR|MAKE-?\s?UP FAN|SUPPLY FAN"),
    ("ahu", r"AIR[- ]HANDL|\bAHUS?\b|ROOFTOP UNIT"),
)


@dataclass(frozen=True, slots=True)
class TagReading:
    """What a tag cell says: its tags, how many units it speaks of (0: not said), scope, notes; or why it has none."""

    tags: tuple[str, ...] = ()
    expected: int = 0
    scope: str = ""
    cites: tuple[str, ...] = ()
    problem: str = ""


@remembered(16384)
def read_tags(text: str, known: frozenset[str] = frozenset()) -> TagReading:
    """Read a tag cell.

    >>> read_tags("ERV-1 thru 3").tags
    ('ERV-1', 'ERV-2', 'ERV-3')
    >>> read_tags("ERV-1, 2 & 5").tags
    ('ERV-1', 'ERV-2', 'ERV-5')
    >>> read_tags("ERV-A (TYP. OF 12)")
    TagReading(tags=('ERV-A',), expected=12, scope='', cites=(), problem='')
    """
    written = plain(text.replace("\n", ", ")) if "\n" in text else plain(text)
    if written in known:
        return TagReading((written,))
    typical = _TYPICAL.search(written)
    expected = int(typical.group(1)) if typical else 0
    if typical:
        written = (written[: typical.start()] + " " + written[typical.end() :]).strip(" ,")
    written, cites = _without_cites(written)
    written, scope = _without_scope(written)
    if not written:
        return TagReading(problem="the cell names no tag")
    tags: list[str] = []
    for piece in _LIST.split(written):
        if not piece:
            continue
        found = _run(piece, tags[-1] if tags else "")
        if isinstance(found, str):
            return TagReading(problem=found)
        tags += found
        if len(tags) > MAX_RUN:
            return TagReading(problem=f"the cell stands for more than {MAX_RUN:,} tags")
    if not tags:
        return TagReading(problem="the cell names no tag")
    twice = next((tag for place, tag in enumerate(tags) if tag in tags[:place]), "")
    if twice:
        return TagReading(problem=f"the cell names {twice} twice")
    return TagReading(tuple(tags), expected, scope, cites)


def expected_in(text: str) -> int:
    """The number of units that a text speaks of: `TYP. OF 12`, else 0."""
    match = _TYPICAL.search(text)
    return int(match.group(1)) if match else 0


@remembered(16384)
def looks_like_tag(text: str) -> bool:
    """Letters, then something with a figure in it, and short: `ERV-1`, `AHU 2A`, `DOAS-R-01`, `ERV-1 thru 6`."""
    written = plain(text.split("\n")[0])
    if len(written) > 60 or not re.search(r"[0-9]", written) or not written[:1].isalpha():
        return bool(re.fullmatch(r"[A-Z]{2,5}-[A-Z]", written))
    first = re.split(
        r"\s*[,;&(]|\s+(?:-|THRU|THROUGH|TO|AND|TYP|EXIST|FUTURE)", written, maxsplit=1, flags=re.IGNORECASE
    )[0]
    return bool(_TAG_FORM.fullmatch(first.strip(" *"))) and len(first.split()) <= 3


@remembered(16384)
def kind_of_tag(tag: str) -> str:
    """The kind of unit that the tag's letters name, '' if none.

    >>> kind_of_tag("ERV-12"), kind_of_tag("2-EF-01"), kind_of_tag("X-1")
    ('erv', 'exhaust_fan', '')
    """
    for letters in re.findall(r"[A-Z]+", tag.upper()):
        kind = _KIND_BY_PREFIX.get(letters)
        if kind:
            return kind
    return ""


@remembered(4096)
def kind_of_title(text: str) -> str:
    """The one kind of unit that a title names; '' if it names none or several."""
    upper = text.upper()
    found = {kind for kind, words in _KIND_WORDS if re.search(words, upper)}
    return found.pop() if len(found) == 1 else ""


def close_to(tag: str, known: frozenset[str]) -> str:
    """A known tag that differs only in separators, letter case or leading zeros; '' if none.

    >>> close_to("ERV 01", frozenset({"ERV-1"}))
    'ERV-1'
    """
    key = _key(tag)
    return next((other for other in sorted(known) if other != tag and _key(other) == key), "")


@remembered(65536)
def _key(tag: str) -> tuple[str, ...]:
    return tuple(part.lstrip("0") or "0" for part in re.findall(r"[A-Z]+|[0-9]+", tag.upper()))


def _without_cites(written: str) -> tuple[str, tuple[str, ...]]:
    cites: list[str] = []
    for match in _CITED.finditer(written):
        cites += re.findall(r"[0-9]+", match.group(1)) if match.group(1) else ["*"]
    return _CITED.sub("", written).strip(), tuple(cites)


def _without_scope(written: str) -> tuple[str, str]:
    """Cut off words in brackets, or at the end, that say something about scope; other bracketed words are cut too."""
    scope = ""
    for match in _BRACKETED.finditer(written):
        scope = (
            scope or scope_word(match.group(1)) or ("existing" if match.group(1).strip().upper() in ("E", "EX") else "")
        )
    written = _BRACKETED.sub("", written).strip()
    trailing = _TRAILING_SCOPE.search(written)
    if trailing:
        return written[: trailing.start()].strip(), scope or scope_word(trailing.group(1))
    return written, scope


def _run(piece: str, previous: str) -> list[str] | str:
    """The tags of one piece of a list; a text says why there are none."""
    ends = _RUN.split(piece)
    if len(ends) == 1:
        dashed = _DASHED_RUN.fullmatch(piece)
        ends = list(dashed.groups()) if dashed else ends
    if len(ends) > 2:
        return f"'{piece}' is no run that can be read"
    first = _completed(ends[0].strip(), previous)
    if len(ends) == 1:
        return [first]
    last = _completed(ends[1].strip(), first)
    return _between(first, last, piece)


def _completed(end: str, previous: str) -> str:
    """`2` after `ERV-1` is ERV-2, `1B` after `ERV-1A` is ERV-1B, `B` after `ERV-1A` is ERV-1B."""
    if not previous:
        return end
    if re.fullmatch(r"[0-9]+[A-Za-z]?", end):
        match = _ENDING.fullmatch(previous)
        return f"{match.group(1)}{end}" if match else end
    if re.fullmatch(r"[A-Za-z]", end) and previous[-1:].isalpha():
        return previous[:-1] + end
    if re.fullmatch(r"[0-9]+(?:[-.][0-9]+)+", end):
        letters = re.match(r"[^0-9]*", previous)
        return (letters.group() if letters else "") + end
    return end


def _between(first: str, last: str, piece: str) -> list[str] | str:
    start, stop = _ENDING.fullmatch(first), _ENDING.fullmatch(last)
    if start is None or stop is None or start.group(1).upper() != stop.group(1).upper():
        return f"'{piece}' does not run from one tag to a later one of the same series"
    lead, low, low_letter = start.groups()
    _, high, high_letter = stop.groups()
    if low_letter or high_letter:
        if low != high or not (low_letter and high_letter) or low_letter.upper() > high_letter.upper():
            return f"'{piece}' does not run from one tag to a later one of the same series"
        return [f"{lead}{low}{chr(code)}" for code in range(ord(low_letter), ord(high_letter) + 1)]
    if int(low) >= int(high):
        return f"'{piece}' runs backwards"
    if int(high) - int(low) >= MAX_RUN:
        return f"'{piece}' stands for more than {MAX_RUN:,} tags"
    width = len(low) if low.startswith("0") or len(low) == len(high) else 0
    return [f"{lead}{number:0{width}d}" if width else f"{lead}{number}" for number in range(int(low), int(high) + 1)]
