"""What a motor bears is the derating read the other way round, and nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.motors import unbalance_derating
from commissioning.engineering.unbalance_allowance import allowed_voltage_unbalance


@given(load=st.floats(0.75, 1.0))
def test_at_the_allowed_unbalance_the_derated_motor_just_carries_its_load(load: float) -> None:
    allowed = float(allowed_voltage_unbalance(load_share=load))
    assert float(unbalance_derating(voltage_unbalance=allowed)) == pytest.approx(load, abs=1e-12)


def test_never_less_than_no_derating_and_never_more_than_do_not_operate() -> None:
    """NEMA MG 1, 14.36 (from memory): 1 % needs no derating, above 5 % a motor should not be operated."""
    found = allowed_voltage_unbalance(load_share=np.array([0.0, 0.5, 0.75, 1.0, 1.5]))
    assert np.asarray(found).tolist() == [0.05, 0.05, 0.05, 0.01, 0.01]


def test_a_negative_load_is_refused() -> None:
    with pytest.raises(OutOfRange):
        allowed_voltage_unbalance(load_share=-0.1)
