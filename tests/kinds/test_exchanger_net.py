"""What the exchanger does net of return air carried over, and what it recovers for its power, through whole records."""

from __future__ import annotations

from typing import Any

import pytest
from uncertainties import ufloat

from tests.exchanger_judging import EFFECT, of
from tests.exchanger_records import COST, NO_FANS, figure, flow, gas, measured, names, record, series, station

# By hand, of the published test T7.08: dry air of 101 325 Pa, 1.2 and 1.0 kg/s, p / (287.042 T).
COSTS_W = (1.2 * 287.042 * 285.65 + 1.0 * 287.042 * 295.15) / 101_325.0 * 100.0 / 0.5 + 100.0
GROSS_W = 1.2 * 1006.0 * 17.5


def test_the_net_effectiveness_is_that_of_the_air_that_was_not_carried_over() -> None:
    """Of the supply air of 12.5 degC, 3 % (T7.10) is return air of 22: the rest is of (12.5 - 0.66) / 0.97 = 12.206.

    It warmed from -5 by 17.206 of 27 K, at 1.2 to 1.0 kg/s.
    """
    one = figure(measured(concentrations=gas()), "net_sensible_effectiveness")
    assert one["value"] == pytest.approx(1.2 * ((12.5 - 0.03 * 22.0) / 0.97 + 5.0) / 27.0, abs=1e-6)
    t1, t2, t3 = (ufloat(value, 0.2) for value in (-5.0, 12.5, 22.0))
    carried, ratio = ufloat(0.03, 0.0015), ufloat(1.2, 0.036)
    oracle = ratio * ((t1 - t2) / (t1 - t3) - carried) / (1.0 - carried)
    assert one["standard_uncertainty"] == pytest.approx(oracle.std_dev, rel=0.005)
    assert any(part["name"] == "EATR" for part in one["budget"])


def test_t7_14_at_equal_flows() -> None:
    """0.78 as read, 5 % carried over: 0.76842."""
    air = {"outdoor": 0.0, "supply": 15.6, "return": 20.0}
    flows = [flow("supply", 1.0, 0.05), flow("return", 1.0, 0.05)]
    held = measured(
        stations=[station(role, value, share=0.0) for role, value in air.items()],
        flows=flows,
        concentrations=gas(supply=series(*[5.5] * 4, unit="ppm")),
    )
    assert figure(held, "net_sensible_effectiveness")["value"] == pytest.approx(0.7684211, abs=1e-4)


@pytest.mark.parametrize("changes", [{}, {"concentrations": gas("room_co2")}])
def test_without_a_tracer_gas_nothing_is_net(changes: dict[str, Any]) -> None:
    held = measured(**changes)
    assert not [name for name in names(held) if name.startswith("net_")]
    assert "not known by a tracer gas" in held["facts"]["not_computed"]["net_effectiveness"]


def test_a_negative_ratio_takes_nothing_off() -> None:
    """0.499 ppm in the supply air against 0.5 outdoors."""
    held = measured(concentrations=gas(supply=series(*[0.499] * 4, unit="ppm")))
    gross, net = (figure(held, f"{name}sensible_effectiveness")["value"] for name in ("", "net_"))
    assert figure(held, "transfer_ratio")["value"] < 0.0
    assert net == pytest.approx(gross, abs=1e-12)


def test_what_is_recovered_for_the_power_that_it_costs() -> None:
    one = figure(measured(added_power=COST), "recovery_efficiency_ratio")
    assert one["value"] == pytest.approx(GROSS_W / COSTS_W, rel=1e-3)
    assert "with what is carried over in it" in dict(one["inputs"])["recovered Q, total"]
    net = figure(measured(added_power=COST, concentrations=gas()), "recovery_efficiency_ratio")
    share = (0.7777778 - 0.03 * 1.2) / 0.97
    assert net["value"] == pytest.approx(share * 1.0 * 1006.0 * 27.0 / COSTS_W, rel=1e-3)
    assert "net of what is carried over" in dict(net["inputs"])["recovered Q, total"]


def test_without_humidity_it_is_of_heat_alone() -> None:
    """The heat capacity by the humidity that is assumed, 50 %: 1.3 g/kg at -5 degC, 8.2 at 22, by a chart."""
    bare = [station(role, value) for role, value in (("outdoor", -5.0), ("supply", 12.5), ("return", 22.0))]
    one = figure(measured(added_power=COST, stations=bare), "recovery_efficiency_ratio")
    assert "recovered Q, sensible" in dict(one["inputs"])
    assert one["value"] == pytest.approx(GROSS_W / COSTS_W, rel=0.02)


def test_the_efficiency_of_a_fan_is_that_which_its_heat_was_told_with() -> None:
    """A fan of 0.5 with a pressure rise stands away from the sensors, and has its efficiency told once."""
    fan = {"stream": "supply", "position": "none", "pressure_rise": {"value": 800.0, "unit": "Pa"}, "efficiency": 0.5}
    cost = {key: value for key, value in COST.items() if key != "supply_efficiency"}
    held = measured(added_power=cost, fans=[fan, NO_FANS[1]])
    assert figure(held, "recovery_efficiency_ratio")["value"] == pytest.approx(GROSS_W / COSTS_W, rel=1e-3)
    lacking = measured(added_power=cost)["facts"]["not_computed"]["recovery_efficiency_ratio"]
    assert lacking == "the efficiency of the supply fan is not given"


def test_a_drive_that_is_not_given_is_remarked_where_there_is_one() -> None:
    cost = {key: value for key, value in COST.items() if key != "drive"}
    wheel, plates = (measured(added_power=cost, core={"kind": kind}) for kind in ("run_around", "counterflow"))
    assert any("pump of the loop is not given" in remark for remark in wheel["remarks"])
    assert not any("is not given" in remark for remark in plates["remarks"])


def test_the_judgement_tells_both_and_judges_neither() -> None:
    whole = of(record(concentrations=gas(), added_power=COST), core={"kind": "counterflow"}).judgement(EFFECT)
    assert whole["absence"]["code"] == "not_given"
    assert whole["facts"]["parts"]["sensible"]["net"]["value"] == pytest.approx(0.764719, abs=1e-5)
    assert whole["facts"]["recovery"]["value"] > 0.0
    bare = of(core={"kind": "counterflow"}).judgement(EFFECT)["facts"]
    assert "not known by a tracer gas" in bare["parts"]["sensible"]["net"]["reason"]
    assert "are not given" in bare["recovery"]["reason"]
