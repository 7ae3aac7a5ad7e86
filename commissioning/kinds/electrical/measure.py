"""From an electrical payload to figures: per fan what was read, what it amounts to, and what cannot apply."""

from collections.abc import Mapping
from typing import Any, cast

from commissioning.dossier.envelope import Envelope
from commissioning.dossier.figures import Figure, Figures, figures_of
from commissioning.dossier.given import Conventions, Instrument, Place
from commissioning.dossier.instrument_error import papers_fit
from commissioning.dossier.motor import motor_of, not_applicable
from commissioning.dossier.quantities import si
from commissioning.kinds.electrical import powers, readings
from commissioning.kinds.electrical.payload import ElectricalPayload, FanElectrical, Nameplate
from commissioning.kinds.electrical.readings import Setting

VERSION = 3
_HIGH_SITE_M = 1000.0
_EVERYTHING = (readings.voltage, readings.current, readings.speed, readings.seen, powers.power, powers.load)
_QUANTITIES = {"voltage": "voltage", "current": "current", "power": "power", "speed": "rotational speed"}


def instruments(payload: ElectricalPayload) -> frozenset[str]:
    return frozenset(str(one) for fan in payload.fans for one in _named(fan).values())


def measure(
    envelope: Envelope, place: Place, conventions: Conventions, tools: Mapping[str, Instrument]
) -> list[Figures]:
    payload = cast(ElectricalPayload, envelope.payload)
    found: list[Figure] = []
    remarks: list[str] = []
    facts: dict[str, Any] = {}
    for fan in payload.fans:
        setting, told = _setting(fan, place, conventions, tools)
        found += [figure for step in _EVERYTHING for figure in step(setting)]
        facts[fan.fan] = _facts(setting, told)
        remarks += _remarks(setting, told, place)
    named = sorted(instruments(payload))
    return [
        figures_of(
            envelope,
            place,
            found,
            method="electrical readings",
            tools=[(name, tools.get(name)) for name in named],
            remarks=list(dict.fromkeys(remarks)),
            facts={"fans": facts},
        )
    ]


def _setting(
    fan: FanElectrical, place: Place, conventions: Conventions, tools: Mapping[str, Instrument]
) -> tuple[Setting, tuple[str, ...]]:
    design = place.fans.get(fan.fan)
    drive_seen = fan.drive is not None or fan.read_at != "motor"
    drive_seen = drive_seen or (fan.overload is not None and fan.overload.protection == "drive")
    motor, differences = motor_of(design, _seen(fan.nameplate), drive_seen=drive_seen)
    return (
        Setting(fan, motor, design, not_applicable(motor), tools, conventions.coverage_probability),
        differences,
    )


def _seen(nameplate: Nameplate | None) -> dict[str, Any]:
    if nameplate is None:
        return {}
    plain = {
        "kind": nameplate.motor,
        "phases": nameplate.phases,
        "service_factor": nameplate.service_factor,
        "temperature_rise_k": nameplate.temperature_rise_k,
    }
    measured = {
        "current_a": nameplate.current,
        "voltage_v": nameplate.voltage,
        "power_w": nameplate.power,
        "speed_rpm": nameplate.speed,
    }
    seen = {**plain, **{name: None if one is None else si(one) for name, one in measured.items()}}
    return {name: value for name, value in seen.items() if value is not None}


def _facts(setting: Setting, differences: tuple[str, ...]) -> dict[str, Any]:
    fan, overload = setting.fan, setting.fan.overload
    dial = {
        "dial_low_a": si(overload.dial_low) if overload and overload.dial_low else None,
        "dial_high_a": si(overload.dial_high) if overload and overload.dial_high else None,
    }
    return {
        "rotation": fan.rotation,
        "read_at": fan.read_at,
        "protection": overload.protection if overload else "not_seen",
        **dial,
        "motor": setting.motor.to_json(),
        "not_applicable": dict(setting.not_applicable),
        "differences": list(differences),
    }


def _remarks(setting: Setting, differences: tuple[str, ...], place: Place) -> list[str]:
    fan, motor = setting.fan, setting.motor
    name = f"{fan.fan.capitalize()} fan"
    remarks = []
    if differences:
        remarks.append(f"{name}: the motor is another than scheduled: {'; '.join(differences)}. The nameplate counts.")
    if motor.kind is None:
        remarks.append(f"{name}: nobody has stated what kind of motor it is; see its nameplate.")
    if fan.rotation == "not_seen":
        remarks.append(f"{name}: nobody saw which way it turns; a reversed fan moves some air and draws current too.")
    legs = [len(one.readings.values) for one in (fan.voltage, fan.current) if one is not None]
    if motor.phases == 1 and 3 in legs:
        remarks.append(f"{name}: three readings at a motor of one phase: was it this motor?")
    if fan.current is not None and not any(fan.current.readings.values):
        remarks.append(f"{name}: no current in any leg: did it run?")
    if motor.has_drive and fan.read_at == "drive_output" and fan.metered:
        remarks.append(f"{name}: a meter behind a drive misreads; the drive's own display is the better one.")
    if place.elevation_m > _HIGH_SITE_M:
        remarks.append("Above 1000 m the motor's maker says what it may carry (NEMA MG 1, 14.4, from memory).")
    for group, quantity in _QUANTITIES.items():
        given = getattr(fan, group)
        remarks += papers_fit(setting.tool(given.instrument) if given is not None else None, quantity)
    return remarks


def _named(fan: FanElectrical) -> dict[str, Any]:
    held = {name: getattr(fan, name) for name in ("voltage", "current", "power", "power_factor", "speed")}
    return {name: one.instrument for name, one in held.items() if one is not None and one.instrument is not None}
