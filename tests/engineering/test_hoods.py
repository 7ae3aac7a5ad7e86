"""Hood factors against the published rows, and what is said of a hood's reading."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from commissioning.engineering.airflow import hood_airflow_m3_s
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.hoods import hood_doubts, hood_factor
from commissioning.engineering.uncertainty import Component, combine
from commissioning.engineering.units import from_si, to_si
from tests.engineering.reference_rows import Row, hold, parameters

FACTOR = float(hood_factor(traverse_m3_s=to_si(812.0, "cfm"), readings_m3_s=to_si(870.0, "cfm")))
CHECKS: dict[str, Callable[[], Any]] = {
    "T4.01": lambda: FACTOR,
    "T4.02": lambda: from_si(hood_airflow_m3_s(readings_m3_s=to_si(145.0, "cfm"), factor=FACTOR), "cfm"),
    "T4.03": lambda: (
        combine(
            [Component("traverse", 2.5), Component("hood, sum", 1.5), Component("hood, reading", 1.5)]
        ).expanded_uncertainty
    ),
}
ELSEWHERE = [f"T4.{number:02}" for number in range(4, 10)]


@pytest.mark.parametrize(("row", "check"), parameters("hood_and_outdoor_fraction", CHECKS, elsewhere=ELSEWHERE))
def test_published(row: Row, check: Callable[[], Any]) -> None:
    hold(row, check())


def test_a_factor_for_each_branch() -> None:
    found = hood_factor(traverse_m3_s=np.array([0.9, 0.5]), readings_m3_s=np.array([[0.4, 0.6], [0.2, 0.2]]))
    assert found == pytest.approx(np.array([0.9, 1.25]))


GOOD: dict[str, Any] = {
    "factor": 0.95,
    "back_pressure_compensated": True,
    "airflow_m3_s": 0.10,
    "factor_airflow_m3_s": 0.11,
    "near_branch": False,
}


def codes(**changed: Any) -> list[str]:
    return [doubt.code for doubt in hood_doubts(**(GOOD | changed))]


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ({}, []),
        ({"factor": 0.90}, []),
        ({"factor": 1.10}, []),
        ({"factor": 0.89}, ["factor_unusual"]),
        ({"factor": 1.11}, ["factor_unusual"]),
        ({"back_pressure_compensated": False}, []),  # the factor was derived with that hood: it is in the factor
        ({"back_pressure_compensated": False, "factor": 1.0, "factor_airflow_m3_s": None}, ["back_pressure"]),
        ({"back_pressure_compensated": None}, ["back_pressure_not_recorded"]),
        ({"factor_airflow_m3_s": 0.08}, []),  # 0.10 / 0.08 is 25 % more
        ({"factor_airflow_m3_s": 0.079}, ["factor_from_other_flow"]),
        ({"factor_airflow_m3_s": 0.14}, ["factor_from_other_flow"]),
        ({"near_branch": True}, []),
        ({"near_branch": True, "back_pressure_compensated": False}, ["near_branch"]),
    ],
)
def test_doubts(changed: dict[str, Any], expected: list[str]) -> None:
    assert codes(**changed) == expected


def test_refuses() -> None:
    with pytest.raises(OutOfRange, match=r"hood reading is -0\.1"):  # though the sum would do
        hood_factor(traverse_m3_s=0.4, readings_m3_s=np.array([-0.1, 0.5]))
    with pytest.raises(OutOfRange, match="sum of the hood readings is 0"):
        hood_factor(traverse_m3_s=0.1, readings_m3_s=np.zeros(3))
    with pytest.raises(OutOfRange, match="hood factor is 95"):
        codes(factor=95.0)
