"""Words that a snapshot's page and its judgement share."""

import re
from collections.abc import Mapping
from typing import Any

from commissioning.dossier import printing

MOMENTS = {"as_ordered": "as ordered", "as_found": "as found", "as_left": "as left", "follow_up": "at a follow-up"}


def clock(off_s: float) -> str:
    """
    >>> clock(0.0), clock(20.0), clock(-3600.0), clock(5430.0)
    ('right to the second', '20 s fast', '1 h slow', '1 h 30 min 30 s fast')
    """
    if off_s == 0.0:
        return "right to the second"
    seconds = round(abs(off_s))
    parts = [(seconds // 3600, "h"), (seconds % 3600 // 60, "min"), (seconds % 60, "s")]
    said = " ".join(f"{number} {unit}" for number, unit in parts if number)
    return f"{said or '0 s'} {'fast' if off_s > 0 else 'slow'}".replace("-", printing.MINUS)


_PERSON = re.compile(r"person ([0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})")


def person(id: str) -> str:
    """Somebody in what is kept: by id, since a name may be taken back. `named` puts the name in where it is shown."""
    return f"person {id}"


def people_in(text: str) -> set[str]:
    """
    >>> people_in("seen by person 00000000-0000-0000-0000-00000000c0de, on Monday")
    {'00000000-0000-0000-0000-00000000c0de'}
    """
    return set(_PERSON.findall(text))


def named(told: Any, names: Mapping[str, str]) -> Any:
    """The same with the names of people instead of their ids, wherever `person` put one.

    >>> somebody = "00000000-0000-0000-0000-00000000c0de"
    >>> named([f"read by person {somebody}"], {somebody: "Ysolde Marr"})
    ['read by Ysolde Marr']
    """
    if isinstance(told, str):
        return _PERSON.sub(lambda found: names.get(found[1], found[0]), told)
    if isinstance(told, Mapping):
        return {key: named(one, names) for key, one in told.items()}
    return [named(one, names) for one in told] if isinstance(told, list) else told
