"""Published and recomputed check values, through whole envelopes: readings in, airflow and verdict out.

The numbers carry the ids of the project's list of check values; where a source prints one it is named beside it.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from commissioning.engineering.conformity import Limits, conformance_probability
from commissioning.engineering.units import to_si
from tests.judging.builder import (
    cfm,
    conventions,
    direct,
    envelope,
    instrument,
    judged,
    port_design,
    position,
    reading,
)

CFM = 0.0004719474432
POUND_PER_CUBIC_FOOT = conventions(standard_density={"value": 0.075, "unit": "lb/ft3"})


def dry(dry_bulb: float, unit: str, pressure: float) -> dict[str, Any]:
    return {
        "dry_bulb": {"value": dry_bulb, "unit": unit},
        "humidity_ratio": {"value": 0.0, "unit": "kg/kg"},
        "pressure": {"value": pressure, "unit": "Pa"},
    }


def dry_of_density(density_kg_m3: float, dry_bulb_c: float = 20.0) -> dict[str, Any]:
    """Dry air of a density: p = ρ R T, R of dry air 287.042 J/(kg K) (ASHRAE Fundamentals 2017, chapter 1)."""
    return dry(dry_bulb_c, "degC", density_kg_m3 * 287.042 * (dry_bulb_c + 273.15))


def traverse(values: list[float], unit: str, side_in: float = 12.0, **changes: Any) -> dict[str, Any]:
    side = {"value": side_in, "unit": "in"}
    return {
        "method": "traverse",
        "reads": "velocity_pressure",
        "plane": {"shape": "rectangular", "width": side, "height": side},
        "layout": "log_tchebycheff",
        "readings": {"values": values, "unit": unit},
        "straight_upstream_diameters": 10.0,
        "straight_downstream_diameters": 5.0,
        **changes,
    }


def supply(method: dict[str, Any], air: dict[str, Any], **changes: Any) -> dict[str, Any]:
    place = position({"supply": port_design()})
    return judged(envelope([reading("supply", method)], air=air), place=place, **changes).measurement("supply")


def fpm(measurement: dict[str, Any], area_ft2: float = 1.0) -> float:
    """Airflow over area: feet per minute from cfm and square feet."""
    return float(measurement["actual_airflow_m3_s"]) / CFM / area_ft2


def test_t2_01_velocity_from_velocity_pressure() -> None:
    """T2.01: 100 Pa at 1.2 kg/m³ is 12.90994 m/s."""
    one = supply(traverse([100.0] * 25, "Pa"), dry_of_density(1.2))
    assert one["actual_airflow_m3_s"] / 0.3048**2 == pytest.approx(12.90994, abs=1e-4)


def test_t2_02_and_t2_05_a_quarter_inch_at_standard_air() -> None:
    """T2.02: 2002.5 fpm by 4005 √VP; T2.05: the inch of water at 4 °C makes that constant 0.1 % larger."""
    air = dry_of_density(0.075 * 16.01846337)
    by_inch = {
        name: fpm(supply(traverse([0.25] * 25, "in_wc"), air, conventions=conventions(inch_of_water=name)))
        for name in ("4degC", "20degC")
    }
    assert by_inch["20degC"] == pytest.approx(1096.798 * math.sqrt(0.25 / 0.075), abs=0.2)
    assert by_inch["20degC"] == pytest.approx(2002.5, rel=2e-4)
    assert by_inch["4degC"] == pytest.approx(1097.787 * math.sqrt(0.25 / 0.075), abs=0.2)


def test_t2_06_thin_air_is_faster() -> None:
    """T2.06: 0.10 in. at 0.0622 lb/ft³ is 1390.569 fpm by the constant 1096.7."""
    air = dry_of_density(0.0622 * 16.01846337)
    one = supply(traverse([0.10] * 25, "in_wc"), air, conventions=conventions(inch_of_water="20degC"))
    assert fpm(one) == pytest.approx(1390.569, abs=0.5)


def test_t2_07_velocities_are_averaged_and_t2_08_pressures_never() -> None:
    """T2.07: 0.16, 0.25 and 0.36 in. average to 2002.5 fpm; T2.08: averaged pressures would read 2029."""
    air = dry_of_density(0.075 * 16.01846337)
    one = supply(traverse([0.16, 0.25, 0.36], "in_wc"), air, conventions=conventions(inch_of_water="20degC"))
    assert fpm(one) == pytest.approx(2002.5, abs=0.5)
    assert abs(fpm(one) - 2029.024) > 20.0


def test_negative_readings_count_as_zero_and_stay_in_the_divisor() -> None:
    """As the US DOE fan field-test library does it."""
    some = supply(traverse([100.0] * 20 + [-3.0] * 5, "Pa"), dry_of_density(1.2))
    assert some["actual_airflow_m3_s"] / 0.3048**2 == pytest.approx(12.90994 * 20 / 25, abs=1e-4)
    assert any("reverse flow" in remark for remark in some["remarks"])


def test_t2_23_a_poor_traverse_is_kept_remarked_and_less_certain() -> None:
    """T2.23: half of the readings above a tenth of the largest, where 75 % should be (AMCA 203)."""
    poor = [0.02, 0.01, 0.005, 0.0, 0.0, 0.15, 0.30, 0.5, 0.9, 1.0]
    bad, good = (supply(traverse(values, "in_wc"), dry_of_density(1.2)) for values in (poor, [0.3] * 25))
    assert any("above a tenth of the largest" in remark for remark in bad["remarks"])
    share = [one["standard_uncertainty_m3_s"] / one["airflow_m3_s"] for one in (bad, good)]
    assert share[0] > 2.0 * share[1]


def test_t3_04_to_t3_06_a_flow_station_away_from_its_reference_density() -> None:
    """K = 120 m³/h per √Pa at 1.2 kg/m³, 400 Pa, ρ = 1.08: 2529.822 m³/h actual, 0.7589466 kg/s."""
    station = {
        "method": "station",
        "factor": {"value": 120.0, "unit": "m3/h/Pa^0.5"},
        "reference_density": {"value": 1.2, "unit": "kg/m3"},
        "readings": {"values": [400.0] * 4, "unit": "Pa"},
    }
    at_reference = supply(station, dry_of_density(1.2))
    assert at_reference["actual_airflow_m3_s"] * 3600.0 == pytest.approx(2400.0, abs=1e-3)
    one = supply(station, dry_of_density(1.08))
    assert one["actual_airflow_m3_s"] * 3600.0 == pytest.approx(2529.822, abs=0.1)
    assert one["actual_airflow_m3_s"] * one["density_kg_m3"] == pytest.approx(0.7589466, abs=1e-5)


def test_t3_09_and_t3_10_at_five_thousand_feet() -> None:
    """T3.09: 0.06231208 lb/ft³ at 5000 ft, 70 °F, dry; T3.10: 1000 acfm are 830.8277 scfm at 0.075 lb/ft³."""
    air = {"dry_bulb": {"value": 70.0, "unit": "degF"}, "humidity_ratio": {"value": 0.0, "unit": "kg/kg"}}
    place = position({"supply": port_design(basis="standard")}, elevation={"value": 5000.0, "unit": "ft"})
    read = envelope([reading("supply", direct(*[1000.0] * 5))], air=air)
    one = judged(read, place=place, conventions=POUND_PER_CUBIC_FOOT).measurement("supply")
    assert one["density_kg_m3"] / 16.01846337 == pytest.approx(0.06231208, abs=1e-4)
    assert one["airflow_m3_s"] / CFM == pytest.approx(830.8277, abs=0.5)


def test_t4_01_and_t4_02_a_hood_with_its_factor() -> None:
    """T4.01: 812 of 870 cfm is a factor of 0.93333; T4.02: 145 cfm then are 135.3333 cfm."""
    hood = {
        "method": "hood",
        "readings": {"values": [145.0] * 4, "unit": "cfm"},
        "factor": 812 / 870,
        "basis": "actual",
    }
    assert supply(hood, dry_of_density(1.2))["actual_airflow_m3_s"] / CFM == pytest.approx(135.3333, abs=0.1)


def test_t5_10_few_readings_widen_the_coverage() -> None:
    """T5.10: t95 is 2.776 at four degrees of freedom (GUM, table G.2, from memory)."""
    ideal = instrument(accuracy={"relative": 0.0}, resolution=None)
    read = envelope([reading("supply", direct(500.0, 1500.0, 700.0, 1300.0, 1000.0))])
    one = judged(read, place=position({"supply": port_design()}), instruments=[ideal]).measurement("supply")
    scatter = next(part for part in one["budget"] if part["name"] == "repeatability")
    # s of these five is 412.31, u = s / √5; the method's own part is small beside it
    assert scatter["standard_uncertainty"] / CFM == pytest.approx(412.3106 / math.sqrt(5), abs=0.01)
    assert one["degrees_of_freedom"] == 4.0
    assert one["coverage_factor"] == pytest.approx(2.776445, abs=1e-3)


def test_t5_01_a_rectangular_half_width_and_a_certificate_at_k_2() -> None:
    """T5.01: a / √3; a certificate's U / 2."""
    for shape, divisor in (("rectangular", math.sqrt(3.0)), ("normal_k2", 2.0)):
        tool = instrument(accuracy={"relative": 0.03, "absolute": cfm(10.0), "shape": shape})
        read = envelope([reading("supply", direct(*[1000.0] * 5))])
        one = judged(read, place=position({"supply": port_design()}), instruments=[tool]).measurement("supply")
        part = next(part for part in one["budget"] if part["name"] == "instrument")
        assert part["standard_uncertainty"] / CFM == pytest.approx(40.0 / divisor, rel=1e-9)


def test_one_instrument_at_many_points_is_one_error() -> None:
    """Its part does not shrink with the number of points; T5.18 has it as 3 % of 1180 fpm / √3 = 20.44 fpm."""
    tool = instrument(accuracy={"relative": 0.03, "shape": "rectangular"}, resolution={"value": 1.0, "unit": "fpm"})
    for points in (5, 25, 100):
        method = traverse([1180.0] * points, "fpm", reads="velocity")
        one = supply(method, dry_of_density(1.2), instruments=[tool])
        part = next(part for part in one["budget"] if part["name"] == "instrument")
        assert part["standard_uncertainty"] / CFM == pytest.approx(1180.0 * 0.03 / math.sqrt(3.0), rel=1e-6)


def test_t5_11_and_t5_15_the_probability_of_conformity_is_that_of_jcgm_106() -> None:
    """The judgement's own value, uncertainty and limits give the probability that it prints; T5.11 is 0.6626."""
    t5_11 = conformance_probability(value=13.6, standard_uncertainty=1.8, limits=Limits(12.5, 16.3))
    assert t5_11 == pytest.approx(0.6626298, abs=5e-4)
    result = judged(envelope({"supply": 940.0}), place=position({"supply": port_design()}))
    one, measured = result.judgement("design_airflow", "supply"), result.measurement("supply")
    design = float(to_si(1000.0, "cfm"))
    expected = conformance_probability(
        value=one["value"],
        standard_uncertainty=measured["standard_uncertainty_m3_s"] / design,
        limits=Limits(-0.1, 0.1),
    )
    assert one["conformance_probability"] == pytest.approx(expected, rel=1e-12)


def test_the_shares_of_the_budget_sum_to_the_whole() -> None:
    one = supply(traverse([0.2, 0.25, 0.3] * 8, "in_wc"), dry_of_density(1.1))
    assert math.fsum(part["share"] for part in one["budget"]) == pytest.approx(1.0)


def test_without_an_air_condition_the_uncertainty_is_wider_and_it_says_so() -> None:
    method = traverse([0.25] * 25, "in_wc")
    given = supply(method, dry(20.0, "degC", 101_325.0))
    place = position({"supply": port_design()})
    bare = envelope([reading("supply", method)])
    del bare["payload"]["air"]
    assumed = judged(bare, place=place).measurement("supply")
    assert assumed["standard_uncertainty_m3_s"] > given["standard_uncertainty_m3_s"]
    assert any("No air condition was given" in remark for remark in assumed["remarks"])


@pytest.mark.parametrize(
    ("method", "basis", "power"),
    [
        (traverse([100.0] * 25, "Pa"), "actual", 0.5),  # q ~ ρ^-1/2
        (traverse([100.0] * 25, "Pa"), "standard", 0.5),  # q ρ ~ ρ^+1/2
        (traverse([1000.0] * 25, "fpm", reads="velocity"), "actual", 0.0),
        (traverse([1000.0] * 25, "fpm", reads="velocity"), "standard", 1.0),
        (direct(*[1000.0] * 5), "standard", 1.0),
        (direct(*[1000.0] * 5, basis="standard"), "standard", 0.0),
        (direct(*[1000.0] * 5, basis="standard"), "actual", 1.0),
    ],
)
def test_density_enters_by_the_power_with_which_the_flow_goes_with_it(
    method: dict[str, Any], basis: str, power: float
) -> None:
    """A measured air condition is taken as 0.3 % (0.5 K and 2 hPa; common practice, no source)."""
    place = position({"supply": port_design(basis=basis)})
    one = judged(envelope([reading("supply", method)], air=dry_of_density(1.1)), place=place).measurement("supply")
    part = [share["standard_uncertainty"] for share in one["budget"] if share["name"] == "density"]
    assert part == ([pytest.approx(0.003 * power * one["airflow_m3_s"])] if power else [])


def test_readings_that_are_all_alike_leave_no_degrees_of_freedom_to_print() -> None:
    assert supply(direct(*[880.0] * 5), dry_of_density(1.2))["degrees_of_freedom"] is None
