"""An exchanger's record through whole envelopes: published rows, other libraries, and states that cannot be judged.

The ids are those of `tests/engineering/references/exchanger.csv`.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from CoolProp.HumidAirProp import HAPropsSI
from uncertainties import ufloat, wrap

from commissioning.engineering.exchanger import effectiveness
from commissioning.engineering.moist_air import humidity_ratio_from_relative_humidity, moist_air_enthalpy_j_kg
from commissioning.engineering.uncertainty import Input, monte_carlo
from tests.exchanger_records import (
    BALANCED,
    DESERT,
    DRY,
    FLOWS,
    HEAT,
    NO_FANS,
    SUMMER,
    TOOLS,
    WINTER,
    figure,
    flow,
    gas,
    measured,
    names,
    series,
    station,
    stations,
    tool,
    wet,
)
from tests.judging.builder import named

# --- published rows ---------------------------------------------------------------------------------------------


def test_t7_08_and_t7_25_an_effectiveness_at_unequal_flows_with_its_uncertainty() -> None:
    """0.7778 ± 0.0258 (k = 1), by `uncertainties` 3.2.3, where the flow ratio dominates; here beside it."""
    one = figure(measured(), "sensible_effectiveness")
    assert one["value"] == pytest.approx(0.7777778, abs=1e-4)
    assert one["standard_uncertainty"] == pytest.approx(0.0258, abs=0.0003)
    t1, t2, t3 = (ufloat(value, 0.2) for value in (-5.0, 12.5, 22.0))
    ratio = ufloat(1.2, 0.036)
    oracle = ratio * (t1 - t2) / (t1 - t3)
    assert one["standard_uncertainty"] == pytest.approx(oracle.std_dev, rel=0.005)
    assert max(one["budget"], key=lambda part: part["share"])["name"] == "airflow supply"
    assert one["doubts"] == []


def test_t7_09_a_temperature_ratio_is_told_apart() -> None:
    one = figure(measured(), "temperature_ratio")
    assert one["value"] == pytest.approx(0.6481481, abs=1e-4)
    assert "no effectiveness where the flows differ" in one["equation"]


def test_t7_24_closure_of_energy() -> None:
    held = measured()
    assert 100.0 * figure(held, "sensible_closure")["value"] == pytest.approx(-2.857143, abs=0.05)
    assert figure(held, "total_closure")["value"] == pytest.approx(figure(held, "sensible_closure")["value"], rel=1e-9)


def test_t7_01_to_t7_06_the_summer_rating_point() -> None:
    """95/78 and 75/63 degF at 14.696 psi; 81.00 degF and W 0.012428 leave: 0.70, 0.60, and 0.6393528 in all."""
    held = measured(
        stations=[
            wet("outdoor", 95.0, 78.0),
            station("supply", 81.0, "degF", humidity_ratio=series(0.012428, unit="kg/kg")),
            wet("return", 75.0, 63.0),
        ],
        flows=BALANCED,
        pressure={"value": 14.696, "unit": "psi"},
    )
    air = held["facts"]["stations"]
    assert air["outdoor"]["humidity_ratio"] == pytest.approx(0.016771, abs=2e-5)
    assert air["return"]["humidity_ratio"] == pytest.approx(0.009532, abs=2e-5)
    assert figure(held, "sensible_effectiveness")["value"] == pytest.approx(0.70, abs=1e-3)
    assert figure(held, "latent_effectiveness")["value"] == pytest.approx(0.60, abs=2e-3)
    assert figure(held, "total_effectiveness")["value"] == pytest.approx(0.6393528, abs=1.5e-3)


def test_t7_03_and_t7_04_the_winter_rating_point() -> None:
    held = measured(stations=[wet("outdoor", 35.0, 33.0), wet("return", 70.0, 58.0)], flows=[])
    air = held["facts"]["stations"]
    assert air["outdoor"]["humidity_ratio"] == pytest.approx(0.003481, abs=2e-5)
    assert air["return"]["humidity_ratio"] == pytest.approx(0.007513, abs=2e-5)


def test_t7_10_transfer_by_tracer_gas() -> None:
    """0.03; one analyser of ±2 % (rectangular) is one scale error, and that cancels in a ratio of differences.

    What is left is 5 % of the ratio for mixing and linearity (common practice, no source): 0.0015.
    """
    one = figure(measured(concentrations=gas()), "transfer_ratio")
    assert one["value"] == pytest.approx(0.03, abs=1e-6)
    assert one["doubts"] == []
    common = [part["standard_uncertainty"] for part in one["budget"] if part["name"].startswith("gas:")]
    assert sum(common) == pytest.approx(0.0, abs=1e-6)
    assert one["standard_uncertainty"] == pytest.approx(0.0015, rel=1e-4)


def test_transfer_by_room_co2_is_kept_and_never_judged() -> None:
    """900 ppm in the rooms, 420 outdoors, 440 in the supply air: 20 / 480."""
    co2 = gas(
        "room_co2",
        gas="CO2",
        outdoor=series(420.0, unit="ppm"),
        supply=series(440.0, unit="ppm"),
        **{"return": series(900.0, unit="ppm")},
    )
    held = measured(concentrations=co2)
    one = figure(held, "transfer_ratio_by_room_co2")
    assert one["value"] == pytest.approx(20.0 / 480.0)
    assert "no tracer gas" in one["doubts"][0]
    assert "transfer_ratio" not in names(held)


def test_a_gas_that_is_drawn_in_again_is_remarked() -> None:
    held = measured(concentrations=gas(background=series(0.1, unit="ppm")))
    assert any("0.4 ppm more" in remark for remark in held["remarks"])


def test_t7_11_outdoor_air_correction_factor() -> None:
    flows = [
        flow("outdoor", 1020.0, 10.0, "cfm"),
        flow("supply", 1000.0, 10.0, "cfm"),
        flow("return", 1000.0, 10.0, "cfm"),
    ]
    one = figure(measured(flows=flows), "outdoor_air_correction_factor")
    assert one["value"] == pytest.approx(1.02, rel=1e-9)
    assert one["standard_uncertainty"] == pytest.approx(1.02 * np.hypot(5.0 / 1020.0, 5.0 / 1000.0), rel=1e-3)


def test_the_flows_are_those_of_leaving_supply_and_entering_exhaust() -> None:
    """ASHRAE 84 (from memory): 1.2 kg/s leave as supply air, whatever enters outdoors or leaves as exhaust."""
    others = [flow("outdoor", 1.5, 0.1), flow("exhaust", 1.3, 0.1)]
    held = measured(flows=[*others, *FLOWS])
    assert figure(held, "sensible_effectiveness")["value"] == pytest.approx(0.7777778, abs=1e-4)
    assert not any("leakage in the unit" in remark for remark in held["remarks"])
    assert sum("leakage in the unit" in remark for remark in measured(flows=others)["remarks"]) == 2


def test_seal_pressures_keep_their_sign() -> None:
    seals = {
        "instrument": named("gauge"),
        "supply_minus_return": series(-12.0, -13.0, -12.0, -11.0, unit="Pa"),
        "outdoor_minus_exhaust": series(0.2, unit="in_wc"),
    }
    held = measured(seal_pressures=seals)
    assert figure(held, "seal_pressure", "supply")["value"] == pytest.approx(-12.0)
    assert figure(held, "seal_pressure", "outdoor")["value"] == pytest.approx(49.8178, abs=1e-3)  # 0.2 x 249.089


# --- oracles ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("air", [SUMMER, WINTER, DESERT], ids=["summer", "winter", "desert"])
def test_against_coolprop_at_altitude(air: dict[str, tuple[float, float]]) -> None:
    """States by CoolProp's real humid air at 83 000 Pa. Its h has another datum: only differences enter.

    Perfect gas against real gas: humidity ratio within 0.6 %, which the ratio of differences hardly feels.
    """
    held = measured(stations=stations(air), flows=BALANCED, pressure={"value": 83_000.0, "unit": "Pa"})
    for part, code in (("sensible", "T"), ("latent", "W"), ("total", "H")):
        if f"{part}_effectiveness" not in names(held):
            assert (part, air) == ("total", DESERT)  # there heat comes in and moisture goes out
            continue
        x1, x2, x3 = (
            HAPropsSI(code, "T", air[role][0] + 273.15, "P", 83_000.0, "RH", air[role][1] / 100.0)
            for role in ("outdoor", "supply", "return")
        )
        one = figure(held, f"{part}_effectiveness")
        balance = figure(held, "mass_flow", "supply")["value"] / figure(held, "mass_flow", "return")["value"]
        assert one["value"] == pytest.approx(balance * (x1 - x2) / (min(balance, 1.0) * (x1 - x3)), abs=0.012)


def total(t1: Any, h1: Any, t2: Any, h2: Any, t3: Any, h3: Any, ms: Any, me: Any) -> Any:
    """Total effectiveness by the public functions, for Monte Carlo and for `uncertainties`."""
    enthalpies = []
    for dry, share in ((t1, h1), (t2, h2), (t3, h3)):
        ratio = humidity_ratio_from_relative_humidity(dry_bulb_c=dry, relative_humidity=share, pressure_pa=101_325.0)
        enthalpies.append(moist_air_enthalpy_j_kg(dry_bulb_c=dry, humidity_ratio=ratio))
    one, two, three = enthalpies
    return effectiveness(supply_mass_flow_kg_s=ms, exhaust_mass_flow_kg_s=me, outdoor=one, supply=two, return_=three)


def test_the_linear_uncertainty_against_monte_carlo_and_the_uncertainties_library() -> None:
    """Summer air, 1.1 against 1.0 m3/s: u(t) 0.2 K, u(RH) 2 %, u(q) 3 %; each sensor its own error."""
    flows = [flow("supply", 1.1, 0.066), flow("return", 1.0, 0.06)]
    held = measured(stations=stations(SUMMER), flows=flows)
    one = figure(held, "total_effectiveness")
    ms, me = (figure(held, "mass_flow", port)["value"] for port in ("supply", "return"))
    air = [SUMMER[role] for role in ("outdoor", "supply", "return")]
    inputs = {f"t{n}": Input(dry, 0.2) for n, (dry, _) in enumerate(air, start=1)}
    inputs |= {f"h{n}": Input(share / 100.0, 0.02) for n, (_, share) in enumerate(air, start=1)}
    inputs |= {"ms": Input(ms, 0.03 * ms), "me": Input(me, 0.03 * me)}
    drawn = monte_carlo(total, inputs, trials=100_000, seed=7)
    assert one["value"] == pytest.approx(total(**{key: given_.value for key, given_ in inputs.items()}), rel=1e-4)
    assert one["standard_uncertainty"] == pytest.approx(drawn.standard_uncertainty, rel=0.03)
    order = ("t1", "h1", "t2", "h2", "t3", "h3", "ms", "me")
    variables = [ufloat(inputs[key].value, inputs[key].standard_uncertainty) for key in order]
    oracle = wrap(total)(*variables)
    assert one["standard_uncertainty"] == pytest.approx(oracle.std_dev, rel=0.01)


def test_one_thermometer_for_all_stations_is_one_error() -> None:
    """A common error of u = 0.2 K moves no difference: by `uncertainties` what is left is the flow's 0.02333."""
    common = [one | {"instrument": named("t all"), "humidity_instrument": named("rh all")} for one in DRY]
    one = figure(measured(stations=common), "sensible_effectiveness")
    shared, ratio = ufloat(0.0, 0.2), ufloat(1.2, 0.036)
    oracle = ratio * ((-5.0 + shared) - (12.5 + shared)) / ((-5.0 + shared) - (22.0 + shared))
    assert oracle.std_dev == pytest.approx(0.02333, abs=1e-5)
    assert one["standard_uncertainty"] == pytest.approx(oracle.std_dev, rel=0.01)


def test_one_flow_meter_for_both_streams_cancels_its_scale() -> None:
    """±3 % of reading, rectangular, in both flows of a ratio: nothing. Left is the method, 2 % in each flow."""
    meter = tool("meter", {"relative": 0.03})
    flows = [
        {"port": port, "airflow": {"value": value, "unit": "m3/s"}, "basis": "standard", "instrument": named("meter")}
        for port, value in (("supply", 1.0), ("return", 1.0 / 1.2))
    ]
    one = figure(measured(flows=flows, tools=[*TOOLS, meter]), "sensible_effectiveness")
    t1, t2, t3 = (ufloat(value, 0.2) for value in (-5.0, 12.5, 22.0))
    oracle = ufloat(1.2, 0.024) / ufloat(1.0, 0.02) * (t1 - t2) / (t1 - t3)
    assert one["standard_uncertainty"] == pytest.approx(oracle.std_dev, rel=0.01)


# --- fan heat ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stream", "position", "role", "sign"),
    [
        ("supply", "before_exchanger", "outdoor", -1.0),
        ("supply", "after_exchanger", "supply", 1.0),
        ("exhaust", "before_exchanger", "return", -1.0),
        ("exhaust", "after_exchanger", "exhaust", 1.0),
    ],
)
def test_a_fans_heat_is_taken_off_wherever_it_stands(stream: str, position: str, role: str, sign: float) -> None:
    """What the sensor reads is moved by the fan's rise the other way; then effectiveness and closure stay as they were.

    The rise at the sensor's own density: 900 / (rho 1006 0.60), rho of dry air p / (R T), R = 287.042 J/(kg K).
    """
    dry = next(one for one in DRY if one["station"] == role)["dry_bulb"]["values"][0]
    read = dry
    for _ in range(5):  # the density is that of the air as read
        read = dry + sign * 900.0 * 287.042 * (read + 273.15) / (101_325.0 * 1006.0 * 0.60)
    moved = [one if one["station"] != role else station(role, read, share=0.0) for one in DRY]
    fans = [one for one in NO_FANS if one["stream"] != stream] + [{"stream": stream, "position": position, **HEAT}]
    held, plain = measured(stations=moved, fans=fans), measured()
    for name in ("sensible_effectiveness", "sensible_closure"):
        assert figure(held, name)["value"] == pytest.approx(figure(plain, name)["value"], abs=1e-6)
    assert held["facts"]["stations"][role]["fan_rise_k"] == pytest.approx(1.24, abs=0.15)
    assert (
        figure(held, "sensible_closure")["standard_uncertainty"]
        > figure(plain, "sensible_closure")["standard_uncertainty"]
    )


def test_a_fans_heat_by_its_power() -> None:
    """2012 W into 1.0 kg/s of dry air at 1006 J/(kg K) are 2 K; the motor outside leaves 80 % of it."""
    for share, rise in ((1.0, 2.0), (0.8, 1.6)):
        fan = {
            "stream": "exhaust",
            "position": "before_exchanger",
            "power": {"value": 2.012, "unit": "kW"},
            "share_in_stream": share,
        }
        held = measured(fans=[NO_FANS[0], fan])
        assert held["facts"]["stations"]["return"]["temperature_c"] == pytest.approx(22.0 + rise, abs=1e-6)
