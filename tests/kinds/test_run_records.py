"""Runs of functional tests in a few words: a run in which all is as expected, and what a test wants otherwise."""

from __future__ import annotations

from typing import Any

from commissioning.catalogue.procedures import LIBRARY, Step
from tests.judging import builder
from tests.judging.builder import METER, position
from tests.kinds import settings_records
from tests.kinds.settings_records import q

HASH = "ab" * 32
BEFORE, RAN, LATER = "2026-05-04T08:00:00-05:00", "2026-05-05T10:00:00-05:00", "2026-05-06T10:00:00-05:00"
OPTIONS = ["fixed_core", "bypass", "outdoor_damper", "exhaust_damper"]
COMPANIES = {"controls": "Trelisk Controls", "electrical": "Halvard Electric", "fire_alarm": "Orrin Alarm"}
READINGS = {  # what the good settings, or the design, make right: the arithmetic stands in test_procedures.py
    "ratio_at_lowest": q(45.0, "%"),
    "air_at_lowest": q(360.0, "cfm"),
    "air_at_middle": q(630.0, "cfm"),
    "air_at_highest": q(900.0, "cfm"),
    "outdoor_at_maximum": q(400.0, "cfm"),
    "outdoor_at_minimum": q(400.0, "cfm"),
    "sensor_error": q(20.0, "ppm"),
    "air_at_low": q(400.0, "cfm"),
    "air_at_high": q(1000.0, "cfm"),
    "begins_at": q(-2.0, "degC"),
    "recovers": q(2.0, "delta_K"),
    "opens_at": q(14.0, "degC"),
    "closes_at": q(22.0, "degC"),
    "clock_kept": q(5.0, "s"),
    "speed_share": q(-2.0, "%"),
    "alarm_at": q(125.0, "Pa"),
    "at_design": q(250.0, "Pa"),
    "at_minimum": q(250.0, "Pa"),
    "seal_side": q(20.0, "Pa"),
    "building_pressure": q(2.0, "Pa"),
}
READINGS_OF_DEMAND = {"air_at_middle": q(700.0, "cfm")}


def place(tests: list[str] | None = None, equipment: dict[str, Any] | None = None, **changes: Any) -> dict[str, Any]:
    """A unit whose design lists its options and these tests."""
    made = position({"supply": {}, "outdoor": {"minimum": builder.cfm(400.0), "basis": "actual"}}, **changes)
    listed = {} if tests is None else {"tests": tests}
    made["design"]["equipment"] = {"unit": {"options": OPTIONS, "field_sensors": ["smoke_detector"], **listed}}
    if equipment is not None:
        made["design"]["equipment"] = equipment
    return made


def settings(name: str = "settings", at: str = BEFORE, moment: str = "as_left", **changes: Any) -> dict[str, Any]:
    bypass = {"bypass_from": q(14.0, "degC"), "bypass_to": q(22.0, "degC"), "option_bypass": True}
    held = {**bypass, "filter_alarm_pressure": q(125.0, "Pa"), "supply_duct_pressure": q(250.0, "Pa"), **changes}
    return settings_records.record(settings_records.values(**held), name=name, at=at, moment=moment)


def answer(code: str, step: Step) -> dict[str, Any]:
    """What is right on the unit with the good settings."""
    made: dict[str, Any] = {"step": step.id, **({"photos": [HASH]} if step.photo else {})}
    if step.answer == "interval":
        then = 31.0 if step.expects else 3.0
        return {**made, "times": {"first": q(0.0, "s"), "then": q(then, "s")}}
    if step.answer == "number":
        held = {**READINGS, **(READINGS_OF_DEMAND if code == "demand" else {})}[step.id]
        made["readings"] = {"values": [held["value"]] * 3, "unit": held["unit"]}
        made |= {"instrument": METER} if step.measured else {}
        return made | ({"basis": "actual"} if held["unit"] == "cfm" else {})
    return {**made, "yes": True, **({"log": "night of 3 May"} if step.answer == "trend" else {})}


def answers(code: str, *but: str, **otherwise: dict[str, Any]) -> list[dict[str, Any]]:
    """All steps that the good unit is asked, some left out, some answered otherwise."""
    found = []
    for step in LIBRARY.procedures[code].steps:
        if step.id in otherwise:
            found.append({"step": step.id, **otherwise[step.id]})
        elif step.id not in but and not ("speed_ratio" in str(step.when) or "co2_level', 'voc" in str(step.when)):
            found.append(answer(code, step))
    return found


def witness(trade: str) -> dict[str, Any]:
    return {"name": "Tove Brandeis", "company": COMPANIES.get(trade, "Ostby Balancing"), "trade": trade}


def run(code: str, *but: str, name: str = "", at: str = RAN, **changes: Any) -> dict[str, Any]:
    """A signed and witnessed run; `answers` may be given whole, or by step what is otherwise as `otherwise`."""
    procedure = LIBRARY.procedures[code]
    made = builder.envelope({}, name=name or f"run of {code}", at=at)
    otherwise = changes.pop("otherwise", {})
    payload: dict[str, Any] = {
        "procedure": code,
        "version": procedure.version,
        "run": "FT-1",
        "serial_seen": "M-1",
        "grade": "witnessed" if procedure.witnessed else "measured",
        "answers": answers(code, *but, **otherwise),
        "witnesses": [witness(trade) for trade in procedure.needs.present],
        "signature": {"name": "Idris Vane", "on": at[:10]},
        **changes,
    }
    if {"wasted", "deferred", "aborted"} & set(changes):
        payload["answers"] = changes.get("answers", [])
    return {**made, "kind": "test_run", "payload": payload, "photos": [{"sha256": HASH}]}


def judged(*records: Any, where: dict[str, Any] | None = None, **changes: Any) -> builder.Result:
    return builder.judged(*records, place=where or place(), **changes)


def steps(result: builder.Result, code: str) -> dict[str, dict[str, Any]]:
    return {one["step"]: one for one in result.judgement("functional_tests", code)["facts"]["steps"]}


ABORTED = {"reason": "A belt smelled hot.", "safe_state": "Off and locked by the electrician."}
WASTED = {"cause": "No controls technician came.", "company": "Trelisk Controls"}
DEFERRED = {
    "condition": "Two nights below minus five outdoors.",
    "pays": "Quarrel Mechanical",
    "owner": "Maren Tollefsby",
    "by": "2027-01-31",
}
