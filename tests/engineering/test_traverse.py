"""Traverse positions, averages and quality against the published rows and against analytic profiles."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.traverse import (
    GridRule,
    average_velocity_m_s,
    equal_area_rectangular,
    equal_area_round,
    lines_for_side_m,
    log_linear,
    log_tchebycheff,
    point_velocities_m_s,
    positions,
    traverse_quality,
    velocity_m_s,
)
from commissioning.engineering.units import from_si, to_si
from tests.engineering.reference_rows import Row, hold, parameters

# Inlet-box traverse of a large fan, US DOE (ORNL) open fan field-test data, in. w.g. as read with an S-type
# probe of squared coefficient 0.762; the second plane is that of the other box.
PLANE_A = np.array(
    [
        [0.701, 0.703, 0.6675, 0.815, 0.979, 1.09, 1.155, 1.320, 1.578, 2.130],
        [0.690, 0.648, 0.555, 0.760, 0.988, 1.060, 1.100, 1.110, 1.458, 1.865],
        [0.691, 0.621, 0.610, 0.774, 0.747, 0.835, 0.8825, 1.23, 1.210, 1.569],
    ]
)
PLANE_B = np.array(
    [
        [0.662, 0.568, 0.546, 0.564, 0.463, 0.507, 0.865, 1.017, 1.247, 1.630],
        [0.639, 0.542, 0.530, 0.570, 0.603, 0.750, 0.965, 1.014, 1.246, 1.596],
        [0.554, 0.452, 0.453, 0.581, 0.551, 0.724, 0.844, 1.077, 1.323, 1.620],
    ]
)
AREA_FT2 = 143.63 * 32.63 / 144.0
POOR = np.array([0.02, 0.01, 0.005, 0.0, 0.0, 0.15, 0.30, 0.5, 0.9, 1.0])


def ip_velocity(readings: Any, density_lb_ft3: float, constant: float, coefficient: float = 1.0) -> float:
    """Mean velocity [fpm] with a handbook's constant, which fixes its inch of water."""
    inch_pa = (constant * 0.00508) ** 2 * 16.018463373960138 / 2.0
    velocity = average_velocity_m_s(
        velocity_pressures_pa=to_si(readings, "in_wc", inch_of_water_pa=inch_pa),
        density_kg_m3=to_si(density_lb_ft3, "lb/ft3"),
        probe_coefficient=coefficient,
    )
    return float(from_si(velocity, "fpm"))


def constant(inch_pa: float) -> float:
    one = velocity_m_s(
        velocity_pressure_pa=to_si(1.0, "in_wc", inch_of_water_pa=inch_pa),
        density_kg_m3=to_si(0.075, "lb/ft3"),
    )
    return float(from_si(one, "fpm")) * math.sqrt(0.075)


def box_flow(plane: Any, static_pressure_in: float) -> float:
    """Actual flow of one inlet box [cfm]; density from that of the other plane by absolute pressure."""
    density: float = 0.0547 * (26.57 + static_pressure_in / 13.6) / (26.57 - 17.6 / 13.6)
    velocity = ip_velocity(plane.ravel(), density, 1096.0, 0.762**0.5)
    return AREA_FT2 * velocity


def power_law_error(fractions: tuple[float, ...], *, round_duct: bool) -> float:
    """Error [%] of the averaged velocity of a 1/7 power-law profile in a round duct, or in a square one."""
    walls = np.minimum(fractions, 1.0 - np.asarray(fractions)) * 2.0
    if round_duct:
        return 100.0 * (float(np.mean(walls ** (1 / 7))) / (98.0 / 120.0) - 1.0)
    profile = np.outer(walls ** (1 / 7), walls ** (1 / 7))
    return 100.0 * (float(np.mean(profile)) / (7 / 8) ** 2 - 1.0)


STANDARD_4005 = (4005.0 / 1096.7) ** -2
CHECKS = {
    "T2.01": lambda: velocity_m_s(velocity_pressure_pa=100.0, density_kg_m3=1.2),
    "T2.02": lambda: ip_velocity(0.25, STANDARD_4005, 1096.7),
    "T2.03": lambda: ip_velocity(1.0, 0.075, 1096.7),
    "T2.04": lambda: constant(248.64),
    "T2.05": lambda: constant(249.0889),
    "T2.06": lambda: ip_velocity(0.10, 0.0622, 1096.7),
    "T2.07": lambda: ip_velocity(np.array([0.16, 0.25, 0.36]), STANDARD_4005, 1096.7),
    "T2.08": lambda: ip_velocity(np.mean([0.16, 0.25, 0.36]), STANDARD_4005, 1096.7),
    "T2.09": lambda: log_tchebycheff(5),
    "T2.10": lambda: log_tchebycheff(7),
    "T2.11": lambda: log_linear(6),
    "T2.12": lambda: log_linear(10),
    "T2.13": lambda: equal_area_round(10)[:5],
    "T2.15": lambda: power_law_error(log_linear(6), round_duct=True),
    "T2.16": lambda: power_law_error(log_linear(8), round_duct=True),
    "T2.17": lambda: power_law_error(equal_area_round(10), round_duct=True),
    "T2.18": lambda: power_law_error(log_tchebycheff(5), round_duct=False),
    "T2.19": lambda: (ip_velocity(PLANE_A.ravel(), 0.075, 1096.0, 0.762**0.5) / 1096.0) ** 2 * 0.075,
    "T2.20": lambda: 32.5462 * ip_velocity(PLANE_A.ravel(), 0.05462, 1096.0, 0.762**0.5),
    "T2.21": lambda: box_flow(PLANE_A, -18.1) + box_flow(PLANE_B, -17.0),
    "T2.22": lambda: traverse_quality(velocity_pressures_pa=PLANE_A).share_above_tenth_of_max,
    "T2.23": lambda: traverse_quality(velocity_pressures_pa=POOR).share_above_tenth_of_max,
    "T2.24": lambda: len(
        positions(rule="log_tchebycheff", width_m=to_si(28.0, "in"), height_m=to_si(40.0, "in"))  # type: ignore[arg-type]
    ),
}


@pytest.mark.parametrize(("row", "check"), parameters("traverse", CHECKS, elsewhere=["T2.14"]))
def test_published(row: Row, check: Callable[[], Any]) -> None:
    hold(row, check())


def test_mean_over_centre_velocity_of_the_power_law_profile() -> None:
    """T2.14 is the truth against which T2.15 to T2.17 are held: 98/120, found here by fine rings."""
    many = np.asarray(equal_area_round(40))
    rings = np.asarray([1.0 - 2.0 * fraction for fraction in many[:20]])
    coarse = float(np.mean((1.0 - rings) ** (1 / 7)))
    assert coarse == pytest.approx(98.0 / 120.0, rel=3e-3)


@pytest.mark.parametrize(("lines", "printed"), [(6, [0.061, 0.235, 0.437, 0.563, 0.765, 0.939])])
def test_six_lines_as_printed(lines: int, printed: list[float]) -> None:
    assert [round(fraction, 3) for fraction in log_tchebycheff(lines)] == pytest.approx(printed, abs=0.00051)


@pytest.mark.parametrize("points", [6, 8, 10])
def test_log_linear_sets_have_the_same_mean_wall_logarithm(points: int) -> None:
    wall = 2.0 * np.asarray(log_linear(points)[: points // 2])
    assert np.mean(np.log(wall)) == pytest.approx(-1.50, abs=0.01)


@pytest.mark.parametrize(
    "fractions", [*map(log_tchebycheff, (5, 6, 7)), *map(log_linear, (6, 8, 10)), equal_area_rectangular(6)]
)
def test_positions_are_symmetric_and_in_order(fractions: tuple[float, ...]) -> None:
    assert list(fractions) == sorted(fractions)
    assert [1.0 - fraction for fraction in reversed(fractions)] == pytest.approx(list(fractions))
    assert fractions[0] > 0.0


@given(st.lists(st.floats(0.0, 2000.0), min_size=1, max_size=40), st.floats(0.8, 1.3))
def test_averaging_pressures_never_reads_lower(readings: list[float], density: float) -> None:
    right = average_velocity_m_s(velocity_pressures_pa=np.array(readings), density_kg_m3=density)
    wrong = velocity_m_s(velocity_pressure_pa=float(np.mean(readings)), density_kg_m3=density)
    assert wrong >= right * (1.0 - 1e-12)


def test_a_negative_reading_counts_as_zero_and_stays_in_the_divisor() -> None:
    average = average_velocity_m_s(velocity_pressures_pa=np.array([60.0, -20.0]), density_kg_m3=1.2)
    assert average == pytest.approx(5.0)


def test_many_planes_at_once() -> None:
    planes = np.array([[60.0, 60.0], [0.0, 240.0]])
    found = average_velocity_m_s(velocity_pressures_pa=planes, density_kg_m3=np.array([1.2, 1.2]))
    assert found == pytest.approx(np.array([10.0, 10.0]))
    assert type(average_velocity_m_s(velocity_pressures_pa=planes[0], density_kg_m3=1.2)) is float
    single = average_velocity_m_s(velocity_pressures_pa=60.0, density_kg_m3=1.2)
    assert single == pytest.approx(10.0)


def test_weights_are_shares_of_the_area() -> None:
    found = average_velocity_m_s(
        velocity_pressures_pa=np.array([60.0, 0.0]), density_kg_m3=1.2, weights=np.array([3.0, 1.0])
    )
    assert found == pytest.approx(7.5)


def test_point_velocities_keep_the_order() -> None:
    found = point_velocities_m_s(
        velocity_pressures_pa=np.array([60.0, 15.0]), density_kg_m3=1.2, probe_coefficient=0.84
    )
    assert found.tolist() == pytest.approx([8.4, 4.2])


@pytest.mark.parametrize(("side_in", "lines"), [(29.9, 5), (30.0, 6), (36.0, 6), (36.1, 7), (12.0, 5), (80.0, 7)])
def test_lines_for_a_side(side_in: float, lines: int) -> None:
    assert lines_for_side_m(float(to_si(side_in, "in"))) == lines


def test_rectangular_positions() -> None:
    points = positions(rule=GridRule.LOG_TCHEBYCHEFF, width_m=0.5, height_m=0.8)
    assert len(points) == 5 * 6
    assert {point.line for point in points} == {1, 2, 3, 4, 5}
    assert points[6].line == 2
    assert points[6].offset_m == pytest.approx(0.5 * log_tchebycheff(5)[1])
    assert points[7].depth_m == pytest.approx(0.8 * log_tchebycheff(6)[1])
    assert all(point.angle_deg is None for point in points)


def test_equal_area_cells_are_at_most_150_mm_and_16_at_least() -> None:
    small = positions(rule="equal_area", width_m=0.3, height_m=0.3)
    assert len(small) == 16
    large = positions(rule="equal_area", width_m=1.5, height_m=0.62)
    assert len(large) == 10 * 5
    assert large[1].depth_m - large[0].depth_m == pytest.approx(0.62 / 5)


def test_round_positions() -> None:
    points = positions(rule="log_linear", diameter_m=0.4, points_per_line=8, lines=3)
    assert len(points) == 24
    assert [points[index].angle_deg for index in (0, 8, 16)] == pytest.approx([0.0, 60.0, 120.0])
    assert points[0].depth_m == pytest.approx(0.4 * log_linear(8)[0])
    assert all(point.offset_m is None for point in points)
    assert len(positions(rule="equal_area", diameter_m=0.4)) == 20


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"rule": "log_linear", "width_m": 1.0, "height_m": 1.0}, "for a round duct"),
        ({"rule": "log_tchebycheff", "diameter_m": 1.0}, "for a rectangular duct"),
        ({"rule": "equal_area", "width_m": 1.0}, "give either diameter_m, or both"),
        ({"rule": "equal_area", "width_m": 1.0, "height_m": 1.0, "diameter_m": 1.0}, "give either"),
        ({"rule": "spiral", "diameter_m": 1.0}, "spiral"),
        ({"rule": "log_linear", "diameter_m": 1.0, "points_per_line": 7}, "6, 8 or 10"),
        ({"rule": "log_tchebycheff", "width_m": 1.0, "height_m": 1.0, "lines": 4}, "5, 6 or 7"),
        ({"rule": "equal_area", "diameter_m": 1.0, "points_per_line": 5}, "even number"),
        ({"rule": "equal_area", "width_m": 1.0, "height_m": 1.0, "lines": 101}, "1 to 100"),
        ({"rule": "equal_area", "width_m": 1000.0, "height_m": 1.0}, "side of the duct is 1000 m"),
    ],
)
def test_positions_refuse(arguments: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        positions(**arguments)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"velocity_pressure_pa": 1e5}, "velocity pressure is 100000 Pa"),
        ({"density_kg_m3": 0.075}, "density is 0.075 kg/m3"),
        ({"probe_coefficient": 87.0}, "probe coefficient is 87"),
    ],
)
def test_velocity_refuses(arguments: dict[str, float], message: str) -> None:
    with pytest.raises(OutOfRange, match=message):
        velocity_m_s(**({"velocity_pressure_pa": 10.0, "density_kg_m3": 1.2} | arguments))


def test_no_points_is_no_traverse() -> None:
    with pytest.raises(ValueError, match="at least one point"):
        average_velocity_m_s(velocity_pressures_pa=np.array([]), density_kg_m3=1.2)
    with pytest.raises(ValueError, match="at least one point"):
        traverse_quality(velocity_pressures_pa=np.array([]))


GOOD: dict[str, Any] = {"straight_upstream_diameters": 8.0, "straight_downstream_diameters": 3.0}


@pytest.mark.parametrize(
    ("readings", "arguments", "codes"),
    [
        (np.full(25, 40.0), {}, []),
        (np.append(np.full(24, 40.0), -5.0), {}, ["reverse_flow"]),
        (np.append(np.full(24, 40.0), 400.0), {}, ["uneven", "skewed"]),
        (np.full(12, 40.0), {}, ["too_few_points"]),
        (np.full(25, 40.0), {"points": 35}, ["too_few_points"]),
        (np.append(np.full(24, 40.0), 4.9), {"resolution_pa": 5.0}, ["below_resolution"]),
        (np.full(25, 40.0), {"straight_upstream_diameters": 3.0}, ["short_upstream"]),
        (np.full(25, 40.0), {"straight_upstream_diameters": None}, ["straight_length_not_stated"]),
        (np.full(25, 40.0), {"straight_downstream_diameters": 1.0}, ["short_downstream"]),
        (np.full(25, 40.0), {"straight_downstream_diameters": None}, []),
    ],
)
def test_each_shortcoming_is_remarked_and_widens(readings: Any, arguments: dict[str, Any], codes: list[str]) -> None:
    quality = traverse_quality(velocity_pressures_pa=readings, **(GOOD | arguments))
    assert [remark.code for remark in quality.remarks] == codes
    assert (quality.relative_standard_uncertainty > 0.02) == bool(codes)
    assert all(remark.sentence for remark in quality.remarks)
    terms = [0.02, *(remark.relative_standard_uncertainty for remark in quality.remarks)]
    assert quality.relative_standard_uncertainty == pytest.approx(np.sqrt(np.sum(np.square(terms))))


def test_the_75_percent_rule_at_its_edge() -> None:
    edge = np.append(np.full(15, 100.0), np.full(5, 10.0))
    assert traverse_quality(velocity_pressures_pa=edge, **GOOD).passes_75_percent_rule
    under = np.append(np.full(14, 100.0), np.full(6, 10.0))
    quality = traverse_quality(velocity_pressures_pa=under, **GOOD)
    assert not quality.passes_75_percent_rule
    assert quality.share_above_tenth_of_max == pytest.approx(0.7)


def test_velocities_and_pressures_are_judged_alike() -> None:
    velocities = np.linspace(1.0, 9.0, 20)
    by_velocity = traverse_quality(velocities_m_s=velocities, **GOOD)
    by_pressure = traverse_quality(velocity_pressures_pa=0.6 * velocities**2, **GOOD)
    assert by_velocity.share_above_tenth_of_max == by_pressure.share_above_tenth_of_max == 0.75
    assert by_velocity.remarks == by_pressure.remarks
    assert by_velocity.max_to_mean == pytest.approx(by_pressure.max_to_mean)
    assert by_velocity.max_to_mean == pytest.approx(9.0 / 5.0)
    assert by_velocity.points_below_resolution is None


def test_no_flow_at_all() -> None:
    quality = traverse_quality(velocity_pressures_pa=np.zeros(20), resolution_pa=1.0, **GOOD)
    assert quality.share_above_tenth_of_max == 0.0
    assert quality.max_to_mean == float("inf")
    assert quality.points_below_resolution == 20


@given(st.floats(0.0, 7.4), st.floats(0.01, 5.0))
def test_a_shorter_straight_length_never_helps(upstream: float, more: float) -> None:
    readings = np.full(25, 40.0)
    near = traverse_quality(velocity_pressures_pa=readings, straight_upstream_diameters=upstream)
    far = traverse_quality(velocity_pressures_pa=readings, straight_upstream_diameters=upstream + more)
    assert far.relative_standard_uncertainty < near.relative_standard_uncertainty


def test_quality_refuses() -> None:
    with pytest.raises(ValueError, match="give either"):
        traverse_quality()
    with pytest.raises(ValueError, match="give either"):
        traverse_quality(velocity_pressures_pa=np.ones(3), velocities_m_s=np.ones(3))
    with pytest.raises(OutOfRange, match="straight duct before the plane is -1 D"):
        traverse_quality(velocity_pressures_pa=np.ones(20), straight_upstream_diameters=-1.0)
    with pytest.raises(OutOfRange, match="velocity pressure is nan Pa"):
        traverse_quality(velocity_pressures_pa=np.array([1.0, np.nan]))


def test_one_ring_is_the_least_and_twenty_are_the_most() -> None:
    """A ring's radius is √(1/2) R, so its points lie 0.5 (1 - √0.5) = 0.1464 D from either wall."""
    assert equal_area_round(2) == pytest.approx((0.5 - math.sqrt(0.125), 0.5 + math.sqrt(0.125)))
    assert len(equal_area_round(40)) == 40
    for points in (0, 42):
        with pytest.raises(ValueError, match="an even number of points, 2 to 40"):
            equal_area_round(points)


@pytest.mark.parametrize(
    ("readings", "arguments", "sizes"),
    [
        # Half lie above a tenth of the largest where 75 % should: 0.03 + 0.05 (0.75 - 0.5). The largest is at 10 times
        # the velocity of the lower half, so 10/5.5 of the mean, and not skewed.
        (np.append(np.full(10, 1.0), np.full(10, 100.0)), {}, {"uneven": 0.0425}),
        (np.append(np.full(24, 40.0), -5.0), {}, {"reverse_flow": 0.03}),
        (np.append(np.full(24, 40.0), 0.0), {}, {}),  # still air flows in no direction
        (np.append(np.full(19, 40.0), 399.0), {}, {"skewed": 0.03}),  # 40 is above a tenth of 399
        (np.append(np.full(19, 40.0), 401.0), {}, {"skewed": 0.03, "uneven": 0.03 + 0.05 * 0.70}),
        (np.full(12, 40.0), {}, {"too_few_points": 0.04 * (1.0 - 12.0 / 16.0)}),
        (np.append(np.full(24, 40.0), 4.9), {"resolution_pa": 5.0}, {"below_resolution": 0.05 / 25.0}),
        (np.full(25, 40.0), {"straight_upstream_diameters": None}, {"straight_length_not_stated": 0.015}),
        (np.full(25, 40.0), {"straight_upstream_diameters": 3.0}, {"short_upstream": 0.05 * (1.0 - 3.0 / 7.5)}),
        (np.full(25, 40.0), {"straight_downstream_diameters": 1.5}, {"short_downstream": 0.02 * (1.0 - 1.5 / 3.0)}),
    ],
)
def test_what_each_shortcoming_adds(readings: Any, arguments: dict[str, Any], sizes: dict[str, float]) -> None:
    """Sizes: common practice, no source; here by hand."""
    quality = traverse_quality(velocity_pressures_pa=readings, **(GOOD | arguments))
    found = {remark.code: remark.relative_standard_uncertainty for remark in quality.remarks}
    assert found == pytest.approx(sizes)
