"""Static pressures against the design: what is a criterion, what is for information, what a loaded filter hides."""

from __future__ import annotations

import json
from typing import Any

import pytest

from commissioning import judging
from commissioning.engineering.units import from_si
from tests.judging.builder import conventions, state
from tests.judging.builder import envelope as airflow
from tests.requirements.pressures import PLUS_MINUS, designed, envelope, found, pa, read, taps

CODE = "static_pressure"


def of(place: dict[str, Any], *envelopes: dict[str, Any], **changes: Any) -> str:
    return found(place, *envelopes, **changes).outcome(CODE, "supply")


def external(pressure: float = 200.0, **changes: Any) -> dict[str, Any]:
    return designed(pressures={"external_supply": {"pressure": pa(pressure), "tolerance": PLUS_MINUS, **changes}})


@pytest.mark.parametrize(
    ("measured", "outcome"),
    [
        (200.0, "conforms"),
        (219.9, "conforms"),  # +9.95 %
        (220.0, "conforms"),  # +10 %, on the limit
        (221.0, "does_not_conform"),  # +10.5 %
        (179.0, "does_not_conform"),  # −10.5 %
    ],
)
def test_external_static_within_the_contract_s_tolerance(measured: float, outcome: str) -> None:
    result = found(external(), envelope(profiles=[taps(measured)]))
    one = result.judgement(CODE, "supply")
    assert one["verdict"] == outcome
    assert one["value"] == pytest.approx(measured / 200.0 - 1.0, abs=1e-9)
    assert (one["low"], one["high"], one["clause"]) == (-0.1, 0.1, "23 05 93, 3.5")
    assert judging.exit_code(result.json) == (1 if outcome == "does_not_conform" else 2)  # the airflow is not due


def test_what_the_contract_does_not_limit_is_for_information() -> None:
    place = designed({"supply": {"airflow": {"value": 1000, "unit": "cfm"}, "static_pressure": pa(175.0)}})
    one = found(place, envelope(profiles=[taps(300.0)])).judgement(CODE, "supply")
    assert one["absence"]["code"] == "not_given"
    assert "external static pressure" in one["absence"]["text"]
    assert "0.70 in. w.c. designed" in one["absence"]["text"]  # 175 Pa over 249.09 Pa
    assert one["facts"]["parts"][0]["value"] == pytest.approx(300.0 / 175.0 - 1.0)


def test_nothing_read_is_said_only_where_a_limit_waits() -> None:
    assert of(external()) == "not_due"
    assert of(designed(pressures={"external_supply": {"pressure": pa(200.0)}})) == "nothing said"
    assert of(designed()) == "nothing said"


def test_a_stream_that_the_unit_does_not_have_is_not_waited_for() -> None:
    place = designed(pressures={"external": {"pressure": pa(200.0), "tolerance": PLUS_MINUS}})
    result = found(place, envelope(profiles=[taps()]))
    assert (result.outcome(CODE, "supply"), result.outcome(CODE, "exhaust")) == ("conforms", "nothing said")


def test_preliminary_and_other_modes_are_not_judged() -> None:
    assert of(external(), envelope(profiles=[taps()], stage="preliminary")) == "not_due"
    assert of(external(), envelope(profiles=[taps()], state=state(mode="minimum"))) == "not_judged"
    assert of(external(), envelope(profiles=[taps()], state=state(bypass="open"))) == "not_judged"


def test_a_guarded_rule_leaves_what_is_near_the_limit_inconclusive() -> None:
    guarded = conventions(decision_rule="guarded_acceptance")
    one = found(external(), envelope(profiles=[taps(218.0)]), conventions=guarded).judgement(CODE, "supply")
    assert one["verdict"] == "inconclusive"
    assert one["margin"] == pytest.approx(0.01)
    assert one["expanded_uncertainty"] > 0.01


# --- filters ----------------------------------------------------------------------------------------------------


def filters(**changes: Any) -> dict[str, Any]:
    given = {"pressure": pa(80.0), "tolerance": PLUS_MINUS, "final": pa(250.0), **changes}
    return designed(pressures={"filter_drop": given})


@pytest.mark.parametrize(
    ("drop", "condition", "outcome"),
    [
        (80.0, "clean", "conforms"),
        (95.0, "clean", "does_not_conform"),  # 19 % above the clean drop
        (180.0, "loaded", "not_judged"),  # below its final drop, and its clean drop cannot be told
        (260.0, "loaded", "does_not_conform"),  # to be changed
        (80.0, "not_seen", "not_judged"),
    ],
)
def test_a_filter_against_its_clean_drop_and_its_final_one(drop: float, condition: str, outcome: str) -> None:
    across = read(*[drop] * 4, stream="supply", across="filter", condition=condition)
    given = envelope(differences=[across], state=state(filters="not_seen"))
    assert of(filters(), given) == outcome


def test_a_loaded_filter_with_a_final_drop_alone_conforms_until_then() -> None:
    across = read(*[180.0] * 4, stream="supply", across="filter", condition="loaded")
    one = found(filters(tolerance=None), envelope(differences=[across])).judgement(CODE, "supply")
    assert (one["verdict"], one["unit"], one["high"]) == ("conforms", "Pa", 250.0)


def test_a_criterion_without_its_reading_is_still_due() -> None:
    place = designed(
        pressures={
            "external": {"pressure": pa(200.0), "tolerance": PLUS_MINUS},
            "filter_drop": {"pressure": pa(80.0), "tolerance": PLUS_MINUS},
        }
    )
    across = read(*[80.0] * 4, stream="supply", across="filter", condition="clean")
    one = found(place, envelope(differences=[across])).judgement(CODE, "supply")
    assert one["absence"] == {"code": "not_due", "text": "Not read yet: external static pressure."}
    failing = read(*[180.0] * 4, stream="supply", across="filter", condition="clean")
    assert of(place, envelope(differences=[failing])) == "does_not_conform"


# --- at the measured airflow ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("exponent", "expected_cfm"), [(1.8, 867.9624675995701), (2.0, 880.3408430829503)])
def test_t3_07_and_t3_08_the_airflow_that_a_core_s_drop_tells(exponent: float, expected_cfm: float) -> None:
    """1000 cfm at 0.80 in., 0.62 in. read: 867.96 cfm by n = 1.8, 880.34 cfm by the square law."""
    core = {"pressure": pa(0.80, "in_wc"), "exponent": exponent}
    across = read(*[0.62] * 4, unit="in_wc", stream="supply", across="core", condition="clean")
    place = designed(pressures={"core_drop_supply": core})
    result = found(place, airflow({"supply": 900.0}), envelope(differences=[across]))
    (part,) = result.judgement(CODE, "supply")["facts"]["parts"]
    assert from_si(part["told_airflow_m3_s"], "cfm") == pytest.approx(expected_cfm, abs=0.1)
    by_hand = 0.80 * 249.08891 * 0.9**exponent
    assert part["expected_pa"] == pytest.approx([by_hand, by_hand], rel=1e-6)


def test_without_an_exponent_the_drop_lies_between_the_laminar_and_the_turbulent() -> None:
    """100 Pa at 90 % of the airflow: 81 Pa by n = 2, 90 Pa by n = 1."""
    place = designed(pressures={"core_drop": {"pressure": pa(100.0)}})
    across = read(*[85.0] * 4, stream="supply", across="core", condition="clean")
    result = found(place, airflow({"supply": 900.0}), envelope(differences=[across]))
    (part,) = result.judgement(CODE, "supply")["facts"]["parts"]
    assert part["expected_pa"] == pytest.approx([81.0, 90.0])
    assert "told_airflow_m3_s" not in part
    text = repr(judging.show_judgement(result.judgement(CODE, "supply"), result.measurements, "si"))
    assert "core drop 1 to 2, not given" in text


def test_the_unit_of_the_evidence_changes_nothing() -> None:
    inches = [read(*[v / 249.08891] * 4, unit="in_wc", at=at) for at, v in (("unit_inlet", -50), ("unit_outlet", 160))]
    ip = found(external(), envelope(profiles=[{"stream": "supply", "taps": inches}])).judgement(CODE, "supply")
    pascals = [read(*[float(v)] * 4, at=at) for at, v in (("unit_inlet", -50), ("unit_outlet", 160))]
    si = found(external(), envelope(profiles=[{"stream": "supply", "taps": pascals}])).judgement(CODE, "supply")
    assert ip["value"] == pytest.approx(si["value"], abs=1e-6)
    assert ip["verdict"] == si["verdict"]


def test_profiles_of_two_streams_in_two_records_stand_each() -> None:
    place = designed(pressures={"external": {"pressure": pa(200.0), "tolerance": PLUS_MINUS}})
    exhaust = {**taps(150.0), "stream": "exhaust"}
    later = envelope("later", at="2026-05-04T12:00:00-05:00", profiles=[exhaust])
    result = found(place, envelope(profiles=[taps(205.0)]), later)
    assert result.outcome(CODE, "supply") == "conforms"
    assert result.outcome(CODE, "exhaust") == "does_not_conform"


def test_the_exact_bytes_of_the_evidence_judge_alike() -> None:
    given = envelope(profiles=[taps(221.0)])
    as_text, as_object = (found(external(), one) for one in (json.dumps(given), given))
    assert as_text.bytes == as_object.bytes
    assert judging.exit_code(as_text.json) == 1


def test_it_shows_what_failed_and_where_to_look() -> None:
    result = found(external(), envelope(profiles=[taps(260.0)]))
    one = result.judgement(CODE, "supply")
    text = repr(judging.show_judgement(one, result.measurements, "si"))
    assert "external static pressure 260" in text
    assert "+30 %" in text
    assert one["look_next"][0].startswith("Operating state")
    assert "before a panel is opened" in text
