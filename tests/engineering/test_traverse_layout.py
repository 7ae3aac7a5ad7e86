"""Layouts in the reader's units against the published fractions, and the weights of any grid."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.traverse import average_velocity_m_s, equal_area_rectangular
from commissioning.engineering.traverse_layout import cell_weights, traverse_layout
from commissioning.engineering.units import UnknownUnit, WrongQuantity
from tests.engineering.reference_rows import hold, rows


def test_a_rectangular_duct_in_inches_is_the_published_fractions_times_the_side() -> None:
    """T2.24: 28 x 40 in. asks for 5 x 7; T2.09 and T2.10 have the fractions."""
    layout = traverse_layout(rule="log_tchebycheff", unit="in", width=28.0, height=40.0)
    hold(rows("traverse")["T2.24"], layout.points)
    hold(rows("traverse")["T2.09"], [line.offset / 28.0 for line in layout.lines if line.offset is not None])
    for line in layout.lines:
        hold(rows("traverse")["T2.10"], [depth / 40.0 for depth in line.depths])
    assert [line.line for line in layout.lines] == [1, 2, 3, 4, 5]
    assert all(line.angle_deg is None for line in layout.lines)


def test_a_round_duct_in_millimetres() -> None:
    """T2.12 times 400 mm, on two diameters at right angles."""
    layout = traverse_layout(rule="log_linear", unit="mm", diameter=400.0)
    for line in layout.lines:
        hold(rows("traverse")["T2.12"], [depth / 400.0 for depth in line.depths])
    assert [(line.offset, line.angle_deg) for line in layout.lines] == [(None, 0.0), (None, 90.0)]


@given(st.floats(6.0, 100.0), st.floats(6.0, 100.0))
def test_inches_and_millimetres_are_the_same_holes(width: float, height: float) -> None:
    inches = traverse_layout(rule="equal_area", unit="in", width=width, height=height)
    metric = traverse_layout(rule="equal_area", unit="mm", width=25.4 * width, height=25.4 * height)
    assert inches.points == metric.points
    for one, other in zip(inches.lines, metric.lines, strict=True):
        assert other.offset == pytest.approx(25.4 * (one.offset or 0.0))
        assert list(other.depths) == pytest.approx([25.4 * depth for depth in one.depths])


def test_the_wall_is_added_to_every_depth_and_to_no_offset() -> None:
    bare = traverse_layout(rule="log_tchebycheff", unit="mm", width=500.0, height=400.0)
    lined = traverse_layout(rule="log_tchebycheff", unit="mm", width=500.0, height=400.0, wall=26.0)
    for one, other in zip(bare.lines, lined.lines, strict=True):
        assert one.offset == other.offset
        assert list(other.depths) == pytest.approx([depth + 26.0 for depth in one.depths])


@given(st.floats(8.0, 60.0), st.sampled_from([1.0 / 16.0, 0.125]))
def test_marks_move_a_point_by_half_a_mark_at_most(side: float, mark: float) -> None:
    exact = traverse_layout(rule="log_tchebycheff", unit="in", width=side, height=side)
    marked = traverse_layout(rule="log_tchebycheff", unit="in", width=side, height=side, mark=mark)
    depths, rounded = (np.array(layout.lines[0].depths) for layout in (exact, marked))
    assert np.rint(rounded / mark) * mark == pytest.approx(rounded, abs=1e-12)
    assert np.max(np.abs(depths - rounded)) <= marked.largest_shift <= 0.5 * mark + 1e-9
    assert exact.largest_shift == 0.0


def test_a_line_may_have_a_single_point() -> None:
    """300 mm in four: lines at 37.5, 112.5, 187.5 and 262.5 mm, and the one point of each halfway in."""
    layout = traverse_layout(rule="equal_area", unit="mm", width=300.0, height=300.0, points_per_line=1)
    assert [line.offset for line in layout.lines] == pytest.approx([37.5, 112.5, 187.5, 262.5])
    assert [list(line.depths) for line in layout.lines] == [pytest.approx([150.0])] * 4


def test_a_layout_holds_numbers_and_codes_only() -> None:
    layout = traverse_layout(rule="log_linear", unit="mm", diameter=400.0, lines=3, points_per_line=6)
    words = [value for value in (layout.rule.value, layout.unit) if " " in value]
    assert words == []
    assert layout.points == 18 == sum(len(line.depths) for line in layout.lines)
    assert [line.angle_deg for line in layout.lines] == pytest.approx([0.0, 60.0, 120.0])


def test_cell_weights_as_worked_by_hand() -> None:
    """Points at 0.1, 0.4, 0.8: edges halfway at 0.25 and 0.6, so cells of 0.25, 0.35 and 0.4."""
    assert cell_weights(fractions=(0.1, 0.4, 0.8)) == pytest.approx((0.25, 0.35, 0.4))
    assert cell_weights(fractions=equal_area_rectangular(6)) == pytest.approx([1 / 6] * 6)
    assert cell_weights(fractions=(0.3,)) == (1.0,)


@given(st.lists(st.floats(0.01, 0.99), min_size=1, max_size=9, unique_by=lambda value: round(value, 3)))
def test_cell_weights_make_the_whole_side(fractions: list[float]) -> None:
    weights = cell_weights(fractions=sorted(fractions))
    assert sum(weights) == pytest.approx(1.0)
    assert min(weights) > 0.0


def test_an_uneven_grid_is_mended_by_its_weights() -> None:
    """A velocity that rises straight from 2 to 10 m/s has the mean 6; points crowded at one wall miss it unweighted."""
    fractions = (0.02, 0.06, 0.10, 0.14, 0.5, 0.9)
    pressures = 0.6 * (2.0 + 8.0 * np.array(fractions)) ** 2
    bare = float(average_velocity_m_s(velocity_pressures_pa=pressures, density_kg_m3=1.2))
    weighted = float(
        average_velocity_m_s(
            velocity_pressures_pa=pressures, density_kg_m3=1.2, weights=np.array(cell_weights(fractions=fractions))
        )
    )
    assert abs(bare - 6.0) > 1.5
    assert abs(weighted - 6.0) < 0.2


@pytest.mark.parametrize(
    ("arguments", "error", "message"),
    [
        ({"unit": "furlong"}, UnknownUnit, "furlong"),
        ({"unit": "Pa"}, WrongQuantity, "Pa"),
        ({"wall": -1.0}, OutOfRange, "wall is -1 mm"),
        ({"mark": 90.0}, OutOfRange, "distance of two points at this mark is 0"),
        ({"mark": 0.0}, OutOfRange, "mark is 0 mm"),
        ({"height": None}, ValueError, "give either diameter_m, or both"),
        ({"rule": "log_linear"}, ValueError, "for a round duct"),
        ({"width": 0.5}, OutOfRange, "side of the duct"),
    ],
)
def test_refuses(arguments: dict[str, Any], error: type[Exception], message: str) -> None:
    good: dict[str, Any] = {"rule": "log_tchebycheff", "unit": "mm", "width": 300.0, "height": 300.0}
    with pytest.raises(error, match=message):
        traverse_layout(**(good | arguments))


def test_weights_refuse() -> None:
    with pytest.raises(OutOfRange, match="fraction is 0"):
        cell_weights(fractions=(0.0, 0.5))
    with pytest.raises(OutOfRange, match=r"fraction is 0\.4"):
        cell_weights(fractions=(0.5, 0.4))
