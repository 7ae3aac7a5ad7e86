"""Whole units with one blunder at one port: what is no error of measurement, and has to be noticed by something else.

Four ports whose masses agree (supply is outdoor air, exhaust is return air), all at design, good planes and stations;
a second party verifies the port by another method a day later.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tests.simulation.field import air, tools
from tests.simulation.field.visits import METHODS, Truth, Visit

PORTS = ("supply", "return", "outdoor", "exhaust")
BLUNDERED = "supply"
Method = dict[str, Any]


@dataclass(frozen=True)
class Blunder:
    key: str
    words: str
    visit: Visit
    spoil: Callable[[Method], None]
    elevation_m: float = 0.0


def _scale(name: str, factor: float) -> Callable[[Method], None]:
    def spoil(method: Method) -> None:
        method[name]["value"] *= factor

    return spoil


def _readings(factor: float, count: int | None = None) -> Callable[[Method], None]:
    def spoil(method: Method) -> None:
        values = method["readings"]["values"]
        for index in range(len(values) if count is None else count):
            values[index] *= factor

    return spoil


def _lining(method: Method) -> None:
    """The outside was taped: 25 mm of lining on every wall were not seen."""
    for name in ("width", "height"):
        side = method["plane"][name]
        side["value"] += 50.0 if side["unit"] == "mm" else 2.0


def _width(method: Method) -> None:
    method["plane"]["width"]["value"] *= 2.0


def _basis(method: Method) -> None:
    method["basis"] = "standard"


_STATION = Visit("station", tools=(tools.GAUGE, tools.GAUGE_IP), leakage=0.0)
_PITOT = Visit("traverse")
_DIRECT = Visit("direct", tools=(tools.METER, tools.METER_IP))
_HOT_WIRE = replace(_PITOT, reads="velocity", tools=(tools.ANEMOMETER, tools.ANEMOMETER_IP))

BLUNDERS = (
    Blunder("none", "nothing is wrong", _PITOT, lambda method: None),
    Blunder("K up", "station: the factor of the next larger size, × 1.27", _STATION, _scale("factor", 1.27)),
    Blunder("K down", "station: the factor of the next smaller size, ÷ 1.27", _STATION, _scale("factor", 1.0 / 1.27)),
    Blunder("decimal, one", "traverse: one reading of 25 or more × 10", _PITOT, _readings(10.0, 1)),
    Blunder("decimal, all", "traverse: every reading × 10", _PITOT, _readings(10.0)),
    Blunder("decimal, direct", "direct: every reading ÷ 10", _DIRECT, _readings(0.1)),
    Blunder("width", "traverse: twice the width", _PITOT, _width),
    Blunder("lining", "traverse: 25 mm of lining not taken off", _PITOT, _lining),
    Blunder("basis", "direct: actual air written as standard, at 1600 m", _DIRECT, _basis, elevation_m=1600.0),
    Blunder(
        "mass velocity",
        "velocities: a thermal probe that shows standard velocities, at 1600 m",
        _HOT_WIRE,
        _readings(0.825),
        elevation_m=1600.0,
    ),
)


def unit(dice: np.random.Generator, blunder: Blunder) -> tuple[dict[str, Truth], dict[str, Truth]]:
    """The unit as left, and as verified: all four ports, the blunder only in the first."""
    state = air.outside(dice, blunder.elevation_m, 12.0, 28.0)
    masses: dict[str, float] = {}
    for pair in (("supply", "outdoor"), ("return", "exhaust")):
        masses |= dict.fromkeys(pair, float(dice.uniform(0.2, 0.6)))
    left, verified = {}, {}
    for port in PORTS:
        flow = masses[port] / state.density
        left[port] = _at_flow(dice, blunder.visit, state, flow)
        verified[port] = _at_flow(dice, _DIRECT if blunder.visit is not _DIRECT else _PITOT, state, flow)
    spoiled = copy.deepcopy(left[BLUNDERED].method)
    blunder.spoil(spoiled)
    left[BLUNDERED] = replace(left[BLUNDERED], method=spoiled)
    return left, verified


def _at_flow(dice: np.random.Generator, visit: Visit, state: air.Air, flow: float) -> Truth:
    """A visit, its duct, station or readings scaled so that the true flow is this one."""
    true, method, tool = METHODS[visit.method](dice, visit, state.density, False)
    ratio = flow / true
    if visit.method == "traverse":
        for name in ("width", "height"):
            method["plane"][name]["value"] *= ratio**0.5
    elif visit.method == "station":
        method["factor"]["value"] *= ratio
    else:
        method["readings"]["values"] = [value * ratio for value in method["readings"]["values"]]
    return Truth(flow, state.density, method, tool, air.written_down(dice, state, "measured", False))
