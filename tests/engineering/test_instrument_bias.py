"""The bias of an instrument against numpy's weighted fit, scipy's t test and the non-central t distribution."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from uncertainties import ufloat

from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.instrument_bias import ReadingPair, instrument_bias, units_to_tell
from commissioning.engineering.units import from_si, to_si

# Twelve units, cfm: the instrument reads 4 % high with a scatter of about 2 %. Invented for the test.
OTHER = np.array([412.0, 655.0, 1210.0, 388.0, 940.0, 510.0, 780.0, 1490.0, 365.0, 620.0, 845.0, 1050.0])
FACTOR = np.array([1.05, 1.02, 1.06, 1.03, 1.07, 1.01, 1.04, 1.05, 1.02, 1.06, 1.03, 1.04])


def pairs(relative: float = 0.001, *, factor: Any = FACTOR, other: Any = OTHER) -> list[ReadingPair]:
    return [
        ReadingPair(float(f * q), float(q), relative * float(f * q), relative * float(q))
        for f, q in zip(factor, other, strict=True)
    ]


def test_alike_uncertainties_give_the_t_test_of_scipy() -> None:
    """Uncertainties far below the scatter leave the scatter alone to decide."""
    found = instrument_bias(pairs())
    expected = stats.ttest_1samp(np.log(FACTOR), 0.0)
    interval = expected.confidence_interval(0.95)
    assert found.mean_relative_difference == pytest.approx(stats.gmean(FACTOR) - 1.0)
    assert (found.low, found.high) == pytest.approx((math.exp(interval.low) - 1.0, math.exp(interval.high) - 1.0))
    assert found.degrees_of_freedom == expected.df
    assert found.spread == pytest.approx(np.std(np.log(FACTOR), ddof=1))
    assert found.distinguishable == (expected.pvalue < 0.05)
    assert found.distinguishable


def test_unlike_uncertainties_give_the_weighted_fit_of_numpy() -> None:
    relative = np.linspace(0.002, 0.02, 12)
    given_ = [
        ReadingPair(pair.reading, pair.other, float(u) * pair.reading, float(u) * pair.other)
        for pair, u in zip(pairs(), relative, strict=True)
    ]
    weights = 1.0 / (math.sqrt(2.0) * relative)
    (mean,), covariance = np.polyfit(np.arange(12.0), np.log(FACTOR), 0, w=weights, cov=True)
    found = instrument_bias(given_)
    assert math.log1p(found.mean_relative_difference) == pytest.approx(mean)
    assert found.consistency > 1.0
    assert found.standard_uncertainty == pytest.approx(math.sqrt(covariance.item()))


@given(st.lists(st.floats(0.8, 1.25), min_size=3, max_size=12), st.floats(0.001, 0.1))
def test_turned_round_the_ratio_is_the_inverse(factors: list[float], relative: float) -> None:
    there = pairs(relative, factor=np.array(factors), other=OTHER[: len(factors)])
    back = [
        ReadingPair(p.other, p.reading, p.other_standard_uncertainty, p.reading_standard_uncertainty) for p in there
    ]
    one, other = instrument_bias(there), instrument_bias(back)
    assert (1.0 + one.mean_relative_difference) * (1.0 + other.mean_relative_difference) == pytest.approx(1.0)
    assert (1.0 + one.low) * (1.0 + other.high) == pytest.approx(1.0)
    assert one.distinguishable == other.distinguishable


def test_the_uncertainties_count_where_the_scatter_happens_to_be_small() -> None:
    found = instrument_bias(pairs(0.05))
    assert found.consistency < 1.0
    assert found.standard_uncertainty == pytest.approx(math.sqrt(2.0) * 0.05 / math.sqrt(12.0))
    assert not found.distinguishable
    assert found.prompt == ""


def test_the_uncertainty_of_a_pair_is_that_of_the_uncertainties_library() -> None:
    ratio = ufloat(420.0, 8.0) / ufloat(400.0, 12.0)
    found = instrument_bias([ReadingPair(420.0, 400.0, 8.0, 12.0)] * 3)
    assert found.standard_uncertainty == pytest.approx(ratio.s / ratio.n / math.sqrt(3.0))


def test_the_prompt_names_no_culprit() -> None:
    prompt = instrument_bias(pairs()).prompt
    assert prompt.startswith("On 12 units this instrument read 4.0% above the other (+")
    assert "calibration of both" in prompt
    below = instrument_bias(pairs(factor=FACTOR - 0.08)).prompt
    assert "4.0% below" in below


@given(st.floats(0.85, 1.15), st.floats(0.001, 0.05))
def test_the_same_in_both_unit_systems(factor: float, relative: float) -> None:
    ip = pairs(relative, factor=FACTOR * factor)
    si = [
        ReadingPair(*(float(to_si(getattr(pair, name), "cfm")) for name in ReadingPair.__dataclass_fields__))
        for pair in ip
    ]
    one, other = instrument_bias(ip), instrument_bias(si)
    assert one.mean_relative_difference == pytest.approx(other.mean_relative_difference, abs=1e-12)
    assert (one.low, one.high) == pytest.approx((other.low, other.high), abs=1e-12)
    assert from_si(si[0].reading, "cfm") == pytest.approx(ip[0].reading)


def test_an_instrument_without_bias_is_told_apart_once_in_twenty() -> None:
    """2000 sets of eight units: 5 % +- 0.5 % (one standard deviation of the count); four of them allowed."""
    generator = np.random.default_rng(7)
    flagged = 0
    for _ in range(2000):
        factor = 1.0 + generator.normal(0.0, 0.02, 8)
        flagged += instrument_bias(pairs(0.0005, factor=factor, other=OTHER[:8])).distinguishable
    assert flagged == pytest.approx(100, abs=40)


@pytest.mark.parametrize(("difference", "spread"), [(0.03, 0.04), (0.05, 0.05), (0.02, 0.06), (-0.04, 0.03)])
def test_units_needed_give_the_power_of_the_non_central_t(difference: float, spread: float) -> None:
    def power(number: int) -> float:
        shift = abs(difference) / spread * math.sqrt(number)
        critical = stats.t.ppf(0.975, number - 1)
        return float(stats.nct.sf(critical, number - 1, shift) + stats.nct.cdf(-critical, number - 1, shift))

    number = units_to_tell(relative_difference=difference, spread=spread)
    assert power(number) == pytest.approx(0.80, abs=0.05)
    assert power(number - 2) < 0.80


@pytest.mark.parametrize("difference", [0.02, 0.03, 0.045, 0.1])  # the last by a single step
def test_units_needed_are_the_fewest_by_scipys_quantiles(difference: float) -> None:
    """Smallest n with n >= ((t_0.975 + t_0.80)(n - 1) s / d)^2, both quantiles one-sided."""

    def holds(number: int) -> bool:
        factor = float(stats.t.ppf(0.975, number - 1) + stats.t.ppf(0.80, number - 1))
        return number >= (factor * 0.04 / difference) ** 2

    fewest = next(number for number in range(3, 100) if holds(number))
    assert units_to_tell(relative_difference=difference, spread=0.04) == fewest


def test_a_smaller_difference_asks_for_more_units() -> None:
    numbers = [units_to_tell(relative_difference=d, spread=0.04) for d in (0.1, 0.05, 0.03, 0.01)]
    assert numbers == sorted(numbers)
    assert units_to_tell(relative_difference=5.0, spread=0.001) == 3


def test_refuses() -> None:
    with pytest.raises(OutOfRange, match="number of pairs is 2; it must lie in 3"):
        instrument_bias(pairs()[:2])
    with pytest.raises(OutOfRange, match="other reading is 0"):
        instrument_bias([ReadingPair(1.0, 0.0, 0.1, 0.1)] * 3)
    with pytest.raises(OutOfRange, match="uncertainty of a pair is 0"):
        instrument_bias([ReadingPair(1.0, 1.0, 0.0, 0.0)] * 3)
    with pytest.raises(OutOfRange, match="units needed is 7"):
        units_to_tell(relative_difference=1e-4, spread=0.1)
