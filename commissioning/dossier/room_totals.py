"""What rooms are given and what is taken from them, out of the outlets that stand, and their one judgement."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from commissioning.dossier import parts
from commissioning.dossier.outlet_design import EXTRACT
from commissioning.dossier.outlet_readings import OutletReading, Total, total
from commissioning.dossier.outlets_standing import Standing
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.view import View

SIDES = {"supply": ("supply",), "extract": EXTRACT}


def rooms_read(standing: Standing) -> list[str]:
    return sorted({one.room for one in standing.readings.values() if one.room})


def of_room(standing: Standing, room: str, ports: Iterable[str]) -> list[OutletReading]:
    wanted = set(ports)
    return [one for one in standing.readings.values() if one.room == room and one.port in wanted]


def why_incomplete(standing: Standing, room: str, ports: Sequence[str], held: Sequence[OutletReading]) -> str:
    """Why a room's sum is not known; a closed outlet gives nothing and is known."""
    for one in held:
        why = standing.why_not.get(one.name)
        if why is not None and one.state != "closed" and why.code != "not_given":
            return f"{one.name}: {why.text}"
    unread = [
        name
        for name, design in standing.design.items()
        if design.room == room and design.port in ports and name not in standing.readings
    ]
    return f"not read yet: {', '.join(sorted(unread)[:5])}" if unread else ""


def sum_of(held: Sequence[OutletReading], coverage_probability: float, *, leaving: Sequence[str] = ()) -> Total:
    return total(held, coverage_probability=coverage_probability, leaving=leaving)


def judgement_of(
    view: View,
    standing: Standing,
    rows: Sequence[dict[str, Any]],
    *,
    requirement: str,
    rule_version: int,
    noun: str,
    not_given: str,
    sources: Mapping[str, str],
    look_next: Sequence[str],
) -> Judgement:
    """One judgement for the rooms of a unit. Rows are worst first, each with the unit's own `outlets` that it rests on,
    and with the parts of `others`."""
    used = [standing.readings[name] for row in rows for name in row["outlets"]]
    absence = _absence(rows, noun, not_given)
    return parts.judgement(
        view,
        rows,
        requirement=requirement,
        port="",
        rule_version=rule_version,
        absence=absence,
        provisional=view.is_provisional(*standing.finals(used))
        or any(part["provisional"] for row in rows for part in row["others"]),
        rests_on=standing.rests_on(used),
        sources={} if absence else dict(sources),
        facts={"rooms": list(rows), "counts": parts.counts(rows, noun)},
        look_next=() if absence else tuple(look_next),
    )


def _absence(rows: Sequence[Mapping[str, Any]], noun: str, not_given: str) -> Absence | None:
    """Why there is no verdict. What fails, fails whatever else is missing."""
    if rows[0]["verdict"] == "does_not_conform":
        return None
    blocked = parts.blocked(rows, ("not_judged", "not_due"))
    if blocked:
        name, code, why = (blocked[0][field] for field in ("name", "code", "why"))
        return Absence(code, f"{len(blocked)} of {len(rows)} {noun} are not known. {name}: {why}.")
    return Absence("not_given", not_given) if rows[0]["verdict"] is None else None
