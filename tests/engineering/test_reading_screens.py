"""Screens of readings against the published rows and scipy, and each against what honest readings look like."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, stats

from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.reading_screens import (
    first_digit_deviation,
    first_digit_share,
    last_digit_chi_square,
    last_digit_counts,
    last_digit_probability,
    screen_cliff,
    screen_constant_ratio,
    screen_exact_to_design,
    screen_first_digits,
    screen_last_digits,
    screen_repeats,
    zero_five_share,
)
from tests.engineering.reference_rows import Row, hold, parameters

COUNTS = [18, 8, 9, 7, 8, 21, 9, 7, 6, 7]


def critical(chance: float) -> float:
    return float(optimize.brentq(lambda x: last_digit_probability(x) - chance, 1.0, 60.0))


CHECKS: dict[str, Callable[[], Any]] = {
    "T14.07": lambda: first_digit_share(1),
    "T14.08": lambda: first_digit_deviation([31, 18, 12, 10, 8, 7, 6, 4, 4]),
    "T14.09": lambda: last_digit_chi_square(COUNTS),
    "T14.10": lambda: last_digit_probability(last_digit_chi_square(COUNTS)),
    "T14.11": lambda: (critical(0.05), critical(0.01)),
    "T14.12": lambda: zero_five_share(COUNTS),
}


@pytest.mark.parametrize(("row", "check"), parameters("reading_screens", CHECKS))
def test_published(row: Row, check: Callable[[], Any]) -> None:
    hold(row, check())


@given(st.lists(st.integers(1, 60), min_size=10, max_size=10))
def test_last_digits_against_scipy(counts: list[int]) -> None:
    expected = stats.chisquare(counts)
    assert last_digit_chi_square(counts) == pytest.approx(expected.statistic)
    assert last_digit_probability(last_digit_chi_square(counts)) == pytest.approx(expected.pvalue, rel=1e-9, abs=1e-300)


def test_digits_are_those_of_the_display() -> None:
    """A display in steps of 0.5 that shows 12.5 has moved 25 steps."""
    assert last_digit_counts(readings=np.array([12.5, 0.3 / 0.1 * 0.5]), step=0.5)[5] == 1
    assert last_digit_counts(readings=np.array([0.1 + 0.2]), step=0.1)[3] == 1


def with_digits(counts: list[int]) -> Any:
    return np.array([400.0 + digit for digit, count in enumerate(counts) for _ in range(count)])


def screened(counts: list[int]) -> bool | None:
    return screen_last_digits(readings=with_digits(counts), step=1.0, repeatability=8.0).look_again


def test_both_limits_have_to_be_passed() -> None:
    assert screened(COUNTS) is True
    assert screened([10] * 10) is False
    uneven_elsewhere = [8, 21, 9, 18, 8, 7, 9, 7, 6, 7]  # chi-square 23.8 as well, 15 % zeros and fives
    assert screened(uneven_elsewhere) is False
    many_but_by_chance = [17, 8, 8, 8, 9, 16, 9, 8, 9, 8]  # 33 %, chi-square 8.8
    assert screened(many_but_by_chance) is False


def test_a_display_that_does_not_move_by_itself_says_nothing() -> None:
    still = screen_last_digits(readings=with_digits(COUNTS), step=1.0, repeatability=4.9)
    assert still.look_again is None
    assert "does not move by itself" in still.sentence
    few = screen_last_digits(readings=with_digits(COUNTS)[:49], step=1.0, repeatability=8.0)
    assert few.look_again is None
    assert "49 readings are too few" in few.sentence


def test_honest_digits_are_even_from_a_repeatability_of_five_steps() -> None:
    """2 exp(-2 pi^2 5^2 / 100) = 1.4 %: the largest unevenness of the last digit of a normal reading."""
    edges = np.arange(0.0, 2000.0) - 0.5
    share = np.diff(stats.norm.cdf(edges, 1003.0, 5.0)).reshape(-1)
    digits = np.array([share[np.arange(share.size) % 10 == digit].sum() for digit in range(10)])
    assert np.max(np.abs(digits / 0.1 - 1.0)) < 0.0145
    assert np.max(np.abs(digits / 0.1 - 1.0)) > 0.012


def test_first_digits_say_nothing_of_airflows() -> None:
    generator = np.random.default_rng(3)
    airflows = 1000.0 * (1.0 + generator.normal(0.0, 0.04, 200))
    found = screen_first_digits(readings=airflows)
    assert found.look_again is None
    assert found.value > 0.05  # the deviation is large, and means nothing
    assert "nor of any airflows" in found.sentence


def test_first_digits_of_values_that_span_decades() -> None:
    spread = 10.0 ** np.linspace(0.0, 4.0, 400, endpoint=False)
    assert screen_first_digits(readings=spread).look_again is False
    assert screen_first_digits(readings=np.r_[spread[::8], np.full(60, 7.0)]).look_again is True
    assert sum(first_digit_share(digit) for digit in range(1, 10)) == pytest.approx(1.0)


def test_exact_to_design() -> None:
    designs = np.array([200.0] * 4 + [1000.0] * 12)
    readings = np.array(
        [200.0] * 4 + [1000.0] * 3 + [1004.9, 995.2, 1006.0, 960.0, 1030.0, 980.0, 1044.0, 940.0, 1011.0]
    )
    found = screen_exact_to_design(readings=readings, designs=designs, step=5.0)
    assert found.readings == 12  # one step of 5 on 200 is 2.5 %: a match there is no wonder
    assert found.value == pytest.approx(5 / 12)
    assert found.look_again is True
    assert screen_exact_to_design(readings=readings[:9], designs=designs[:9], step=1.0).look_again is None
    for design, told in ((100.0, 12), (99.5, 0)):  # a step of 1 is 1 % of the one and 1.005 % of the other
        assert screen_exact_to_design(readings=np.full(12, design), designs=design, step=1.0).readings == told
    honest = 1000.0 * np.linspace(0.92, 1.08, 17)
    assert screen_exact_to_design(readings=honest, designs=1000.0, step=1.0).look_again is False


def test_repeats() -> None:
    assert screen_repeats(readings=np.r_[np.full(6, 62.0), np.arange(4.0)]).look_again is True
    assert screen_repeats(readings=np.r_[np.full(5, 62.0), np.arange(5.0)]).look_again is False
    assert screen_repeats(readings=np.full(9, 62.0)).look_again is None


def test_cliff_against_scipy() -> None:
    inside, outside = np.linspace(-0.099, -0.06, 11), np.array([-0.12])
    found = screen_cliff(deviations=np.r_[inside, outside, 0.3, -0.4], limit=-0.10, width=0.05)
    assert found.readings == 12
    assert found.value == pytest.approx(stats.binomtest(11, 12, 0.5, alternative="greater").pvalue)
    assert found.look_again is True
    even = screen_cliff(deviations=np.linspace(-0.149, -0.051, 12), limit=-0.10, width=0.05)
    assert even.look_again is False
    assert screen_cliff(deviations=inside[:9], limit=-0.10, width=0.05).look_again is None
    # Both sides are as wide, each with its lower end: an eighth and three sixteenths below count, a sixteenth does not.
    ends = screen_cliff(deviations=np.array([-0.1875, -0.125, -0.0625]), limit=-0.125, width=0.0625)
    assert ends.readings == 2
    assert ends.value == 0.75  # one of two inside, or both: 3 of 4 throws


def test_constant_ratio() -> None:
    flows = np.linspace(400.0, 900.0, 12)
    wobble = np.where(np.arange(12) % 2, 1.002, 0.998)
    assert screen_constant_ratio(readings=flows * 1.04 * wobble, others=flows).look_again is False
    assert screen_constant_ratio(readings=flows * 1.04, others=flows).look_again is True
    assert screen_constant_ratio(readings=flows[:9] * 1.04, others=flows[:9]).look_again is None


@pytest.mark.parametrize("counts", [[1] * 9, [0] * 10])
def test_counts_refuse(counts: list[int]) -> None:
    for function in (last_digit_chi_square, zero_five_share):
        with pytest.raises(ValueError, match="ten digits"):
            function(counts)


def test_refuses() -> None:
    with pytest.raises(ValueError, match="nine digits"):
        first_digit_deviation([1] * 10)
    with pytest.raises(OutOfRange, match="first digit is 0"):
        first_digit_share(0)
    with pytest.raises(OutOfRange, match="display step is 0"):
        last_digit_counts(readings=1.0, step=0.0)
