"""One fan's stream that can be broken: ducts, filter, core, fan, leaks, a riser; and what is read of it.

The physics is that of fixtures/scenario/network.py (Newton on a network of resistances), which knows nothing of the
package's formulas or of its table of signatures. The fan, the motor and all sizes are invented.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field

from commissioning.engineering.diagnosis import Change, Symptoms, relative_change
from commissioning.engineering.diagnosis_table import FanWheel, Quantity
from fixtures.scenario.network import AMBIENT, Branch, Fan, solve

Q = Quantity
FLOW = 1.0  # m3/s that the stream moves when nothing is wrong
LOSS_PA = {"intake": 40.0, "filter": 60.0, "core": 120.0, "duct": 220.0}
RISER_PA = 60.0  # of the duct's, where it ends in a riser that three other units of its size share
NO_WAY = 1e9
IDLE = 0.45  # of the motor's current at its load, the part that only magnetises

# Relative standard uncertainty of one ratio, both readings in it. Against an earlier reading of the same unit by the
# same instruments, and against what a schedule says. Common practice, no source.
AGAINST_EARLIER = {
    **dict.fromkeys((Q.INLET_FLOW, Q.OUTLET_FLOW), 0.03),
    Q.OUTLETS: 0.04,
    **dict.fromkeys((Q.INTAKE, Q.FILTER, Q.CORE, Q.DISCHARGE, Q.RISE), 0.05),
    Q.SPEED: 0.007,
    Q.CURRENT: 0.03,
}
AGAINST_DESIGN = {Q.OUTLET_FLOW: 0.03, Q.INLET_FLOW: 0.03, Q.DISCHARGE: 0.20, Q.SPEED: 0.05, Q.CURRENT: 0.25}


@dataclass(frozen=True)
class Broken:
    """What is wrong: resistances times a factor, leaks as a share of the flow, and how the fan turns."""

    factors: dict[str, float] = field(default_factory=dict)
    bypass: float = 0.0  # share of the core's flow that could pass beside it at the same pressure
    leak_before: float = 0.0  # share of the flow, at the pressures of the whole stream
    leak_across: float = 0.0  # share of the flow that the other stream's suction takes before the core
    leak_after: float = 0.0
    speed: float = 1.0
    reversed_: bool = False
    others: float | None = None  # share of the other units on the riser that run; None where there is no riser
    misread: float = 1.0  # factor on the judged airflow


WHOLE = Broken()


def _fan() -> Fan:
    """A fan that runs at 60 % of its free flow and 92 % of its rated speed when nothing is wrong."""
    total = sum(LOSS_PA.values())
    return Fan(total / 0.604 / 0.92**2, FLOW / 0.6 / 0.92, FLOW * total / 0.6 / 0.92**3, 1500.0)


def _way(name: str, source: str, sink: str, broken: Broken, viscous: float = 0.0) -> Branch:
    factor = broken.factors.get(name, 1.0)
    square = (1.0 - viscous) * LOSS_PA[name] / FLOW**2
    return Branch(name, source, sink, factor * square, factor * viscous * LOSS_PA[name] / FLOW)


def _open(share: float, pressure_pa: float) -> float:
    return NO_WAY if share <= 0.0 else pressure_pa / (share * FLOW) ** 2


def readings(broken: Broken, wheel: FanWheel = FanWheel.BACKWARD) -> dict[Quantity, float]:
    """What truly flows, presses, turns and is drawn."""
    speed = 0.92 * broken.speed
    suction = LOSS_PA["intake"] + LOSS_PA["filter"] + LOSS_PA["core"]
    flows = solve(
        [
            _way("intake", AMBIENT, "a", broken),
            _way("filter", "a", "b", broken),
            _way("core", "b", "c", broken, viscous=0.5),
            Branch("bypass", "b", "c", _open(broken.bypass, LOSS_PA["core"])),
            Branch("leak_before", AMBIENT, "c", _open(broken.leak_before, suction)),
            _across(broken.leak_across),
            Branch("fan", "c", "d", 0.0, fan=_fan(), speed=speed, reversed_=broken.reversed_),
            Branch("leak_after", "d", AMBIENT, _open(broken.leak_after, LOSS_PA["duct"])),
            *_ducts(broken),
        ]
    )
    p, q = flows.pressure, {name: mass / 1.2 for name, mass in flows.mass.items()}
    return {
        Q.INLET_FLOW: q["intake"],
        Q.OUTLET_FLOW: q["fan"] * broken.misread,
        Q.OUTLETS: q["duct"],
        Q.INTAKE: -p["a"],
        Q.FILTER: p["a"] - p["b"],
        Q.CORE: p["b"] - p["c"],
        Q.DISCHARGE: p["d"],
        Q.RISE: p["d"] - p["c"],
        Q.SPEED: 1500.0 * speed,
        Q.CURRENT: _current(q["fan"], speed, broken.reversed_, wheel),
    }


def _across(share: float) -> Branch:
    """Into a stream that sucks 400 Pa stronger than the air outside."""
    square = NO_WAY if share <= 0.0 else 300.0 / (share * FLOW) ** 2
    return Branch("leak_across", "b", AMBIENT, square, fan=Fan(400.0, 1e6, 1.0, 1000.0), speed=1.0)


def _ducts(broken: Broken) -> list[Branch]:
    """Straight to the outlets, or into a riser with a stiff source of three times the flow for the other units."""
    if broken.others is None:
        return [_way("duct", "d", AMBIENT, broken)]
    own = (1.0 - RISER_PA / LOSS_PA["duct"]) * broken.factors.get("duct", 1.0)
    stiff = 2000.0
    running = max(broken.others, 1e-6)
    square = (stiff - RISER_PA) / (3.0 * FLOW * running) ** 2
    return [
        Branch("duct", "d", "e", own * LOSS_PA["duct"] / FLOW**2),
        Branch("riser", "e", AMBIENT, RISER_PA / (4.0 * FLOW) ** 2),
        Branch("others", AMBIENT, "e", square, fan=Fan(stiff, 1e6, 1.0, 1000.0), speed=1.0),
    ]


def _current(flow: float, speed: float, reversed_: bool, wheel: FanWheel) -> float:
    """Amperes over those at the load when nothing is wrong."""
    fan = _fan()
    if wheel is FanWheel.FORWARD:
        x = flow / (fan.free_m3_s * speed)
        load = (speed / 0.92) ** 3 * (0.15 + 0.85 * x / 0.6)
    else:
        load = fan.shaft_power(flow, speed, 1.2, reversed_) / fan.shaft_power(FLOW, 0.92, 1.2)
    return math.hypot(load * math.sqrt(1.0 - IDLE**2), IDLE)


def symptoms(
    broken: Broken,
    uncertainties: dict[Quantity, float],
    *,
    seen: dict[str, tuple[str, ...]] | None = None,
    wheel: FanWheel = FanWheel.BACKWARD,
    dice: random.Random | None = None,
) -> Symptoms:
    """What is read against what was read, or designed, when nothing was wrong; with errors where dice are given."""
    whole = WHOLE if broken.others is None else Broken(others=1.0)
    now, before = readings(broken, wheel), readings(whole, wheel)
    changes: dict[Quantity, Change] = {}
    for quantity, u in uncertainties.items():
        error = math.exp(dice.gauss(0.0, u)) if dice else 1.0
        changes[quantity] = relative_change(
            now=now[quantity] * error, reference=before[quantity], relative_uncertainty=u
        )
    return Symptoms(changes, Q.OUTLET_FLOW, seen or {}, wheel)
