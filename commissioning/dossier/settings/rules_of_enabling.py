"""Rules on clock, network and enabling, and on what was ordered: whether it would ever run, and when."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from commissioning.dossier.settings.rules import CLOCK, Case, Rule, Test

CLOCK_ALLOWED_S = 300.0
HALF_HOUR_S = 1800.0
BACNET = "ANSI/ASHRAE 135, from memory"
MODBUS = "Modbus over Serial Line, specification, 2.2, from memory"


def enabled_by(*words: str) -> Test:
    return lambda case: case.is_one("enabling", *words)


def _by_clock(case: Case) -> bool:
    return case.is_one("enabling", "schedule")


def _not_by_clock(case: Case) -> bool:
    return not _by_clock(case)


def is_another_zone(off_s: float) -> bool:
    """Off by whole half hours: another zone, or daylight saving, rather than a clock that drifts.

    >>> is_another_zone(3610.0), is_another_zone(-5400.0), is_another_zone(900.0), is_another_zone(20.0)
    (True, True, False, False)
    """
    halves = round(off_s / HALF_HOUR_S)
    return halves != 0 and abs(off_s - halves * HALF_HOUR_S) <= CLOCK_ALLOWED_S


def _drifts(case: Case) -> bool:
    off = case.clock_off_s
    return off is not None and abs(off) > CLOCK_ALLOWED_S and not is_another_zone(off)


def _zone_off(case: Case) -> bool:
    return case.clock_off_s is not None and is_another_zone(case.clock_off_s)


def offset_in(zone: str, at: datetime) -> timedelta | None:
    """The zone's difference to UTC at a moment; None where this is no zone's name."""
    try:
        return at.astimezone(ZoneInfo(zone)).utcoffset()
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None


def _names_a_zone(case: Case) -> bool:
    return case.at is not None and (
        "time_zone" not in case.values or offset_in(case.word("time_zone"), case.at) is not None
    )


def _other_zone(case: Case) -> bool:
    return case.at is not None and offset_in(case.word("time_zone"), case.at) != offset_in(case.site_zone, case.at)


def _site_changes(case: Case) -> bool:
    if case.at is None:
        return False
    winter, summer = (datetime(case.at.year, month, 1, tzinfo=UTC) for month in (1, 7))
    return offset_in(case.site_zone, winter) != offset_in(case.site_zone, summer)


def _has_network(case: Case) -> bool:
    return not case.is_one("network_protocol", "none", "")


RULES: tuple[Rule, ...] = (
    Rule(
        "E01", "wrong_air", "The controller's clock is off by more than five minutes, and a schedule runs the unit.",
        "Set the clock; see that something keeps it right.", (CLOCK,), _drifts, _by_clock,
    ),
    Rule(
        "E02", "wrong_air", "The controller's clock is off by whole half hours, and a schedule runs the unit.",
        "Set time zone and daylight saving, then the clock.", (CLOCK,), _zone_off, _by_clock,
    ),
    Rule(
        "E03", "look", "The controller's clock is off by more than five minutes: alarms and trends bear wrong times.",
        "Set the clock; see that something keeps it right.", (CLOCK,), _drifts, _not_by_clock,
    ),
    Rule(
        "E04", "look", "The controller's clock is off by whole half hours: alarms and trends bear wrong times.",
        "Set time zone and daylight saving, then the clock.", (CLOCK,), _zone_off, _not_by_clock,
    ),
    Rule(
        "E05", "look", "The time zone is not the site's: the clock goes wrong as soon as something sets it.",
        "Set the site's time zone.", ("time_zone",), _other_zone, _names_a_zone,
    ),
    Rule(
        "E06", "look", "The site changes to daylight saving time and the controller does not follow.",
        "Switch daylight saving on, or have the building's network set the clock.",
        ("daylight_saving",), lambda case: case.no("daylight_saving"), _site_changes,
    ),
    Rule(
        "E10", "look", "The network address is still the one it was delivered with: the next unit has it too.",
        "Give it the address of the controls drawings.", ("network_address", "network_address_delivered"),
        lambda case: case.number("network_address") == case.number("network_address_delivered"), _has_network,
    ),
    Rule(
        "E11", "look", "The device instance is still the one it was delivered with: the next unit has it too.",
        "Give it the instance of the controls drawings.", ("device_instance", "device_instance_delivered"),
        lambda case: case.number("device_instance") == case.number("device_instance_delivered"), _has_network,
    ),
    Rule(
        "E12", "will_not_run", "The device instance 4194303 means any device: this one cannot be found by it.",
        "Give it the instance of the controls drawings.", ("device_instance",),
        lambda case: case.number("device_instance") == 4194303.0,
        lambda case: case.is_one("network_protocol", "bacnet_ip", "bacnet_mstp"), f"{BACNET}, clause 12",
    ),
    Rule(
        "E13", "will_not_run", "A master on an MS/TP line has an address from 0 to 127.",
        "Give it the address of the controls drawings.", ("network_address",),
        lambda case: case.number("network_address") > 127.0,
        lambda case: case.is_one("network_protocol", "bacnet_mstp"), f"{BACNET}, clause 9",
    ),
    Rule(
        "E14", "will_not_run", "A device on a Modbus line has an address from 1 to 247; 0 speaks to all of them.",
        "Give it the address of the controls drawings.", ("network_address",),
        lambda case: not 1.0 <= case.number("network_address") <= 247.0,
        lambda case: case.is_one("network_protocol", "modbus_serial"), MODBUS,
    ),
    Rule(
        "E15", "will_not_run", "The network shall run it, and it has no network.",
        "Connect and set the network, or enable it otherwise.", ("network_protocol",),
        lambda case: case.is_one("network_protocol", "none"), enabled_by("network"),
    ),
    Rule(
        "E16", "will_not_run", "The network shall run it, and nothing on the network writes the run command.",
        "Have the controls company write the command, and see it change at the unit.", ("network_command_written",),
        lambda case: case.no("network_command_written"), enabled_by("network"),
    ),
    Rule(
        "E17", "look", "The network runs it, and it stops when the network is lost.",
        "Ask the engineer whether ventilation may stop with the network.", ("network_lost",),
        lambda case: case.is_one("network_lost", "stops"), enabled_by("network"),
    ),
    Rule(
        "E20", "will_not_run", "A schedule shall run it, and no day has an occupied period.",
        "Enter the building's hours.", ("occupied_days",),
        lambda case: case.number("occupied_days") == 0.0, _by_clock,
    ),
    Rule(
        "E21", "will_not_run", "A schedule shall run it, and its period begins when it ends.",
        "Enter the building's hours.", ("occupied_from", "occupied_to"),
        lambda case: abs(case.number("occupied_from") - case.number("occupied_to")) < 1.0, _by_clock,
    ),
    Rule(
        "E22", "will_not_run", "An external contact shall run it, and none is wired.",
        "Wire the contact, or enable it otherwise.", ("interlock_wired",),
        lambda case: case.no("interlock_wired"), enabled_by("external_interlock"),
    ),
    Rule(
        "E23", "will_not_run", "It waits for an external contact to close, and none is wired.",
        "Wire the contact; where none is designed, the controls company takes it out of use.",
        ("interlock_in_use", "interlock_wired"),
        lambda case: case.no("interlock_wired"),
        lambda case: not case.is_one("enabling", "external_interlock") and not case.no("interlock_in_use"),
    ),
    Rule(
        "E24", "will_not_run", "The local switch stands at off.",
        "Turn it to automatic when the work is done; never while somebody may be inside.", ("local_switch",),
        lambda case: case.is_one("local_switch", "off"),
    ),
    Rule(
        "E25", "wrong_air", "The local switch stands at hand: what should run it does not stop it either.",
        "Turn it to automatic.", ("local_switch",), lambda case: case.is_one("local_switch", "hand"),
        enabled_by("schedule", "network", "external_interlock"),
    ),
)  # fmt: skip

_OPTIONS = {
    "option_bypass": "The bypass",
    "option_heating": "Heating",
    "option_cooling": "Cooling",
    "option_frost_control": "Frost control",
    "option_dampers": "The shut-off dampers' control",
    "option_filter_watch": "Filter monitoring",
    "option_smoke_input": "The smoke or fire alarm input",
}
_SAME = {
    "enabling": ("wrong_air", "It is enabled by another source than was ordered."),
    "units_of_measure": ("look", "The controller counts in other units of measure than were ordered."),
    "supply_control": ("wrong_air", "The supply fan holds something else than was ordered."),
    "exhaust_control": ("wrong_air", "The exhaust fan holds something else than was ordered."),
}


def _ordered(code: str, *values: object) -> Test:
    return lambda case: case.ordered.get(code) in values if values else code in case.ordered


def _as_ordered() -> Iterator[Rule]:
    for number, (code, name) in enumerate(_OPTIONS.items(), start=1):
        hard = code in ("option_frost_control", "option_smoke_input")
        yield Rule(
            f"O{number:02}", "unsafe" if hard else "wrong_air", f"{name}: ordered and not enabled.",
            "See that it is fitted and enable it; where it was taken out of the order, have that in writing.",
            (code,), lambda case, code=code: case.no(code), _ordered(code, True),  # type: ignore[misc]
        )  # fmt: skip
    for number, (code, name) in enumerate(_OPTIONS.items(), start=11):
        yield Rule(
            f"O{number:02}", "look", f"{name}: enabled and not ordered.",
            "See whether it is fitted; what is not fitted is switched off.",
            (code,), lambda case, code=code: case.yes(code), _ordered(code, False),  # type: ignore[misc]
        )  # fmt: skip
    for number, (code, (severity, reason)) in enumerate(_SAME.items(), start=21):
        yield Rule(
            f"O{number:02}", "wrong_air" if severity == "wrong_air" else "look", reason,
            "Set it as ordered, or have the change in writing.",
            (code,), lambda case, code=code: case.values[code] != case.ordered[code], _ordered(code),  # type: ignore[misc]
        )  # fmt: skip


RULES = (*RULES, *_as_ordered())
