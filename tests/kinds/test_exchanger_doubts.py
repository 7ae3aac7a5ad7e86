"""An exchanger's test that cannot be judged, is not complete, or cannot be: told in words, and never a crash."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.exchanger_records import (
    BALANCED,
    DESERT,
    DRY,
    FLOWS,
    HEAT,
    NO_FANS,
    SUMMER,
    TOOLS,
    figure,
    flow,
    gas,
    measured,
    names,
    place,
    record,
    series,
    station,
    stations,
    wet,
)
from tests.judging.builder import conventions, judged, named, state

# --- what cannot be judged --------------------------------------------------------------------------------------


def unsteady(role: str) -> list[dict[str, Any]]:
    moving = station(role, -5.0, share=0.0) | {"dry_bulb": series(-5.0, -4.9, -4.8, -4.7, unit="degC")}
    return [one if one["station"] != role else moving for one in DRY]


def closer(outdoor: float) -> list[dict[str, Any]]:
    air = {"outdoor": outdoor, "supply": 18.0, "return": 22.0}
    return [station(role, value, share=40.0) for role, value in air.items()]


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"stations": unsteady("outdoor")}, "moved by 0.3 K"),
        ({"duration": None}, "how long the readings took"),
        ({"duration": {"value": 5.0, "unit": "min"}}, "span 5 min"),
        ({"stations": closer(12.0)}, "differ by 10.0 K; with these sensors 11.3 K are needed"),
        ({"frost": "seen"}, "frosted or defrosting"),
        ({"frost": "defrosting"}, "frosted or defrosting"),
        ({"frost": "not_seen"}, "frost on the exchanger was not recorded"),
        ({"coil_between": "on"}, "a coil worked"),
        ({"coil_between": "not_seen"}, "a coil before the supply sensor was not recorded"),
        ({"state": state(wheel="none", bypass="open")}, "the bypass was open"),
        ({"state": state(wheel="none", bypass="not_seen")}, "the bypass damper was not recorded"),
        ({"fans": []}, "where the supply fan stands was not recorded"),
        ({"fans": [NO_FANS[0], {"stream": "exhaust", "position": "before_exchanger"}]}, "by how much is not known"),
        ({"stations": [*DRY[:3], station("exhaust", 9.0, share=0.0)]}, "give"),
        ({"state": state(wheel="running")}, "the speed of the wheel was not recorded"),
    ],
)
def test_doubts(changes: dict[str, Any], reason: str) -> None:
    one = figure(measured(**changes), "sensible_effectiveness")
    assert any(reason in doubt for doubt in one["doubts"]), one["doubts"]


@pytest.mark.parametrize(("supply", "doubted"), [(12.5, False), (19.0, False), (22.0, True), (-8.0, True)])
def test_what_no_exchanger_can_do_is_not_judged(supply: float, doubted: bool) -> None:
    """1.2 kg/s over 1.0: 19 degC leave at 1.067 ± 0.07 (k = 2), 22 degC at 1.2; −8 degC is colder than what entered."""
    moved = [one if one["station"] != "supply" else station("supply", supply, share=0.0) for one in DRY[:3]]
    one = figure(measured(stations=moved), "sensible_effectiveness")
    assert any("beyond all uncertainty" in doubt for doubt in one["doubts"]) is doubted


def test_a_fan_after_the_exhaust_side_touches_only_the_closure() -> None:
    fans = [NO_FANS[0], {"stream": "exhaust", "position": "after_exchanger"}]
    held = measured(fans=fans)
    assert figure(held, "sensible_effectiveness")["doubts"] == []
    assert "by how much is not known" in figure(held, "sensible_closure")["doubts"][0]


def test_frost_need_not_be_looked_for_in_summer() -> None:
    held = measured(stations=stations(SUMMER), flows=BALANCED, frost="not_seen")
    assert not any("frost" in doubt for doubt in figure(held, "sensible_effectiveness")["doubts"])


@pytest.mark.parametrize(
    ("speed", "designed", "doubted"),
    [
        (20.0, 20.0, False),
        (19.0, 20.0, False),
        (18.7, 20.0, True),
        (10.0, 20.0, True),
        (10.0, None, False),
        (0.0, None, True),
    ],
)
def test_a_wheel_off_its_speed_leaves_the_effectiveness_unjudged(
    speed: float, designed: float | None, doubted: bool
) -> None:
    core = {"kind": "wheel"} | ({"wheel_speed": {"value": designed, "unit": "rpm"}} if designed else {})
    wheel = {"speed": series(speed, unit="rpm"), "instrument": named("counter")}
    held = measured(core=core, wheel=wheel, state=state())
    assert figure(held, "wheel_speed")["value"] == speed
    assert any("wheel" in doubt for doubt in figure(held, "sensible_effectiveness")["doubts"]) is doubted


def test_where_heat_comes_in_and_moisture_goes_out_there_is_no_total() -> None:
    """Desert air of 38 degC, 8 % and 3.3 g/kg against rooms of 24 degC, 55 % and 10 g/kg: 46.5 against 50 kJ/kg."""
    held = measured(stations=stations(DESERT), flows=BALANCED)
    assert figure(held, "sensible_effectiveness")["doubts"] == []
    assert figure(held, "latent_effectiveness")["value"] > 0.0
    total_ = next((one for one in held["figures"] if one["name"] == "total_effectiveness"), None)
    told = held["facts"]["not_computed"].get("total_effectiveness", "") or " ".join(total_["doubts"] if total_ else [])
    assert "differ in enthalpy" in told


def test_without_the_flows_there_is_a_ratio_and_no_effectiveness() -> None:
    held = measured(flows=[FLOWS[0]])
    assert "temperature_ratio" in names(held)
    assert "airflow of both streams" in held["facts"]["not_computed"]["sensible_effectiveness"]


def test_without_humidity_there_is_sensible_only() -> None:
    bare = [station(one["station"], one["dry_bulb"]["values"][0]) for one in DRY]
    held = measured(stations=bare)
    assert figure(held, "sensible_effectiveness")["value"] == pytest.approx(0.7778, abs=0.006)
    assert "no humidity" in held["facts"]["not_computed"]["latent_effectiveness"]
    assert "no humidity" in held["facts"]["not_computed"]["total_closure"]


def test_instruments_that_nobody_knows_get_a_usual_error_and_a_remark() -> None:
    held = measured(tools=[TOOLS[-1]])
    assert figure(held, "sensible_effectiveness")["standard_uncertainty"] > 0.027
    assert any("No accuracy of the dry bulb" in remark for remark in held["remarks"])
    assert held["calibration"] == "none"


# --- anything that can be typed ---------------------------------------------------------------------------------

degrees, shares = st.floats(-30.0, 45.0), st.floats(0.0, 100.0)


@settings(deadline=None, max_examples=60)
@example({"outdoor": (0.0, 0.0), "supply": (0.0, 8.0), "return": (45.0, 64.0), "exhaust": (0.0, 0.0)}, 1.0)
@given(air=st.fixed_dictionaries({role: st.tuples(degrees, shares) for role in SUMMER}), share=st.floats(0.3, 3.0))
def test_whatever_was_read_is_answered_in_words_or_in_figures(
    air: dict[str, tuple[float, float]], share: float
) -> None:
    flows = [flow("supply", 1.0, 0.05), flow("return", share, 0.05)]
    result = judged(record(stations=stations(air), flows=flows), place=place(), instruments=TOOLS)
    assert not result.problems
    held = result.measurements[0]
    told = {one["name"] for one in held["figures"]} | set(held["facts"]["not_computed"])
    assert {f"{part}_effectiveness" for part in ("sensible", "latent", "total")} <= told


@pytest.mark.parametrize("roles", [("outdoor",), ("supply", "return"), ("outdoor", "return"), ("exhaust",)])
def test_some_stations_alone_say_what_is_missing(roles: tuple[str, ...]) -> None:
    held = measured(stations=[one for one in DRY if one["station"] in roles])
    assert "was not read" in held["facts"]["not_computed"]["sensible_effectiveness"]


def test_inch_pound_and_metric_evidence_give_the_same() -> None:
    ip = [
        station(
            one["station"],
            0.0,
            share=0.0,
        )
        | {"dry_bulb": series(*[1.8 * one["dry_bulb"]["values"][0] + 32.0] * 4, unit="degF")}
        for one in DRY
    ]
    cfm = 0.0004719474432
    flows = [flow("supply", 1.0 / cfm, 0.06 / cfm, "cfm"), flow("return", 1.0 / 1.2 / cfm, 0.0, "cfm")]
    one = measured(stations=ip, flows=flows, pressure={"value": 14.695949, "unit": "psi"}, conventions=conventions())
    two = measured(conventions=conventions(display="si"))
    for name in ("sensible_effectiveness", "sensible_closure"):
        for key in ("value", "standard_uncertainty"):
            assert figure(one, name)[key] == pytest.approx(figure(two, name)[key], rel=1e-6)


# --- what is refused --------------------------------------------------------------------------------------------


def bad(**changes: Any) -> dict[str, Any]:
    result = judged(record(**changes), place=place(), instruments=TOOLS)
    assert not result.measurements
    problem: dict[str, Any] = result.problems[0]
    assert all(problem[told] for told in ("reason", "remedy"))
    return problem


@pytest.mark.parametrize(
    ("changes", "field", "value", "reason"),
    [
        ({"stations": [station("outdoor", 120.0)]}, "/payload/stations/0/dry_bulb", "120", "lies outside"),
        ({"stations": [station("outdoor", 10.0, "Pa")]}, "/payload/stations/0/dry_bulb", "Pa", "Pa"),
        (
            {"stations": [wet("outdoor", 60.0, 65.0)]},
            "/payload/stations/0",
            "outdoor",
            "The wet bulb lies above the dry bulb",
        ),
        (
            {"stations": [station("outdoor", 10.0, share=40.0, dew_point=series(2.0, unit="degC"))]},
            "/payload/stations/0",
            "outdoor",
            "Give one of wet bulb",
        ),
        ({"stations": [DRY[0], DRY[0]]}, "/payload", "", "A station stands twice"),
        ({"flows": [flow("supply", 1.0, 1.0)]}, "/payload/flows/0", "supply", "not known to its own size"),
        ({"flows": [flow("supply", 0.0, 0.0)]}, "/payload/flows/0", "supply", "no air goes"),
        (
            {"fans": [{"stream": "supply", "position": "none", "efficiency": 0.6}]},
            "/payload/fans/0",
            "supply",
            "only together",
        ),
        (
            {"fans": [{"stream": "supply", "position": "none", **HEAT, "power": {"value": 1.0, "unit": "kW"}}]},
            "/payload/fans/0",
            "supply",
            "not both",
        ),
        (
            {
                "fans": [
                    {
                        "stream": "supply",
                        "position": "none",
                        "efficiency": 0.6,
                        "pressure_rise": {"value": -5.0, "unit": "Pa"},
                    }
                ]
            },
            "/payload/fans/0",
            "supply",
            "is not negative",
        ),
        ({"seal_pressures": {"instrument": named("gauge")}}, "/payload/seal_pressures", "gauge", "one face at least"),
        ({"stations": []}, "/payload", "", "Nothing was read"),
        ({"concentrations": gas(kind="people")}, "/payload/concentrations/kind", "people", "not known here"),
        ({"wheel": {"speed": series(20.0, unit="Hz")}}, "/payload/wheel/speed", "Hz", "Hz"),
    ],
)
def test_what_is_refused(changes: dict[str, Any], field: str, value: str, reason: str) -> None:
    problem = bad(**changes)
    assert problem["field"] == field
    assert reason in problem["reason"]


def test_readings_that_cannot_be_are_a_problem_and_no_crash() -> None:
    """At 20 degC saturated air holds 14.7 g/kg; and a wet bulb of -5 degC would take less than no water."""
    wet_air = station("outdoor", 20.0, humidity_ratio=series(30.0, unit="g/kg"))
    assert "outdoor air: humidity ratio is 0.03" in bad(stations=[wet_air])["reason"]
    dry_air = station("outdoor", 20.0, wet_bulb=series(-5.0, unit="degC"))
    assert "wet bulb is -5" in bad(stations=[dry_air])["reason"]


def test_a_tracer_that_is_nowhere_gives_no_ratio() -> None:
    nowhere: Any = {"return": series(0.5, unit="ppm")}
    held = measured(concentrations=gas(**nowhere))
    assert "difference of the two streams" in held["facts"]["not_computed"]["transfer_ratio"]
