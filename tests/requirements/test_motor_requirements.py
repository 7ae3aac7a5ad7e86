"""Rotation, volts, amps and unbalance of each fan's motor; every row is an acceptance criterion."""

from __future__ import annotations

from typing import Any

import pytest

from commissioning.blocks import Caution, Sentence, Table
from commissioning.judging.registry import RULES
from tests.judging.builder import instrument, state
from tests.kinds.electrical_records import (
    CLAMP,
    amps,
    fan,
    judged,
    nameplate,
    q,
    record,
    volts,
)
from tests.requirements.motors import BALANCED, GUARDED, MOTOR, page, supply

# Rotation


@pytest.mark.parametrize(
    ("seen", "outcome"),
    [("correct", "conforms"), ("reversed", "does_not_conform"), ("not_seen", "not_judged")],
)
def test_a_fan_that_turns_the_wrong_way_does_not_conform_whatever_it_draws(seen: str, outcome: str) -> None:
    """A reversed fan draws current too: common practice, no source."""
    result = supply(rotation=seen, current=amps(8.0, 8.0, 8.0), voltage=BALANCED)
    assert result.outcome("fan_rotation", "supply") == outcome
    assert result.outcome("motor_current", "supply") == "conforms"


def test_rotation_was_seen_whatever_the_dampers_and_the_meter_are() -> None:
    """A door that stood open spoils the amps, and a meter found wrong spoils the volts; neither turns a fan round."""
    failed = instrument(
        "clamp",
        accuracy={"relative": 0.015},
        resolution=None,
        calibrations=[
            {"certificate": "C-1", "on": "2026-01-10", "due": "2027-01-10", "as_found": "within"},
            {"certificate": "C-2", "on": "2026-09-10", "due": "2027-09-10", "as_found": "outside"},
        ],
    )
    given = record(fan(rotation="reversed", voltage=BALANCED, current=amps(8.0, 8.0, 8.0)), state=state(doors="open"))
    result = judged(given, design={"supply": MOTOR}, instruments=[failed])
    assert result.outcome("fan_rotation", "supply") == "does_not_conform"
    assert result.outcome("motor_current", "supply") == "not_judged"
    assert result.outcome("motor_voltage", "supply") == "not_judged"
    in_order = judged(given, design={"supply": MOTOR}, instruments=[CLAMP])
    assert in_order.outcome("motor_voltage", "supply") == "conforms"
    assert in_order.outcome("motor_current", "supply") == "not_judged"


# Current


@pytest.mark.parametrize(
    ("legs", "design", "readings", "outcome"),
    [
        pytest.param((9.0, 10.0, 9.5), {}, {}, "conforms", id="at the nameplate's 10 A"),
        pytest.param((9.0, 10.1, 9.5), {}, {}, "does_not_conform", id="101 %; the voltage was not read, so no 1.15"),
        pytest.param((9.0, 11.5, 9.5), {}, {"voltage": BALANCED}, "conforms", id="115 % at rated voltage and SF 1.15"),
        pytest.param((9.0, 11.6, 9.5), {}, {"voltage": BALANCED}, "does_not_conform", id="116 % at SF 1.15"),
        pytest.param(
            (9.0, 10.5, 9.5), {}, {"voltage": volts(410.0, 410.0, 410.0)}, "does_not_conform", id="SF, 11 % low voltage"
        ),
        pytest.param(
            (9.0, 10.5, 9.5), {}, {"voltage": volts(460.0, 467.0, 450.0)}, "does_not_conform", id="SF, 2 % unbalance"
        ),
        pytest.param((10.2, 10.2, 10.2), {"service_factor": 1.0}, {"voltage": BALANCED}, "does_not_conform", id="SF 1"),
        pytest.param((10.0,), {"motor": "single_phase", "phases": 1}, {}, "conforms", id="one leg of a single phase"),
        pytest.param(
            (2.5,),
            {"motor": "electronically_commutated", "nameplate_current": q(2.4, "A")},
            {"voltage": volts(230.0)},
            "does_not_conform",
            id="an electronic motor above its own limit, whatever service factor is written",
        ),
    ],
)
def test_the_highest_leg_against_the_nameplate_times_the_service_factor_that_counts(
    legs: tuple[float, ...], design: dict[str, Any], readings: dict[str, Any], outcome: str
) -> None:
    """NEMA MG 1 (from memory): the service factor holds at rated voltage and frequency alone."""
    result = supply(design, current=amps(*legs), **readings)
    assert result.outcome("motor_current", "supply") == outcome


@pytest.mark.parametrize(
    ("amperes", "maker", "outcome"),
    [
        (10.5, None, "does_not_conform"),
        (10.5, 1.15, "conforms"),
        (9.9, None, "conforms"),
        (11.6, 1.15, "does_not_conform"),
    ],
)
def test_on_a_drive_the_service_factor_is_one_unless_its_maker_says_otherwise(
    amperes: float, maker: float | None, outcome: str
) -> None:
    """Common practice, no source. The current is what the drive shows of its output."""
    design = {"drive": True, "drive_service_factor": maker}
    shown = {"current": q(amperes, "A"), "frequency": q(52.0, "Hz")}
    result = supply(design, drive=shown, read_at="drive_input", current=amps(7.0, 7.1, 6.9), voltage=BALANCED)
    one = result.judgement("motor_current", "supply")
    assert one["verdict"] == outcome
    assert one["value"] == pytest.approx(amperes / 10.0)


def test_a_clamp_before_the_drive_gives_no_verdict_on_the_motor() -> None:
    result = supply({"drive": True}, read_at="drive_input", current=amps(7.0, 7.1, 6.9))
    assert result.outcome("motor_current", "supply") == "not_judged"
    assert "before a drive" in result.judgement("motor_current", "supply")["absence"]["text"]
    assert result.outcome("current_unbalance", "supply") == "nothing said"


@pytest.mark.parametrize(("amperes", "outcome"), [(9.5, "conforms"), (9.9, "inconclusive"), (10.1, "does_not_conform")])
def test_the_uncertainty_of_the_clamp_counts_where_a_guarded_rule_was_agreed(amperes: float, outcome: str) -> None:
    """1.5 % rectangular and 0.5 % between readings: u = √(0.866² + 0.5²) = 1.00 %, U = 2 u."""
    result = supply({"service_factor": 1.0}, settled=GUARDED, current=amps(*[amperes] * 3))
    one = result.judgement("motor_current", "supply")
    assert one["verdict"] == outcome
    assert one["expanded_uncertainty"] == pytest.approx(2.0 * 0.01 * amperes / 10.0, rel=1e-9)


@pytest.mark.parametrize(
    ("change", "readings", "code"),
    [
        ({"nameplate_current": None}, {"current": amps(9.0, 9.0, 9.0)}, "not_given"),
        ({}, {"voltage": BALANCED}, "not_due"),
    ],
)
def test_what_is_missing_is_told_apart(change: dict[str, Any], readings: dict[str, Any], code: str) -> None:
    assert supply(change, **readings).outcome("motor_current", "supply") == code


def test_the_nameplate_that_was_seen_decides_and_not_the_schedule() -> None:
    """9.5 A is within the 10 A that was scheduled, and above the 9.0 A of the motor that sits there."""
    result = supply(current=amps(9.5, 9.5, 9.5), nameplate=nameplate("three_phase", 9.0))
    one = result.judgement("motor_current", "supply")
    assert one["verdict"] == "does_not_conform"
    assert one["sources"]["current_a"] == "nameplate as seen"


# Voltage


@pytest.mark.parametrize(
    ("mean", "frequency", "percent", "outcome"),
    [
        pytest.param(418.0, None, -9.130435, "conforms", id="T8.24: 418 of 460 V"),
        pytest.param(414.0, None, -10.0, "conforms", id="on the lower limit"),
        pytest.param(413.0, None, -10.217391, "does_not_conform", id="below it"),
        pytest.param(506.0, None, 10.0, "conforms", id="on the upper limit"),
        pytest.param(507.0, None, 10.217391, "does_not_conform", id="above it"),
        pytest.param(418.0, 60.0, -9.130435, "conforms", id="at 60 Hz"),
        pytest.param(418.0, 58.8, -9.130435, "does_not_conform", id="2 % off in frequency leaves 8 %"),
        pytest.param(432.4, 58.8, -6.0, "conforms", id="6 and 2 % together are 8 %"),
        pytest.param(461.0, 55.0, 0.2173913, "does_not_conform", id="more than 5 % off in frequency"),
        pytest.param(480.0, 50.0, 4.347826, "conforms", id="50 Hz is a mains' frequency too"),
    ],
)
def test_the_mean_lies_within_ten_per_cent_of_the_nameplate_together_with_the_frequency(
    mean: float, frequency: float | None, percent: float, outcome: str
) -> None:
    """NEMA MG 1, 12.44 (from memory): voltage 10 %, frequency 5 %, together 10 %."""
    read = {"frequency": q(frequency, "Hz")} if frequency else {}
    one = supply(voltage=volts(mean, mean, mean), **read).judgement("motor_voltage", "supply")
    assert one["verdict"] == outcome
    assert 100.0 * one["value"] == pytest.approx(percent, abs=1e-4)


@pytest.mark.parametrize(
    ("design", "readings"),
    [
        ({"drive": True}, {"read_at": "drive_input", "voltage": volts(480.0, 480.0, 480.0)}),
        ({"motor": "electronically_commutated", "phases": 1}, {"voltage": volts(480.0)}),
    ],
)
def test_a_drive_and_an_electronic_motor_have_their_makers_range_and_a_value_for_information(
    design: dict[str, Any], readings: dict[str, Any]
) -> None:
    one = supply(design, **readings).judgement("motor_voltage", "supply")
    assert one["absence"]["code"] == "not_given"
    assert one["value"] == pytest.approx(480.0 / 460.0 - 1.0)
    assert "For information: 480 V" in one["absence"]["text"]


def test_the_uncertainty_of_a_voltage_for_information_is_that_of_the_same_reading_at_the_mains() -> None:
    read = volts(480.0, 480.0, 480.0)
    judged = supply(voltage=read).judgement("motor_voltage", "supply")
    told = supply({"drive": True}, read_at="drive_input", voltage=read).judgement("motor_voltage", "supply")
    assert (judged["verdict"], told["verdict"]) == ("conforms", None)
    assert judged["expanded_uncertainty"] > 0.0
    assert told["expanded_uncertainty"] == pytest.approx(judged["expanded_uncertainty"], rel=1e-12)


# Unbalance


@pytest.mark.parametrize(
    ("legs", "load", "limit", "outcome"),
    [
        pytest.param((460.0, 463.0, 457.0), 10.0, 0.01, "conforms", id="0.65 % at full load"),
        pytest.param((462.0, 463.0, 455.0), 10.0, 0.01, "does_not_conform", id="T8.14, 1.09 % at full load"),
        pytest.param((460.0, 467.0, 450.0), 9.5, 0.02, "conforms", id="T8.15, 1.96 % where 0.95 may be carried"),
        pytest.param((460.0, 467.0, 450.0), 9.7, 0.016, "does_not_conform", id="1.96 % at 0.97"),
        pytest.param((208.0, 206.0, 199.0), 8.8, 0.03, "conforms", id="T8.16, 2.61 % at 0.88"),
        pytest.param((480.0, 460.0, 440.0), 7.5, 0.05, "conforms", id="4.35 % at 0.75"),
        pytest.param((485.0, 460.0, 435.0), 5.0, 0.05, "does_not_conform", id="5.43 %: do not operate"),
        pytest.param((460.0, 463.0, 457.0), None, 0.01, "conforms", id="0.65 %, the load is not known"),
        pytest.param((460.0, 467.0, 450.0), None, None, "not_judged", id="1.96 %, the load is not known"),
        pytest.param((485.0, 460.0, 435.0), None, 0.05, "does_not_conform", id="5.43 %, whatever the load"),
    ],
)
def test_voltage_unbalance_against_what_the_motor_bears_at_its_load(
    legs: tuple[float, ...], load: float | None, limit: float | None, outcome: str
) -> None:
    """NEMA MG 1, 14.36 and fig. 14-1 (from memory): 1 % at 1.0, 2 % at 0.95, 3 % at 0.88, 5 % at 0.75; between
    1.0 and 0.95 straight: 0.97 gives 1.6 %."""
    read = {} if load is None else {"current": amps(load, load, load)}
    result = supply(voltage=volts(*legs), **read)
    assert result.outcome("voltage_unbalance", "supply") == outcome
    one = result.judgement("voltage_unbalance", "supply")
    assert one["high"] == (None if limit is None else pytest.approx(limit))


def test_t8_17_the_winding_gets_hotter() -> None:
    """T8.17: 3 % is 2 x 3² = 18 %, a rule of thumb read on a public page. 446.2, 460 and 473.8 V are 3.0 % out."""
    one = supply(voltage=volts(446.2, 460.0, 473.8), current=amps(8.0, 8.0, 8.0)).judgement(
        "voltage_unbalance", "supply"
    )
    assert one["value"] == pytest.approx(0.03)
    assert one["facts"]["extra_winding_rise"] == pytest.approx(0.18)
    assert one["facts"]["derating"] == pytest.approx(0.88)


@pytest.mark.parametrize(
    ("legs", "outcome"),
    [
        pytest.param((22.4, 21.1, 23.6), "conforms", id="T8.23: 5.66 %"),
        pytest.param((9.0, 10.0, 11.0), "conforms", id="10 % exactly"),
        pytest.param((8.9, 10.0, 11.1), "does_not_conform", id="11 %"),
    ],
)
def test_current_unbalance_above_a_tenth_asks_for_action(legs: tuple[float, ...], outcome: str) -> None:
    """Common practice, no source."""
    result = supply({"nameplate_current": q(30.0, "A")}, current=amps(*legs))
    assert result.outcome("current_unbalance", "supply") == outcome


@pytest.mark.parametrize("motor", ["single_phase", "electronically_commutated"])
def test_what_cannot_apply_is_not_judged_missing(motor: str) -> None:
    design = {"motor": motor, "phases": 1, "voltage": q(230.0, "V")}
    result = supply(design, voltage=volts(231.0), current=amps(9.0))
    outcomes = {rule: result.outcome(rule, "supply") for rule in ("voltage_unbalance", "current_unbalance")}
    assert outcomes == {"voltage_unbalance": "nothing said", "current_unbalance": "nothing said"}
    if motor == "electronically_commutated":
        assert result.outcome("overload_setting", "supply") == "nothing said"


# Pages


def test_a_failing_page_opens_with_the_caution_and_ends_in_steps() -> None:
    result = supply(
        {"service_factor": 1.0},
        rotation="reversed",
        voltage=volts(380.0, 420.0, 400.0),
        current=amps(14.0, 10.0, 10.0),
        overload={"protection": "relay", "setting": q(20.0, "A")},
    )
    rules = (
        "fan_rotation",
        "motor_current",
        "motor_voltage",
        "voltage_unbalance",
        "current_unbalance",
        "overload_setting",
    )
    for rule in rules:
        one = result.judgement(rule, "supply")
        assert one["verdict"] == "does_not_conform", rule
        blocks = RULES[rule].show(one, {}, "ip")
        assert isinstance(blocks[0], Caution), rule
        assert isinstance(blocks[1], Sentence)
        assert blocks[1].text.startswith("Does not conform. Supply fan: ")
        steps = [block for block in blocks if isinstance(block, Table)][-1]
        assert len(steps.rows) == len(one["look_next"]) >= 3


def test_what_the_pages_say() -> None:
    """U of the mean of three volts: 2 x 460 V x √((1.5 %/√3)² + (0.1 %/√3)²) = 8.0 V; of 9.2 A: 2 % are 0.18 A."""
    good = supply(
        voltage=volts(462.0, 463.0, 455.0),
        current=amps(9.0, 9.2, 9.1),
        overload={"protection": "relay", "setting": q(11.0, "A")},
    )
    assert "9.20 ± 0.18 A of 10.0 A on the nameplate, 92 %; service factor counted 1." in page(good, "motor_current")
    assert "holds where the voltages are balanced" in page(good, "motor_current")
    assert "1.1 % ± 0.2 %, at most 2.4 % at its load; the motor may carry 100 % of its rating" in page(
        good, "voltage_unbalance"
    )
    assert "set to 11.0 A for a motor of 10.0 A; allowed 10.0 A to 12.5 A" in page(good, "overload_setting")
    assert "460 ± 8.0 V, 0 % of the nameplate's 460 V" in page(good, "motor_voltage")
    assert "action above 10 %" in page(good, "current_unbalance")
