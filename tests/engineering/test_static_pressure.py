"""Pressure drops at other airflows against the published rows read backwards, and the wind against its own equation."""

from __future__ import annotations

import fluids
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.pressure_drop import pressure_drop_airflow_m3_s
from commissioning.engineering.static_pressure import expected_pressure_drop_pa, fan_total_rise_pa, wind_pressure_pa


@pytest.mark.parametrize(("exponent", "airflow_cfm"), [(1.8, 867.9624675995701), (2.0, 880.3408430829503)])
def test_published_airflows_give_their_pressure_drop_again(exponent: float, airflow_cfm: float) -> None:
    """T3.07 and T3.08 the other way round: 0.80 in. at 1000 cfm is 0.62 in. at 868 cfm (n 1.8) or 880 cfm (n 2)."""
    found = expected_pressure_drop_pa(
        design_pressure_drop_pa=0.80, airflow_ratio=airflow_cfm / 1000.0, exponent=exponent
    )
    assert found == pytest.approx(0.62, abs=1e-9)


@given(n=st.floats(1.0, 2.0), ratio=st.floats(0.1, 2.5), drop=st.floats(5.0, 1000.0))
def test_it_is_the_inverse_of_the_airflow_from_a_drop(n: float, ratio: float, drop: float) -> None:
    here = expected_pressure_drop_pa(design_pressure_drop_pa=drop, airflow_ratio=ratio, exponent=n)
    back = pressure_drop_airflow_m3_s(
        pressure_drop_pa=min(float(here), 10_000.0), rated_airflow_m3_s=1.0, rated_pressure_drop_pa=drop, exponent=n
    )
    assert back == pytest.approx(ratio, rel=1e-9)


@given(n=st.floats(1.0, 2.0), low=st.floats(0.0, 1.4), more=st.floats(0.01, 1.0))
def test_more_air_drops_more(n: float, low: float, more: float) -> None:
    drops = [
        expected_pressure_drop_pa(design_pressure_drop_pa=100.0, airflow_ratio=ratio, exponent=n)
        for ratio in (low, low + more)
    ]
    assert drops[1] > drops[0]


def test_wind_against_an_open_library() -> None:
    """fluids: a head of v²/2g at 1.2 kg/m³."""
    head = fluids.core.head_from_P(float(wind_pressure_pa(wind_m_s=5.0)), 1.2)
    assert head == pytest.approx(5.0**2 / (2.0 * 9.80665))


def test_refusals() -> None:
    with pytest.raises(OutOfRange, match=r"exponent is 2\.5"):
        expected_pressure_drop_pa(design_pressure_drop_pa=100.0, airflow_ratio=1.0, exponent=2.5)
    with pytest.raises(OutOfRange, match="wind speed"):
        wind_pressure_pa(wind_m_s=-1.0)
    with pytest.raises(OutOfRange, match="inlet velocity pressure"):
        fan_total_rise_pa(
            outlet_static_pa=1.0, outlet_velocity_pressure_pa=1.0, inlet_static_pa=1.0, inlet_velocity_pressure_pa=-1.0
        )
