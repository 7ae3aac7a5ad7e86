"""The air as it is, and as somebody writes it down.

Density by the two ideal gases, saturation by Magnus' formula (WMO guide 8, from memory), pressure over elevation by
the standard atmosphere; weather, thermometers and where they hang: common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

STANDARD_DENSITY = 1.2


@dataclass(frozen=True)
class Air:
    dry_bulb_c: float
    humidity: float
    pressure_pa: float

    @property
    def density(self) -> float:
        vapour = self.humidity * 611.2 * math.exp(17.62 * self.dry_bulb_c / (243.12 + self.dry_bulb_c))
        kelvin = self.dry_bulb_c + 273.15
        return (self.pressure_pa - vapour) / (287.05 * kelvin) + vapour / (461.5 * kelvin)


def outside(dice: np.random.Generator, elevation_m: float, low_c: float, high_c: float) -> Air:
    standard = 101_325.0 * (1.0 - 0.0065 * elevation_m / 288.15) ** 5.2559
    weather = float(dice.normal(0.0, 800.0))
    return Air(float(dice.uniform(low_c, high_c)), float(dice.uniform(0.2, 0.8)), standard + weather)


def written_down(dice: np.random.Generator, air: Air, known: str, ip: bool) -> dict[str, Any] | None:
    """`known`: measured, elevation (nobody read the barometer), or nothing.

    The thermometer is good to 0.5 K and hangs where the air is up to 1.5 K off; it is read to whole degrees.
    """
    if known == "nothing":
        return None
    seen = air.dry_bulb_c + dice.normal(0.0, 0.5) + dice.uniform(-1.5, 1.5)
    humidity = min(max(air.humidity + dice.normal(0.0, 0.04), 0.05), 0.98)
    given: dict[str, Any] = {
        "dry_bulb": _q(round(1.8 * seen + 32.0), "degF") if ip else _q(round(seen), "degC"),
        "relative_humidity": _q(round(100.0 * humidity), "%"),
    }
    if known == "measured":
        given["pressure"] = _q(round((air.pressure_pa + dice.normal(0.0, 150.0)) / 100.0), "hPa")
    return given


def _q(value: float, unit: str) -> dict[str, Any]:
    return {"value": float(value), "unit": unit}
