"""Each port delivers its design airflow within the contract's tolerance; every row is an acceptance criterion."""

from typing import Any

import pytest

from tests.judging.builder import (
    PORTS,
    all_ports,
    conventions,
    direct,
    envelope,
    instrument,
    judged,
    port_design,
    position,
    reading,
    state,
)


def supply(measured: float, tolerance: dict[str, Any] | None = None, **changes: Any) -> Any:
    place = position({"supply": port_design(tolerance=tolerance)})
    return judged(envelope({"supply": measured}), place=place, **changes)


@pytest.mark.parametrize(
    ("measured", "tolerance", "outcome"),
    [
        pytest.param(1000.0, None, "conforms", id="on design"),
        pytest.param(900.0, None, "conforms", id="on the lower limit counts as inside"),
        pytest.param(1100.0, None, "conforms", id="on the upper limit counts as inside"),
        pytest.param(899.9, None, "does_not_conform", id="a hair below the lower limit"),
        pytest.param(1100.1, None, "does_not_conform", id="a hair above the upper limit"),
        pytest.param(995.0, {"low": 0.0, "high": 0.1}, "does_not_conform", id="T6.03: half a per cent low, -0/+10 %"),
        pytest.param(1080.0, {"low": -0.05, "high": 0.15}, "conforms", id="8 % high, -5/+15 %"),
        pytest.param(940.0, {"low": -0.05, "high": 0.15}, "does_not_conform", id="6 % low, -5/+15 %"),
        pytest.param(1400.0, {"low": -0.05, "high": None}, "conforms", id="no upper side"),
        pytest.param(600.0, {"low": None, "high": 0.05}, "conforms", id="no lower side"),
        pytest.param(896.0, {"low": -0.1, "high": 0.1, "rounding": "percent_1"}, "conforms", id="10.4 % rounds to 10"),
        pytest.param(895.0, {"low": -0.1, "high": 0.1, "rounding": "percent_1"}, "does_not_conform", id="10.5 % is 11"),
        pytest.param(896.0, {"low": -0.1, "high": 0.1}, "does_not_conform", id="10.4 % without rounding"),
        pytest.param(0.0, None, "does_not_conform", id="no air at all"),
    ],
)
def test_the_deviation_from_design_lies_within_the_contracts_limits(
    measured: float, tolerance: dict[str, Any] | None, outcome: str
) -> None:
    assert supply(measured, tolerance).outcome("design_airflow", "supply") == outcome


def test_t6_01_and_t6_02_nine_per_cent_low_passes_and_ten_point_four_high_fails() -> None:
    """Checks T6.01 and T6.02 (California NA7.5.1: outdoor air within 10 %)."""
    for required, measured, deviation, outcome in (
        (3000.0, 2730.0, -0.09, "conforms"),
        (1200.0, 1325.0, 0.1041667, "does_not_conform"),
    ):
        place = position({"outdoor": port_design(required)})
        one = judged(envelope({"outdoor": measured}), place=place).judgement("design_airflow", "outdoor")
        assert one["verdict"] == outcome
        assert one["value"] == pytest.approx(deviation, abs=1e-6)


def test_t6_04_terminals_at_ten_per_cent_all_pass() -> None:
    """Check T6.04: 218, 186 and 205 of 200 are +9, -7 and +2.5 %."""
    for measured, percent in ((218.0, 9.0), (186.0, -7.0), (205.0, 2.5)):
        place = position({"supply": port_design(200.0)})
        one = judged(envelope({"supply": measured}), place=place).judgement("design_airflow", "supply")
        assert (one["verdict"], one["value"]) == ("conforms", pytest.approx(percent / 100.0, abs=1e-6))


@pytest.mark.parametrize(
    ("rule", "measured", "outcome"),
    [
        ("simple", 905.0, "conforms"),
        ("guarded_acceptance", 905.0, "inconclusive"),
        ("guarded_acceptance", 1000.0, "conforms"),
        ("guarded_acceptance", 895.0, "does_not_conform"),
        ("guarded_rejection", 895.0, "inconclusive"),
        ("guarded_rejection", 905.0, "conforms"),
        ("guarded_rejection", 700.0, "does_not_conform"),
    ],
)
def test_the_decision_rule_is_the_projects(rule: str, measured: float, outcome: str) -> None:
    result = supply(measured, conventions=conventions(decision_rule=rule))
    one = result.judgement("design_airflow", "supply")
    assert (one["verdict"], one["rule"]) == (outcome, rule)


def test_a_judgement_carries_its_limits_clause_source_and_margin() -> None:
    one = supply(930.0, {"low": -0.05, "high": 0.1, "clause": "Addendum 3, 4.2"}).judgement("design_airflow", "supply")
    assert (one["low"], one["high"], one["clause"]) == (-0.05, 0.1, "Addendum 3, 4.2")
    assert one["sources"]["airflow"] == "Revision 2, addendum, 2026-04-01"
    assert one["margin"] == pytest.approx(-0.02)
    assert 0.0 < one["conformance_probability"] < 0.5
    assert one["rests_on"]
    assert one["rule_version"] == 3


def test_without_the_schedules_tolerance_the_projects_holds() -> None:
    one = supply(950.0).judgement("design_airflow", "supply")
    assert (one["low"], one["high"], one["clause"]) == (-0.1, 0.1, "23 05 93, 3.6")


def test_a_port_without_a_design_airflow_is_not_given() -> None:
    place = position({"supply": port_design(None)})
    assert judged(envelope({"supply": 500.0}), place=place).outcome("design_airflow", "supply") == "not_given"


@pytest.mark.parametrize("scope", ["deleted", "deferred", "by_others", "existing", "out_of_scope"])
def test_what_is_not_in_scope_is_never_counted(scope: str) -> None:
    outcomes = judged(envelope(all_ports(500.0)), place=position(scope=scope)).outcomes()
    assert set(outcomes.values()) <= {"not_counted", "not_given"}
    assert outcomes["design_airflow supply"] == "not_counted"


def test_what_was_added_is_counted() -> None:
    assert (
        judged(envelope(all_ports()), place=position(scope="added")).outcome("design_airflow", "supply") == "conforms"
    )


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"outdoor_damper": "closed"}, "outdoor air damper was closed"),
        ({"exhaust_damper": "closed"}, "exhaust air damper was closed"),
        ({"bypass": "open"}, "bypass was open"),
        ({"wheel": "stopped"}, "wheel stood still"),
        ({"filters": "construction"}, "construction filters"),
        ({"filters": "missing"}, "filters were missing"),
        ({"served_air_handler": "off"}, "air handler it serves was off"),
        ({"others_on_riser": "off"}, "other units on the riser were off"),
        ({"doors": "open"}, "doors were open"),
        ({"mode": "minimum"}, "mode minimum"),
        ({"mode": "other"}, "mode other"),
    ],
)
def test_a_final_in_the_wrong_operating_state_is_not_judged_and_says_why(changed: dict[str, str], words: str) -> None:
    one = judged(envelope(all_ports(), state=state(**changed))).judgement("design_airflow", "supply")
    assert one["verdict"] is None
    assert one["absence"]["code"] == "not_judged"
    assert words in one["absence"]["text"]


@pytest.mark.parametrize(
    "changed", [{"wheel": "none"}, {"bypass": "none"}, {"filters": "loaded"}, {"outdoor_damper": "modulating"}]
)
def test_what_the_unit_does_not_have_or_may_be_so_hinders_nothing(changed: dict[str, str]) -> None:
    assert judged(envelope(all_ports(), state=state(**changed))).outcome("design_airflow", "supply") == "conforms"


def test_preliminary_readings_are_work_in_progress() -> None:
    one = judged(envelope(all_ports(700.0), stage="preliminary")).judgement("design_airflow", "supply")
    assert one["absence"] == {"code": "not_due", "text": "There are only preliminary readings."}


def test_before_anything_is_measured_nothing_is_due() -> None:
    assert {judged().outcome("design_airflow", port) for port in PORTS} == {"not_due"}


def test_another_serial_than_the_machines_is_not_judged_and_told() -> None:
    result = judged(envelope(all_ports(), serial_seen="M-9"))
    one = result.judgement("design_airflow", "supply")
    assert one["absence"]["code"] == "not_judged"
    assert "M-9" in one["absence"]["text"]
    assert [(p["field"], p["value"]) for p in result.problems] == [("/payload/serial_seen", "M-9")]


def test_after_a_change_of_machine_everything_is_due_again() -> None:
    place = position(machine={"serial": "M-2", "since": "2026-06-01"})
    assert judged(envelope(all_ports()), place=place).outcome("design_airflow", "supply") == "recheck"


def test_the_day_of_the_change_is_the_sites_day() -> None:
    late = envelope(all_ports(), at="2026-05-31T23:30:00-05:00", serial_seen="M-2")
    in_other_words = envelope(all_ports(), at="2026-06-01T04:30:00+00:00", serial_seen="M-2")
    place = position(machine={"serial": "M-2", "since": "2026-06-01"})
    assert judged(late, place=place).outcome("design_airflow", "supply") == "recheck"
    assert judged(in_other_words, place=place).outcome("design_airflow", "supply") == "recheck"


def test_a_port_of_an_older_session_is_to_be_read_again() -> None:
    result = judged(
        envelope(all_ports()),
        envelope({"supply": 990.0}, name="second", at="2026-05-06T09:00:00-05:00", session="AL-2"),
    )
    assert result.outcome("design_airflow", "supply") == "conforms"
    assert {result.outcome("design_airflow", port) for port in ("return", "outdoor", "exhaust")} == {"recheck"}
    assert "AL-2" in result.judgement("design_airflow", "return")["absence"]["text"]


def test_the_latest_final_of_the_standing_session_stands() -> None:
    result = judged(
        envelope({"supply": 700.0}),
        envelope({"supply": 1010.0}, name="second", at="2026-05-04T15:00:00-05:00"),
    )
    assert result.judgement("design_airflow", "supply")["value"] == pytest.approx(0.01)


def test_standard_and_actual_design_are_never_mixed() -> None:
    """T3.10: at 5000 ft and 70 °F 1000 acfm are 830.8 scfm."""
    thin = {"dry_bulb": {"value": 70.0, "unit": "degF"}, "humidity_ratio": {"value": 0.0, "unit": "kg/kg"}}
    at_height = {"elevation": {"value": 5000.0, "unit": "ft"}}
    read = [reading("supply", direct(*[1000.0] * 5), air=thin)]
    lb = conventions(standard_density={"value": 0.075, "unit": "lb/ft3"})
    as_actual = judged(envelope(read), place=position({"supply": port_design()}, **at_height), conventions=lb)
    as_standard = judged(
        envelope(read), place=position({"supply": port_design(basis="standard")}, **at_height), conventions=lb
    )
    assert as_actual.judgement("design_airflow", "supply")["value"] == pytest.approx(0.0, abs=1e-9)
    assert as_standard.judgement("design_airflow", "supply")["value"] == pytest.approx(0.8308277 - 1.0, abs=5e-4)
    assert as_standard.outcome("design_airflow", "supply") == "does_not_conform"


def test_a_basis_that_is_not_stated_is_the_one_agreed_and_that_is_said() -> None:
    place = position({"supply": port_design(basis="not_stated")})
    one = judged(envelope({"supply": 1000.0}), place=place).judgement("design_airflow", "supply")
    assert (one["facts"]["basis"], one["facts"]["basis_assumed"]) == ("standard", True)


def test_a_failing_port_says_what_to_look_at_in_the_order_of_diagnosis() -> None:
    steps = judged(envelope(all_ports(800.0), state=state(bypass="not_seen"))).judgement("design_airflow", "supply")[
        "look_next"
    ]
    heads = [step.split(":")[0] for step in steps]
    assert heads[0] == "Likely cause 1"
    assert heads[-5:] == [
        "Operating state",
        "Dampers and filters",
        "Static profile",
        "Outlets and other units",
        "Fan speed",
    ]
    assert "nobody looked at bypass: look there first" in steps[-5]


def test_a_conforming_port_has_nothing_to_look_at() -> None:
    one = judged(envelope(all_ports())).judgement("design_airflow", "supply")
    assert (one["look_next"], one["remedy"]) == ([], "")


def test_the_newest_session_is_the_one_that_began_last_whatever_its_name() -> None:
    result = judged(
        envelope(all_ports(700.0), session="Z-9"),
        envelope(all_ports(1000.0), name="new", at="2026-05-06T09:00:00-05:00", session="A-1"),
        envelope({"supply": 700.0}, name="late", at="2026-05-08T09:00:00-05:00", session="Z-9"),
    )
    assert {result.outcome("design_airflow", port) for port in PORTS} == {"conforms"}
    assert result.judgement("one_session")["facts"]["standing_session"] == "A-1"


def test_sessions_are_ordered_by_moment_not_by_the_text_of_the_time() -> None:
    result = judged(
        envelope({"supply": 700.0}, at="2026-05-04T23:00:00+00:00", session="AL-1"),
        envelope({"supply": 1000.0}, name="new", at="2026-05-04T20:00:00-05:00", session="AL-2"),
        place=position({"supply": port_design()}),
    )
    assert result.outcome("design_airflow", "supply") == "conforms"


@pytest.mark.parametrize(
    ("readings", "accuracy", "words"),
    [
        ((890.0, 1010.0, 950.0, 910.0, 990.0), 0.001, "readings in all"),
        ((948.0, 948.0, 948.0, 948.0, 948.0), 0.03, "an instrument good to ±"),
        ((905.0, 905.0, 905.0, 905.0, 905.0), 0.001, "another plane or another method"),
    ],
)
def test_an_inconclusive_verdict_says_what_would_settle_it(
    readings: tuple[float, ...], accuracy: float, words: str
) -> None:
    result = judged(
        envelope([reading("supply", direct(*readings))]),
        place=position({"supply": port_design()}),
        instruments=[instrument(accuracy={"relative": accuracy}, resolution=None)],
        conventions=conventions(decision_rule="guarded_acceptance"),
    )
    one = result.judgement("design_airflow", "supply")
    assert one["verdict"] == "inconclusive"
    assert words in one["look_next"][0]
