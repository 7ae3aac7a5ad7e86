"""A mapping applied to what a reader found: the settings it amounts to, and what became of every single name.

While one value cannot be understood there are no settings at all: nothing is taken in half.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Literal

from commissioning.dossier.problem import Problem, shown
from commissioning.dossier.settings.catalogue import CATALOGUE, NotASetting, value_of
from commissioning.dossier.settings.exports import Export, ExportRefused, Given, Raw, read_export
from commissioning.dossier.settings.mapping import (
    AS_EXPORTED,
    HIDDEN,
    Decimal,
    Line,
    SettingsMapping,
    folded,
    refuse_in_name,
)
from commissioning.dossier.settings.secrecy import refuse_name, refuse_text
from commissioning.engineering import units

_NUMBER = re.compile(r"([+\-\u2212]?)(\d+(?:[.,\u2019' ]\d+)*)((?:[eE][+-]?\d{1,3})?)\s*(.*)", re.DOTALL)
_DECIMAL_COMMA = re.compile(r"\s*[+\-\u2212]?(\d+,(\d{1,2}|\d{4,})|0,\d{3})(?![\d.,])")
_BLANKED = re.compile(r"[*\u2022.\-]*")
_CLOCK = re.compile(r"(\d{1,2}):([0-5]\d)(?::([0-5]\d))?")
_NO_UNIT = frozenset({"", "-", "none", "no unit", "no units", "no-units"})
_YES_NO = {"yes": True, "no": False, "true": True, "false": False, "on": True, "off": False}
LONGEST = 400
"""Of a name or a value in a record: the file itself, which is kept, has the rest."""

Became = Literal["mapped", "ignored", "unknown", "not_set"]


@dataclass(frozen=True)
class Understood:
    """What became of one name; with `mapped`, the setting and the value as the payload holds it."""

    given: Given
    became: Became
    code: str = ""
    value: Any = None


@dataclass(frozen=True)
class Imported:
    mapping: SettingsMapping
    lines: tuple[Understood, ...]
    problems: tuple[Problem, ...]
    columns_not_read: tuple[str, ...] = ()

    @property
    def values(self) -> dict[str, Any]:
        """As a settings payload has them, in the order of the catalogue; nothing while a problem stands."""
        if self.problems:
            return {}
        found = {one.code: one.value for one in self.lines if one.became == "mapped"}
        return {code: found[code] for code in CATALOGUE.settings if code in found}

    def those(self, became: Became) -> tuple[Understood, ...]:
        return tuple(one for one in self.lines if one.became == became)

    @property
    def absent(self) -> tuple[Line, ...]:
        """Names of the mapping that the export does not have, or has without a value."""
        there = {folded(one.given.source) for one in self.lines if one.became != "not_set"}
        return tuple(line for line in self.mapping.lines if folded(line.source) not in there)


def import_file(raw: bytes, mapping: SettingsMapping) -> Imported:
    """A file through a mapping; what cannot be read at all is a problem like any other."""
    try:
        export = read_export(raw, mapping)
    except ExportRefused as refused:
        return Imported(mapping, (), tuple(refused.problems))
    return apply(mapping, export)


def apply(mapping: SettingsMapping, export: Export) -> Imported:
    problems = [*_secrets(export), *_twice(export.given)]
    hidden = {one.pointer for one in problems if one.value == HIDDEN}
    comma = mapping.decimal or _decimal_of(_numbers(mapping, export.given))
    lines = []
    for one in _once(export.given):
        if one.where in hidden:
            continue
        try:
            lines.append(_understood(mapping, one, comma))
        except NotASetting as no:
            problems.append(_problem(one, no))
    if not problems and not any(one.became == "mapped" for one in lines):
        names = ", ".join(one.given.source for one in lines[:5])
        reason = f"Nothing in it is a setting by the mapping of {mapping.family}."
        problems.append(Problem("", shown(names), reason, "Choose the mapping of this controller's family."))
    return Imported(mapping, tuple(lines), tuple(problems), export.columns_not_read)


def provenance(imported: Imported, *, file: str, sha256: str) -> dict[str, Any]:
    """What a record says about where its settings come from: file, mapping, and every name that gave no setting."""
    return {
        "file": file,
        "sha256": sha256,
        "mapping": {
            "family": imported.mapping.family,
            "version": imported.mapping.version,
            "sha256": imported.mapping.sha256,
        },
        "ignored": [one.given.source[:LONGEST] for one in imported.those("ignored")],
        "not_set": [one.given.source[:LONGEST] for one in imported.those("not_set")],
        "unknown": [
            {
                "name": one.given.source[:LONGEST],
                "value": as_text(one.given.value)[:LONGEST],
                "unit": one.given.unit[:LONGEST],
            }
            for one in imported.those("unknown")
        ],
    }


def as_text(value: Raw) -> str:
    """
    >>> as_text(12.0), as_text(True), as_text(None), as_text("auto")
    ('12', 'true', '', 'auto')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:.12g}"
    return str(value).strip()


def _problem(one: Given, no: NotASetting) -> Problem:
    text = str(no)
    where = f"{one.where}, {shown(one.source)}" if one.where else shown(one.source)
    return Problem(where, shown(as_text(one.value)), f"{text[:1].upper()}{text[1:]}.", no.remedy)


def _secrets(export: Export) -> Iterator[Problem]:
    """A password may stand in any part of the file, and the file is kept: so all of it is looked at."""
    for one in export.given:
        if not _BLANKED.fullmatch(as_text(one.value)):
            yield from _refusal(refuse_name, one.source, one.where)
        yield from _refusal(refuse_in_name, one.source, one.where)
        for text in (as_text(one.value), one.unit):
            yield from _refusal(refuse_text, text, one.where)
    for where, text in export.others:
        yield from _refusal(refuse_text, text, where)
    for head in export.columns_not_read:
        yield from _refusal(refuse_name, head, "the header")


def _refusal(refuse: Callable[[str], None], text: str, where: str) -> Iterator[Problem]:
    try:
        refuse(text)
    except NotASetting as no:
        reason = str(no)
        remedy = "Take it out of the file and import again. Nothing was kept; if it was sent before, have it changed."
        yield Problem(where, HIDDEN, f"{reason[:1].upper()}{reason[1:]}.", remedy)


def _twice(given: Iterable[Given]) -> Iterator[Problem]:
    seen: dict[str, Given] = {}
    for one in given:
        first = seen.setdefault(folded(one.source), one)
        if (first.value, first.unit) != (one.value, one.unit):
            reason = f"This name stands twice with two values; first at {first.where}."
            yield Problem(one.where, shown(one.source), reason, "Keep the line that holds.")


def _once(given: Iterable[Given]) -> list[Given]:
    seen: dict[str, Given] = {}
    for one in given:
        seen.setdefault(folded(one.source), one)
    return list(seen.values())


# One name


def _understood(mapping: SettingsMapping, one: Given, comma: Decimal) -> Understood:
    if folded(one.source) in mapping.ignored_folded:
        return Understood(one, "ignored")
    line = mapping.by_source.get(folded(one.source))
    if line is None:
        return Understood(one, "unknown")
    text = as_text(one.value)
    if not text or folded(text) in mapping.not_set:
        return Understood(one, "not_set", line.setting.code)
    value = _value(line, one, text, comma)
    value_of(line.setting, value)
    return Understood(one, "mapped", line.setting.code, value)


def _value(line: Line, one: Given, text: str, comma: Decimal) -> Any:
    setting = line.setting
    if setting.kind == "text":
        return text
    if setting.kind in ("choice", "yes_no"):
        return _word(line, one, text)
    clock = _CLOCK.fullmatch(text) if setting.unit == "h" else None
    if clock is not None:
        return {"value": float(f"{int(clock[1]) + int(clock[2]) / 60 + int(clock[3] or 0) / 3600:.12g}"), "unit": "h"}
    number, beside = _number(one.value, text, comma)
    unit = _unit(line, _one_unit(one.unit, beside))
    number = float(f"{number * line.scale + line.offset:.12g}")
    if setting.kind == "quantity":
        return {"value": number, "unit": unit}
    return int(number) if setting.kind == "whole" and number.is_integer() else number


def _word(line: Line, one: Given, text: str) -> str | bool:
    if line.words:
        known = line.words.get(folded(text))
    elif line.setting.kind == "yes_no":
        known = one.value if isinstance(one.value, bool) else _YES_NO.get(folded(text))
    else:
        known = text if text in line.setting.choices else None
    if known is None:
        words = ", ".join(line.words or (_YES_NO if line.setting.kind == "yes_no" else line.setting.choices))
        raise NotASetting(
            "the mapping does not say what this means", f"It knows: {words}. Add the word to the mapping."
        )
    return known


def _one_unit(column: str, beside: str) -> str:
    """Of the unit's own column and of what stands behind the number."""
    column = "" if folded(column) in _NO_UNIT else column
    if column and beside and folded(column) != folded(beside):
        raise NotASetting(f"two units stand beside it, {shown(beside)} and {shown(column)}", "Correct the file.")
    return column or beside


def _unit(line: Line, beside: str) -> str:
    """The unit that stands beside the value, else the mapping's; the one may not contradict the other's kind."""
    setting = line.setting
    if setting.kind != "quantity":
        if beside:
            raise NotASetting(f"{shown(beside)} stands beside it, and the setting has no unit", "Correct the mapping.")
        return ""
    if not beside:
        if line.unit == AS_EXPORTED:
            raise NotASetting("no unit stands beside it, and the mapping gives none", "Name the unit in the mapping.")
        return line.unit
    found = units.recognise(beside, quantity=setting.quantity)
    if found is None:
        other = units.recognise(beside)
        what = f"is one of {other.quantity}" if other else "is not known"
        raise NotASetting(
            f"the unit {shown(beside)} {what}; this setting takes {setting.quantity}",
            f"Correct it, or map another setting. Units: {', '.join(units.codes_of(setting.quantity))}.",
        )
    if line.unit not in (AS_EXPORTED, found.code) and (line.scale, line.offset) != (1.0, 0.0):
        raise NotASetting(
            f"the file says {found.label}, and the mapping scales it into {units.unit(line.unit).label}",
            "Export without units, or map without a scale.",
        )
    return found.code


def _number(value: Raw, text: str, comma: Decimal) -> tuple[float, str]:
    """The number, and what stands behind it. A thousands separator is never guessed at."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return float(value), ""
    found = _NUMBER.fullmatch(text)
    if isinstance(value, bool) or found is None:
        raise NotASetting("this is no number", "Correct it, or list the word under not_set if it means not set.")
    sign, digits, power, beside = found.groups()
    marks = re.sub(r"\d", "", digits)
    if len(marks) > 1 or marks in ("'", "\u2019", " "):
        raise NotASetting("thousands separators are not read", "Export it without them.")
    if marks and {".": "point", ",": "comma"}[marks] != (comma or {".": "point", ",": "comma"}[marks]):
        other = "comma" if comma == "comma" else "point"
        raise NotASetting(f"the decimal {other} holds in this file, so this would be a thousands separator",
                          "Export it without thousands separators.")  # fmt: skip
    if marks == "," and not comma:
        raise NotASetting(
            "this comma is a decimal one or parts thousands", "Say decimal = comma or point in the mapping."
        )
    minus = "-" if sign in ("-", "\u2212") else ""
    number = float(f"{minus}{digits.replace(',', '.')}{power}")
    if abs(number) == float("inf"):
        raise NotASetting("this is no finite number", "Correct it.")
    return number, beside.strip()


def _numbers(mapping: SettingsMapping, given: Iterable[Given]) -> Iterator[Given]:
    for one in given:
        line = mapping.by_source.get(folded(one.source))
        if line is not None and line.setting.kind in ("quantity", "number", "whole"):
            yield one


def _decimal_of(given: Iterable[Given]) -> Decimal:
    """A comma as the decimal sign, if some number of the file cannot be read otherwise; else not known.

    >>> _decimal_of([Given("a", "1,250"), Given("b", "12,5")]), _decimal_of([Given("a", "1,250")])
    ('comma', '')
    """
    for one in given:
        if isinstance(one.value, str) and re.match(
            r"\s*[+\-\u2212]?(\d+,(\d{1,2}|\d{4,})|0,\d{3})(?![\d.,])", one.value
        ):
            return "comma"
    return ""
