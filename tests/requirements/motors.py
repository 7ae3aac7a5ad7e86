"""A usual motor of a supply fan, and its record and pages in a few words."""

from __future__ import annotations

from typing import Any

from commissioning.blocks import to_json
from commissioning.judging.registry import RULES
from tests.judging.builder import Result, conventions
from tests.kinds.electrical_records import fan, judged, q, record, volts

MOTOR = {
    "motor": "three_phase",
    "phases": 3,
    "nameplate_current": q(10.0, "A"),
    "voltage": q(460.0, "V"),
    "service_factor": 1.15,
    "sources": {"nameplate_current": "Revision 1"},
}
GUARDED = conventions(decision_rule="guarded_acceptance")
BALANCED = volts(460.0, 460.0, 460.0)


def supply(design: dict[str, Any] | None = None, *, settled: dict[str, Any] | None = None, **readings: Any) -> Result:
    """One record of the supply fan; `design` changes the usual motor, `settled` the conventions."""
    given = {"supply": {**MOTOR, **(design or {})}}
    return judged(record(fan(**readings)), design=given, conventions=settled or conventions())


def page(result: Result, requirement: str, display: str = "ip") -> str:
    shown = RULES[requirement].show(result.judgement(requirement, "supply"), {}, display)
    return " ".join(str(to_json(block)) for block in shown)
