"""Where to read a duct traverse, and the average velocity of whatever points were read.

Velocities are averaged, never velocity pressures: the root of a mean is never below the mean of the roots, so
averaging pressures always reads high. How good a plane was is judged in `traverse_quality`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from commissioning.engineering.guards import FloatArray, FloatOrArray, plain, within
from commissioning.engineering.traverse_quality import Remark, TraverseQuality, traverse_quality

__all__ = [
    "GridRule",
    "Position",
    "Remark",
    "TraverseQuality",
    "average_velocity_m_s",
    "equal_area_rectangular",
    "equal_area_round",
    "lines_for_side_m",
    "log_linear",
    "log_tchebycheff",
    "point_velocities_m_s",
    "positions",
    "traverse_quality",
    "velocity_m_s",
]

VELOCITY_PRESSURE_RANGE_PA = (-5000.0, 5000.0)
DENSITY_RANGE_KG_M3 = (0.3, 3.0)
_SIX_LINES_FROM_M = 0.762
_SEVEN_LINES_ABOVE_M = 0.9144
_LARGEST_CELL_M = 0.150

# Equal-weight (Chebyshev) abscissae on -1..1 for the inner cells of 5, 6 and 7 lines.
_CHEBYSHEV = {
    5: (-0.7071067811865476, 0.0, 0.7071067811865476),
    6: (-0.7946544722917661, -0.1875924740850799, 0.1875924740850799, 0.7946544722917661),
    7: (-0.8324974870009819, -0.3745414095535811, 0.0, 0.3745414095535811, 0.8324974870009819),
}
_LOG_LINEAR_RADII = {
    6: (0.3586, 0.7302, 0.9358),
    8: (0.3104, 0.6327, 0.7658, 0.9580),
    10: (0.2776, 0.5658, 0.6950, 0.8470, 0.9622),
}


class GridRule(StrEnum):
    """How the points of a traverse are laid out."""

    LOG_TCHEBYCHEFF = "log_tchebycheff"
    LOG_LINEAR = "log_linear"
    EQUAL_AREA = "equal_area"


@dataclass(frozen=True, slots=True)
class Position:
    """One point of a traverse.

    Attributes:
        line: number of the line (the hole, or the diameter), from 1.
        point: number of the point along the line, from 1 at the wall with the hole.
        offset_m: where the line lies along the other side of a rectangular duct [m]; None in a round one.
        angle_deg: direction of the diameter in a round duct [deg]; None in a rectangular one.
        depth_m: insertion depth from the inner wall at the hole [m].
    """

    line: int
    point: int
    offset_m: float | None
    angle_deg: float | None
    depth_m: float


def lines_for_side_m(side_m: float) -> int:
    """Return how many log-Tchebycheff lines a side of a rectangular duct asks for.

        5 below 0.762 m (30 in.), 6 up to 0.9144 m (36 in.), 7 above

    Args:
        side_m: inner length of the side [m], 0.05 to 20.

    Raises:
        OutOfRange: the side lies outside.

    Source: ISO 3966 and ASHRAE 111 as read in two reprints.

    Example:
        >>> lines_for_side_m(0.7112), lines_for_side_m(1.016)
        (5, 7)
    """
    side = within("side of the duct", side_m, 0.05, 20.0, "m").item()
    if side < _SIX_LINES_FROM_M - 1e-9:
        return 5
    return 6 if side <= _SEVEN_LINES_ABOVE_M + 1e-9 else 7


def log_tchebycheff(lines: int) -> tuple[float, ...]:
    """Return the log-Tchebycheff positions as fractions of the side, from the wall.

    The side is cut into equal cells, one per line. In each outer cell the point stands where a logarithmic wall
    profile has its mean, at 1/e of the cell; the inner points are the equal-weight Chebyshev abscissae of what
    lies between. This gives the printed table to all of its digits.

    Args:
        lines: number of lines [-]: 5, 6 or 7.

    Raises:
        ValueError: another number of lines.

    Source: ISO 3966 and ASHRAE 111 tables as read in two reprints; the derivation is ours.

    Example:
        >>> [round(fraction, 3) for fraction in log_tchebycheff(5)]
        [0.074, 0.288, 0.5, 0.712, 0.926]
    """
    if lines not in _CHEBYSHEV:
        raise ValueError(f"log-Tchebycheff has 5, 6 or 7 lines, not {lines}")
    outer = 1.0 / (lines * math.e)
    half_width = 0.5 - 1.0 / lines
    return (outer, *(0.5 + half_width * node for node in _CHEBYSHEV[lines]), 1.0 - outer)


def log_linear(points_per_diameter: int) -> tuple[float, ...]:
    """Return the log-linear positions in a round duct as fractions of the diameter, from the wall.

    Args:
        points_per_diameter: number of points on a whole diameter [-]: 6, 8 or 10.

    Raises:
        ValueError: another number of points.

    Source: ISO 3966 (radii from memory; the fractions agree with reprints, and each set has a mean of
    ln(1 - r/R) of -1.50).

    Example:
        >>> [round(fraction, 3) for fraction in log_linear(6)]
        [0.032, 0.135, 0.321, 0.679, 0.865, 0.968]
    """
    if points_per_diameter not in _LOG_LINEAR_RADII:
        raise ValueError(f"log-linear has 6, 8 or 10 points on a diameter, not {points_per_diameter}")
    return _along_diameter(_LOG_LINEAR_RADII[points_per_diameter])


def equal_area_round(points_per_diameter: int) -> tuple[float, ...]:
    """Return the equal-area positions in a round duct as fractions of the diameter, from the wall.

        r_i / R = sqrt((2 i - 1) / (2 n)),  n rings, 2 n points on a diameter

    Args:
        points_per_diameter: number of points on a whole diameter [-], even, 2 to 40.

    Raises:
        ValueError: the number is odd or lies outside.

    Source: EPA Method 1 and common practice (geometry: rings of equal area).

    Example:
        >>> [round(fraction, 4) for fraction in equal_area_round(10)[:5]]
        [0.0257, 0.0817, 0.1464, 0.2261, 0.3419]
    """
    if points_per_diameter % 2 or not 2 <= points_per_diameter <= 40:
        raise ValueError(f"equal area needs an even number of points, 2 to 40, not {points_per_diameter}")
    rings = points_per_diameter // 2
    return _along_diameter(tuple(math.sqrt((2 * ring - 1) / (2 * rings)) for ring in range(1, rings + 1)))


def equal_area_rectangular(points: int) -> tuple[float, ...]:
    """Return the centres of equal cells along a side, as fractions of the side.

        (2 i - 1) / (2 n)

    Args:
        points: number of cells along the side n [-], 1 to 100.

    Raises:
        ValueError: the number lies outside.

    Source: common practice, no source.

    Example:
        >>> equal_area_rectangular(4)
        (0.125, 0.375, 0.625, 0.875)
    """
    if not 1 <= points <= 100:
        raise ValueError(f"equal area has 1 to 100 cells along a side, not {points}")
    return tuple((2 * cell - 1) / (2 * points) for cell in range(1, points + 1))


def positions(
    *,
    rule: GridRule | str,
    width_m: float | None = None,
    height_m: float | None = None,
    diameter_m: float | None = None,
    points_per_line: int | None = None,
    lines: int | None = None,
) -> tuple[Position, ...]:
    """Return every point of a traverse of a duct, hole by hole, with its insertion depth.

    In a rectangular duct the holes stand in a wall along the width and the probe goes in along the height.
    In a round duct the lines are diameters, evenly turned.

    Args:
        rule: log-Tchebycheff (rectangular), log-linear (round), or equal-area (both).
        width_m: inner side along which the holes stand [m].
        height_m: inner side along which the probe goes in [m].
        diameter_m: inner diameter of a round duct [m].
        points_per_line: points on each line [-]; by default what the rule asks for (10 on a diameter).
        lines: lines, or diameters [-]; by default what the rule asks for (2 diameters).

    Raises:
        ValueError: the rule does not fit the shape, or the shape is not given.
        OutOfRange: a side lies outside 0.05 to 20 m.

    Source: as for `log_tchebycheff`, `log_linear`, `equal_area_round` and `equal_area_rectangular`; cells of
    at most 150 mm and at least 16 points for equal-area (read in a general reprint).

    Example:
        >>> points = positions(rule="log_tchebycheff", width_m=0.7112, height_m=1.016)
        >>> len(points), round(points[0].offset_m, 3), round(points[0].depth_m, 3)
        (35, 0.052, 0.053)
    """
    grid = GridRule(rule)
    if diameter_m is not None and width_m is None and height_m is None:
        return _round_positions(grid, diameter_m, points_per_line or 10, lines or 2)
    if diameter_m is None and width_m is not None and height_m is not None:
        across = _side_fractions(grid, width_m, lines)
        along = _side_fractions(grid, height_m, points_per_line)
        return tuple(
            Position(line, point, offset * width_m, None, depth * height_m)
            for line, offset in enumerate(across, start=1)
            for point, depth in enumerate(along, start=1)
        )
    raise ValueError("give either diameter_m, or both width_m and height_m")


def velocity_m_s(
    *,
    velocity_pressure_pa: FloatOrArray,
    density_kg_m3: FloatOrArray,
    probe_coefficient: FloatOrArray = 1.0,
) -> FloatOrArray:
    """Return the velocity of air from its velocity pressure.

        v = C sqrt(2 p_v / rho);  a negative reading counts as zero

    Args:
        velocity_pressure_pa: velocity pressure p_v [Pa], -5000 to 5000.
        density_kg_m3: density of the air at the plane rho [kg/m3], 0.3 to 3.
        probe_coefficient: coefficient of the probe C [-], 0.5 to 1.2; 1 for a standard Pitot-static tube.

    Raises:
        OutOfRange: an argument lies outside.

    Source: Bernoulli; ISO 3966. Negative readings as in the open fan field-test library of the US DOE.

    Example:
        >>> round(velocity_m_s(velocity_pressure_pa=100.0, density_kg_m3=1.2), 5)
        12.90994
    """
    pressure = within("velocity pressure", velocity_pressure_pa, *VELOCITY_PRESSURE_RANGE_PA, "Pa")
    density = within("density", density_kg_m3, *DENSITY_RANGE_KG_M3, "kg/m3")
    coefficient = within("probe coefficient", probe_coefficient, 0.5, 1.2, "")
    return plain(coefficient * np.sqrt(2.0 * np.maximum(pressure, 0.0) / density))


def average_velocity_m_s(
    *,
    velocity_pressures_pa: FloatOrArray,
    density_kg_m3: FloatOrArray,
    probe_coefficient: FloatOrArray = 1.0,
    weights: FloatOrArray | None = None,
) -> FloatOrArray:
    """Return the average velocity of a plane: the mean of the velocities of its points.

        v = mean(C sqrt(2 p_v,i / rho));  a negative reading counts as zero and stays in the divisor

    Args:
        velocity_pressures_pa: velocity pressure of each point [Pa], points along the last axis; -5000 to 5000.
        density_kg_m3: density at the plane [kg/m3], 0.3 to 3; a number, or one for each plane.
        probe_coefficient: coefficient of the probe [-], 0.5 to 1.2.
        weights: share of the area that each point stands for [any]; equal by default.

    Raises:
        OutOfRange: an argument lies outside.
        ValueError: there is no point.

    Source: ISO 3966; ASHRAE 111 (from memory).

    Example:
        >>> from commissioning.engineering.units import from_si, to_si
        >>> readings = to_si(np.array([0.16, 0.25, 0.36]), "in_wc")
        >>> v = average_velocity_m_s(velocity_pressures_pa=readings, density_kg_m3=1.2013848)
        >>> round(from_si(v, "fpm"))
        2004
    """
    pressures = np.atleast_1d(np.asarray(velocity_pressures_pa, dtype=np.float64))
    if pressures.shape[-1] == 0:
        raise ValueError("a traverse needs at least one point")
    per_plane = [np.asarray(value, dtype=np.float64) for value in (density_kg_m3, probe_coefficient)]
    density, coefficient = (value[..., None] if value.ndim else value for value in per_plane)
    velocity = velocity_m_s(velocity_pressure_pa=pressures, density_kg_m3=density, probe_coefficient=coefficient)
    if weights is None:
        return plain(np.mean(velocity, axis=-1))
    share = np.broadcast_to(within("weight", weights, 0.0, np.inf, ""), pressures.shape)
    return plain(np.sum(velocity * share, axis=-1) / np.sum(share, axis=-1))


def _along_diameter(radii: tuple[float, ...]) -> tuple[float, ...]:
    near = tuple(0.5 * (1.0 - radius) for radius in reversed(radii))
    return (*near, *(1.0 - fraction for fraction in reversed(near)))


def _side_fractions(grid: GridRule, side_m: float, number: int | None) -> tuple[float, ...]:
    recommended = lines_for_side_m(side_m)
    if grid is GridRule.LOG_TCHEBYCHEFF:
        return log_tchebycheff(number or recommended)
    if grid is GridRule.EQUAL_AREA:
        return equal_area_rectangular(number or max(4, math.ceil(side_m / _LARGEST_CELL_M - 1e-9)))
    raise ValueError("log-linear positions are for a round duct")


def _round_positions(
    grid: GridRule, diameter_m: float, points_per_diameter: int, diameters: int
) -> tuple[Position, ...]:
    diameter = within("diameter of the duct", diameter_m, 0.05, 20.0, "m").item()
    if grid is GridRule.LOG_TCHEBYCHEFF:
        raise ValueError("log-Tchebycheff positions are for a rectangular duct")
    fractions = log_linear if grid is GridRule.LOG_LINEAR else equal_area_round
    return tuple(
        Position(line, point, None, 180.0 * (line - 1) / diameters, fraction * diameter)
        for line in range(1, diameters + 1)
        for point, fraction in enumerate(fractions(points_per_diameter), start=1)
    )


def point_velocities_m_s(
    *,
    velocity_pressures_pa: FloatOrArray,
    density_kg_m3: float,
    probe_coefficient: float = 1.0,
) -> FloatArray:
    """Return the velocity at every point of one plane, for the working that is shown.

        v_i = C sqrt(2 p_v,i / rho)

    Args:
        velocity_pressures_pa: velocity pressure of each point [Pa], -5000 to 5000.
        density_kg_m3: density at the plane [kg/m3], 0.3 to 3.
        probe_coefficient: coefficient of the probe [-], 0.5 to 1.2.

    Raises:
        OutOfRange: an argument lies outside.

    Source: Bernoulli; ISO 3966.

    Example:
        >>> point_velocities_m_s(velocity_pressures_pa=np.array([60.0, -5.0]), density_kg_m3=1.2).tolist()
        [10.0, 0.0]
    """
    return np.atleast_1d(
        velocity_m_s(
            velocity_pressure_pa=velocity_pressures_pa,
            density_kg_m3=density_kg_m3,
            probe_coefficient=probe_coefficient,
        )
    )
