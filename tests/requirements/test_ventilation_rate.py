"""Required, designed and measured outdoor air, and the line by which CO2 resets it. Arithmetic beside each value."""

from __future__ import annotations

from typing import Any

import pytest

from commissioning.blocks import Block, Sentence, Table, Working
from commissioning.judging.document import DocumentError
from commissioning.requirements import co2_reset, ventilation_minimum, ventilation_rate
from tests.judging.builder import (
    Result,
    cfm,
    conventions,
    direct,
    envelope,
    instrument,
    judged,
    named,
    port_design,
    position,
    reading,
    state,
)
from tests.kinds.indirect_records import air_of_density

CFM = 0.0004719474432


def ppm(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "ppm"}


def room(people: float | None = 10.0, area_ft2: float = 2000.0, **changes: Any) -> dict[str, Any]:
    """An office by 62.1: 5 cfm a person and 0.06 cfm/ft² (table 6-1, from memory)."""
    return {
        "occupants": people,
        "floor_area": {"value": area_ft2, "unit": "ft2"},
        "people_rate": cfm(5.0),
        "area_rate": {"value": 0.06, "unit": "cfm/ft2"},
        **changes,
    }


def place(rooms: dict[str, Any], **port: Any) -> dict[str, Any]:
    made = position({"outdoor": port_design(200.0, basis="standard", **port)})
    made["design"]["rooms"] = rooms
    return made


def words(blocks: tuple[Block, ...]) -> str:
    told = [one.text for one in blocks if isinstance(one, Sentence)]
    told += [cell for one in blocks if isinstance(one, Table) for row in one.rows for cell in row]
    told += [line.value for one in blocks if isinstance(one, Working) for line in one.lines]
    return " | ".join(told)


# --- what the rooms ask for -------------------------------------------------------------------------------------


def test_the_rooms_add_up_and_no_verdict_rests_on_it() -> None:
    """101: 10 · 5 + 2000 · 0.06 = 170 cfm; 102 the same over E_z = 0.8: 212.5. Together 382.5 cfm."""
    rooms = {"101": room(), "102": room(distribution_effectiveness=0.8)}
    one = judged(envelope({"outdoor": 300.0}), place=place(rooms)).judgement("ventilation_rate", "outdoor")
    assert one["verdict"] is None
    assert one["absence"]["code"] == "not_given"
    assert "a designer's check" in one["absence"]["text"]
    assert one["value"] / CFM == pytest.approx(382.5, rel=1e-9)
    assert [held["airflow_m3_s"] / CFM for held in one["facts"]["rooms"]] == pytest.approx([170.0, 212.5])
    assert one["facts"]["side_by_side"]["design_over_required"] == pytest.approx(200.0 / 382.5)
    told = words(ventilation_rate.show(one, {}, "ip"))
    assert "212.50" in told
    assert "designed 200 cfm" in told


def test_a_room_without_people_makes_the_sum_unknown() -> None:
    one = judged(envelope({"outdoor": 300.0}), place=place({"101": room(), "102": room(None)}))
    assert "missing of 102" in one.judgement("ventilation_rate", "outdoor")["absence"]["text"]
    assert one.judgement("ventilation_rate", "outdoor")["value"] is None


def test_a_design_without_such_rooms_says_nothing() -> None:
    rooms = {"101": {"relation": "positive"}}
    assert judged(envelope({"outdoor": 300.0}), place=place(rooms)).outcome("ventilation_rate", "outdoor") == (
        "nothing said"
    )


def test_the_rates_are_of_standard_air() -> None:
    """200 cfm actual at 0.9 of the standard density are 180 cfm standard: 180 / 170."""
    made = place({"101": room()})
    made["design"]["ports"]["outdoor"]["basis"] = "actual"
    record = envelope([reading("outdoor", direct(*[200.0] * 5))], air=air_of_density(1.08))
    one = judged(record, place=made).judgement("ventilation_rate", "outdoor")
    assert one["facts"]["side_by_side"]["measured_over_required"] == pytest.approx(180.0 / 170.0, rel=1e-6)


def test_a_unit_that_recirculates_is_told_that_it_needs_more() -> None:
    made = place({"101": room()})
    made["design"]["ports"]["supply"] = port_design(1000.0)
    one = judged(envelope({"outdoor": 200.0}), place=made).judgement("ventilation_rate", "outdoor")
    assert "needs more than this sum" in words(ventilation_rate.show(one, {}, "ip"))


def test_beside_the_minimum_stand_required_designed_and_measured() -> None:
    """Minimum 150 cfm, rooms 170, design 200, measured 160: conforms to the schedule, and the rooms lack 10 cfm."""
    result = judged(envelope([reading("outdoor", direct(*[160.0] * 5, basis="standard"))]), place=place(
        {"101": room()}, minimum=cfm(150.0)
    ))  # fmt: skip
    one = result.judgement("ventilation_minimum", "outdoor")
    flows = one["facts"]["side_by_side"]
    assert one["verdict"] == "conforms"
    assert flows["required_m3_s"] / CFM == pytest.approx(170.0)
    assert flows["shortfall_m3_s"] / CFM == pytest.approx(10.0)
    assert flows["measured_over_design"] == pytest.approx(0.8)
    told = words(ventilation_minimum.show(one, {}, "ip"))
    assert "Required, by the rooms | 170 |  |  | Design | 200 | 118 % |  | Measured | 160 | 94 % | 80 %" in told


def test_without_rooms_the_schedule_says_what_is_required() -> None:
    record = envelope([reading("outdoor", direct(*[160.0] * 5, basis="standard"))])
    one = judged(record, place=place({}, minimum=cfm(150.0))).judgement("ventilation_minimum", "outdoor")
    assert one["facts"]["side_by_side"]["required_m3_s"] / CFM == pytest.approx(150.0)
    assert "Required, by the schedule" in words(ventilation_minimum.show(one, {}, "ip"))


def test_what_the_rooms_ask_for_is_put_on_the_basis_of_the_port() -> None:
    """170 cfm of standard air are 188.9 of air at 0.9 of its density."""
    made = place({"101": room()}, minimum=cfm(150.0))
    made["design"]["ports"]["outdoor"]["basis"] = "actual"
    record = envelope([reading("outdoor", direct(*[180.0] * 5))], air=air_of_density(1.08))
    one = judged(record, place=made).judgement("ventilation_minimum", "outdoor")
    assert one["facts"]["side_by_side"]["required_m3_s"] / CFM == pytest.approx(170.0 / 0.9, rel=1e-6)


# --- the line by which CO2 resets it ----------------------------------------------------------------------------

LINE = {
    "low_co2": ppm(800.0),
    "high_co2": ppm(1000.0),
    "airflow_at_low": cfm(100.0),
    "airflow_at_high": cfm(300.0),
    "clause": "Sequence 7.2",
}
ANALYSER = instrument(
    "analyser", accuracy={"relative": 0.0, "absolute": ppm(20.0), "shape": "normal_k2"}, resolution=None
)


def reset(
    flow_cfm: float, co2: float | None = 900.0, controller: float | None = None, mode: str = "other", **changes: Any
) -> Result:
    told = {
        "readings": {"values": [co2] * 4, "unit": "ppm"},
        "instrument": named("analyser"),
        **({"controller": ppm(controller)} if controller else {}),
    }
    record = envelope(
        [reading("outdoor", direct(*[flow_cfm] * 5, basis="standard"))],
        state=state(mode=mode),
    )
    if co2:
        record["payload"]["co2"] = told
    tools = [instrument(), ANALYSER]
    return judged(record, place=place({}, co2_reset=changes.pop("line", LINE)), instruments=tools, **changes)


@pytest.mark.parametrize(
    ("flow", "outcome", "deviation"),
    [(200.0, "conforms", 0.0), (185.0, "conforms", -0.075), (150.0, "does_not_conform", -0.25)],
)
def test_a_finding_is_held_against_the_line(flow: float, outcome: str, deviation: float) -> None:
    """900 ppm is half way from 800 to 1000: 200 cfm, ±10 %."""
    one = reset(flow).judgement("co2_reset", "outdoor")
    assert one["facts"]["expected_m3_s"] / CFM == pytest.approx(200.0, rel=1e-9)
    assert one["verdict"] == outcome
    assert one["value"] == pytest.approx(deviation, abs=1e-9)
    assert one["clause"] == "Sequence 7.2"


def test_the_uncertainty_of_the_co2_counts_by_the_slope_of_the_line() -> None:
    """1 cfm a ppm; ±20 ppm (k = 2) is 10 ppm, and four equal readings do not scatter: 10 cfm of 200. k is 2 where
    the degrees of freedom are as good as infinite, by our convention."""
    one = reset(200.0)
    held, air = one.judgement("co2_reset", "outdoor"), one.measurement("outdoor")
    of_air = air["standard_uncertainty_m3_s"] / CFM / 200.0
    expected = (of_air**2 + (10.0 / 200.0) ** 2) ** 0.5
    assert held["expanded_uncertainty"] == pytest.approx(2.0 * expected, rel=1e-6)


def test_guarded_acceptance_makes_it_inconclusive() -> None:
    """185 cfm deviates by 7.5 %; the uncertainty of both together is above the 2.5 % that are left."""
    guarded = conventions(decision_rule="guarded_acceptance")
    assert reset(185.0, conventions=guarded).outcome("co2_reset", "outdoor") == "inconclusive"


def test_the_loop_goes_by_its_own_sensor() -> None:
    """It shows 950, so 250 cfm are asked for; 50 ppm too high are 50 cfm at once. Settled, with G = q (C - 400):
    k x² + A x = G, both roots by hand below."""
    one = reset(250.0, controller=950.0).judgement("co2_reset", "outdoor")
    sensor = one["facts"]["sensor"]
    assert one["verdict"] == "conforms"
    assert one["facts"]["expected_m3_s"] / CFM == pytest.approx(250.0, rel=1e-9)
    assert sensor["is_found"] is True
    assert sensor["error"] == pytest.approx(50e-6)
    assert sensor["at_once_m3_s"] / CFM == pytest.approx(50.0, rel=1e-9)
    generation, flows = 250.0 * 500.0, []  # cfm ppm
    for error in (0.0, 50.0):
        a = 100.0 + 400.0 + error - 800.0
        rise = (-a + (a * a + 4.0 * generation) ** 0.5) / 2.0
        flows.append(generation / rise)
    assert sensor["settled_share"] == pytest.approx(flows[1] / flows[0] - 1.0, rel=1e-9)
    assert "+50 ppm" in words(co2_reset.show(one, {}, "ip"))


def test_without_the_controllers_reading_the_allowed_error_is_shown() -> None:
    one = reset(200.0).judgement("co2_reset", "outdoor")
    assert one["facts"]["sensor"]["is_found"] is False
    assert one["facts"]["sensor"]["at_once_m3_s"] / CFM == pytest.approx(75.0, rel=1e-9)
    assert "+75 ppm" in words(co2_reset.show(one, {}, "ip"))


@pytest.mark.parametrize(
    ("changes", "outcome"),
    [
        ({"co2": None}, "not_due"),
        ({"mode": "design_maximum"}, "not_judged"),
        ({"line": {**LINE, "airflow_at_low": cfm(0.0)}, "co2": 700.0}, "not_judged"),
    ],
)
def test_what_cannot_be_held_against_the_line(changes: dict[str, Any], outcome: str) -> None:
    assert reset(200.0, **changes).outcome("co2_reset", "outdoor") == outcome


def test_a_design_without_a_line_says_nothing() -> None:
    assert judged(envelope({"outdoor": 200.0}), place=place({})).outcome("co2_reset", "outdoor") == "nothing said"


def test_a_line_that_does_not_rise_in_co2_is_refused() -> None:
    with pytest.raises(DocumentError, match="upper CO2"):
        reset(200.0, line={**LINE, "high_co2": ppm(700.0)})


def test_si_and_ip_give_the_same() -> None:
    si_line = {**LINE, "airflow_at_low": {"value": 100.0 * CFM, "unit": "m3/s"}, "low_co2": {
        "value": 800e-6, "unit": "mol/mol"
    }}  # fmt: skip
    a, b = (reset(185.0, line=line).judgement("co2_reset", "outdoor")["value"] for line in (LINE, si_line))
    assert a == pytest.approx(b, rel=1e-9)


def test_a_minimum_of_hardly_any_air_is_met_and_divides_nothing() -> None:
    """0.001 cfm is 4.7e-7 m3/s."""
    record = envelope([reading("outdoor", direct(*[160.0] * 5, basis="standard"))])
    one = judged(record, place=place({}, minimum=cfm(0.001))).judgement("ventilation_minimum", "outdoor")
    assert one["verdict"] == "conforms"
    assert one["facts"]["side_by_side"]["measured_over_required"] is None
