"""From what a technician typed to the bytes of an envelope. The page makes no evidence of its own: it is a device.

The id and the moment are fixed when the form is shown, so a form that is sent twice is the same envelope. What every
record has in common is read here; a kind's form adds its own readings.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from commissioning.dossier.canonical import canonical_json

STATE = {
    "outdoor_damper": ("Outdoor air damper", ("open", "closed", "modulating", "none")),
    "exhaust_damper": ("Exhaust air damper", ("open", "closed", "modulating", "none")),
    "filters": ("Filters", ("clean", "loaded", "construction", "missing")),
    "bypass": ("Bypass", ("closed", "open", "none")),
    "wheel": ("Wheel", ("running", "stopped", "none")),
    "served_air_handler": ("Air handler it serves", ("on", "off", "none")),
    "others_on_riser": ("Other units on the riser", ("on", "off", "none")),
    "doors": ("Doors", ("closed", "open")),
}
MODES = {"design_maximum": "as designed at maximum", "minimum": "at minimum", "other": "another"}
UNITS = {
    "airflow": {"ip": "cfm", "si": "L/s"},
    "temperature": {"ip": "degF", "si": "degC"},
    "pressure": {"ip": "in_wc", "si": "Pa"},
    "velocity": {"ip": "fpm", "si": "m/s"},
    "length": {"ip": "in", "si": "mm"},
}
"""The unit codes in which a form asks, by quantity and display."""


class NotReadable(Exception):
    """A field cannot be read; nothing was sent."""

    def __init__(self, name: str, value: str, reason: str, remedy: str) -> None:
        super().__init__(f"{name}: {reason} {remedy}")
        self.name, self.value, self.reason, self.remedy = name, value, reason, remedy


@dataclass(frozen=True)
class Sheet:
    """What the form is about, and the display (`ip` or `si`) in which it was shown."""

    id: str
    position: str
    person: str
    observed_at: str
    display: str
    typed: Mapping[str, str] = field(default_factory=dict)

    def text(self, name: str) -> str:
        return self.typed.get(name, "").strip()

    def unit(self, quantity: str) -> str:
        return UNITS[quantity][self.display]

    def number(self, name: str) -> float | None:
        """A number as people type it: a decimal comma is one, a thousands separator is not guessed at.

        >>> sheet = Sheet("", "", "", "", "ip", {"a": "12,5", "b": "", "c": "1.250"})
        >>> sheet.number("a"), sheet.number("b"), sheet.number("c")
        (12.5, None, 1.25)
        """
        text = self.text(name).replace(" ", "")
        if not text:
            return None
        if text.count(",") == 1 and "." not in text:
            text = text.replace(",", ".")
        try:
            value = float(text) if text.replace(".", "", 1).lstrip("+-").isascii() else float("nan")
        except ValueError:
            value = float("nan")
        if value != value or abs(value) == float("inf"):
            raise NotReadable(name, self.text(name), "This is no number.", "Type digits, without thousands separators.")
        return value

    def quantity(self, name: str, unit: str) -> dict[str, Any] | None:
        """`{"value", "unit"}` of a field, or None where it is empty."""
        value = self.number(name)
        return None if value is None else {"value": value, "unit": unit}

    def numbers(self, *names: str) -> list[float]:
        """The numbers of those fields that are filled in."""
        return [value for name in names if (value := self.number(name)) is not None]

    def instrument(self, name: str = "instrument") -> str:
        """An instrument's id. Required: a reading without one is no evidence."""
        if not self.text(name):
            raise NotReadable(name, "", "The instrument is not named.", "Choose it from the list.")
        return self.text(name)


def envelope_bytes(
    sheet: Sheet, kind: str, readings: Mapping[str, Any], photos: Sequence[Mapping[str, str]] = ()
) -> bytes:
    """The envelope that the form means, always the same bytes for the same form."""
    envelope: dict[str, Any] = {
        "schema": "ventfolio/envelope/1",
        "id": sheet.id,
        "kind": kind,
        "position": sheet.position,
        "observed_at": sheet.observed_at,
        "observed_by": sheet.person,
        "payload": {**_record(sheet), **readings},
    }
    if photos:
        envelope["photos"] = list(photos)
    if sheet.text("supersedes"):
        reason = sheet.text("reason")
        if len(reason) < 3:
            raise NotReadable("reason", reason, "A correction needs its reason.", "Say what was wrong.")
        envelope["supersedes"] = [{"id": sheet.text("supersedes"), "reason": reason}]
    return canonical_json(envelope)


def _record(sheet: Sheet) -> dict[str, Any]:
    """The frame that every kind's payload has."""
    payload: dict[str, Any] = {
        "stage": sheet.text("stage") or "preliminary",
        "session": {
            "id": sheet.text("session") or sheet.observed_at[:10],
            "purpose": sheet.text("purpose") or "as_left",
        },
        "grade": sheet.text("grade") or "measured",
        "state": {name: sheet.text(name) or "not_seen" for name in STATE}
        | {"mode": sheet.text("mode") or "design_maximum"},
        "note": sheet.text("note"),
    }
    if sheet.text("serial_seen"):
        payload["serial_seen"] = sheet.text("serial_seen")
    air = _air(sheet)
    if air:
        payload["air"] = air
    return payload


def _air(sheet: Sheet) -> dict[str, Any]:
    dry_bulb = sheet.quantity("dry_bulb", sheet.unit("temperature"))
    if dry_bulb is None:
        return {}
    air: dict[str, Any] = {"dry_bulb": dry_bulb}
    humidity = sheet.quantity("relative_humidity", "%")
    if humidity is not None:
        air["relative_humidity"] = humidity
    return air
