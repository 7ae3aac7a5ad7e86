"""Records of motors: all in order, all wrong, on a drive, of one phase, and the power of a fan."""

from __future__ import annotations

from typing import Any

from tests.judging.builder import Result, conventions, envelope, port_design, position
from tests.kinds.electrical_records import METER, amps, factor, fan, judged, nameplate, q, record, rpm, volts
from tests.requirements.motors import BALANCED, MOTOR, supply

EVERYTHING: dict[str, Any] = {
    "voltage": volts(462.0, 463.0, 455.0),
    "current": amps(9.0, 9.2, 9.1),
    "power_factor": factor(0.8),
    "frequency": q(60.0, "Hz"),
    "speed": rpm(1770.0, of="motor"),
    "overload": {"protection": "relay", "setting": q(11.0, "A"), "dial_low": q(8.0, "A"), "dial_high": q(12.0, "A")},
    "nameplate": nameplate("three_phase", 9.9, speed=q(1750.0, "rpm"), power=q(7.5, "hp"), voltage=q(460.0, "V")),
}
WHOLE = {**MOTOR, "motor_efficiency": 0.9, "motor_power": q(7.5, "hp")}
ONE = {"motor": "single_phase", "phases": 1, "voltage": q(230.0, "V")}
EC = {"motor": "electronically_commutated", "phases": 1, "voltage": q(230.0, "V"), "nameplate_current": q(2.4, "A")}


def unit_of(limits: dict[str, Any], kilowatts: float = 3.2, **changes: Any) -> Result:
    """One supply fan that moves its design of 1000 cfm."""
    place = position({"supply": port_design()}, fans={"supply": {"motor_efficiency": 0.9, **limits}})
    power = record(fan(power={"instrument": METER, "power": q(kilowatts, "kW")}))
    return judged(envelope({"supply": 1000.0}), power, place=place, **changes)


LIMITS: dict[str, Any] = {
    "specific_power_limit": {"maximum": q(3.0, "W/cfm")},
    "power_limit": {
        "system": "variable_volume",
        "criterion": True,
        "credits": [{"device": "core", "airflow": q(1000.0, "cfm"), "effectiveness": 0.7}],
    },
}
FREE: dict[str, Any] = {"power_limit": {**LIMITS["power_limit"], "criterion": False}}
FAILING: dict[str, Any] = {
    "rotation": "reversed",
    "voltage": volts(370.0, 420.0, 400.0),
    "current": amps(14.0, 10.0, 10.0),
    "overload": {"protection": "relay", "setting": q(20.0, "A"), "dial_low": q(15.0, "A")},
}
STORIES: dict[str, Result] = {
    "all in order": supply(WHOLE, **EVERYTHING),
    "all wrong": supply({"service_factor": 1.0}, **FAILING),
    "inconclusive": supply(
        {"service_factor": 1.0},
        settled=conventions(decision_rule="guarded_acceptance"),
        current=amps(9.95, 9.95, 9.95),
        voltage=volts(416.0, 416.0, 416.0),
    ),
    "on a drive": supply(
        {"drive": True},
        read_at="drive_input",
        voltage=BALANCED,
        current=amps(7.0, 7.1, 7.2),
        drive={"frequency": q(50.0, "Hz"), "current": q(9.0, "A"), "power": q(3.0, "kW")},
    ),
    "clamp before the drive": supply({"drive": True}, read_at="drive_input", current=amps(7.0, 7.1, 7.2)),
    "one phase": supply(ONE, voltage=volts(118.0, between="line_and_neutral"), current=amps(9.0)),
    "electronic": supply(EC, voltage=volts(231.0), current=amps(2.0)),
    "unknown motor": supply({"motor": None, "phases": None}, current=amps(9.0, 9.0, 9.0), voltage=BALANCED),
    "nothing but a look": supply(rotation="not_seen", overload={"protection": "none"}),
    "not counted": judged(record(fan(current=amps(9.0))), place=position(fans={"supply": MOTOR}, scope="deferred")),
    "power, for information": unit_of(FREE),
    "power, limited": unit_of(LIMITS),
    "power, little": unit_of(LIMITS, 0.4),
    "power, guarded": unit_of(
        {"specific_power_limit": {"maximum": q(3.25, "W/cfm")}},
        conventions=conventions(decision_rule="guarded_acceptance"),
    ),
}
