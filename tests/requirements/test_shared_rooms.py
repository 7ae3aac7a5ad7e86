"""A room that two units serve: judged by the sum of both, with what one hood has in common counted once."""

from __future__ import annotations

from typing import Any

import pytest

from tests.judging.builder import cfm, judged, named
from tests.judging.outlet_records import designed, outlet, outlets
from tests.requirements.test_outlets import CFM, HOOD, ROOM_5, shown
from tests.requirements.test_rooms_and_ducts import clean_room

HELD = {"S1": outlet(600.0, room="112"), "S2": outlet(400.0, room="112")}
HOOD_OF = 0.015  # relative, k = 1, of the instrument; method 2 %, device type 1.5 %


def part(flow: float, *, tool: str = "", design: float = 500.0, port: str = "supply", **changes: Any) -> dict[str, Any]:
    """What AHU-2 gives to the room, read with the same hood unless another is named."""
    errors = {
        "instrument": (HOOD_OF, tool or HOOD["id"]),
        "method": (0.02, "method hood"),
        "device type": (0.015, f"type {port} "),
    }
    return {
        "tag": "AHU-2",
        "room": "112",
        "port": port,
        "outlets": ["T1"],
        "airflow": cfm(flow),
        "design": cfm(design),
        "basis": "actual",
        "errors": [
            {"name": name, "standard_uncertainty": cfm(size * flow), "group": group}
            for name, (size, group) in errors.items()
        ],
        **changes,
    }


def room(first: float, second: float, *parts: dict[str, Any], **changes: Any) -> Any:
    place = designed(HELD, ROOM_5, shared_rooms=list(parts))
    found = judged(outlets({"S1": first, "S2": second}), place=place, instruments=[HOOD], **changes)
    assert found.problems == []
    return found


@pytest.mark.parametrize(
    ("flow", "outcome", "deviation"),
    [(500.0, "conforms", 0.0), (570.0, "conforms", 70.0 / 1500.0), (580.0, "does_not_conform", 80.0 / 1500.0)],
)
def test_the_total_is_that_of_both_units_against_the_design_of_both(
    flow: float, outcome: str, deviation: float
) -> None:
    one = room(600.0, 400.0, part(flow)).judgement("room_airflow")
    assert one["verdict"] == outcome
    assert one["value"] == pytest.approx(deviation, abs=1e-9)


def test_each_may_be_off_and_the_room_in_order() -> None:
    """900 of 1000 here, 600 of 500 there: 1500 of 1500."""
    alone, both = room(500.0, 400.0), room(500.0, 400.0, part(600.0))
    assert alone.outcome("room_airflow") == "does_not_conform"
    assert both.outcome("room_airflow") == "conforms"


def test_one_hood_at_both_units_is_one_error() -> None:
    """All three parts are shared: 2.915 % of 1500 cfm. With another hood: 1.5 % of 1000 and of 500 add as squares."""
    same = room(600.0, 400.0, part(500.0)).judgement("room_airflow")["facts"]["rooms"][0]
    shared = (HOOD_OF**2 + 0.02**2 + 0.015**2) * 1500.0**2
    assert same["expanded_uncertainty_m3_s"] / CFM == pytest.approx(2.0 * shared**0.5, rel=1e-6)
    other = room(600.0, 400.0, part(500.0, tool=named("other"))).judgement("room_airflow")["facts"]["rooms"][0]
    apart = (0.02**2 + 0.015**2) * 1500.0**2 + HOOD_OF**2 * (1000.0**2 + 500.0**2)
    assert other["expanded_uncertainty_m3_s"] / CFM == pytest.approx(2.0 * apart**0.5, rel=1e-6)


def test_whose_part_is_missing_is_said_and_nothing_is_judged() -> None:
    found = room(600.0, 400.0, part(500.0, airflow=None, errors=[], why="not read yet: T1"))
    one = found.judgement("room_airflow")
    assert one["absence"]["code"] == "not_due"
    assert "the part of AHU-2 is not known: not read yet: T1" in one["absence"]["text"]
    assert "the part of AHU-2" in shown(found, "room_airflow")


def test_a_part_of_another_room_or_side_adds_nothing() -> None:
    far = room(600.0, 400.0, part(500.0, room="113"), part(500.0, port="return"))
    assert far.judgement("room_airflow")["facts"]["rooms"][0]["others"] == []
    assert far.outcome("room_airflow") == "conforms"


def test_a_part_on_another_air_basis_cannot_be_added() -> None:
    absence = room(600.0, 400.0, part(500.0, basis="standard")).judgement("room_airflow")["absence"]
    assert (absence["code"], "different air bases" in absence["text"]) == ("not_judged", True)


def test_a_part_whose_calibration_lapsed_makes_the_verdict_provisional() -> None:
    assert room(600.0, 400.0, part(500.0)).judgement("room_airflow")["provisional"] is False
    assert room(600.0, 400.0, part(500.0, provisional=True)).judgement("room_airflow")["provisional"] is True


def test_the_page_names_the_other_unit_and_its_outlets() -> None:
    told = shown(room(600.0, 400.0, part(580.0)), "room_airflow")
    assert "Of it AHU-2" in told
    assert "2 and 1 of others" in told


def test_a_unit_tells_its_own_part_and_nothing_of_the_others() -> None:
    """So what stands at one never waits for what stands at the other."""
    alone, both = (
        one.judgement("room_airflow")["facts"]["parts"] for one in (room(600.0, 400.0), room(600.0, 400.0, part(9.0)))
    )
    assert alone == both
    (own,) = alone
    assert (own["room"], own["port"], own["outlets"], own["why"]) == ("112", "supply", ["S1", "S2"], "")
    assert own["airflow_m3_s"] / CFM == pytest.approx(1000.0)
    assert {name: group for name, _, group, _ in own["errors"]}["instrument"] == HOOD["id"]


def test_a_unit_that_is_not_read_tells_that_of_its_part() -> None:
    one = judged(place=designed(HELD), instruments=[HOOD]).judgement("room_airflow")
    assert one["absence"]["code"] == "not_given"
    assert [(row["room"], row["why"]) for row in one["facts"]["parts"]] == [("112", "No outlet is read yet.")]


def test_the_offset_of_a_room_that_one_unit_supplies_and_another_exhausts() -> None:
    """1000 supplied here, 900 taken there: the hood and the method cancel in 100, the device types do not."""
    place = clean_room()
    del place["design"]["outlets"]["R1"]
    taken = part(900.0, port="return", design=900.0, room="118")
    found = judged(outlets({"S1": 1000.0}), place=place | {"shared_rooms": [taken]}, instruments=[HOOD])
    one = found.judgement("room_offset")
    assert one["verdict"] == "conforms"
    assert one["value"] / CFM == pytest.approx(100.0)
    u = ((HOOD_OF * 100) ** 2 + (0.02 * 100) ** 2 + 15.0**2 + 13.5**2) ** 0.5
    assert one["expanded_uncertainty"] / CFM == pytest.approx(2.0 * u, rel=1e-6)
    assert "those of AHU-2 with them" in shown(found, "room_offset")
