"""Electrical records in a few words: one fan read by one clamp meter and one tachometer."""

from __future__ import annotations

from typing import Any

from tests.judging import builder
from tests.judging.builder import instrument, named, position

METER, TACHOMETER = named("clamp"), named("tachometer")
CLAMP = instrument(
    "clamp",
    serial="CM-1",
    kind="clamp meter",
    accuracy={"relative": 0.015, "absolute": None, "shape": "rectangular"},
    resolution=None,
)
TACHO = instrument(
    "tachometer",
    serial="T-1",
    kind="tachometer",
    accuracy={"relative": 0.0005, "absolute": {"value": 1.0, "unit": "rpm"}, "shape": "rectangular"},
    resolution={"value": 1.0, "unit": "rpm"},
)
TOOLS = [instrument(), CLAMP, TACHO]


def q(value: float, unit: str) -> dict[str, Any]:
    return {"value": value, "unit": unit}


def volts(*values: float, between: str = "lines", **changes: Any) -> dict[str, Any]:
    return {"instrument": METER, "between": between, "readings": {"values": list(values), "unit": "V"}, **changes}


def amps(*values: float, **changes: Any) -> dict[str, Any]:
    return {"instrument": METER, "readings": {"values": list(values), "unit": "A"}, **changes}


def rpm(value: float, of: str = "fan", by: str = "tachometer") -> dict[str, Any]:
    tool = TACHOMETER if by == "tachometer" else None
    return {"of": of, "by": by, "speed": q(value, "rpm"), "instrument": tool}


def factor(*values: float) -> dict[str, Any]:
    return {"instrument": METER, "values": list(values)}


def nameplate(motor: str | None = "three_phase", current: float = 10.0, **changes: Any) -> dict[str, Any]:
    return {"motor": motor, "current": q(current, "A"), **changes}


def fan(name: str = "supply", **readings: Any) -> dict[str, Any]:
    return {"fan": name, "rotation": "correct", **readings}


def record(*fans: dict[str, Any], name: str = "electrical", **changes: Any) -> dict[str, Any]:
    made = builder.envelope({}, name=name, **changes)
    made["kind"] = "electrical"
    del made["payload"]["ports"]
    made["payload"]["fans"] = list(fans)
    return made


def judged(*envelopes: Any, design: dict[str, Any] | None = None, **changes: Any) -> builder.Result:
    """`design` is the unit's fans by name."""
    place = changes.pop("place", None) or position(fans=design or {})
    return builder.judged(*envelopes, place=place, instruments=changes.pop("instruments", TOOLS), **changes)


def figures(result: builder.Result, at: str = "supply") -> dict[str, dict[str, Any]]:
    held = [one for one in result.measurements if one["kind"] == "electrical"]
    return {one["name"]: one for record in held for one in record["figures"] if one["at"] == at}
