"""Screens of trend logs against arithmetic on paper and against scipy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from commissioning.engineering.signals import Signal
from commissioning.engineering.temporal import in_band, is_on
from commissioning.engineering.trend_lines import block_average, straight_line
from commissioning.engineering.trend_screens import held_before, lasting, schedule_edges, stood_still

NAN = math.nan


def log(*pairs: tuple[float, float], end: float) -> Signal:
    return Signal(np.array([at for at, _ in pairs] + [end]), np.array([level for _, level in pairs]))


def test_what_has_held_for_a_window_is_known_a_window_after_it_began() -> None:
    # on from 100 to 400: for 60 s on from 160 on, and until 400
    claim = held_before(claim=is_on(signal=log((0, 0), (100, 1), (400, 0), end=600)), window_s=60.0)
    holds = [
        (float(a), float(b))
        for a, b, least in zip(claim.times_s, claim.times_s[1:], claim.least, strict=False)
        if least > 0
    ]
    assert (min(a for a, _ in holds), max(b for _, b in holds)) == (160.0, 400.0)


def test_two_short_failures_are_not_one_long_one() -> None:
    claim = in_band(signal=log((0, 1), (100, -1), (200, 1), (300, -1), (400, 1), end=500), low=0.0)
    assert lasting(claim=claim, at_least_s=150.0).outcome == "holds"
    assert [one.from_s for one in lasting(claim=claim, at_least_s=100.0).stretches] == [100.0, 300.0]
    assert lasting(claim=claim, at_least_s=100.0).failing_s == 200.0


def test_a_failure_that_needs_a_gap_to_last_long_enough_is_unknown() -> None:
    claim = in_band(signal=log((0, 1), (100, -1), (150, NAN), (250, 1), end=300), low=0.0)
    found = lasting(claim=claim, at_least_s=120.0)  # 50 s for certain, up to 150 s
    assert (found.outcome, found.unknown_s) == ("unknown", 100.0)
    assert lasting(claim=claim, at_least_s=50.0).outcome == "fails"
    assert lasting(claim=claim, at_least_s=200.0).outcome == "holds"


def test_a_sensor_that_stands_still_is_told_by_one_that_moves_and_not_by_a_gap() -> None:
    stuck = log((0, 5.0), (100, 7.0), (900, NAN), (1700, 7.0), end=2000)
    moving = log((0, 1.0), (500, 4.0), (1000, 9.0), end=2000)
    found = stood_still(signal=stuck, quiet=0.0, at_least_s=600.0, others=[moving], moves=[2.0])
    assert [(one.from_s, one.to_s, one.level, one.moved) for one in found] == [(100.0, 900.0, 7.0, 3.0)]
    assert not stood_still(signal=stuck, quiet=0.0, at_least_s=900.0, others=[moving], moves=[2.0])
    assert not stood_still(signal=stuck, quiet=0.0, at_least_s=600.0, others=[moving], moves=[3.0])
    flickers = log((0, 5.0), (100, 7.0), (500, 7.1), (600, 7.0), (900, 9.0), end=1200)
    assert not stood_still(signal=flickers, quiet=0.0, at_least_s=600.0, others=[moving], moves=[2.0])
    assert stood_still(signal=flickers, quiet=0.2, at_least_s=600.0, others=[moving], moves=[2.0])


def test_what_moves_at_the_very_end_of_a_stretch_does_not_tell_that_a_sensor_stands_still() -> None:
    still = log((0, 5.0), (1000, 7.0), end=2000)
    fan = log((0, 0.0), (990, 1.0), end=2000)
    assert stood_still(signal=still, quiet=0.0, at_least_s=600.0, others=[fan], moves=[0.5])
    assert not stood_still(signal=still, quiet=0.0, at_least_s=600.0, others=[fan], moves=[0.5], inset_s=60.0)


def test_a_schedule_is_followed_early_late_never_and_unknown() -> None:
    at = np.array([10_000.0])
    cases = {
        "early": (log((0, 0), (9_400, 1), end=20_000), (-600.0, -600.0)),
        "late": (log((0, 0), (10_900, 1), end=20_000), (900.0, 900.0)),
        "never": (log((0, 0), end=20_000), (1800.0, math.inf)),
        "long before": (log((0, 1), end=20_000), (-math.inf, -1800.0)),
        "in a gap": (log((0, 0), (9_800, NAN), (10_300, 1), end=20_000), (-200.0, 300.0)),
    }
    for name, (signal, bounds) in cases.items():
        (edge,) = schedule_edges(state=is_on(signal=signal), edges_s=at, on=[True], reach_s=1800.0)
        assert (edge.earliest_s, edge.latest_s) == bounds, name
    dark = is_on(signal=log((0, NAN), end=20_000))
    assert not schedule_edges(state=dark, edges_s=at, on=[True], reach_s=1800.0)


def test_a_straight_line_and_its_uncertainties_are_those_of_scipy_where_residuals_do_not_follow_one_another() -> None:
    draw = np.random.default_rng(3)
    x = draw.uniform(600.0, 1000.0, 4_000)
    y = 0.2 + 0.001 * x + np.tile([0.01, -0.01], 2_000)  # each residual of the other sign: nothing follows
    ours, theirs = straight_line(x=x, y=y), stats.linregress(x, y)
    assert ours.slope == pytest.approx(theirs.slope, rel=1e-9)
    assert ours.y(0.0) == pytest.approx(theirs.intercept, rel=1e-9)
    assert ours.slope_uncertainty == pytest.approx(theirs.stderr, rel=1e-6)
    assert ours.y_uncertainty(0.0) == pytest.approx(theirs.intercept_stderr, rel=1e-6)


def test_residuals_that_follow_one_another_widen_the_line_s_doubt_to_about_what_repeats_show() -> None:
    slopes, stated = [], []
    for seed in range(60):
        draw = np.random.default_rng(seed)
        x, noise = np.linspace(0.0, 1.0, 300), np.zeros(300)
        for i in range(1, 300):
            noise[i] = 0.8 * noise[i - 1] + draw.normal()
        found = straight_line(x=x, y=noise)
        slopes.append(found.slope)
        stated.append(found.slope_uncertainty)
    assert np.mean(stated) == pytest.approx(np.std(slopes), rel=0.3)


def test_an_average_s_doubt_is_that_of_its_blocks() -> None:
    draw = np.random.default_rng(1)
    values = draw.normal(2.0, 1.0, 400)
    found = block_average(times_s=np.arange(400.0), values=values, block_s=40.0)
    assert found is not None
    means = values.reshape(10, 40).mean(axis=1)
    assert found.uncertainty == pytest.approx(stats.sem(means), rel=1e-12)
    alone = block_average(times_s=np.arange(60.0), values=values[:60], block_s=40.0)
    assert alone is not None
    assert math.isinf(alone.uncertainty)
