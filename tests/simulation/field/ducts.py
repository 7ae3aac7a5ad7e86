"""Ducts, the air's profile in them, and where people put the probe.

Coordinates run from -1 to 1 over the section. The walls slow the air by a power of the distance (no logarithm
anywhere), what lies upstream leans it to one side, leaves a slow side after a bend, lobes and a swirl. The mean is
found by Gauss' rule on a fourth-power stretching, exact to far below what is asked here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

Array = np.ndarray[Any, np.dtype[np.float64]]

_nodes, _weights = np.polynomial.legendre.leggauss(14)
_T, _W = 0.5 * (_nodes + 1.0), 0.5 * _weights
_DISTANCE = _T**4  # from the wall, in half-sides or radii: the power law is smooth in it
_STEP = _W * 4.0 * _T**3
_SIDE = np.concatenate([_DISTANCE - 1.0, 1.0 - _DISTANCE])
_SIDE_WEIGHTS = 0.5 * np.concatenate([_STEP, _STEP])
_ANGLES = np.linspace(0.0, 2.0 * math.pi, 24, endpoint=False)


@dataclass(frozen=True)
class Profile:
    """What the air does in a section, all relative to its largest undisturbed velocity."""

    powers: tuple[float, float]  # 1/n of the power law, across and up
    skew: float
    skew_angle: float
    deficit: float  # how much slower the side after a bend is
    deficit_angle: float
    deficit_width: float
    lobe: float
    lobe_phases: tuple[float, float]
    swirl_rad: float  # at the wall
    scatter: float  # of one reading, relative: what turbulence leaves after the probe's own averaging

    def at(self, x: Array, y: Array, wall: Array) -> Array:
        """Axial velocity; `wall` is the factor of the walls."""
        along = x * math.cos(self.skew_angle) + y * math.sin(self.skew_angle)
        gap = 1.0 - (x * math.cos(self.deficit_angle) + y * math.sin(self.deficit_angle))
        slow = self.deficit * np.exp(-((gap / (2.0 * self.deficit_width)) ** 2))
        one, two = self.lobe_phases
        lobes = self.lobe * np.cos(math.pi * x + one) * np.cos(math.pi * y + two)
        return np.asarray(wall * (1.0 + self.skew * along + lobes - slow))


@dataclass(frozen=True)
class Rectangle:
    width_m: float
    height_m: float

    @property
    def area_m2(self) -> float:
        return self.width_m * self.height_m

    def relative(self, profile: Profile, x: Array, y: Array) -> Array:
        wall = (1.0 - np.abs(x)) ** profile.powers[0] * (1.0 - np.abs(y)) ** profile.powers[1]
        return profile.at(x, y, wall)

    def mean(self, profile: Profile) -> float:
        x, y = np.meshgrid(_SIDE, _SIDE)
        weights = np.outer(_SIDE_WEIGHTS, _SIDE_WEIGHTS)
        return float(np.sum(self.relative(profile, x, y) * weights))


@dataclass(frozen=True)
class Round:
    diameter_m: float

    @property
    def area_m2(self) -> float:
        return math.pi * self.diameter_m**2 / 4.0

    def relative(self, profile: Profile, x: Array, y: Array) -> Array:
        wall = (1.0 - np.minimum(np.hypot(x, y), 1.0)) ** profile.powers[0]
        return profile.at(x, y, wall)

    def mean(self, profile: Profile) -> float:
        radius, angle = np.meshgrid(1.0 - _DISTANCE, _ANGLES)
        weights = np.broadcast_to(2.0 * (1.0 - _DISTANCE) * _STEP / _ANGLES.size, radius.shape)
        return float(np.sum(self.relative(profile, radius * np.cos(angle), radius * np.sin(angle)) * weights))


Section = Rectangle | Round


def profile_at(dice: np.random.Generator, upstream: float, downstream: float) -> Profile:
    """A profile `upstream` diameters after a disturbance and `downstream` before the next one.

    How strong a disturbance is and how fast it dies: common practice, no source. A bend leans the air by 20 to 90 %
    over the half side; that falls to a third in 3.5 diameters, the slow side in 2, lobes in 5, swirl in 12.
    """
    gone = {length: math.exp(-upstream / length) for length in (2.0, 3.5, 5.0, 12.0)}
    skew = dice.uniform(0.2, 0.9) * gone[3.5] + dice.uniform(0.0, 0.3) * math.exp(-downstream)
    bend = dice.uniform(0.0, 2.0 * math.pi)
    return Profile(
        powers=(float(1.0 / dice.uniform(5.0, 10.0)), float(1.0 / dice.uniform(5.0, 10.0))),
        skew=float(skew),
        skew_angle=float(bend),
        deficit=float(dice.uniform(0.2, 0.9) * gone[2.0]),
        deficit_angle=float(bend + math.pi + dice.normal(0.0, 0.3)),
        deficit_width=float(dice.uniform(0.1, 0.3)),
        lobe=float(dice.uniform(0.0, 0.15) * gone[5.0]),
        lobe_phases=(float(dice.uniform(0.0, math.pi)), float(dice.uniform(0.0, math.pi))),
        swirl_rad=math.radians(float(dice.uniform(0.0, 20.0))) * gone[12.0],
        scatter=0.02 + 0.06 * gone[3.5],
    )


# Fractions of a side or diameter from the wall, as printed in ISO 3966 (read in two reprints).
LOG_TCHEBYCHEFF = {
    5: (0.074, 0.288, 0.500, 0.712, 0.926),
    6: (0.061, 0.235, 0.437, 0.563, 0.765, 0.939),
    7: (0.053, 0.203, 0.366, 0.500, 0.634, 0.797, 0.947),
}
LOG_LINEAR = {
    6: (0.032, 0.135, 0.321, 0.679, 0.865, 0.968),
    10: (0.019, 0.077, 0.153, 0.217, 0.361, 0.639, 0.783, 0.847, 0.923, 0.981),
}


def grid(layout: str, section: Section) -> list[tuple[float, float]]:
    """Points in metres from two walls, or along two crossed diameters, as somebody marks them on the probe."""
    if isinstance(section, Round):
        fractions = _along_diameter(layout)
        half = 0.5 * section.diameter_m
        across = [(fraction * section.diameter_m, half) for fraction in fractions]
        return [*across, *((y, x) for x, y in across)]
    sides = (section.width_m, section.height_m)
    xs, ys = ([fraction * side for fraction in _along_side(layout, side)] for side in sides)
    return [(x, y) for x in xs for y in ys]


def _along_side(layout: str, side_m: float) -> tuple[float, ...]:
    if layout == "log_tchebycheff":
        return LOG_TCHEBYCHEFF[5 if side_m < 0.762 else 6 if side_m <= 0.9144 else 7]
    cells = 3 if layout == "other" else max(4, math.ceil(side_m / 0.150 - 1e-9))
    return tuple((2 * cell + 1) / (2 * cells) for cell in range(cells))


def _along_diameter(layout: str) -> tuple[float, ...]:
    if layout == "log_linear":
        return LOG_LINEAR[10]
    if layout == "other":
        return LOG_LINEAR[6]
    rings = 5
    near = [0.5 * (1.0 - math.sqrt((2 * ring - 1) / (2 * rings))) for ring in range(rings, 0, -1)]
    return (*near, *(1.0 - fraction for fraction in reversed(near)))
