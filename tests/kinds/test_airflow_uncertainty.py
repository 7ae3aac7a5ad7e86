"""What no reading tells: terms that simulated records showed to be too small, each against arithmetic."""

from __future__ import annotations

import math
from typing import Any

import pytest

from commissioning.kinds.airflow import uncertainty_terms as terms
from tests.judging.builder import STANDARD_AIR, direct, envelope, instrument, judged, port_design, position, reading

PASCAL_METER = instrument(accuracy={"relative": 0.0, "absolute": None, "shape": "rectangular"}, resolution=None)


def measured(method: dict[str, Any]) -> dict[str, Any]:
    air = {**STANDARD_AIR, "humidity_ratio": {"value": 0.0, "unit": "kg/kg"}}
    record = envelope([reading("supply", method)], air=air)
    place = position({"supply": port_design()})
    return judged(record, place=place, instruments=[PASCAL_METER]).measurement("supply")


def relative(measurement: dict[str, Any], part: str) -> float:
    sizes = [one["standard_uncertainty"] for one in measurement["budget"] if one["name"] == part]
    return math.fsum(sizes) / float(measurement["airflow_m3_s"])


def traverse(points: int, layout: str, plane: dict[str, Any]) -> dict[str, Any]:
    return {
        "method": "traverse",
        "reads": "velocity_pressure",
        "plane": plane,
        "layout": layout,
        "readings": {"values": [60.0] * points, "unit": "Pa"},
        "straight_upstream_diameters": 10.0,
        "straight_downstream_diameters": 5.0,
    }


def square(side_in: float) -> dict[str, Any]:
    return {
        "shape": "rectangular",
        "width": {"value": side_in, "unit": "in"},
        "height": {"value": side_in, "unit": "in"},
    }


def circle(diameter_in: float) -> dict[str, Any]:
    return {"shape": "round", "diameter": {"value": diameter_in, "unit": "in"}}


def hood(*values: float, factor: float = 1.0) -> dict[str, Any]:
    return {**direct(*values), "method": "hood", "factor": factor}


def test_equal_areas_in_a_round_duct_read_high_by_the_published_error() -> None:
    """T2.17: 10 points on a diameter against the 1/7 power law, +0.5376565 % (recomputed by independent code)."""
    assert 100.0 * terms.grid_error(20, is_round=True) == pytest.approx(0.5376565, abs=1e-6)


def test_centres_of_cells_read_high_in_a_rectangle() -> None:
    """4 × 4 cells lie at 1/4 and 3/4 of the half side: ((0.25^(1/7) + 0.75^(1/7)) / 2 / (7/8))² - 1, by hand 3.47 %."""
    by_hand = ((0.25 ** (1 / 7) + 0.75 ** (1 / 7)) / 2.0 / (7.0 / 8.0)) ** 2 - 1.0
    assert terms.grid_error(16, is_round=False) == pytest.approx(by_hand, rel=1e-12)
    assert by_hand == pytest.approx(0.0347, abs=1e-4)
    thirds = ((2.0 * (1.0 / 3.0) ** (1 / 7) + 1.0) / 3.0 / (7.0 / 8.0)) ** 2 - 1.0
    assert terms.grid_error(9, is_round=False) == pytest.approx(thirds, rel=1e-12)


def test_an_equal_area_grid_carries_its_error_as_a_rectangle() -> None:
    """Half-width over √3 (JCGM 100:2008, 4.3.7): 3.47 % / √3 = 2.00 %. The named grids against the wall carry none."""
    plane = square(24.0)
    assert relative(measured(traverse(16, "equal_area", plane)), "grid") == pytest.approx(0.02001, abs=1e-5)
    assert relative(measured(traverse(16, "other", plane)), "grid") == pytest.approx(0.02001, abs=1e-5)
    assert relative(measured(traverse(25, "log_tchebycheff", plane)), "grid") == 0.0
    assert relative(measured(traverse(20, "log_linear", circle(24.0))), "grid") == 0.0
    assert relative(measured(traverse(20, "equal_area", circle(24.0))), "grid") == pytest.approx(
        0.005376565 / math.sqrt(3.0), rel=1e-5
    )


def test_a_grid_without_a_name_is_remarked() -> None:
    told = {layout: measured(traverse(16, layout, square(24.0)))["remarks"] for layout in ("other", "equal_area")}
    assert told["equal_area"] == []
    assert len(told["other"]) == 1
    assert "centres of equal cells" in told["other"][0]


@pytest.mark.parametrize(
    ("plane", "by_hand"),
    [
        # a quarter of an inch is 0.25/√12 = 0.0722 in. (JCGM 100:2008, F.2.2.1); below 1 % common practice stands
        (square(24.0), 0.01),
        (square(8.0), math.sqrt(2.0) * 0.07217 / 8.0),
        (circle(24.0), 0.01),
        (circle(8.0), 2.0 * 0.07217 / 8.0),
    ],
    ids=["24 in. square", "8 in. square", "24 in. round", "8 in. round"],
)
def test_the_tape_counts_where_the_duct_is_small(plane: dict[str, Any], by_hand: float) -> None:
    layout = "log_linear" if plane["shape"] == "round" else "log_tchebycheff"
    assert relative(measured(traverse(25, layout, plane)), "duct area") == pytest.approx(by_hand, rel=1e-3)


def test_readings_that_scatter_more_than_is_usual_speak_for_themselves() -> None:
    """3 readings, s = 5 % of the mean: u = 5 % / √3 on 2 degrees of freedom, not the usual 1 % / √3 on infinitely many
    (JCGM 100:2008, 4.2.3). Three that lie together keep the usual 1 %."""
    wide, near = measured(direct(950.0, 1000.0, 1050.0)), measured(direct(999.0, 1000.0, 1001.0))
    assert relative(wide, "repeatability") == pytest.approx(0.05 / math.sqrt(3.0), rel=1e-6)
    assert relative(near, "repeatability") == pytest.approx(0.01 / math.sqrt(3.0), rel=1e-6)
    # Welch-Satterthwaite by hand: u_r = 2.887 %, method 2 %: (2.887² + 2²)² / (2.887⁴/2) = 4.38, truncated
    assert wide["degrees_of_freedom"] == 4.0
    assert wide["coverage_factor"] == pytest.approx(2.776, abs=5e-4)  # t(95 %, 4): GUM table G.2, from memory
    assert near["degrees_of_freedom"] is None


@pytest.mark.parametrize(("method", "size"), [("direct", 0.02), ("hood", 0.025)])
def test_method_terms(method: str, size: float) -> None:
    """Common practice, no source; both held in the simulation (docs/coverage.md)."""
    made = direct(1000.0, 1000.0, 1000.0, 1000.0) if method == "direct" else hood(1000.0, 1000.0, 1000.0, 1000.0)
    assert relative(measured(made), "method") == pytest.approx(size, rel=1e-9)


def test_a_station_is_no_better_than_its_maker_and_the_site() -> None:
    """±5 % of the maker (k = 2), 1 % each of the site and a breathing flow: √(2.5² + 1 + 1) = 2.87, taken as 3."""
    made = {
        "method": "station",
        "factor": {"value": 100.0, "unit": "m3/h/Pa^0.5"},
        "reference_density": {"value": 1.2, "unit": "kg/m3"},
        "readings": {"values": [100.0] * 4, "unit": "Pa"},
    }
    one = measured(made)
    assert relative(one, "method") == pytest.approx(0.03, rel=1e-9)
    assert math.hypot(0.025, 0.01, 0.01) <= relative(one, "method")


def test_a_hood_of_factor_1_says_for_which_hood_it_holds() -> None:
    plain, with_factor = measured(hood(100.0, 101.0, 99.0)), measured(hood(100.0, 101.0, 99.0, factor=1.05))
    assert any("back pressure" in remark for remark in plain["remarks"])
    assert with_factor["remarks"] == []
    assert with_factor["readings"] == 3
