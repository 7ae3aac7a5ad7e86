"""Judging documents in a few words: a unit with four ports at sea level, read by one good instrument."""

from __future__ import annotations

import copy
import json
import uuid
from typing import Any

from commissioning import judging

NAMES = uuid.UUID("00000000-0000-0000-0000-00000000c0de")
PORTS = ("supply", "return", "outdoor", "exhaust")
DESIGN_CFM = 1000.0
STANDARD_AIR = {"dry_bulb": {"value": 20.0, "unit": "degC"}, "pressure": {"value": 101_325.0, "unit": "Pa"}}
STATE = {
    "outdoor_damper": "open",
    "exhaust_damper": "open",
    "bypass": "closed",
    "wheel": "running",
    "filters": "clean",
    "served_air_handler": "on",
    "others_on_riser": "on",
    "doors": "closed",
    "mode": "design_maximum",
}


def named(name: str) -> str:
    return str(uuid.uuid5(NAMES, name))


POSITION, PERSON, METER = named("position"), named("person"), named("meter")


def cfm(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "cfm"}


def conventions(**changes: Any) -> dict[str, Any]:
    return {
        "version": 1,
        "decision_rule": "simple",
        "guard_multiplier": 1.0,
        "coverage_probability": 0.95,
        "standard_density": {"value": 1.2, "unit": "kg/m3"},
        "inch_of_water": "4degC",
        "basis_when_not_stated": "standard",
        "default_tolerance": {"low": -0.1, "high": 0.1, "clause": "23 05 93, 3.6", "rounding": "none"},
        "mass_balance_allowance": 0.1,
        "display": "ip",
        **changes,
    }


def instrument(name: str = "meter", **changes: Any) -> dict[str, Any]:
    return {
        "id": named(name),
        "name": "Balancing hood",
        "serial": "H-1",
        "kind": "hood",
        "accuracy": {"relative": 0.03, "absolute": cfm(5.0), "shape": "rectangular"},
        "resolution": cfm(1.0),
        "calibrations": [{"certificate": "C-1", "on": "2026-01-10", "due": "2027-01-10", "as_found": "within"}],
        **changes,
    }


def port_design(airflow: float | None = DESIGN_CFM, **changes: Any) -> dict[str, Any]:
    given = {"airflow": cfm(airflow)} if airflow is not None else {}
    return {**given, "basis": "actual", "sources": {"airflow": "Revision 2, addendum, 2026-04-01"}, **changes}


def position(ports: dict[str, dict[str, Any]] | None = None, **changes: Any) -> dict[str, Any]:
    fans = changes.pop("fans", {})
    return {
        "id": POSITION,
        "tag": "ERV-1",
        "kind": "erv",
        "scope": "in_scope",
        "elevation": {"value": 0.0, "unit": "m"},
        "time_zone": "America/Chicago",
        "system": None,
        "machine": {"serial": "M-1", "since": "2026-03-01"},
        "design": {"ports": ports or {port: port_design() for port in PORTS}, "fans": fans},
        **changes,
    }


def direct(*values: float, basis: str = "actual", unit: str = "cfm") -> dict[str, Any]:
    return {"method": "direct", "readings": {"values": list(values), "unit": unit}, "basis": basis}


def reading(port: str, method: dict[str, Any], tool: str | None = METER, **changes: Any) -> dict[str, Any]:
    return {"port": port, "instrument": tool, "method": method, **changes}


def envelope(
    ports: list[dict[str, Any]] | dict[str, float],
    *,
    name: str = "first",
    at: str = "2026-05-04T10:15:00-05:00",
    session: str = "AL-1",
    purpose: str = "as_left",
    supersedes: tuple[str, ...] = (),
    where: str = POSITION,
    **payload: Any,
) -> dict[str, Any]:
    """Airflows in cfm by port, each read five times alike, or whole port entries."""
    if isinstance(ports, dict):
        ports = [reading(port, direct(*[flow] * 5)) for port, flow in ports.items()]
    made: dict[str, Any] = {
        "schema": "ventfolio/envelope/1",
        "id": named(name),
        "kind": "airflow",
        "position": where,
        "observed_at": at,
        "observed_by": PERSON,
        "payload": {
            "stage": "final",
            "session": {"id": session, "purpose": purpose},
            "grade": "measured",
            "serial_seen": "M-1",
            "air": STANDARD_AIR,
            "state": STATE,
            "ports": ports,
            **payload,
        },
    }
    if supersedes:
        made["supersedes"] = [{"id": named(one), "reason": "read wrongly"} for one in supersedes]
    return made


def state(**changes: str) -> dict[str, str]:
    return {**STATE, **changes}


def all_ports(flow: float = DESIGN_CFM) -> dict[str, float]:
    return dict.fromkeys(PORTS, flow)


def document(*envelopes: Any, place: dict[str, Any] | None = None, **changes: Any) -> dict[str, Any]:
    made: dict[str, Any] = copy.deepcopy(
        {
            "schema": "ventfolio/judge/1",
            "conventions": conventions(),
            "instruments": [instrument()],
            "positions": [place or position()],
            "envelopes": list(envelopes),
            **changes,
        }
    )
    return made


class Result:
    """What judging said, looked up by requirement and port."""

    def __init__(self, given: dict[str, Any]) -> None:
        self.json = judging.judge_document(given)
        self.bytes = json.dumps(self.json, sort_keys=True).encode()
        self.problems = self.json["problems"]
        self.measurements: list[dict[str, Any]] = self.json["positions"][0]["measurements"]
        self.judgements: list[dict[str, Any]] = self.json["positions"][0]["judgements"]
        self._by_key: dict[tuple[str, str], dict[str, Any]] = {
            (one["requirement"], one["port"]): one for one in self.judgements
        }

    def judgement(self, requirement: str, port: str = "") -> dict[str, Any]:
        return self._by_key[requirement, port]

    def outcome(self, requirement: str, port: str = "") -> str:
        """The verdict, the code of its absence, or 'nothing said'."""
        one = self._by_key.get((requirement, port))
        if one is None:
            return "nothing said"
        return str(one["verdict"] or one["absence"]["code"])

    def outcomes(self) -> dict[str, str]:
        return {f"{r} {p}".strip(): self.outcome(r, p) for r, p in self._by_key}

    def measurement(self, port: str, name: str = "first") -> dict[str, Any]:
        found: dict[str, Any] = next(
            one for one in self.measurements if (one["port"], one["envelope"]) == (port, named(name))
        )
        return found


def judged(*envelopes: Any, place: dict[str, Any] | None = None, **changes: Any) -> Result:
    return Result(document(*envelopes, place=place, **changes))
