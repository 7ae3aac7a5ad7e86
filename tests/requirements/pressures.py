"""Units with pressures in their design, judged with what was read: words for the tests of three requirements."""

from __future__ import annotations

from typing import Any

from tests.judging.builder import Result, judged, position
from tests.judging.builder import instrument as meter
from tests.kinds.test_pressure import envelope, gauge, profile, read, space

PLUS_MINUS = {"low": -0.1, "high": 0.1, "clause": "23 05 93, 3.5", "rounding": "none"}
__all__ = ["PLUS_MINUS", "control", "designed", "envelope", "found", "pa", "profile", "read", "space", "taps"]


def pa(value: float, unit: str = "Pa") -> dict[str, Any]:
    return {"value": value, "unit": unit}


def designed(ports: dict[str, Any] | None = None, **groups: Any) -> dict[str, Any]:
    place = position(ports or {"supply": {"airflow": {"value": 1000, "unit": "cfm"}, "basis": "actual"}})
    place["design"] |= groups
    return place


def found(place: dict[str, Any], *envelopes: dict[str, Any] | str, **changes: Any) -> Result:
    return judged(*envelopes, place=place, instruments=[gauge(), meter()], **changes)


def taps(external: float = 200.0, drop: float = 80.0, **rest: Any) -> dict[str, Any]:
    """A supply profile with that external static pressure and filter drop."""
    places = {"unit_inlet": -50.0, "after_filter": -50.0 - drop, "unit_outlet": external - 50.0}
    return profile(places, **{"filter": "clean", **rest})


def control(
    held: float, setpoint: float = 200.0, *, demand: str = "design", after: float | None = 120.0
) -> dict[str, Any]:
    stable = None if after is None else {"value": after, "unit": "s"}
    return read(*[held] * 5, fan="supply", demand=demand, setpoint=pa(setpoint), stabilised_in=stable)
