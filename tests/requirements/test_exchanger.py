"""What is judged of an exchanger: good, failing, inconclusive and absent cases, with the arithmetic beside them.

The ids are those of `tests/engineering/references/exchanger.csv`; T12.04 is the wheel at 18.7 of 20.0 rpm.
"""

from __future__ import annotations

import json
from typing import Any

import ht.hx
import pytest

from commissioning import blocks
from tests.engineering.test_coupled_exchangers import loop, rows_of_pipes
from tests.exchanger_judging import CLOSURE, EFFECT, LATER, NET, TRANSFER, WHEEL, asked, of, rating, shown, warm_exhaust
from tests.exchanger_records import DRY, FLOWS, flow, place, record, station
from tests.judging.builder import (
    conventions,
    envelope,
    instrument,
    judged,
    named,
    state,
)

# --- effectiveness ----------------------------------------------------------------------------------------------


def test_effectiveness_is_for_information_unless_the_contract_says_otherwise() -> None:
    """T7.08: 0.7778, with U = 2 x 0.0258."""
    one = of(core={"kind": "counterflow"}).judgement(EFFECT)
    assert one["absence"]["code"] == "not_given"
    assert one["absence"]["text"].startswith("The contract makes it no criterion. For information: sensible")
    assert "78 % ± 5.2 %" in one["absence"]["text"]
    assert one["value"] == pytest.approx(0.7778, abs=1e-4)
    assert one["expanded_uncertainty"] == pytest.approx(0.0516, abs=0.0006)


@pytest.mark.parametrize(
    ("minimum", "rule", "outcome"),
    [
        (0.70, "simple", "conforms"),
        (0.7777, "simple", "conforms"),
        (0.7779, "simple", "does_not_conform"),
        (0.75, "guarded_acceptance", "inconclusive"),  # 0.7778 − 0.0516 = 0.726
        (0.72, "guarded_acceptance", "conforms"),
        (0.80, "guarded_rejection", "inconclusive"),
        (0.84, "guarded_rejection", "does_not_conform"),
    ],
)
def test_a_least_effectiveness(minimum: float, rule: str, outcome: str) -> None:
    one = of(core=asked(minimum), conventions=conventions(decision_rule=rule)).judgement(EFFECT)
    assert one["verdict"] == outcome
    assert one["margin"] == pytest.approx(0.777778 - minimum, abs=1e-5)
    assert (one["clause"], one["low"]) == ("23 72 00, 2.4", minimum)
    assert bool(one["look_next"]) is (outcome != "conforms")


@pytest.mark.parametrize(
    ("changes", "code", "reason"),
    [
        ({"frost": "seen"}, "not_judged", "frosted"),
        ({"duration": None}, "not_judged", "How long the readings took"),
        ({"flows": []}, "not_judged", "The airflow of both streams was not read"),
        ({"state": state(wheel="none", bypass="open")}, "not_judged", "the bypass was open"),
        ({"stage": "preliminary"}, "not_due", "only preliminary"),
        ({"serial_seen": "M-9"}, "not_judged", "Is it the right unit"),
    ],
)
def test_what_cannot_be_judged_says_why(changes: dict[str, Any], code: str, reason: str) -> None:
    one = of(record(**changes), core=asked(0.7)).judgement(EFFECT)
    assert one["absence"]["code"] == code
    assert reason in one["absence"]["text"]


def test_a_latent_criterion_without_humidity_is_not_judged() -> None:
    bare = [station(one["station"], one["dry_bulb"]["values"][0]) for one in DRY]
    one = of(record(stations=bare), core=asked(0.5, "latent")).judgement(EFFECT)
    assert "No humidity of the outdoor" in one["absence"]["text"]


def test_where_nothing_is_asked_and_nothing_recorded_nothing_is_said() -> None:
    result = judged(envelope({"supply": 1000.0}), place=place({"kind": "counterflow"}), instruments=[instrument()])
    assert {result.outcome(rule) for rule in (EFFECT, CLOSURE, WHEEL, TRANSFER)} == {"nothing said"}
    assert result.outcome(NET, "supply") == "nothing said"
    core = {**asked(0.7), "wheel_speed": {"value": 20.0, "unit": "rpm"}, "transfer_ratio_maximum": 0.05}
    waiting = judged(place=place(core))
    assert {waiting.outcome(rule) for rule in (EFFECT, WHEEL, TRANSFER)} == {"not_due"}


def test_a_unit_that_is_not_counted_and_a_unit_that_was_touched_since() -> None:
    where = place(asked(0.7), scope="deferred")
    assert of(where=where).outcome(EFFECT) == "not_counted"
    touched = of(record(), envelope({"supply": 1000.0}, name="again", at=LATER, session="AL-2"), core=asked(0.7))
    assert touched.outcome(EFFECT) == "recheck"


def test_what_to_expect_between_two_rated_points() -> None:
    """T7.22: 0.81 at 75 % and 0.76 at 100 %; at 0.90 of the flow 0.78. Cooling points do not count in winter."""
    core = {
        "kind": "other",
        "ratings": [
            rating(1.0, 0.76, season="heating"),
            rating(0.75, 0.81, season="heating"),
            rating(1.0, 0.60, season="cooling"),
        ],
    }
    flows = [flow("supply", 0.9, 0.02), flow("return", 0.9, 0.02)]
    part = of(record(flows=flows), core=core).judgement(EFFECT)["facts"]["parts"]["sensible"]
    assert [one["value"] for one in part["expected"]] == [pytest.approx(0.78, abs=1e-9)]
    assert "between two rated points" in part["expected"][0]["method"]


@pytest.mark.parametrize(
    ("kind", "form"), [("counterflow", "counterflow"), ("wheel", "counterflow"), ("crossflow", "crossflow")]
)
def test_what_to_expect_by_transfer_units(kind: str, form: str) -> None:
    """Rated 0.60 balanced at 1.0 m³/s; at 1.0 and 0.8333 by ht from ht's own transfer units."""
    units = ht.hx.NTU_from_effectiveness(0.60, 1.0, form)  # type: ignore[no-untyped-call]
    oracle = ht.hx.effectiveness_from_NTU(units / (1.0 / 1.2), 1.0 / 1.2, form)  # type: ignore[no-untyped-call]
    core = {"kind": kind, "ratings": [rating(1.0, 0.60)]}
    part = of(core=core).judgement(EFFECT)["facts"]["parts"]["sensible"]
    assert [one["value"] for one in part["expected"]] == [pytest.approx(oracle, abs=1e-6)]


@pytest.mark.parametrize(
    ("core", "oracle", "method"),
    [
        ({"kind": "run_around"}, loop(3.0, 3.0, 1.0, 1.0 / 1.2, 1.0), "two like coils"),
        ({"kind": "heat_pipe", "rows": 6}, rows_of_pipes(1.8, 1.0 / 1.2, 6), "6 rows of heat pipes"),
        (
            {"kind": "heat_pipe"},
            ht.hx.effectiveness_from_NTU(1.8, 1.0 / 1.2, "counterflow"),  # type: ignore[no-untyped-call]
            "their rows are not given",
        ),
    ],
)
def test_what_to_expect_of_coupled_streams(core: dict[str, Any], oracle: float, method: str) -> None:
    """Rated balanced at 1.0 m³/s with N = 1.5, that is 0.6 in counterflow; at 1.0 and 0.8333 by direct solutions."""
    rated = rows_of_pipes(1.5, 1.0, 6) if "rows" in core else 0.6
    part = of(core={**core, "ratings": [rating(1.0, rated)]}).judgement(EFFECT)["facts"]["parts"]["sensible"]
    assert [one["value"] for one in part["expected"]] == [pytest.approx(oracle, abs=1e-6)]
    assert method in part["expected"][0]["method"]


@pytest.mark.parametrize(
    ("core", "reason"),
    [
        ({"kind": "heat_pipe", "rows": 1, "ratings": [rating(1.0, 0.6)]}, "effectiveness is 0.6; it must lie in"),
        ({"kind": "other", "ratings": [rating(1.0, 0.6)]}, "one rated point alone"),
        ({"kind": "counterflow"}, "no revision gives a rated sensible"),
        ({"kind": "counterflow", "ratings": [rating(4.0, 0.6)]}, "supply mass flow is 1.2"),
        ({"kind": "counterflow", "ratings": [rating(1.0, 0.6, season="cooling")]}, "for heating"),
    ],
)
def test_what_cannot_be_expected_says_why(core: dict[str, Any], reason: str) -> None:
    part = of(core=core).judgement(EFFECT)["facts"]["parts"]["sensible"]
    assert part["expected"] == []
    assert reason in part["none_expected"]
    asked_ = {**core, **asked(0.5, at="rated_flows")}
    one = of(core=asked_).judgement(EFFECT)
    assert "to which it cannot be carried" in one["absence"]["text"]


def test_a_rating_of_nothing_carries_no_criterion() -> None:
    """A cell of the schedule that says 0: 0.5 × expected / 0 is nothing that could be asked for."""
    core = {"kind": "other", "ratings": [rating(0.75, 0.0), rating(1.0, 0.0)], **asked(0.5, at="rated_flows")}
    flows = [flow("supply", 0.9, 0.02), flow("return", 0.9, 0.02)]
    one = of(record(flows=flows), core=core).judgement(EFFECT)
    assert one["absence"] == {
        "code": "not_judged",
        "text": "Asked for at the rated flows, to which it cannot be carried: "
        "it is rated for no sensible effectiveness at all.",
    }


def test_a_criterion_at_rated_flows_is_carried_to_the_flows_of_the_test() -> None:
    """Counterflow, 0.75 rated, N = 3 (T7.21): at 1.2 and 1.0 kg/s the ratings let expect what ht says."""
    at_flows = ht.hx.effectiveness_from_NTU(3.0 * 1.2, 1.0 / 1.2, "counterflow")  # type: ignore[no-untyped-call]
    core = {"kind": "counterflow", "ratings": [rating(1.0, 0.75)], **asked(0.71, at="rated_flows")}
    one = of(core=core).judgement(EFFECT)
    assert at_flows == pytest.approx(0.8314, abs=1e-4)
    assert one["low"] == pytest.approx(0.71 * at_flows / 0.75, abs=1e-6)
    assert one["verdict"] == "does_not_conform"  # 0.7778 against 0.787
    assert of(core={**core, **asked(0.71)}).outcome(EFFECT) == "conforms"


def test_a_criterion_at_rated_flows_is_carried_between_rated_points() -> None:
    """T7.22: 0.78 to expect where 0.76 is rated at full flow: 0.70 becomes 0.70 × 0.78 / 0.76."""
    ratings = [rating(0.75, 0.81), rating(1.0, 0.76)]
    flows = [flow("supply", 0.9, 0.02), flow("return", 0.9, 0.02)]
    core = {"kind": "other", "ratings": ratings, **asked(0.70, at="rated_flows")}
    assert of(record(flows=flows), core=core).judgement(EFFECT)["low"] == pytest.approx(0.70 * 0.78 / 0.76, abs=1e-9)


def test_transfer_units_are_those_of_the_point_of_the_largest_flow() -> None:
    core = {"kind": "counterflow", "ratings": [rating(0.75, 0.81), rating(1.0, 0.60)]}
    alone = {"kind": "counterflow", "ratings": [rating(1.0, 0.60)]}
    both, one = (of(core=held).judgement(EFFECT)["facts"]["parts"]["sensible"]["expected"] for held in (core, alone))
    assert [way["method"] for way in both] == ["straight between two rated points", "transfer units, counterflow"]
    assert both[1] == one[0]


def test_what_fails_stands_before_what_cannot_be_judged() -> None:
    """Dry air has no latent effectiveness; the sensible one of 0.78 falls short of 0.9."""
    criteria = [{"quantity": "latent", "minimum": 0.5}, {"quantity": "sensible", "minimum": 0.9}]
    assert of(core={"criteria": criteria}).outcome(EFFECT) == "does_not_conform"
    assert of(core={"criteria": [criteria[0], {**criteria[1], "minimum": 0.7}]}).outcome(EFFECT) == "not_judged"


def test_of_several_the_worst_stands_for_the_unit() -> None:
    where = place({**asked(0.7), "kind": "counterflow"})
    where["design"]["exchangers"]["wrap-around"] = asked(0.8)
    second = record("second", exchanger="wrap-around", at="2026-05-04T12:00:00-05:00")
    result = of(record(), second, where=where)
    one = result.judgement(EFFECT)
    assert one["verdict"] == "does_not_conform"
    assert [(row["exchanger"], row["outcome"]) for row in one["facts"]["all"]] == [
        ("core", "conforms"),
        ("wrap-around", "does_not_conform"),
    ]
    assert set(one["rests_on"]) == {named("exchanger"), named("second")}
    assert of(record(), where=where).outcome(EFFECT) == "not_due"


def test_flows_of_the_test_that_are_not_those_left_are_told() -> None:
    """The return was left at 1000 cfm, 0.47195 m³/s at 20 °C and (assumed) 50 %: 1.199 kg/m³. Tested at 0.833."""
    result = of(envelope({"return": 1000.0}), record(), core=asked(0.7))
    told = {one["port"]: one for one in result.judgement(EFFECT)["facts"]["flows"]}
    assert told["return"]["normalised_difference"] > 1.0
    assert told["return"]["final_m3_s"] == pytest.approx(0.47195 * 1.199 / 1.2, rel=1e-3)
    text = json.dumps([blocks.to_json(one) for one in shown(result, EFFECT)], ensure_ascii=False)
    assert "The unit was not tested as it was left" in text


# --- closure ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("exhaust", "outcome", "difference"),
    [
        (1.6, "conforms", -0.6 / 21.0),  # T7.24: (1.0 x 20.4 − 1.2 x 17.5) / (1.2 x 17.5)
        (0.0, "conforms", 1.0 / 21.0),
        (4.0, "conforms", -3.0 / 21.0),  # 14 %, of which U = 7 % may be error
        (5.0, "inconclusive", -4.0 / 21.0),
        (10.0, "does_not_conform", -9.0 / 21.0),
        (-9.0, "does_not_conform", 10.0 / 21.0),
    ],
)
def test_closure_of_energy(exhaust: float, outcome: str, difference: float) -> None:
    result = of(warm_exhaust(exhaust), core=asked(0.7))
    one = result.judgement(CLOSURE)
    assert one["verdict"] == outcome
    assert one["value"] == pytest.approx(difference, rel=1e-6)
    assert (one["margin"] >= 0.0) is (outcome == "conforms")
    expected = "not_judged" if outcome == "does_not_conform" else "conforms"
    assert result.outcome(EFFECT) == expected


def test_closure_without_the_exhaust_air_or_in_unsteady_air_is_not_judged() -> None:
    three = of(record(stations=DRY[:3])).judgement(CLOSURE)
    assert "The exhaust air was not read" in three["absence"]["text"]
    assert of(record(duration=None)).outcome(CLOSURE) == "not_judged"
    assert of(record(flows=FLOWS[:1])).outcome(CLOSURE) == "not_judged"


def test_a_closure_that_nobody_can_know_is_not_judged() -> None:
    """The supply air warms by 0.7 K and the exhaust air cools by as much, each known to 0.2 √2 = 0.28 K: 40 % and 40 %.

    √(0.40² + 0.40²) = 0.57 of what the supply air takes.
    """
    air = {"outdoor": -20.0, "supply": -19.3, "return": 25.0, "exhaust": 24.3}
    dry = [station(role, value, share=0.0) for role, value in air.items()]
    flows = [flow("supply", 1.0, 0.06), flow("return", 1.0, 0.06)]
    one = of(record(stations=dry, flows=flows)).judgement(CLOSURE)
    assert one["absence"]["code"] == "not_judged"
    assert "says nothing" in one["absence"]["text"]


def test_where_water_condenses_the_closure_of_enthalpy_decides() -> None:
    """Return air of 22 degC, 60 % and 9.9 g/kg leaves at 9 degC saturated with 7.1: heat alone does not close.

    Enthalpies 47.3 to 27.0 kJ/kg give 20.3; the supply air takes 1.006 x (15 + 5) + little: 20.2 kJ/kg. By heat alone
    the exhaust gives 13 K and the supply takes 20.
    """
    air = {"outdoor": (-5.0, 60.0), "supply": (15.0, 14.0), "return": (22.0, 60.0), "exhaust": (9.0, 100.0)}
    wet = [station(role, dry, share=share) for role, (dry, share) in air.items()]
    flows = [flow("supply", 1.0, 0.03), flow("return", 1.0, 0.03)]
    one = of(record(stations=wet, flows=flows)).judgement(CLOSURE)
    assert one["facts"]["about"] == "closure of enthalpy"
    assert one["verdict"] == "conforms"
    assert one["value"] == pytest.approx(0.0, abs=0.05)
