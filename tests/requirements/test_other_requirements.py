"""Ventilation minimum, agreement of finals, sessions, mass balance and calibration by their acceptance criteria."""

from typing import Any

import pytest

from tests.judging.builder import (
    PORTS,
    Result,
    all_ports,
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

LATER, STILL_LATER = "2026-05-06T09:00:00-05:00", "2026-05-09T09:00:00-05:00"


# --- ventilation minimum ----------------------------------------------------------------------------------------


def outdoor(**changes: Any) -> dict[str, Any]:
    return position({"outdoor": port_design(minimum=cfm(930.0), **changes)})


@pytest.mark.parametrize(
    ("measured", "outcome"), [(931.0, "conforms"), (930.0, "conforms"), (929.0, "does_not_conform")]
)
def test_the_minimum_has_one_side_and_no_tolerance(measured: float, outcome: str) -> None:
    result = judged(envelope({"outdoor": measured}), place=outdoor())
    assert result.outcome("ventilation_minimum", "outdoor") == outcome
    assert result.outcome("design_airflow", "outdoor") == "conforms"


def test_a_minimum_that_is_not_given_does_not_fail() -> None:
    assert judged(envelope(all_ports(1.0))).outcome("ventilation_minimum", "outdoor") == "not_given"


def test_a_unit_without_outdoor_port_is_asked_at_its_supply() -> None:
    result = judged(envelope({"supply": 900.0}), place=position({"supply": port_design()}))
    assert result.outcomes()["ventilation_minimum supply"] == "not_given"


def test_the_lowest_of_both_modes_decides() -> None:
    low = envelope({"outdoor": 900.0}, name="low", at="2026-05-04T11:00:00-05:00", state=state(mode="minimum"))
    result = judged(envelope({"outdoor": 1000.0}), low, place=outdoor())
    assert result.outcome("ventilation_minimum", "outdoor") == "does_not_conform"
    assert result.judgement("ventilation_minimum", "outdoor")["facts"]["mode"] == "minimum"
    assert result.outcome("design_airflow", "outdoor") == "conforms"


def test_a_minimum_in_another_mode_is_not_judged() -> None:
    result = judged(envelope({"outdoor": 1000.0}, state=state(mode="other")), place=outdoor())
    assert result.outcome("ventilation_minimum", "outdoor") == "not_judged"


# --- two finals agree -------------------------------------------------------------------------------------------


def verified(as_left: float, repeat: float, tool: str = "meter", **changes: Any) -> Result:
    again = [reading("supply", direct(*[repeat] * 5), named(tool))]
    return judged(
        envelope({"supply": as_left}),
        envelope(again, name="repeat", at=LATER, session="V-1", purpose="verification", **changes),
        place=position({"supply": port_design(minimum=cfm(800.0))}),
        instruments=[instrument(), instrument("other")],
    )


def test_nobody_owes_a_verification() -> None:
    assert judged(envelope(all_ports())).outcome("two_finals_agree", "supply") == "nothing said"


def test_finals_within_both_uncertainties_agree_and_the_as_left_one_stands() -> None:
    result = verified(1000.0, 970.0)
    assert result.outcome("two_finals_agree", "supply") == "conforms"
    assert result.judgement("design_airflow", "supply")["value"] == pytest.approx(0.0, abs=1e-9)


def test_finals_that_differ_by_more_are_disputed_and_never_averaged() -> None:
    result = verified(1000.0, 700.0)
    one = result.judgement("two_finals_agree", "supply")
    assert one["verdict"] == "does_not_conform"
    assert one["value"] > 1.0
    assert result.outcome("design_airflow", "supply") == "disputed"
    assert result.outcome("ventilation_minimum", "supply") == "disputed"


def test_the_normalised_difference_is_that_of_iso_13528() -> None:
    result = verified(1000.0, 900.0, "other")
    a, b = (result.measurement("supply", name) for name in ("first", "repeat"))
    wide = (a["expanded_uncertainty_m3_s"] ** 2 + b["expanded_uncertainty_m3_s"] ** 2) ** 0.5
    expected = abs(a["airflow_m3_s"] - b["airflow_m3_s"]) / wide
    assert result.judgement("two_finals_agree", "supply")["value"] == pytest.approx(expected)


def test_one_instrument_for_both_leaves_less_to_differ() -> None:
    other = verified(1000.0, 900.0, "other")
    same = verified(1000.0, 900.0)
    difference = [one.judgement("two_finals_agree", "supply")["value"] for one in (same, other)]
    assert difference[0] > difference[1]


def test_a_new_as_left_session_ends_the_dispute() -> None:
    result = judged(
        envelope({"supply": 1000.0}),
        envelope({"supply": 700.0}, name="repeat", at=LATER, session="V-1", purpose="verification"),
        envelope({"supply": 990.0}, name="again", at=STILL_LATER, session="AL-2"),
        place=position({"supply": port_design()}),
    )
    assert result.outcome("two_finals_agree", "supply") == "conforms"
    assert result.outcome("design_airflow", "supply") == "conforms"


def test_a_verification_touches_nothing_so_no_port_is_rechecked() -> None:
    assert verified(1000.0, 1000.0).outcome("design_airflow", "supply") == "conforms"


def test_a_verification_in_a_wrong_state_disputes_nothing() -> None:
    result = verified(1000.0, 700.0, state=state(bypass="open"))
    assert result.outcome("two_finals_agree", "supply") == "not_judged"
    assert result.outcome("design_airflow", "supply") == "conforms"


def test_a_verification_alone_is_no_final() -> None:
    result = judged(envelope(all_ports(), purpose="verification", session="V-1"))
    assert result.outcome("design_airflow", "supply") == "not_due"
    assert result.outcome("two_finals_agree", "supply") == "not_due"


# --- one session ------------------------------------------------------------------------------------------------


def test_four_finals_of_one_session_belong_together() -> None:
    assert judged(envelope(all_ports())).outcome("one_session") == "conforms"


def test_ports_of_one_session_may_come_in_two_envelopes() -> None:
    halves = [envelope(dict.fromkeys(PORTS[:2], 1000.0)), envelope(dict.fromkeys(PORTS[2:], 1000.0), name="rest")]
    assert judged(*halves).outcome("one_session") == "conforms"


def test_a_port_read_again_alone_breaks_the_session() -> None:
    one = judged(envelope(all_ports()), envelope({"supply": 1000.0}, name="again", at=LATER, session="AL-2")).judgement(
        "one_session"
    )
    assert one["verdict"] == "does_not_conform"
    assert one["facts"]["sessions"] == {"supply": "AL-2", "return": "AL-1", "outdoor": "AL-1", "exhaust": "AL-1"}
    assert "return, outdoor, exhaust" in one["look_next"][0]


def test_missing_finals_are_not_due_yet() -> None:
    one = judged(envelope({"supply": 1000.0})).judgement("one_session")
    assert one["absence"]["code"] == "not_due"
    assert "return, outdoor, exhaust" in one["absence"]["text"]


def test_a_single_port_has_nothing_to_belong_to() -> None:
    place = position({"exhaust": port_design()})
    assert judged(envelope({"exhaust": 1000.0}), place=place).outcome("one_session") == "nothing said"


# --- mass balance -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("flows", "outcome", "difference"),
    [
        ({"outdoor": 1000, "return": 1000, "supply": 1000, "exhaust": 1000}, "conforms", 0.0),
        ({"outdoor": 1100, "return": 1000, "supply": 1000, "exhaust": 1000}, "conforms", 100.0 / 2050.0),
        ({"outdoor": 1000, "return": 1000, "supply": 1000, "exhaust": 660}, "does_not_conform", 340.0 / 1830.0),
        ({"outdoor": 700, "return": 1000, "supply": 1000, "exhaust": 1000}, "does_not_conform", -300.0 / 1850.0),
    ],
)
def test_what_enters_leaves_again(flows: dict[str, float], outcome: str, difference: float) -> None:
    one = judged(envelope({port: float(flow) for port, flow in flows.items()})).judgement("mass_balance")
    assert one["verdict"] == outcome
    assert one["value"] == pytest.approx(difference, rel=1e-9, abs=1e-12)
    assert one["expanded_uncertainty"] > 0.0


def test_it_is_mass_that_balances_not_volume() -> None:
    """Cold outdoor air of 1000 cfm at -20 °C carries a sixth more mass than 1000 cfm at 20 °C."""
    cold = {"dry_bulb": {"value": -20.0, "unit": "degC"}, "pressure": {"value": 101_325.0, "unit": "Pa"}}
    ports = [reading(port, direct(*[1000.0] * 5)) for port in PORTS]
    ports[2]["air"] = cold
    one = judged(envelope(ports)).judgement("mass_balance")
    assert one["value"] == pytest.approx(0.158 / 2.079, rel=0.03)


def test_one_instrument_for_all_four_cancels_its_own_error() -> None:
    tools = [instrument(name) for name in ("meter", *PORTS)]
    same = judged(envelope(all_ports()), instruments=tools)
    apart = judged(envelope([reading(p, direct(*[1000.0] * 5), named(p)) for p in PORTS]), instruments=tools)
    wide = [one.judgement("mass_balance")["expanded_uncertainty"] for one in (same, apart)]
    assert wide[0] < wide[1]


def test_the_allowance_is_the_projects() -> None:
    flows = {"outdoor": 1100.0, "return": 1000.0, "supply": 1000.0, "exhaust": 1000.0}
    tight = judged(envelope(flows), conventions=conventions(mass_balance_allowance=0.04))
    assert tight.outcome("mass_balance") == "does_not_conform"


def test_three_finals_balance_nothing() -> None:
    flows = all_ports()
    flows.pop("exhaust")
    assert judged(envelope(flows)).outcome("mass_balance") == "not_due"


def test_a_unit_without_four_ports_has_no_balance() -> None:
    place = position({port: port_design() for port in ("supply", "return")})
    result = judged(envelope(dict.fromkeys(("supply", "return"), 1000.0)), place=place)
    assert result.outcome("mass_balance") == "nothing said"


# --- calibration in date ----------------------------------------------------------------------------------------


def calibration(on: str, due: str, as_found: str = "within") -> dict[str, str]:
    return {"certificate": f"C of {on}", "on": on, "due": due, "as_found": as_found}


GOOD = calibration("2026-01-10", "2027-01-10")


@pytest.mark.parametrize(
    ("calibrations", "outcome", "design", "provisional"),
    [
        pytest.param([GOOD], "conforms", "conforms", False, id="in date"),
        pytest.param([calibration("2025-05-04", "2026-05-04")], "conforms", "conforms", False, id="due that very day"),
        pytest.param([calibration("2026-05-04", "2027-05-04")], "conforms", "conforms", False, id="done that very day"),
        pytest.param([calibration("2025-05-03", "2026-05-03")], "inconclusive", "conforms", True, id="lapsed"),
        pytest.param([], "inconclusive", "conforms", True, id="none on record"),
        pytest.param([calibration("2026-08-01", "2027-08-01")], "inconclusive", "conforms", True, id="only later"),
        pytest.param(
            [GOOD, calibration("2026-08-01", "2027-08-01", "outside")],
            "does_not_conform",
            "not_judged",
            False,
            id="found outside at the next calibration",
        ),
        pytest.param(
            [GOOD, calibration("2026-08-01", "2027-08-01"), calibration("2027-08-01", "2028-08-01", "outside")],
            "conforms",
            "conforms",
            False,
            id="found outside only after a good one",
        ),
        pytest.param(
            [calibration("2026-01-10", "2027-01-10", "outside")],
            "conforms",
            "conforms",
            False,
            id="found outside before the reading",
        ),
        pytest.param(
            [GOOD, calibration("2026-08-01", "2027-08-01", "not_stated")],
            "conforms",
            "conforms",
            False,
            id="not stated",
        ),
    ],
)
def test_calibration(calibrations: list[dict[str, str]], outcome: str, design: str, provisional: bool) -> None:
    result = judged(envelope(all_ports()), instruments=[instrument(calibrations=calibrations)])
    assert result.outcome("calibration_in_date", "supply") == outcome
    assert result.outcome("design_airflow", "supply") == design
    assert result.judgement("design_airflow", "supply")["provisional"] is provisional
    assert result.judgement("mass_balance")["provisional"] is provisional


def test_the_order_of_certificates_in_the_list_does_not_matter() -> None:
    rows = [GOOD, calibration("2026-08-01", "2027-08-01", "outside"), calibration("2025-01-01", "2026-01-01")]
    outcomes = {
        judged(envelope(all_ports()), instruments=[instrument(calibrations=order)]).outcome(
            "calibration_in_date", "supply"
        )
        for order in (rows, rows[::-1], [rows[1], rows[0], rows[2]])
    }
    assert outcomes == {"does_not_conform"}


def test_a_reported_value_needs_no_instrument() -> None:
    report = {
        "method": "reported",
        "airflow": cfm(990.0),
        "basis": "actual",
        "report": "TAB 7, p. 3",
        "by": "Orrin Air",
    }
    result = judged(envelope([reading("supply", report, None)], grade="transcribed"))
    assert result.outcome("design_airflow", "supply") == "conforms"
    assert result.outcome("calibration_in_date", "supply") == "nothing said"
    assert result.judgement("design_airflow", "supply")["provisional"] is False
    assert result.measurement("supply")["calibration"] == "not_applicable"


def test_an_instrument_that_nobody_knows_leaves_the_verdict_provisional() -> None:
    result = judged(envelope(all_ports()), instruments=[])
    assert result.outcome("calibration_in_date", "supply") == "inconclusive"
    assert result.judgement("design_airflow", "supply")["provisional"] is True


def test_a_port_with_only_a_minimum_is_asked_for_it() -> None:
    place = position({"outdoor": port_design(None, minimum=cfm(500.0))})
    assert judged(place=place).outcome("ventilation_minimum", "outdoor") == "not_due"
    result = judged(envelope({"outdoor": 480.0}), place=place)
    assert result.outcome("ventilation_minimum", "outdoor") == "does_not_conform"
    assert result.outcome("design_airflow", "outdoor") == "not_given"
