"""Starts in a few words: one outdoor air damper with an end switch, two fans that are seen to move air."""

from __future__ import annotations

from typing import Any

from tests.judging import builder
from tests.judging.builder import position

AT = "2026-05-04T10:15:00-05:00"
ALL_GIVEN = dict.fromkeys(
    ("power", "enable", "schedule", "external_interlock", "smoke_input", "safeties", "dampers_free", "doors"), "given"
) | {"network": "not_applicable"}


def s(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "s"}


def damper(name: str = "outdoor", **changes: Any) -> dict[str, Any]:
    """Of T12.01: commanded with the start, at its end switch after 42 s."""
    return {"damper": name, "opening": "seen", "proof": "end_switch", "proven": s(42.0), **changes}


def fan(name: str = "supply", **changes: Any) -> dict[str, Any]:
    """Of T12.01: commanded at 45 s; then current at 47 s and a pressure rise at 55 s."""
    return {
        "fan": name,
        "commanded": s(45.0),
        "current": {"seen": "flows", "at": s(47.0)},
        "air": {"seen": "moves", "by": "pressure_rise", "at": s(55.0)},
        "rotation": "correct",
        "rotation_by": "run_down",
        "electrical": "none_apply",
        **changes,
    }


def loss(at: float = 100.0, lasted: float | None = None, alarm: float | None = None, **changes: Any) -> dict[str, Any]:
    given = {
        "at": s(at),
        "lasted": lasted if lasted is None else s(lasted),
        "alarm": alarm if alarm is None else s(alarm),
    }
    return {**given, **changes}


def record(name: str = "start", at: str = AT, **payload: Any) -> dict[str, Any]:
    made = builder.envelope({}, name=name, at=at)
    whole = {
        "serial_seen": "M-1",
        "permissives": ALL_GIVEN,
        "dampers": [damper()],
        "fans": [fan(), fan("exhaust")],
    }
    return {**made, "kind": "startup", "payload": {**whole, **payload}}


def judged(*envelopes: Any, **changes: Any) -> builder.Result:
    place = changes.pop("place", None) or position({"supply": {}})
    return builder.judged(*envelopes, place=place, **changes)


def facts(result: builder.Result) -> dict[str, Any]:
    assert result.problems == []
    (one,) = [held for held in result.measurements if held["kind"] == "startup"]
    held: dict[str, Any] = one["facts"]
    return held
