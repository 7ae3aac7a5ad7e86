"""What applies to which motor, current against nameplate, overload settings: limits as remembered."""

from __future__ import annotations

import numpy as np
import pytest

from commissioning.engineering.drives import (
    MotorKind,
    MotorQuantity,
    OverloadFinding,
    allowed_service_factor,
    current_load,
    current_unbalance_needs_action,
    overload_check,
    overload_limit_share,
    synchronous_speed_rpm,
    voltage_is_within,
    what_applies,
)
from commissioning.engineering.guards import OutOfRange

THREE, ONE, EC = MotorKind.THREE_PHASE, MotorKind.SINGLE_PHASE, MotorKind.ELECTRONICALLY_COMMUTATED


@pytest.mark.parametrize(
    ("motor", "drive", "not_applicable"),
    [
        (THREE, False, set()),
        (THREE, True, {"slip"}),
        (ONE, False, {"voltage_unbalance", "current_unbalance"}),
        (EC, False, {"voltage_unbalance", "current_unbalance", "slip", "service_factor", "overload_setting"}),
        (EC, True, {"voltage_unbalance", "current_unbalance", "slip", "service_factor", "overload_setting"}),
    ],
)
def test_what_cannot_apply_is_said_with_its_reason(motor: MotorKind, drive: bool, not_applicable: set[str]) -> None:
    """Common practice, no source."""
    found = what_applies(motor=motor, has_drive=drive)
    assert {one.quantity for one in found} == set(MotorQuantity)
    assert {one.quantity.value for one in found if not one.applies} == not_applicable
    assert all(one.why for one in found)


def test_on_a_drive_the_service_factor_is_one_unless_the_maker_says_otherwise() -> None:
    """Common practice, no source."""
    assert allowed_service_factor(motor=THREE, has_drive=False, service_factor=1.15) == 1.15
    assert allowed_service_factor(motor=THREE, has_drive=True, service_factor=1.15) == 1.0
    assert allowed_service_factor(motor=THREE, has_drive=True, service_factor=1.15, maker_allows_on_drive=True) == 1.15
    assert allowed_service_factor(motor=EC, has_drive=False, service_factor=1.15) == 1.0
    assert allowed_service_factor(motor=THREE, has_drive=False) == 1.0  # a nameplate that marks none has 1.0


@pytest.mark.parametrize(
    ("legs", "factor", "share", "fine"),
    [
        ([9.0, 10.0, 9.5], 1.0, 1.0, True),
        ([9.0, 10.1, 9.5], 1.0, 1.01, False),
        ([9.0, 11.5, 9.5], 1.15, 1.15, True),
        ([11.6], 1.15, 1.16, False),
    ],
)
def test_the_highest_leg_counts_against_the_nameplate(
    legs: list[float], factor: float, share: float, fine: bool
) -> None:
    found = current_load(current_a=np.array(legs), nameplate_current_a=10.0, service_factor=factor)
    assert found.share == pytest.approx(share)
    assert found.is_within is fine


@pytest.mark.parametrize(
    ("factor", "rise", "limit"),
    [
        (1.0, None, 1.15),
        (1.14, 41.0, 1.15),
        (1.15, None, 1.25),
        (1.0, 40.0, 1.25),
        (1.0, 40.1, 1.15),
        (1.25, 80.0, 1.25),
    ],
)
def test_the_usual_overload_limit(factor: float, rise: float | None, limit: float) -> None:
    """NFPA 70, 430.32(A)(1), from memory."""
    assert overload_limit_share(service_factor=factor, temperature_rise_k=rise) == limit


@pytest.mark.parametrize(
    ("setting", "factor", "dial", "finding"),
    [
        (10.0, 1.0, (8.0, 12.0), OverloadFinding.IN_ORDER),
        (11.5, 1.0, (8.0, 12.0), OverloadFinding.IN_ORDER),
        (11.6, 1.0, (8.0, 12.0), OverloadFinding.TOO_HIGH),
        (12.5, 1.15, (8.0, 13.0), OverloadFinding.IN_ORDER),
        (12.6, 1.15, (8.0, 13.0), OverloadFinding.TOO_HIGH),
        (9.9, 1.15, (8.0, 13.0), OverloadFinding.TOO_LOW),
        (16.0, 1.15, (16.0, 24.0), OverloadFinding.OUT_OF_REACH),
        (6.0, 1.15, (4.0, 6.0), OverloadFinding.OUT_OF_REACH),
    ],
)
def test_an_overload_setting_is_held_against_the_nameplate(
    setting: float, factor: float, dial: tuple[float, float], finding: OverloadFinding
) -> None:
    found = overload_check(
        setting_a=setting,
        nameplate_current_a=10.0,
        service_factor=factor,
        relay_least_a=dial[0],
        relay_most_a=dial[1],
    )
    assert found.finding is finding
    assert found.share == pytest.approx(setting / 10.0)
    assert "the electrician decides" in found.remark


def test_a_dial_that_was_not_read_hinders_nothing_and_one_read_backwards_is_refused() -> None:
    assert overload_check(setting_a=11.0, nameplate_current_a=10.0).finding is OverloadFinding.IN_ORDER
    with pytest.raises(ValueError, match="lies above its upper end"):
        overload_check(setting_a=11.0, nameplate_current_a=10.0, relay_least_a=12.0, relay_most_a=8.0)


@pytest.mark.parametrize(("volts", "fine"), [(414.0, True), (413.9, False), (506.0, True), (506.1, False)])
def test_voltage_within_ten_per_cent(volts: float, fine: bool) -> None:
    """T8.24 (418 V of 460 V passes); NEMA MG 1, 12.44, from memory."""
    assert voltage_is_within(voltage_v=volts, rated_voltage_v=460.0) is fine
    assert voltage_is_within(voltage_v=np.array([420.0, 418.0, 416.0]), rated_voltage_v=460.0)


def test_a_current_unbalance_above_ten_per_cent_asks_for_action() -> None:
    """Common practice, no source; T8.23 has 5.66 %."""
    assert not current_unbalance_needs_action(unbalance=0.05663)
    assert not current_unbalance_needs_action(unbalance=0.10)
    assert current_unbalance_needs_action(unbalance=0.101)


def test_the_field_turns_with_the_frequency() -> None:
    """120 f / poles by hand."""
    assert synchronous_speed_rpm(frequency_hz=50.0, poles=6) == pytest.approx(1000.0)
    assert synchronous_speed_rpm(frequency_hz=np.array([30.0, 60.0]), poles=4) == pytest.approx(
        np.array([900.0, 1800.0])
    )
    with pytest.raises(ValueError, match="even number of poles"):
        synchronous_speed_rpm(frequency_hz=50.0, poles=3)
    with pytest.raises(OutOfRange, match="frequency is 500 Hz"):
        synchronous_speed_rpm(frequency_hz=500.0, poles=4)
