"""What a run amounts to: times and readings with their uncertainty, and what can be no answer."""

from __future__ import annotations

import doctest
import sys
from typing import Any

import pytest

from commissioning.kinds import test_run as kind
from tests.judging.builder import METER, Result
from tests.kinds.settings_records import q
from tests.kinds.test_run_records import ABORTED, DEFERRED, HASH, WASTED, judged, run


def only(code: str, *answers: dict[str, Any], **changes: Any) -> dict[str, Any]:
    return run(code, answers=list(answers), **changes)


def measured(result: Result) -> dict[str, dict[str, Any]]:
    assert result.problems == []
    return {one["at"]: one for one in result.measurements[0]["figures"]}


def times(step: str, first: float, then: float) -> dict[str, Any]:
    return {"step": step, "times": {"first": q(first, "s"), "then": q(then, "s")}}


def test_an_interval_is_its_end_less_its_beginning_and_as_certain_as_a_watch() -> None:
    """End switch at 42 s, fan at 45 s: 3 s. Each read to the second: u = √2 × 1/√12 = 0.408 s, U = 2 u."""
    found = measured(judged(only("dampers", times("supply_after_damper", 42.0, 45.0))))["supply_after_damper"]
    assert found["value"] == 3.0
    assert found["standard_uncertainty"] == pytest.approx(0.408248, abs=1e-6)
    assert found["expanded_uncertainty"] == pytest.approx(0.8, abs=0.02)


def test_an_airflow_carries_the_error_of_its_instrument() -> None:
    """(0.03 × 400 + 5) / √3 = 9.81 cfm of the instrument, 1 % / √3 of three equal readings, resolution 0.29 / √3."""
    answer = {
        "step": "outdoor_at_minimum",
        "readings": {"values": [400.0] * 3, "unit": "cfm"},
        "instrument": METER,
        "basis": "actual",
    }
    found = measured(judged(only("minimum", answer)))["outdoor_at_minimum"]
    cfm = 4.719474432e-4
    assert found["value"] / cfm == pytest.approx(400.0)
    assert found["standard_uncertainty"] / cfm == pytest.approx((9.815**2 + 2.309**2 + 0.167**2) ** 0.5, rel=1e-3)


def test_a_temperature_read_off_the_controller_is_as_it_is_shown() -> None:
    answer = {"step": "begins_at", "readings": {"values": [28.4], "unit": "degF"}}
    found = measured(judged(only("frost", answer)))["begins_at"]
    assert (found["value"], found["unit"]) == (pytest.approx(-2.0), "degC")
    assert found["standard_uncertainty"] is None


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"procedure": "levitation"}, "no procedure is called levitation"),
        ({"version": 9}, "has version 1 here"),
        ({"answers": []}, "no step is answered"),
        ({"answers": [{"step": "flux", "yes": True}]}, "has no step flux"),
        ({"answers": [{"step": "recovers", "yes": True}]}, "is answered by `readings`"),
        ({"answers": [{"step": "as_found"}]}, "is answered by `yes`"),
        ({"answers": [{"step": "as_found", "yes": True, "cannot": "no light there"}]}, "by one of them"),
        ({"answers": [{"step": "cold_night", "yes": True}]}, "names the trend"),
        ({"answers": [{"step": "as_found", "yes": True}] * 2}, "answered twice"),
        ({"answers": [{"step": "begins_at", "readings": {"values": [2.0], "unit": "Pa"}}]}, "a unit of pressure"),
        ({"answers": [{"step": "begins_at", "readings": {"values": [900.0], "unit": "degC"}}]}, "lies outside"),
        ({"aborted": ABORTED, "wasted": WASTED}, "not both"),
        ({"deferred": DEFERRED, "answers": [{"step": "as_found", "yes": True}]}, "leave the answers out"),
        ({"aborted": {"reason": "A belt smelled hot."}}, "this field is missing"),
        ({"deferred": {**DEFERRED, "by": "in winter"}}, "no date"),
    ],
)
def test_what_can_be_no_answer_is_refused_with_its_reason(changes: dict[str, Any], said: str) -> None:
    result = judged(run("frost", **changes))
    assert result.measurements == []
    assert said in str([one["reason"][:1].lower() + one["reason"][1:] for one in result.problems])


@pytest.mark.parametrize(("without", "said"), [("instrument", "name the instrument"), ("basis", "say which")])
def test_a_measured_airflow_names_its_instrument_and_its_air(without: str, said: str) -> None:
    answer = {
        "step": "outdoor_at_minimum",
        "readings": {"values": [400.0], "unit": "cfm"},
        "instrument": METER,
        "basis": "actual",
    }
    del answer[without]
    (problem,) = judged(only("minimum", answer)).problems
    assert problem["field"] == "/payload/answers/0"
    assert said in problem["reason"]


def test_a_photo_that_the_record_does_not_list_is_not_counted() -> None:
    made = only("frost", {"step": "released", "yes": True, "photos": [HASH, "cd" * 32]})
    assert judged(made).measurements[0]["facts"]["answers"]["released"]["photos"] == [HASH]


def test_examples_in_docstrings_hold() -> None:
    assert doctest.testmod(sys.modules[kind.show.__module__]).failed == 0
