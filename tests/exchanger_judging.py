"""Exchangers judged, for tests: a record and a design in, verdicts and pages out."""

from __future__ import annotations

from typing import Any

from commissioning import judging
from tests.exchanger_records import DRY, TOOLS, place, record, series, station
from tests.judging.builder import Result, cfm, instrument, judged, named, port_design, position, state

EFFECT, CLOSURE, WHEEL, TRANSFER, NET = (
    "exchanger_effectiveness",
    "exchanger_closure",
    "wheel_speed",
    "exhaust_transfer",
    "net_outdoor_air",
)
LATER = "2026-05-06T09:00:00-05:00"


def m3_s(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "m3/s"}


def asked(minimum: float, quantity: str = "sensible", **changes: Any) -> dict[str, Any]:
    return {"criteria": [{"quantity": quantity, "minimum": minimum, "clause": "23 72 00, 2.4", **changes}]}


def rating(supply: float, sensible: float, *, season: str = "any", **changes: Any) -> dict[str, Any]:
    return {"season": season, "supply_airflow": m3_s(supply), "sensible": sensible, **changes}


def of(*envelopes: Any, core: dict[str, Any] | None = None, **changes: Any) -> Result:
    where = changes.pop("where", None) or place(core)
    return judged(*(envelopes or (record(),)), place=where, instruments=[*TOOLS, instrument()], **changes)


def warm_exhaust(value: float) -> dict[str, Any]:
    return record(stations=[*DRY[:3], station("exhaust", value, share=0.0)])


def turning(speed: float) -> dict[str, Any]:
    wheel = {"speed": series(*[speed] * 4, unit="rpm"), "instrument": named("counter"), "control": "full_speed"}
    return record(wheel=wheel, stations=[], flows=[], state=state())


def tracer(kind: str = "tracer_gas", supply: float = 3.5, **changes: Any) -> dict[str, Any]:
    gas = {
        "gas": "tracer",
        "kind": kind,
        "instrument": named("gas"),
        "outdoor": series(*[0.5] * 4, unit="ppm"),
        "supply": series(*[supply] * 4, unit="ppm"),
        "return": series(*[100.5] * 4, unit="ppm"),
    }
    return record(concentrations=gas, stations=[], flows=[], **changes)


def with_minimum(minimum: float | None, port: str = "supply") -> dict[str, Any]:
    ports = {one: port_design(basis="standard") for one in ("supply", "outdoor")}
    if minimum is not None:
        ports[port]["minimum"] = cfm(minimum)
    made = position(ports)
    made["design"]["exchangers"] = {"core": {"kind": "wheel"}}
    return made


def shown(result: Result, requirement: str, port: str = "", display: str = "ip") -> Any:
    return judging.show_judgement(result.judgement(requirement, port), result.measurements, display)
