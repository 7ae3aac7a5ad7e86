"""The one refusal: quantity, value and range in the message, for numbers and arrays."""

from __future__ import annotations

import math
import pickle

import numpy as np
import pytest

from commissioning.engineering.guards import OutOfRange, plain, within


def test_refusal_carries_what_is_needed_to_act() -> None:
    with pytest.raises(OutOfRange) as caught:
        within("pressure", np.array([[1.0, 2.0], [9.0, 11.0]]), 0.0, 8.0, "Pa")
    refusal = caught.value
    assert (refusal.quantity, refusal.value, refusal.low, refusal.high, refusal.unit) == (
        "pressure",
        9.0,
        0.0,
        8.0,
        "Pa",
    )
    assert str(refusal) == "pressure is 9 Pa; it must lie in 0 to 8 Pa"
    assert str(pickle.loads(pickle.dumps(refusal))) == str(refusal)


def test_a_value_a_hair_outside_is_shown_in_full() -> None:
    with pytest.raises(OutOfRange, match=r"share is 1\.00000001; it must lie in 0 to 1$"):
        within("share", 1.00000001, 0.0, 1.0, "")


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, -1e-12])
def test_no_number_is_no_value(value: float) -> None:
    with pytest.raises(OutOfRange):
        within("share", value, 0.0, 1.0, "")


def test_the_range_may_differ_by_element() -> None:
    assert within("t", np.array([1.0, 5.0]), 0.0, np.array([1.0, 5.0]), "").tolist() == [1.0, 5.0]
    with pytest.raises(OutOfRange, match="t is 5; it must lie in 0 to 4"):
        within("t", np.array([1.0, 5.0]), 0.0, np.array([1.0, 4.0]), "")


def test_floats_stay_floats() -> None:
    assert type(plain(np.float64(1.0))) is float
    assert isinstance(plain(np.array([1.0])), np.ndarray)


def test_both_ends_of_a_range_lie_in_it() -> None:
    ends = np.array([0.0, 1.0])
    assert within("share", ends, 0.0, 1.0, "").tolist() == [0.0, 1.0]
    assert [within("share", end, 0.0, 1.0, "").item() for end in ends.tolist()] == [0.0, 1.0]
