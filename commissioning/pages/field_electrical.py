"""The electrical form: per fan what is seen and stands on its plate, then what the meters show.

Of each motor it asks only what can apply to it, and says of the rest why it cannot.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from commissioning.dossier.given import FanDesign
from commissioning.dossier.motor import LIVE_PARTS, Motor, motor_of, not_applicable
from commissioning.dossier.motor_shows import value_of
from commissioning.pages.field_page import RecordPage, design_of, measured_before
from commissioning.pages.field_sheet import NotReadable, Sheet
from portfolio.models import Position

FANS = ("supply", "exhaust")
POWER = {"ip": "hp", "si": "kW"}
READ_AT = {"motor": "at the motor, no drive", "drive_input": "on the drive's input", "drive_output": "on its output"}
BETWEEN = {"lines": "lines", "line_and_neutral": "line and neutral"}
ROTATION = {"correct": "the right way", "reversed": "the wrong way", "not_seen": "not seen"}
PROTECTION = {
    "relay": "a relay",
    "drive": "the drive",
    "in_the_motor": "inside the motor",
    "none": "none",
    "not_seen": "not seen",
}
SPEED_OF = {"fan": "the fan", "motor": "the motor"}
SPEED_BY = {
    "tachometer": "tachometer",
    "strobe": "strobe",
    "drive_display": "the drive's display",
    "controller": "the controller",
}
KINDS = {
    "three_phase": "three-phase",
    "single_phase": "single-phase",
    "electronically_commutated": "electronically commutated",
    "": "not seen",
}
_BETWEEN_LEGS = ("1–2", "2–3", "3–1")
_NAMEPLATE = {"current": ("current", "A"), "voltage": ("voltage, as connected", "V"), "speed": ("speed", "rpm")}
_DRIVE = {"frequency": "Hz", "current": "A", "power": "kW"}


@dataclass(frozen=True)
class Box:
    """A number to be typed, with its unit inside and what was there before."""

    name: str
    label: str
    unit: str
    held: str
    before: str = ""


@dataclass(frozen=True)
class Choice:
    """One word of a few."""

    name: str
    legend: str
    options: list[tuple[str, str]]
    held: str


class ElectricalPage(RecordPage):
    kind = "electrical"
    template = "commissioning/field_electrical.html"

    def readings(self, sheet: Sheet) -> dict[str, Any]:
        fans = [held for fan in FANS if (held := _fan(sheet, fan)) is not None]
        if not fans:
            raise NotReadable("supply-amps-1", "", "Nothing is filled in of any fan.", "Fill in what was read or seen.")
        return {"fans": fans}

    def asked(self, unit: Position, display: str, typed: Mapping[str, str]) -> dict[str, Any]:
        design = design_of(unit)
        before = measured_before(unit, self.kind)
        return {
            "live_parts": LIVE_PARTS,
            "fans": [_asked(fan, design["fans"].get(fan), before, display, typed) for fan in _fans_of(design)],
            "tachometer_held": typed.get("tachometer", ""),
        }


def _fans_of(design: Mapping[str, Any]) -> list[str]:
    """Those of the design; where it names none, those whose air it names; else both."""
    for group in ("fans", "ports"):
        found = [fan for fan in FANS if fan in design.get(group, {})]
        if found:
            return found
    return list(FANS)


# What is asked


def _asked(
    fan: str, design: Mapping[str, Any] | None, before: list[dict[str, Any]], display: str, typed: Mapping[str, str]
) -> dict[str, Any]:
    motor, _ = motor_of(FanDesign.from_json(design) if design else None, {}, drive_seen=False)
    earlier = {one["name"]: one for held in before for one in held["figures"] if one["at"] == fan}
    skipped = not_applicable(motor)
    asked = _Fan(fan, motor, earlier, display, typed)
    return {
        "name": fan,
        "motor": motor.words,
        "skipped": [f"{name.replace('_', ' ')}: {why}" for name, why in skipped.items()],
        "plate": list(asked.plate()),
        "seen": list(asked.seen("overload_setting" not in skipped)),
        "meter": list(asked.meter()),
    }


@dataclass(frozen=True)
class _Fan:
    fan: str
    motor: Motor
    earlier: Mapping[str, Mapping[str, Any]]
    display: str
    typed: Mapping[str, str]

    def box(self, name: str, label: str, unit: str, figure: str = "") -> Box:
        key = f"{self.fan}-{name}"
        one = self.earlier.get(figure)
        before = value_of(figure, one["unit"], one["value"], self.display) if one else ""
        return Box(key, label, unit, self.typed.get(key, ""), before)

    def choice(self, name: str, legend: str, options: Mapping[str, str], default: str) -> Choice:
        key = f"{self.fan}-{name}"
        return Choice(key, legend, list(options.items()), self.typed.get(key, default))

    def plate(self) -> Iterator[Box | Choice]:
        yield self.choice("plate-motor", "Kind of motor on its plate", KINDS, "")
        for name, (label, unit) in _NAMEPLATE.items():
            yield self.box(f"plate-{name}", f"Plate: {label}", unit)
        yield self.box("plate-power", "Plate: power", POWER[self.display])
        yield self.box("plate-service_factor", "Plate: service factor", "")

    def seen(self, can_be_set: bool) -> Iterator[Box | Choice]:
        yield self.choice("rotation", "It turns", ROTATION, "not_seen")
        if can_be_set:
            yield self.choice("protection", "Overload protection sits in", PROTECTION, "not_seen")
            yield self.box("setting", "Overload set to", "A", "overload_setting")
            yield self.box("dial_low", "Dial from", "A")
            yield self.box("dial_high", "Dial to", "A")

    def meter(self) -> Iterator[Box | Choice]:
        phases = 1 if self.motor.phases == 1 or self._fed_by_one else 3
        yield self.choice("read_at", "The meter was", READ_AT, "drive_input" if self.motor.has_drive else "motor")
        yield self.choice("between", "Voltage between", BETWEEN, "lines" if phases == 3 else "line_and_neutral")
        for n in range(1, phases + 1):
            legs = f" {_BETWEEN_LEGS[n - 1]}" if phases == 3 else ""
            yield self.box(f"volts-{n}", f"Voltage{legs}", "V", "voltage")
        for n in range(1, phases + 1):
            legs = f", leg {n}" if phases == 3 else ""
            yield self.box(f"amps-{n}", f"Current{legs}", "A", "current")
        yield self.box("power", "Power, if read", "kW", "electrical_power")
        yield self.box("factor", "Power factor, if read", "")
        yield self.box("hertz", "Frequency of the mains, if read", "Hz", "frequency")
        if self.motor.kind != "electronically_commutated":
            for name, unit in _DRIVE.items():
                yield self.box(f"drive-{name}", f"The drive shows, {name} of its output", unit)
        yield self.box("speed", "Speed", "rpm", "speed")
        yield self.choice("speed-of", "Speed of", SPEED_OF, "fan")
        yield self.choice("speed-by", "Speed by", SPEED_BY, "tachometer")

    @property
    def _fed_by_one(self) -> bool:
        return self.motor.kind == "electronically_commutated" and self.motor.phases != 3


# What is read


def _fan(sheet: Sheet, fan: str) -> dict[str, Any] | None:
    parts = {
        "voltage": _voltage(sheet, fan),
        "current": _current(sheet, fan),
        "power": _power(sheet, fan),
        "power_factor": _power_factor(sheet, fan),
        "frequency": sheet.quantity(f"{fan}-hertz", "Hz"),
        "drive": _drive(sheet, fan),
        "speed": _speed(sheet, fan),
        "overload": _overload(sheet, fan),
        "nameplate": _nameplate(sheet, fan),
    }
    held = {name: part for name, part in parts.items() if part}
    rotation = sheet.text(f"{fan}-rotation") or "not_seen"
    if not held and rotation == "not_seen":
        return None
    return {"fan": fan, "read_at": sheet.text(f"{fan}-read_at") or "motor", "rotation": rotation, **held}


def _legs(sheet: Sheet, fan: str, what: str) -> list[float]:
    names = [f"{fan}-{what}-{n}" for n in (1, 2, 3)]
    values = sheet.numbers(*names)
    if len(values) == 2:
        empty = next(name for name in names if not sheet.text(name))
        raise NotReadable(empty, "", "Two of three are filled in.", "Fill in the third, or the first alone.")
    return values


def _voltage(sheet: Sheet, fan: str) -> dict[str, Any] | None:
    values = _legs(sheet, fan, "volts")
    if not values:
        return None
    between = sheet.text(f"{fan}-between") or "lines"
    return {"instrument": sheet.instrument("meter"), "between": between, "readings": {"values": values, "unit": "V"}}


def _current(sheet: Sheet, fan: str) -> dict[str, Any] | None:
    values = _legs(sheet, fan, "amps")
    if not values:
        return None
    return {"instrument": sheet.instrument("meter"), "readings": {"values": values, "unit": "A"}}


def _power(sheet: Sheet, fan: str) -> dict[str, Any] | None:
    power = sheet.quantity(f"{fan}-power", "kW")
    return None if power is None else {"instrument": sheet.instrument("meter"), "power": power}


def _power_factor(sheet: Sheet, fan: str) -> dict[str, Any] | None:
    value = sheet.number(f"{fan}-factor")
    return None if value is None else {"instrument": sheet.instrument("meter"), "values": [value]}


def _drive(sheet: Sheet, fan: str) -> dict[str, Any]:
    shown = {name: sheet.quantity(f"{fan}-drive-{name}", unit) for name, unit in _DRIVE.items()}
    return {name: one for name, one in shown.items() if one is not None}


def _speed(sheet: Sheet, fan: str) -> dict[str, Any] | None:
    speed = sheet.quantity(f"{fan}-speed", "rpm")
    if speed is None:
        return None
    by = sheet.text(f"{fan}-speed-by") or "tachometer"
    given = {"of": sheet.text(f"{fan}-speed-of") or "fan", "by": by, "speed": speed}
    if by in ("tachometer", "strobe"):
        given["instrument"] = sheet.instrument("tachometer")
    return given


def _overload(sheet: Sheet, fan: str) -> dict[str, Any] | None:
    read = {name: sheet.quantity(f"{fan}-{name}", "A") for name in ("setting", "dial_low", "dial_high")}
    held = {name: one for name, one in read.items() if one is not None}
    protection = sheet.text(f"{fan}-protection") or "not_seen"
    if held and protection == "not_seen":
        raise NotReadable(f"{fan}-protection", "", "It is not said what was set.", "Choose the relay or the drive.")
    return {"protection": protection, **held} if held or protection != "not_seen" else None


def _nameplate(sheet: Sheet, fan: str) -> dict[str, Any]:
    plate: dict[str, Any] = {
        name: sheet.quantity(f"{fan}-plate-{name}", unit) for name, (_, unit) in _NAMEPLATE.items()
    }
    plate["power"] = sheet.quantity(f"{fan}-plate-power", POWER[sheet.display])
    plate["service_factor"] = sheet.number(f"{fan}-plate-service_factor")
    plate["motor"] = sheet.text(f"{fan}-plate-motor") or None
    return {name: one for name, one in plate.items() if one is not None}
