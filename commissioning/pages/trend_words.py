"""The form of a log's mapping: its choices, and what was seen as a sentence."""

from collections.abc import Mapping
from typing import Any

from commissioning.engineering.units import UNITS
from commissioning.logs.roles import MODE, STATE, roles
from portfolio.dashboards.words import count, opening

_KINDS = {"text": "text", "workbook": "workbook", "parquet": "Parquet"}
_PARTED = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}


def fields_of() -> tuple[str, ...]:
    """The mapping's fields that are one text each."""
    return (
        *("source", "zone", "time_format", "delimiter", "decimal", "sheet"),
        *("repeated_hour", "missing_hour", "duplicates"),
    )


def choices() -> dict[str, Any]:
    quantities = {role.quantity for role in roles().values()} - {STATE, MODE}
    return {
        "roles": [(role.code, role.title) for role in roles().values()],
        "unit_codes": [(unit.code, unit.label) for unit in UNITS if unit.quantity in quantities],
        "delimiters": [("", "as found"), (",", "commas"), (";", "semicolons"), ("\t", "tabs"), ("|", "bars")],
        "decimals": [("", "as found"), (".", "point"), (",", "comma")],
        "repeated": [("first", "the first of the two"), ("second", "the second"), ("refuse", "refuse the file")],
        "missing": [
            ("shift", "as if the clock had not been put on"),
            ("drop", "leave them out"),
            ("refuse", "refuse the file"),
        ],
        "doubles": [("last", "the last counts"), ("first", "the first counts"), ("refuse", "refuse the file")],
    }


def pairs(text: str) -> dict[str, Any]:
    """Words with their numbers, as typed; what is no number is given on and refused by name.

    >>> pairs("Ein=1, Aus=0")
    {'Ein': '1', 'Aus': '0'}
    """
    made = {}
    for one in text.split(","):
        word, _, number = one.rpartition("=")
        if one.strip():
            made[word.strip() or one.strip()] = number.strip()
    return made


def seen_sentence(seen: Mapping[str, Any]) -> str:
    """What kind of table it is.

    >>> seen_sentence({})
    ''
    """
    if not seen.get("points"):
        return ""
    parted = f" parted by {_PARTED[seen['delimiter']]}" if seen["delimiter"] else ""
    sheet = f", the sheet {seen['sheet']}" if seen["sheet"] else ""
    shape = "a row for each sample" if seen["form"] == "long" else "a column for each point"
    points, rows = len(seen["points"]), seen["rows"]
    many = f"{count(points)} {'point' if points == 1 else 'points'} in {rows:,} {'row' if rows == 1 else 'rows'}"
    head = f"{opening(_KINDS[seen['kind']])}{parted}{sheet}, {shape}: {many}"
    clock = "with their offset from UTC" if seen["is_utc"] else "on a local clock"
    return f"{head}. Moments stand in {', '.join(seen['time_columns'])}, written {seen['time_format']}, {clock}."
