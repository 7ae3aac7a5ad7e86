"""Coverage of the bare budget where it is thin: few readings, mixed degrees of freedom, a small difference below.

This part imports what it measures; the draws are its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.monte_carlo import Input, monte_carlo
from commissioning.engineering.outdoor_fraction import (
    judge_outdoor_fraction,
    outdoor_fraction_by_temperature,
    outdoor_fraction_uncertainty,
)
from commissioning.engineering.uncertainty import Component, combine, type_a
from tests.simulation.field.ducts import Array

SHAPES = ("normal", "rectangular", "one-sided")
READINGS = (3, 4, 5, 10)
RATIOS = (0.3, 1.0, 3.0)
DIFFERENCES_K = (20.0, 11.0, 5.0, 4.0, 2.0)
SENSOR_K, FRACTION = 0.3, 0.4


@dataclass(frozen=True)
class Line:
    """A case with its coverage and the mean half-width over the standard deviation of what is estimated."""

    case: str
    coverage: float
    width: float


@dataclass(frozen=True)
class FractionLine:
    """`linear` is coverage by f ± 2 u(f); `drawn` by an interval of JCGM 101 around each reading."""

    difference_k: float
    linear: float
    drawn: float
    linear_width: float
    drawn_width: float
    usable: float


def _errors(dice: np.random.Generator, shape: str, size: tuple[int, int]) -> Array:
    """Of mean 0 and standard deviation 1."""
    if shape == "normal":
        return dice.normal(0.0, 1.0, size)
    if shape == "rectangular":
        return dice.uniform(-math.sqrt(3.0), math.sqrt(3.0), size)
    return dice.exponential(1.0, size) - 1.0


def few_readings(trials: int, seed: int) -> list[Line]:
    """The mean of n readings, its own standard deviation, Student's factor (JCGM 100:2008, 4.2 and G.3)."""
    lines = []
    for shape in SHAPES:
        for number in READINGS:
            dice = np.random.default_rng([seed, number, *shape.encode()])
            held, widths = 0, 0.0
            for readings in _errors(dice, shape, (trials, number)):
                found = type_a(readings)
                budget = combine([_component(found.standard_uncertainty, found.degrees_of_freedom)])
                held += abs(found.mean) <= budget.expanded_uncertainty
                widths += budget.expanded_uncertainty
            lines.append(Line(f"{number} readings, {shape}", held / trials, widths / trials * math.sqrt(number)))
    return lines


def _component(size: float, freedom: float = math.inf, name: str = "repeatability") -> Component:
    return Component(name, size, degrees_of_freedom=freedom, kind="A")


def mixed(trials: int, seed: int) -> list[Line]:
    """n readings and a known normal part, `ratio` of it to the readings' part (Welch-Satterthwaite, G.4.1)."""
    lines = []
    for ratio in RATIOS:
        for number in (3, 5):
            dice = np.random.default_rng([seed, number, round(10 * ratio)])
            known = ratio / math.sqrt(number)
            true = math.hypot(1.0 / math.sqrt(number), known)
            held, widths = 0, 0.0
            for readings, shared in zip(
                _errors(dice, "normal", (trials, number)), dice.normal(size=trials), strict=True
            ):
                found = type_a(readings)
                parts = [
                    _component(found.standard_uncertainty, found.degrees_of_freedom),
                    _component(known, name="known"),
                ]
                budget = combine(parts)
                held += bool(abs(found.mean + known * shared) <= budget.expanded_uncertainty)
                widths += budget.expanded_uncertainty
            case = f"{number} readings, known part {ratio:g} of theirs"
            lines.append(Line(case, held / trials, widths / trials / true))
    return lines


def outdoor_fractions(trials: int, seed: int) -> list[FractionLine]:
    """Three thermometers of 0.3 K (k = 1) around a mixed stream of f = 0.4 (the case of T4.06 at 4 K).

    For the interval of JCGM 101 every trial would need its own run: 200 of them get one of 2000 draws.
    """
    lines = []
    for difference in DIFFERENCES_K:
        dice = np.random.default_rng([seed, round(difference)])
        returned, outdoor = 22.5, 22.5 - difference
        mixed_c = returned + FRACTION * (outdoor - returned)
        reads = np.array([outdoor, returned, mixed_c]) + SENSOR_K * dice.normal(0.0, 1.0, (trials, 3))
        linear = [_linear(*one) for one in reads if abs(one[0] - one[1]) >= 0.1]
        drawn = [_drawn(*one, seed=number) for number, one in enumerate(reads[:200])]
        lines.append(
            FractionLine(
                difference,
                float(np.mean([low <= FRACTION <= high for low, high, _ in linear])),
                float(np.mean([low <= FRACTION <= high for low, high in drawn])),
                float(np.median([0.5 * (high - low) for low, high, _ in linear])),
                float(np.median([0.5 * (high - low) for low, high in drawn])),
                float(np.mean([usable for _, _, usable in linear])),
            )
        )
    return lines


def _linear(outdoor: float, returned: float, mixed_c: float) -> tuple[float, float, bool]:
    fraction = float(
        outdoor_fraction_by_temperature(
            outdoor_temperature_c=outdoor, return_temperature_c=returned, mixed_temperature_c=mixed_c
        )
    )
    spread = float(
        outdoor_fraction_uncertainty(
            fraction=min(max(fraction, -1.0), 2.0),
            difference=outdoor - returned,
            mixed_standard_uncertainty=SENSOR_K,
            return_standard_uncertainty=SENSOR_K,
            outdoor_standard_uncertainty=SENSOR_K,
        )
    )
    usable = -1.0 <= fraction <= 2.0 and judge_outdoor_fraction(fraction=fraction, standard_uncertainty=spread).usable
    return fraction - 2.0 * spread, fraction + 2.0 * spread, usable


def _drawn(outdoor: float, returned: float, mixed_c: float, *, seed: int) -> tuple[float, float]:
    given = {name: Input(value, SENSOR_K) for name, value in (("o", outdoor), ("r", returned), ("m", mixed_c))}
    found = monte_carlo(lambda o, r, m: (m - r) / (o - r), given, trials=2000, seed=seed)
    return found.low, found.high
