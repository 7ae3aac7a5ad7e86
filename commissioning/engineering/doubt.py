"""A reason why a number is not to be used as it stands: a short name for programs, a sentence for a reader."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Doubt:
    """One reason why a result is for information only, or not to be used.

    Attributes:
        code: short name, stable.
        sentence: the reason, for a reader.
    """

    code: str
    sentence: str
