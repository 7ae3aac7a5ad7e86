"""Samples against the published rows, scipy's hypergeometric distribution, and the coverage of every outcome."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import hypergeom

from commissioning.engineering.acceptance_sampling import (
    acceptance_probability,
    draw_by_strata,
    draw_order,
    enlarged_sample,
    least_excluded_defective,
    operating_characteristic,
    sample_plan,
    sample_result,
)
from commissioning.engineering.guards import OutOfRange
from tests.engineering.reference_rows import Row, hold, parameters

CHECKS: dict[str, Callable[[], Any]] = {
    "T14.01": lambda: acceptance_probability(population=50, defective=5, sample=10),
    "T14.02": lambda: acceptance_probability(population=100, defective=5, sample=15, accept=1),
    "T14.03": lambda: sample_plan(population=10, confidence=0.90, largest_defective_share=0.10).sample,
    "T14.04": lambda: sample_plan(population=60, confidence=0.95, largest_defective_share=0.10).sample,
    "T14.05": lambda: sample_plan(population=10_000, confidence=0.95, largest_defective_share=0.10).sample,
    "T14.06": lambda: least_excluded_defective(population=60, sample=15, failures=0, confidence=0.95),
}
ERVS = [f"ERV-{number}" for number in range(1, 61)]


@pytest.mark.parametrize(("row", "check"), parameters("acceptance_sampling", CHECKS))
def test_published(row: Row, check: Callable[[], Any]) -> None:
    hold(row, check())


@st.composite
def lots(draw: st.DrawFn) -> tuple[int, int, int, int]:
    population = draw(st.integers(1, 400))
    return (
        population,
        draw(st.integers(0, population)),
        draw(st.integers(0, population)),
        draw(st.integers(0, min(population, 5))),
    )


@given(lots())
def test_acceptance_against_scipy(lot: tuple[int, int, int, int]) -> None:
    population, defective, sample, accept = lot
    found = acceptance_probability(population=population, defective=defective, sample=sample, accept=accept)
    assert found == pytest.approx(hypergeom.cdf(accept, population, defective, sample), rel=1e-8, abs=1e-12)


@given(st.integers(2, 300), st.sampled_from([0.8, 0.9, 0.95]), st.sampled_from([0.05, 0.1, 0.2]), st.integers(0, 2))
def test_the_plan_is_the_smallest_that_shows_it(total: int, confidence: float, share: float, accept: int) -> None:
    defective = next(number for number in range(1, total + 1) if number >= share * total - 1e-9)
    if accept >= defective:
        with pytest.raises(OutOfRange, match="accepted failures"):
            sample_plan(population=total, confidence=confidence, largest_defective_share=share, accept=accept)
        return
    plan = sample_plan(population=total, confidence=confidence, largest_defective_share=share, accept=accept)
    assert plan.defective == defective
    chance = 1.0 - confidence
    assert hypergeom.cdf(accept, total, defective, plan.sample) <= chance + 1e-9
    assert hypergeom.cdf(accept, total, defective, plan.sample - 1) > chance - 1e-9
    passed = sample_result(population=total, sample=plan.sample, failures=accept, confidence=confidence, accept=accept)
    assert passed.accepted
    assert passed.most_defective < share * total + 1e-9


@pytest.mark.parametrize(("population", "sample"), [(12, 4), (30, 10), (60, 15), (25, 25)])
def test_the_upper_bound_covers_at_its_confidence(population: int, sample: int) -> None:
    """Whatever the true number, at least 95 % of the samples give a bound that holds it: every outcome is counted."""
    bounds = [
        sample_result(population=population, sample=sample, failures=x, confidence=0.95).most_defective
        for x in range(sample + 1)
    ]
    for true in range(population + 1):
        least = max(0, sample - (population - true))
        outcomes = range(least, min(true, sample) + 1)
        held = sum(float(hypergeom.pmf(x, population, true, sample)) for x in outcomes if bounds[x] >= true)
        assert held >= 0.95 - 1e-9


@given(st.integers(2, 120).flatmap(lambda n: st.tuples(st.just(n), st.integers(1, n))), st.integers(0, 4))
def test_the_bound_is_the_first_that_scipy_excludes(lot: tuple[int, int], failures: int) -> None:
    population, sample = lot
    if failures > sample:
        return
    found = least_excluded_defective(population=population, sample=sample, failures=failures, confidence=0.95)
    possible = population - (sample - failures)
    excluded = (
        d for d in range(failures, possible + 1) if hypergeom.cdf(failures, population, d, sample) < 0.05 + 1e-9
    )
    assert found == next(excluded, possible + 1)


def wrong_after_doubling(population: int, sample: int, defective: int) -> float:
    """The chance of too low a bound where a failing sample is doubled, and all units are taken if that fails again."""

    def bound(number: int, failures: int) -> int:
        return sample_result(population=population, sample=number, failures=failures, confidence=0.95).most_defective

    wrong = float(hypergeom.pmf(0, population, defective, sample)) * (bound(sample, 0) < defective)
    for first in range(1, min(sample, defective) + 1):
        clean = float(hypergeom.pmf(0, population - sample, defective - first, sample))
        chance = float(hypergeom.pmf(first, population, defective, sample))
        wrong += chance * clean * (bound(2 * sample, first) < defective)
    return wrong


@pytest.mark.parametrize(("population", "sample"), [(60, 23), (30, 15), (100, 25), (40, 9)])
def test_an_enlargement_costs_about_one_per_cent_of_confidence(population: int, sample: int) -> None:
    """Every outcome counted: what the docstring of `sample_result` says of a sample that was doubled once."""
    worst = max(wrong_after_doubling(population, sample, defective) for defective in range(population + 1))
    assert 0.04 < worst < 0.062
    if population == 100:
        assert worst > 0.06


def test_what_a_result_allows_to_say() -> None:
    passed = sample_result(population=60, sample=23, failures=0, confidence=0.95)
    assert (passed.most_defective, passed.most_defective_unseen, passed.accepted) == (5, 5, True)
    assert passed.most_defective_share == pytest.approx(5 / 60)
    failed = sample_result(population=60, sample=23, failures=2, confidence=0.95)
    assert not failed.accepted
    assert failed.most_defective_unseen == failed.most_defective - 2
    assert sample_result(population=60, sample=23, failures=2, confidence=0.95, accept=2).accepted


def test_when_every_unit_was_repeated_nothing_is_left_to_chance() -> None:
    said = sample_result(population=12, sample=12, failures=3, confidence=0.95)
    assert (said.most_defective, said.most_defective_unseen, said.not_repeated, said.confidence) == (3, 0, 0, 1.0)


def test_no_sample_says_nothing() -> None:
    assert sample_result(population=12, sample=0, failures=0, confidence=0.95).most_defective == 12


def test_operating_characteristic_falls() -> None:
    curve = operating_characteristic(population=60, sample=23)
    chances = [point.acceptance_probability for point in curve]
    assert [point.defective for point in curve] == list(range(61))
    assert chances[0] == 1.0
    assert chances == sorted(chances, reverse=True)
    assert chances[5] > 0.05 >= chances[6]
    one = operating_characteristic(population=60, sample=23, accept=1, defectives=[6])
    assert one[0].acceptance_probability == pytest.approx(hypergeom.cdf(1, 60, 6, 23))


def test_enlargement_doubles_and_then_takes_all() -> None:
    """Common practice, no source."""
    assert [enlarged_sample(population=60, first_sample=9, enlargements=step) for step in range(4)] == [9, 18, 60, 60]
    assert enlarged_sample(population=15, first_sample=9, enlargements=1) == 15


def test_the_draw_can_be_made_again_with_any_sha256() -> None:
    """`printf '%s' '2026-05-04 AERV-1' | sha256sum` gives 4790..., ERV-2 5ede..., ERV-3 19d1... (GNU coreutils)."""
    assert draw_order(seed="2026-05-04 A", units=["ERV-1", "ERV-2", "ERV-3"]) == ("ERV-3", "ERV-1", "ERV-2")
    assert hashlib.sha256(b"2026-05-04 AERV-3").hexdigest().startswith("19d1d4af587a554c")


@given(st.permutations(ERVS))
def test_the_draw_does_not_depend_on_the_order_of_the_list(units: list[str]) -> None:
    assert draw_order(seed="A", units=units) == draw_order(seed="A", units=ERVS)


def test_another_seed_draws_others_and_a_larger_sample_holds_the_smaller() -> None:
    first, second = (set(draw_order(seed=seed, units=ERVS)[:23]) for seed in ("A", "B"))
    assert first != second
    assert first < set(draw_order(seed="A", units=ERVS)[:46])


def test_every_unit_has_the_same_chance() -> None:
    """1000 seeds, 6 of 60 drawn: each is expected 100 times with a standard deviation of 9.5; six of them allowed."""
    times = dict.fromkeys(ERVS, 0)
    for seed in range(1000):
        for unit in draw_order(seed=f"seed {seed} ", units=ERVS)[:6]:
            times[unit] += 1
    assert max(abs(count - 100) for count in times.values()) < 6.0 * math.sqrt(1000 * 0.1 * 0.9)


def test_strata_are_drawn_apart_and_central_plant_is_taken_whole() -> None:
    strata = {"ERV": ERVS, "AHU": ["AHU-1", "AHU-2"], "DOAS": ["DOAS-1"], "EF": ["EF-1", "EF-2", "EF-3"]}
    draws = draw_by_strata(
        seed="A", strata=strata, whole=["AHU"], confidence=0.95, largest_defective_share=0.10, accept=0
    )
    assert {draw.stratum: (draw.sample, draw.whole) for draw in draws} == {
        "ERV": (23, False),
        "AHU": (2, True),
        "DOAS": (1, True),
        "EF": (3, False),
    }
    erv = draws[0]
    assert erv.plan is not None
    assert erv.plan.defective == 6
    assert erv.drawn == draw_order(seed="A", units=ERVS)[:23]
    assert set(draws[1].drawn) == {"AHU-1", "AHU-2"}


def test_a_stratum_too_small_for_accepted_failures_is_taken_whole() -> None:
    draws = draw_by_strata(
        seed="A", strata={"EF": ["EF-1", "EF-2", "EF-3"]}, confidence=0.9, largest_defective_share=0.1, accept=1
    )
    assert (draws[0].sample, draws[0].whole, draws[0].plan) == (3, True, None)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"seed": ""}, "needs a seed"),
        ({"strata": {"ERV": ["ERV-1"], "AHU": ["ERV-1"]}}, r"an id comes twice: \['ERV-1'\]"),
        ({"strata": {"ERV": []}}, r"a stratum without units: \['ERV'\]"),
        ({"whole": ["AHU"]}, r"no such stratum: \['AHU'\]"),
        ({"confidence": 95.0}, "confidence is 95"),
        ({"largest_defective_share": 0.0}, "largest defective share is 0"),
    ],
)
def test_strata_refuse(arguments: dict[str, Any], message: str) -> None:
    given_: dict[str, Any] = {"seed": "A", "strata": {"ERV": ERVS}, "confidence": 0.95, "largest_defective_share": 0.1}
    with pytest.raises(ValueError, match=message):
        draw_by_strata(**(given_ | arguments))


def test_counts_refuse() -> None:
    with pytest.raises(OutOfRange, match="defective units is 51; it must lie in 0 to 50"):
        acceptance_probability(population=50, defective=51, sample=10)
    with pytest.raises(OutOfRange, match=r"sample is 2\.5"):
        acceptance_probability(population=50, defective=5, sample=2.5)  # type: ignore[arg-type]
    with pytest.raises(OutOfRange, match="failures is 4; it must lie in 0 to 3"):
        least_excluded_defective(population=50, sample=3, failures=4, confidence=0.95)
    with pytest.raises(OutOfRange, match="population is 20000"):
        sample_plan(population=20_000, confidence=0.95, largest_defective_share=0.1)


def test_a_result_says_which_number_is_which() -> None:
    said = sample_result(population=60, sample=23, failures=2, confidence=0.95)
    assert (said.population, said.sample, said.failures, said.not_repeated) == (60, 23, 2, 37)
    assert said.most_defective_unseen == said.most_defective - 2


def test_the_least_confidence_of_the_stated_range_is_taken() -> None:
    """One of two drawn and found good: with one defective that happens in 1 of 2, so at 0.5 one is excluded."""
    assert least_excluded_defective(population=2, sample=1, failures=0, confidence=0.5) == 1
