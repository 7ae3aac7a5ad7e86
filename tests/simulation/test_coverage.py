"""A small seeded run of the simulation: what docs/coverage.md says of 2400 visits holds of 240, within the binomial."""

from __future__ import annotations

import re
from functools import lru_cache

import pytest
from scipy.stats import binom

from tests.simulation import budgets, judged, noticed
from tests.simulation.__main__ import PAGE, SEED, TRIALS
from tests.simulation.field.blunders import BLUNDERS
from tests.simulation.field.circumstances import CIRCUMSTANCES
from tests.simulation.judged import Tally
from tests.simulation.page import GOAL

FEW = 240
BY_KEY = {one.key: one for one in CIRCUMSTANCES}
VALID = [one.key for one in CIRCUMSTANCES if one.valid]
NOT_COVERED = [one.key for one in CIRCUMSTANCES if not one.valid]


@lru_cache
def tally(key: str) -> Tally:
    return judged.run(BY_KEY[key], FEW, SEED, ("simple",))


@pytest.mark.parametrize("key", VALID)
def test_the_stated_interval_holds_where_the_method_is_valid(key: str) -> None:
    """Fewer than this come by chance once in ten thousand, if 94 % hold."""
    assert tally(key).held >= binom.ppf(1e-4, FEW, GOAL)


@pytest.mark.parametrize("key", NOT_COVERED)
def test_what_is_named_as_not_covered_is_not(key: str) -> None:
    assert tally(key).held < binom.ppf(0.05, FEW, GOAL)


def test_a_method_holds_over_all_its_circumstances() -> None:
    for method in {one.method for one in CIRCUMSTANCES}:
        tallies = [tally(key) for key in VALID if BY_KEY[key].method == method]
        held, trials = sum(one.held for one in tallies), sum(one.trials for one in tallies)
        assert held >= binom.ppf(1e-3, trials, GOAL), method


def test_a_guard_keeps_its_promise() -> None:
    """Guarded acceptance with one U accepts at most 2.3 % of what lies on the far side of a limit (JCGM 106, 8.3.3,
    one side, k = 2), guarded rejection rejects at most as many on the near side; simple acceptance promises nothing."""
    found = judged.run(BY_KEY["T1"], 600, SEED)
    each = 100
    most = binom.ppf(1.0 - 1e-4, each, 0.023) / each
    assert found.wrong("guarded_acceptance", -0.12) <= most
    assert found.wrong("guarded_rejection", -0.10) <= most
    assert found.wrong("guarded_rejection", -0.08) <= found.wrong("simple", -0.08)
    assert found.share("guarded_acceptance", -0.08, "inconclusive") > found.share("simple", -0.08, "inconclusive")
    assert found.wrong("simple", -0.10) > 0.1


@pytest.mark.parametrize(
    ("key", "sees"),
    [
        ("K up", {"mass_balance", "two_finals_agree", "design_airflow"}),
        ("decimal, all", {"mass_balance", "two_finals_agree", "design_airflow"}),
        ("width", {"mass_balance", "two_finals_agree", "design_airflow"}),
        ("decimal, one", {"remark"}),
        ("none", set()),
    ],
)
def test_a_blunder_is_noticed_by_somebody(key: str, sees: set[str]) -> None:
    blunder = next(one for one in BLUNDERS if one.key == key)
    shares = noticed.shares(blunder, 12, SEED)
    assert {name for name, share in shares.items() if share > 0.3} == sees


def test_a_factor_too_large_hides_a_low_unit_from_its_limits_but_not_from_a_verification() -> None:
    blunder = next(one for one in BLUNDERS if one.key == "K up")
    shares = noticed.shares(blunder, 12, SEED, -0.2)  # 0.8 × 1.27 = 1.02 of design
    assert shares["design_airflow"] < 0.3
    assert shares["two_finals_agree"] > 0.7


def test_few_readings_are_covered_by_students_factor() -> None:
    for line in budgets.few_readings(400, SEED):
        if line.case.endswith("normal"):
            assert line.coverage * 400 >= binom.ppf(1e-4, 400, 0.95), line.case
    for line in budgets.mixed(400, SEED):
        assert line.coverage * 400 >= binom.ppf(1e-4, 400, 0.94), line.case


def test_the_linear_fraction_agrees_with_draws_where_it_is_usable() -> None:
    by_difference = {line.difference_k: line for line in budgets.outdoor_fractions(400, SEED)}
    wide, narrow = by_difference[20.0], by_difference[2.0]
    assert wide.linear_width == pytest.approx(wide.drawn_width, rel=0.05)
    assert wide.linear * 400 >= binom.ppf(1e-4, 400, 0.95)
    assert narrow.drawn_width > 1.03 * narrow.linear_width  # a quotient of small differences has long tails
    assert narrow.usable < 0.01 < 0.99 < wide.usable


def test_the_page_is_of_these_circumstances_and_this_seed() -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert f"seed {SEED}, {TRIALS} visits" in text.replace("\n", " ")
    rows = dict(re.findall(r"^\| ([A-Z]\d+) \| .*? \| .*? \| (\d+\.\d) % \|", text, re.MULTILINE))
    assert set(rows) == set(BY_KEY)
    assert [key for key in VALID if float(rows[key]) < 100.0 * GOAL] == re.findall(
        r"^\| ([A-Z]\d+) .*below 94", text, re.MULTILINE
    )
    assert all(float(rows[key]) < 100.0 * GOAL for key in NOT_COVERED)
