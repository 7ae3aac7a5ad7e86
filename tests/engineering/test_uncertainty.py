"""Budgets against the GUM's examples, the published rows, scipy, the uncertainties library, and Monte Carlo."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import correlated_values, ufloat

from commissioning.engineering.conformity import Limits, assess, conformance_probability, false_acceptance_risk
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.uncertainty import (
    Budget,
    Component,
    Input,
    TooFewReadings,
    arcsine,
    certificate,
    combine,
    expanded,
    monte_carlo,
    normal_probability,
    normal_quantile,
    propagate,
    rectangular,
    resolution,
    t_quantile,
    triangular,
    type_a,
)
from tests.engineering.reference_rows import Row, hold, parameters

# GUM 4.4.3: twenty temperatures [degC], from memory; their mean, s and u agree with what the GUM prints.
GUM_TEMPERATURES = [
    *(96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07),
    *(100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72),
]


def end_gauge() -> Budget:
    """GUM H.1: length of an end gauge [nm], first order."""
    length_nm = 50_000_623.0
    return combine(
        [
            Component("standard", 25.0, degrees_of_freedom=18),
            Component("repeated observations", 5.8, degrees_of_freedom=24, kind="A"),
            Component("comparator, random", 3.9, degrees_of_freedom=5),
            Component("comparator, systematic", 6.7, degrees_of_freedom=8),
            Component("difference of expansion", 0.58e-6, length_nm * 0.1, 50),
            Component("difference of temperature", 0.029, length_nm * 11.5e-6, 2),
        ],
        coverage_probability=0.99,
    )


def cfm_example() -> Any:
    return assess(
        value=940.0,
        standard_uncertainty=28.2,
        expanded_uncertainty=60.0,
        limits=Limits(900.0, 1100.0),
        rule="guarded_acceptance",
    )


CHECKS = {
    "T5.01": lambda: rectangular(4.0),
    "T5.02": lambda: triangular(4.0),
    "T5.03": lambda: arcsine(0.5),
    "T5.04": lambda: type_a(GUM_TEMPERATURES).mean,
    "T5.05": lambda: type_a(GUM_TEMPERATURES).standard_deviation,
    "T5.06": lambda: type_a(GUM_TEMPERATURES).standard_uncertainty,
    "T5.07": lambda: end_gauge().standard_uncertainty,
    "T5.09": lambda: end_gauge().expanded_uncertainty,
    "T5.10": lambda: t_quantile(0.95, 4.0),
    "T5.11": lambda: conformance_probability(value=13.6, standard_uncertainty=1.8, limits=Limits(12.5, 16.3)),
    "T5.12": lambda: 1.0 - conformance_probability(value=10.0, standard_uncertainty=0.4, limits=Limits(9.0, 11.0)),
    "T5.13": lambda: normal_probability(-2.0),
    "T5.14": lambda: normal_quantile(0.95),
    "T5.15": lambda: conformance_probability(value=940.0, standard_uncertainty=28.2, limits=Limits(900.0, 1100.0)),
    "T5.16": lambda: (cfm_example().acceptance_low, cfm_example().acceptance_high),
    "T5.17": lambda: (
        100.0
        * false_acceptance_risk(
            limits=Limits(-normal_quantile(0.975), normal_quantile(0.975)),
            process_mean=0.0,
            process_standard_deviation=1.0,
            standard_uncertainty=0.25,
        )
    ),
    "T5.18": lambda: (
        combine(
            [
                Component("scatter", 62.0 / math.sqrt(25), kind="A", degrees_of_freedom=24),
                Component("instrument", float(rectangular(0.03 * 1180.0))),
            ]
        ).standard_uncertainty
    ),
    "T5.19": lambda: combine([Component("bias", 20.4), Component("scatter", 12.4)]).expanded_uncertainty,
}


@pytest.mark.parametrize(("row", "check"), parameters("uncertainty_and_conformity", CHECKS, elsewhere=["T5.08"]))
def test_published(row: Row, check: Callable[[], Any]) -> None:
    hold(row, check())


def test_effective_degrees_of_freedom_of_the_end_gauge_are_truncated_to_16() -> None:
    """T5.08: Welch-Satterthwaite gives 16.75; the GUM goes on with 16."""
    assert end_gauge().effective_degrees_of_freedom == 16.0
    assert end_gauge().coverage_factor == pytest.approx(2.92, abs=0.005)


@given(p=st.floats(0.5, 0.999), nu=st.floats(1.0, 500.0))
def test_t_quantile_against_scipy(p: float, nu: float) -> None:
    assert t_quantile(p, nu) == pytest.approx(float(scipy.stats.t.ppf(0.5 + 0.5 * p, nu)), rel=1e-6)


@pytest.mark.parametrize("nu", [1.0, 1.5, 2.0, 50.0, 1e4, 1e6, 1e9, math.inf])
def test_t_quantile_at_the_ends(nu: float) -> None:
    wanted = scipy.stats.t.ppf(0.975, nu) if nu < 1e8 else scipy.stats.norm.ppf(0.975)
    assert t_quantile(0.95, nu) == pytest.approx(float(wanted), rel=1e-6)
    with pytest.raises(OutOfRange, match=r"degrees of freedom is 0\.5"):
        t_quantile(0.95, 0.5)


@given(st.floats(-8.0, 8.0))
def test_normal_probability_against_scipy(z: float) -> None:
    assert normal_probability(z) == pytest.approx(float(scipy.stats.norm.cdf(z)), rel=1e-9, abs=1e-300)
    array = normal_probability(np.array([z, 0.0]))
    assert array == pytest.approx(scipy.stats.norm.cdf([z, 0.0]), abs=1e-12)


def test_one_instrument_at_many_points_is_one_error() -> None:
    points = 25
    shared = [Component(f"point {i}", 1.0, 1.0 / points, group="gauge") for i in range(points)]
    assert combine(shared).standard_uncertainty == pytest.approx(1.0)
    alone = [Component(f"point {i}", 1.0, 1.0 / points) for i in range(points)]
    assert combine(alone).standard_uncertainty == pytest.approx(0.2)


def test_a_shared_error_cancels_in_a_difference() -> None:
    budget = combine(
        [
            Component("supply", 1.0, 1.0, group="gauge"),
            Component("exhaust", 1.0, -1.0, group="gauge"),
            Component("scatter", 0.1),
        ]
    )
    assert budget.standard_uncertainty == pytest.approx(0.1)
    assert budget.dominant == "scatter"


values = st.lists(
    st.tuples(st.floats(0.01, 5.0), st.floats(-3.0, 3.0).filter(lambda c: abs(c) > 0.01)), min_size=2, max_size=5
)


@given(parts=values, r=st.floats(-1.0, 1.0))
def test_against_the_uncertainties_library(parts: list[tuple[float, float]], r: float) -> None:
    components = [Component(str(i), u, c) for i, (u, c) in enumerate(parts)]
    budget = combine(components, {("0", "1"): r})
    covariance = np.diag([u**2 for u, _ in parts])
    covariance[0, 1] = covariance[1, 0] = r * parts[0][0] * parts[1][0]
    variables = correlated_values([0.0] * len(parts), covariance)
    total = sum(c * variable for (_, c), variable in zip(parts, variables, strict=True))
    assert budget.standard_uncertainty == pytest.approx(total.s, rel=1e-6, abs=1e-6)
    if budget.standard_uncertainty > 1e-6:
        assert sum(budget.shares.values()) == pytest.approx(1.0)


def test_matrix_and_pairs_say_the_same() -> None:
    components = [Component("a", 3.0), Component("b", 4.0)]
    pairs = combine(components, {("b", "a"): 0.5})
    matrix = combine(components, np.array([[1.0, 0.5], [0.5, 1.0]]))
    assert pairs.standard_uncertainty == matrix.standard_uncertainty == pytest.approx(math.sqrt(37.0))


def test_shares_of_a_budget() -> None:
    budget = combine([Component("gauge", 3.0), Component("plane", 4.0), Component("nothing", 0.0)])
    assert budget.shares == pytest.approx({"gauge": 0.36, "plane": 0.64, "nothing": 0.0})
    assert budget.dominant == "plane"
    nothing = combine([Component("nothing", 0.0, degrees_of_freedom=3)])
    assert nothing.dominant is None
    assert nothing.expanded_uncertainty == 0.0
    assert nothing.effective_degrees_of_freedom == math.inf


def test_the_least_degrees_of_freedom_count_in_a_group() -> None:
    budget = combine(
        [
            Component("a", 1.0, degrees_of_freedom=5, group="gauge"),
            Component("b", 1.0, degrees_of_freedom=50, group="gauge"),
        ]
    )
    assert budget.effective_degrees_of_freedom == 5.0
    assert budget.coverage_factor == pytest.approx(2.5706, abs=1e-4)


@pytest.mark.parametrize(("nu", "factor"), [(49.0, 2.0096), (50.0, 2.0), (50.9, 2.0), (math.inf, 2.0), (4.99, 2.7764)])
def test_coverage_factor(nu: float, factor: float) -> None:
    assert expanded(standard_uncertainty=1.0, degrees_of_freedom=nu).coverage_factor == pytest.approx(factor, abs=1e-4)


def test_other_coverage_is_never_rounded_to_2() -> None:
    coverage = expanded(standard_uncertainty=2.0, coverage_probability=0.9)
    assert coverage.coverage_factor == pytest.approx(1.6449, abs=1e-4)
    assert coverage.expanded_uncertainty == pytest.approx(3.2897, abs=1e-4)


@pytest.mark.parametrize(
    ("components", "correlations", "message"),
    [
        ([], None, "at least one component"),
        ([Component("a", 1.0), Component("a", 2.0)], None, "twice: a"),
        ([Component("a", -1.0)], None, "standard uncertainty of a is -1"),
        ([Component("a", 1.0, degrees_of_freedom=0.0)], None, "degrees of freedom of a is 0"),
        ([Component("a", 1.0, math.nan)], None, "sensitivity of a is nan"),
        ([Component("a", 1.0), Component("b", 1.0)], {("a", "c"): 1.0}, "no such pair"),
        ([Component("a", 1.0), Component("b", 1.0)], {("a", "a"): 1.0}, "no such pair"),
        ([Component("a", 1.0), Component("b", 1.0)], {("a", "b"): 1.1}, "cannot all hold at once"),
        ([Component("a", 1.0), Component("b", 1.0)], np.eye(3), "symmetric matrix"),
        ([Component("a", 1.0), Component("b", 1.0)], np.array([[1.0, 0.5], [0.0, 1.0]]), "symmetric matrix"),
        ([Component("a", 1.0), Component("b", 1.0)], 2.0 * np.eye(2), "symmetric matrix"),
    ],
)
def test_refuses(components: list[Component], correlations: Any, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        combine(components, correlations)


def test_type_a_with_few_readings() -> None:
    two = type_a([10.0, 12.0])
    assert two.standard_deviation == pytest.approx(math.sqrt(2.0))
    assert (two.degrees_of_freedom, two.pooled) == (1.0, False)
    pooled = type_a([10.0, 12.0], pooled_standard_deviation=3.0, pooled_degrees_of_freedom=40.0)
    assert pooled.standard_uncertainty == pytest.approx(3.0 / math.sqrt(2.0))
    assert (pooled.degrees_of_freedom, pooled.pooled) == (40.0, True)
    four = type_a([1.0, 2.0, 3.0, 4.0], pooled_standard_deviation=9.0)
    assert not four.pooled
    assert four.standard_uncertainty == pytest.approx(math.sqrt(5.0 / 3.0) / 2.0)
    with pytest.raises(TooFewReadings, match="single reading has no spread"):
        type_a([10.0])
    with pytest.raises(TooFewReadings):
        type_a([], pooled_standard_deviation=1.0)
    with pytest.raises(OutOfRange, match="reading is nan"):
        type_a([1.0, math.nan])


def test_shapes_of_type_b() -> None:
    assert certificate(0.6, 3.0) == pytest.approx(0.2)
    assert resolution(1.0) == pytest.approx(rectangular(0.5))
    half_widths = np.array([0.0, 1.0])
    assert rectangular(half_widths) == pytest.approx(half_widths / math.sqrt(3.0))
    for shape in (rectangular, triangular, arcsine, resolution, certificate):
        with pytest.raises(OutOfRange):
            shape(-1.0)


def product(q: Any, rho: Any) -> Any:
    return q * np.sqrt(rho)


@pytest.mark.parametrize("shape", ["normal", "rectangular", "triangular", "arcsine"])
def test_monte_carlo_agrees_with_the_linear_form(shape: Any) -> None:
    inputs = {"q": Input(2.0, 0.05, shape=shape), "rho": Input(1.2, 0.03)}
    value, budget = propagate(product, inputs)
    drawn = monte_carlo(product, inputs, trials=400_000, seed=7)
    assert drawn.mean == pytest.approx(value, rel=1e-3)
    assert drawn.standard_uncertainty == pytest.approx(budget.standard_uncertainty, rel=1e-2)
    u = ufloat(2.0, 0.05) * ufloat(1.2, 0.03) ** 0.5
    assert budget.standard_uncertainty == pytest.approx(u.s, rel=1e-3)


def test_monte_carlo_interval_of_a_normal_result() -> None:
    drawn = monte_carlo(lambda a, b: a - b, {"a": Input(5.0, 3.0), "b": Input(2.0, 4.0)}, trials=400_000)
    assert (drawn.low, drawn.high) == pytest.approx((3.0 - 9.8, 3.0 + 9.8), abs=0.1)
    again = monte_carlo(lambda a, b: a - b, {"a": Input(5.0, 3.0), "b": Input(2.0, 4.0)}, trials=400_000)
    assert again == drawn


def test_monte_carlo_shares_the_error_of_a_group() -> None:
    inputs = {"a": Input(5.0, 1.0, group="gauge"), "b": Input(4.0, 1.0, group="gauge")}
    assert monte_carlo(lambda a, b: a - b, inputs, trials=1000).standard_uncertainty == pytest.approx(0.0, abs=1e-12)
    _, budget = propagate(lambda a, b: a - b, inputs)
    assert budget.standard_uncertainty == pytest.approx(0.0, abs=1e-12)


def test_few_degrees_of_freedom_widen_the_interval_as_the_t_factor_does() -> None:
    drawn = monte_carlo(lambda a: a, {"a": Input(0.0, 1.0, degrees_of_freedom=4.0)}, trials=1_000_000)
    assert drawn.high == pytest.approx(t_quantile(0.95, 4.0), rel=0.02)


def test_monte_carlo_refuses() -> None:
    with pytest.raises(OutOfRange, match="number of trials is 10"):
        monte_carlo(lambda a: a, {"a": Input(0.0, 1.0)}, trials=10)
    mixed = {"a": Input(0.0, 1.0, group="g"), "b": Input(0.0, 1.0, shape="rectangular", group="g")}
    with pytest.raises(ValueError, match="must have one shape"):
        monte_carlo(lambda a, b: a + b, mixed)


def test_a_certain_input_has_no_share() -> None:
    value, budget = propagate(lambda a, b: a * b, {"a": Input(2.0, 0.0), "b": Input(3.0, 0.1)})
    assert value == 6.0
    assert budget.shares == {"a": 0.0, "b": 1.0}


def test_a_correlation_between_two_leaves_the_groups_of_the_others() -> None:
    """By hand: a and b add to 3 + 4 = 7; c and d with r = 0.5 make 1 + 4 + 2 × 0.5 × 1 × 2 = 7; 7² + 7 = 56."""
    parts = [
        Component("a", 3.0, group="gauge"),
        Component("b", 4.0, group="gauge"),
        Component("c", 1.0),
        Component("d", 2.0),
    ]
    assert combine(parts, {("c", "d"): 0.5}).standard_uncertainty == pytest.approx(math.sqrt(56.0), rel=1e-12)


@pytest.mark.parametrize("size", [0.5, 1.0, 2.0])
def test_one_component_keeps_its_degrees_of_freedom(size: float) -> None:
    """Welch-Satterthwaite of a single component: u⁴ / (u⁴ / 4) = 4, in whatever unit."""
    assert combine([Component("alone", size, degrees_of_freedom=4.0)]).effective_degrees_of_freedom == 4.0


def test_one_degree_of_freedom_is_the_least() -> None:
    assert combine([Component("alone", 1.0, degrees_of_freedom=1.0)]).coverage_factor == pytest.approx(12.706, abs=5e-4)
    with pytest.raises(OutOfRange, match=r"degrees of freedom of alone is 0\.99"):
        combine([Component("alone", 1.0, degrees_of_freedom=0.99)])


def test_propagation_keeps_signs_and_what_is_known_of_each_input() -> None:
    """f = a - 2 b: the sensitivities are 1 and -2, so one error common to both takes 2 from 1."""
    inputs = {
        "a": Input(5.0, 0.1, degrees_of_freedom=7.0, kind="A", source="read five times", group="gauge"),
        "b": Input(1.0, 0.2, degrees_of_freedom=9.0, source="papers", group="gauge"),
    }
    value, budget = propagate(lambda a, b: a - 2.0 * b, inputs)
    assert value == 3.0
    first, second = budget.components
    assert (first.sensitivity, second.sensitivity) == pytest.approx((1.0, -2.0))
    assert (first.standard_uncertainty, second.standard_uncertainty) == (0.1, 0.2)
    assert (first.degrees_of_freedom, second.degrees_of_freedom) == (7.0, 9.0)
    assert (first.kind, first.source, first.group) == ("A", "read five times", "gauge")
    assert (second.kind, second.source) == ("B", "papers")
    assert budget.standard_uncertainty == pytest.approx(abs(1.0 * 0.1 - 2.0 * 0.2))
