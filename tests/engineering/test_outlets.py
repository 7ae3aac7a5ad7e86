"""Outlets: the key one, what a sum of them is worth, and leakage as a difference."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from commissioning.engineering.budget import Component, combine
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.outlets import Outlet, branch_ratio, duct_leakage, key_outlet, sum_components

BRANCH = [Outlet("D1", 0.10, 0.13), Outlet("D2", 0.20, 0.19), Outlet("D3", 0.10, 0.07), Outlet("D4", 0.05, 0.06)]


def test_key_outlet_is_the_least_favoured() -> None:
    assert key_outlet(BRANCH).name == "D3"
    assert branch_ratio(BRANCH) == pytest.approx(1.0)


def outlet(flow: float, scatter: float, hood: str = "H-1") -> list[Component]:
    return [Component("hood", 0.02 * flow, group=hood), Component("scatter", scatter)]


def test_a_sum_is_known_no_better_than_the_hood_that_read_it_all() -> None:
    """Against the package uncertainties, where one variable stands for the hood in all outlets."""
    flows, scatters = [0.1, 0.2, 0.05], [0.003, 0.004, 0.001]
    hood = ufloat(1.0, 0.02)
    truth = sum(flow * hood + ufloat(0.0, scatter) for flow, scatter in zip(flows, scatters, strict=True))
    found = combine(sum_components([(1.0, outlet(*one)) for one in zip(flows, scatters, strict=True)]))
    assert found.standard_uncertainty == pytest.approx(truth.std_dev)
    forty = combine(sum_components([(1.0, outlet(0.1, 0.0))] * 40))
    assert forty.standard_uncertainty == pytest.approx(0.02 * 4.0)


def test_in_a_difference_the_hoods_error_cancels_and_two_hoods_do_not() -> None:
    hood, other = ufloat(1.0, 0.02), ufloat(1.0, 0.02)
    same = combine(sum_components([(1.0, outlet(0.5, 0.003)), (-1.0, outlet(0.4, 0.004))]))
    apart = combine(sum_components([(1.0, outlet(0.5, 0.003)), (-1.0, outlet(0.4, 0.004, "H-2"))]))
    scatter = ufloat(0.0, 0.005)
    assert same.standard_uncertainty == pytest.approx((0.5 * hood - 0.4 * hood + scatter).std_dev)
    assert apart.standard_uncertainty == pytest.approx((0.5 * hood - 0.4 * other + scatter).std_dev)


def test_few_repeats_of_many_outlets_are_many_degrees_of_freedom() -> None:
    """Ten alike with 4 each: u^4 / sum(u_i^4 / 4) = 100 x 4 / 10 = 40."""
    parts = [(1.0, [Component("scatter", 0.01, degrees_of_freedom=4.0, kind="A")])] * 10
    (scatter,) = sum_components(parts)
    assert scatter.degrees_of_freedom == pytest.approx(40.0)
    assert scatter.contribution == pytest.approx(0.01 * math.sqrt(10.0))


def test_what_one_hood_read_has_the_least_degrees_of_freedom_among_its_readings() -> None:
    """2 + 3 = 5, all one error; of 8 and 20 degrees of freedom the careful choice is 8 (common practice, no source)."""
    parts = [
        (1.0, [Component("hood", size, degrees_of_freedom=freedom, group="H-1")])
        for size, freedom in ((2.0, 8.0), (3.0, 20.0))
    ]
    (hood,) = sum_components(parts)
    assert (hood.contribution, hood.degrees_of_freedom) == pytest.approx((5.0, 8.0))


sizes = st.lists(st.tuples(st.floats(0.01, 1.0), st.floats(0.0, 0.1)), min_size=1, max_size=12)


@given(sizes, st.randoms())
def test_the_order_of_the_outlets_does_not_matter_to_the_last_bit(
    given_sizes: list[tuple[float, float]], shuffle: random.Random
) -> None:
    parts = [(1.0, outlet(*one)) for one in given_sizes]
    mixed = list(parts)
    shuffle.shuffle(mixed)
    assert sum_components(mixed) == sum_components(parts)


@given(sizes)
def test_a_sum_of_sums_is_the_sum_of_its_parts(given_sizes: list[tuple[float, float]]) -> None:
    parts = [(1.0, outlet(*one)) for one in given_sizes]
    half = len(parts) // 2
    if half == 0:
        halves = [(1.0, sum_components(parts))]
    else:
        halves = [(1.0, sum_components(parts[:half])), (1.0, sum_components(parts[half:]))]
    whole, in_two = combine(sum_components(parts)), combine(sum_components(halves))
    assert in_two.standard_uncertainty == pytest.approx(whole.standard_uncertainty)


@pytest.mark.parametrize(("outlets", "certain"), [(0.8995, True), (0.9005, False)])
def test_a_leakage_is_certain_above_twice_its_uncertainty(outlets: float, certain: bool) -> None:
    """u = sqrt(0.03^2 + 0.04^2) = 0.05: 0.1005 is above 0.1, 0.0995 is not."""
    found = duct_leakage(
        port_airflow_m3_s=1.0,
        outlets_airflow_m3_s=outlets,
        port_standard_uncertainty_m3_s=0.03,
        outlets_standard_uncertainty_m3_s=0.04,
    )
    assert found.is_certain is certain


def test_leakage_is_told_only_when_it_is_certain() -> None:
    sure = duct_leakage(
        port_airflow_m3_s=1.0,
        outlets_airflow_m3_s=0.85,
        port_standard_uncertainty_m3_s=0.03,
        outlets_standard_uncertainty_m3_s=0.04,
    )
    assert (sure.airflow_m3_s, sure.relative) == pytest.approx((0.15, 0.15))
    assert sure.standard_uncertainty_m3_s == pytest.approx(0.05)
    assert sure.is_certain
    unsure = duct_leakage(
        port_airflow_m3_s=1.0,
        outlets_airflow_m3_s=0.95,
        port_standard_uncertainty_m3_s=0.03,
        outlets_standard_uncertainty_m3_s=0.04,
    )
    assert not unsure.is_certain


def test_one_hood_at_port_and_outlets_makes_a_small_leakage_certain() -> None:
    """All of both errors shared: u = |0.03 - 0.0285| = 0.0015 beside a leakage of 0.05."""
    shared = duct_leakage(
        port_airflow_m3_s=1.0,
        outlets_airflow_m3_s=0.95,
        port_standard_uncertainty_m3_s=0.03,
        outlets_standard_uncertainty_m3_s=0.0285,
        correlation=1.0,
    )
    assert shared.standard_uncertainty_m3_s == pytest.approx(0.0015)
    assert shared.is_certain


def test_refuses() -> None:
    with pytest.raises(ValueError, match="at least one outlet"):
        key_outlet([])
    with pytest.raises(ValueError, match="different names"):
        key_outlet([Outlet("D1", 0.1, 0.1), Outlet("D1", 0.1, 0.1)])
    with pytest.raises(OutOfRange, match="design airflow of D1 is 0 m3/s"):
        key_outlet([Outlet("D1", 0.0, 0.1)])
    with pytest.raises(ValueError, match="at least one result"):
        sum_components([])
