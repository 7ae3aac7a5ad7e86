"""Electrical figures as the trade prints them, and what the pages of motors have in common."""

from collections.abc import Mapping
from typing import Any

from commissioning.dossier import printing
from commissioning.engineering import units

WORDS = {
    "voltage": "Voltage",
    "voltage_unbalance": "Voltage unbalance",
    "current": "Current, highest leg",
    "current_unbalance": "Current unbalance",
    "electrical_power": "Electric power, drive included",
    "shaft_power": "Shaft power",
    "shaft_load": "Shaft power against rated",
    "load_from_amps": "Load from amps",
    "load_from_slip": "Load from slip",
    "speed": "Speed",
    "frequency": "Frequency of the mains",
    "drive_frequency": "Frequency of the drive's output",
    "overload_setting": "Overload setting",
}


def amps(value: float) -> str:
    """
    >>> amps(9.876), amps(23.64), amps(104.2), amps(0.456)
    ('9.88 A', '23.6 A', '104 A', '0.46 A')
    """
    digits = 2 if abs(value) < 10.0 else 1 if abs(value) < 100.0 else 0
    return f"{value:.{digits}f} A"


def volts(value: float) -> str:
    return f"{value:.0f} V"


def power(value_w: float, *, shaft: bool, display: str) -> str:
    """Shaft power is counted in hp where the project is; electric power is always in kW.

    >>> power(7457.0, shaft=True, display="ip"), power(7457.0, shaft=False, display="ip"), power(230.0, shaft=True,
    ...     display="si")
    ('10.0 hp', '7.46 kW', '230 W')
    """
    if shaft and display == "ip":
        return f"{float(units.from_si(value_w, 'hp')):#.3g} hp"
    return f"{value_w / 1000.0:#.3g} kW" if value_w >= 1000.0 else f"{value_w:.0f} W"


def tenths(fraction: float) -> str:
    """Per cent to one tenth, as unbalances are told.

    >>> tenths(0.01087)
    '1.1 %'
    """
    return f"{100.0 * fraction:.1f} %".replace("-", printing.MINUS)


def printed(figure: Mapping[str, Any], display: str) -> str:
    """A figure's value as the trade prints it, with its expanded uncertainty where it has one."""
    text = value_of(figure["name"], figure["unit"], figure["value"], display)
    wide = figure["expanded_uncertainty"]
    if not wide:
        return text
    number, _, unit = text.rpartition(" ")
    return f"{number} ± {printing.two_digits(wide / _SIZES.get(unit, 1.0))} {unit}"


_SIZES = {"kW": 1000.0, "hp": float(units.to_si(1.0, "hp")), "%": 0.01}


def value_of(name: str, unit: str, value: float, display: str) -> str:
    if unit == "A":
        return amps(value)
    if unit == "V":
        return volts(value)
    if unit == "W":
        return power(value, shaft=name == "shaft_power", display=display)
    if unit == "1":
        return tenths(value) if name.endswith("unbalance") else printing.percent(value)
    if unit == "Hz":
        return f"{value:.1f} Hz"
    return f"{value:.0f} {unit}"
