"""Which units of a site share an address on the network: read for the judging document, and wanted again.

Only units of one site, and so of one project. The tag goes along within a building alone: who sees one building of a
site need not see another, and a verdict is the same for everybody.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Func, Q

from commissioning.dossier.settings.neighbours import ADDRESSES, MOST, PROTOCOL
from commissioning.models import SettingsNow
from portfolio.models import bulk

Held = tuple[str, Any]  # the name of an address and its value
_CODES = (*ADDRESSES, PROTOCOL)


@dataclass(frozen=True)
class _Unit:
    position: UUID
    tag: str
    building: UUID
    site: UUID
    values: Mapping[str, Any]

    @property
    def held(self) -> frozenset[Held]:
        return frozenset((code, self.values[code]) for code in ADDRESSES if code in self.values)

    def as_given(self, building: UUID) -> dict[str, Any]:
        whole = {code: int(one) if isinstance(one, float) else one for code, one in self.values.items()}
        return {"tag": self.tag if self.building == building else None, **whole}


@dataclass(frozen=True)
class Near:
    """The others that share an address with a position, in the document's form, and who they are."""

    given: list[dict[str, Any]]
    positions: frozenset[UUID]


def near(positions: Collection[UUID]) -> dict[UUID, Near]:
    """Of each position of which an address is known: the units that share one. Two queries, whatever their number."""
    own = [one for one in _units(bulk.among("position", positions)) if one.held]
    if not own:
        return {}
    by_held = _by_held(_of_sites({one.site for one in own}))
    return {one.position: _near(one, by_held) for one in own}


def stale(before: Mapping[UUID, frozenset[Held]], judged: Collection[UUID], found: Mapping[UUID, Near]) -> set[UUID]:
    """What an address that came, went or is shared concerns, to be judged again. In the effect's transaction.

    A position whose own address is another one now is judged again itself: its document named who is near the old one.
    Those that it named look too, for it may have gone, or come at the same moment as they.
    """
    after = addresses(judged) if judged else {}
    wanted = {pk for pk in judged if before.get(pk) != after.get(pk)}
    return wanted | {other for pk in judged if pk in found for other in found[pk].positions}


def addresses(positions: Collection[UUID]) -> dict[UUID, frozenset[Held]]:
    """What is known of the addresses of these positions, the protocol apart: it decides nothing here."""
    return {one.position: one.held for one in _units(bulk.among("position", positions)) if one.held}


def _near(own: _Unit, by_held: Mapping[tuple[UUID, Held], list[_Unit]]) -> Near:
    sharing = {
        one.position: one for each in own.held for one in by_held[own.site, each] if one.position != own.position
    }
    given = sorted(sharing.values(), key=lambda one: (one.building != own.building, one.tag, str(one.position)))
    return Near([one.as_given(own.building) for one in given[:MOST]], frozenset(sharing))


def _by_held(found: Iterable[_Unit]) -> dict[tuple[UUID, Held], list[_Unit]]:
    by_held: dict[tuple[UUID, Held], list[_Unit]] = defaultdict(list)
    for one in found:
        for each in one.held:
            by_held[one.site, each].append(one)
    return by_held


def _of_sites(sites: Collection[UUID]) -> list[_Unit]:
    return _units(Q(position__building__site__in=sites))


def _units(which: Q | Func) -> list[_Unit]:
    """What was only ordered, and what is no longer there, has no address."""
    rows = SettingsNow.objects.filter(which).exclude(moment="as_ordered").exclude(position__scope="deleted")
    names = ("position", "position__tag", "position__building", "position__building__site")
    found = []
    for position, tag, building, site, *values in rows.values_list(*names, *(f"values__{code}" for code in _CODES)):
        held = {code: one for code, one in zip(_CODES, values, strict=True) if one is not None}
        found.append(_Unit(position, tag, building, site, held))
    return found
