"""Starts judged: order and delays, command against proof, and whether the unit is started as a whole."""

from __future__ import annotations

from typing import Any

import pytest

from tests.judging import builder
from tests.judging.builder import Result, position
from tests.kinds import checklist_records, electrical_records, settings_records
from tests.kinds.startup_records import ALL_GIVEN, damper, fan, judged, loss, record, s

FAILS, HOLDS, OPEN = "does_not_conform", "conforms", "not_judged"
BEFORE, LATER = "2026-05-04T09:00:00-05:00", "2026-05-06T09:00:00-05:00"


def settings(**values: Any) -> dict[str, Any]:
    """The snapshot as left: 90 s from damper to fan, 30 s until proof is missed."""
    return settings_records.record(settings_records.values(**values), at=BEFORE)


def moves(at: float) -> dict[str, Any]:
    return {"seen": "moves", "by": "pressure_switch", "at": s(at)}


def rows(result: Result, code: str) -> list[dict[str, Any]]:
    assert result.problems == []
    return [one for one in result.judgement("start_sequence")["facts"]["rows"] if one["code"] == code]


def row(result: Result, code: str) -> dict[str, Any]:
    (one,) = rows(result, code)
    return one


def test_a_fan_commanded_3_s_after_its_damper_is_proven_conforms() -> None:
    """T12.01 of the check values: start 0 s, end switch 42 s, fan output 45 s; 45 − 42 = 3."""
    result = judged(record(fans=[fan()]))
    assert result.outcome("start_sequence") == HOLDS
    assert row(result, "open_before")["margin_s"] == 3.0
    assert row(result, "open_before")["seen"] == "open at 42 s, fan at 45 s: fan 3 s after proof"


def test_an_alarm_31_s_after_proof_is_lost_keeps_a_delay_of_30_s() -> None:
    """T12.02: lost at 100 s, alarm logged at 131 s, limit 30 ± 2 s; 2 − |31 − 30| = 1 is left."""
    result = judged(record(fans=[fan(lost=[loss(100.0, alarm=131.0, on_purpose=True)])]), settings())
    one = row(result, "alarm")
    assert (one["state"], one["margin_s"], one["limit"]) == ("holds", 1.0, "30 s ± 2 s")
    assert one["seen"] == "did not come back; alarm 31 s after the loss"
    assert one["source"] == "settings as left, 2026-05-04"
    assert result.outcome("start_sequence") == result.outcome("fan_proven", "supply") == HOLDS


OUTDOOR_DAMPER = {"unit": {"options": ["outdoor_damper"], "field_sensors": []}}
SEQUENCES: list[tuple[str, dict[str, Any], str, str]] = [
    ("the fan comes with the damper half way", {"fans": [fan(commanded=s(30.0))]}, FAILS, "open_before"),
    ("the damper stays closed", {"dampers": [damper(opening="stays_closed", proven=None)]}, FAILS, "open_before"),
    (
        "the damper takes longer than it may",
        {"dampers": [damper(proven=s(93.0))], "fans": [fan(commanded=s(95.0), current={}, air=moves(99.0))]},
        FAILS,
        "travel",
    ),
    (
        "no switch, and the fan waits",
        {"dampers": [damper(proof="none", proven=None)], "fans": [fan(commanded=s(88.0), current={}, air={})]},
        HOLDS,
        "open_before",
    ),
    (
        "no switch, and the fan does not wait",
        {"dampers": [damper(proof="none", proven=None)], "fans": [fan()]},
        FAILS,
        "open_before",
    ),
    ("nobody timed the end switch", {"dampers": [damper(proven=None)]}, OPEN, "open_before"),
    ("the fan is proven late", {"fans": [fan(air=moves(78.0))]}, FAILS, "in_time"),
    ("the fan is proven as late as it may", {"fans": [fan(air=moves(77.0))]}, HOLDS, "in_time"),
    ("proof is lost for 12 s", {"fans": [fan(lost=[loss(100.0, 12.0)])]}, HOLDS, "alarm"),
    ("proof stays lost without an alarm", {"fans": [fan(lost=[loss(100.0, on_purpose=True)])]}, FAILS, "alarm"),
    ("the alarm comes too early", {"fans": [fan(lost=[loss(100.0, alarm=110.0)])]}, FAILS, "alarm"),
    (
        "the damper closes on the running fan",
        {"dampers": [damper(closed=s(5.0))], "fans": [fan(stopped=s(8.0))]},
        FAILS,
        "stop",
    ),
    ("fan, then damper", {"dampers": [damper(closed=s(50.0))], "fans": [fan(stopped=s(8.0))]}, HOLDS, "stop"),
]


@pytest.mark.parametrize(("told", "changes", "outcome", "code"), SEQUENCES, ids=[one[0] for one in SEQUENCES])
def test_each_step_of_the_start_is_held_to_its_limit(
    told: str, changes: dict[str, Any], outcome: str, code: str
) -> None:
    """Limits of the settings: damper 90 s, proof 30 s, each with 2 s; 45 + 30 + 2 = 77 s for the fan."""
    result = judged(record(**changes), settings())
    assert result.outcome("start_sequence") == outcome, result.judgement("start_sequence")["facts"]["rows"]
    wanted = {FAILS: {"fails"}, OPEN: {"not_timed"}}.get(outcome, {"holds", "logged"})
    assert {one["state"] for one in rows(result, code)} <= wanted


def test_delays_given_with_the_record_come_before_those_of_the_settings() -> None:
    limits = {"fan_proof": s(8.0), "exhaust_after_supply": s(20.0), "source": "Sequence of operation, 4.2"}
    result = judged(
        record(fans=[fan(), fan("exhaust", commanded=s(65.0), current={}, air={})], limits=limits), settings()
    )
    assert row(result, "in_time")["source"] == row(result, "fan_order")["source"] == "Sequence of operation, 4.2"
    assert row(result, "fan_order")["margin_s"] == 2.0  # 65 − 45 = 20, as it should be
    assert row(result, "in_time")["state"] == "holds"  # 55 − 45 = 10, allowed 8 + 2


def test_a_delay_that_nobody_gave_is_not_given_and_fails_nothing() -> None:
    result = judged(record())
    assert {one["state"] for one in rows(result, "travel")} == {"not_given"}
    assert result.outcome("start_sequence") == HOLDS
    nothing = judged(record(dampers=[], fans=[fan()]))
    assert nothing.outcome("start_sequence") == "not_given"


def test_a_damper_of_the_design_that_the_start_does_not_speak_of_leaves_the_order_open() -> None:
    place = position({"supply": {}})
    place["design"]["equipment"] = OUTDOOR_DAMPER
    assert judged(record(dampers=[]), place=place).outcome("start_sequence") == OPEN
    assert judged(record(), place=place).outcome("start_sequence") == HOLDS


PROOFS: list[tuple[str, dict[str, Any], str, str]] = [
    ("air moves", {}, HOLDS, ""),
    ("air moves and nobody looked for current", {"current": {}}, HOLDS, ""),
    ("on by command and dead in fact", {"current": {"seen": "none"}, "air": {"seen": "still"}}, FAILS, "dead in fact"),
    ("the belt is off", {"air": {"seen": "still"}}, FAILS, "draws current, and no air moves"),
    ("another fan moves the air", {"current": {"seen": "none"}}, FAILS, "another fan"),
    ("it turns backwards", {"rotation": "reversed"}, FAILS, "the wrong way"),
    ("the switch is jumpered", {"air": moves(20.0)}, FAILS, "25 s before the command"),
    ("a current alone", {"air": {}}, OPEN, "a reversed fan does too"),
    ("a command alone", {"air": {}, "current": {}}, OPEN, "no proof"),
    ("nobody saw it turn", {"rotation": "not_seen", "rotation_by": None}, OPEN, "nobody saw which way"),
    ("a short loss is logged", {"lost": [loss(100.0, 12.0)]}, HOLDS, ""),
    ("a long loss", {"lost": [loss(100.0, 33.0)]}, FAILS, "longer than its delay of 30 s"),
    ("a loss for good", {"lost": [loss(100.0)]}, FAILS, "did not come back"),
    ("lost on purpose", {"lost": [loss(100.0, on_purpose=True, alarm=130.0)]}, HOLDS, ""),
    ("not commanded", {"command": "off", "commanded": None}, "not_due", "was not commanded"),
]


@pytest.mark.parametrize(("told", "changes", "outcome", "why"), PROOFS, ids=[one[0] for one in PROOFS])
def test_a_fan_is_proven_by_air_that_is_seen_to_move(
    told: str, changes: dict[str, Any], outcome: str, why: str
) -> None:
    result = judged(record(fans=[fan(**changes)]), settings())
    assert result.outcome("fan_proven", "supply") == outcome
    one = result.judgement("fan_proven", "supply")
    assert why in (one["absence"]["text"] if one["absence"] else " ".join(one["facts"]["why"]))
    assert bool(one["look_next"]) == (outcome == FAILS)


def test_a_loss_without_any_delay_to_hold_it_against_is_not_judged() -> None:
    assert judged(record(fans=[fan(lost=[loss(100.0, 12.0)])])).outcome("fan_proven", "supply") == "not_given"


def test_the_newer_of_two_records_says_which_way_a_fan_turns_and_amps_stand_beside() -> None:
    motor: dict[str, Any] = {"rotation": "reversed", "current": electrical_records.amps(9.0, 9.1, 9.2)}
    start = record(fans=[fan(rotation="not_seen", rotation_by=None)])
    read = electrical_records.record(electrical_records.fan(**motor), at=LATER)
    result = judged(start, read, instruments=electrical_records.TOOLS)
    assert result.outcome("fan_proven", "supply") == FAILS
    assert result.judgement("fan_proven", "supply")["facts"]["current_a"] == pytest.approx(9.2)
    mended = record("again", at="2026-05-07T09:00:00-05:00", fans=[fan()])
    assert judged(read, mended, instruments=electrical_records.TOOLS).outcome("fan_proven", "supply") == HOLDS


def parts(result: Result) -> dict[str, str]:
    assert result.problems == []
    return {one["part"]: one["state"] for one in result.judgement("started")["facts"]["parts"]}


def said(result: Result) -> str:
    return str(result.judgement("started")["absence"]["text"])


def test_a_unit_is_started_once_its_settings_as_left_are_on_record() -> None:
    whole = record(fans=[fan(), fan("exhaust")])
    before = judged(whole)
    assert before.outcome("started") == "not_due"
    assert said(before) == "Settings as left: Not read yet: nobody could restore them. Next: the technician."
    after = judged(whole, settings())
    assert after.outcome("started") == HOLDS
    assert set(parts(after).values()) == {"settled"}
    found = settings_records.record(moment="as_found", at=BEFORE)
    assert judged(whole, found).outcome("started") == "not_due"
    assert judged(record(controller="none")).outcome("started") == HOLDS


def test_a_unit_that_does_not_run_fails_with_its_cause_and_who_unblocks_it() -> None:
    stop = {"cause": "no_power", "note": "feeder not pulled", "company": "Halvard Electric"}
    result = judged(record(fans=[], not_running=stop), settings())
    assert result.outcome("started") == FAILS
    (step,) = result.judgement("started")["look_next"]
    assert step == "Halvard Electric (electrical): It does not run: no power: feeder not pulled."
    assert result.outcome("start_sequence") == "not_due"
    mended = record("again", at=LATER)
    assert judged(record(fans=[], not_running=stop), mended, settings()).outcome("started") == HOLDS


@pytest.mark.parametrize(
    ("changes", "part", "told"),
    [
        ({"permissives": {}}, "Permissives", "Not looked at: power on at the unit"),
        ({"fans": [fan(), fan("exhaust", air={"seen": "still"})]}, "Exhaust fan", "no air moves. Next: mechanical"),
        ({"fans": [fan(), fan("exhaust", air={})]}, "Exhaust fan", "Next: the technician"),
        ({"fans": [fan(commanded=s(30.0)), fan("exhaust")]}, "Order of the start", "Next: controls"),
        ({"dampers": [damper(proven=None)]}, "Order of the start", "Not timed: outdoor air damper"),
        ({"fans": [fan(electrical="not_taken")]}, "Electrical readings, supply fan", "Next: electrical"),
        (
            {"fans": [fan(electrical="in_electrical_record")]},
            "Electrical readings, supply fan",
            "no final of it counts",
        ),
    ],
)
def test_what_is_open_is_told_with_who_is_next(changes: dict[str, Any], part: str, told: str) -> None:
    result = judged(record(**changes), settings())
    assert result.outcome("started") == "not_due"
    assert parts(result)[part] == "open"
    assert told in said(result)


def test_a_unit_that_ran_with_its_safeties_jumpered_fails() -> None:
    result = judged(record(permissives={**ALL_GIVEN, "safeties": "missing"}), settings())
    assert result.outcome("started") == FAILS
    assert "It ran without: safeties in circuit" in result.judgement("started")["look_next"][0]


def test_a_start_with_a_safety_hold_fails_until_its_release_is_recorded() -> None:
    held = checklist_records.record(*checklist_records.all_right("grounded"), checklist_records.no("grounded"))
    whole = record(fans=[fan(), fan("exhaust")])
    place = checklist_records.place()
    result = judged(held, whole, settings(), place=place)
    assert (result.outcome("started"), parts(result)["Safety holds"]) == (FAILS, "fails")
    release = checklist_records.record(releases=[checklist_records.release("grounded")], name="release", at=LATER)
    assert judged(held, whole, settings(), release, place=place).outcome("started") == HOLDS


def test_a_fan_of_the_design_that_nobody_started_keeps_the_start_open() -> None:
    place = position({"supply": {}}, fans={"supply": {}, "exhaust": {}})
    result = judged(record(fans=[fan()]), settings(), place=place)
    assert parts(result)["Exhaust fan"] == "open"
    assert result.outcome("fan_proven", "exhaust") == "not_due"


def test_after_a_change_of_machine_the_start_and_its_settings_are_due_again() -> None:
    swapped = position({"supply": {}}, machine={"serial": "M-2", "since": "2026-05-05"})
    old = judged(record(), settings(), place=swapped)
    codes = {old.outcome("started"), old.outcome("start_sequence"), old.outcome("fan_proven", "supply")}
    assert codes == {"recheck"}
    assert said(old) == "The machine was changed on 2026-05-05: start it again."
    new = judged(record("new", at=LATER, serial_seen="M-2"), settings(), place=swapped)
    assert new.outcome("fan_proven", "supply") == HOLDS
    assert (new.outcome("started"), parts(new)["Settings as left"]) == ("recheck", "again")


def test_balancing_afterwards_asks_for_no_other_start() -> None:
    left = builder.envelope(builder.all_ports(), at=LATER)
    result = judged(record(), settings(), left, place=position())
    assert result.outcome("started") == HOLDS


def test_a_unit_of_which_no_start_is_recorded_is_asked_for_none() -> None:
    result = judged(settings(), place=position(fans={"supply": {}}))
    assert {result.outcome(code) for code in ("started", "start_sequence")} == {"nothing said"}
    assert judged(record(stage="preliminary")).outcome("started") == "not_due"
    assert judged(record(), place=position(scope="deferred")).outcome("started") == "not_counted"


def test_each_damper_has_to_be_open_for_the_fan_whose_air_goes_through_it() -> None:
    """Supply fan at 45 s, exhaust fan at 60 s: the exhaust air damper at 50 s is 10 s ahead of its own fan."""
    late = fan("exhaust", commanded=s(60.0), current={}, air=moves(70.0))
    both = [damper(), damper("exhaust", proven=s(50.0), closed=s(20.0))]
    result = judged(record(dampers=both, fans=[fan(stopped=s(30.0)), {**late, "stopped": s(15.0)}]))
    assert [one["margin_s"] for one in rows(result, "open_before")] == [3.0, 10.0]
    assert row(result, "stop")["margin_s"] == 5.0
    alone = judged(record(dampers=[damper("exhaust", proven=s(50.0))], fans=[fan()]))
    assert row(alone, "open_before")["margin_s"] == -5.0
