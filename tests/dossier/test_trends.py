"""Logs made by hand, with what each expectation has to say of them."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from pydantic import ValidationError

from commissioning.dossier.trends import Logged, Plan, analyse, default_plan, printed
from commissioning.dossier.trends.kinds import KINDS
from commissioning.logs.roles import roles

HOUR = 3600.0
MINUTE = np.arange(0.0, 24 * HOUR, 60.0)
HOURS = MINUTE / HOUR
Array = NDArray[np.float64]
Settings = dict[str, float | str | bool]


def minutes(values: Array | float) -> Logged:
    return Logged(MINUTE, np.broadcast_to(np.asarray(values, dtype=float), MINUTE.shape).copy())


def changes(*pairs: tuple[float, float]) -> Logged:
    return Logged(np.array([at for at, _ in pairs]), np.array([value for _, value in pairs]), by_change=True)


def said(series: dict[str, Logged], code: str, at: str = "", values: Settings | None = None) -> dict[str, Any]:
    plan = default_plan(series, values)
    (one,) = [one for one in analyse(series, plan)["results"] if (one["code"], one["at"]) == (code, at)]
    return dict(one)


WHILE_ON = ((HOURS >= 6.0) & (HOURS < 18.0)).astype(float)
SCHEDULE: Settings = {
    "enabling": "schedule",
    "occupied_days": 7,
    "occupied_from": 6 * HOUR,
    "occupied_to": 18 * HOUR,
}


@pytest.mark.parametrize(
    ("opened", "outcome", "least"),
    [(42.0, "holds", 3.0), (50.0, "fails", -5.0)],  # fan commanded at 45 s; the first is T12.01: 3 s after proof
)
def test_the_damper_is_proven_before_the_fan_is_commanded(opened: float, outcome: str, least: float) -> None:
    series = {
        "outdoor_damper_open": changes((0.0, 0.0), (opened, 1.0), (600.0, 1.0)),
        "supply_fan_command": changes((0.0, 0.0), (45.0, 1.0), (600.0, 1.0)),
    }
    found = said(series, "damper_before_fan", "supply")
    assert (found["outcome"], found["margin"]["least"], found["margin"]["unit"]) == (outcome, least, "s")


def test_a_log_every_minute_does_not_tell_which_of_two_stages_of_one_minute_was_first() -> None:
    series = {"outdoor_damper_open": minutes(WHILE_ON), "supply_fan_command": minutes(WHILE_ON)}
    assert said(series, "damper_before_fan", "supply")["outcome"] == "unknown"


@pytest.mark.parametrize(("lost", "outcome"), [(0.0, "holds"), (600.0, "fails")])
def test_a_fan_that_loses_its_proof_while_commanded_is_found_with_how_long(lost: float, outcome: str) -> None:
    proof = changes((0.0, 0.0), (30.0, 1.0), (1000.0, 0.0), (1000.0 + max(lost, 1.0), 1.0), (3000.0, 1.0))
    found = said({"supply_fan_command": changes((0.0, 0.0), (10.0, 1.0), (3000.0, 1.0)), "supply_fan_status": proof},
                 "fan_proven", "supply")  # fmt: skip
    assert (found["outcome"], found["lasting_s"]) == (outcome, lost)


def test_a_fan_that_turns_without_a_command_is_found() -> None:
    status = WHILE_ON + ((HOURS >= 2.0) & (HOURS < 3.0))
    series = {"supply_fan_command": minutes(WHILE_ON), "supply_fan_status": minutes(status)}
    found = said(series, "fan_uncommanded", "supply")
    assert found["outcome"] == "fails"
    assert found["lasting_s"] == pytest.approx(HOUR, abs=61.0)
    assert found["at_s"] == pytest.approx(2 * HOUR, abs=61.0)
    assert found["look"].startswith("A drive or starter left in hand")


@pytest.mark.parametrize(("late_h", "outcome"), [(0.0, "holds"), (1.0, "fails"), (-1.0, "fails")])
def test_a_schedule_is_obeyed_or_is_off_by_so_much(late_h: float, outcome: str) -> None:
    on = ((6.0 + late_h <= HOURS) & (HOURS < 18.0)).astype(float)
    found = said({"supply_fan_status": minutes(on)}, "on_time", values=SCHEDULE)
    assert found["outcome"] == outcome
    if late_h:
        assert found["amounts"]["worst"]["value"] == pytest.approx(HOUR, abs=61.0)


def test_a_unit_that_runs_all_night_is_outside_of_its_schedule() -> None:
    found = said({"supply_fan_status": minutes(1.0)}, "as_scheduled", "unoccupied", values=SCHEDULE)
    assert (found["outcome"], round(found["lasting_s"] / HOUR)) == ("fails", 12)
    assert said({"supply_fan_status": minutes(0.0)}, "as_scheduled", "occupied", values=SCHEDULE)["outcome"] == "fails"


def test_no_schedule_is_asked_of_a_unit_whose_hours_were_not_read() -> None:
    codes = {one.code for one in default_plan({"supply_fan_status"}).asked}
    assert "short_runs" in codes
    assert not codes & {"on_time", "as_scheduled"}


def test_a_gap_in_which_a_fan_may_have_failed_leaves_it_unknown() -> None:
    keep = (HOURS < 10.0) | (HOURS > 11.0)
    series = {role: Logged(MINUTE[keep], WHILE_ON[keep]) for role in ("supply_fan_command", "supply_fan_status")}
    found = said(series, "fan_proven", "supply")
    assert found["outcome"] == "unknown"
    assert found["unknown_s"] == pytest.approx(HOUR, abs=180.0)


def test_a_point_by_change_is_unknown_in_a_silence_of_the_log_until_its_next_sample_tells_what_it_was() -> None:
    keep = (HOURS < 10.0) | (HOURS > 11.0)
    air = Logged(MINUTE[keep], 20.0 + HOURS[keep])
    command = changes((0.0, 0.0), (6 * HOUR, 1.0), (18 * HOUR, 0.0), (23 * HOUR, 0.0))
    lost = changes((0.0, 0.0), (6 * HOUR, 1.0), (18 * HOUR, 1.0), (23 * HOUR, 0.0))  # its stop fell into the silence
    told = {"outdoor_temperature": air, "supply_fan_command": command, "supply_fan_status": command}
    assert said(told, "fan_proven", "supply")["unknown_s"] == pytest.approx(HOUR, abs=180.0)
    doubtful = said({**told, "supply_fan_status": lost}, "fan_proven", "supply")
    assert doubtful["unknown_s"] == pytest.approx(8 * HOUR, abs=180.0)


def test_a_busy_log_by_change_that_falls_silent_was_interrupted_and_one_at_rest_was_not() -> None:
    status = changes((0.0, 0.0), (3600.0, 1.0), (40_000.0, 1.0))  # its stop falls into the silence
    for every, unknown in ((20.0, True), (900.0, False)):  # a silence of 2000 s is 100 steps of the one, 2 of the other
        at: Array = np.concatenate([np.arange(0.0, 20_000.0, every), np.arange(22_000.0, 40_000.0, every)])
        air = Logged(at, np.where(at % (2.0 * every) == 0.0, 20.0, 21.0), by_change=True)
        series = {"supply_fan_command": status, "supply_fan_status": status, "room_temperature": air}
        assert (said(series, "fan_proven", "supply")["outcome"] == "unknown") == unknown, every


def test_a_ratio_is_measured_with_its_doubt() -> None:
    draw = np.random.default_rng(5)
    supply = 0.5 * WHILE_ON + draw.normal(0.0, 0.005, MINUTE.size) * WHILE_ON
    series = {"supply_airflow": minutes(supply), "exhaust_airflow": minutes(0.4 * WHILE_ON),
              "supply_fan_status": minutes(WHILE_ON), "exhaust_fan_status": minutes(WHILE_ON)}  # fmt: skip
    settings: Settings = {"exhaust_control": "follows_supply_by_airflow_ratio"}
    assert said(series, "ratio_held", values={**settings, "exhaust_ratio": 0.8})["outcome"] == "holds"
    low = said(series, "ratio_held", values={**settings, "exhaust_ratio": 1.0})
    assert low["outcome"] == "fails"
    assert low["margin"]["most"] == pytest.approx(0.8 - 0.9, abs=0.002)  # 0.9 is the least that is allowed
    assert "Exhaust over supply airflow was 80 %" in low["sentence"]


def test_a_reset_line_is_measured_against_the_one_set() -> None:
    co2 = 500e-6 + 600e-6 * np.clip(np.sin((HOURS - 6.0) / 12.0 * np.pi), 0.0, 1.0)
    line: Settings = {
        "reset_low_co2": 600e-6,
        "reset_high_co2": 1000e-6,
        "reset_airflow_at_low": 0.2,
        "reset_airflow_at_high": 0.6,
    }
    flow = np.interp(co2, [600e-6, 1000e-6], [0.2, 0.6])
    series = {
        "room_co2": minutes(co2),
        "supply_airflow_setpoint": minutes(flow),
        "supply_fan_status": minutes(WHILE_ON),
    }
    assert said(series, "reset_line", values=line)["outcome"] == "holds"
    other = said(series, "reset_line", values={**line, "reset_airflow_at_high": 0.8})
    assert other["outcome"] == "fails"
    assert other["amounts"]["slope"]["value"] == pytest.approx(0.4 / 0.6, rel=0.01)


@pytest.mark.parametrize(("swing", "outcome"), [(0.2, "holds"), (1.5, "fails")])
def test_a_loop_that_hunts_is_found_with_its_period_and_size(swing: float, outcome: str) -> None:
    air = 20.0 + swing * np.sin(2 * np.pi * MINUTE / 900.0)
    series = {"supply_temperature": minutes(air), "supply_temperature_setpoint": minutes(20.0),
              "supply_fan_status": minutes(WHILE_ON)}  # fmt: skip
    found = said(series, "hunts", "supply_temperature")
    assert found["outcome"] == outcome
    if swing > 1.0:
        assert found["amounts"]["period"]["value"] == pytest.approx(900.0, rel=0.02)
        assert found["amounts"]["amplitude"]["value"] == pytest.approx(1.5, rel=0.05)


@pytest.mark.parametrize(("heats", "outcome"), [(0.0, "holds"), (0.4, "fails")])
def test_heating_against_an_open_bypass_is_found(heats: float, outcome: str) -> None:
    open_ = ((HOURS > 9.0) & (HOURS < 12.0)).astype(float)
    series = {"bypass_position": minutes(open_), "heating_valve": minutes(heats * WHILE_ON),
              "supply_fan_status": minutes(WHILE_ON)}  # fmt: skip
    found = said(series, "heat_against_bypass")
    assert found["outcome"] == outcome
    assert found["lasting_s"] == pytest.approx(3 * HOUR if heats else 0.0, abs=121.0)


def test_a_log_in_which_both_rest_says_nothing_of_them_together() -> None:
    """A day with bypass shut and heating off does not close what another day showed."""
    rest = {"bypass_position": minutes(0.0), "heating_valve": minutes(0.0), "supply_fan_status": minutes(WHILE_ON)}
    found = said(rest, "heat_against_bypass")
    assert (found["outcome"], found["asked_s"]) == ("unknown", 0.0)


@pytest.mark.parametrize(
    ("reading", "speed", "outcome"),
    [
        (minutes(0.4), minutes(0.6), "unknown"),  # nothing moves: a sensor that stands still would look the same
        (minutes(0.4), minutes(0.3 + 0.3 * np.sin(HOURS)), "fails"),
        (minutes(0.2 + 0.1 * np.sin(HOURS)), minutes(0.3 + 0.3 * np.sin(HOURS)), "holds"),
        (minutes(0.2 + 0.1 * np.sin(HOURS)), minutes(0.6), "holds"),  # it moves by itself
    ],
)
def test_a_sensor_that_stands_still_is_told_where_something_would_move_it(
    reading: Logged, speed: Logged, outcome: str
) -> None:
    series = {"supply_airflow": reading, "supply_fan_speed_command": speed, "supply_fan_status": minutes(1.0)}
    assert said(series, "stands_still", "supply_airflow")["outcome"] == outcome


def test_a_reading_that_cannot_be_is_found_and_a_gap_is_none() -> None:
    air = np.full(MINUTE.size, 21.0)
    air[700:703] = 850.0
    found = said({"supply_temperature": minutes(air)}, "in_range", "supply_temperature")
    assert (found["outcome"], found["lasting_s"], found["margin"]["most"]) == ("fails", 180.0, -770.0)  # 80 - 850
    keep = np.abs(HOURS - 12.0) > 1.0
    gappy = {"supply_temperature": Logged(MINUTE[keep], np.full(keep.sum(), 21.0))}
    assert said(gappy, "in_range", "supply_temperature")["outcome"] == "holds"


def test_sensors_swapped_at_the_exchanger_are_found_by_where_its_air_lies() -> None:
    series = {"exchanger_leaving_temperature": minutes(22.0), "outdoor_temperature": minutes(2.0),
              "return_temperature": minutes(16.0), "supply_fan_status": minutes(WHILE_ON)}  # fmt: skip
    found = said(series, "between_the_two")
    assert found["outcome"] == "fails"
    assert found["margin"]["most"] == pytest.approx(16.0 - 22.0 + 2.0)  # two kelvin are allowed


def test_what_is_found_is_plain_data_and_a_sentence_in_the_reader_s_units() -> None:
    series = {"supply_fan_status": minutes(1.0), "supply_temperature": minutes(10.0)}
    found = analyse(series, default_plan(series, {**SCHEDULE, "supply_low_limit": 12.0}))
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    (cold,) = [one for one in found["findings"] if one["code"] == "supply_low"]
    assert cold["sentence"].startswith("The supply air was below its low limit of 12.0 °C for 23")
    assert printed(cold["words"], cold["amounts"], "ip").startswith("The supply air was below its low limit of 53.6 °F")
    assert cold["limits"]["low"] == {"value": 12.0, "unit": "degC", "source": "setting supply_low_limit"}


def test_every_sentence_has_its_amounts() -> None:
    series = {role: minutes(WHILE_ON) for role in roles()}
    settings = {limit.setting for kind in KINDS.values() for limit in kind.limits.values()} - {""}
    plan = default_plan(series, {**SCHEDULE, **dict.fromkeys(sorted(settings), 0.5), "bypass_to": -9.0})
    assert {one.code for one in plan.asked} == set(KINDS)
    for one in analyse(series, plan)["results"]:
        assert "{" not in one["sentence"], one["code"]


def test_every_role_and_every_look_of_an_expectation_is_known() -> None:
    for kind in KINDS.values():
        assert kind.look.endswith("."), kind.code
        for at in kind.ats:
            for asked in kind.roles(at):
                assert set(asked.split("|")) <= set(roles()), (kind.code, asked)


def test_a_plan_says_what_it_does_not_know() -> None:
    with pytest.raises(ValidationError, match="no expectation is called colour"):
        Plan.model_validate({"asked": [{"code": "colour"}]})
    with pytest.raises(ValidationError, match="has these limits and no others: delay_s, beyond_s"):
        Plan.model_validate({"asked": [{"code": "fan_proven", "at": "supply", "limits": {"delay_s": 1.0}}]})
    with pytest.raises(ValidationError, match="is asked of supply, exhaust, not of outdoor"):
        Plan.model_validate(
            {"asked": [{"code": "fan_proven", "at": "outdoor", "limits": {"delay_s": 1.0, "beyond_s": 0.0}}]}
        )
    plan = default_plan({"supply_fan_status", "supply_fan_command"}, SCHEDULE, "America/Denver")
    assert Plan.model_validate_json(plan.model_dump_json()) == plan
