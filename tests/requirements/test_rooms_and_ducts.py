"""Room totals, room offsets and duct leakage: what conforms, fails or stays open, arithmetic beside it."""

from __future__ import annotations

import json
from typing import Any

import pytest

from commissioning import judging
from tests.judging.builder import (
    cfm,
    conventions,
    direct,
    envelope,
    instrument,
    judged,
    named,
    port_design,
    reading,
)
from tests.judging.outlet_records import designed, not_read, outlet, outlets, row

CFM = 0.0004719474432  # m3/s, exact
HOOD = instrument(accuracy={"relative": 0.03, "absolute": None, "shape": "normal_k2"}, resolution=None)
THREE = {name: outlet(branch="B1", room="112") for name in ("D1", "D2", "D3")}
LATER = "2026-05-06T09:00:00-05:00"
ROOM_5 = {"112": {"tolerance": {"low": -0.05, "high": 0.05, "clause": "23 05 93, 3.8"}}}


def result(*envelopes: Any, place: dict[str, Any] | None = None, **changes: Any) -> Any:
    found = judged(*envelopes, place=place or designed(THREE), instruments=[HOOD], **changes)
    assert found.problems == []
    return found


def shown(found: Any, requirement: str, port: str = "") -> str:
    blocks = judging.show_judgement(found.judgement(requirement, port), found.measurements, "ip")
    return json.dumps([str(block) for block in blocks], ensure_ascii=False)


# --- rooms -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("readings", "outlet_outcome", "room_outcome"),
    [
        pytest.param((218.0, 186.0, 205.0), "conforms", "conforms", id="T6.04: 609 of 600, +1.5 %"),
        pytest.param((215.0, 212.0, 214.0), "conforms", "does_not_conform", id="641 of 600, +6.8 %, parts within"),
        pytest.param((230.0, 170.0, 200.0), "does_not_conform", "conforms", id="600 of 600, two parts 15 % off"),
    ],
)
def test_totals_and_parts_are_judged_by_themselves(
    readings: tuple[float, ...], outlet_outcome: str, room_outcome: str
) -> None:
    found = result(outlets(dict(zip(THREE, readings, strict=True))), place=designed(THREE, ROOM_5))
    assert found.outcome("outlet_airflow", "supply") == outlet_outcome
    assert found.outcome("room_airflow") == room_outcome
    one = found.judgement("room_airflow")
    assert (one["low"], one["high"], one["clause"]) == (-0.05, 0.05, "23 05 93, 3.8")
    assert one["value"] == pytest.approx(sum(readings) / 600.0 - 1.0)
    assert "Furthest off is room 112, supply" in shown(found, "room_airflow")


def test_a_rooms_total_is_known_no_better_than_the_hood() -> None:
    """Hood 1.5 %, method 2 %, one type of device 1.5 %: U = 2 sqrt(1.5² + 2² + 1.5²) = 5.831 %, for all as for one."""
    one = result(outlets(dict.fromkeys(THREE, 200.0)), place=designed(THREE, ROOM_5)).judgement("room_airflow")
    assert one["expanded_uncertainty"] == pytest.approx(0.05831, abs=1e-5)


def test_where_the_contract_gives_no_tolerance_for_a_room_its_total_is_for_information() -> None:
    found = result(outlets(dict.fromkeys(THREE, 100.0)))
    assert found.outcome("room_airflow") == "not_given"
    assert "300" in shown(found, "room_airflow")


def test_a_room_with_an_outlet_that_is_not_read_is_not_due() -> None:
    place = designed(THREE, ROOM_5)
    absence = result(outlets({"D1": 200.0, "D2": 200.0}), place=place).judgement("room_airflow")["absence"]
    assert absence == {
        "code": "not_due",
        "text": "1 of 1 room totals are not known. 112, supply: not read yet: D3.",
    }
    blocked = outlets([row("D1", 200.0), row("D2", 200.0), not_read("D3", "blocked")])
    assert result(blocked, place=place).outcome("room_airflow") == "not_due"


def test_a_closed_outlet_gives_its_room_nothing_and_that_is_known() -> None:
    """Two of three outlets: 400 of 600, a third too little."""
    closed = outlets([row("D1", *[200.0] * 4), row("D2", *[200.0] * 4), not_read("D3", "closed")])
    one = result(closed, place=designed(THREE, ROOM_5)).judgement("room_airflow")
    assert (one["verdict"], one["value"]) == ("does_not_conform", pytest.approx(-1.0 / 3.0))


# --- offsets -----------------------------------------------------------------------------------------------------


def clean_room(relation: str | None = "positive", offset: float | None = None) -> dict[str, Any]:
    rooms = {"118": {"relation": relation, "sources": {"relation": "Revision 3, addendum, 2026-04-08"}}}
    if offset is not None:
        rooms["118"]["offset"] = cfm(offset)
    held = {"S1": outlet(1000.0, room="118"), "R1": outlet(900.0, port="return", room="118")}
    return designed(held, rooms, ports={"supply": port_design(), "return": port_design()})


def both(supply: float, taken: float, **changes: Any) -> dict[str, Any]:
    return outlets([row("S1", *[supply] * 4), row("R1", *[taken] * 4, port="return")], **changes)


@pytest.mark.parametrize(
    ("relation", "offset", "supply", "taken", "outcome"),
    [
        pytest.param("positive", 50.0, 1000.0, 900.0, "conforms", id="100 of 50 more supplied"),
        pytest.param("positive", 50.0, 950.0, 900.0, "conforms", id="on the limit counts as inside"),
        pytest.param("positive", 50.0, 940.0, 900.0, "does_not_conform", id="40 of 50"),
        pytest.param("positive", None, 920.0, 972.0, "does_not_conform", id="both within 10 %, and the sign reversed"),
        pytest.param("positive", None, 930.0, 900.0, "inconclusive", id="30 with ±39: as well no sign at all"),
        pytest.param("negative", None, 930.0, 900.0, "inconclusive", id="which may be the other sign"),
        pytest.param("negative", 50.0, 900.0, 960.0, "conforms", id="60 of 50 more taken"),
        pytest.param("negative", 50.0, 900.0, 940.0, "does_not_conform", id="40 of 50 more taken"),
        pytest.param("negative", 50.0, 1000.0, 900.0, "does_not_conform", id="the wrong sign"),
        pytest.param("neutral", 50.0, 930.0, 900.0, "conforms", id="30 of at most 50"),
        pytest.param("neutral", 50.0, 900.0, 960.0, "does_not_conform", id="60 of at most 50"),
        pytest.param("neutral", None, 930.0, 900.0, "not_given", id="neutral, and nobody says how nearly"),
        pytest.param(None, 50.0, 930.0, 900.0, "not_given", id="an offset without its sense"),
    ],
)
def test_the_offset_has_its_sign_and_its_size(
    relation: str | None, offset: float | None, supply: float, taken: float, outcome: str
) -> None:
    found = result(both(supply, taken), place=clean_room(relation, offset))
    assert found.outcome("room_offset") == outcome


def test_t10_09_the_offset_of_the_supply_and_every_outlet_may_conform_while_it_reverses() -> None:
    """Check T10.09: 5200 supplied, 4900 taken: +300, 5.769231 % of the supply. Then 920 of 1000 and 972 of 900."""
    one = result(both(5200.0, 4900.0), place=clean_room()).judgement("room_offset")
    (room,) = one["facts"]["rooms"]
    assert one["value"] / CFM == pytest.approx(300.0)
    assert 100.0 * room["relative"] == pytest.approx(5.769231, abs=0.01)
    reversed_ = result(both(920.0, 972.0), place=clean_room())
    assert reversed_.outcome("outlet_airflow", "supply") == "conforms"
    assert reversed_.outcome("outlet_airflow", "return") == "conforms"
    assert reversed_.outcome("room_offset") == "does_not_conform"
    assert "Room 118 is to be positive and has" in shown(reversed_, "room_offset")


@pytest.mark.parametrize(("offset", "printed"), [(12.0, "12 cfm"), (10.5, "10.5 cfm"), (100.0, "100 cfm")])
def test_the_limit_of_an_offset_is_printed_as_it_was_given(offset: float, printed: str) -> None:
    """Airflows of this size are printed to 5 or 10 cfm; what the contract says is not rounded with them."""
    found = result(both(1000.0, 900.0), place=clean_room(offset=offset))
    assert f"allowed {printed} or more" in shown(found, "room_offset")


def test_what_one_hood_has_in_common_cancels_in_the_offset() -> None:
    """Hood 1.5 % and method 2 % of the difference of 100; device types 1.5 % of 1000 and of 900, apart:

    u = sqrt((0.015 · 100)² + (0.02 · 100)² + 15² + 13.5²) = 20.34 cfm; with two hoods the first becomes 15² + 13.5².
    """
    one = result(both(1000.0, 900.0), place=clean_room()).judgement("room_offset")
    u = ((0.015 * 100) ** 2 + (0.02 * 100) ** 2 + 15.0**2 + 13.5**2) ** 0.5
    assert one["expanded_uncertainty"] / CFM == pytest.approx(2.0 * u, rel=1e-6)
    rows = [row("S1", *[1000.0] * 4), row("R1", *[900.0] * 4, port="return", instrument=named("other"))]
    tools = [HOOD, {**HOOD, "id": named("other")}]
    apart = judged(outlets(rows), place=clean_room(), instruments=tools).judgement("room_offset")
    u_apart = ((0.02 * 100) ** 2 + 2.0 * (15.0**2 + 13.5**2)) ** 0.5
    assert apart["expanded_uncertainty"] / CFM == pytest.approx(2.0 * u_apart, rel=1e-6)


@pytest.mark.parametrize("rule", ["simple", "guarded_acceptance", "guarded_rejection"])
def test_an_offset_within_its_uncertainty_is_inconclusive_under_any_rule_as_a_pressure_is(rule: str) -> None:
    """u = sqrt((0.015 · 30)² + (0.02 · 30)² + 13.95² + 13.5²) = 19.4 cfm: ±38.8 about 30."""
    found = result(both(930.0, 900.0), place=clean_room(), conventions=conventions(decision_rule=rule))
    assert found.outcome("room_offset") == "inconclusive"
    assert "Its sign lies within the uncertainty" in shown(found, "room_offset")
    assert "inconclusive under any rule" in shown(found, "room_offset")


def test_a_room_of_which_one_side_is_another_units_is_not_judged_here() -> None:
    place = clean_room()
    del place["design"]["outlets"]["R1"]
    absence = result(outlets({"S1": 1000.0}), place=place).judgement("room_offset")["absence"]
    assert absence["code"] == "not_judged"
    assert "no outlet of a unit of the building takes air from it" in absence["text"]


# --- duct leakage ------------------------------------------------------------------------------------------------


def ducted(limit: float | None = 0.05, basis: str = "actual") -> dict[str, Any]:
    given_limit = {} if limit is None else {"leakage_maximum": limit}
    port = port_design(600.0, basis=basis, **given_limit)
    return designed({name: outlet(branch="B1") for name in THREE}, ports={"supply": port})


def port_read(flow: float, tool: str | None = None) -> dict[str, Any]:
    method = direct(*[flow] * 5)
    return envelope([reading("supply", method, tool) if tool else reading("supply", method)])


@pytest.mark.parametrize(
    ("port", "limit", "outcome"),
    [
        pytest.param(620.0, 0.05, "conforms", id="3.2 % of 5"),
        pytest.param(700.0, 0.05, "does_not_conform", id="14.3 % of 5"),
        pytest.param(700.0, None, "not_given", id="no limit: for information"),
        pytest.param(540.0, 0.05, "not_judged", id="the outlets give a tenth more than their port"),
        pytest.param(540.0, None, "not_judged", id="which is told without a limit too"),
        pytest.param(595.0, None, "not_given", id="a little more lies within the uncertainty"),
    ],
)
def test_the_difference_is_leakage_where_the_contract_limits_it(port: float, limit: float | None, outcome: str) -> None:
    found = result(port_read(port), outlets(dict.fromkeys(THREE, 200.0)), place=ducted(limit))
    one = found.judgement("duct_leakage", "supply")
    assert (one["verdict"] or one["absence"]["code"]) == outcome
    assert one["value"] == pytest.approx((port - 600.0) / port)
    assert one["facts"]["leakage_m3_s"] / CFM == pytest.approx(port - 600.0)
    assert "q_p - Σ q" in shown(found, "duct_leakage", "supply")


def test_one_instrument_at_port_and_outlets_cancels_as_far_as_it_is_one_error() -> None:
    """Both are 600 cfm by an instrument of 1.5 %: 9 cfm of each are one error where it is one instrument.

    Outlets: u² = 12² + 9² + 9², of method, type of device and instrument. Then u² = u_p² + u_o² less 2 · 9 · 9.
    """
    place, held = ducted(None), outlets(dict.fromkeys(THREE, 200.0))
    one = result(port_read(600.0), held, place=place).judgement("duct_leakage", "supply")["facts"]
    tools = [HOOD, {**HOOD, "id": named("other")}]
    two = judged(port_read(600.0, named("other")), held, place=place, instruments=tools)
    other = two.judgement("duct_leakage", "supply")["facts"]
    u_port = one["port_expanded_uncertainty_m3_s"] / 2.0 / CFM
    apart = u_port**2 + 12**2 + 9**2 + 9**2
    assert u_port > 9.0
    assert one["expanded_uncertainty_m3_s"] / CFM == pytest.approx(2.0 * (apart - 2 * 9 * 9) ** 0.5)
    assert other["expanded_uncertainty_m3_s"] / CFM == pytest.approx(2.0 * apart**0.5)


def test_leakage_needs_every_outlet_and_the_port() -> None:
    held = outlets(dict.fromkeys(THREE, 200.0))
    assert result(held, place=ducted()).outcome("duct_leakage", "supply") == "not_due"
    assert result(held, place=ducted(None)).outcome("duct_leakage", "supply") == "nothing said"
    part = outlets({"D1": 200.0, "D2": 200.0})
    assert result(port_read(620.0), part, place=ducted()).outcome("duct_leakage", "supply") == "not_due"
    blocked = outlets([row("D1", 200.0), row("D2", 200.0), not_read("D3", "blocked")])
    assert result(port_read(620.0), blocked, place=ducted()).outcome("duct_leakage", "supply") == "not_judged"
    closed = outlets([row("D1", 200.0), row("D2", 200.0), not_read("D3", "closed")])
    assert result(port_read(410.0), closed, place=ducted()).outcome("duct_leakage", "supply") == "conforms"


def test_outlets_and_port_on_different_air_are_not_compared() -> None:
    place = ducted()
    for one in place["design"]["outlets"].values():
        one["basis"] = "standard"
    found = result(port_read(620.0), outlets(dict.fromkeys(THREE, 200.0)), place=place)
    assert found.outcome("duct_leakage", "supply") == "not_judged"
