"""A long series drawn by few points: what must be seen is seen, and nothing that was not logged."""

from itertools import pairwise

import numpy as np
import pytest

from commissioning.logs.reduce import Reduced, reduce, told_once

NAN = float("nan")


def _log(seed: int, count: int = 20_000) -> tuple[np.ndarray, np.ndarray]:
    chance = np.random.default_rng(seed)
    times = np.cumsum(chance.exponential(5.0, count) + 0.01)
    values = np.cumsum(chance.normal(0.0, 1.0, count))
    values[chance.integers(0, count, 40)] += 1000.0  # spikes of one sample
    values[chance.integers(0, count, 40)] = NAN
    return times, values


@pytest.mark.parametrize("seed", range(5))
def test_every_bucket_keeps_its_first_its_last_and_both_extremes(seed: int) -> None:
    times, values = _log(seed)
    found = reduce(times, values, start_s=times[0], end_s=times[-1], buckets=300)
    edges = np.linspace(times[0], times[-1], 301)
    known = ~np.isnan(values)
    for low, high in pairwise(edges):
        inside = values[known & (times >= low) & (times < high)]
        drawn = found.values[(found.times_s >= low) & (found.times_s < high)]
        drawn = drawn[~np.isnan(drawn)]
        if inside.size:
            assert (drawn[0], drawn.min(), drawn.max(), drawn[-1]) == (
                inside[0],
                inside.min(),
                inside.max(),
                inside[-1],
            )
    assert found.times_s.size <= 4 * 300 + 40 + 2
    assert bool(np.all(np.diff(found.times_s) > 0.0))


def test_only_what_was_logged_is_drawn() -> None:
    times, values = _log(7)
    found = reduce(times, values, start_s=times[500], end_s=times[-700], buckets=50)
    logged = set(zip(times.tolist(), values.tolist(), strict=True))
    drawn = [one for one in zip(found.times_s.tolist(), found.values.tolist(), strict=True) if one[1] == one[1]]
    assert set(drawn) <= logged


@pytest.mark.parametrize("buckets", [1, 3, 1000])
def test_no_line_runs_over_a_gap(buckets: int) -> None:
    times = np.concatenate([np.arange(0.0, 600.0, 1.0), np.arange(1800.0, 2400.0, 1.0)])
    values = np.sin(times / 50.0)
    found = reduce(times, values, start_s=0.0, end_s=2400.0, buckets=buckets, longest_gap_s=5.0)
    inside = (found.times_s > 599.0) & (found.times_s < 1800.0)
    assert np.isnan(found.values[inside]).tolist() == [True]
    by_change = reduce(times, values, start_s=0.0, end_s=2400.0, buckets=buckets)
    assert not np.isnan(by_change.values).any()


def test_a_sample_without_a_value_breaks_the_line_between_its_neighbours() -> None:
    found = reduce(np.arange(5.0), np.array([1.0, 2.0, NAN, 3.0, 4.0]), start_s=0.0, end_s=4.0, buckets=10)
    assert found.values.tolist()[:2] == [1.0, 2.0]
    assert np.isnan(found.values[2])
    assert found.values.tolist()[3:] == [3.0, 4.0]
    assert found.times_s.tolist() == [0.0, 1.0, 2.0, 3.0, 4.0]


def test_a_level_is_drawn_until_the_sample_that_has_no_value() -> None:
    """Of a log by change: on since 0, of unknown state from 50 on, off at 100."""
    times, values = np.array([0.0, 50.0, 100.0]), np.array([1.0, NAN, 0.0])
    found = reduce(times, values, start_s=0.0, end_s=100.0, buckets=10)
    assert found.times_s.tolist() == [0.0, 50.0, 100.0]


def test_a_window_has_the_sample_on_each_side_of_it() -> None:
    times = np.arange(0.0, 1000.0, 60.0)
    found = reduce(times, times, start_s=130.0, end_s=170.0, buckets=100)
    assert found.times_s.tolist() == [120.0, 180.0]
    assert found.samples == 0


def test_a_log_without_any_value_has_no_points() -> None:
    found = reduce(np.arange(3.0), np.full(3, NAN), start_s=0.0, end_s=2.0, buckets=10)
    assert found.times_s.size == 0


def test_a_window_without_length_is_refused() -> None:
    with pytest.raises(ValueError, match="longer than nothing"):
        reduce(np.arange(3.0), np.arange(3.0), start_s=2.0, end_s=2.0, buckets=10)


def test_a_level_that_is_said_again_and_again_is_drawn_by_its_ends() -> None:
    values = np.array([0.0, 0.0, 0.0, 1.0, 1.0, 1.0, NAN, 1.0])
    found = told_once(Reduced(np.arange(8.0), values, 8))
    assert found.times_s.tolist() == [0.0, 2.0, 3.0, 5.0, 6.0, 7.0]
