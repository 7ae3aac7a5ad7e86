"""A setting that was changed after a final: the ports whose air it moves are measured again, and the others stand."""

from __future__ import annotations

from typing import Any

import pytest

from commissioning.blocks import Sentence, Table
from commissioning.dossier.settings.catalogue import CATALOGUE
from commissioning.judging import RULES
from tests import exchanger_records
from tests.exchanger_judging import asked, of
from tests.judging.builder import PERSON, Result, all_ports, envelope, position
from tests.judging.outlet_records import designed, outlet, outlets
from tests.kinds.settings_records import judged, q, record, values

BEFORE, MEASURED, AFTER, LATER = (f"2026-05-0{day}T10:15:00-05:00" for day in (3, 4, 5, 6))
FINALS = envelope(all_ports(), name="finals", at=MEASURED)
SUPPLY, EXHAUST = {"supply", "outdoor"}, {"return", "exhaust"}
RATIO: dict[str, Any] = {"exhaust_ratio": q(70.0, "%")}


def snapshot(at: str, moment: str = "as_left", session: str = "AL-1", **changes: Any) -> dict[str, Any]:
    """The good settings, changed; the exhaust fan holds its own airflow where no change says otherwise."""
    given = values(**{"exhaust_control": "constant_airflow", **changes})
    return record(given, name=f"{moment} {at}", at=at, moment=moment, session=session, controller_time=None)


def result(*records: dict[str, Any], **changes: Any) -> Result:
    return judged(FINALS, *records, place=position(**changes))


def recheck(found: Result) -> set[str]:
    return {port for port in all_ports() if found.outcome("design_airflow", port) == "recheck"}


@pytest.mark.parametrize("moment", ["as_left", "follow_up", "as_found"])
def test_the_ports_whose_air_a_setting_moves_are_measured_again_and_the_others_stand(moment: str) -> None:
    found = result(snapshot(BEFORE), snapshot(AFTER, moment, **RATIO))
    assert recheck(found) == EXHAUST
    assert found.outcome("design_airflow", "supply") == "conforms"


def test_the_reason_names_the_setting_both_values_when_it_was_seen_and_by_whom() -> None:
    found = result(snapshot(BEFORE), snapshot(AFTER, "follow_up", **RATIO))
    assert found.judgement("design_airflow", "exhaust")["absence"]["text"] == (
        "Settings were changed since: exhaust to supply ratio from 90 % to 70 %, seen at a follow-up on "
        f"Tuesday 5 May 2026, 10:15 (UTC−05:00) by person {PERSON}. Measure again."
    )


@pytest.mark.parametrize(
    ("control", "changed", "expected"),
    [
        ("constant_airflow", {"co2_setpoint": q(900.0, "ppm")}, set()),  # not read before: no change was seen
        ("constant_airflow", {"supply_maximum_airflow": q(900.0, "cfm")}, SUPPLY),
        ("follows_supply_by_airflow_ratio", {"supply_maximum_airflow": q(900.0, "cfm")}, SUPPLY | EXHAUST),
        ("space_static_pressure", {"supply_maximum_airflow": q(900.0, "cfm")}, SUPPLY | EXHAUST),
        ("constant_airflow", {"option_dampers": False}, SUPPLY | EXHAUST),
        ("constant_airflow", {"supply_gain": 0.2, "device_instance": 7, "frost_limit": q(1.0, "degC")}, set()),
    ],
)
def test_a_setting_moves_the_side_that_it_sets_and_a_fan_that_looks_at_that_side(
    control: str, changed: dict[str, Any], expected: set[str]
) -> None:
    before, after = (snapshot(at, exhaust_control=control, **more) for at, more in ((BEFORE, {}), (AFTER, changed)))
    assert recheck(result(before, after)) == expected


def test_what_was_changed_before_the_final_is_no_drift() -> None:
    assert recheck(result(snapshot(BEFORE), snapshot(MEASURED, **RATIO))) == set()


def test_what_was_found_before_work_does_not_hold_where_the_session_says_how_it_left_the_unit() -> None:
    found, left = snapshot(BEFORE, "as_found"), snapshot(AFTER, **RATIO)
    assert recheck(result(found, left)) == set()
    assert recheck(result(found, left, snapshot(LATER, "follow_up", "AL-1", exhaust_ratio=q(80.0, "%")))) == EXHAUST
    assert recheck(result(found, snapshot(AFTER, session="AL-2", **RATIO))) == EXHAUST


def test_a_setting_that_was_set_back_is_no_drift_and_the_first_to_show_a_change_is_named() -> None:
    one, other = snapshot(AFTER, "follow_up", **RATIO), snapshot(LATER, "follow_up", **RATIO)
    assert recheck(result(snapshot(BEFORE), one, snapshot(LATER, "follow_up"))) == set()
    text = result(snapshot(BEFORE), one, other).judgement("design_airflow", "exhaust")["absence"]["text"]
    assert "5 May" in text
    assert "6 May" not in text
    once_more = snapshot("2026-05-07T10:15:00-05:00", "follow_up", **RATIO)
    back = result(snapshot(BEFORE), one, snapshot(LATER, "follow_up"), once_more)
    assert "7 May" in back.judgement("design_airflow", "exhaust")["absence"]["text"]


def test_another_session_of_finals_settles_it() -> None:
    again = envelope(all_ports(), name="again", at=LATER, session="AL-2")
    found = result(snapshot(BEFORE), snapshot(AFTER, "follow_up", **RATIO), again)
    assert recheck(found) == set()


def test_the_settings_of_the_machine_before_tell_nothing_and_are_due_again() -> None:
    old, new = snapshot(BEFORE), snapshot(AFTER, "follow_up", **RATIO)
    finals = envelope(all_ports(), name="finals", at=MEASURED, serial_seen="M-2")
    new["payload"]["serial_seen"] = "M-2"
    found = judged(finals, old, new, place=position(machine={"serial": "M-2", "since": "2026-05-04"}))
    assert recheck(found) == set()
    absence = found.judgement("settings_consistent")["absence"]
    assert absence == {
        "code": "recheck", "text": "The machine was changed on 2026-05-04: read its settings again."
    }  # fmt: skip


def test_outlets_are_read_again_with_the_port_that_they_hang_on() -> None:
    place = designed({name: outlet() for name in ("D1", "D2", "D3")})
    read = outlets(dict.fromkeys(("D1", "D2", "D3"), 200.0), at=MEASURED)
    less: dict[str, Any] = {"supply_maximum_airflow": q(900.0, "cfm")}
    for changed, outcome in ((less, "recheck"), (RATIO, "conforms")):
        found = judged(snapshot(BEFORE), read, snapshot(AFTER, "follow_up", **changed), place=place)
        assert found.outcome("outlet_airflow", "supply") == outcome


def test_an_exchanger_is_tested_again_where_its_bypass_or_frost_control_was_set_otherwise() -> None:
    tested = exchanger_records.record(at=MEASURED)
    frost: dict[str, Any] = {"frost_limit": q(1.0, "degC")}
    for changed, outcome in ((frost, "recheck"), (RATIO, "conforms")):
        found = of(tested, snapshot(BEFORE), snapshot(AFTER, "follow_up", **changed), core=asked(0.5))
        assert found.outcome("exchanger_effectiveness") == outcome


def test_without_settings_before_the_finals_nothing_is_measured_again_and_the_page_says_so() -> None:
    found = result(snapshot(AFTER, session="AL-2"), snapshot(LATER, "follow_up", **RATIO))
    assert recheck(found) == set()
    assert "whether they changed since is not known" in _page(found)


def test_the_page_of_the_settings_lists_what_changed_with_the_ports_that_it_moves() -> None:
    found = result(snapshot(BEFORE), snapshot(AFTER, "follow_up", **RATIO))
    [table] = [one for one in _blocks(found) if isinstance(one, Table) and one.caption.startswith("Changed since")]
    [row] = table.rows
    assert row[:3] == ("Exhaust to supply ratio", "90 %", "70 %")
    assert row[4:] == (f"person {PERSON}", "return air, exhaust air")


def test_what_moves_air_is_data_and_each_fan_has_what_makes_it_look_across() -> None:
    moving = {code for code, one in CATALOGUE.settings.items() if one.moves}
    assert {"supply_control", "exhaust_ratio", "option_bypass"} <= moving
    assert not moving & {"supply_gain", "proof_delay", "device_instance", "co2_alarm"}
    for setting, choices in CATALOGUE.couplings.values():
        assert set(choices) <= set(CATALOGUE.settings[setting].choices)


def _blocks(found: Result) -> tuple[Any, ...]:
    return RULES["settings_consistent"].show(found.judgement("settings_consistent"), {}, "ip")


def _page(found: Result) -> str:
    return " ".join(one.text for one in _blocks(found) if isinstance(one, Sentence))
