"""A million states of moist air: ours over arrays against two libraries, on a sample of the same states.

The libraries answer state by state, psychrolib in Python and CoolProp in C++ as a real gas, so a million would take
them minutes: they get a sample, and the time for a million is that of the sample, scaled. A state is three answers:
humidity ratio, density and enthalpy.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import psychrolib
from CoolProp.HumidAirProp import HAPropsSI

from commissioning.engineering.humidity import wet_bulb_c
from commissioning.engineering.moist_air import moist_air
from tests.bench.timing import Line, cpu, in_turns, ratio

Array = np.ndarray[Any, np.dtype[np.float64]]
STATES, PSYCHROLIB, COOLPROP = 1_000_000, 20_000, 500
QUANTITIES = ("humidity ratio", "density", "enthalpy")


@dataclass(frozen=True)
class States:
    dry_bulb_c: Array
    humidity: Array  # relative humidity [-] or wet bulb [degC]
    pressure_pa: Array

    def first(self, number: int) -> "States":
        return States(self.dry_bulb_c[:number], self.humidity[:number], self.pressure_pa[:number])


def lines() -> list[Line]:
    psychrolib.SetUnitSystem(psychrolib.SI)
    dice = np.random.default_rng(9)
    dry, share = dice.uniform(5.0, 45.0, STATES), dice.uniform(0.2, 1.0, STATES)
    pressure = dice.uniform(75_000.0, 104_000.0, STATES)
    given = moist_air(dry_bulb_c=dry, relative_humidity=share, pressure_pa=pressure)
    wet = np.asarray(wet_bulb_c(dry_bulb_c=dry, humidity_ratio=given.humidity_ratio, pressure_pa=pressure))
    wet = np.clip(wet, 0.5, dry)  # over water: below 0 degC a wick may be iced, and each has a rule of its own
    return [
        *_against("B9a", "relative humidity", "relative_humidity", "R", States(dry, share, pressure)),
        *_against("B9b", "wet bulb", "wet_bulb_c", "B", States(dry, wet, pressure)),
    ]


def _against(code: str, what: str, name: str, letter: str, states: States) -> list[Line]:
    few, fewer = states.first(PSYCHROLIB), states.first(COOLPROP)
    kelvin = 273.15 if letter == "B" else 0.0

    def ours(these: States) -> tuple[Array, ...]:
        state = moist_air(
            dry_bulb_c=these.dry_bulb_c,
            pressure_pa=these.pressure_pa,
            **{name: these.humidity},
        )
        return tuple(np.asarray(one) for one in (state.humidity_ratio, state.density_kg_m3, state.enthalpy_j_kg))

    def one_by_one() -> tuple[Array, ...]:
        humidity_ratio = psychrolib.GetHumRatioFromRelHum if letter == "R" else psychrolib.GetHumRatioFromTWetBulb
        return _each(few, lambda t, h, p: _psychrolib(t, humidity_ratio(t, h, p), p))

    def real_gas() -> tuple[Array, ...]:
        where = ("T", fewer.dry_bulb_c + 273.15, letter, fewer.humidity + kelvin, "P", fewer.pressure_pa)
        return HAPropsSI("W", *where), 1.0 / HAPropsSI("Vha", *where), HAPropsSI("H", *where)

    apart = _apart(ours(few), one_by_one()), _apart(ours(fewer), real_gas())
    assert max(apart[0]) < 1e-6, apart
    assert max(apart[1]) < 2e-2, apart
    arrays, scalars, gases = in_turns(lambda _: ours(states), lambda _: one_by_one(), lambda _: real_gas())
    scaled = [one * STATES / PSYCHROLIB for one in cpu(scalars)], [one * STATES / COOLPROP for one in cpu(gases)]
    mine = cpu(arrays)
    speeds = [STATES / float(np.median(one)) for one in (mine, *scaled)]
    return [
        ratio(
            code + end,
            f"{STATES:,} states from dry bulb and {what} / {library}, {number:,} of them scaled, per CPU second",
            theirs,
            mine,
            floor=floor,
            goal=2 * floor,
            more_is_better=True,
            figures=f"{speeds[0] / 1e6:.2f} M against {speed / 1e6:.4f} M states per s; at most apart: "
            + ", ".join(f"{q} {100 * d:.2g} %" for q, d in zip(QUANTITIES, differences, strict=True)),
        )
        for end, library, number, theirs, speed, differences, floor in (
            ("p", "psychrolib", PSYCHROLIB, scaled[0], speeds[1], apart[0], 10.0),
            ("c", "CoolProp", COOLPROP, scaled[1], speeds[2], apart[1], 100.0),
        )
    ]


def _each(states: States, answer: Callable[[float, float, float], tuple[float, ...]]) -> tuple[Array, ...]:
    given = (states.dry_bulb_c.tolist(), states.humidity.tolist(), states.pressure_pa.tolist())
    return tuple(np.array(one) for one in zip(*map(answer, *given), strict=True))


def _psychrolib(dry_bulb_c: float, humidity_ratio: float, pressure_pa: float) -> tuple[float, float, float]:
    density = psychrolib.GetMoistAirDensity(dry_bulb_c, humidity_ratio, pressure_pa)
    return humidity_ratio, density, psychrolib.GetMoistAirEnthalpy(dry_bulb_c, humidity_ratio)


def _apart(ours: tuple[Array, ...], theirs: tuple[Array, ...]) -> list[float]:
    """The largest difference of each quantity, in shares of theirs."""
    return [float(np.max(np.abs(a / b - 1.0))) for a, b in zip(ours, theirs, strict=True)]
