"""What a trend log says of a loop, and what it cannot say where the loop was not at work."""

from typing import Any

import numpy as np
import pytest

from commissioning import judging
from commissioning.blocks import Sentence, Working
from commissioning.dossier.trends import Logged, printed
from commissioning.kinds import trend as trend_kind
from tests.judging.builder import judged, position
from tests.kinds.trend_records import BEGIN_S, day, record, state, steady, trend


@pytest.mark.parametrize(("valve", "outcome"), [(0.0, "unknown"), (0.4, "holds"), (1.0, "fails")])
def test_a_loop_that_is_not_at_work_shows_no_capacity(valve: float, outcome: str) -> None:
    """A day in summer does not close what a winter's day showed: 18 °C against 20 °C with the valve wide open."""
    heating = state((0.0, 0.0), (7.0, valve), (19.0, 0.0), (23.9, 0.0))
    held = day(heating_valve=heating, supply_temperature_setpoint=steady(20.0, 0.0))
    found = {(one["code"], one["at"]): one for one in trend(held)["results"]}["saturated", "supply_temperature"]
    assert (found["outcome"], found["asked_s"] > 0.0) == (outcome, outcome != "unknown")


# --- the lower end of an output -------------------------------------------------------------------------------------
def turned_down(air_m3_s: float, speed: float = 0.40, **values: float) -> dict[str, Any]:
    """A day at a setpoint of 0.100 m³/s with the fan's command at 40 %."""
    held = {
        "supply_airflow": steady(air_m3_s, 0.0),
        "supply_airflow_setpoint": steady(0.100, 0.0),
        "supply_fan_speed_command": steady(speed, 0.0),
        "supply_fan_status": state((0.0, 1.0), (23.9, 1.0)),
    }
    results = trend(held, values)["results"]
    return next(one for one in results if (one["code"], one["at"]) == ("turns_down", "supply_airflow"))


@pytest.mark.parametrize(
    ("air_m3_s", "outcome", "margin"),
    [(0.130, "fails", -0.20), (0.108, "holds", 0.02), (0.090, "holds", 0.20)],  # 10 % less what it is above 0.100
)
def test_a_fan_at_its_minimum_that_gives_more_than_is_asked_for_cannot_be_turned_down(
    air_m3_s: float, outcome: str, margin: float
) -> None:
    found = turned_down(air_m3_s, supply_minimum_speed=0.40)
    assert found["outcome"] == outcome
    assert found["margin"]["most"] == pytest.approx(margin)


def test_a_fan_above_its_minimum_is_not_at_its_lower_end() -> None:
    assert turned_down(0.130, supply_minimum_speed=0.30)["margin"] is None
    assert turned_down(0.130)["margin"] is None  # no minimum was read: the lower end is nothing
    assert turned_down(0.130, speed=0.02)["outcome"] == "fails"


# --- settings from a bump -------------------------------------------------------------------------------------------
def bumped(dead_s: float = 60.0, minutes: float = 120.0) -> dict[str, Logged]:
    """An override steps the valve from 30 % to 50 %: 20 K for full output, 300 s, and this dead time, each 10 s."""
    times = BEGIN_S + np.arange(0.0, minutes * 60.0, 10.0)
    since = times - BEGIN_S - 1800.0
    answer = np.where(since > dead_s, 1.0 - np.exp(-np.maximum(since - dead_s, 0.0) / 300.0), 0.0)
    end = minutes / 60.0
    return {
        "supply_temperature": Logged(times, 16.0 + 0.2 * 20.0 * answer),
        "supply_temperature_setpoint": state((0.0, 20.0), (end, 20.0)),
        "heating_valve": state((0.0, 0.3), (0.5, 0.5), (end, 0.5)),
        "override": state((0.0, 1.0), (end, 1.0)),
        "supply_fan_status": state((0.0, 1.0), (end, 1.0)),
    }


def test_a_bump_advises_settings_by_simc_in_words_with_its_assumption() -> None:
    """Kc = 300 / (20 × 2 × 60) = 0.125 of output per kelvin; Ti = min(300, 4 × 2 × 60) = 300 s."""
    (one,) = trend(bumped())["advice"]
    told = printed(one["words"], one["amounts"], "si")
    assert told.startswith(
        "For a PI loop of the supply air temperature by its heating valve or heater output this log "
    )
    found = {name: amount["value"] for name, amount in one["amounts"].items()}
    assert found["gain"] == pytest.approx(12.5, rel=0.03)
    assert found["integral"] == pytest.approx(300.0, rel=0.03)
    assert "an integral time of 5 min" in told
    assert "a gain of 2.0 K for each 10 % of output" in told
    assert "by SIMC, and takes it that near this point the process is of first order with dead time" in told
    assert "3.6 °F for each 10 % of output" in printed(one["words"], one["amounts"], "ip")


def test_where_the_bump_does_not_tell_the_process_no_settings_are_advised_and_it_is_said_why() -> None:
    (one,) = trend(bumped(minutes=36.0))["advice"]  # a time constant after the bump: not settled
    assert one["words"].startswith("For the loop of the supply air temperature by its heating valve or heater output ")
    assert "advises no settings: " in one["words"]
    assert one["amounts"] == {}


def test_the_advice_stands_in_the_working_and_with_the_log() -> None:
    series = bumped()
    result = judged(record(series), place=position(trends=[trend(series)]))
    (held,) = [one for one in result.judgements if one["requirement"] == "trend_expectations"]
    blocks = judging.RULES["trend_expectations"].show(held, {}, "si")
    (working,) = [one for one in blocks if isinstance(one, Working)]
    (line,) = [one for one in working.lines if one.label == "Settings of a loop"]
    assert line.value.startswith("For a PI loop of the supply air temperature")
    assert line.source == "erv-1 may.csv"
    (log,) = [one for one in result.measurements if one["kind"] == "trend"]
    sentences = [one.text for one in trend_kind.show(log, "si") if isinstance(one, Sentence)]
    assert line.value in sentences
