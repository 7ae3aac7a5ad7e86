"""Every rule over settings fires in its bad case, holds in its good one, and is not read where a setting is missing."""

from __future__ import annotations

import pytest

from commissioning.dossier.settings.all_rules import BY_CODE, RULES, findings
from commissioning.dossier.settings.catalogue import CATALOGUE
from commissioning.dossier.settings.rules import CLOCK, SEVERITIES, WINTER, Case
from tests.dossier.settings_cases import CASES, Changes, case

_BESIDE = {CLOCK: "clock", WINTER: "winter"}


def test_there_is_a_bad_and_a_good_case_of_every_rule_and_ids_stand_once() -> None:
    assert set(CASES) == set(BY_CODE)
    assert len(BY_CODE) == len(RULES) >= 40


@pytest.mark.parametrize("code", CASES)
def test_it_fires_in_its_bad_case(code: str) -> None:
    assert BY_CODE[code].outcome(case(CASES[code][0])) == "fires"


@pytest.mark.parametrize("code", CASES)
def test_it_is_looked_at_and_holds_in_its_good_case(code: str) -> None:
    assert BY_CODE[code].outcome(case(CASES[code][1])) == "holds"


@pytest.mark.parametrize("code", CASES)
def test_without_what_it_needs_it_never_fires_and_never_holds(code: str) -> None:
    for changes in CASES[code]:
        for need in BY_CODE[code].needs:
            name = _BESIDE.get(need, need)
            less: Changes = {**changes, name: None} if need in _BESIDE else dict(changes)
            less.pop(name if need not in _BESIDE else "", None)
            assert BY_CODE[code].outcome(case(less)) in ("not_read", "does_not_apply"), need


def test_a_rule_tells_why_what_to_do_and_where_it_comes_from_and_names_known_settings() -> None:
    for rule in RULES:
        assert rule.severity in SEVERITIES
        assert rule.reason.endswith(".")
        assert rule.remedy.endswith(".")
        assert rule.source
        assert set(rule.needs) <= set(CATALOGUE.settings) | set(_BESIDE)


def test_the_worst_comes_first() -> None:
    changes = {**CASES["E05"][0], **CASES["N60"][0], **CASES["E24"][0], **CASES["N44"][0], "frost_limit": 2.0}
    assert [rule.code for rule in findings(case(changes)).fired] == ["N60", "E24", "N44", "E05"]


def test_a_mode_that_is_not_set_asks_for_no_sensor() -> None:
    told = findings(case({"supply_control": "constant_speed", "supply_speed": 0.6, "sensor_co2": False}))
    assert not [rule.code for rule in told.fired if rule.code.startswith("C")]


def test_what_stands_in_another_unit_is_the_same_number() -> None:
    """500 cfm are 0.235973722 m3/s, by 0.3048³ / 60: the floor typed in one, the line in the other."""
    line = {"supply_control": "airflow_reset_on_co2", "reset_airflow_at_low": 0.235973721599999}
    assert BY_CODE["N32"].outcome(case({**line, "ventilation_floor": 500.0 * 0.3048**3 / 60.0})) == "holds"


def test_a_zone_of_the_same_offset_is_no_other_zone_and_a_text_that_names_none_is_not_judged() -> None:
    """Winnipeg keeps Chicago's time; Regina does not change to daylight saving and is an hour off in May."""
    rule = BY_CODE["E05"]
    assert rule.outcome(case({"time_zone": "America/Winnipeg"})) == "holds"
    assert rule.outcome(case({"time_zone": "America/Regina"})) == "fires"
    assert rule.outcome(case({"time_zone": "zone 4"})) == "does_not_apply"
    assert BY_CODE["E06"].outcome(case({"daylight_saving": False, "zone": "America/Phoenix"})) == "does_not_apply"


def test_where_it_does_not_freeze_frost_control_may_be_off() -> None:
    off = {"option_frost_control": False}
    assert BY_CODE["T01"].outcome(case({**off, "winter": 1.0})) == "does_not_apply"
    assert BY_CODE["T01"].outcome(case({**off, "winter": None})) == "not_read"
    assert BY_CODE["T01"].outcome(case(off)) == "fires"


def test_nothing_read_is_nothing_found() -> None:
    told = findings(Case({}))
    assert told.fired == ()
    assert told.held == 0
