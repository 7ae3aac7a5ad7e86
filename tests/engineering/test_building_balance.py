"""Leakage and offsets against the published rows, and the sign of an offset under shared instruments."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from commissioning.engineering.building_balance import (
    Stream,
    effective_leakage_area_m2,
    envelope_leakage_m3_s,
    leakage_airflow_m3_s,
    supply_exhaust_offset,
    worst_case_offset_m3_s,
)
from commissioning.engineering.conformity import Limits, Verdict
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.units import INCH_OF_WATER_20C_PA, from_si, to_si
from tests.engineering.reference_rows import Row, hold, parameters


def in_inch_pounds(area_ft2: float, inches: float, coefficient: float) -> Any:
    """With the density and the inch of water behind the handbook's 4005."""
    pressure = to_si(inches, "in_wc", inch_of_water_pa=INCH_OF_WATER_20C_PA)
    density = 2.0 * INCH_OF_WATER_20C_PA / (4005.0 * 0.00508) ** 2
    flow = leakage_airflow_m3_s(
        area_m2=to_si(area_ft2, "ft2"),
        pressure_difference_pa=pressure,
        density_kg_m3=density,
        discharge_coefficient=coefficient,
    )
    return from_si(flow, "cfm")


def door(pressure_pa: float) -> float:
    """UK practice counts 0.83 A sqrt(dp), which is a coefficient of 0.643 at 1.2 kg/m3."""
    coefficient = 0.83 / math.sqrt(2.0 / 1.2)
    flow = leakage_airflow_m3_s(area_m2=0.04, pressure_difference_pa=pressure_pa, discharge_coefficient=coefficient)
    return 1000.0 * float(flow)


CHECKS: dict[str, Callable[[], Any]] = {
    "T10.01": lambda: leakage_airflow_m3_s(area_m2=1.0, pressure_difference_pa=1.0),
    "T10.02": lambda: in_inch_pounds(1.0, 1.0, 0.65),
    "T10.03": lambda: door(25.0),
    "T10.04": lambda: door(10.0),
    "T10.05": lambda: in_inch_pounds(2.0, 0.05, 1.0),
    "T10.06": lambda: envelope_leakage_m3_s(coefficient=0.05, exponent=0.65, pressure_difference_pa=5.0),
    "T10.07": lambda: effective_leakage_area_m2(coefficient=0.05, exponent=0.65),
    "T10.08": lambda: leakage_airflow_m3_s(area_m2=0.15, pressure_difference_pa=5.0),
    "T10.09": lambda: (
        100.0
        * supply_exhaust_offset(supplied=(Stream("SA", 5.2, 0.1),), exhausted=(Stream("EA", 4.9, 0.1),)).relative_offset
    ),
}


@pytest.mark.parametrize(("row", "check"), parameters("building_balance", CHECKS))
def test_published(row: Row, check: Callable[[], Any]) -> None:
    hold(row, check())


def test_a_hole_of_the_effective_area_leaks_as_the_envelope_does() -> None:
    area = effective_leakage_area_m2(coefficient=0.05, exponent=0.65, reference_pressure_pa=10.0)
    hole = leakage_airflow_m3_s(area_m2=area, pressure_difference_pa=10.0, discharge_coefficient=1.0)
    assert hole == pytest.approx(envelope_leakage_m3_s(coefficient=0.05, exponent=0.65, pressure_difference_pa=10.0))


def test_leakage_takes_the_sign_of_the_pressure() -> None:
    found = leakage_airflow_m3_s(area_m2=0.1, pressure_difference_pa=np.array([-4.0, 0.0, 4.0]))
    assert found == pytest.approx(np.array([-1.0, 0.0, 1.0]) * 0.1 * 0.65 * math.sqrt(8.0 / 1.2))


def offset(supply: float, exhaust: float, instrument: str | None) -> Any:
    return supply_exhaust_offset(
        supplied=(Stream("SA", supply, 0.025 * supply, instrument),),
        exhausted=(Stream("EA", exhaust, 0.025 * exhaust, instrument),),
        required=Limits(low=0.0),
        rule="guarded_acceptance",
    )


def test_a_shared_instrument_makes_the_sign_certain() -> None:
    shared, apart = offset(1.05, 1.0, "probe"), offset(1.05, 1.0, None)
    assert shared.offset_m3_s == pytest.approx(0.05) == apart.offset_m3_s
    assert shared.standard_uncertainty_m3_s == pytest.approx(0.025 * 0.05)
    assert shared.sign_is_certain
    assert shared.assessment.verdict is Verdict.CONFORMS
    assert not apart.sign_is_certain
    assert apart.assessment.verdict is Verdict.INCONCLUSIVE


def test_only_what_the_instrument_shares_cancels() -> None:
    """u 0.05 each, 0.04 of it the probe's: own 0.03 each. Against one another 0.03 √2; summed √(0.08² + 2 · 0.03²)."""
    supply, other = (Stream(name, 2.0, 0.05, "probe", 0.04) for name in ("SA", "EA"))
    against = supply_exhaust_offset(supplied=(supply,), exhausted=(other,))
    assert against.standard_uncertainty_m3_s == pytest.approx(0.03 * math.sqrt(2.0))
    together = supply_exhaust_offset(supplied=(supply, other), exhausted=())
    assert together.standard_uncertainty_m3_s == pytest.approx(math.sqrt(0.08**2 + 2 * 0.03**2))
    with pytest.raises(OutOfRange, match="shared uncertainty of SA"):
        supply_exhaust_offset(supplied=(Stream("SA", 2.0, 0.05, "probe", 0.06),), exhausted=())


@given(flows=st.lists(st.floats(0.1, 20.0), min_size=2, max_size=8), share=st.floats(0.0, 1.0))
def test_the_offset_s_uncertainty_against_a_library(flows: list[float], share: float) -> None:
    """uncertainties 3: one variable for the probe, one for each stream's own part."""
    probe = ufloat(0.0, 1.0)
    streams, expected = [], 0.0
    for number, flow in enumerate(flows):
        u = 0.03 * flow
        shared, own = share * u, u * math.sqrt(1.0 - share**2)
        sign = 1.0 if number % 2 == 0 else -1.0
        expected = expected + sign * (flow + shared * probe + own * ufloat(0.0, 1.0))
        streams.append(Stream(f"S{number}", flow, u, "probe", shared))
    found = supply_exhaust_offset(supplied=tuple(streams[::2]), exhausted=tuple(streams[1::2]))
    assert found.offset_m3_s == pytest.approx(expected.n, abs=1e-9)  # type: ignore[attr-defined]
    assert found.standard_uncertainty_m3_s == pytest.approx(expected.s, abs=1e-9)  # type: ignore[attr-defined]


@given(
    supply=st.floats(0.1, 50.0), exhaust=st.floats(0.0, 50.0), low=st.floats(0.0, 0.3), high=st.floats(0.0, 0.3),
    where=st.floats(0.0, 1.0),
)  # fmt: skip
def test_nothing_within_the_tolerances_lies_below_the_worst_case(
    supply: float, exhaust: float, low: float, high: float, where: float
) -> None:
    worst = worst_case_offset_m3_s(
        supply_airflow_m3_s=supply,
        supply_low_tolerance=low,
        exhaust_airflow_m3_s=exhaust,
        exhaust_high_tolerance=high,
    )
    measured = supply * (1.0 - low * where) - exhaust * (1.0 + high * where)
    assert measured >= float(worst) - 1e-9


@given(area=st.floats(0.001, 10.0), pressure=st.floats(-100.0, 100.0), times=st.floats(1.0, 9.0))
def test_leakage_goes_with_the_area_and_the_root_of_the_pressure(area: float, pressure: float, times: float) -> None:
    one = leakage_airflow_m3_s(area_m2=area, pressure_difference_pa=pressure)
    wide = leakage_airflow_m3_s(area_m2=area * times, pressure_difference_pa=pressure)
    hard = leakage_airflow_m3_s(area_m2=area, pressure_difference_pa=pressure * times)
    assert wide == pytest.approx(times * float(one), rel=1e-9)
    assert hard == pytest.approx(math.sqrt(times) * float(one), rel=1e-9)


def test_flows_conform_and_the_offset_reverses() -> None:
    """Supply 0.92 of its design and exhaust 1.08 of its: each within 10 %, and the room turns negative."""
    found = supply_exhaust_offset(
        supplied=(Stream("SA", 0.92, 0.01),), exhausted=(Stream("EA", 0.972, 0.01),), required=Limits(low=0.0)
    )
    assert found.offset_m3_s < 0.0
    assert found.assessment is not None
    assert found.assessment.verdict is Verdict.DOES_NOT_CONFORM
    worst = worst_case_offset_m3_s(
        supply_airflow_m3_s=1.0, supply_low_tolerance=0.1, exhaust_airflow_m3_s=0.9, exhaust_high_tolerance=0.1
    )
    assert worst < found.offset_m3_s


def test_offset_refuses() -> None:
    with pytest.raises(ValueError, match="at least one supplied stream"):
        supply_exhaust_offset(supplied=(), exhausted=(Stream("EA", 1.0, 0.1),))
    with pytest.raises(ValueError, match="twice: SA"):
        supply_exhaust_offset(supplied=(Stream("SA", 1.0, 0.1),), exhausted=(Stream("SA", 1.0, 0.1),))
    with pytest.raises(OutOfRange, match="airflow of SA is -1 m3/s"):
        supply_exhaust_offset(supplied=(Stream("SA", -1.0, 0.1),), exhausted=())
    nothing_required = supply_exhaust_offset(supplied=(Stream("SA", 1.0, 0.1),), exhausted=())
    assert nothing_required.assessment is None
