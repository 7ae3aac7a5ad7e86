"""Settings judged: which snapshot counts, what fails and what is only worth a look, and what the page says."""

from __future__ import annotations

from typing import Any

import pytest

from commissioning.blocks import Block, Caution, Sentence, Table, from_json, to_json
from commissioning.judging import RULES
from tests.judging.builder import Result, cfm, envelope, port_design, position, reading, state
from tests.judging.builder import direct as read_directly
from tests.kinds.settings_records import NOTHING, SEEN, facts, fired, judged, q, record, values

CODE = "settings_consistent"
LATER = "2026-05-06T10:15:00-05:00"


def page(result: Result, display: str = "ip") -> tuple[Block, ...]:
    return RULES[CODE].show(result.judgement(CODE), {}, display)


def tables(result: Result, display: str = "ip") -> dict[str, Table]:
    return {one.caption: one for one in page(result, display) if isinstance(one, Table)}


def sentences(result: Result) -> str:
    return " ".join(one.text for one in page(result) if isinstance(one, Sentence))


# Which snapshot counts


def test_without_settings_nothing_is_said() -> None:
    flows = envelope([reading("supply", read_directly(1000.0))])
    assert judged(flows).outcome(CODE) == "nothing said"


def test_settings_that_fit_conform_and_say_what_was_not_read() -> None:
    result = judged(record())
    assert result.outcome(CODE) == "conforms"
    assert fired(result) == []
    assert facts(result)["held"] > 30
    assert "could not be looked at" in sentences(result)
    assert "device instance as delivered" in sentences(result)


def test_the_newest_as_left_counts_whatever_was_found_later() -> None:
    bad = record(values(local_switch="off"), name="first")
    good = record(name="second", at=LATER, controller_time=None)
    found = record(values(local_switch="off"), name="third", moment="as_found", at="2026-05-08T10:15:00-05:00")
    assert judged(bad).outcome(CODE) == "does_not_conform"
    assert judged(bad, good).outcome(CODE) == "conforms"
    assert judged(bad, good, found).outcome(CODE) == "conforms"


def test_as_found_counts_until_there_is_an_as_left() -> None:
    result = judged(record(moment="as_found"))
    assert result.outcome(CODE) == "conforms"
    assert "as found" in sentences(result)


@pytest.mark.parametrize("moment", ["as_ordered", "follow_up"])
def test_what_was_ordered_or_seen_later_alone_is_not_judged(moment: str) -> None:
    result = judged(record(values(local_switch="off"), moment=moment))
    assert result.outcome(CODE) == "not_due"
    assert "were not read yet" in sentences(result)


def test_a_unit_out_of_scope_is_not_counted() -> None:
    assert judged(record(), place=position({"supply": {}}, scope="by_others")).outcome(CODE) == "not_counted"


def test_after_a_change_of_machine_the_settings_are_due_again() -> None:
    place = position({"supply": {}}, machine={"serial": "M-2", "since": "2026-05-20"})
    assert judged(record(serial_seen="M-1"), place=place).outcome(CODE) == "recheck"


def test_another_serial_is_not_judged() -> None:
    assert judged(record(serial_seen="M-9")).outcome(CODE) == "not_judged"


def test_what_no_rule_can_look_at_is_not_judged() -> None:
    bare = record({"internet_address": "10.0.0.7"}, controller_time=None, winter_design_temperature=None)
    assert judged(bare).outcome(CODE) == "not_judged"


def test_the_state_of_dampers_and_filters_does_not_enter() -> None:
    assert judged(record(state=state(filters="missing", outdoor_damper="closed"))).outcome(CODE) == "conforms"


# What fails


@pytest.mark.parametrize(
    ("changes", "outcome", "codes"),
    [
        ({"local_switch": "off"}, "does_not_conform", ["E24"]),
        ({"damper_to_fan_delay": q(0.0, "s")}, "does_not_conform", ["N60"]),
        ({"exhaust_minimum_airflow": q(380.0, "cfm")}, "does_not_conform", ["N41"]),  # 0.9 x 400 = 360 cfm
        ({"exhaust_minimum_airflow": q(360.0, "cfm")}, "conforms", []),
        ({"daylight_saving": False}, "conforms", ["E06"]),
        ({"exhaust_maximum_airflow": q(890.0, "cfm")}, "conforms", ["N43"]),  # 0.9 x 1000 = 900 cfm
        ({"sensor_co2": False, "local_switch": "off"}, "does_not_conform", ["E24", "C05"]),
        ({"sensor_co2": NOTHING}, "conforms", []),
    ],
)
def test_what_can_do_harm_keeps_it_off_or_gives_wrong_air_fails(
    changes: dict[str, Any], outcome: str, codes: list[str]
) -> None:
    result = judged(record(values(**changes)))
    assert result.outcome(CODE) == outcome
    assert fired(result) == codes


def test_what_to_do_stands_worst_first_once_each() -> None:
    given = values(local_switch="off", damper_to_fan_delay=q(0.0, "s"), daylight_saving=False)
    steps = judged(record(given)).judgement(CODE)["look_next"]
    assert [step.split(" ")[0] for step in steps] == ["Set", "Turn", "Switch"]
    assert len(set(steps)) == 3


def test_the_clock_of_the_record_fails_a_schedule() -> None:
    assert fired(judged(record(controller_time="2026-05-04T11:15:00"))) == ["E02"]
    by_network = values(enabling="network", network_command_written=True, network_lost="runs")
    assert fired(judged(record(by_network, controller_time="2026-05-04T11:15:00"))) == ["E04"]


def test_what_was_ordered_is_held_against_what_is_enabled() -> None:
    ordered = record({"option_bypass": True, "option_heating": True, "supply_control": "co2_level"}, name="order",
                     moment="as_ordered", at="2026-04-01T08:00:00-05:00", controller_time=None)  # fmt: skip
    assert fired(judged(ordered, record(values(option_bypass=False)))) == ["O01", "O02", "O23"]


@pytest.mark.parametrize(
    ("options", "changes", "codes"),
    [
        (["bypass", "outdoor_damper"], {"option_bypass": False}, ["O01"]),
        (["bypass", "outdoor_damper"], {"option_bypass": True, "sensor_outdoor_temperature": True}, []),
        (["outdoor_damper", "electric_heater"], {}, ["O02"]),
        (["wheel"], {}, ["O15"]),  # dampers are enabled and none is listed
        (["outdoor_damper"], {"option_cooling": True}, ["O13"]),
        (["outdoor_damper", "water_coil"], {"option_cooling": True}, []),  # the coil may cool or heat
        (None, {"option_bypass": False}, []),
    ],
)
def test_the_equipment_of_the_design_counts_as_ordered(
    options: list[str] | None, changes: dict[str, Any], codes: list[str]
) -> None:
    place = position({"supply": {}})
    place["design"]["equipment"] = {"unit": {"options": options}}
    assert fired(judged(record(values(**changes)), place=place)) == codes


def test_what_was_written_with_the_order_goes_before_the_equipment_of_the_design() -> None:
    place = position({"supply": {}})
    place["design"]["equipment"] = {"unit": {"options": ["bypass", "outdoor_damper"]}}
    ordered = record({"option_bypass": False}, name="order", moment="as_ordered", at="2026-04-01T08:00:00-05:00")
    assert fired(judged(ordered, record(values(option_bypass=False)), place=place)) == []


def test_the_designs_minimum_of_outdoor_air_is_the_floor() -> None:
    """400 cfm of floor under 450 of the design."""
    ports = {"supply": port_design(), "outdoor": port_design(minimum=cfm(450.0))}
    assert fired(judged(record(), place=position(ports))) == ["N34", "N35"]
    ports = {"supply": port_design(), "outdoor": port_design(minimum=cfm(400.0))}
    assert fired(judged(record(), place=position(ports))) == []


# What the page says


def test_the_page_tells_rule_reason_values_remedy_and_source() -> None:
    result = judged(record(values(exhaust_minimum_airflow=q(380.0, "cfm"), daylight_saving=False)))
    [first, second] = tables(result)["What the rules found, worst first"].rows
    assert first[0] == "N41, wrong air"
    assert "negative at low load only" in first[1]
    assert first[2] == (
        "Exhaust to supply ratio: 90 %; Supply minimum airflow: 400 cfm; Exhaust minimum airflow: 380 cfm"
    )
    assert first[4] == "common practice, no source"
    assert second[0] == "E06, worth a look"
    assert "1 setting contradicts something; 1 more is worth a look" in sentences(result)
    assert "180 L/s" in tables(result, "si")["What the rules found, worst first"].rows[0][2]  # 380 cfm = 179.3 L/s


def test_would_it_start_stands_with_the_caution_before_it() -> None:
    shown = page(judged(record()))
    assert "it would start now" in sentences(judged(record()))
    start = next(n for n, one in enumerate(shown) if isinstance(one, Sentence) and "start now" in one.text)
    caution = shown[start - 1]
    assert isinstance(caution, Caution)
    assert "Nothing here says that it is safe to start" in caution.text


def test_every_reason_why_it_would_not_start_is_listed_in_order() -> None:
    result = judged(record(now={**SEEN, "contact": "open", "frost": "tripped", "smoke": "not_seen"},
                           controller_time="2026-05-04T19:15:00"))  # fmt: skip
    told = [(one["text"], one["certain"]) for one in facts(result)["obstacles"]]
    assert told == [
        ("Nobody looked at the smoke or alarm input.", False),
        ("Frost control has tripped.", True),
        ("By the controller's clock it is 19:15, outside the schedule's hours.", True),
    ]
    assert "It would not start now" in sentences(result)


def test_what_the_settings_will_do_is_a_table_by_co2_and_hour() -> None:
    """400 cfm at 800 ppm to 1000 at 1000: 700 half way. Exhaust 0.9 of it: 630, 70 less than supply."""
    rows = tables(judged(record()))["What these settings will do"].rows
    assert [row[:6] for row in rows] == [
        ("CO2 700 ppm", "", "400", "", "360", "+40"),
        ("CO2 800 ppm", "", "400", "", "360", "+40"),
        ("CO2 900 ppm", "", "700", "", "630", "+70"),
        ("CO2 1000 ppm", "", "1,000", "", "900", "+100"),
        ("CO2 1100 ppm", "", "1,000", "", "900", "+100"),
        ("outside the schedule's hours", "0 %", "0", "0 %", "0", "0"),
    ]


def test_what_changed_since_the_moment_before_and_at_a_later_look_stands_side_by_side() -> None:
    found = record(values(exhaust_ratio=q(95.0, "%")), name="found", moment="as_found",
                   at="2026-05-04T08:15:00-05:00", controller_time=None)  # fmt: skip
    left = record(name="left")
    later = record(values(local_switch="hand"), name="later", moment="follow_up", at=LATER, controller_time=None)
    result = judged(found, left, later)
    assert facts(result)["before"]["changes"] == [{"code": "exhaust_ratio", "before": 0.95, "after": 0.9}]
    shown = [one for one in page(result) if isinstance(one, Table) and one.caption == "What changed"]
    assert [one.rows for one in shown] == [
        (("Exhaust to supply ratio", "95 %", "90 %"),),
        (("Local switch", "automatic", "hand"),),
    ]
    assert [column.title.split(",")[0] for column in shown[0].columns] == ["Setting", "As found", "As left"]
    assert [column.title.split(",")[0] for column in shown[1].columns] == ["Setting", "As left", "At a follow-up"]


def test_nothing_changed_is_said() -> None:
    again = record(name="again", at=LATER, controller_time=None)
    assert "The settings are the same as left, Monday 4 May 2026" in sentences(judged(record(), again))


def test_order_of_arrival_does_not_enter() -> None:
    one, two = record(name="one", moment="as_found", at="2026-05-04T08:15:00-05:00"), record(name="two")
    assert judged(one, two).judgements == judged(two, one).judgements


def test_blocks_can_be_kept_and_read_back() -> None:
    for block in page(judged(record(values(local_switch="off")))):
        assert from_json(to_json(block)) == block
