"""Where to put the probe, in the units of the reader's rule and down to its marks: numbers only, no sentences.

Any grid is accepted: `traverse.positions` lays out those with a rule, `cell_weights` weighs any other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

from commissioning.engineering.guards import within
from commissioning.engineering.traverse import GridRule, Position, positions
from commissioning.engineering.units import from_si, to_si


@dataclass(frozen=True, slots=True)
class LayoutLine:
    """One hole of a traverse.

    Attributes:
        line: its number, from 1.
        offset: from the duct's edge along the wall with the holes [the reader's unit]; None in a round duct.
        angle_deg: direction of the diameter in a round duct [deg]; None in a rectangular one.
        depths: how far to put the probe in, point by point, from the outside of the hole [the reader's unit].
    """

    line: int
    offset: float | None
    angle_deg: float | None
    depths: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class TraverseLayout:
    """Every hole and every depth of a traverse.

    Attributes:
        rule: how the points are laid out.
        unit: code of the reader's unit of length.
        points: number of points.
        lines: the holes, in order.
        largest_shift: farthest that rounding to the marks moved a point [the reader's unit].
    """

    rule: GridRule
    unit: str
    points: int
    lines: tuple[LayoutLine, ...]
    largest_shift: float


def traverse_layout(
    *,
    rule: GridRule | str,
    unit: str,
    width: float | None = None,
    height: float | None = None,
    diameter: float | None = None,
    wall: float = 0.0,
    mark: float | None = None,
    points_per_line: int | None = None,
    lines: int | None = None,
) -> TraverseLayout:
    """Return the holes and depths of a traverse in the reader's units, rounded to the marks of the probe.

    Args:
        rule: log-Tchebycheff (rectangular), log-linear (round), or equal-area (both).
        unit: code of a unit of length, such as 'in' or 'mm'.
        width: inner side along which the holes stand [the reader's unit].
        height: inner side along which the probe goes in [the reader's unit].
        diameter: inner diameter of a round duct [the reader's unit].
        wall: from the outside of the hole to the inner wall: sheet and lining [the reader's unit], 0 or more.
        mark: smallest mark on the probe and the rule [the reader's unit]; None leaves the numbers as they are.
        points_per_line: points on each line [-]; by default what the rule asks for.
        lines: lines, or diameters [-]; by default what the rule asks for.

    Raises:
        UnknownUnit: the code is not one of the table.
        WrongQuantity: the unit is not one of length.
        ValueError: the rule does not fit the shape, or the shape is not given.
        OutOfRange: a length lies outside, or a mark is so coarse that two points fall together.

    Source: as for `traverse.positions`.

    Example:
        >>> layout = traverse_layout(rule="log_tchebycheff", unit="in", width=20.0, height=16.0, mark=0.125)
        >>> layout.points, layout.lines[0].offset, layout.lines[0].depths
        (25, 1.5, (1.125, 4.625, 8.0, 11.375, 14.875))
    """

    def in_m(length: float | None) -> float | None:
        return None if length is None else float(to_si(length, unit, quantity="length"))

    found = positions(
        rule=rule,
        width_m=in_m(width),
        height_m=in_m(height),
        diameter_m=in_m(diameter),
        points_per_line=points_per_line,
        lines=lines,
    )
    sheet = within("wall", wall, 0.0, float(from_si(1.0, unit)), unit).item()
    step = None if mark is None else within("mark", mark, 1e-9, float(from_si(0.1, unit)), unit).item()
    shifts = [0.0]

    def marked(length: float) -> float:
        if step is None:
            return length
        shifts.append(abs(round(length / step) * step - length))
        return round(length / step) * step

    def line_of(number: int, points: Sequence[Position]) -> LayoutLine:
        depths = tuple(marked(sheet + float(from_si(point.depth_m, unit))) for point in points)
        for first, second in pairwise(depths):
            within("distance of two points at this mark", second - first, 1e-9, 1e9, unit)
        edge = points[0].offset_m
        return LayoutLine(
            number, None if edge is None else marked(float(from_si(edge, unit))), points[0].angle_deg, depths
        )

    holes = tuple(line_of(number, list(points)) for number, points in groupby(found, key=lambda point: point.line))
    return TraverseLayout(GridRule(rule), unit, len(found), holes, max(shifts))


def cell_weights(*, fractions: Sequence[float]) -> tuple[float, ...]:
    """Return the share of a side that each point of any grid stands for: what lies nearer to it than to the others.

    For a rectangular grid multiply those of the two sides, and give the product to `average_velocity_m_s`.

    Args:
        fractions: positions as fractions of the side from one wall, rising [-], above 0 to below 1.

    Raises:
        OutOfRange: a fraction lies outside, or does not rise.

    Source: geometry; common practice, no source.

    Example:
        >>> cell_weights(fractions=(0.25, 0.5, 0.75))
        (0.375, 0.25, 0.375)
    """
    inner = [within("fraction", fraction, 1e-9, 1.0 - 1e-9, "").item() for fraction in fractions]
    for first, second in pairwise(inner):
        within("fraction", second, first + 1e-9, 1.0, "")
    edges = [0.0, *(0.5 * (first + second) for first, second in pairwise(inner)), 1.0]
    return tuple(after - before for before, after in pairwise(edges))
