"""What settings make the fans do, why a unit would not start, and two moments side by side.

Facts of the trade (a ratio of a ratio, the straight reset line, a loop that ends at its bound) are common practice, no
source; the arithmetic stands beside each.
"""

from __future__ import annotations

import doctest
import importlib
import pkgutil
from typing import Any

import pytest

import commissioning.dossier.settings as room
from commissioning.dossier.settings.behaviour import Condition, obstacles, row_of, table
from commissioning.dossier.settings.catalogue import Plain
from commissioning.dossier.settings.compare import changes, in_both
from tests.dossier.settings_cases import case

CFM = 0.3048**3 / 60.0
LINE: dict[str, Any] = {
    "supply_control": "airflow_reset_on_co2",
    "reset_low_co2": 800e-6,
    "reset_high_co2": 1000e-6,
    "reset_airflow_at_low": 0.2,
    "reset_airflow_at_high": 1.0,
    "exhaust_control": "follows_supply_by_airflow_ratio",
    "exhaust_ratio": 0.9,
}
ALL_SEEN = dict.fromkeys(("smoke", "frost", "safeties"), "clear") | {
    "power": "on",
    "contact": "closed",
    "network_command": "on",
}
HOUR = 3600.0


def flows(changes: dict[str, Any], condition: Condition) -> list[float | None]:
    row = row_of(case(changes), condition)
    return [row.supply.airflow_m3_s, row.exhaust.airflow_m3_s, row.offset_m3_s]


@pytest.mark.parametrize(
    ("co2_ppm", "supply"),
    [(600.0, 0.2), (800.0, 0.2), (850.0, 0.4), (900.0, 0.6), (1000.0, 1.0), (1500.0, 1.0)],
)
def test_a_reset_line_is_level_straight_and_level(co2_ppm: float, supply: float) -> None:
    """900 ppm lies half way from 800 to 1000: 0.2 + 0.5 (1.0 - 0.2) = 0.6 m3/s. Exhaust 0.9 of it, offset 0.1 of it."""
    found = flows(LINE, Condition("co2", co2_ppm * 1e-6))
    assert found == pytest.approx([supply, 0.9 * supply, 0.1 * supply])


def test_floor_and_reach_hold_the_line_and_the_exhaust_its_own_minimum() -> None:
    """Floor 0.3 above the line's 0.2; maximum 0.8 below its 1.0. Exhaust: 0.9 x 0.3 = 0.27, held at 0.35: negative."""
    held = {**LINE, "ventilation_floor": 0.3, "supply_maximum_airflow": 0.8, "exhaust_minimum_airflow": 0.35}
    assert flows(held, Condition("co2", 700e-6)) == pytest.approx([0.3, 0.35, -0.05])
    assert flows(held, Condition("co2", 1200e-6)) == pytest.approx([0.8, 0.72, 0.08])
    row = row_of(case(held), Condition("co2", 700e-6))
    assert row.supply.how == "ventilation floor"
    assert row.exhaust.how == "ratio × supply airflow, held at its minimum"


def test_a_ratio_of_a_ratio_and_airflow_by_speed() -> None:
    """60 % of 1.0 m3/s are 0.6; exhaust 0.8 x 60 % = 48 % of 0.9 m3/s: 0.432; offset 0.168 m3/s."""
    row = row_of(
        case(
            {
                "supply_control": "constant_speed",
                "supply_speed": 0.6,
                "supply_airflow_at_full_speed": 1.0,
                "exhaust_control": "follows_supply_by_speed_ratio",
                "exhaust_ratio": 0.8,
                "exhaust_airflow_at_full_speed": 0.9,
            }
        ),
        Condition("any"),
    )
    assert [row.supply.speed, row.exhaust.speed] == pytest.approx([0.6, 0.48])
    assert [row.supply.airflow_m3_s, row.exhaust.airflow_m3_s] == pytest.approx([0.6, 0.432])
    assert row.offset_m3_s == pytest.approx(0.168)


def test_speed_by_airflow_where_the_airflow_at_full_speed_is_known() -> None:
    """0.45 of 0.9 m3/s is half speed."""
    held = {"supply_control": "constant_airflow", "supply_airflow": 0.45, "supply_airflow_at_full_speed": 0.9}
    assert row_of(case(held), Condition("any")).supply.speed == pytest.approx(0.5)


def test_a_loop_goes_to_the_bound_that_brings_its_reading_back() -> None:
    """Too little duct pressure: faster. Too much CO2: faster. Too little CO2: slower."""
    bounds = {"supply_minimum_speed": 0.3, "supply_maximum_speed": 0.95}
    duct = {"supply_control": "duct_static_pressure", "supply_duct_pressure": 250.0, **bounds}
    told = [row.supply.speed for row in table(case(duct))]
    assert [row.condition.reading for row in table(case(duct))] == [225.0, 250.0, 275.0]
    assert told == [0.95, None, 0.3]
    co2 = {"supply_control": "co2_level", "co2_setpoint": 900e-6, **bounds}
    assert [row.supply.speed for row in table(case(co2))] == [0.3, None, 0.95]


def test_outside_the_hours_of_a_schedule_both_fans_stand() -> None:
    rows = table(case({**LINE, "enabling": "schedule"}))
    assert [row.condition.name for row in rows] == ["co2"] * 5 + ["unoccupied"]
    assert (rows[-1].supply.airflow_m3_s, rows[-1].exhaust.airflow_m3_s, rows[-1].offset_m3_s) == (0.0, 0.0, 0.0)


def test_what_was_not_read_is_not_told() -> None:
    row = row_of(case({"supply_control": "constant_airflow"}), Condition("any"))
    assert (row.supply.how, row.exhaust.how, row.offset_m3_s) == ("not read", "not read", None)
    broken = row_of(case({**LINE, "reset_high_co2": 700e-6}), Condition("co2", 900e-6))
    assert broken.supply.how == "the reset line contradicts itself"


SCHEDULE: dict[str, Any] = {
    "enabling": "schedule",
    "local_switch": "automatic",
    "occupied_days": 7.0,
    "occupied_from": 6.0 * HOUR,
    "occupied_to": 18.0 * HOUR,
}


def why(settings: dict[str, Any], hour: float | None = 10.0, **seen: str) -> list[tuple[str, bool]]:
    second = None if hour is None else hour * HOUR
    return [(one.text, one.certain) for one in obstacles(case(settings), {**ALL_SEEN, **seen}, second)]


def test_nothing_in_the_way_starts() -> None:
    assert why(SCHEDULE) == []
    assert why({"enabling": "network", "network_protocol": "bacnet_ip"}) == []
    assert why({"enabling": "local"}) == []


def test_every_reason_stands_in_the_order_to_check() -> None:
    held = {**SCHEDULE, "local_switch": "off", "interlock_in_use": True}
    told = why(held, 5.5, power="off", smoke="tripped", frost="tripped", safeties="tripped", contact="open")
    assert [text for text, certain in told if certain] == [
        "It has no power.",
        "The smoke or fire alarm input is tripped.",
        "Frost control has tripped.",
        "A safety has tripped: see which one.",
        "The local switch stands at off.",
        "The external contact is open.",
        "By the controller's clock it is 05:30, outside the schedule's hours.",
    ]


@pytest.mark.parametrize(
    ("held", "seen", "text", "certain"),
    [
        ({"enabling": "network"}, {"network_command": "off"}, "The network's command is off.", True),
        ({"enabling": "network"}, {"network_command": "not_seen"}, "Nobody looked at the network's command.", False),
        ({"enabling": "external_interlock"}, {"contact": "open"}, "The external contact is open.", True),
        ({}, {}, "What enables it was not read.", False),
        ({**SCHEDULE, "occupied_days": 0.0}, {}, "The schedule has no day with an occupied period.", True),
        ({**SCHEDULE, "occupied_days": 5.0}, {}, "Whether today is a day of the schedule was not looked at.", False),
        (
            {"enabling": "network", "network_protocol": "none"},
            {},
            "The network shall run it, and it has no network.",
            True,
        ),
    ],
)
def test_what_enables_it_is_asked(held: dict[str, Any], seen: dict[str, str], text: str, certain: bool) -> None:
    assert why(held, 10.0, **seen) == [(text, certain)]


def test_a_hand_switch_goes_past_the_schedule_and_an_unread_clock_is_said() -> None:
    assert why({**SCHEDULE, "local_switch": "hand"}, 3.0) == []
    assert why(SCHEDULE, None) == [("The controller's clock was not read.", False)]


def test_a_schedule_may_go_past_midnight() -> None:
    """22 to 6: 23 and 5 lie in it, 6 and 12 do not."""
    night = {**SCHEDULE, "occupied_from": 22.0 * HOUR, "occupied_to": 6.0 * HOUR}
    assert [why(night, hour) == [] for hour in (23.0, 5.0, 6.0, 12.0)] == [True, True, False, False]


def test_two_moments_side_by_side() -> None:
    before: dict[str, Plain] = {
        "supply_airflow": 1000.0 * CFM,
        "enabling": "local",
        "option_heating": False,
        "proof_delay": 30.0,
    }
    after: dict[str, Plain] = {
        "supply_airflow": 0.4719474432,
        "enabling": "schedule",
        "option_heating": False,
        "frost_limit": 2.0,
    }
    found = changes(before, after)
    assert [(one.code, one.before, one.after) for one in found] == [
        ("enabling", "local", "schedule"),
        ("proof_delay", 30.0, None),
        ("frost_limit", None, 2.0),
    ]
    assert [one.code for one in in_both(found)] == ["enabling"]


@pytest.mark.parametrize("name", [one.name for one in pkgutil.iter_modules(room.__path__)])
def test_the_examples_hold(name: str) -> None:
    assert doctest.testmod(importlib.import_module(f"{room.__name__}.{name}")).failed == 0
