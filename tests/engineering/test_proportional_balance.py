"""Proportional balancing: from the key outlet on, a branch comes into proportion and keeps its total."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.outlets import Outlet, branch_ratio
from commissioning.engineering.proportional_balance import Move, balancing_moves

BRANCH = [Outlet("D1", 0.10, 0.13), Outlet("D2", 0.20, 0.19), Outlet("D3", 0.10, 0.07), Outlet("D4", 0.05, 0.06)]


def carried_out(outlets: list[Outlet], moves: tuple[Move, ...]) -> list[Outlet]:
    """Each move as the docstring says: one outlet to its target, all others by the gain."""
    held = list(outlets)
    for move in moves:
        held = [
            Outlet(
                one.name,
                one.design_m3_s,
                move.target_m3_s if one.name == move.name else one.measured_m3_s * move.gain,
            )
            for one in held
        ]
    return held


def test_the_work_goes_from_the_key_outlet_on() -> None:
    """Ratios 1.3, 0.95, 0.7, 1.2: D3 is the key, then D2, D4, D1.

    The first move by hand: Q 0.45, r = 0.7 x 0.45 / (0.45 - 0.19 + 0.7 x 0.2) = 0.7875, D2 to 0.1575, the others gain
    (0.45 - 0.1575) / (0.45 - 0.19) = 1.125, which takes D3 from 0.7 to 0.7875.
    """
    moves = balancing_moves(BRANCH)
    assert [move.name for move in moves] == ["D2", "D4", "D1"]
    first = moves[0]
    assert (first.ratio, first.target_m3_s, first.gain) == pytest.approx((0.7875, 0.1575, 1.125))
    assert (first.before_m3_s, first.key_m3_s) == pytest.approx((0.19, 0.07875))
    assert moves[1].before_m3_s == pytest.approx(0.06 * 1.125)
    final = carried_out(BRANCH, moves)
    assert [one.ratio for one in final] == pytest.approx([1.0] * 4)  # the branch as a whole has its design


flows = st.lists(st.tuples(st.floats(0.02, 0.5), st.floats(0.3, 1.7)), min_size=1, max_size=8)


def branch_of(parts: list[tuple[float, float]]) -> list[Outlet]:
    return [Outlet(str(i), design, design * ratio) for i, (design, ratio) in enumerate(parts)]


@given(flows)
def test_a_branch_comes_into_proportion_and_each_outlet_is_moved_once(parts: list[tuple[float, float]]) -> None:
    outlets = branch_of(parts)
    moves = balancing_moves(outlets)
    final = carried_out(outlets, moves)
    ratios = [outlet.ratio for outlet in final]
    assert max(ratios) <= 1.02 * min(ratios) * (1 + 1e-9)
    assert branch_ratio(final) == pytest.approx(branch_ratio(outlets))
    assert len({move.name for move in moves}) == len(moves) < len(outlets)


@given(flows, st.randoms())
def test_the_order_of_the_list_does_not_matter(parts: list[tuple[float, float]], shuffle: random.Random) -> None:
    outlets = branch_of(parts)
    mixed = list(outlets)
    shuffle.shuffle(mixed)
    assert balancing_moves(mixed) == balancing_moves(outlets)


@given(flows, st.sampled_from([0.25, 0.5, 2.0, 8.0]))  # powers of two: ties stay ties
def test_twice_the_air_gives_twice_the_targets(parts: list[tuple[float, float]], scale: float) -> None:
    outlets = branch_of(parts)
    larger = [Outlet(one.name, one.design_m3_s * scale, one.measured_m3_s * scale) for one in outlets]
    for plain, scaled in zip(balancing_moves(outlets), balancing_moves(larger), strict=True):
        assert scaled.name == plain.name
        assert scaled.target_m3_s == pytest.approx(scale * plain.target_m3_s)
        assert scaled.ratio == pytest.approx(plain.ratio)


def test_a_branch_in_proportion_is_left_alone() -> None:
    assert balancing_moves([Outlet("D1", 0.1, 0.09), Outlet("D2", 0.2, 0.183)]) == ()  # 0.9 and 0.915
    assert balancing_moves([Outlet("D1", 0.1, 0.09)]) == ()
    for measured, moved in ((0.1834, []), (0.1838, ["D2"])):  # 0.917 and 0.919 beside 0.9 x 1.02 = 0.918
        moves = balancing_moves([Outlet("D1", 0.1, 0.09), Outlet("D2", 0.2, measured)])
        assert [move.name for move in moves] == moved


def test_where_the_key_outlet_moves_no_air_nothing_is_brought_down_to_it() -> None:
    assert balancing_moves([Outlet("D1", 0.1, 0.09), Outlet("D2", 0.2, 0.0)]) == ()


def test_refuses() -> None:
    with pytest.raises(OutOfRange, match="tolerance is 0"):
        balancing_moves(BRANCH, tolerance=0.0)
    with pytest.raises(ValueError, match="at least one outlet"):
        balancing_moves([])
