"""Two moments side by side: what changed, what was only read at one of them."""

from collections.abc import Mapping
from dataclasses import dataclass

from commissioning.dossier.settings.catalogue import CATALOGUE, Plain

_SAME = 1e-6  # relative: the same number typed in another unit


@dataclass(frozen=True)
class Change:
    """None where it was not read at that moment."""

    code: str
    before: Plain | None
    after: Plain | None


def changes(before: Mapping[str, Plain], after: Mapping[str, Plain]) -> tuple[Change, ...]:
    """What differs between two moments, in the order of the catalogue.

    >>> changes({"co2_setpoint": 0.0009, "local_switch": "hand"}, {"co2_setpoint": 0.0008, "local_switch": "hand"})
    (Change(code='co2_setpoint', before=0.0009, after=0.0008),)
    """
    found = [Change(code, before.get(code), after.get(code)) for code in CATALOGUE.settings]
    return tuple(one for one in found if not same(one.before, one.after))


def in_both(found: tuple[Change, ...]) -> tuple[Change, ...]:
    """Changes proper: what was read at both moments and differs."""
    return tuple(one for one in found if one.before is not None and one.after is not None)


def same(one: Plain | None, other: Plain | None) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= _SAME * max(abs(one), abs(other))
    return one == other
