"""Records of outlets in a few words, beside `builder`: names with what was read at each, in cfm."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from tests.judging.builder import METER, PERSON, POSITION, STANDARD_AIR, STATE, cfm, named, port_design, position


def row(name: str, *readings: float, **changes: Any) -> dict[str, Any]:
    return {"name": name, "port": "supply", "readings": list(readings), **changes}


def not_read(name: str, state: str = "no_access", **changes: Any) -> dict[str, Any]:
    return {"name": name, "port": "supply", "state": state, "reason": "behind a locked door", **changes}


def outlets(
    rows: Sequence[dict[str, Any]] | Mapping[str, float],
    *,
    name: str = "outlets",
    at: str = "2026-05-04T12:15:00-05:00",
    session: str = "AL-1",
    purpose: str = "as_left",
    **payload: Any,
) -> dict[str, Any]:
    """Whole rows, or one airflow by outlet, read four times alike."""
    if isinstance(rows, Mapping):
        rows = [row(one, *[flow] * 4) for one, flow in rows.items()]
    return {
        "schema": "ventfolio/envelope/1",
        "id": named(name),
        "kind": "outlets",
        "position": POSITION,
        "observed_at": at,
        "observed_by": PERSON,
        "payload": {
            "stage": "final",
            "session": {"id": session, "purpose": purpose},
            "grade": "measured",
            "serial_seen": "M-1",
            "air": STANDARD_AIR,
            "state": STATE,
            "unit": "cfm",
            "basis": "actual",
            "back_pressure": "compensated",
            "instrument": METER,
            "outlets": list(rows),
            **payload,
        },
    }


def outlet(airflow: float | None = 200.0, **changes: Any) -> dict[str, Any]:
    given = {"airflow": cfm(airflow)} if airflow is not None else {}
    return {"port": "supply", **given, "sources": {"airflow": "Revision 3, addendum, 2026-04-08"}, **changes}


def designed(
    held: Mapping[str, dict[str, Any]],
    rooms: Mapping[str, dict[str, Any]] | None = None,
    ports: Mapping[str, dict[str, Any]] | None = None,
    **changes: Any,
) -> dict[str, Any]:
    """A unit whose supply is designed, with these outlets and rooms; outlets are on actual air like their port."""
    place = position(dict(ports) if ports else {"supply": port_design()}, **changes)
    place["design"] |= {"outlets": dict(held), "rooms": dict(rooms or {})}
    return place
