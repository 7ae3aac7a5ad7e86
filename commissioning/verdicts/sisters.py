"""The newest finals of a unit's sisters, for the diagnosis of a port that is off its design.

Sisters are units of one building, system and kind that are counted; where no system is named, of building and kind.
They are given only to a unit that has a port off its design: what they read changes no verdict, and nobody else is
judged again because of them. Only within a building, so a tag tells nobody of a unit that they may not see.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from typing import Any, NamedTuple
from uuid import UUID

from commissioning.dossier.sisters import MOST
from commissioning.models import CurrentVerdict
from portfolio.models import Position, bulk

REQUIREMENT = "design_airflow"
OFF, JUDGED = ("does_not_conform", "inconclusive"), ("does_not_conform", "inconclusive", "conforms")
_FIGURES = {
    "airflow": "measured_m3_s",
    "expanded_uncertainty": "expanded_uncertainty_m3_s",
    "design": "design_m3_s",
}

MOST_M3_S = 500.0  # as the document takes it

Given = list[dict[str, Any]]  # in the document's form


class _Port(NamedTuple):
    position: UUID
    tag: str
    group: tuple[UUID, UUID | None, str]  # building, system and kind
    port: str
    outcome: str
    figures: tuple[float, ...]


def near(positions: Collection[UUID]) -> dict[UUID, Given]:
    """What each unit off its design is given, of all in the buildings in which these positions lie. One query."""
    if not positions:
        return {}
    groups: dict[tuple[UUID, UUID | None, str], dict[UUID, list[_Port]]] = defaultdict(lambda: defaultdict(list))
    for one in _ports(positions):
        groups[one.group][one.position].append(one)
    found = {}
    for units in groups.values():
        given = [(position, _as_given(ports)) for position, ports in units.items()]
        for position, ports in units.items():
            sisters = [one for other, one in given if other != position][:MOST]
            if sisters and any(port.outcome in OFF for port in ports):
                found[position] = sisters
    return found


def stale(
    judged: Iterable[UUID], given: Mapping[UUID, Given], before: Mapping[UUID, Given], after: Mapping[UUID, Given]
) -> set[UUID]:
    """Whose sisters read otherwise than what they were last judged with: the judged by what they were given just now,
    the others of their buildings by what holds before and after."""
    changed = {pk for pk in before.keys() | after.keys() if before.get(pk) != after.get(pk)}
    return changed | {pk for pk in judged if given.get(pk) != after.get(pk)}


def _ports(positions: Collection[UUID]) -> list[_Port]:
    off = CurrentVerdict.objects.filter(requirement=REQUIREMENT, outcome__in=OFF).values("position__building")
    here = Position.objects.filter(bulk.among("pk", positions)).values("building")
    rows = CurrentVerdict.objects.filter(
        requirement=REQUIREMENT,
        outcome__in=JUDGED,
        position__scope__in=Position.COUNTED,
        position__building__in=here,
    ).filter(position__building__in=off)
    names = ("position", "position__tag", "position__building", "position__system", "position__kind", "port", "outcome")
    figures = (f"judgement__result__facts__{name}" for name in _FIGURES.values())
    ordered = rows.order_by("position__tag", "position", "port").values_list(*names, *figures)
    return [
        _Port(position, tag, (building, system, kind), port, outcome, tuple(rest))
        for position, tag, building, system, kind, port, outcome, *rest in ordered
        if all(one is not None and 0.0 <= one <= MOST_M3_S for one in rest)  # one that reads backwards is no help
    ]


def _as_given(ports: Iterable[_Port]) -> dict[str, Any]:
    held = list(ports)
    return {
        "tag": held[0].tag,
        "ports": {
            one.port: {
                name: {"value": value, "unit": "m3/s"} for name, value in zip(_FIGURES, one.figures, strict=True)
            }
            for one in held
        },
    }
