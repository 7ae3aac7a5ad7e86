"""An understanding as JSON and back, the same: it is shown as a dry run and kept until somebody decides."""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from types import NoneType, UnionType
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

from portfolio.schedules.reading.cells import Address
from portfolio.schedules.reading.collector import held
from portfolio.schedules.understanding.result import Choices, Quantity, Understanding, Written

T = TypeVar("T")
_NAMES: dict[Any, tuple[str, ...]] = {}
_HINTS: dict[Any, dict[str, Any]] = {}


def to_json(value: Any) -> Any:
    """Plain dicts, lists, texts and numbers; an address is [sheet, row, column], an empty field is left out.

    >>> to_json(Quantity(400.0, "cfm", Address("M-601", 8, "F"), "600/400"))
    {'value': 400.0, 'unit': 'cfm', 'at': ['M-601', 8, 'F'], 'text': '600/400'}
    """
    with held():
        return _plain(value)


def _plain(value: Any) -> Any:
    if value is None or isinstance(value, str | int | float):
        return value
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, Quantity):
        return {"value": value.value, "unit": value.unit, "at": list(value.at), "text": value.text}
    if isinstance(value, Written):
        return {"text": value.text, "at": list(value.at)}
    found = {}
    for name in _names(type(value)):
        item = getattr(value, name)
        if item is not None and item != () and item != {}:
            found[name] = _plain(item)
    return found


def understanding_from(data: Any) -> Understanding:
    """The understanding that `to_json` wrote."""
    with held():
        return _made(Understanding, data)


def choices_from(data: Any) -> Choices:
    """The choices that `to_json` wrote; missing parts are left at nothing chosen."""
    return _made(Choices, data)


def _made(kind: type[T], data: Any) -> T:
    hints = _hints(kind)
    return kind(**{name: _value(hints[name], item) for name, item in data.items() if name in hints})


def _value(hint: Any, data: Any) -> Any:
    if data is None:
        return None
    origin = get_origin(hint)
    if origin is UnionType:
        return _value(next(one for one in get_args(hint) if one is not NoneType), data)
    if hint is Address:
        return Address(*data)
    if origin is tuple:
        inner = get_args(hint)
        if len(inner) == 2 and inner[1] is Ellipsis:
            return tuple(_value(inner[0], item) for item in data)
        return tuple(_value(one, item) for one, item in zip(inner, data, strict=True))
    if origin is Mapping:
        return {key: _value(get_args(hint)[1], item) for key, item in data.items()}
    if isinstance(hint, type) and is_dataclass(hint):
        return _made(hint, data)
    return float(data) if hint is float else data


def _names(kind: Any) -> tuple[str, ...]:
    found = _NAMES.get(kind)
    if found is None:
        found = _NAMES[kind] = tuple(one.name for one in fields(kind))
    return found


def _hints(kind: Any) -> dict[str, Any]:
    found = _HINTS.get(kind)
    if found is None:
        found = _HINTS[kind] = get_type_hints(kind)
    return found
