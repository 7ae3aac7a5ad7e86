"""Settings records in a few words: a unit that is set as it should be, and what a test wants otherwise."""

from __future__ import annotations

from typing import Any

from tests.judging import builder
from tests.judging.builder import position

NOTHING = object()


def q(value: float, unit: str) -> dict[str, Any]:
    return {"value": value, "unit": unit}


GOOD: dict[str, Any] = {
    "time_zone": "America/Chicago",
    "daylight_saving": True,
    "units_of_measure": "inch_pound",
    "network_protocol": "bacnet_mstp",
    "network_address": 21,
    "device_instance": 30021,
    "enabling": "schedule",
    "local_switch": "automatic",
    "interlock_in_use": False,
    "occupied_days": 7,
    "occupied_from": q(6.0, "h"),
    "occupied_to": q(18.0, "h"),
    "option_heating": False,
    "option_frost_control": True,
    "option_dampers": True,
    "sensor_co2": True,
    "sensor_supply_airflow": True,
    "sensor_exhaust_airflow": True,
    "sensor_exhaust_temperature": True,
    "sensor_outdoor_temperature": True,
    "co2_sensor_low": q(0.0, "ppm"),
    "co2_sensor_high": q(2000.0, "ppm"),
    "supply_control": "airflow_reset_on_co2",
    "reset_low_co2": q(800.0, "ppm"),
    "reset_high_co2": q(1000.0, "ppm"),
    "reset_airflow_at_low": q(400.0, "cfm"),
    "reset_airflow_at_high": q(1000.0, "cfm"),
    "ventilation_floor": q(400.0, "cfm"),
    "supply_minimum_airflow": q(400.0, "cfm"),
    "supply_maximum_airflow": q(1000.0, "cfm"),
    "supply_gain": 0.8,
    "supply_integral_time": q(60.0, "s"),
    "exhaust_control": "follows_supply_by_airflow_ratio",
    "exhaust_ratio": q(90.0, "%"),
    "exhaust_minimum_airflow": q(350.0, "cfm"),
    "exhaust_maximum_airflow": q(950.0, "cfm"),
    "exhaust_gain": 0.8,
    "exhaust_integral_time": q(60.0, "s"),
    "damper_to_fan_delay": q(90.0, "s"),
    "proof_delay": q(30.0, "s"),
    "frost_limit": q(-2.0, "degC"),
    "frost_action": "slows_supply",
}
SEEN = {
    "power": "on",
    "smoke": "clear",
    "frost": "clear",
    "safeties": "clear",
    "contact": "closed",
    "network_command": "on",
}
AT = "2026-05-04T10:15:00-05:00"


def values(**changes: Any) -> dict[str, Any]:
    """The good settings with some changed; NOTHING takes one out."""
    return {code: held for code, held in {**GOOD, **changes}.items() if held is not NOTHING}


def record(
    given: dict[str, Any] | None = None, *, name: str = "settings", moment: str = "as_left", **changes: Any
) -> dict[str, Any]:
    made = builder.envelope({}, name=name, at=changes.pop("at", AT), **changes)
    made["kind"] = "settings"
    del made["payload"]["ports"]
    made["payload"] |= {"moment": moment, "values": values() if given is None else given}
    made["payload"].setdefault("controller_time", "2026-05-04T10:15:20")
    made["payload"].setdefault("winter_design_temperature", q(-18.0, "degC"))
    made["payload"].setdefault("now", SEEN)
    return made


def judged(*envelopes: Any, **changes: Any) -> builder.Result:
    place = changes.pop("place", None) or position({"supply": {}})
    return builder.judged(*envelopes, place=place, **changes)


def facts(result: builder.Result) -> dict[str, Any]:
    held: dict[str, Any] = result.judgement("settings_consistent")["facts"]
    return held


def fired(result: builder.Result) -> list[str]:
    return [one["code"] for one in facts(result)["findings"]]
