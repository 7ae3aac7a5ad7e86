"""Exchangers against the published rows, an open heat-transfer library, and their own inverses."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ht.hx
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissioning.engineering.exchanger import (
    Exchanger,
    defrost_time_fraction,
    effectiveness,
    effectiveness_at_flows,
    effectiveness_between_ratings,
    effectiveness_from_ntu,
    energy_closure,
    exhaust_air_transfer_ratio,
    gross_airflow_for_net_m3_s,
    leakage_corrected_effectiveness,
    leaving_supply,
    net_effectiveness,
    net_outdoor_airflow_m3_s,
    ntu_from_effectiveness,
    outdoor_air_correction_factor,
    recovery_efficiency_ratio,
    rotary_effectiveness,
    temperature_ratio,
)
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.moist_air import MoistAir, moist_air, moist_air_enthalpy_j_kg
from commissioning.engineering.uncertainty import Input, propagate
from commissioning.engineering.units import from_si, to_si
from tests.engineering.reference_rows import Row, hold, parameters, rows

P_PA = float(to_si(14.696, "psi"))
FLOWS: dict[str, float] = {"supply_mass_flow_kg_s": 1.2, "exhaust_mass_flow_kg_s": 1.0}
EQUAL: dict[str, float] = {"supply_mass_flow_kg_s": 1.0, "exhaust_mass_flow_kg_s": 1.0}


def state(dry_bulb_f: float, wet_bulb_f: float) -> MoistAir:
    return moist_air(dry_bulb_c=to_si(dry_bulb_f, "degF"), wet_bulb_c=to_si(wet_bulb_f, "degF"), pressure_pa=P_PA)


RATING_POINTS = {"T7.01": (95.0, 78.0), "T7.02": (75.0, 63.0), "T7.03": (35.0, 33.0), "T7.04": (70.0, 58.0)}
DATUM_J_KG = float(moist_air_enthalpy_j_kg(dry_bulb_c=to_si(0.0, "degF"), humidity_ratio=0.0))


def summer_supply() -> tuple[float, float, float]:
    """Temperature [degC], humidity ratio and enthalpy [J/kg] that leave at 0.70 sensible and 0.60 latent."""
    outdoor, returned = state(95.0, 78.0), state(75.0, 63.0)
    temperature = leaving_supply(effectiveness=0.70, outdoor=outdoor.dry_bulb_c, return_=returned.dry_bulb_c, **EQUAL)
    ratio = leaving_supply(effectiveness=0.60, outdoor=outdoor.humidity_ratio, return_=returned.humidity_ratio, **EQUAL)
    enthalpy = moist_air_enthalpy_j_kg(dry_bulb_c=temperature, humidity_ratio=ratio)
    return float(temperature), float(ratio), float(enthalpy)


def total_summer_effectiveness() -> float:
    outdoor, returned = state(95.0, 78.0), state(75.0, 63.0)
    return float(
        effectiveness(outdoor=outdoor.enthalpy_j_kg, supply=summer_supply()[2], return_=returned.enthalpy_j_kg, **EQUAL)
    )


def summer_recovery_btu_h() -> float:
    change = float(state(95.0, 78.0).enthalpy_j_kg) - summer_supply()[2]
    mass_flow = float(to_si(1000.0, "cfm")) * float(to_si(0.075, "lb/ft3"))
    return mass_flow * change * 3600.0 / 1055.05585262


def crossflow_test() -> tuple[float, float]:
    def sensible(t1: float, t2: float, t3: float, flow_ratio: float) -> float:
        return float(
            effectiveness(
                supply_mass_flow_kg_s=flow_ratio, exhaust_mass_flow_kg_s=1.0, outdoor=t1, supply=t2, return_=t3
            )
        )

    value, budget = propagate(
        sensible,
        {
            "t1": Input(-5.0, 0.2),
            "t2": Input(12.5, 0.2),
            "t3": Input(22.0, 0.2),
            "flow_ratio": Input(1.2, 0.036),
        },
    )
    assert budget.dominant == "flow_ratio"
    return value, budget.standard_uncertainty


def by_ntu(ntu: float, ratio: float, kind: str) -> Any:
    return effectiveness_from_ntu(ntu=ntu, capacity_ratio=ratio, kind=kind)


def between(supply: float, exhaust: float) -> Any:
    return effectiveness_between_ratings(
        effectiveness_75=0.81,
        effectiveness_100=0.76,
        supply_airflow_m3_s=supply,
        exhaust_airflow_m3_s=exhaust,
        nominal_airflow_m3_s=1.0,
    )


CHECKS: dict[str, Callable[[], Any]] = {
    "T7.06": total_summer_effectiveness,
    "T7.07": summer_recovery_btu_h,
    "T7.08": lambda: effectiveness(outdoor=-5.0, supply=12.5, return_=22.0, **FLOWS),
    "T7.09": lambda: temperature_ratio(outdoor=-5.0, supply=12.5, return_=22.0),
    "T7.10": lambda: exhaust_air_transfer_ratio(outdoor_tracer=0.5, supply_tracer=3.5, return_tracer=100.5),
    "T7.11": lambda: outdoor_air_correction_factor(outdoor_mass_flow_kg_s=1020.0, supply_mass_flow_kg_s=1000.0),
    "T7.12": lambda: net_outdoor_airflow_m3_s(supply_airflow_m3_s=1000.0, transfer_ratio=0.03),
    "T7.13": lambda: 1000.0 * gross_airflow_for_net_m3_s(net_airflow_m3_s=5.0, transfer_ratio=0.05),
    "T7.14": lambda: leakage_corrected_effectiveness(apparent_ratio=0.78, transfer_ratio=0.05),
    "T7.15": lambda: by_ntu(5.0, 0.7, "counterflow"),
    "T7.16": lambda: by_ntu(5.0, 0.7, "parallel"),
    "T7.17": lambda: by_ntu(5.0, 0.7, "crossflow_unmixed"),
    "T7.18": lambda: by_ntu(2.16007259528, 0.1424214226633, "crossflow_max_mixed"),
    "T7.19": lambda: by_ntu(1.0, 1.0, "crossflow_approximate"),
    "T7.20": lambda: by_ntu(2.0, 0.8, "counterflow"),
    "T7.21": lambda: rotary_effectiveness(counterflow_effectiveness=0.75, matrix_ratio=5.0),
    "T7.22": lambda: between(0.9, 0.9),
    "T7.24": lambda: 100.0 * energy_closure(outdoor=-5.0, supply=12.5, return_=22.0, exhaust=1.6, **FLOWS),
    "T7.26": lambda: (
        3.412141633 * recovery_efficiency_ratio(recovered_w=46_600.0 * 1055.05585262 / 3600.0, added_power_w=1150.0)
    ),
    "T7.27": lambda: defrost_time_fraction(
        outdoor_temperature_c=-20.0, threshold_temperature_c=-12.2, initial_fraction=0.083, rate_per_k=0.012
    ),
}
ELSEWHERE = [*RATING_POINTS, "T7.05", "T7.23", "T7.25"]


@pytest.mark.parametrize(("row", "check"), parameters("exchanger", CHECKS, elsewhere=ELSEWHERE))
def test_published(row: Row, check: Callable[[], Any]) -> None:
    hold(row, check())


@pytest.mark.parametrize(("id_", "bulbs"), RATING_POINTS.items())
def test_rating_points(id_: str, bulbs: tuple[float, float]) -> None:
    """W at the row's tolerance; h within what 0.240 and 0.2403 Btu/(lb degF) differ by, +-0.035."""
    ratio, enthalpy = rows("exchanger")[id_].expected
    found = state(*bulbs)
    assert found.humidity_ratio == pytest.approx(ratio, abs=2e-5)
    assert from_si(float(found.enthalpy_j_kg) - DATUM_J_KG, "Btu/lb") == pytest.approx(enthalpy, abs=0.035)


def test_leaving_supply_in_summer() -> None:
    """T7.05. Its W comes from I-P wet-bulb relations, 4e-6 away from the SI ones: so from the rows' own W here."""
    temperature, ratio, enthalpy = summer_supply()
    outdoor_ratio, return_ratio = (rows("exchanger")[id_].expected[0] for id_ in ("T7.01", "T7.02"))
    assert ratio == pytest.approx(0.012428, abs=2e-5)
    ratio = float(leaving_supply(effectiveness=0.60, outdoor=outdoor_ratio, return_=return_ratio, **EQUAL))
    assert from_si(temperature, "degF") == pytest.approx(81.00, abs=0.01)
    assert ratio == pytest.approx(0.012428, abs=2e-6)
    assert from_si(enthalpy - DATUM_J_KG, "Btu/lb") == pytest.approx(33.073, abs=0.035)


def test_unequal_flows_count_by_their_mean() -> None:
    """T7.23: 900 and 700 of 1000 is a ratio of 0.8."""
    assert between(0.9, 0.7) == pytest.approx(between(0.8, 0.8))
    for supply, exhaust in ((0.9, 0.4), (0.4, 0.4), (1.4, 1.4)):
        with pytest.raises(OutOfRange):
            between(supply, exhaust)


def test_uncertainty_of_an_effectiveness() -> None:
    """T7.25: 0.7778 +- 0.0258, and the flow ratio dominates."""
    value, uncertainty = crossflow_test()
    assert value == pytest.approx(0.7778, abs=0.0003)
    assert uncertainty == pytest.approx(0.0258, abs=0.0003)


ORACLE = {
    "counterflow": "counterflow",
    "parallel": "parallel",
    "crossflow_unmixed": "crossflow",
    "crossflow_max_mixed": "crossflow, mixed Cmax",
    "crossflow_min_mixed": "crossflow, mixed Cmin",
    "crossflow_approximate": "crossflow approximate",
}
ntus, capacity_ratios = st.floats(0.01, 10.0), st.floats(0.05, 0.999)


@pytest.mark.parametrize("kind", ORACLE)
@given(ntu=ntus, ratio=capacity_ratios)
def test_against_the_heat_transfer_library(kind: str, ntu: float, ratio: float) -> None:
    oracle = ht.hx.effectiveness_from_NTU(ntu, ratio, ORACLE[kind])  # type: ignore[no-untyped-call]
    assert by_ntu(ntu, ratio, kind) == pytest.approx(oracle, abs=1e-7)


@pytest.mark.parametrize("kind", [kind for kind in Exchanger if kind is not Exchanger.CROSSFLOW_APPROXIMATE])
@given(ntu=st.floats(0.0005, 8.0), ratio=st.floats(0.0, 1.0))
def test_effectiveness_lies_between_parallel_and_counterflow(kind: str, ntu: float, ratio: float) -> None:
    found = float(by_ntu(ntu, ratio, kind))
    assert float(by_ntu(ntu, ratio, "parallel")) - 1e-9 <= found <= float(by_ntu(ntu, ratio, "counterflow")) + 1e-9
    assert found <= float(by_ntu(ntu * 1.01, ratio, kind)) + 1e-9


@given(ntu=st.floats(0.1, 6.0), ratio=st.floats(0.0, 1.0))
def test_ntu_is_found_again(ntu: float, ratio: float) -> None:
    reached = float(by_ntu(ntu, ratio, "counterflow"))
    if reached < 0.999:
        found = ntu_from_effectiveness(effectiveness=reached, capacity_ratio=ratio, kind="counterflow")
        assert found == pytest.approx(ntu, rel=1e-5)


def test_an_effectiveness_out_of_reach() -> None:
    with pytest.raises(OutOfRange, match=r"effectiveness is 0\.6; it must lie in 0 to 0\.5"):
        ntu_from_effectiveness(effectiveness=0.6, capacity_ratio=1.0, kind="parallel")


def test_effectiveness_rises_as_the_flows_fall_and_part() -> None:
    def expected(supply: float, exhaust: float) -> float:
        return effectiveness_at_flows(
            rated_effectiveness=0.75,
            rated_mass_flow_kg_s=1.0,
            supply_mass_flow_kg_s=supply,
            exhaust_mass_flow_kg_s=exhaust,
            kind="counterflow",
        )

    assert expected(1.0, 1.0) == pytest.approx(0.75)
    assert expected(0.75, 0.75) == pytest.approx(0.8)
    assert expected(1.0, 0.8) == expected(0.8, 1.0) > 0.8
    assert expected(1.3, 0.3) > expected(1.3, 1.3)
    for supply, exhaust, message in (
        (1.0, 2.0, "exhaust mass flow is 2 kg/s"),
        (1.31, 1.0, "supply"),
        (0.29, 1.0, "supply"),
    ):
        with pytest.raises(OutOfRange, match=message):
            expected(supply, exhaust)


@given(share=st.floats(0.0, 1.0), supply=st.floats(0.5, 2.0), exhaust=st.floats(0.5, 2.0))
def test_leaving_supply_is_the_inverse_of_effectiveness(share: float, supply: float, exhaust: float) -> None:
    flows = {"supply_mass_flow_kg_s": supply, "exhaust_mass_flow_kg_s": exhaust}
    leaving = leaving_supply(effectiveness=share, outdoor=-5.0, return_=22.0, **flows)
    assert effectiveness(outdoor=-5.0, supply=leaving, return_=22.0, **flows) == pytest.approx(share, abs=1e-9)
    closing = 22.0 - supply / exhaust * (float(leaving) + 5.0)
    if share > 0.01:
        assert energy_closure(outdoor=-5.0, supply=leaving, return_=22.0, exhaust=closing, **flows) == pytest.approx(
            0.0, abs=1e-9
        )


@given(share=st.floats(0.0, 0.9), carried=st.floats(0.0, 0.3), supply=st.floats(0.5, 2.0), exhaust=st.floats(0.5, 2.0))
def test_a_mixture_is_taken_apart_again(share: float, carried: float, supply: float, exhaust: float) -> None:
    """What leaves at `share` is mixed with return air; the effectiveness of the mixture, net of it, is the share."""
    flows = {"supply_mass_flow_kg_s": supply, "exhaust_mass_flow_kg_s": exhaust}
    leaving = float(leaving_supply(effectiveness=share, outdoor=-5.0, return_=22.0, **flows))
    mixed = (1.0 - carried) * leaving + carried * 22.0
    read = effectiveness(outdoor=-5.0, supply=mixed, return_=22.0, **flows)
    assert net_effectiveness(effectiveness=read, transfer_ratio=carried, **flows) == pytest.approx(share, abs=1e-9)


def test_equal_entering_streams_say_nothing() -> None:
    with pytest.raises(OutOfRange, match="difference of the two streams is 0"):
        effectiveness(outdoor=20.0, supply=20.0, return_=20.0, **EQUAL)


def test_half_wheel_speed_barely_shows() -> None:
    full, half = np.asarray(rotary_effectiveness(counterflow_effectiveness=0.75, matrix_ratio=np.array([10.0, 5.0])))
    assert half / full - 1.0 == pytest.approx(-0.004, abs=0.001)


def test_above_the_threshold_nothing_is_defrosted() -> None:
    arguments = {"threshold_temperature_c": -5.0, "initial_fraction": 0.1, "rate_per_k": 0.5}
    found = defrost_time_fraction(outdoor_temperature_c=np.array([0.0, -5.1, -30.0]), **arguments)
    assert found == pytest.approx(np.array([0.0, 0.15, 1.0]))


@pytest.mark.parametrize("nominal", [0.25, 1.0, 4.0])
def test_ratings_go_by_the_share_of_the_nominal_flow(nominal: float) -> None:
    """r = 0.9 lies 0.6 of the way from 0.75 to 1: 0.81 + 0.6 (0.76 - 0.81) = 0.78, whatever the size of the unit."""
    found = effectiveness_between_ratings(
        effectiveness_75=0.81,
        effectiveness_100=0.76,
        supply_airflow_m3_s=0.9 * nominal,
        exhaust_airflow_m3_s=0.9 * nominal,
        nominal_airflow_m3_s=nominal,
    )
    assert found == pytest.approx(0.78, rel=1e-12)
