"""The catalogue holds together: ids, groups, conditions, cautions, limits with their source, words of our own."""

from __future__ import annotations

import doctest
import re
from dataclasses import replace
from pathlib import Path

import pytest

from commissioning.catalogue import checks, units
from commissioning.catalogue.checks import CATALOGUE, Item, When
from commissioning.catalogue.units import VOCABULARY, Equipment
from commissioning.engineering.units import unit
from portfolio.models import Company, Position

ITEMS = list(CATALOGUE.items.values())
CHECKS = (Path(checks.__file__).with_name("checks.toml")).read_text(encoding="utf-8")


def whole(kind: str) -> Equipment:
    """A unit of a kind that has everything."""
    return Equipment(kind, frozenset(VOCABULARY.options), frozenset(VOCABULARY.sensors), ducted="to_air_handler")


def ids(equipment: Equipment) -> set[str]:
    return {item.id for item in CATALOGUE.applying(equipment)}


def test_kinds_and_trades_are_those_that_positions_and_companies_have() -> None:
    assert {*VOCABULARY.kinds, "other"} == set(Position.Kind.values)
    assert {*VOCABULARY.trades, "other"} == set(Company.Trade.values)


def test_ids_are_unique_and_say_something() -> None:
    written = re.findall(r'^id = "(.+)"$', CHECKS, re.MULTILINE)
    assert len(written) == len(set(written)) == len(ITEMS) >= 70
    assert all(re.fullmatch(r"[a-z0-9_]{4,40}", id) for id in written)


@pytest.mark.parametrize("kind", VOCABULARY.kinds)
def test_every_kind_has_items_in_every_group_that_applies(kind: str) -> None:
    groups = {group.code for group in CATALOGUE.groups if not group.kinds or kind in group.kinds}
    assert {item.group for item in CATALOGUE.applying(whole(kind))} == groups
    assert {"documents", "mounting", "ducts", "wiring", "doors", "rotation", "controls", "safeties"} <= groups


def test_every_option_sensor_motor_and_way_of_ducting_makes_something_apply() -> None:
    bare = ids(Equipment("ahu", motors=frozenset(), drive=False))
    for option in VOCABULARY.options:
        assert ids(Equipment("ahu", options=frozenset({option}), motors=frozenset(), drive=False)) > bare, option
    for sensor in VOCABULARY.sensors:
        assert ids(Equipment("ahu", sensors=frozenset({sensor}), motors=frozenset(), drive=False)) > bare, sensor
    for motor in VOCABULARY.motors:
        assert ids(Equipment("ahu", motors=frozenset({motor}), drive=False)) > bare, motor
    assert ids(Equipment("ahu", motors=frozenset(), drive=False, ducted="to_air_handler")) > bare


def test_what_cannot_apply_is_not_asked() -> None:
    """An electronic motor has no phases to swap and nothing to set; a plate exchanger has no wheel."""
    electronic = ids(Equipment("hrv", frozenset({"fixed_core"}), motors=frozenset({"electronically_commutated"})))
    assert not electronic & {"rotation_seen", "phase_order", "overload_as_plate", "wheel_seals", "belt_guard"}
    assert {"signal_of_electronic_motor", "core_seated"} <= electronic
    three = ids(Equipment("ahu", motors=frozenset({"three_phase"}), drive=True))
    assert {"rotation_seen", "phase_order", "drive_set_up"} <= three
    assert "overload_as_plate" not in three
    assert {"rotation_seen", "speed_control_fits_motor", "drive_set_up"} <= ids(Equipment("ahu"))  # nobody said which
    assert not ids(Equipment("exhaust_fan")) & {"filters_fitted", "intake_distance", "exchanger_clean"}
    assert "intake_distance" in ids(Equipment("makeup_fan"))


HAZARDS = {
    "live_parts": r"terminal|disconnect|breaker|phase order|order of the phases|grounding|covers of electrical",
    "rotating_parts": r"turns free|belt guard|set screws|pulleys|guards that need|rotation",
    "height": r"\broof|hangers|fall protection",
    "fire_alarm": r"smoke|fire damper",
    "refrigerant": r"refrigerant",
    "gas": r"gas line",
    "uv_light": r"lamps",
}


@pytest.mark.parametrize("hazard", HAZARDS)
def test_a_caution_stands_where_the_work_can_hurt(hazard: str) -> None:
    named = [item for item in ITEMS if re.search(HAZARDS[hazard], item.text, re.IGNORECASE)]
    assert named
    assert [item.id for item in named if hazard not in item.caution] == []


def test_whoever_reaches_behind_a_guard_or_a_cover_is_warned() -> None:
    """Items whose way of looking starts with a locked-out unit go near what turns."""
    locked = [item for item in ITEMS if re.search(r"locked out", item.how, re.IGNORECASE)]
    assert len(locked) >= 8
    assert [item.id for item in locked if "rotating_parts" not in item.caution] == []


def test_cautions_defer_and_nothing_says_that_a_unit_is_safe() -> None:
    told = " ".join([*(one.text for one in VOCABULARY.hazards.values()), CHECKS])
    assert not re.search(r"safe to|is safe|may be energi[sz]ed|may be entered", told, re.IGNORECASE)
    for code in ("live_parts", "rotating_parts", "height", "inside", "fire_alarm", "refrigerant", "gas"):
        assert re.search(r"site's|local code|licensed|qualified|certified", VOCABULARY.hazards[code].text), code


def test_safety_items_are_of_every_kind_and_electrical_ones_are_the_electricians() -> None:
    for kind in VOCABULARY.kinds:
        assert sum(item.hold == "safety" for item in CATALOGUE.applying(Equipment(kind))) >= 8
    asked = {item.id for item in ITEMS if item.group == "wiring" and item.hold == "safety"}
    assert {"grounded", "supply_as_plate", "terminals_tight", "disconnect_lockable"} <= asked
    assert {CATALOGUE.items[id].trade for id in asked} == {"electrical"}


def test_every_item_is_a_sentence_with_why_and_how() -> None:
    for item in ITEMS:
        for text in (item.text, item.why, item.how):
            assert re.match(r"[A-Z0-9]", text), item.id
            assert text.endswith((".", ":")), item.id
            assert 15 < len(text) < 200, item.id
            assert "  " not in text, item.id


def test_limits_are_those_of_their_source_in_both_systems() -> None:
    """10 ft are 3.048 m and 3 ft 0.9144 m exactly; 24 V less and more 10 % are 21.6 and 26.4 V."""
    assert CATALOGUE.items["intake_distance"].limits("ip") == "at least 10 ft"
    assert CATALOGUE.items["intake_distance"].limits("si") == "at least 3.048 m"
    assert CATALOGUE.items["panel_depth"].low == pytest.approx(3 * 0.3048)
    voltage = CATALOGUE.items["control_voltage"]
    assert (voltage.low, voltage.high) == pytest.approx((0.9 * 24.0, 1.1 * 24.0))
    deflection = CATALOGUE.items["belt_deflection"]
    assert deflection.is_within(100.0 / 64.0, "%")
    for item in ITEMS:
        if item.answer == "number":
            assert unit(item.unit).quantity == unit(item.asked_in("ip")).quantity


@pytest.mark.parametrize(
    ("value", "code", "within"),
    [(10.0, "ft", True), (9.99, "ft", False), (3.048, "m", True), (120.0, "in", True), (3047.0, "mm", False)],
)
def test_a_number_is_held_to_its_limits_in_whatever_unit(value: float, code: str, within: bool) -> None:
    assert CATALOGUE.items["intake_distance"].is_within(value, code) is within


def test_both_ends_of_a_range_belong_to_it() -> None:
    voltage = CATALOGUE.items["control_voltage"]
    assert [voltage.is_within(value, "V") for value in (21.5, 21.6, 24.0, 26.4, 26.5)] == [
        False,
        True,
        True,
        True,
        False,
    ]


GOOD = (
    'version = 1\n[[group]]\ncode = "documents"\ntitle = "D"\n'
    '[[item]]\nid = "one"\ngroup = "documents"\ntext = "T."\nwhy = "W."\nhow = "H."\ntrade = "mechanical"\n'
)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ('hold = "stop"', "one: no answer or hold is called yes_no or stop"),
        ('caution = ["snakes"]', "one: no caution is called snakes"),
        ('when = { options = ["sails"] }', "one: no option is called sails"),
        ('when = { sensors = ["nose"] }', "one: no sensor is called nose"),
        ('answer = "number"\nunit = "m"', "a number has a unit and limits"),
        ('answer = "number"\nunit = "m"\nlow = 1.0', "limits have a source"),
        ("low = 1.0", "a number has a unit and limits"),
        ('answer = "choice"\nchoices = ["a"]\nright = ["b"]', "do not fit"),
        ('answer = "choice"\nchoices = ["a"]', "no choice is right"),
        (GOOD.partition("[[item]]")[2].join(["[[item]]", ""]), "one stands twice"),
    ],
)
def test_a_catalogue_that_contradicts_itself_is_refused_by_the_items_id(more: str, said: str) -> None:
    assert list(checks.read(GOOD).items) == ["one"]
    with pytest.raises(ValueError, match=re.escape(said)):
        checks.read(f"{GOOD}{more}\n")


def test_a_retired_item_is_known_and_not_asked() -> None:
    held = checks.read(f"{GOOD}retired = true\n")
    assert "one" in held.items
    assert list(held.applying(Equipment("erv"))) == []


def test_a_reason_whose_trade_nobody_has_is_refused() -> None:
    text = (Path(units.__file__).with_name("units.toml")).read_text(encoding="utf-8")
    with pytest.raises(ValueError, match="no trade is called wizards"):
        units.read(text.replace('words = "no power"\ntrade = "electrical"', 'words = "no power"\ntrade = "wizards"'))


def test_all_conditions_of_an_item_have_to_hold() -> None:
    item = Item("x", "documents", "T.", "W.", "H.", "mechanical", when=When(options=("wheel",), sensors=("co2", "voc")))
    unit_ = Equipment("erv", options=frozenset({"wheel"}))
    assert not item.when.holds(unit_)
    assert item.when.holds(replace(unit_, sensors=frozenset({"voc"})))


def test_the_examples_in_the_docstrings_hold() -> None:
    found = doctest.testmod(checks)
    assert (found.failed, found.attempted > 0) == (0, True)
