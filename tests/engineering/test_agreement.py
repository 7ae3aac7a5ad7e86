"""Two methods on one port: when they agree, what they make together, and what they share."""

from __future__ import annotations

import math
import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import correlated_values

from commissioning.engineering.agreement import (
    MethodsDisagree,
    mass_closure,
    normalised_difference,
    shared_correlation,
    weighted_best_estimate,
)
from commissioning.engineering.guards import OutOfRange


def test_normalised_difference() -> None:
    assert normalised_difference(
        a=10.0, expanded_uncertainty_a=3.0, b=5.0, expanded_uncertainty_b=4.0
    ) == pytest.approx(1.0)
    shared = normalised_difference(
        a=10.0, expanded_uncertainty_a=3.0, b=5.0, expanded_uncertainty_b=4.0, correlation=0.5
    )
    assert shared == pytest.approx(5.0 / math.sqrt(13.0))


@given(a=st.floats(1.0, 100.0), b=st.floats(1.0, 100.0), u=st.floats(0.1, 10.0), w=st.floats(0.1, 10.0))
def test_normalised_difference_is_symmetric(a: float, b: float, u: float, w: float) -> None:
    one = normalised_difference(a=a, expanded_uncertainty_a=u, b=b, expanded_uncertainty_b=w)
    other = normalised_difference(a=b, expanded_uncertainty_a=w, b=a, expanded_uncertainty_b=u)
    assert one == pytest.approx(other)


def test_best_estimate_leans_to_the_better_result() -> None:
    best = weighted_best_estimate(a=100.0, expanded_uncertainty_a=3.0, b=104.0, expanded_uncertainty_b=6.0)
    assert best.weight_a == pytest.approx(0.8)
    assert best.value == pytest.approx(100.8)
    assert best.expanded_uncertainty == pytest.approx(1.0 / math.sqrt(1 / 9 + 1 / 36))


def test_results_that_disagree_are_not_averaged() -> None:
    with pytest.raises(MethodsDisagree, match=r"normalised difference is 1\.41") as caught:
        weighted_best_estimate(a=100.0, expanded_uncertainty_a=5.0, b=110.0, expanded_uncertainty_b=5.0)
    assert caught.value.normalised_difference == pytest.approx(math.sqrt(2.0))
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)


def test_mass_closure() -> None:
    closure = mass_closure(
        entering_kg_s=np.array([1.2, 1.0]),
        leaving_kg_s=np.array([1.1, 1.0]),
        entering_standard_uncertainty_kg_s=np.array([0.03, 0.03]),
        leaving_standard_uncertainty_kg_s=np.array([0.03, 0.03]),
    )
    assert closure.difference_kg_s == pytest.approx(0.1)
    assert closure.relative_difference == pytest.approx(0.1 / 2.15)
    assert closure.standard_uncertainty_kg_s == pytest.approx(0.06)
    assert closure.within_uncertainty is True
    open_ = mass_closure(
        entering_kg_s=1.2,
        leaving_kg_s=1.0,
        entering_standard_uncertainty_kg_s=0.03,
        leaving_standard_uncertainty_kg_s=0.03,
    )
    assert open_.within_uncertainty is False
    assert mass_closure(entering_kg_s=1.2, leaving_kg_s=1.0).within_uncertainty is None
    with pytest.raises(OutOfRange, match="sum of the mass flows is 0 kg/s"):
        mass_closure(entering_kg_s=0.0, leaving_kg_s=0.0)


@pytest.mark.parametrize(("u", "w", "r"), [(3.0, 6.0, 0.3), (5.0, 5.0, 0.8), (4.0, 3.0, -0.5), (3.0, 6.0, 0.49)])
def test_a_correlated_best_estimate_is_the_least_of_all_weights(u: float, w: float, r: float) -> None:
    """The weight against a fine search, and the uncertainty against the uncertainties library, which knows both."""
    covariance = [[u * u, r * u * w], [r * u * w, w * w]]
    a, b = correlated_values([100.0, 101.5], covariance)
    weights = np.linspace(0.0, 1.0, 20_001)
    spread = weights**2 * u * u + (1 - weights) ** 2 * w * w + 2 * weights * (1 - weights) * r * u * w
    best = weighted_best_estimate(a=100.0, expanded_uncertainty_a=u, b=101.5, expanded_uncertainty_b=w, correlation=r)
    assert best.weight_a == pytest.approx(weights[np.argmin(spread)], abs=1e-4)
    mean = best.weight_a * a + (1.0 - best.weight_a) * b
    assert (best.value, best.expanded_uncertainty) == pytest.approx((mean.n, mean.s))


def test_where_nearly_all_is_shared_the_better_result_stands_alone() -> None:
    """r above U_a / U_b = 0.5 would give b a negative weight: the estimate would lie outside of the two."""
    best = weighted_best_estimate(
        a=100.0, expanded_uncertainty_a=3.0, b=102.0, expanded_uncertainty_b=6.0, correlation=0.9
    )
    assert (best.weight_a, best.value, best.expanded_uncertainty) == (1.0, 100.0, 3.0)


@given(st.floats(0.5, 10.0), st.floats(0.5, 10.0), st.floats(-0.9, 0.99), st.floats(0.0, 1.0))
def test_a_best_estimate_is_between_the_two_and_no_worse_than_the_better(
    u: float, w: float, r: float, share: float
) -> None:
    apart = share * math.sqrt(u * u + w * w - 2.0 * r * u * w) * 0.999
    best = weighted_best_estimate(
        a=100.0, expanded_uncertainty_a=u, b=100.0 + apart, expanded_uncertainty_b=w, correlation=r
    )
    assert 100.0 - 1e-9 <= best.value <= 100.0 + apart + 1e-9
    assert best.expanded_uncertainty <= min(u, w) + 1e-9


def test_what_is_shared_does_not_excuse_a_difference() -> None:
    """Two results 4 apart with U = 5 each agree as strangers (E = 0.57), and do not with 0.9 shared (E = 1.79)."""
    apart = {"a": 100.0, "expanded_uncertainty_a": 5.0, "b": 104.0, "expanded_uncertainty_b": 5.0}
    assert weighted_best_estimate(**apart).value == pytest.approx(102.0)
    with pytest.raises(MethodsDisagree, match=r"1\.79"):
        weighted_best_estimate(**apart, correlation=0.9)


def test_correlation_by_what_is_shared() -> None:
    """Two readings y = c + e: the covariance of the uncertainties library is that of the shared part."""
    shared, own_a, own_b = correlated_values([0.0, 0.0, 0.0], np.diag([9.0, 16.0, 27.0]).tolist())
    a, b = shared + own_a, shared + own_b
    total = (a + b).s
    r = float(
        shared_correlation(shared_standard_uncertainty=3.0, standard_uncertainty_1=a.s, standard_uncertainty_2=b.s)
    )
    assert math.sqrt(a.s**2 + b.s**2 + 2.0 * r * a.s * b.s) == pytest.approx(total)
    with pytest.raises(OutOfRange, match="shared uncertainty is 7; it must lie in 0 to 5"):
        shared_correlation(shared_standard_uncertainty=7.0, standard_uncertainty_1=5.0, standard_uncertainty_2=6.0)


def test_a_closure_says_which_way_the_air_is_missing() -> None:
    """1.2 + 1.0 in, 1.1 + 1.0 out: 0.1 kg/s comes in and is not seen to leave."""
    found = mass_closure(entering_kg_s=np.array([1.2, 1.0]), leaving_kg_s=np.array([1.1, 1.0]))
    assert found.entering_kg_s == pytest.approx(2.2)
    assert found.leaving_kg_s == pytest.approx(2.1)
    assert found.difference_kg_s == pytest.approx(0.1)
