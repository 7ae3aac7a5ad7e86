"""JSON read strictly: what other parsers silently change is refused here, with the place where it stands.

Refused: other than UTF-8, more than 1 MB, deeper than 32, a key twice, NaN and infinities (spelt out or by overflow),
numbers of more than 64 characters or whole numbers beyond ±2^53, NUL and lone surrogates.
"""

import json
import math
import re
from typing import Any

from commissioning.dossier.problem import pointer_of, shown

MOST_BYTES = 1024 * 1024
MOST_DEPTH = 32
MOST_DIGITS = 64
LARGEST_WHOLE = 2**53

_STRINGS = re.compile(rb'"(?:[^"\\]|\\.?)*+"?', re.DOTALL)  # possessive: one pass even where no text ever ends
_BRACKETS = re.compile(rb"[\[\]{}]")
_BAD_TEXT = re.compile("[\x00\ud800-\udfff]")


class StrictError(ValueError):
    """Names where (JSON pointer), which value, why, and what to do."""

    def __init__(self, pointer: str, value: str, reason: str, remedy: str) -> None:
        super().__init__(f"{pointer or 'the body'}: {reason}")
        self.pointer, self.value, self.reason, self.remedy = pointer, value, reason, remedy


class _Bad(Exception):
    pass


def parse(raw: bytes, *, most_bytes: int = MOST_BYTES) -> Any:
    """The value that these bytes say, or StrictError.

    >>> parse(b'{"a": [1, 2.5, true, null]}')
    {'a': [1, 2.5, True, None]}
    >>> parse(b'{"a": {"b": 1, "b": 2}}')
    Traceback (most recent call last):
    commissioning.dossier.strict_json.StrictError: /a/b: This key stands twice.
    """
    if len(raw) > most_bytes:
        raise StrictError("", f"{len(raw)} bytes", f"More than {most_bytes} bytes.", "Send it in parts.")
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        raise StrictError("", shown(raw[error.start : error.start + 8]), "This is not UTF-8.", "Send UTF-8.") from None
    _check_depth(raw)
    try:
        value = json.loads(text, object_pairs_hook=_pairs, parse_float=_float, parse_int=_int, parse_constant=_constant)
    except _Bad:
        raise _located(text) from None
    except json.JSONDecodeError as error:
        raise _no_json(error) from None
    if "\\u" in text:
        _check_texts(value, ())
    return value


def _check_depth(raw: bytes) -> None:
    if raw.count(b"[") + raw.count(b"{") <= MOST_DEPTH:
        return
    depth = 0
    for bracket in _BRACKETS.findall(_STRINGS.sub(b"", raw)):
        depth += 1 if bracket in b"[{" else -1
        if depth > MOST_DEPTH:
            raise StrictError("", f"depth {depth}", f"Nested deeper than {MOST_DEPTH}.", "Send it flatter.")


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise _Bad
    return found


def _float(text: str) -> float:
    value = float(text) if len(text) <= MOST_DIGITS else math.inf
    if not math.isfinite(value):
        raise _Bad
    return value


def _int(text: str) -> int:
    if len(text) > MOST_DIGITS or abs(value := int(text)) > LARGEST_WHOLE:
        raise _Bad
    return value


def _constant(text: str) -> float:
    raise _Bad


# --- only after something was found wrong: once more, slowly, to say where ---------------------------------------


class _Number(str):
    pass


class _Pairs(list[tuple[str, Any]]):
    pass


def _no_json(error: json.JSONDecodeError) -> StrictError:
    where = f"line {error.lineno}, column {error.colno}"
    return StrictError("", where, f"This is not JSON: {error.msg} at {where}.", "Send valid JSON.")


def _located(text: str) -> StrictError:
    try:
        tree = json.loads(
            text, object_pairs_hook=_Pairs, parse_float=_Number, parse_int=_Number, parse_constant=_Number
        )
    except json.JSONDecodeError as error:
        return _no_json(error)
    found = _search(tree, ())
    assert found is not None
    return found


def _search(value: Any, path: tuple[str | int, ...]) -> StrictError | None:
    if isinstance(value, _Number):
        return _number_fault(str(value), path)
    steps: list[tuple[str | int, Any]] = []
    if isinstance(value, _Pairs):
        seen: set[str] = set()
        for key, _ in value:
            if key in seen:
                return StrictError(pointer_of((*path, key)), shown(key), "This key stands twice.", "Send it once.")
            seen.add(key)
        steps = list(value)
    elif isinstance(value, list):
        steps = list(enumerate(value))
    for step, inner in steps:
        found = _search(inner, (*path, step))
        if found is not None:
            return found
    return None


def _number_fault(text: str, path: tuple[str | int, ...]) -> StrictError | None:
    where = pointer_of(path)
    if len(text) > MOST_DIGITS:
        return StrictError(where, shown(text), f"A number of more than {MOST_DIGITS} characters.", "Round it.")
    if text in ("NaN", "Infinity", "-Infinity") or not math.isfinite(float(text)):
        return StrictError(where, shown(text), "This is no finite number.", "Send a number, or leave it out.")
    if text.lstrip("-").isdigit() and abs(int(text)) > LARGEST_WHOLE:
        return StrictError(where, shown(text), "A whole number beyond ±2^53.", "Send it as text.")
    return None


def _check_texts(value: Any, path: tuple[str | int, ...]) -> None:
    if isinstance(value, str):
        if _BAD_TEXT.search(value):
            raise StrictError(pointer_of(path), shown(value), "NUL or half a character in a text.", "Remove it.")
    elif isinstance(value, dict):
        for key, inner in value.items():
            _check_texts(key, (*path, key))
            _check_texts(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            _check_texts(inner, (*path, index))
