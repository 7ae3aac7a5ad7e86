"""What an object is called: `analog-value 12`, in mappings, in what is told, and inside."""

import re
from dataclasses import dataclass

MOST_NUMBER = 4194302
_FORM = re.compile(r"([a-z][a-z-]*) (0|[1-9]\d{0,6})")


@dataclass(frozen=True, order=True)
class Source:
    """One object of a controller."""

    kind: str
    number: int

    def __str__(self) -> str:
        return f"{self.kind} {self.number}"


def source_of(text: str) -> Source | None:
    """
    >>> source_of("analog-value 12"), source_of("fan speed")
    (Source(kind='analog-value', number=12), None)
    """
    found = _FORM.fullmatch(text)
    if found is None or int(found[2]) > MOST_NUMBER:
        return None
    return Source(found[1], int(found[2]))
