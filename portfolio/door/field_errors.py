"""From the framework's nested validation errors to a flat list: pointer, code, reason, value, remedy."""

from collections.abc import Iterator
from typing import Any, TypedDict


class FieldError(TypedDict, total=False):
    pointer: str  # a JSON pointer (RFC 6901); '' is the body as a whole
    code: str
    detail: str
    value: Any  # what was sent, where that helps
    remedy: str


_REMEDIES = {
    "required": "Send this field.",
    "null": "Send a value, or leave the field out if it is optional.",
    "blank": "Send some text.",
    "unknown_field": "Leave it out; the API description lists the fields.",
    "invalid_choice": "Send one of the values of the API description.",
    "does_not_exist": "Send the id of something that you can see.",
    "max_length": "Send a shorter text.",
    "not_a_list": "Send a list.",
    "not_a_dict": "Send an object.",
}
_SECRET = ("password", "current", "new", "secret", "token")


def field_errors(details: Any, sent: Any = None) -> list[FieldError]:
    """Flatten what `ValidationError.get_full_details` gives.

    >>> from rest_framework.exceptions import ErrorDetail
    >>> field_errors({"a": [{"b": [{"message": "no", "code": "null"}]}]}, {"a": [{"b": None}]})[0]["pointer"]
    '/a/0/b'
    """
    return list(_walk(details, "", sent))


def _walk(node: Any, pointer: str, sent: Any) -> Iterator[FieldError]:
    if isinstance(node, dict) and set(node) == {"message", "code"}:
        yield _entry(node, pointer, sent)
    elif isinstance(node, dict):
        for key, below in node.items():
            if key == "non_field_errors":
                yield from _walk(below, pointer, sent)
            else:
                yield from _walk(below, f"{pointer}/{_escaped(str(key))}", _below(sent, key))
    elif isinstance(node, list):
        leaves = all(isinstance(item, dict) and set(item) == {"message", "code"} for item in node)
        for index, item in enumerate(node):
            if leaves:
                yield from _walk(item, pointer, sent)
            elif item:
                yield from _walk(item, f"{pointer}/{index}", _below(sent, index))


def _entry(leaf: dict[str, Any], pointer: str, sent: Any) -> FieldError:
    message, code = str(leaf["message"]), str(leaf["code"])
    detail, _, own_remedy = message.partition(" | ")  # a field may bring its remedy after a bar
    entry: FieldError = {"pointer": pointer, "code": code, "detail": detail}
    if sent is not None and not pointer.rsplit("/", 1)[-1].startswith(_SECRET):
        entry["value"] = _short(sent)
    remedy = own_remedy or _REMEDIES.get(code, "")
    if remedy:
        entry["remedy"] = remedy
    return entry


def _escaped(key: str) -> str:
    return key.replace("~", "~0").replace("/", "~1")


def _below(sent: Any, key: Any) -> Any:
    if isinstance(sent, dict):
        return sent.get(key)
    if isinstance(sent, list) and isinstance(key, int) and key < len(sent):
        return sent[key]
    return None


def _short(value: Any) -> Any:
    """A value is repeated to who sent it, but not a page of it."""
    if isinstance(value, str):
        return value if len(value) <= 200 else value[:200] + "…"
    if isinstance(value, bool | int | float):
        return value
    return _short(repr(value)) if value is not None else None
