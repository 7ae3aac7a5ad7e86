"""Airflow by each method, and its kinds."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissioning.engineering.airflow import (
    actual_airflow_m3_s,
    airflow_from_velocity_m3_s,
    duct_area_m2,
    equivalent_diameter_m,
    hood_airflow_m3_s,
    standard_airflow_m3_s,
    station_airflow_m3_s,
    station_mass_flow_kg_s,
    station_standard_airflow_m3_s,
)
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.moist_air import moist_air_density_kg_m3, pressure_at_elevation_pa
from commissioning.engineering.units import STANDARD_DENSITY_0_075_LB_FT3_KG_M3, from_si, to_si
from tests.engineering.reference_rows import Row, hold, parameters

K_M3_S = float(to_si(120.0, "m3/h/Pa^0.5"))
STATION = {
    "pressure_difference_pa": 400.0,
    "factor_m3_s_per_sqrt_pa": K_M3_S,
    "density_kg_m3": 1.08,
    "reference_density_kg_m3": 1.2,
}


def density_at_5000_ft() -> float:
    return float(
        moist_air_density_kg_m3(
            dry_bulb_c=to_si(70.0, "degF"),
            humidity_ratio=0.0,
            pressure_pa=pressure_at_elevation_pa(elevation_m=to_si(5000.0, "ft")),
        )
    )


CHECKS = {
    "T3.03": lambda: station_airflow_m3_s(
        pressure_difference_pa=50.0,
        factor_m3_s_per_sqrt_pa=0.61 * 0.05 * math.sqrt(2.0 / 1.2),
        density_kg_m3=1.2,
        reference_density_kg_m3=1.2,
    ),
    "T3.04": lambda: from_si(station_airflow_m3_s(**(STATION | {"density_kg_m3": 1.2})), "m3/h"),
    "T3.05": lambda: from_si(station_airflow_m3_s(**STATION), "m3/h"),
    "T3.06": lambda: station_mass_flow_kg_s(**STATION),
    "T3.09": lambda: from_si(density_at_5000_ft(), "lb/ft3"),
    "T3.10": lambda: from_si(
        standard_airflow_m3_s(
            actual_airflow_m3_s=to_si(1000.0, "cfm"),
            density_kg_m3=density_at_5000_ft(),
            standard_density_kg_m3=STANDARD_DENSITY_0_075_LB_FT3_KG_M3,
        ),
        "cfm",
    ),
}


@pytest.mark.parametrize(
    ("row", "check"), parameters("flow_station", CHECKS, elsewhere=["T3.01", "T3.02", "T3.07", "T3.08"])
)
def test_published(row: Row, check: Callable[[], Any]) -> None:
    hold(row, check())


densities = st.floats(0.8, 1.4)
airflows = st.floats(0.0, 50.0)


@given(airflow=airflows, density=densities, standard=densities)
def test_standard_and_actual_are_inverse_and_not_swapped(airflow: float, density: float, standard: float) -> None:
    converted = standard_airflow_m3_s(
        actual_airflow_m3_s=airflow, density_kg_m3=density, standard_density_kg_m3=standard
    )
    assert converted * standard == pytest.approx(airflow * density)
    back = actual_airflow_m3_s(standard_airflow_m3_s=converted, density_kg_m3=density, standard_density_kg_m3=standard)
    assert back == pytest.approx(airflow)


@given(signal=st.floats(0.0, 2000.0), density=densities)
def test_the_three_forms_of_a_station_carry_the_same_mass(signal: float, density: float) -> None:
    station = STATION | {"pressure_difference_pa": signal, "density_kg_m3": density}
    mass = station_mass_flow_kg_s(**station)
    assert station_airflow_m3_s(**station) * density == pytest.approx(mass)
    standard = station_standard_airflow_m3_s(**station, standard_density_kg_m3=1.204)
    assert standard * 1.204 == pytest.approx(mass)


def test_thin_air_flows_faster_through_a_station() -> None:
    thin, thick = np.asarray(station_airflow_m3_s(**(STATION | {"density_kg_m3": np.array([1.0, 1.2])})))
    assert thin > thick


def test_a_station_in_inch_pound_units_reads_the_same() -> None:
    factor = to_si(1000.0, "cfm/in_wc^0.5")
    flow = station_airflow_m3_s(
        pressure_difference_pa=to_si(0.25, "in_wc"),
        factor_m3_s_per_sqrt_pa=factor,
        density_kg_m3=1.2,
        reference_density_kg_m3=1.2,
    )
    assert from_si(flow, "cfm") == pytest.approx(500.0)


def test_areas() -> None:
    assert duct_area_m2(width_m=0.6, height_m=0.4, lining_m=0.025) == pytest.approx(0.55 * 0.35)
    assert duct_area_m2(diameter_m=0.5, lining_m=0.05) == pytest.approx(math.pi * 0.04)
    diameter = equivalent_diameter_m(width_m=0.6, height_m=0.4)
    assert duct_area_m2(diameter_m=diameter) == pytest.approx(0.24)
    assert airflow_from_velocity_m3_s(average_velocity_m_s=5.0, area_m2=0.24) == pytest.approx(1.2)


@pytest.mark.parametrize("arguments", [{}, {"width_m": 1.0}, {"width_m": 1.0, "height_m": 1.0, "diameter_m": 1.0}])
def test_area_of_no_shape(arguments: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="give either diameter_m"):
        duct_area_m2(**arguments)


def test_refusals_name_quantity_value_and_range() -> None:
    with pytest.raises(OutOfRange, match=r"lining of the width is 0\.3 m; it must lie in 0 to 0\.3 m"):
        duct_area_m2(width_m=0.6, height_m=1.0, lining_m=0.3)
    with pytest.raises(OutOfRange, match=r"pressure difference is -3 Pa; it must lie in 0 to 10000 Pa"):
        station_airflow_m3_s(**(STATION | {"pressure_difference_pa": -3.0}))
    with pytest.raises(OutOfRange, match=r"reference density is 0\.075 kg/m3"):
        station_mass_flow_kg_s(**(STATION | {"reference_density_kg_m3": 0.075}))
    with pytest.raises(OutOfRange, match="area is 0 m2"):
        airflow_from_velocity_m3_s(average_velocity_m_s=5.0, area_m2=0.0)
    with pytest.raises(OutOfRange, match="standard density is 0 kg/m3"):
        standard_airflow_m3_s(actual_airflow_m3_s=1.0, density_kg_m3=1.2, standard_density_kg_m3=0.0)
    with pytest.raises(OutOfRange, match=r"hood reading is -0\.1 m3/s"):
        hood_airflow_m3_s(readings_m3_s=-0.1)


def test_hoods_sum_over_outlets_with_their_own_factors() -> None:
    total = hood_airflow_m3_s(readings_m3_s=np.array([0.1, 0.2]), factor=np.array([0.9, 1.1]))
    assert total == pytest.approx(0.31)
    assert hood_airflow_m3_s(readings_m3_s=0.1, factor=0.9) == pytest.approx(0.09)
    ports = hood_airflow_m3_s(readings_m3_s=np.array([[0.1, 0.2], [0.3, 0.4]]))
    assert ports == pytest.approx(np.array([0.3, 0.7]))
