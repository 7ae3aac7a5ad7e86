"""Specific fan power and the fan power limit: for information by default, criteria where the contract says so."""

from __future__ import annotations

from typing import Any

import pytest

from commissioning.judging.registry import RULES
from tests.judging.builder import Result, conventions, direct, envelope, port_design, position, reading
from tests.kinds.electrical_records import METER, fan, judged, q, record

HP = 745.6998715822702  # W, 550 ft lbf/s


def air(**flows_m3_s: float) -> dict[str, Any]:
    """Actual airflows in m3/s by port, at sea level."""
    return envelope([reading(port, direct(*[flow] * 5, unit="m3/s")) for port, flow in flows_m3_s.items()])


def powered(*, mode: str = "design_maximum", **kilowatts: float) -> dict[str, Any]:
    fans = [fan(name, power={"instrument": METER, "power": q(value, "kW")}) for name, value in kilowatts.items()]
    made = record(*fans)
    made["payload"]["state"] = {**made["payload"]["state"], "mode": mode}
    return made


def unit(
    *envelopes: Any, ports: dict[str, float] | None = None, fans: dict[str, Any] | None = None, **changes: Any
) -> Result:
    designed = {port: port_design(flow / 0.0004719474432) for port, flow in (ports or {}).items()}
    place = position(designed or {"supply": port_design(None)}, fans=fans or {"supply": {}, "exhaust": {}})
    return judged(*envelopes, place=place, **changes)


FLOWS = {"supply": 2.5, "exhaust": 2.2}


def test_t8_12_specific_fan_power_and_its_class_for_information() -> None:
    """T8.12: 3.2 and 2.4 kW at the larger flow of 2.5 m3/s are 2240 W/(m3/s), class 5 (EN 16798-3, from memory)."""
    result = unit(air(**FLOWS), powered(supply=3.2, exhaust=2.4), ports=FLOWS)
    one = result.judgement("specific_fan_power")
    assert one["absence"]["code"] == "not_given"
    assert one["value"] == pytest.approx(2240.0)
    assert one["facts"]["class"] == 5
    assert "For information: 1.06 W/cfm, class 5" in one["absence"]["text"]  # T8.13: 1 W/cfm is 2118.88 W/(m3/s)
    assert len(one["rests_on"]) == 2


@pytest.mark.parametrize(
    ("maximum", "rule", "outcome"),
    [
        (2300.0, "simple", "conforms"),
        (2200.0, "simple", "does_not_conform"),
        (2300.0, "guarded_acceptance", "inconclusive"),
        (2800.0, "guarded_acceptance", "conforms"),
    ],
)
def test_where_the_contract_has_a_limit_it_is_a_criterion(maximum: float, rule: str, outcome: str) -> None:
    """2240 W/(m3/s). U: power 1.5 %/√3 and 1 % as one error, 1.32 %; airflow about 3 %: about ±7 %."""
    limit = {"maximum": q(maximum, "W/(m3/s)"), "clause": "23 34 00, 2.4"}
    result = unit(
        air(**FLOWS),
        powered(supply=3.2, exhaust=2.4),
        ports=FLOWS,
        fans={"supply": {"specific_power_limit": limit}, "exhaust": {}},
        conventions=conventions(decision_rule=rule),
    )
    one = result.judgement("specific_fan_power")
    assert one["verdict"] == outcome
    assert one["clause"] == "23 34 00, 2.4"
    airflow = result.measurement("supply")
    relative = (airflow["standard_uncertainty_m3_s"] / airflow["airflow_m3_s"]) ** 2 + (0.015**2 / 3 + 0.01**2)
    assert one["expanded_uncertainty"] == pytest.approx(2.0 * relative**0.5 * 2240.0, rel=1e-9)


@pytest.mark.parametrize(
    ("envelopes", "code", "text"),
    [
        ([powered(supply=3.2, exhaust=2.4)], "not_due", "airflow of each fan"),
        ([air(**FLOWS), powered(supply=3.2)], "not_due", "Nothing is recorded yet"),
        ([air(supply=2.5), powered(supply=3.2, exhaust=2.4)], "not_due", "airflow of each fan"),
        ([air(**FLOWS), powered(supply=3.2, exhaust=2.4, mode="minimum")], "not_judged", "in mode minimum"),
        ([air(**FLOWS), record(fan("supply", power={"instrument": METER, "power": q(3.2, "kW")}), fan("exhaust"))],
         "not_due", "The electric power was not read at the exhaust fan"),
        ([air(supply=0.0, exhaust=0.0), powered(supply=3.2, exhaust=2.4)], "not_judged", "No air moves"),
    ],
)  # fmt: skip
def test_what_is_missing_is_named_and_for_information_nobody_waits_for_it(
    envelopes: list[Any], code: str, text: str
) -> None:
    limit = {"specific_power_limit": {"maximum": q(2300.0, "W/(m3/s)")}}
    asked = unit(*envelopes, ports=FLOWS, fans={"supply": limit, "exhaust": {}}).judgement("specific_fan_power")
    assert asked["absence"]["code"] == code
    assert text in asked["absence"]["text"]
    free = unit(*envelopes, ports=FLOWS).judgement("specific_fan_power")
    assert free["absence"]["code"] == "not_given"
    assert text in free["absence"]["text"]


def test_a_unit_of_one_fan_is_counted_by_it_alone() -> None:
    """An exhaust fan: 500 W at 1 m3/s is 500 W/(m3/s), class 1."""
    result = unit(air(exhaust=1.0), powered(exhaust=0.5), ports={"exhaust": 1.0}, fans={"exhaust": {}})
    one = result.judgement("specific_fan_power")
    assert (one["value"], one["facts"]["class"]) == (pytest.approx(500.0), 1)


def test_fans_that_run_against_a_closed_damper_have_a_specific_power_too() -> None:
    """A vane meter's 0.0005 m3/s (1 cfm) at 1 kW: 1000 / 0.0005 = 2,000,000 W/(m3/s), far above any class's limit."""
    one = unit(air(supply=0.0005), powered(supply=1.0), fans={"supply": {}}).judgement("specific_fan_power")
    assert one["value"] == pytest.approx(2.0e6)
    assert one["facts"]["class"] == 7


def test_nothing_is_said_of_power_that_nobody_read_or_asked_for() -> None:
    result = unit(air(**FLOWS), record(fan("supply")), ports=FLOWS)
    assert result.outcome("specific_fan_power") == "nothing said"
    assert result.outcome("fan_power_limit") == "nothing said"


CFM = 0.0004719474432
DESIGN = {"supply": 12_000.0 * CFM, "exhaust": 12_000.0 * CFM}


def limited(supply_hp: float, exhaust_hp: float, *, criterion: bool = True, **limit: Any) -> Result:
    """Motors of efficiency 0.9 whose shafts give these powers, at 12,000 cfm with two credited streams of 2,000 cfm."""
    stream = {"device": "wheel", "airflow": q(2000.0, "cfm"), "effectiveness": 0.60}
    given = {
        "system": "constant_volume",
        "credits": [{**stream, "device": "wheel, supply side"}, {**stream, "device": "wheel, exhaust side"}],
        "criterion": criterion,
        "clause": "ASHRAE 90.1-2016, 6.5.3.1",
        **limit,
    }
    motors = {"supply": {"motor_efficiency": 0.9, "power_limit": given}, "exhaust": {"motor_efficiency": 0.9}}
    taken = powered(supply=supply_hp * HP / 900.0, exhaust=exhaust_hp * HP / 900.0)
    return unit(air(**DESIGN), taken, ports=DESIGN, fans=motors)


@pytest.mark.parametrize(
    ("shafts", "outcome"), [((7.0, 5.0), "conforms"), ((7.1, 5.0), "does_not_conform"), ((4.0, 3.0), "conforms")]
)
def test_t8_10_and_t8_11_the_limit_with_both_streams_credited(shafts: tuple[float, float], outcome: str) -> None:
    """T8.10: 0.3969983 bhp per stream; T8.11: 0.00094 x 12,000 + 2 x 0.397 = 12.074 bhp, as printed in a public
    thread of 2015."""
    one = limited(*shafts).judgement("fan_power_limit")
    assert one["verdict"] == outcome
    assert one["high"] / HP == pytest.approx(12.074, abs=0.005)
    assert [added / HP for _, added in one["facts"]["credits_w"]] == pytest.approx([0.3969983] * 2, abs=0.001)
    assert one["value"] / HP == pytest.approx(sum(shafts), rel=1e-9)


def test_the_variable_volume_limit_and_a_credit_by_its_pressure() -> None:
    """0.0013 x 12,000 = 15.6 bhp; 0.5 in. at 4,131 cfm is 0.5 bhp."""
    credit = {"device": "filters", "airflow": q(4131.0, "cfm"), "pressure": q(0.5, "in_wc")}
    one = limited(7.0, 5.0, system="variable_volume", credits=[credit]).judgement("fan_power_limit")
    assert one["high"] / HP == pytest.approx(16.1, abs=1e-4)


def test_without_a_criterion_it_is_for_information() -> None:
    one = limited(9.0, 5.0, criterion=False).judgement("fan_power_limit")
    assert one["absence"]["code"] == "not_given"
    assert "For information: 14.0 hp of 12.1 hp" in one["absence"]["text"]


def test_without_the_motors_efficiency_there_is_no_shaft_power() -> None:
    motors = {"supply": {"power_limit": {"system": "constant_volume", "criterion": True}}, "exhaust": {}}
    result = unit(air(**DESIGN), powered(supply=5.0, exhaust=4.0), ports=DESIGN, fans=motors)
    one = result.judgement("fan_power_limit")
    assert one["absence"]["code"] == "not_due"
    assert "efficiency" in one["absence"]["text"]


def test_the_pages_show_what_went_in_both_systems_of_units() -> None:
    one = limited(9.0, 5.0).judgement("fan_power_limit")
    text = " ".join(str(block) for block in RULES["fan_power_limit"].show(one, {}, "ip"))
    assert "All fans together take 14.0 hp" in text
    assert "wheel, exhaust side" in text
    assert "12,000.00 cfm" in text
    result = unit(air(**FLOWS), powered(supply=3.2, exhaust=2.4), ports=FLOWS, conventions=conventions(display="si"))
    power = result.judgement("specific_fan_power")
    shown = " ".join(str(block) for block in RULES["specific_fan_power"].show(power, {}, "si"))
    assert "2,240 W/(m³/s)" in shown
    assert "3.20 kW" in shown
    assert "2,500.00 L/s" in shown
