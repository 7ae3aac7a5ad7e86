"""A firm's mapping of one family of controllers: which of its names is which of our settings, in which unit.

A mapping is TOML or JSON. Everything that is wrong with one is told at once, with where it stands. Where the values
come from, a file or a network, is nothing to it: `source` is whatever text the reader calls a value by.
"""

import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints, ValidationError

from commissioning.dossier import quantities as q
from commissioning.dossier import strict_json, strict_toml
from commissioning.dossier.canonical import sha256_hex
from commissioning.dossier.faults import problems_of
from commissioning.dossier.problem import Problem, pointer_of, shown
from commissioning.dossier.settings.catalogue import CATALOGUE, NotASetting, Setting
from commissioning.dossier.settings.secrecy import refuse_name, refuse_text
from commissioning.engineering import units

SCHEMA = "ventfolio/settings-mapping/1"
AS_EXPORTED = "as_exported"
MOST_BYTES = 256 * 1024
HIDDEN = "(not shown)"
Fault = Callable[[tuple[str, ...], Any, str, str], None]  # fields that lead there, value, reason, remedy

Decimal = Literal["", "point", "comma"]
Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]


class MappingRefused(ValueError):
    """A mapping cannot be used; `problems` are all that is wrong with it."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__("; ".join(f"{one.pointer or 'the mapping'}: {one.reason}" for one in problems[:3]))
        self.problems = problems


class ColumnsModel(q.Closed):
    """What the export's columns are called, where its header does not say name, value and unit."""

    name: Name
    value: Name
    unit: Name | None = None


class LineModel(q.Closed):
    """One name. What is read × `scale` + `offset` is the value in `unit`; `words` are for choices and yes or no."""

    source: Name
    setting: Name
    unit: Name | None = None
    scale: q.Number = 1.0
    offset: q.Number = 0.0
    words: Annotated[dict[Name, str | bool], Field(min_length=1, max_length=200)] | None = None


class MappingModel(q.Closed):
    schema_: Annotated[Literal["ventfolio/settings-mapping/1"], Field(alias="schema")]
    family: Name
    version: Annotated[int, Field(ge=1, le=1_000_000)]
    note: Annotated[str, StringConstraints(max_length=2000)] = ""
    decimal: Literal["point", "comma"] | None = None
    columns: ColumnsModel | None = None
    not_set: Annotated[list[Name], Field(max_length=50)] = []
    ignored: Annotated[list[Name], Field(max_length=2000)] = []
    settings: Annotated[list[LineModel], Field(min_length=1, max_length=2000)]


@dataclass(frozen=True)
class Line:
    """One name of the family and how its value is to be understood. `words` are folded, their values checked."""

    source: str
    setting: Setting
    unit: str = ""
    scale: float = 1.0
    offset: float = 0.0
    words: Mapping[str, str | bool] = field(default_factory=dict)


@dataclass(frozen=True)
class SettingsMapping:
    family: str
    version: int
    sha256: str
    lines: tuple[Line, ...]
    ignored: tuple[str, ...] = ()
    not_set: frozenset[str] = frozenset()
    decimal: Decimal = ""
    columns: ColumnsModel | None = None
    note: str = ""

    @cached_property
    def by_source(self) -> Mapping[str, Line]:
        return {folded(one.source): one for one in self.lines}

    @cached_property
    def ignored_folded(self) -> frozenset[str]:
        return frozenset(folded(one) for one in self.ignored)

    def knows(self, name: str) -> bool:
        return folded(name) in self.by_source or folded(name) in self.ignored_folded


def folded(name: str) -> str:
    """Names are compared without regard to capitals and to how many spaces part their words.

    >>> folded(" Analog-Value   12 ")
    'analog-value 12'
    """
    return " ".join(name.split()).casefold()


def refuse_in_name(name: str) -> None:
    """As `refuse_text`, for a name: one may be long, mixed and without spaces, as keys are.

    >>> refuse_in_name("SupplyFanMinimumSpeed01Setpoint")
    >>> refuse_in_name("unlock with pin 4711")
    Traceback (most recent call last):
    commissioning.dossier.settings.secrecy.Secret: a password, a code of entry or a key seems to be in it
    """
    refuse_text(f"name {name}")


def read_mapping(raw: bytes) -> SettingsMapping:
    """The mapping that these bytes say, or MappingRefused with everything that is wrong with it."""
    given = _parsed(raw)
    if not isinstance(given, dict):
        raise MappingRefused([Problem("", shown(given), "A mapping is an object.", "Send it like the example.")])
    problems: list[Problem] = []
    whole = _whole(given, problems)
    lines = list(_lines(_list(given, "settings"), problems))
    problems += _twice(given, lines)
    problems += _secrets(given)
    found = [line for index, one in lines if (line := _line(index, one, problems)) is not None]
    if problems or whole is None:
        raise MappingRefused(list(dict.fromkeys(problems)))
    return SettingsMapping(
        family=whole.family,
        version=whole.version,
        sha256=sha256_hex(raw),
        lines=tuple(found),
        ignored=tuple(whole.ignored),
        not_set=frozenset(folded(one) for one in whole.not_set),
        decimal=whole.decimal or "",
        columns=whole.columns,
        note=whole.note,
    )


def _parsed(raw: bytes) -> Any:
    if len(raw) > MOST_BYTES:
        told = Problem("", f"{len(raw)} bytes", f"More than {MOST_BYTES} bytes.", "Part it by family.")
        raise MappingRefused([told])
    raw = raw.removeprefix(b"\xef\xbb\xbf")
    try:
        if raw.lstrip()[:1] in (b"{", b"["):
            return strict_json.parse(raw)
        text = raw.decode()
        if "\0" in text:
            raise MappingRefused([Problem("", "NUL", "There is a NUL in it.", "Send text.")])
        return strict_toml.parse(text)
    except strict_json.StrictError as fault:
        raise MappingRefused([Problem(fault.pointer, fault.value, fault.reason, fault.remedy)]) from None
    except UnicodeDecodeError as error:
        bad = shown(raw[error.start : error.start + 8])
        raise MappingRefused([Problem("", bad, "This is not UTF-8.", "Save it as UTF-8.")]) from None
    except tomllib.TOMLDecodeError as error:
        told = Problem("", "", f"This is neither JSON nor TOML: {error}.", "Correct that line.")
        raise MappingRefused([told]) from None


def _whole(given: dict[str, Any], problems: list[Problem]) -> MappingModel | None:
    try:
        return MappingModel.model_validate(given)
    except ValidationError as error:
        problems += problems_of(error, given)
        return None


def _list(given: Mapping[str, Any], name: str) -> list[Any]:
    """A field that ought to be a list; where it is none, that is told elsewhere."""
    held = given.get(name)
    return held if isinstance(held, list) else []


def _lines(given: list[Any], problems: list[Problem]) -> Iterator[tuple[int, LineModel]]:
    """Those lines that can be read, each by itself, so that one bad line hides nothing of the others."""
    for index, one in enumerate(given):
        try:
            yield index, LineModel.model_validate(one)
        except ValidationError as error:
            problems += problems_of(error, one, ("settings", index))


def _twice(given: Mapping[str, Any], lines: list[tuple[int, LineModel]]) -> Iterator[Problem]:
    names: dict[str, str] = {}
    codes: dict[str, str] = {}
    for index, one in lines:
        where = pointer_of(("settings", index, "source"))
        first = names.setdefault(folded(one.source), where)
        if first != where:
            yield Problem(where, shown(one.source), f"This name stands twice; first at {first}.", "Keep one of them.")
        where = pointer_of(("settings", index, "setting"))
        first = codes.setdefault(one.setting, where)
        if first != where:
            reason = f"Two names are mapped to this setting; the other at {first}."
            yield Problem(where, shown(one.setting), reason, "Map one of them and put the other under ignored.")
    for index, name in enumerate(_list(given, "ignored")):
        where = pointer_of(("ignored", index))
        first = names.setdefault(folded(str(name)), where)
        if first != where:
            yield Problem(where, shown(name), f"This name stands twice; first at {first}.", "Keep one of them.")


def _secrets(given: Mapping[str, Any]) -> Iterator[Problem]:
    """Names that look like those of secrets, ignored ones as well: an export with a value there is refused."""
    held: list[tuple[tuple[str | int, ...], Any, Callable[[str], None]]] = [
        (("settings", index, "source"), one.get("source"), refuse_name)
        for index, one in enumerate(_list(given, "settings"))
        if isinstance(one, dict)
    ]
    held += [(("ignored", index), one, refuse_name) for index, one in enumerate(_list(given, "ignored"))]
    held += [((name,), given.get(name), refuse_text) for name in ("family", "note")]
    for path, text, refuse in held:
        try:
            if isinstance(text, str):
                refuse(text)
        except NotASetting as no:
            remedy = "Take the name out of the mapping; an export that holds such a field with a value is refused."
            yield Problem(pointer_of(path), HIDDEN, _sentence(no), remedy if refuse is refuse_name else no.remedy)


def _line(index: int, one: LineModel, problems: list[Problem]) -> Line | None:
    def fault(path: tuple[str, ...], value: Any, reason: str, remedy: str) -> None:
        problems.append(Problem(pointer_of(("settings", index, *path)), shown(value), reason, remedy))

    setting = CATALOGUE.settings.get(one.setting)
    if setting is None:
        near = CATALOGUE.nearest(one.setting)
        remedy = f"Perhaps it is {near}." if near else "See docs/schemas for the names, or put the name under ignored."
        fault(("setting",), one.setting, "No setting has this name.", remedy)
        return None
    before = len(problems)
    if setting.kind not in ("quantity", "number", "whole") and (one.scale, one.offset) != (1.0, 0.0):
        name = "scale" if one.scale != 1.0 else "offset"
        reason = f"{setting.title} is no number: there is nothing to scale."
        fault((name,), getattr(one, name), reason, "Leave scale and offset out; say what each value means by words.")
    if one.scale == 0.0:
        fault(("scale",), one.scale, "A scale of nothing makes every value the same.", "Give the factor, such as 0.1.")
    unit = _unit(one, setting, fault)
    words = _words(one, setting, fault)
    if len(problems) > before:
        return None
    return Line(one.source, setting, unit, one.scale, one.offset, words)


def _unit(one: LineModel, setting: Setting, fault: Fault) -> str:
    """The unit's code, as_exported, or nothing where the setting has none."""
    if setting.kind != "quantity":
        if one.unit is not None:
            fault(("unit",), one.unit, f"{setting.title} has no unit.", "Leave the unit out.")
        return ""
    usual = ", ".join(units.codes_of(setting.quantity))
    remedy = f"Write one of: {usual}; or {AS_EXPORTED} where each value of the export brings its own."
    if one.unit is None:
        where = "The unit is missing: a bare number says nothing."
        fault(("unit",), None, where, remedy)
        return ""
    if one.unit == AS_EXPORTED:
        if (one.scale, one.offset) != (1.0, 0.0):
            reason = f"A scale needs to know into which unit it leads, and {AS_EXPORTED} does not say."
            fault(("unit",), one.unit, reason, f"Write one of: {usual}.")
        return AS_EXPORTED
    found = units.recognise(one.unit, quantity=setting.quantity)
    if found is not None:
        return found.code
    other = units.recognise(one.unit)
    reason = f"This is a unit of {other.quantity}; here it takes {setting.quantity}." if other else "No such unit."
    fault(("unit",), one.unit, reason, remedy)
    return ""


def _words(one: LineModel, setting: Setting, fault: Fault) -> dict[str, str | bool]:
    if one.words is None:
        return {}
    if setting.kind not in ("choice", "yes_no"):
        fault(("words",), ", ".join(one.words), f"{setting.title} is no choice: it has no words.", "Leave words out.")
        return {}
    found: dict[str, str | bool] = {}
    allowed = "yes, no" if setting.kind == "yes_no" else ", ".join(setting.choices)
    for word, meaning in one.words.items():
        where = ("words", word)
        understood = _meaning(setting, meaning)
        if understood is None:
            fault(where, meaning, f"{setting.title} is never this.", f"Use one of: {allowed}.")
        elif found.setdefault(folded(word), understood) != understood:
            fault(where, meaning, "This word stands twice with two meanings; capitals do not count.", "Keep one.")
    return found


def _meaning(setting: Setting, meaning: str | bool) -> str | bool | None:
    if setting.kind == "yes_no":
        return meaning if isinstance(meaning, bool) else {"yes": True, "no": False}.get(meaning)
    return meaning if isinstance(meaning, str) and meaning in setting.choices else None


def _sentence(no: NotASetting) -> str:
    text = str(no)
    return f"{text[:1].upper()}{text[1:]}."
