"""Speed of the wheel, exhaust transfer, net outdoor air: tables with the arithmetic beside them."""

from __future__ import annotations

import json
from typing import Any

import pytest

from commissioning import blocks
from tests.exchanger_judging import NET, TRANSFER, WHEEL, of, shown, tracer, turning, with_minimum
from tests.exchanger_records import record, series
from tests.judging.builder import envelope, named

# --- wheel ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("speed", "tolerance", "outcome"),
    [
        (18.7, None, "does_not_conform"),  # T12.04: −6.5 %, fails at ±5 %
        (19.0, None, "conforms"),
        (20.9, None, "conforms"),
        (10.0, None, "does_not_conform"),
        (18.7, {"low": -0.1, "high": None, "clause": "submittal"}, "conforms"),
        (18.7, {"low": -0.05, "high": 0.1, "clause": "submittal"}, "does_not_conform"),
        (0.0, None, "does_not_conform"),
    ],
)
def test_the_speed_of_a_wheel(speed: float, tolerance: dict[str, Any] | None, outcome: str) -> None:
    core = {"kind": "wheel", "wheel_speed": {"value": 20.0, "unit": "rpm"}, "wheel_speed_tolerance": tolerance}
    one = of(turning(speed), core=core).judgement(WHEEL)
    assert one["verdict"] == outcome
    assert one["value"] == pytest.approx(speed / 20.0 - 1.0, abs=1e-12)
    if tolerance is None:
        assert "common practice, no source" in one["clause"]


def test_a_wheels_speed_without_a_design_is_for_information() -> None:
    one = of(turning(18.7), core={"kind": "wheel"}).judgement(WHEEL)
    assert one["absence"]["code"] == "not_given"
    assert "18.7" in one["absence"]["text"]


# --- transfer and net outdoor air -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("maximum", "outcome"), [(0.05, "conforms"), (0.03, "conforms"), (0.02, "does_not_conform"), (None, "not_given")]
)
def test_transfer_by_tracer_gas(maximum: float | None, outcome: str) -> None:
    """T7.10: 3 %."""
    core = {"transfer_ratio_maximum": maximum}
    result = of(tracer(), core=core)
    assert result.outcome(TRANSFER) == outcome
    assert result.judgement(TRANSFER)["value"] == pytest.approx(0.03, abs=1e-9)


def test_transfer_by_room_co2_is_not_judged_and_says_why() -> None:
    limited = of(tracer("room_co2"), core={"transfer_ratio_maximum": 0.05}).judgement(TRANSFER)
    assert limited["absence"]["code"] == "not_judged"
    assert "no tracer gas" in limited["absence"]["text"]
    free = of(tracer("room_co2")).judgement(TRANSFER)
    assert free["absence"]["code"] == "not_given"
    assert "no tracer gas" in free["absence"]["text"]
    assert of(tracer("room_co2")).outcome(NET, "supply") == "not_given"


@pytest.mark.parametrize(
    ("pressure", "meaning"),
    [
        (40.0, "no return air gets into the supply"),
        (-40.0, "return air passes the seals into the supply air"),
        (0.5, "which way the seals leak is not known"),
    ],
)
def test_pressures_at_the_seals_and_what_they_mean(pressure: float, meaning: str) -> None:
    seals = {"instrument": named("gauge"), "supply_minus_return": series(*[pressure] * 4, unit="Pa")}
    result = of(record(seal_pressures=seals, stations=[], flows=[]), core={"transfer_ratio_maximum": 0.05})
    assert result.outcome(TRANSFER) == "not_due"
    text = json.dumps([blocks.to_json(one) for one in shown(result, TRANSFER)], ensure_ascii=False)
    assert meaning in text


@pytest.mark.parametrize(
    ("minimum", "port", "outcome"),
    [
        (960.0, "supply", "conforms"),
        (960.0, "outdoor", "conforms"),
        (990.0, "supply", "does_not_conform"),
        (None, "supply", "not_given"),
    ],
)
def test_net_outdoor_air(minimum: float | None, port: str, outcome: str) -> None:
    """T7.12: 1000 scfm gross and 3 % carried over leave 970; gross alone would do for 990."""
    where = with_minimum(minimum, port)
    gross = 1000.0 / (101_325.0 / (287.042 * 293.15) / 1.2)  # actual cfm of dry air at 20 degC: 1.2042 kg/m³
    dry = {"dry_bulb": {"value": 20.0, "unit": "degC"}, "humidity_ratio": {"value": 0.0, "unit": "kg/kg"}}
    dry["pressure"] = {"value": 101_325.0, "unit": "Pa"}
    result = of(envelope({"supply": gross}, air=dry), tracer(), where=where)
    one = result.judgement(NET, "supply")
    assert result.outcome(NET, "supply") == outcome
    assert one["value"] / 0.0004719474432 == pytest.approx(970.0, abs=1e-3)
    final = result.measurement("supply")
    share = next(one for one in result.measurements if one["kind"] == "exchanger")["figures"][0]
    parts = (0.97 * final["standard_uncertainty_m3_s"], final["airflow_m3_s"] * share["standard_uncertainty"])
    assert one["expanded_uncertainty"] == pytest.approx(2.0 * (parts[0] ** 2 + parts[1] ** 2) ** 0.5, rel=1e-6)


@pytest.mark.parametrize(
    ("envelopes", "code", "reason"),
    [
        ((tracer(),), "not_due", "It takes the final of the supply air"),
        ((envelope({"supply": 1000.0}), tracer(stage="preliminary")), "not_due", "It takes a tracer gas test"),
        ((envelope({"supply": 1000.0}), tracer(supply=70.0)), "not_judged", "is no leakage"),
    ],
)
def test_net_outdoor_air_that_cannot_be_judged(envelopes: Any, code: str, reason: str) -> None:
    one = of(*envelopes, where=with_minimum(900.0)).judgement(NET, "supply")
    assert one["absence"]["code"] == code
    assert reason in one["absence"]["text"]
