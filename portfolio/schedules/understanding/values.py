"""What one cell of a number column says: a value, maximum and minimum, expressly nothing, or something unreadable."""

import re
from dataclasses import dataclass

from portfolio.schedules.understanding.headings import unit_in
from portfolio.schedules.understanding.meanings import ELECTRICAL, MAX_MIN, MEANINGS, Meaning
from portfolio.schedules.understanding.memory import remembered
from portfolio.schedules.understanding.numbers import fraction_of, number_of, plain

_ABSENT = re.compile(
    r"[-.~]+|N\.?\s?/?\s?A\.?|NOT APPLICABLE|NONE|NIL|NO|N/?R|NOT REQ(?:UIRE)?D\.?|NOT USED|INCL\.?|INCLUDED|INTEGRAL",
    re.IGNORECASE,
)
_BLANK = re.compile(r"[-.~]+|N\.?\s?/?\s?A\.?|NOT APPLICABLE", re.IGNORECASE)
_LATER = re.compile(r"T\.?B\.?[DAC]\.?|TO BE (?:DETERMINED|CONFIRMED|ADVISED)|LATER|PENDING|HOLD", re.IGNORECASE)
_OTHERS = re.compile(r"(?:FURNISHED |PROVIDED |SUPPLIED )?BY [A-Z][A-Z .,&/]*", re.IGNORECASE)
_ELSEWHERE = re.compile(r"(?:SEE|REFER(?: TO)?|PER|REF\.?) .+", re.IGNORECASE)
_NOTE_ONLY = re.compile(
    r"\(?(?:SEE |REFER TO )?NOTES?\s*[:#]?\s*\(?([0-9]{1,3}(?:\s*(?:,|&|AND|/|-)\s*[0-9]{1,3})*)\)?\)?\.?",
    re.IGNORECASE,
)
_CITED_BEHIND = re.compile(
    r"\s*(?:[\(\[]\s*(?:SEE )?(?:NOTES?\s*)?([0-9]{1,2}(?:\s*,\s*[0-9]{1,2})*)\s*[\)\]]|\*+)$", re.I
)
_NOTE_BEHIND = re.compile(r"\s*[\(\[]?\s*(?:SEE )?NOTES?\s*([0-9]{1,2}(?:\s*(?:,|&)\s*[0-9]{1,2})*)\s*[\)\]]?$", re.I)
_SCOPE = re.compile(
    r"(?:TO BE )?(?:DELETED?|REMOVED?|DEMOLISH(?:ED)?)|FUTURE|DEFERRED|(?:\(E\)|EXIST(?:ING|\.)?)(?: TO REMAIN)?|ETR"
    r"|N\.?I\.?C\.?|NOT IN (?:CONTRACT|SCOPE)|OUT OF SCOPE",
    re.IGNORECASE,
)
_DITTO = re.compile(r"[\"“”'′″]+|DITTO|DO\.", re.IGNORECASE)
_VALUE = re.compile(r"([+-]?[0-9.,]*[0-9][.,]?)\s*(.*)")
_COUNTED = re.compile(r"\(?([1-9])\)?\s*(?:@|X|×|(?<=\))\s*(?:AT)?)\s*(.+)", re.IGNORECASE)
_LABELLED = re.compile(
    r"(?:(MAX|MIN)(?:IMUM)?\.?\s*[:=]?\s*)?([0-9.,]*[0-9])\s*([^()]*?)\s*(?:\(?(MAX|MIN)(?:IMUM)?\.?\)?)?",
    re.IGNORECASE,
)
_PIECES = re.compile(r"\s*[/;(]\s*|,\s+|\s+-\s+")
_SUPPLY = re.compile(
    r"([0-9]{2,5})(?:\s*[-/]\s*[0-9]{3})?\s*V?(?:AC|OLTS?)?\.?\s*[-/,; x]\s*([13])\s*(?:-?\s*(?:PHASE|PH|P|[ØΦφ]))?\.?"
    r"(?:\s*[-/,; ]\s*(50|60)\s*(?:HZ|HERTZ|CY(?:CLE)?S?)?\.?)?",
    re.IGNORECASE,
)
_SPOKEN_PHASES = {"SINGLE": 1.0, "ONE": 1.0, "THREE": 3.0, "SINGLE-PHASE": 1.0, "THREE-PHASE": 3.0}
_NEVER_NEGATIVE = frozenset({"airflow", "power", "rotational speed", "current", "voltage", "frequency", ""})


@dataclass(frozen=True, slots=True)
class Reading:
    """What a cell says.

    Exactly one of these holds: `value` is a number; `open` says why the field is expressly not given; `problem` says
    why the text cannot be used. `second` is the other number of a pair (minimum, or phases), `third` the hertz.
    """

    value: float | None = None
    unit: str = ""
    second: float | None = None
    third: float | None = None
    motors: int = 0
    cites: tuple[str, ...] = ()
    open: str = ""
    problem: str = ""
    remedy: str = ""
    code: str = ""
    remark: str = ""


@remembered(65536)
def read_value(text: str, meaning_code: str, column_unit: str, style: str) -> Reading:
    """Read a cell's text for a column's meaning.

    Args:
        text: as written.
        meaning_code: a code whose form is not text.
        column_unit: unit code of the column, '' if unknown.
        style: the file's decimal style.

    >>> read_value("1,200/400", "outdoor.airflow", "cfm", "point").second
    400.0
    >>> read_value("SEE NOTE 3", "supply.airflow", "cfm", "point").cites
    ('3',)
    """
    meaning = MEANINGS[meaning_code]
    written = plain(text)
    nothing = _nothing(written)
    if nothing is not None:
        return nothing
    if meaning.form == ELECTRICAL:
        return _electrical(written)
    rest, cites = _without_cites(written)
    if meaning.quantity == "airflow":
        pair = _pair(rest, meaning, column_unit, style, cites)
        if pair is not None:
            return pair
    return _single(rest, meaning, column_unit, style, cites)


def scope_word(text: str) -> str:
    """The scope's code if a cell holds nothing but a word about scope, else ''.

    >>> scope_word("EXISTING TO REMAIN"), scope_word("By Tenant"), scope_word("connect to existing duct")
    ('existing', 'by_others', '')
    """
    bare = plain(text).strip("()[]. ").upper()
    if _OTHERS.fullmatch(bare):
        return "by_others"
    if text.strip().upper() == "(E)":
        return "existing"
    if not _SCOPE.fullmatch(bare):
        return "added" if bare in ("ADDED", "ADD", "ADDITION") else ""
    for start, code in (
        ("EXIST", "existing"),
        ("ETR", "existing"),
        ("FUTURE", "deferred"),
        ("DEFER", "deferred"),
    ):
        if bare.startswith(start):
            return code
    return "out_of_scope" if bare.startswith(("N", "OUT")) else "deleted"


def is_blank_text(text: str) -> bool:
    """Whether a text column's cell says nothing on purpose: dashes, `N/A`, `TBD`.

    >>> is_blank_text("—"), is_blank_text("N/A"), is_blank_text("NO")
    (True, True, False)
    """
    written = plain(text)
    return bool(_BLANK.fullmatch(written) or _LATER.fullmatch(written))


def cites_in(text: str) -> tuple[str, ...]:
    """Numbers of the notes that a text cites: `SEE NOTE 3`, `NOTES 1, 2 & 4`, `1,3`, `NOTES 1-3`.

    >>> cites_in("PROVIDE CURB. SEE NOTES 1 & 3"), cites_in("1, 2"), cites_in("2 SPEED")
    (('1', '3'), ('1', '2'), ())
    """
    listed = r"[0-9]{1,2}(?:\s*(?:,|&|\bAND\b|-|\bTHRU\b)\s*[0-9]{1,2})*"
    written = plain(text).upper()
    whole = re.fullmatch(rf"[\(\[]?({listed})[\)\]]?", written)
    spans = [whole.group(1)] if whole else re.findall(rf"\bNOTES?\b\s*[:#.]?\s*\(?({listed})", written)
    return tuple(dict.fromkeys(number for span in spans for number in _numbers(span)))


def _numbers(span: str) -> list[str]:
    found: list[str] = []
    for piece in re.split(r"\s*(?:,|&|\bAND\b)\s*", span):
        ends = re.split(r"\s*(?:-|\bTHRU\b)\s*", piece)
        first, last = int(ends[0]), int(ends[-1])
        found += [str(number) for number in range(first, last + 1)] if first <= last < first + 50 else [ends[0]]
    return found


def _nothing(written: str) -> Reading | None:
    """A reading for a cell that gives no number on purpose, or None."""
    note = _NOTE_ONLY.fullmatch(written)
    if note:
        return Reading(open="refers to a note", cites=tuple(_numbers(note.group(1).upper().replace("/", ","))))
    if _ABSENT.fullmatch(written):
        return Reading(open="written as not given")
    if _LATER.fullmatch(written):
        return Reading(open="left for later")
    if scope_word(written):
        return Reading(open="says only who or when", code=scope_word(written))
    if _ELSEWHERE.fullmatch(written):
        return Reading(open="refers to another place", cites=cites_in(written), remark=f"'{written}' refers elsewhere")
    if _DITTO.fullmatch(written):
        return Reading(
            problem="a ditto mark says what another cell says", remedy="Write the value itself", code="ditto"
        )
    return None


def _without_cites(written: str) -> tuple[str, tuple[str, ...]]:
    for pattern in (_NOTE_BEHIND, _CITED_BEHIND):
        match = pattern.search(written)
        if match and match.start() > 0:
            numbers = tuple(re.findall("[0-9]+", match.group(1))) if match.group(1) else ("*",)
            return written[: match.start()].strip(), numbers
    return written, ()


def _single(rest: str, meaning: Meaning, column_unit: str, style: str, cites: tuple[str, ...]) -> Reading:
    motors = 0
    counted = _COUNTED.fullmatch(rest) if meaning.quantity == "power" else None
    if counted:
        motors, rest = int(counted.group(1)), counted.group(2)
    value, unit_text, remark = _split(rest, meaning, style)
    if value is None:
        return _unreadable(rest, style)
    if value < 0 and meaning.quantity in _NEVER_NEGATIVE:
        return Reading(problem="the value is below zero", remedy="Write the amount without a sign", code="negative")
    unit = _unit(unit_text, meaning, column_unit)
    if isinstance(unit, Reading):
        return unit
    if unit_text and column_unit and unit != column_unit:
        remark = f"the cell is in {unit}, its column in {column_unit}"
    return Reading(value, unit, motors=motors, cites=cites, remark=remark)


def _split(rest: str, meaning: Meaning, style: str) -> tuple[float | None, str, str]:
    """(number, text of the unit behind it, remark)."""
    name = meaning.code.rpartition(".")[2]
    if meaning.quantity == "power":
        match = re.fullmatch(r"([0-9][0-9 /-]*/\s*[0-9]+)\s*(.*)", rest)
        fraction = fraction_of(match.group(1)) if match else None
        if match and fraction is not None:
            return fraction, match.group(2), ""
    if name == "phases":
        spoken = _SPOKEN_PHASES.get(rest.upper().removesuffix(" PHASE").strip())
        match = re.fullmatch(r"([13])\s*-?\s*(?:PHASE|PH|[ØΦφ])?\.?", rest, re.IGNORECASE)
        return (spoken or (float(match.group(1)) if match else None)), "", ""
    if name == "volts":
        match = re.fullmatch(r"([0-9]{2,5})\s*[-/]\s*[0-9]{2,5}\s*(V?.*)", rest, re.IGNORECASE)
        if match:
            return float(match.group(1)), match.group(2), f"'{rest}' names two voltages; the first is taken"
    match = _VALUE.fullmatch(rest)
    if match is None:
        return None, "", ""
    return number_of(match.group(1), style), match.group(2).strip(), ""


def _unit(unit_text: str, meaning: Meaning, column_unit: str) -> str | Reading:
    if not unit_text:
        return column_unit
    if not meaning.quantity:
        return _odd_unit(unit_text, "no unit belongs here")
    found = unit_in(unit_text)
    if found is None and meaning.quantity == "pressure" and unit_text in ('"', "''", "in", "IN", "in.", "IN."):
        found = ("pressure", "in_wc", "")
    if found is None and meaning.quantity == "airflow" and unit_text.upper().rstrip(".") in ("MAX", "MIN"):
        return column_unit
    if found is None:
        return _odd_unit(unit_text, "is no unit that is known here")
    if found[0] != meaning.quantity:
        return _odd_unit(unit_text, f"is a unit of {found[0]}, the column is about {meaning.quantity}")
    return found[1]


def _odd_unit(unit_text: str, why: str) -> Reading:
    return Reading(
        problem=f"'{unit_text}' behind the number {why}" if why.startswith("is") else f"'{unit_text}': {why}",
        remedy="Write the number alone, or with a unit such as cfm, L/s, in. w.g., Pa, hp, kW",
        code="unknown_unit",
    )


def _pair(rest: str, meaning: Meaning, column_unit: str, style: str, cites: tuple[str, ...]) -> Reading | None:
    """Two numbers in one cell: maximum and minimum, by their words or by the order that the column declares."""
    pieces = [piece.strip(" )") for piece in _PIECES.split(rest) if piece.strip(" )")]
    if len(pieces) != 2:
        return None
    matches = [_LABELLED.fullmatch(piece) for piece in pieces]
    first, second = matches
    if first is None or second is None:
        return None
    values = [number_of(match.group(2), style) for match in (first, second)]
    if values[0] is None or values[1] is None:
        return None
    unit_text = second.group(3).strip() or first.group(3).strip()
    unit = _unit(unit_text, meaning, column_unit)
    if isinstance(unit, Reading):
        return unit
    labels = [(match.group(1) or match.group(4) or "").upper() for match in (first, second)]
    swapped = (
        labels[0] == "MIN" or labels[1] == "MAX" or (not any(labels) and meaning.code.endswith("minimum_and_airflow"))
    )
    larger, smaller = (values[1], values[0]) if swapped else (values[0], values[1])
    declared = meaning.form == MAX_MIN or any(labels)
    return Reading(larger, unit, second=smaller, cites=cites, remark="" if declared else "pair_by_form")


def _electrical(written: str) -> Reading:
    match = _SUPPLY.fullmatch(written)
    if match is None:
        single = re.fullmatch(r"([0-9]{2,5})\s*(?:V|VOLTS?|VAC)?", written, re.IGNORECASE)
        if single:
            return Reading(float(single.group(1)), "V")
        return Reading(
            problem="this is not volts / phases / hertz",
            remedy="Write for instance 460/3/60, or leave the column out",
            code="not_electrical",
        )
    volts, phases, hertz = match.groups()
    two = bool(re.match(r"[0-9]{2,5}\s*[-/]\s*[0-9]{3}", written))
    remark = f"'{written}' names two voltages; the first is taken" if two else ""
    return Reading(float(volts), "V", float(phases), float(hertz) if hertz else None, remark=remark)


def _unreadable(rest: str, style: str) -> Reading:
    token = re.fullmatch(r"[+-]?[0-9.,]+", rest)
    if token:
        mark = "point" if style == "point" else "comma"
        return Reading(
            problem=f"its separators do not fit the file, whose decimal mark is a {mark}",
            remedy="Write it like the other numbers of the file, or choose the decimal mark",
            code="separators",
        )
    return Reading(
        problem="this is no number",
        remedy="Write a number, '-' for not given, or choose another meaning for the column",
        code="not_a_number",
    )
