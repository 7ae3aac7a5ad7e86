"""A functional test's step that stands on a trend log: what covers it, what decides, and what is said of both."""

from __future__ import annotations

import doctest
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from commissioning import judging
from commissioning.blocks import Sentence, Table, Working
from commissioning.catalogue.procedures import LIBRARY
from commissioning.dossier.procedures import by_log, show_log
from commissioning.dossier.procedures.named import faults_of_trend
from commissioning.dossier.trends import Logged
from tests.judging.builder import Result, named
from tests.kinds.test_run_records import LATER, judged, place, run, settings, steps
from tests.kinds.trend_records import FILE, record, state, steady, trend

DURING = "2026-05-04T10:00:00-05:00"  # within the day that the log holds
NIGHT_AFTER = "2026-05-05T10:00:00-05:00"
OTHER_FILE = "e" * 64
YES = {"yes": True, "log": "watched on the panel"}
NO = {"yes": False, "log": "watched on the panel"}


def heated(air: float = 20.0, *, hours: tuple[float, float] = (0.0, 24.0)) -> dict[str, Logged]:
    """A day at a setpoint of 20 °C with the valve half open and the fan on, the air at this temperature."""
    levels = {"supply_temperature": air, "supply_temperature_setpoint": 20.0, "heating_valve": 0.5}
    series = {role: steady(level, swing=0.0) for role, level in levels.items()}
    kept = {role: _within(one, hours) for role, one in series.items()}
    return {**kept, "supply_fan_status": state((0.0, 1.0), (23.9, 1.0))}


def _within(one: Logged, hours: tuple[float, float]) -> Logged:
    at = (one.times_s - one.times_s[0]) / 3600.0
    keep = (at >= hours[0]) & (at <= hours[1])
    return Logged(one.times_s[keep], np.array(one.values[keep]))


def with_log(
    series: dict[str, Logged], *runs: dict[str, Any], analysed: bool = True, first: bool = False, **told: Any
) -> Result:
    """Runs and one log at a unit; `first`: the log came before them."""
    where = place(trends=[trend(series)] if analysed else [])
    log = record(series, **told)
    return judged(settings(), *((log, *runs) if first else (*runs, log)), where=where)


def tempering(said: dict[str, Any], at: str = DURING, **changes: Any) -> dict[str, Any]:
    return run("tempering", at=at, otherwise={"steps_up": said}, **changes)


def row(result: Result, step: str = "steps_up", code: str = "tempering") -> dict[str, Any]:
    assert result.problems == []
    return steps(result, code)[step]


# --- what decides ---------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("air", "said", "verdict", "told"),
    [
        (20.0, YES, "conforms", "as expected by eye, as expected by the log"),
        (20.0, NO, "conforms", "not as expected by eye, as expected by the log: the log decides"),
        (17.0, YES, "does_not_conform", "as expected by eye, not as expected by the log: the log decides"),
        (17.0, NO, "does_not_conform", "not as expected by eye, not as expected by the log"),
    ],
)
def test_a_log_that_covers_the_run_decides_and_both_are_told(
    air: float, said: dict[str, Any], verdict: str, told: str
) -> None:
    result = with_log(heated(air), tempering(said))
    held = row(result)
    assert (held["verdict"], show_log.seen(held)) == (verdict, told)
    assert result.judgement("functional_tests", "tempering")["rests_on"] == [named("run of tempering"), named("log")]


def test_the_margin_of_the_expectation_is_kept_and_told() -> None:
    """The air stands 3 K below its setpoint where 1 K is allowed: 2 K too far."""
    result = with_log(heated(17.0), tempering(YES))
    (held,) = [one for one in row(result)["log"]["results"] if one["code"] == "setpoint_held"]
    assert held["margin"]["most"] == pytest.approx(-2.0)
    table = side_by_side(result)
    (line,) = [one for one in table.rows if one[0] == "1" and one[2] == "Setpoint held, supply air temperature"]
    assert (line[1], line[4]) == ("as expected", "−2.0 K")
    assert line[3].startswith("not as expected: The supply air temperature stood off its setpoint for")
    assert line[5] == (
        "erv-1 may.csv, Mon 4 May 2026, 00:00 to Mon 4 May, 23:55; its hours hold the moment of the answer"
    )


@pytest.mark.parametrize(
    ("said", "verdict", "told"),
    [
        (YES, "inconclusive", "as expected by eye, not known by the log: the log decides"),
        (
            NO,
            "does_not_conform",
            "not as expected by eye, not known by the log: "
            "the log does not tell all of it, and the eye decides the rest",
        ),
    ],
)
def test_what_a_gap_in_the_log_hides_cannot_be_told_and_a_failure_that_was_seen_stands(
    said: dict[str, Any], verdict: str, told: str
) -> None:
    """Heating against cooling is asked for as long as the fan runs; the valves are logged until noon alone."""
    series = heated()
    series["cooling_valve"] = _within(steady(0.0, swing=0.0), (0.0, 24.0))
    lost = replace(series["cooling_valve"], values=np.where(np.arange(288) % 288 > 144, np.nan, 0.0))
    series["cooling_valve"] = lost
    result = with_log(series, run("tempering", at=DURING, otherwise={"not_together": said}))
    held = row(result, "not_together")
    assert (held["verdict"], show_log.seen(held)) == (verdict, told)
    assert result.outcome("functional_tests", "tempering") == verdict


def night(frozen: bool) -> dict[str, Logged]:
    """Exhaust air of 12 °C; with frost, of −4 °C from 02:00 to 04:00, and the action 3 min after it."""
    hours = np.arange(288) / 12.0
    cold = steady(12.0, swing=0.0)
    cold = replace(cold, values=np.where((hours >= 2.0) & (hours < 4.0) & frozen, -4.0, 12.0))
    on = float(frozen)
    return {
        "exhaust_temperature": cold,
        "frost_state": state((0.0, 0.0), (2.05, on), (4.05, 0.0), (23.9, 0.0)),
        "supply_fan_status": state((0.0, 1.0), (23.9, 1.0)),
    }


@pytest.mark.parametrize(
    ("frozen", "asked", "left"),
    [
        (True, ["acts", "needless"], "that the pressure drop comes back each time."),
        (False, ["needless"], "Frost protection, acts; that the pressure drop comes back each time."),
    ],
)
def test_what_the_log_does_not_tell_stays_with_the_eye(frozen: bool, asked: list[str], left: str) -> None:
    """That frost protection comes and goes the log tells; that no ice stays it does not."""
    series = night(frozen)
    where = place(trends=[trend(series, {"frost_limit": -2.0})])
    for yes, verdict in ((True, "conforms"), (False, "does_not_conform")):
        answer = {"yes": yes, "log": "erv-1 may.csv, the whole of it"}
        result = judged(settings(), run("frost", otherwise={"cold_night": answer}), record(series), where=where)
        held = row(result, "cold_night", "frost")
        assert [(one["at"], one["outcome"]) for one in held["log"]["results"]] == [(one, "holds") for one in asked]
        assert held["verdict"] == verdict
    assert show_log.seen(held).endswith("the log does not tell all of it, and the eye decides the rest")
    told = [one.text for one in shown(result, "frost") if isinstance(one, Sentence) and "leaves to the eye" in one.text]
    assert told == [f"Step 7: the log leaves to the eye: {left}"]


# --- what covers ----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(("said", "verdict"), [(YES, "conforms"), (NO, "does_not_conform")])
def test_without_a_log_that_covers_the_run_the_answer_by_eye_stands(said: dict[str, Any], verdict: str) -> None:
    for result in (judged(settings(), tempering(said)), with_log(heated(17.0), tempering(said, at=NIGHT_AFTER))):
        held = row(result)
        assert held["verdict"] == verdict
        assert show_log.seen(held).endswith("as expected by eye; no log covers it")
        assert result.judgement("functional_tests", "tempering")["rests_on"] == [named("run of tempering")]


def test_a_log_whose_file_the_answer_names_covers_it_whenever_the_run_was() -> None:
    said = {"yes": True, "log": "ERV-1 May.csv, Monday"}
    held = row(with_log(heated(17.0), tempering(said, at=NIGHT_AFTER)))
    assert (held["verdict"], held["log"]["how"]) == ("does_not_conform", "named")
    other = {"yes": True, "log": "serv-1 may.csv"}
    assert row(with_log(heated(17.0), tempering(other, at=NIGHT_AFTER)))["verdict"] == "conforms"


def test_the_moment_of_the_answer_goes_before_that_of_the_run() -> None:
    said = {**YES, "at": DURING}
    assert row(with_log(heated(17.0), tempering(said, at=NIGHT_AFTER)))["verdict"] == "does_not_conform"


def test_a_log_that_cannot_be_asked_leaves_the_answer_by_eye() -> None:
    held = row(with_log({"supply_temperature": steady(18.0)}, tempering(YES)))
    assert held["verdict"] == "conforms"
    assert show_log.seen(held) == "as expected by eye; the log that covers it cannot be asked this"


def test_a_log_still_to_be_analysed_is_waited_for_where_it_may_tell() -> None:
    waiting = with_log(heated(), tempering(YES), analysed=False)
    assert waiting.outcome("functional_tests", "tempering") == "not_due"
    assert show_log.seen(row(waiting)) == "as expected by eye; the log that covers it is still to be analysed"
    other = with_log({"room_co2": steady(6e-4, swing=1e-5)}, tempering(YES), analysed=False)
    assert other.outcome("functional_tests", "tempering") == "conforms"


def test_a_log_that_does_not_stand_decides_nothing() -> None:
    assert row(with_log(heated(17.0), tempering(YES), stage="preliminary"))["verdict"] == "conforms"
    elsewhere = with_log(heated(17.0), tempering(YES), serial_seen="M-9")  # here sits M-1
    assert elsewhere.outcome("functional_tests", "tempering") == "conforms"


def test_of_two_logs_that_cover_it_the_newer_that_can_tell_decides() -> None:
    series = heated(17.0), heated(20.0), {"supply_temperature": steady(18.0)}
    files = FILE, OTHER_FILE, "d" * 64
    logs = [
        record(one, name=f"log {number}", file=file, at=f"2026-05-05T0{number}:00:00-05:00")
        for number, (one, file) in enumerate(zip(series, files, strict=True))
    ]
    where = place(trends=[trend(one, file=file) for one, file in zip(series, files, strict=True)])
    held = row(judged(settings(), tempering(YES), *logs, where=where))
    assert held["verdict"] == "conforms"
    assert {one["envelope"] for one in held["log"]["results"]} == {named("log 1")}


def test_the_order_in_which_run_and_log_arrive_counts_for_nothing() -> None:
    late = with_log(heated(17.0), tempering(YES))
    early = with_log(heated(17.0), tempering(YES), first=True)
    assert late.judgement("functional_tests", "tempering") == early.judgement("functional_tests", "tempering")


def test_a_log_answers_for_nobody_who_did_not_do_the_step() -> None:
    left_out = with_log(heated(), run("tempering", "steps_up", at=DURING))
    assert row(left_out)["why"] == "Not answered."
    cannot = with_log(heated(), tempering({"cannot": "No heating water yet."}))
    assert cannot.outcome("functional_tests", "tempering") == "not_due"


def test_each_run_is_held_to_the_log_of_its_own_time() -> None:
    retest = tempering(YES, at=LATER, name="again", run="FT-2")
    result = with_log(heated(17.0), tempering(YES), retest)
    assert result.outcome("functional_tests", "tempering") == "conforms"
    runs = result.judgement("functional_tests", "tempering")["facts"]["runs"]
    assert [one["verdict"] for one in runs] == ["does_not_conform", "conforms"]


# --- what a step names, and what is shown of it ---------------------------------------------------------------------
@pytest.mark.parametrize(
    ("named_so", "reason", "remedy"),
    [
        ("setpoint_hold.supply_temperature", "no expectation over a trend is called setpoint_hold", "setpoint_held"),
        ("hunts.return_temperature", "hunts is not asked of return_temperature", "hunts.supply_temperature"),
        ("hunts", "hunts is not asked of the unit as a whole", "hunts.supply_temperature"),
        ("heat_and_cool.supply", "heat_and_cool is not asked of supply", "name one of heat_and_cool"),
    ],
)
def test_a_misspelt_expectation_is_refused_with_what_there_is(named_so: str, reason: str, remedy: str) -> None:
    step = replace(LIBRARY.procedures["tempering"].by_id["steps_up"], trend=(named_so,))
    (fault,) = faults_of_trend(step)
    assert f'trend "{named_so}": {reason}; name one of ' in fault
    assert remedy in fault


def test_the_working_says_by_which_rule_a_log_decides() -> None:
    (working,) = [one for one in shown(judged(settings(), tempering(YES)), "tempering") if isinstance(one, Working)]
    assert show_log.RULE in [one.value for one in working.lines]
    without = shown(judged(settings(), run("power")), "power")
    assert show_log.RULE not in [one.value for block in without if isinstance(block, Working) for one in block.lines]


def test_a_plan_says_which_expectations_a_step_stands_on() -> None:
    blocks = shown(judged(settings(), where=place(["tempering"])), "tempering")
    (table,) = [one for one in blocks if isinstance(one, Table) and one.caption == "Steps"]
    assert table.rows[2][3] == "judged by a trend log that covers it: No heating against cooling"


def shown(result: Result, code: str) -> list[Any]:
    return list(judging.RULES["functional_tests"].show(result.judgement("functional_tests", code), {}, "si"))


def side_by_side(result: Result) -> Table:
    blocks = shown(result, "tempering")
    (table,) = [one for one in blocks if isinstance(one, Table) and one.caption == "By eye and by the log"]
    return table


@pytest.mark.parametrize("module", [by_log, show_log])
def test_examples_in_docstrings_hold(module: Any) -> None:
    assert doctest.testmod(module).failed == 0
