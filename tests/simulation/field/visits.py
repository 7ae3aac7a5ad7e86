"""One visit to one port by one method: what is true there, and what somebody writes down.

Every method has its own ways to be wrong, each size beside its line. Where no source is named it is common practice,
no source. The flow itself breathes by a per cent, slower than anybody repeats readings, so that repeats do not show it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.simulation.field import air, ducts, tools
from tests.simulation.field.ducts import Array
from tests.simulation.field.tools import CFM, SI_OF, Tool

Dice = np.random.Generator
Range = tuple[float, float]


@dataclass(frozen=True)
class Truth:
    """What passes the port, and what was written down about it."""

    airflow_m3_s: float
    density_kg_m3: float
    method: dict[str, Any]
    tool: Tool | None
    air: dict[str, Any] | None
    grade: str = "measured"


@dataclass(frozen=True)
class Visit:
    """What is the same for a whole circumstance. Ranges are drawn evenly."""

    method: str
    velocity_m_s: Range = (4.0, 10.0)
    upstream: Range = (7.5, 15.0)
    downstream: Range = (3.0, 6.0)
    lengths_stated: bool = True
    layout: str = "log_tchebycheff"
    reads: str = "velocity_pressure"
    round_duct: bool = False
    sides_m: Range = (0.3, 1.2)
    tools: tuple[Tool, Tool] = (tools.MICROMANOMETER, tools.MICROMANOMETER_IP)
    readings: tuple[int, ...] = (3,)
    signal_pa: Range = (40.0, 400.0)
    hood: str = "compensating"  # factor_on_site, plain
    grade: str = "measured"
    air_known: tuple[str, ...] = ("measured", "elevation")
    air_c: Range = (5.0, 32.0)
    gusts: float = 0.01  # of one reading, relative, where readings are repeated
    leakage: float = 0.02  # at most, of the flow, between the plane and the port


def visit(dice: Dice, given: Visit, elevation_m: float) -> Truth:
    ip = bool(dice.random() < 0.5)
    known = given.air_known[int(dice.integers(len(given.air_known)))]
    true_air = air.outside(dice, elevation_m, *given.air_c)
    seen = air.written_down(dice, true_air, known, ip)
    at_plane, method, tool = METHODS[given.method](dice, given, true_air.density, ip)
    leak = dice.uniform(0.0, given.leakage) * dice.choice([-1.0, 1.0])  # lost or gained on the way, by the side
    return Truth(at_plane * (1.0 + float(leak)), true_air.density, method, tool, seen, given.grade)


def breath(dice: Dice, count: int) -> Array:
    """The flow over its mean while somebody reads: a first-order process of 1 %, about twenty readings long."""
    steps = dice.normal(0.0, 1.0, count)
    values = np.empty(count)
    last = steps[0]
    for index in range(count):
        last = 0.95 * last + math.sqrt(1.0 - 0.95**2) * steps[index] if index else last
        values[index] = last
    return np.asarray(1.0 + 0.01 * values)


def _between(dice: Dice, ends: Range) -> float:
    return float(dice.uniform(*ends))


def _traverse(dice: Dice, given: Visit, density: float, ip: bool) -> tuple[float, dict[str, Any], Tool]:
    upstream, downstream = _between(dice, given.upstream), _between(dice, given.downstream)
    profile = ducts.profile_at(dice, upstream, downstream)
    section, plane, seen = _duct(dice, given, ip)
    velocity = _between(dice, given.velocity_m_s)
    mean = section.mean(profile)
    # Marks on the probe are good to 3 mm, and lie where the duct was thought to be.
    marks = np.asarray(ducts.grid(given.layout, seen))
    marks = marks + dice.normal(0.0, 0.003, marks.shape)
    size = np.asarray(
        [section.diameter_m] * 2 if isinstance(section, ducts.Round) else [section.width_m, section.height_m]
    )
    places = np.clip(2.0 * marks / size - 1.0, -0.995, 0.995)
    axial = velocity / mean * section.relative(profile, places[:, 0], places[:, 1])
    axial = axial * breath(dice, axial.size) * (1.0 + profile.scatter * dice.normal(0.0, 1.0, axial.size))
    angle = profile.swirl_rad * np.hypot(places[:, 0], places[:, 1])
    tool = given.tools[ip]
    method = {
        "method": "traverse",
        "reads": given.reads,
        "plane": plane,
        "layout": given.layout,
        "readings": {"values": _probe(dice, given, tool, axial, angle, density), "unit": tool.unit},
        "straight_upstream_diameters": _paced(dice, upstream) if given.lengths_stated else None,
        "straight_downstream_diameters": _paced(dice, downstream) if given.lengths_stated else None,
    }
    return velocity * section.area_m2, method, tool


def _probe(dice: Dice, given: Visit, tool: Tool, axial: Array, swirl: Array, density: float) -> list[float]:
    """A Pitot tube loses with the square of the sine of its yaw and holds itself 4 degrees wrong (one sigma); a
    thermal probe takes the whole velocity, from wherever it comes."""
    whole = axial / np.cos(swirl)
    if given.reads == "velocity":
        return tool.read(dice, np.abs(whole))
    yaw = swirl + math.radians(4.0) * dice.normal()
    forward = 0.5 * density * whole**2 * (1.0 - 1.3 * np.sin(yaw) ** 2)
    return tool.read(dice, np.where(axial > 0.0, forward, -0.3 * forward))


def _duct(dice: Dice, given: Visit, ip: bool) -> tuple[ducts.Section, dict[str, Any], ducts.Section]:
    """The duct as it is, as written down, and as the prober has it: a tape good to 1.5 mm, read to 5 mm or a quarter
    of an inch; a sheet-metal duct under pressure is up to a half per cent larger than its sides say."""
    step, unit, per = (0.00635, "in", 0.0254) if ip else (0.005, "mm", 0.001)

    def taped(true: float) -> float:
        return round((true + float(dice.normal(0.0, 0.0015))) / step) * step

    def quantity(metres: float) -> dict[str, Any]:
        return {"value": round(metres / per, 3), "unit": unit}

    if given.round_duct:
        diameter = _between(dice, given.sides_m)
        seen = taped(diameter)
        return ducts.Round(diameter), {"shape": "round", "diameter": quantity(seen)}, ducts.Round(seen)
    width = _between(dice, given.sides_m)
    height = min(max(width / _between(dice, (1.0, 3.0)), 0.2), 1.2)
    bulge = 1.0 + 0.5 * float(dice.uniform(0.0, 0.005))
    wide, high = taped(width), taped(height)
    plane = {"shape": "rectangular", "width": quantity(wide), "height": quantity(high)}
    return ducts.Rectangle(width * bulge, height * bulge), plane, ducts.Rectangle(wide, high)


def _paced(dice: Dice, diameters: float) -> float:
    """Straight lengths are judged by eye, to a tenth of themselves and to half a diameter."""
    return round(2.0 * diameters * (1.0 + 0.1 * float(dice.normal()))) / 2.0


def _count(dice: Dice, given: Visit) -> int:
    return given.readings[int(dice.integers(len(given.readings)))]


def _station(dice: Dice, given: Visit, density: float, ip: bool) -> tuple[float, dict[str, Any], Tool]:
    """A ring or array with its factor. Fan makers state +-5 % for a ring in their own laboratory (read on two public
    sheets): taken as two sigma. What the site adds, inlet swirl and duct fittings, is another 1 %."""
    signal = _between(dice, given.signal_pa)
    factor = _between(dice, (30.0, 400.0))  # m3/h per root of Pa at 1.2 kg/m3
    true_factor = factor * (1.0 + 0.025 * float(dice.normal())) * (1.0 + 0.01 * float(dice.normal()))
    flow = true_factor / 3600.0 * math.sqrt(signal * 1.2 / density)
    count = _count(dice, given)
    signals = signal * breath(dice, count) ** 2 * (1.0 + given.gusts * dice.normal(0.0, 1.0, count)) ** 2
    tool = given.tools[ip]
    values = tool.read(dice, signals)
    if given.grade == "controller":  # a transmitter's span and a rounded scaling, twice 1.5 %
        values = [round(value * (1.0 + 0.03 * float(dice.normal())) ** 2, 4) for value in values[:1]]
    method = {
        "method": "station",
        "factor": {"value": round(factor, 2), "unit": "m3/h/Pa^0.5"},
        "reference_density": {"value": 1.2, "unit": "kg/m3"},
        "readings": {"values": values, "unit": tool.unit},
    }
    return flow, method, tool


def _flow(dice: Dice) -> float:
    return float(np.exp(dice.uniform(math.log(0.05), math.log(0.6))))  # one outlet, or a small unit's total


def _hood(dice: Dice, given: Visit, density: float, ip: bool) -> tuple[float, dict[str, Any], Tool]:
    """A hood takes 0 to 10 % off the flow that it reads. A compensating one gives that back to 1 %; a factor from a
    traverse of the branch (good to 2.5 %) takes it in, along with the hood's own error, to what the next outlet
    differs by; a plain one with a factor of 1 does neither. The jet's shape under the skirt: 2 %."""
    flow = _flow(dice)
    loss = float(dice.uniform(0.0, 0.10))
    count = _count(dice, given)
    tool = given.tools[ip]
    jet = 1.0 + 0.02 * float(dice.normal())
    factor, passes = 1.0, 1.0 - loss
    if given.hood == "compensating":
        passes = 1.0 + 0.01 * float(dice.normal())
    elif given.hood == "factor_on_site":
        here = (1.0 - loss - 0.01 * float(dice.normal())) * (1.0 + 0.01 * float(dice.normal())) * jet
        factor = round((1.0 + 0.025 * float(dice.normal())) / here, 2)
    seats = breath(dice, count) * (1.0 + given.gusts * dice.normal(0.0, 1.0, count))
    values = tool.read(dice, flow * passes * jet * seats)
    return flow, {"method": "hood", "readings": _series(values, tool), "factor": factor, "basis": "actual"}, tool


def _direct(dice: Dice, given: Visit, density: float, ip: bool) -> tuple[float, dict[str, Any], Tool]:
    """A meter in the duct that shows the flow: the profile that meets it, 2 %."""
    flow = _flow(dice)
    count = _count(dice, given)
    tool = given.tools[ip]
    met = 1.0 + 0.02 * float(dice.normal())
    values = tool.read(dice, flow * met * breath(dice, count) * (1.0 + given.gusts * dice.normal(0.0, 1.0, count)))
    return flow, {"method": "direct", "readings": _series(values, tool), "basis": "actual"}, tool


def _reported(dice: Dice, given: Visit, density: float, ip: bool) -> tuple[float, dict[str, Any], None]:
    """Somebody else's number: seven in ten good to 3 %, three to 6 % (one sigma), written to 5 cfm or 5 L/s."""
    flow = _flow(dice)
    size = 0.03 if dice.random() < 0.7 else 0.06
    unit = "cfm" if ip else "L/s"
    written = 5.0 * round(flow * (1.0 + size * float(dice.normal())) / SI_OF[unit] / 5.0)
    airflow = {"value": written, "unit": unit}
    return (
        flow,
        {"method": "reported", "airflow": airflow, "basis": "actual", "report": "R-7", "by": "another firm"},
        None,
    )


def _series(values: list[float], tool: Tool) -> dict[str, Any]:
    return {"values": [max(value, 0.0) for value in values], "unit": tool.unit}


Method = Callable[[Dice, Visit, float, bool], tuple[float, dict[str, Any], Tool | None]]
METHODS: dict[str, Method] = {
    "traverse": _traverse,
    "hood": _hood,
    "station": _station,
    "direct": _direct,
    "reported": _reported,
}

assert math.isclose(SI_OF["cfm"], CFM)
