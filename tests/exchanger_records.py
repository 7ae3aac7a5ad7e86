"""Records of an exchanger's test for tests: the published test of four good thermometers, changed where a test asks."""

from __future__ import annotations

from typing import Any

from tests.judging.builder import PERSON, POSITION, cfm, judged, named, position, state

DEGREES = {"absolute": {"value": 0.4, "unit": "delta_K"}, "shape": "normal_k2"}  # u = 0.2 K
SHARE = {"absolute": {"value": 4.0, "unit": "%"}, "shape": "normal_k2"}  # u = 2 %


def tool(name: str, accuracy: dict[str, Any], **changes: Any) -> dict[str, Any]:
    return {
        "id": named(name),
        "name": name,
        "serial": f"S-{name}",
        "kind": "meter",
        "accuracy": accuracy,
        "calibrations": [{"certificate": "C-1", "on": "2026-01-10", "due": "2027-01-10", "as_found": "within"}],
        **changes,
    }


TOOLS = [tool(f"t {role}", DEGREES) for role in ("outdoor", "supply", "return", "exhaust", "all")]
TOOLS += [tool(f"rh {role}", SHARE) for role in ("outdoor", "supply", "return", "exhaust", "all")]
TOOLS += [
    tool("counter", {"relative": 0.01}),
    tool("gas", {"relative": 0.02}),
    tool("gauge", {"absolute": {"value": 2.0, "unit": "Pa"}}),
]


def series(*values: float, unit: str) -> dict[str, Any]:
    return {"values": list(values), "unit": unit}


def station(
    role: str, dry_bulb: float, unit: str = "degC", *, share: float | None = None, by: str = "", **changes: Any
) -> dict[str, Any]:
    """Read four times alike, each station by its own instruments unless `by` names one for all."""
    made: dict[str, Any] = {
        "station": role,
        "instrument": named(f"t {by or role}"),
        "dry_bulb": series(*[dry_bulb] * 4, unit=unit),
    }
    if share is not None:
        made["humidity_instrument"] = named(f"rh {by or role}")
        made["relative_humidity"] = series(*[share] * 4, unit="%")
    return made | changes


def flow(port: str, value: float, wide: float, unit: str = "m3/s", basis: str = "standard") -> dict[str, Any]:
    made = {"port": port, "airflow": {"value": value, "unit": unit}, "basis": basis}
    return made | {"expanded_uncertainty": {"value": wide, "unit": unit}}


NO_FANS = [{"stream": "supply", "position": "none"}, {"stream": "exhaust", "position": "none"}]
DRY = [
    station("outdoor", -5.0, share=0.0),
    station("supply", 12.5, share=0.0),
    station("return", 22.0, share=0.0),
    station("exhaust", 1.6, share=0.0),
]
FLOWS = [flow("supply", 1.2 / 1.2, 0.06), flow("return", 1.0 / 1.2, 0.0)]  # 1.2 and 1.0 kg/s; 3 % of the supply's


def record(name: str = "exchanger", *, at: str = "2026-05-04T11:00:00-05:00", **changes: Any) -> dict[str, Any]:
    """T7.08 and T7.25: -5, 12.5, 22 and 1.6 degC of dry air, 1.2 and 1.0 kg/s, u(t) = 0.2 K, u(flow ratio) = 3 %."""
    payload = {
        "stage": "final",
        "session": {"id": "AL-1", "purpose": "as_left"},
        "grade": "measured",
        "serial_seen": "M-1",
        "state": state(wheel="none"),
        "stations": DRY,
        "duration": {"value": 15.0, "unit": "min"},
        "pressure": {"value": 101_325.0, "unit": "Pa"},
        "frost": "none",
        "coil_between": "none",
        "fans": NO_FANS,
        "flows": FLOWS,
        **changes,
    }
    return {
        "schema": "ventfolio/envelope/1",
        "id": named(name),
        "kind": "exchanger",
        "position": POSITION,
        "observed_at": at,
        "observed_by": PERSON,
        "payload": {key: value for key, value in payload.items() if value is not None},
    }


def place(core: dict[str, Any] | None = None, **changes: Any) -> dict[str, Any]:
    """A unit with one exchanger, designed as a test wants it."""
    made = position({port: {"airflow": cfm(1000.0), "basis": "standard"} for port in ("supply", "return")}, **changes)
    made["design"]["exchangers"] = {"core": core} if core is not None else {}
    return made


HEAT = {"pressure_rise": {"value": 900.0, "unit": "Pa"}, "efficiency": 0.60}  # T12.05: 1.2425 K at 1.2 kg/m3, dry
SUMMER = {"outdoor": (35.0, 40.0), "supply": (28.0, 50.0), "return": (24.0, 50.0), "exhaust": (31.2, 42.0)}
WINTER = {"outdoor": (-10.0, 80.0), "supply": (14.0, 30.0), "return": (22.0, 35.0), "exhaust": (-2.5, 95.0)}
DESERT = {"outdoor": (38.0, 8.0), "supply": (28.0, 26.0), "return": (24.0, 55.0), "exhaust": (34.0, 24.0)}
BALANCED = [flow("supply", 1.0, 0.06), flow("return", 1.0, 0.06)]


def stations(air: dict[str, tuple[float, float]], **changes: Any) -> list[dict[str, Any]]:
    return [station(role, dry, share=share, **changes) for role, (dry, share) in air.items()]


def measured(*, core: dict[str, Any] | None = None, tools: list[dict[str, Any]] | None = None, **changes: Any) -> Any:
    given = {key: changes.pop(key) for key in ("conventions",) if key in changes}
    result = judged(record(**changes), place=place(core), instruments=tools or TOOLS, **given)
    assert not result.problems, result.problems
    return result.measurements[0]


def figure(measurement: dict[str, Any], name: str, at: str = "") -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in measurement["figures"] if (one["name"], one["at"]) == (name, at))
    return found


def names(measurement: dict[str, Any]) -> set[str]:
    return {one["name"] for one in measurement["figures"]}


def wet(role: str, dry_bulb: float, wet_bulb: float) -> dict[str, Any]:
    return station(role, dry_bulb, "degF", wet_bulb=series(wet_bulb, unit="degF"))


def gas(kind: str = "tracer_gas", **changes: Any) -> dict[str, Any]:
    return {
        "gas": "sulphur-free tracer",
        "kind": kind,
        "instrument": named("gas"),
        "outdoor": series(*[0.5] * 4, unit="ppm"),
        "supply": series(*[3.5] * 4, unit="ppm"),
        "return": series(*[100.5] * 4, unit="ppm"),
        **changes,
    }


COST = {
    "supply_drop": {"value": 100.0, "unit": "Pa"},
    "exhaust_drop": {"value": 100.0, "unit": "Pa"},
    "instrument": named("gauge"),
    "supply_efficiency": 0.5,
    "exhaust_efficiency": 0.5,
    "drive": {"value": 100.0, "unit": "W"},
}
