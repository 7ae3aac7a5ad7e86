"""Edits of what several people edit: the version that one saw is named, and an edit of an older one is refused."""

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest
from rest_framework.request import Request

from portfolio.door.problems import Problem


def etag(version: int | str) -> str:
    """A strong tag of a row's version.

    >>> etag(3)
    '"3"'
    """
    return f'"{version}"'


def require_match(request: Request | HttpRequest, version: int | str, state: Mapping[str, Any]) -> None:
    """428 without `If-Match`; 412 with the current `state` if it names another version (RFC 9110 13.1.1).

    The caller still does ``UPDATE … WHERE version = …`` and raises `stale` when that touches no row.
    """
    header = named(request, version)
    if header != "*" and etag(version) not in {part.strip() for part in header.split(",")}:
        raise stale(version, state)


def named(request: Request | HttpRequest, version: int | str) -> str:
    """What `If-Match` says, as it stands there; 428 without. For an act that itself compares what was seen."""
    header: str = request.META.get("HTTP_IF_MATCH", "").strip()
    if not header:
        raise Problem(
            428,
            "version_required",
            "Say which version you saw",
            "Send If-Match with the ETag that you got when you read this.",
            headers={"ETag": etag(version)},
        )
    return header


def stale(version: int | str, state: Mapping[str, Any]) -> Problem:
    return Problem(
        412,
        "stale",
        "It has changed since you saw it",
        "Look at the current state and decide again.",
        headers={"ETag": etag(version)},
        extra={"current": dict(state)},
    )
