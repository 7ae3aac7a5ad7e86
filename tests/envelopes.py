"""Envelopes for tests: a unit's four totals by direct reading, with what a test wants to be otherwise."""

import json
import uuid
from typing import Any

NAMESPACE = uuid.UUID("6f0c2f6e-0000-4000-8000-000000000000")


def envelope(
    name: str,
    *,
    position: Any,
    person: Any,
    instrument: Any,
    flows: dict[str, float],
    unit: str = "cfm",
    stage: str = "final",
    session: str = "AL-1",
    purpose: str = "as_left",
    at: str = "2026-05-04T10:15:00-06:00",
    supersedes: list[dict[str, str]] | None = None,
    photos: list[dict[str, str]] | None = None,
    **payload: Any,
) -> dict[str, Any]:
    """`name` makes the id: the same name is the same envelope. `flows` are readings by port, three of each."""
    held: dict[str, Any] = {
        "schema": "ventfolio/envelope/1",
        "id": str(uuid.uuid5(NAMESPACE, name)),
        "kind": "airflow",
        "position": str(position),
        "observed_at": at,
        "observed_by": str(person),
        "payload": {
            "stage": stage,
            "session": {"id": session, "purpose": purpose},
            "grade": "measured",
            "state": {
                "outdoor_damper": "open",
                "exhaust_damper": "open",
                "bypass": "closed",
                "wheel": "running",
                "filters": "clean",
                "served_air_handler": "none",
                "others_on_riser": "none",
                "doors": "closed",
                "mode": "design_maximum",
            },
            "air": {"dry_bulb": {"value": 70, "unit": "degF"}, "relative_humidity": {"value": 40, "unit": "%"}},
            "ports": [
                {
                    "port": port,
                    "instrument": str(instrument),
                    "method": {
                        "method": "direct",
                        "basis": "standard",
                        "readings": {"values": [flow * 0.998, flow, flow * 1.002], "unit": unit},
                    },
                }
                for port, flow in flows.items()
            ],
            **payload,
        },
    }
    if photos:
        held["photos"] = photos
    if supersedes:
        held["supersedes"] = supersedes
    return held


def raw(given: dict[str, Any]) -> bytes:
    return json.dumps(given, separators=(",", ":")).encode()


def design(
    flows: dict[str, float], *, minimum: dict[str, float] | None = None, unit: str = "cfm", basis: str = "standard"
) -> dict[str, Any]:
    """What a revision says about a unit: design airflow per port, ±10 %, and a minimum where one is given."""
    least = minimum or {}
    return {
        "ports": {
            port: {
                "airflow": {"value": flow, "unit": unit},
                "basis": basis,
                "tolerance": {"low": -0.1, "high": 0.1, "clause": "23 05 93, 3.4", "rounding": "none"},
                "minimum": {"value": least[port], "unit": unit} if port in least else None,
            }
            for port, flow in flows.items()
        }
    }
