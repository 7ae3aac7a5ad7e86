"""The mean over a mixing box, and the uncertainty of an enthalpy through an open psychrometric library."""

from __future__ import annotations

import math

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from uncertainties import ufloat, wrap

from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.mixed_air import enthalpy_standard_uncertainty_j_kg, mixed_air_reading

BOX = np.array([11.2, 12.9, 12.1, 10.8, 13.3, 12.4, 11.7, 12.0, 12.6])


def test_the_mean_of_a_box() -> None:
    found = mixed_air_reading(readings=BOX, sensor_standard_uncertainty=0.0)
    assert found.mean == pytest.approx(np.mean(BOX))
    assert found.standard_uncertainty == pytest.approx(stats.sem(BOX))
    assert found.spread == pytest.approx(np.std(BOX, ddof=1))
    assert (found.points, found.enough_points) == (9, True)
    assert not mixed_air_reading(readings=BOX[:8], sensor_standard_uncertainty=0.0).enough_points


def test_sensor_and_stratification_add_to_it() -> None:
    found = mixed_air_reading(readings=BOX, sensor_standard_uncertainty=0.2, stratification_standard_uncertainty=0.3)
    assert found.standard_uncertainty == pytest.approx(math.sqrt(stats.sem(BOX) ** 2 + 0.04 + 0.09))


def test_one_reading_of_a_box_is_refused() -> None:
    with pytest.raises(OutOfRange, match="number of readings is 1; it must lie in 2"):
        mixed_air_reading(readings=12.0, sensor_standard_uncertainty=0.2)


def library_enthalpy(dry_bulb: float, share: float) -> float:
    ratio = psychrolib.GetHumRatioFromRelHum(dry_bulb, share, 90_000.0)
    return float(psychrolib.GetMoistAirEnthalpy(dry_bulb, ratio))


@given(st.floats(-20.0, 40.0).filter(lambda t: abs(t) > 0.1), st.floats(0.1, 0.9))
def test_uncertainty_of_enthalpy_through_the_libraries(dry_bulb: float, share: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    enthalpy = wrap(library_enthalpy)(ufloat(dry_bulb, 0.3), ufloat(share, 0.02))
    found = enthalpy_standard_uncertainty_j_kg(
        dry_bulb_c=dry_bulb,
        relative_humidity=share,
        pressure_pa=90_000.0,
        temperature_standard_uncertainty_k=0.3,
        humidity_standard_uncertainty=0.02,
    )
    assert found == pytest.approx(enthalpy.s, rel=1e-3)


def test_many_states_at_once() -> None:
    states = {"dry_bulb_c": np.array([0.0, 30.0]), "relative_humidity": np.array([1.0, 0.5])}
    found = np.asarray(
        enthalpy_standard_uncertainty_j_kg(
            **states,
            pressure_pa=101_325.0,
            temperature_standard_uncertainty_k=0.2,
            humidity_standard_uncertainty=0.02,
        )
    )
    assert found.shape == (2,)
    assert found[1] > found[0]
