"""Checklist records in a few words: an HRV with a fixed core and an electronically commutated motor in each fan."""

from __future__ import annotations

from typing import Any

from commissioning.catalogue.checks import CATALOGUE, Item
from commissioning.catalogue.units import Equipment
from tests.judging import builder
from tests.judging.builder import named, position

IDRIS, WREN = named("Idris"), named("Wren")
MORNING, NOON, EVENING = (f"2026-05-04T{hour}:00:00-05:00" for hour in ("08", "12", "18"))
OPTIONS, SENSORS = ["fixed_core", "outdoor_damper"], ["outdoor_temperature", "smoke_detector"]
FANS = {fan: {"motor": "electronically_commutated", "drive": False} for fan in ("supply", "exhaust")}
APPLYING = list(
    CATALOGUE.applying(
        Equipment("hrv", frozenset(OPTIONS), frozenset(SENSORS), frozenset({"electronically_commutated"}), False)
    )
)


def place(equipment: dict[str, Any] | None = None, **changes: Any) -> dict[str, Any]:
    """`equipment`: what the design says of the unit; {} says nothing of it."""
    made = position({"supply": {}}, fans=FANS, **{"kind": "hrv", **changes})
    given = {"options": OPTIONS, "field_sensors": SENSORS} if equipment is None else equipment
    if given:
        made["design"]["equipment"] = {"unit": given}
    return made


def right(item: Item) -> dict[str, Any]:
    """The answer that the item wants."""
    if item.answer == "photo":
        return {"item": item.id, "photos": ["ab" * 32]}
    if item.answer == "choice":
        return {"item": item.id, "choice": item.right[0]}
    if item.answer == "number":
        return {"item": item.id, "number": {"value": item.low, "unit": item.unit}}
    return {"item": item.id, "yes": True}


def yes(*items: str) -> list[dict[str, Any]]:
    return [{"item": item, "yes": True} for item in items]


def no(item: str, **rest: Any) -> dict[str, Any]:
    return {"item": item, "yes": False, **rest}


def cannot(item: str, reason: str = "no_power", **rest: Any) -> dict[str, Any]:
    return {"item": item, "cannot": {"reason": reason, **rest}}


def all_right(*but: str) -> list[dict[str, Any]]:
    """Everything that applies to the unit answered rightly, but for those named."""
    return [right(item) for item in APPLYING if item.id not in but]


def release(item: str, **changes: Any) -> dict[str, Any]:
    return {
        "item": item,
        "by": "installing_contractor",
        "company": "Halvard Electric",
        "person": "Tove Brandeis",
        "licence": "",
        "on": "2026-05-04",
        **changes,
    }


def lift(item: str, **changes: Any) -> dict[str, Any]:
    reason = "The owner's own crew seals it in June; the airflow is read with it taped."
    return {"item": item, "by": "Maren Tollefsby", "reason": reason, "on": "2026-05-04", **changes}


def signoff(trade: str, **changes: Any) -> dict[str, Any]:
    given = {"company": "Halvard Electric", "person": "Tove Brandeis", "on": "2026-05-04"}
    return {"trade": trade, **given, **changes}


def record(
    *answers: dict[str, Any], name: str = "walk", by: str = IDRIS, at: str = MORNING, **payload: Any
) -> dict[str, Any]:
    made = builder.envelope({}, name=name, at=at)
    held = {"answers": list(answers), "serial_seen": "M-1", **payload}
    named = {sha256 for answer in answers for sha256 in answer.get("photos", ())}
    photos = [{"sha256": sha256} for sha256 in sorted(named) if len(sha256) == 64]
    return {**made, "kind": "checklist", "observed_by": by, "payload": held, "photos": photos}


def judged(*records: Any, where: dict[str, Any] | None = None, **changes: Any) -> builder.Result:
    return builder.judged(*records, place=where or place(), **changes)


def states(result: builder.Result, requirement: str = "ready_for_test") -> dict[str, str]:
    return {one["item"]: one["state"] for one in result.judgement(requirement)["facts"]["items"]}


def standing(result: builder.Result, item: str, requirement: str = "ready_for_test") -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in result.judgement(requirement)["facts"]["items"] if one["item"] == item)
    return found
