"""Populations: the units that a sample speaks for, and the strata in which they are drawn."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from uuid import UUID

from django.db.models import Q, QuerySet

from portfolio.access import Scope
from portfolio.models import Building, Person, Position, Project

MOST_UNITS = 2000
CENTRAL = "central"  # the stratum of units that are taken whole one by one, whatever their kind


@dataclass(frozen=True)
class Units:
    """Several units of a project as one thing that an act is done to."""

    project: Project
    buildings: frozenset[UUID]

    def access_scope(self) -> Scope:
        return replace(self.project.access_scope(), building_ids=self.buildings)


def part_of(person: Person, project: Project) -> Units:
    """The project's buildings that a person sees otherwise than as a contractor."""
    reach = replace(person.reach, companies=frozenset())
    buildings = Building.objects.filter(reach.buildings_seen(), site__project=project)
    return Units(project, frozenset(buildings.values_list("pk", flat=True)))


def lying_in(part: Units) -> QuerySet[Position]:
    return Position.objects.filter(building__in=part.buildings)


def counted(
    part: Units,
    *,
    buildings: Collection[UUID] = (),
    systems: Collection[UUID] = (),
    units: Collection[UUID] = (),
) -> list[Position]:
    """The counted units of these buildings and systems and those named one by one, each once."""
    named = Q(building__in=buildings) | Q(system__in=systems) | Q(pk__in=units)
    rows = lying_in(part).filter(named, scope__in=Position.COUNTED).select_related("building")
    return list(rows.order_by("building__name", "tag", "pk")[: MOST_UNITS + 1])


def strata_of(units: Iterable[Position], central: Collection[UUID] = ()) -> dict[str, list[str]]:
    """Ids by kind of unit, sorted; those that are named central are a stratum of their own."""
    strata: dict[str, list[str]] = {}
    for one in units:
        strata.setdefault(CENTRAL if one.pk in central else one.kind, []).append(str(one.pk))
    return {name: sorted(ids) for name, ids in sorted(strata.items())}


def stratum_in_words(stratum: str) -> str:
    """
    >>> stratum_in_words("erv"), stratum_in_words("central"), stratum_in_words("erv 2")
    ('Energy recovery ventilator', 'Central or unique units', 'Energy recovery ventilator, group 2')
    """
    kind, _, group = stratum.partition(" ")
    words = "Central or unique units" if kind == CENTRAL else str(Position.Kind(kind).label)
    return f"{words}, group {group}" if group else words
