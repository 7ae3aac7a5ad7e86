"""Rounding to a step, a half away from zero, against decimal arithmetic."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissioning.engineering.rounding import round_half_up


@given(st.integers(-10_000_000, 10_000_000), st.sampled_from(["0.01", "0.1", "0.05", "1", "5", "10"]))
def test_it_is_decimal_rounding(thousandths: int, step: str) -> None:
    """Python's decimal module, ROUND_HALF_UP, which rounds a half away from zero; equal to the last bit."""
    value = Decimal(thousandths) / 1000
    expected = (value / Decimal(step)).quantize(Decimal(1), rounding=ROUND_HALF_UP) * Decimal(step)
    assert round_half_up(float(value), step=float(step)) == float(expected)


@pytest.mark.parametrize(
    ("value", "step", "rounded"),
    [
        (0.497, 1.0, 0.0),
        (0.5, 1.0, 1.0),
        (-0.5, 1.0, -1.0),
        (0.07, 0.01, 0.07),
        (0.3 * 7.4, 0.3, 0.3 * 7),  # a step that no whole number of divides 1
        (2.4, 0.75, 2.25),
        (7.6, 1.5, 7.5),
        (3.6, 2.4, 4.8),
    ],
)
def test_steps_by_hand(value: float, step: float, rounded: float) -> None:
    assert round_half_up(value, step=step) == pytest.approx(rounded, rel=1e-12)


@pytest.mark.parametrize("value", [0.2, -0.2, 0.0, -0.0])
def test_nothing_is_plain_nothing(value: float) -> None:
    assert math.copysign(1.0, round_half_up(value)) == 1.0
    assert round_half_up(value) == 0.0
