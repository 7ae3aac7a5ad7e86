"""Overload settings, which record stands for a fan, and what is due of it; every row is an acceptance criterion."""

from __future__ import annotations

from typing import Any

import pytest

from tests.judging.builder import position
from tests.kinds.electrical_records import CLAMP, TOOLS, amps, fan, judged, nameplate, q, record
from tests.requirements.motors import BALANCED, MOTOR, page, supply


@pytest.mark.parametrize(
    ("setting", "design", "plate", "outcome"),
    [
        pytest.param(10.0, {}, {}, "conforms", id="at the nameplate"),
        pytest.param(12.5, {}, {}, "conforms", id="125 % at a marked service factor of 1.15"),
        pytest.param(12.6, {}, {}, "does_not_conform", id="126 %"),
        pytest.param(11.5, {"service_factor": 1.0}, {}, "conforms", id="115 % at 1.0"),
        pytest.param(12.0, {"service_factor": 1.0}, {}, "does_not_conform", id="120 % at 1.0"),
        pytest.param(12.0, {"service_factor": 1.0}, {"temperature_rise_k": 40.0}, "conforms", id="a rise of 40 K"),
        pytest.param(9.5, {}, {}, "does_not_conform", id="below the nameplate it trips"),
        pytest.param(9.5, {"overload_low": q(9.0, "A"), "overload_high": q(10.0, "A")}, {}, "conforms", id="design's"),
        pytest.param(10.5, {"overload_high": q(10.0, "A")}, {}, "does_not_conform", id="above the design's range"),
    ],
)
def test_the_overload_setting_lies_between_the_nameplate_and_the_limit(
    setting: float, design: dict[str, Any], plate: dict[str, Any], outcome: str
) -> None:
    """NFPA 70, 430.32(A)(1) (from memory): 125 % from a service factor of 1.15 on or a rise of 40 K, else 115 %."""
    read: dict[str, Any] = {"nameplate": nameplate("three_phase", 10.0, **plate)} if plate else {}
    result = supply(design, overload={"protection": "relay", "setting": q(setting, "A")}, **read)
    assert result.outcome("overload_setting", "supply") == outcome


@pytest.mark.parametrize(
    ("overload", "outcome"),
    [
        ({"protection": "in_the_motor"}, "nothing said"),
        ({"protection": "none"}, "not_judged"),
        ({"protection": "relay"}, "not_due"),
        ({"protection": "not_seen", "dial_low": q(8.0, "A")}, "nothing said"),
    ],
)
def test_protection_that_has_no_setting(overload: dict[str, Any], outcome: str) -> None:
    assert supply(overload=overload).outcome("overload_setting", "supply") == outcome


def test_a_relay_of_another_size_is_told() -> None:
    overload = {
        "protection": "relay",
        "setting": q(16.0, "A"),
        "dial_low": q(14.0, "A"),
        "dial_high": q(20.0, "A"),
    }
    result = supply(overload=overload)
    assert result.outcome("overload_setting", "supply") == "does_not_conform"
    assert "another size" in page(result, "overload_setting")


def test_a_range_that_the_design_gives_is_due_before_anything_is_recorded() -> None:
    nothing = judged(design={"supply": {**MOTOR, "overload_high": q(12.0, "A")}})
    assert nothing.outcome("overload_setting", "supply") == "not_due"
    assert nothing.outcome("motor_current", "supply") == "nothing said"
    assert judged(design={"supply": MOTOR}).outcome("overload_setting", "supply") == "nothing said"


def test_each_fan_has_its_own_final_though_they_came_one_after_the_other() -> None:
    first = record(fan("supply", rotation="reversed"), name="one", at="2026-05-04T10:00:00-05:00")
    second = record(fan("exhaust"), name="two", at="2026-05-04T11:00:00-05:00")
    result = judged(first, second, design={"supply": MOTOR, "exhaust": MOTOR})
    assert result.outcome("fan_rotation", "supply") == "does_not_conform"
    assert result.outcome("fan_rotation", "exhaust") == "conforms"
    mended = record(fan("supply"), name="three", at="2026-05-05T10:00:00-05:00")
    assert judged(first, second, mended).outcome("fan_rotation", "supply") == "conforms"


@pytest.mark.parametrize(
    ("place", "changes", "code"),
    [
        ({"scope": "deferred"}, {}, "not_counted"),
        ({"machine": {"serial": "M-2", "since": "2026-06-01"}}, {}, "recheck"),
        ({}, {"stage": "preliminary"}, "not_due"),
        ({}, {"serial_seen": "another"}, "not_judged"),
    ],
)
def test_a_record_on_which_no_verdict_can_rest(place: dict[str, Any], changes: dict[str, Any], code: str) -> None:
    given = record(fan(current=amps(12.0, 12.0, 12.0), rotation="reversed"), **changes)
    result = judged(given, place=position(fans={"supply": MOTOR}, **place))
    assert result.outcome("fan_rotation", "supply") == result.outcome("motor_current", "supply") == code


def test_a_lapsed_calibration_makes_the_verdict_provisional() -> None:
    lapsed = {**CLAMP, "calibrations": [{"certificate": "C-0", "on": "2024-01-10", "due": "2025-01-10"}]}
    given = record(fan(current=amps(12.0, 12.0, 12.0)))
    result = judged(given, design={"supply": MOTOR}, instruments=[*TOOLS[:1], lapsed])
    assert result.judgement("motor_current", "supply")["provisional"] is True
    assert result.judgement("fan_rotation", "supply")["provisional"] is False


# What is due


@pytest.mark.parametrize(
    ("design", "readings", "due"),
    [
        pytest.param({}, {}, set(), id="only its rotation was seen"),
        pytest.param(
            {},
            {"current": amps(9.0, 9.0, 9.0)},
            {"motor_voltage", "voltage_unbalance"},
            id="amps at the mains: the volts are due too",
        ),
        pytest.param(
            {},
            {"voltage": BALANCED},
            {"motor_current", "current_unbalance"},
            id="volts at the mains: the amps are due too",
        ),
        pytest.param(
            {"motor": "electronically_commutated", "phases": 1}, {"current": amps(2.0)}, set(), id="electronic motor"
        ),
        pytest.param({"motor": "single_phase", "phases": 1}, {"current": amps(9.0)}, {"motor_voltage"}, id="one phase"),
        pytest.param({"drive": True}, {"drive": {"current": q(9.0, "A")}}, set(), id="the drive's display alone"),
    ],
)
def test_a_reading_that_cannot_apply_or_that_nobody_began_is_not_due(
    design: dict[str, Any], readings: dict[str, Any], due: set[str]
) -> None:
    result = supply(design, **readings)
    electrical = ("motor", "voltage", "current", "overload", "fan", "specific")
    absent = {one["requirement"] for one in result.judgements if (one["absence"] or {}).get("code") == "not_due"}
    assert {rule for rule in absent if rule.startswith(electrical)} == due
