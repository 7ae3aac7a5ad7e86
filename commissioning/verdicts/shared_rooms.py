"""What other units of a building give to the rooms that a unit serves, for the judging of a room by the sum of all.

It is read from what is kept of their `room_airflow`, where each tells its own parts and nothing of anybody else's: so
two units that share a room never wait for one another. Only within a building, so a tag tells nobody of a unit that
they may not see.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping
from typing import Any
from uuid import UUID

from commissioning.dossier.room_parts import MOST
from commissioning.models import CurrentVerdict
from portfolio.models import Position, bulk

REQUIREMENT = "room_airflow"
Given = list[dict[str, Any]]  # in the document's form


def near(positions: Collection[UUID]) -> dict[UUID, Given]:
    """What each unit that shares a room is given, of all in the buildings in which these positions lie. One query."""
    if not positions:
        return {}
    here = Position.objects.filter(bulk.among("pk", positions)).values("building")
    rows = CurrentVerdict.objects.filter(
        requirement=REQUIREMENT, position__building__in=here, position__scope__in=Position.COUNTED
    )
    ordered = rows.order_by("position__tag", "position").values_list(
        "position", "position__tag", "position__building", "judgement__result__facts__parts"
    )
    rooms: dict[tuple[UUID, str], list[tuple[UUID, dict[str, Any]]]] = defaultdict(list)
    for position, tag, building, parts in ordered:
        for part in parts or ():
            rooms[building, part["room"]].append((position, _as_given(tag, part)))
    found: dict[UUID, Given] = defaultdict(list)
    for served in rooms.values():
        for position in dict.fromkeys(position for position, _ in served):
            found[position] += [part for other, part in served if other != position]
    return {position: given[:MOST] for position, given in found.items() if given}


def _as_given(tag: str, part: Mapping[str, Any]) -> dict[str, Any]:
    told = {"tag": tag, "room": part["room"], "port": part["port"], "outlets": part["outlets"], "why": part["why"]}
    if part["why"]:
        return told
    return told | {
        "airflow": _airflow(part["airflow_m3_s"]),
        "design": None if part["design_m3_s"] is None else _airflow(part["design_m3_s"]),
        "basis": part["basis"],
        "provisional": part["provisional"],
        "errors": [
            {"name": name, "standard_uncertainty": _airflow(size), "group": group, "degrees_of_freedom": freedom}
            for name, size, group, freedom in part["errors"]
        ],
    }


def _airflow(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "m3/s"}
