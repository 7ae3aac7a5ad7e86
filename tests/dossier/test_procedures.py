"""The test plan of a unit: what applies, and expected values from its own settings by arithmetic shown here."""

from __future__ import annotations

import doctest
from typing import Any

import pytest

from commissioning.catalogue import forbidden
from commissioning.catalogue.procedures import LIBRARY, Step
from commissioning.dossier.given import Place
from commissioning.dossier.procedures import expected as expectations
from commissioning.dossier.procedures import named, runs, show_tests
from commissioning.dossier.procedures.answered import limits_of
from commissioning.dossier.procedures.expected import Expected, expected
from commissioning.dossier.procedures.plan import depends_on, plan_of, planned, unit_of
from commissioning.dossier.settings.catalogue import CATALOGUE, value_of
from commissioning.dossier.settings.rules import Case
from tests.kinds.settings_records import q, values
from tests.kinds.test_run_records import place

CFM = 4.719474432e-4  # m³/s, exact: 0.3048³ / 60


def read(**changes: Any) -> dict[str, Any]:
    given = values(**changes)
    return {code: value_of(CATALOGUE.settings[code], held) for code, held in given.items()}


def case(**changes: Any) -> Case:
    return Case(values=read(**changes))


SPEEDS = {
    "exhaust_control": "follows_supply_by_speed_ratio",
    "supply_minimum_speed": q(40.0, "%"),
    "supply_maximum_speed": q(100.0, "%"),
    "exhaust_minimum_speed": q(38.0, "%"),
    "exhaust_maximum_speed": q(100.0, "%"),
}


@pytest.mark.parametrize(
    ("name", "changes", "value"),
    [
        ("reset_low", {}, 400.0 * CFM),  # the line's own lower end, at 800 ppm
        ("reset_middle", {}, 700.0 * CFM),  # (400 + 1000) / 2, at 900 ppm
        ("reset_high", {}, 1000.0 * CFM),
        ("reset_low", {"ventilation_floor": q(450.0, "cfm")}, 450.0 * CFM),  # the floor lies above the line
        ("exhaust_airflow_lowest", {}, 360.0 * CFM),  # 0.9 × 400, above its own minimum of 350
        ("exhaust_airflow_lowest", {"exhaust_minimum_airflow": q(380.0, "cfm")}, 380.0 * CFM),
        ("exhaust_airflow_middle", {}, 630.0 * CFM),  # 0.9 × 700
        ("exhaust_airflow_highest", {}, 900.0 * CFM),
        ("exhaust_speed_lowest", SPEEDS, 0.38),  # 0.9 × 0.40 = 0.36, held at its minimum
        ("exhaust_speed_middle", SPEEDS, 0.63),  # 0.9 × 0.70
        ("exhaust_speed_highest", SPEEDS, 0.90),
        ("proof_delay", {}, 30.0),
        ("frost_limit", {}, -2.0),
        ("outdoor_minimum", {}, 400.0 * CFM),  # the floor as set, where no design gives a minimum
    ],
)
def test_expected_values_follow_from_the_unit_s_own_settings(name: str, changes: dict[str, Any], value: float) -> None:
    found = expected(name, case(**changes))
    assert isinstance(found, Expected)
    assert found.value == pytest.approx(value, rel=1e-9)
    assert found.how


@pytest.mark.parametrize(
    ("offset", "unit", "low", "high", "expected"),
    [
        (True, "degF", -1.8, 1.8, (-3.0, -1.0)),  # 1.8 °F is a difference of 1 K, with no 32 in it
        (True, "degC", -1.0, 1.0, (-3.0, -1.0)),
        (True, "%", -3.0, 3.0, (-2.03, -1.97)),  # three points of a ratio
        (False, "degC", -0.5, None, (-1.0, None)),  # half of it less
    ],
)
def test_limits_lie_about_the_expected_value_by_a_difference_or_by_a_fraction(
    offset: bool, unit: str, low: float, high: float | None, expected: tuple[float, float | None]
) -> None:
    step = Step("x", "do", "see", unit=unit, low=low, high=high, offset=offset, expects="frost_limit")
    found = limits_of(step, Expected(-2.0, "as it is set"))
    assert found is not None
    assert found.low == pytest.approx(expected[0])
    assert found.high == (None if expected[1] is None else pytest.approx(expected[1]))


def test_what_was_not_read_is_named_and_no_value_is_made_up() -> None:
    assert expected("exhaust_speed_lowest", case()) == ("supply_minimum_speed", "supply_maximum_speed")
    assert expected("outdoor_minimum", Case(values={})) == ("ventilation_floor",)


def test_the_design_s_minimum_goes_before_the_setting_and_brings_its_air_basis() -> None:
    unit = unit_of(Place.from_json(place()), read(), basis_when_not_stated="standard")
    asked = {one.step.id: one for one in planned(unit, LIBRARY.procedures["minimum"]).steps}
    told = asked["outdoor_at_minimum"].expected
    assert told is not None
    assert told.value == pytest.approx(400.0 * CFM)
    assert told.basis == "actual"


def codes(kind: str = "erv", tests: list[str] | None = None, **changes: Any) -> dict[str, tuple[str, bool]]:
    unit = unit_of(Place.from_json(place(tests, kind=kind)), read(**changes), basis_when_not_stated="standard")
    return {one.procedure.code: (one.applies, one.is_due) for one in plan_of(unit, LIBRARY)}


def test_a_plan_says_of_every_procedure_whether_it_applies_and_of_the_listed_ones_that_they_are_due() -> None:
    held = codes(tests=["frost", "interlock"])
    assert list(held) == list(LIBRARY.procedures)
    assert held["frost"] == held["interlock"] == ("yes", True)
    assert held["power"] == ("yes", False)
    assert codes(tests=["all_that_apply"], option_frost_control=False, frost_action="none")["frost"] == ("no", False)
    assert codes("exhaust_fan")["interlock"] == ("no", False)
    assert codes(supply_control="constant_speed")["demand"] == ("no", False)


def test_a_plan_asks_only_the_steps_of_how_this_unit_is_controlled() -> None:
    unit = unit_of(Place.from_json(place()), read(), basis_when_not_stated="standard")
    asked = {one.step.id for one in planned(unit, LIBRARY.procedures["interlock"]).steps}
    assert "air_at_lowest" in asked
    assert "ratio_at_lowest" not in asked
    assert "network_runs_it" not in {one.step.id for one in planned(unit, LIBRARY.procedures["enabling"]).steps}


def test_a_change_of_settings_says_what_must_be_run_again() -> None:
    ran = [{"kind": "test_run", "facts": {"procedure": code}} for code in LIBRARY.procedures]
    assert show_tests.to_run_again(ran, ["proof_delay"]) == ["Dampers before fans, and fan proof"]
    titles = {LIBRARY.procedures[code].title for code in ("interlock", "minimum", "demand")}
    assert set(show_tests.to_run_again(ran, ["supply_minimum_airflow"])) == titles
    assert show_tests.to_run_again(ran[:1], ["proof_delay"]) == []  # what was not run is not run again
    assert {code for one in LIBRARY.procedures.values() for code in depends_on(one)} <= set(CATALOGUE.settings)


@pytest.mark.parametrize("module", [expectations, forbidden, named, runs, show_tests])
def test_examples_in_docstrings_hold(module: Any) -> None:
    assert doctest.testmod(module).failed == 0
