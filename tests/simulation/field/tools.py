"""Instruments: what their papers state, and how they err.

The package takes the papers as sharp limits, evenly filled. Here the error of scale is normal with 0.6 of the stated
limit as its standard deviation, so that about one instrument in ten lies outside its papers; the zero is off likewise
and walks during the visit. A dial is read to a fifth of a division, and now and then by a whole division wrong: that
is 0.25 for 0.20. Common practice, no source. A wrong decimal is a blunder and not in here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.simulation.field.ducts import Array

CFM = 0.0004719474432
FPM = 0.00508
INCH_PA = 248.84  # the gauge's own inch of water, at 60 degF; the project agreed on that of 4 degC, 0.1 % away
SI_OF = {"Pa": 1.0, "in_wc": INCH_PA, "m/s": 1.0, "fpm": FPM, "L/s": 1e-3, "cfm": CFM, "m3/h": 1.0 / 3600.0}
MISREADS = 0.02  # share of a dial's readings that are a whole division wrong


@dataclass(frozen=True)
class Tool:
    """`absolute` and `step` in `unit`; a dial has `division` > 0."""

    kind: str
    unit: str
    relative: float
    absolute: float
    step: float
    division: float = 0.0

    def papers(self, id: str) -> dict[str, Any]:
        return {
            "id": id,
            "name": self.kind.replace("_", " "),
            "serial": id[:8],
            "kind": self.kind,
            "accuracy": {
                "relative": self.relative,
                "absolute": {"value": self.absolute, "unit": self.unit} if self.absolute else None,
                "shape": "rectangular",
            },
            "resolution": {"value": self.step, "unit": self.unit} if self.step else None,
            "calibrations": [{"certificate": "S-1", "on": "2026-01-10", "due": "2027-01-10", "as_found": "within"}],
        }

    def read(self, dice: np.random.Generator, true_si: Array) -> list[float]:
        """One instrument reads them all, one after the other: one error of scale, one zero that walks."""
        held = true_si / SI_OF[self.unit]
        scale = 1.0 + 0.6 * self.relative * dice.normal()
        walk = np.linspace(0.0, 0.5 * self.absolute * dice.normal(), held.size)
        seen = held * scale + 0.5 * self.absolute * dice.normal() + walk
        if self.division:
            wrong = dice.random(held.size) < MISREADS
            seen = seen + np.where(wrong, dice.choice([-1.0, 1.0], held.size) * self.division, 0.0)
        step = self.step or 1e-6
        return [round(float(round(value / step) * step), 6) for value in seen]


# What a balancing firm carries; accuracy and steps as such instruments usually state them: common practice, no source.
MICROMANOMETER = Tool("micromanometer", "Pa", 0.01, 0.25, 0.1)
MICROMANOMETER_IP = Tool("micromanometer", "in_wc", 0.01, 0.001, 0.0005)
DIAL = Tool("dial_gauge", "in_wc", 0.02, 0.01, 0.01, 0.05)
FINE_DIAL = Tool("inclined_manometer", "in_wc", 0.01, 0.002, 0.002, 0.01)
ANEMOMETER = Tool("thermal_anemometer", "m/s", 0.03, 0.05, 0.01)
ANEMOMETER_IP = Tool("thermal_anemometer", "fpm", 0.03, 10.0, 1.0)
GAUGE = Tool("differential_pressure_gauge", "Pa", 0.01, 0.5, 0.1)
GAUGE_IP = Tool("differential_pressure_gauge", "in_wc", 0.01, 0.002, 0.001)
HOOD = Tool("capture_hood", "L/s", 0.03, 3.0, 1.0)
HOOD_IP = Tool("capture_hood", "cfm", 0.03, 7.0, 1.0)
METER = Tool("in_duct_flow_meter", "L/s", 0.02, 1.0, 0.5)
METER_IP = Tool("in_duct_flow_meter", "cfm", 0.02, 2.0, 1.0)
NOTHING = Tool("report", "L/s", 0.0, 0.0, 0.0)
