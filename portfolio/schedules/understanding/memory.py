"""Remembering what a text was read as, for schedules repeat themselves; only short texts, to keep memory bounded."""

from collections.abc import Callable
from functools import lru_cache, wraps
from typing import ParamSpec, TypeVar, cast

P = ParamSpec("P")
R = TypeVar("R")
_SHORT = 120


def remembered(maxsize: int) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """A cache for a pure function whose first argument is a cell's text; a long text is read anew each time."""

    def around(function: Callable[P, R]) -> Callable[P, R]:
        cached = cast("Callable[P, R]", lru_cache(maxsize)(function))

        @wraps(function)
        def call(*args: P.args, **kwargs: P.kwargs) -> R:
            text = args[0]
            if isinstance(text, str) and len(text) > _SHORT:
                return function(*args, **kwargs)
            return cached(*args, **kwargs)

        return call

    return around
