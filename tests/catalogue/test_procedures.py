"""The procedures hold together, ask for nothing that nobody may do, and each ends with what proves it restored."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from commissioning.catalogue import procedures
from commissioning.catalogue.procedures import LIBRARY, Procedure, When, applies, read
from commissioning.catalogue.units import Equipment

ALL = list(LIBRARY.procedures.values())
DEEP = {"enabling", "dampers", "interlock", "minimum", "demand", "bypass", "frost", "power"}
FOLDER = Path(procedures.__file__).with_name("functional")
FROST = (FOLDER / "frost.toml").read_text(encoding="utf-8")


def texts(one: Procedure) -> str:
    return " ".join(filter(None, (text for step in one.steps for text in (step.do, step.expect, step.look))))


def test_eight_are_deep_and_the_fire_alarm_contractor_s_test_is_only_witnessed() -> None:
    assert {*DEEP, "smoke"} <= set(LIBRARY.procedures)
    assert all(len(LIBRARY.procedures[code].steps) >= 6 for code in DEEP)
    assert [one.code for one in ALL if one.witnessed] == ["smoke"]
    smoke = LIBRARY.procedures["smoke"]
    assert smoke.needs.present == ("fire_alarm",)
    assert {step.who for step in smoke.steps} <= {"", "fire_alarm"}


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.code)
def test_codes_are_one_short_word_and_fit_where_a_port_stands(one: Procedure) -> None:
    assert re.fullmatch(r"[a-z]{3,20}", one.code)
    assert all(re.fullmatch(r"[a-z_]{4,40}", step.id) for step in one.steps)


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.code)
def test_nobody_is_asked_to_switch_under_load_to_work_live_or_to_move_the_clock(one: Procedure) -> None:
    said = texts(one).lower()
    assert not re.search(r"(set|move|change|advance|put) (the |its |controller's )*clock", said)
    assert not re.search(r"under load|while (it is )?live|energised|jumper|bridge the", said)
    for step in one.steps:
        if re.search(r"\b(isolator|disconnect|breaker)\b", step.do):
            assert step.who == "electrical" or "stays closed" in step.do, step.id
    assert "—" not in said
    assert "!" not in said


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.code)
def test_each_says_what_it_needs_where_it_is_left_and_how_it_is_proved_restored(one: Procedure) -> None:
    assert all((one.why, one.safe_state, one.needs.season, one.needs.occupancy, one.needs.coordination))
    back = [step for step in one.steps if step.part == "restore"]
    assert back
    assert any(step.photo for step in back) or one.witnessed


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.code)
def test_whoever_makes_a_simulated_signal_is_named_and_has_to_be_there(one: Procedure) -> None:
    for step in one.steps:
        if step.simulated:
            assert step.who, step.id
        if step.who:
            assert step.who in one.needs.present, step.id


@pytest.mark.parametrize(
    ("was", "becomes", "said"),
    [
        ('id = "recovers"', 'id = "begins_at"', "begins_at stands twice"),
        ('present = ["controls"]', 'present = ["wizard"]', "no trade is called wizard"),
        ('expects = "frost_limit"', 'expects = ""', "only a number follows from an expectation"),
        ('part = "restore"', 'part = "run"', "then what was changed is restored"),
        ('untested = "The exchanger at real frost."', "", "says what stays untested"),
        ('caution = ["rotating_parts", "moving_blades"]', 'caution = ["dragons"]', "no hazard is called dragons"),
        ('safe_state = "', 'colour = "blue"\nsafe_state = "', "nothing is called colour"),
    ],
)
def test_a_procedure_that_contradicts_itself_is_refused_by_name(was: str, becomes: str, said: str) -> None:
    assert was in FROST
    with pytest.raises(ValueError, match=said):
        read(FROST.replace(was, becomes))


BYPASS = (When(options=("bypass",)), When(settings={"option_bypass": (True,)}))


@pytest.mark.parametrize(
    ("options", "is_listed", "read_off", "expected"),
    [
        ({"bypass"}, True, {}, "yes"),
        (set(), True, {"option_bypass": True}, "yes"),
        (set(), True, {}, "no"),
        (set(), False, {"option_bypass": False}, "no"),
        (set(), False, {}, "not_known"),
    ],
)
def test_what_neither_the_design_nor_a_setting_tells_is_not_known(
    options: set[str], is_listed: bool, read_off: dict[str, bool], expected: str
) -> None:
    assert applies(BYPASS, Equipment("erv", frozenset(options)), read_off, is_listed=is_listed) == expected
