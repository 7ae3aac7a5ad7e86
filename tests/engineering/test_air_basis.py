"""A schedule's air basis with its own reference density, against the published row and a psychrometric library."""

from __future__ import annotations

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissioning.engineering.air_basis import StatedAirflow, restated_airflow
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.moist_air import moist_air
from commissioning.engineering.units import STANDARD_DENSITY_0_075_LB_FT3_KG_M3, from_si, to_si
from tests.engineering.reference_rows import hold, rows


def test_published() -> None:
    """T3.10: 1000 acfm at 5000 ft, 70 degF dry, is 830.8 scfm at 0.075 lb/ft3."""
    air = moist_air(dry_bulb_c=to_si(70.0, "degF"), elevation_m=to_si(5000.0, "ft"), humidity_ratio=0.0)
    actual = StatedAirflow(float(to_si(1000.0, "cfm")), "actual", float(air.density_kg_m3))
    standard = restated_airflow(stated=actual, basis="standard", density_kg_m3=STANDARD_DENSITY_0_075_LB_FT3_KG_M3)
    hold(rows("flow_station")["T3.10"], from_si(standard.airflow_m3_s, "cfm"))


def test_two_standards_are_not_the_same_number() -> None:
    """0.075 lb/ft3 is 1.201385 kg/m3 (T1.23): 1000 scfm of it are 1001.15 at 1.2 and 997.83 at 1.204."""
    scheduled = StatedAirflow(1000.0, "standard", STANDARD_DENSITY_0_075_LB_FT3_KG_M3)
    at = {
        density: restated_airflow(stated=scheduled, basis="standard", density_kg_m3=density).airflow_m3_s
        for density in (1.2, 1.204)
    }
    assert at[1.2] == pytest.approx(1001.154, abs=1e-3)
    assert at[1.204] == pytest.approx(997.828, abs=1e-3)


@given(st.floats(0.01, 20.0), st.floats(-25.0, 45.0), st.floats(0.05, 0.95), st.floats(70_000.0, 105_000.0))
def test_a_round_trip_through_the_library_density(flow: float, dry_bulb: float, share: float, pressure: float) -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    ratio = psychrolib.GetHumRatioFromRelHum(dry_bulb, share, pressure)
    library = psychrolib.GetMoistAirDensity(dry_bulb, ratio, pressure)
    ours = float(moist_air(dry_bulb_c=dry_bulb, relative_humidity=share, pressure_pa=pressure).density_kg_m3)
    actual = restated_airflow(stated=StatedAirflow(flow, "standard", 1.2), basis="actual", density_kg_m3=ours)
    assert actual.airflow_m3_s * library == pytest.approx(flow * 1.2, rel=1e-6)
    assert actual.mass_flow_kg_s == pytest.approx(flow * 1.2)
    assert actual.basis == "actual"


def test_refuses() -> None:
    with pytest.raises(ValueError, match="actual or standard, not 'net'"):
        StatedAirflow(1.0, "net", 1.2)  # type: ignore[arg-type]
    with pytest.raises(OutOfRange, match=r"density is 0\.075 kg/m3"):
        restated_airflow(stated=StatedAirflow(1.0, "actual", 1.2), basis="standard", density_kg_m3=0.075)
    with pytest.raises(OutOfRange, match="airflow is -1"):
        StatedAirflow(-1.0, "actual", 1.2)
