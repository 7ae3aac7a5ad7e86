"""An export of a controller read into names and values: CSV in the forms that are met, or JSON, flat or nested.

Nothing is understood here and nothing is left out: every name with its value goes on, with where it stands.
"""

import codecs
import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from commissioning.dossier import strict_json
from commissioning.dossier.problem import Problem, pointer_of, shown
from commissioning.dossier.settings.mapping import SettingsMapping, folded

MOST_BYTES = 256 * 1024
MOST_ROWS = 5000
_HEADER_WITHIN = 20
_NAMES = frozenset({"name", "parameter", "point", "point name", "object", "variable", "setting", "tag"})
_VALUES = frozenset({"value", "present value", "present-value", "actual", "actual value", "current value", "set to"})
_UNITS = frozenset({"unit", "units", "unit of measure", "engineering unit", "engineering units"})

Raw = float | int | str | bool | None


class ExportRefused(ValueError):
    """An export cannot be read at all; `problems` say where and why."""

    def __init__(self, *problems: Problem) -> None:
        super().__init__(problems[0].reason)
        self.problems = list(problems)


@dataclass(frozen=True)
class Given:
    """One value as its reader found it: what it is called there, the value, the unit if one stands beside it."""

    source: str
    value: Raw
    unit: str = ""
    where: str = ""


@dataclass(frozen=True)
class Export:
    """`others` are texts of the file that are neither name nor value: title lines, columns that nobody reads."""

    given: tuple[Given, ...]
    others: tuple[tuple[str, str], ...] = ()
    columns_not_read: tuple[str, ...] = ()


def read_export(raw: bytes, mapping: SettingsMapping) -> Export:
    """What the bytes hold, or ExportRefused. The mapping says what columns are called and which names are known."""
    if len(raw) > MOST_BYTES:
        raise _refused(f"{len(raw)} bytes", f"More than {MOST_BYTES} bytes.", "Export the settings only.")
    text = _text(raw)
    if not text.strip():
        raise _refused("", "The file is empty.", "Export it again.")
    if text.lstrip()[:1] in "{[":
        return Export(tuple(_from_json(text)))
    return _from_csv(text, mapping)


def _refused(value: str, reason: str, remedy: str, where: str = "") -> ExportRefused:
    return ExportRefused(Problem(where, shown(value), reason, remedy))


def _text(raw: bytes) -> str:
    """A byte order mark decides; else UTF-8 if it is valid, else the Windows code page 1252."""
    wide = raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    for encoding in ("utf-16",) if wide else ("utf-8-sig", "cp1252"):
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise _refused("", "This is no text.", "Export it as CSV or JSON; a workbook is saved as CSV first.")


# JSON


def _from_json(text: str) -> Iterator[Given]:
    try:
        held = strict_json.parse(text.encode())
    except strict_json.StrictError as fault:
        raise ExportRefused(Problem(fault.pointer, fault.value, fault.reason, fault.remedy)) from None
    number = 0
    for number, one in enumerate(_walked(held, (), ()), start=1):
        if number > MOST_ROWS:
            raise _refused(f"more than {MOST_ROWS}", f"More than {MOST_ROWS} values.", "Export the settings only.")
        yield one
    if not number:
        raise _refused(shown(held), "There is no value in it.", "Export it again.")


def _walked(held: Any, names: tuple[str, ...], path: tuple[str | int, ...]) -> Iterator[Given]:
    if isinstance(held, dict):
        if "value" in held and set(held) <= {"name", "value", "unit"} and (names or "name" in held):
            yield _leaf(held, names, path)
            return
        for key, inner in held.items():
            yield from _walked(inner, (*names, key), (*path, key))
    elif isinstance(held, list):
        for index, inner in enumerate(held):
            named = isinstance(inner, dict) and "name" in inner
            yield from _walked(inner, names if named else (*names, str(index)), (*path, index))
    else:
        yield Given(".".join(names), held, "", pointer_of(path))


def _leaf(held: dict[str, Any], names: tuple[str, ...], path: tuple[str | int, ...]) -> Given:
    value, unit, name = held["value"], held.get("unit"), held.get("name")
    where = pointer_of(path)
    if isinstance(value, dict | list):
        raise _refused(str(value), "A value holds further values.", "Export each value by itself.", where)
    if not isinstance(unit, str | None) or not isinstance(name, str | None):
        raise _refused(str(unit), "A name or a unit is no text.", "Send it in quotes.", where)
    return Given(".".join((*names, name) if name else names), value, unit or "", where)


# CSV


def _from_csv(text: str, mapping: SettingsMapping) -> Export:
    rows = list(_rows(text, _delimiter(text)))
    header = _header(rows, mapping)
    if header is not None:
        return _under(rows, *header)
    if mapping.columns is not None:
        wanted = ", ".join(filter(None, (mapping.columns.name, mapping.columns.value, mapping.columns.unit)))
        found = ", ".join(rows[0][1])
        reason = "No row has the columns that the mapping names."
        raise _refused(found, reason, f"The mapping looks for {wanted}: correct it, or export with a header.", "line 1")
    if len(rows) == 2 and _known(rows[0][1], mapping) > _known([row[0] for _, row in rows], mapping):
        return Export(tuple(_across(*rows)))
    if max(len(row) for _, row in rows) > 3:
        reason = "It is not clear which column holds the names and which the values."
        remedy = (
            "Export name, value and unit with a header, one row of names over one of values, or say it in the mapping."
        )
        raise _refused(", ".join(rows[0][1]), reason, remedy, f"line {rows[0][0]}")
    return Export(tuple(_given(number, row, 0, 1, 2) for number, row in rows))


def _delimiter(text: str) -> str:
    """The one that parts the lines; a comma between digits may be a decimal one and comes last."""
    lines = text.splitlines()[:200]
    for delimiter in ("\t", ";"):
        if 2 * sum(delimiter in line for line in lines if line.strip()) >= sum(1 for line in lines if line.strip()):
            return delimiter
    return ","


def _rows(text: str, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    number = 0
    try:
        for row in reader:
            cells = [cell.strip() for cell in row]
            while cells and not cells[-1]:
                cells.pop()
            if not cells:
                continue
            number += 1
            if number > MOST_ROWS:
                reason = f"More than {MOST_ROWS} rows."
                raise _refused(f"line {reader.line_num}", reason, "Export the settings only.")
            yield reader.line_num, cells
    except csv.Error as error:
        where = f"line {reader.line_num + 1}"
        raise _refused("", f"This row cannot be parted: {error}.", "Close its quotation mark.", where) from None


def _header(rows: list[tuple[int, list[str]]], mapping: SettingsMapping) -> tuple[int, int, int, int] | None:
    """Which of the first rows is the header, and in which columns names, values and units stand (-1: nowhere)."""
    columns = mapping.columns
    names = {folded(columns.name)} if columns else _NAMES
    values = {folded(columns.value)} if columns else _VALUES
    unit_names = ({folded(columns.unit)} if columns.unit else frozenset()) if columns else _UNITS
    for index, (_, row) in enumerate(rows[:_HEADER_WITHIN]):
        heads = [folded(cell) for cell in row]
        found = [next((place for place, head in enumerate(heads) if head in those), -1) for those in (names, values)]
        if min(found) >= 0 and found[0] != found[1]:
            unit = next((place for place, head in enumerate(heads) if head in unit_names), -1)
            return index, found[0], found[1], unit
    return None


def _under(rows: list[tuple[int, list[str]]], at: int, name: int, value: int, unit: int) -> Export:
    read = {name, value, unit}
    heads = rows[at][1]
    for number, row in rows[at + 1 :]:
        if len(row) > len(heads):
            reason = f"{len(row)} cells under {len(heads)} columns."
            remedy = "Put a value with a decimal comma into quotes, or export with semicolons."
            raise _refused(", ".join(row), reason, remedy, f"line {number}")
    others = [(f"line {number}", " ".join(row)) for number, row in rows[:at]]
    others += [
        (f"line {number}", cell)
        for number, row in rows[at + 1 :]
        for place, cell in enumerate(row)
        if place not in read and cell
    ]
    not_read = tuple(head for place, head in enumerate(heads) if place not in read and head)
    given = tuple(_given(number, row, name, value, unit) for number, row in rows[at + 1 :])
    if not given:
        raise _refused("", "There is a header and nothing under it.", "Export it again.", f"line {rows[at][0]}")
    return Export(given, tuple(others), not_read)


def _given(number: int, row: list[str], name: int, value: int, unit: int) -> Given:
    def cell(place: int) -> str:
        return row[place] if 0 <= place < len(row) else ""

    where = f"line {number}"
    if not cell(name):
        raise _refused(cell(value), "A value without a name.", "Give its name, or take the line out.", where)
    if cell(unit).isdigit():
        remedy = "Put a value with a decimal comma into quotes, or export with semicolons."
        raise _refused(f"{cell(value)}, {cell(unit)}", "A number where the unit should stand.", remedy, where)
    return Given(cell(name), cell(value), cell(unit), where)


def _across(names: tuple[int, list[str]], values: tuple[int, list[str]]) -> Iterator[Given]:
    number, held = values
    if len(held) > len(names[1]):
        reason = f"There are {len(names[1])} names and {len(held)} values."
        raise _refused(held[-1], reason, "Export both rows with the same columns.", f"line {number}")
    for place, name in enumerate(names[1]):
        where = f"line {number}, column {place + 1}"
        if not name:
            raise _refused("", "A value without a name.", "Give its name, or take the column out.", where)
        yield Given(name, held[place] if place < len(held) else "", "", where)


def _known(names: list[str], mapping: SettingsMapping) -> int:
    return sum(mapping.knows(name) for name in names)
