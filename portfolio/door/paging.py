"""Lists page by key, not by offset: nothing is lost or repeated while rows come and go.

The cursor is the last row's key, signed, and good for that list only. An unknown query key is an error: who
mistypes a filter must not get everything.
"""

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

from django.core import signing
from django.db.models import Model, Q, QuerySet
from rest_framework.request import Request

from portfolio.door.field_errors import FieldError
from portfolio.door.problems import invalid

M = TypeVar("M", bound=Model)

PAGE_SIZE = 100
LARGEST_PAGE = 500
_SALT = "page"


def page_of(
    request: Request,
    rows: QuerySet[M],
    *,
    order: Sequence[str],
    show: Callable[[M], Any],
    filters: Sequence[str] = (),
) -> dict[str, Any]:
    """``{"results": [...], "next": url | null}`` of `rows` in `order`, whose last key must be unique.

    `filters` are the query keys that the view itself has read; a key begins with ``-`` to run downwards. Keys may
    not be null.
    """
    size = _size(request, filters)
    key = request.query_params.get("cursor")
    if key is not None:
        rows = rows.filter(_after(order, _unsigned(request, key, len(order))))
    found = list(rows.order_by(*order)[: size + 1])
    following = _next(request, found[size - 1], order) if len(found) > size else None
    return {"results": [show(row) for row in found[:size]], "next": following}


def _size(request: Request, filters: Sequence[str]) -> int:
    known = {"cursor", "page_size", *filters}
    errors = [
        FieldError(
            pointer=f"?{name}", code="unknown_query_key", detail="There is no such query key.",
            remedy=f"The query keys here are {', '.join(sorted(known))}.",
        )
        for name in request.query_params
        if name not in known
    ]  # fmt: skip
    text = request.query_params.get("page_size", str(PAGE_SIZE))
    size = int(text) if text.isascii() and text.isdigit() and len(text) < 6 else 0
    if not 1 <= size <= LARGEST_PAGE:
        errors.append(_bad("page_size", text, f"A page holds 1 to {LARGEST_PAGE} rows."))
    if errors:
        raise invalid(errors)
    return size


def _bad(name: str, value: str, detail: str) -> FieldError:
    return FieldError(pointer=f"?{name}", code="invalid", detail=detail, value=value[:200])


def _unsigned(request: Request, cursor: str, length: int) -> list[str]:
    try:
        path, key = signing.loads(cursor, salt=_SALT)
    except (signing.BadSignature, ValueError):
        path, key = None, []
    if path != request.path or len(key) != length:
        raise invalid([_bad("cursor", cursor, "This cursor is not of this list: take it from `next`.")])
    return [str(part) for part in key]


def _after(order: Sequence[str], key: Sequence[str]) -> Q:
    """Rows behind the key: the first field is beyond, or it is equal and the next is beyond, and so on."""
    condition, equal = Q(), Q()
    for name, value in zip(order, key, strict=True):
        field = name.lstrip("-")
        beyond = Q(**{f"{field}__{'lt' if name.startswith('-') else 'gt'}": value})
        condition |= equal & beyond
        equal &= Q(**{field: value})
    return condition


def _next(request: Request, row: Model, order: Sequence[str]) -> str:
    key = [_text(row, name.lstrip("-")) for name in order]
    cursor = signing.dumps([request.path, key], salt=_SALT)
    query = request.query_params.copy()
    query["cursor"] = cursor
    return request.build_absolute_uri(f"{request.path}?{query.urlencode()}")


def _text(row: Any, name: str) -> str:
    for part in name.split("__"):
        row = getattr(row, part)
    return row.isoformat() if hasattr(row, "isoformat") else str(row)


def filters_of(request: Request, *names: str) -> dict[str, str]:
    """The given query keys that were sent, NUL refused (PostgreSQL has no text with it)."""
    sent = {name: request.query_params[name] for name in names if name in request.query_params}
    bad = [_bad(name, value, "There is a NUL in it.") for name, value in sent.items() if "\0" in value]
    if bad:
        raise invalid(bad)
    return sent
