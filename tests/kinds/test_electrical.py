"""Readings at the disconnect, through whole envelopes. Ids are those of the list of published check values."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from uncertainties import correlated_values, ufloat

from commissioning.blocks import Caution, Sentence
from commissioning.kinds import electrical
from tests.judging.builder import instrument
from tests.kinds.electrical_records import (
    CLAMP,
    METER,
    amps,
    factor,
    fan,
    figures,
    judged,
    nameplate,
    q,
    record,
    rpm,
    volts,
)

HP = 745.6998715822702  # W, 550 ft lbf/s
THREE = {"motor": "three_phase", "phases": 3, "voltage": q(460.0, "V"), "nameplate_current": q(28.0, "A")}


def read(design: dict[str, Any] | None = None, **readings: Any) -> dict[str, dict[str, Any]]:
    result = judged(record(fan(**readings)), design={"supply": THREE | (design or {})})
    assert result.problems == []
    return figures(result)


@pytest.mark.parametrize(
    ("legs", "percent"),
    [
        pytest.param((462.0, 463.0, 455.0), 1.086957, id="T8.14: a DOE tip sheet prints 1.1 %"),
        pytest.param((460.0, 467.0, 450.0), 1.960784, id="T8.15: a public calculator prints 1.96 %"),
        pytest.param((208.0, 206.0, 199.0), 2.610114, id="T8.16: a public page prints 2.3 %, which is wrong"),
    ],
)
def test_voltage_unbalance_is_the_worst_deviation_from_the_mean(legs: tuple[float, ...], percent: float) -> None:
    """NEMA MG 1, 12.45 (from memory)."""
    assert 100.0 * read(voltage=volts(*legs))["voltage_unbalance"]["value"] == pytest.approx(percent, abs=0.005)


def test_t8_18_power_of_three_phases() -> None:
    """22.97557 kW recomputed; the US DOE fact sheet's example prints 22.9 (inputs from memory)."""
    found = read(
        voltage=volts(467.0, 473.0, 469.0), current=amps(36.0, 38.0, 37.0), power_factor=factor(0.75, 0.78, 0.76)
    )
    assert found["electrical_power"]["value"] / 1000.0 == pytest.approx(22.97557, abs=0.01)


def test_t8_19_and_t8_22_shaft_power_and_the_service_factor() -> None:
    """T8.19: 22.98 kW at 0.93 are 28.65951 hp. T8.22: 22.1 of 20 hp at 1.15 is 0.9608696 (NEMA MG 1, from memory)."""
    meter = {"instrument": METER, "power": q(22.98, "kW")}
    found = read({"motor_efficiency": 0.93}, power=meter)
    assert found["shaft_power"]["value"] / HP == pytest.approx(28.65951, abs=0.02)
    rated = {"motor_efficiency": 1.0, "motor_power": q(20.0, "hp"), "service_factor": 1.15}
    found = read(rated, power={"instrument": METER, "power": q(22.1, "hp")})
    assert found["shaft_load"]["value"] == pytest.approx(0.9608696, abs=1e-4)


def test_t8_20_load_from_slip() -> None:
    """1770 of 1800 rpm where the nameplate says 1750: 60 %, 15 of 25 hp (US DOE fact sheet, from memory)."""
    plate = nameplate(current=28.0, speed=q(1750.0, "rpm"), power=q(25.0, "hp"))
    found = read(speed=rpm(1770.0, of="motor"), frequency=q(60.0, "Hz"), nameplate=plate)
    assert found["load_from_slip"]["value"] == pytest.approx(0.60, abs=1e-9)
    assert "for information" in found["load_from_slip"]["doubts"][0]


@pytest.mark.parametrize(
    ("hertz", "rated", "read_rpm", "load"),
    [(60.0, 3500.0, 3540.0, 0.6), (60.0, 1150.0, 1175.0, 0.5), (50.0, 1450.0, 1470.0, 0.6)],
)
def test_slip_is_counted_from_the_field_just_above_the_nameplate(
    hertz: float, rated: float, read_rpm: float, load: float
) -> None:
    """Two, six and four poles: 3600 - 3540 of 100, 1200 - 1175 of 50, 1500 - 1470 of 50 rpm."""
    plate = nameplate(speed=q(rated, "rpm"))
    found = read(speed=rpm(read_rpm, of="motor"), frequency=q(hertz, "Hz"), nameplate=plate)
    assert found["load_from_slip"]["value"] == pytest.approx(load)


def test_t8_21_load_from_amps_and_where_it_says_nothing() -> None:
    """22.4 of 28.0 A at 468 of 460 V: 0.813913 (form from memory); not credible at half load and below."""
    found = read(voltage=volts(468.0, 468.0, 468.0), current=amps(22.4, 22.4, 22.4))
    assert found["load_from_amps"]["value"] == pytest.approx(0.813913, abs=1e-4)
    assert len(found["load_from_amps"]["doubts"]) == 1
    idle = read(voltage=volts(460.0, 460.0, 460.0), current=amps(12.0, 12.0, 12.0))["load_from_amps"]
    assert "magnetising" in idle["doubts"][1]


def test_t8_23_current_unbalance_and_the_highest_leg() -> None:
    """22.4, 21.1 and 23.6 A: 5.663189 %; the highest is 23.6 A."""
    found = read(current=amps(22.4, 21.1, 23.6))
    assert 100.0 * found["current_unbalance"]["value"] == pytest.approx(5.663189, abs=0.01)
    assert found["current"]["value"] == 23.6


def test_voltages_to_neutral_are_carried_to_those_between_lines() -> None:
    """277 V to neutral are 479.8 V between lines: times the root of three."""
    found = read(voltage=volts(277.0, 277.0, 277.0, between="line_and_neutral"))
    assert found["voltage"]["value"] == pytest.approx(277.0 * math.sqrt(3.0))
    assert "to neutral" in found["voltage_unbalance"]["doubts"][0]
    one = read({"motor": "single_phase", "phases": 1}, voltage=volts(120.0, between="line_and_neutral"))
    assert one["voltage"]["value"] == 120.0


def test_a_proportional_error_of_the_meter_cancels_in_an_unbalance_and_an_absolute_one_nearly_does() -> None:
    """The same by the library `uncertainties`: 1.5 % and 2 V common to all three, rectangular, and 0.1 % at each."""
    legs = (460.0, 467.0, 450.0)
    tool = instrument(
        "clamp", accuracy={"relative": 0.015, "absolute": q(2.0, "V"), "shape": "rectangular"}, resolution=None
    )
    result = judged(record(fan(voltage=volts(*legs))), design={"supply": THREE}, instruments=[tool])
    common = [(0.015 * leg + 2.0) / math.sqrt(3.0) for leg in legs]
    own = [0.001 * leg for leg in legs]
    covariance = np.outer(common, common) + np.diag(np.square(own))
    x, y, z = correlated_values(legs, covariance)
    expected = 1.0 - z / ((x + y + z) / 3.0)
    found = figures(result)["voltage_unbalance"]
    assert found["value"] == pytest.approx(expected.nominal_value)
    assert found["standard_uncertainty"] == pytest.approx(expected.std_dev, rel=1e-6)
    assert found["standard_uncertainty"] < 0.002  # where 1.5 % at each leg by itself would be seven times as much


def test_an_error_that_cancels_is_none_and_not_the_last_bits_of_a_machine() -> None:
    budget = read(voltage=volts(462.0, 463.0, 455.0))["voltage_unbalance"]["budget"]
    assert [(part["name"], part["standard_uncertainty"]) for part in budget if part["name"] == "instrument"] == [
        ("instrument", 0.0)
    ]


def test_one_meter_for_volts_and_amps_is_one_error_in_the_power() -> None:
    """Relative errors of one meter add: 2 x 1.5 %/√3; power factor 0.02 of 0.8; 1 % between readings."""
    found = read(voltage=volts(*[460.0] * 3), current=amps(*[20.0] * 3), power_factor=factor(*[0.8] * 3))
    power = found["electrical_power"]
    relative = math.hypot(2.0 * 0.015 / math.sqrt(3.0), 0.02 / 0.8, 0.01)
    assert power["standard_uncertainty"] / power["value"] == pytest.approx(relative, rel=1e-9)
    product = ufloat(1.0, 0.02 / 0.8) * ufloat(1.0, 0.01) * ufloat(1.0, 0.015 / math.sqrt(3.0)) ** 2
    assert relative == pytest.approx(product.std_dev, rel=1e-9)


def test_a_clamp_on_the_input_of_a_drive_does_not_read_the_motor() -> None:
    on_drive = {**THREE, "drive": True}
    shown = {"frequency": q(47.5, "Hz"), "current": q(21.0, "A"), "power": q(9.7, "kW")}
    clamp = fan(read_at="drive_input", current=amps(16.0, 17.0, 15.5))
    found = figures(judged(record(clamp), design={"supply": on_drive}))
    assert "not the motor's" in found["current"]["doubts"][0]
    found = figures(judged(record({**clamp, "drive": shown}), design={"supply": on_drive}))
    assert found["current"]["value"] == 21.0
    assert found["current"]["doubts"] == []
    assert found["drive_frequency"]["value"] == 47.5
    # what the drive shows is its output: 9.7 kW / 0.97 (common practice where the design gives no efficiency)
    assert found["electrical_power"]["value"] == pytest.approx(10_000.0)


def test_shaft_power_on_a_drive_is_after_both_efficiencies() -> None:
    """10 kW before a drive of 0.96 and a motor of 0.90 are 8.64 kW; 9.6 kW behind that drive are the same shaft."""
    design = {"supply": {**THREE, "drive": True, "drive_efficiency": 0.96, "motor_efficiency": 0.90}}
    meter = fan(read_at="drive_input", power={"instrument": METER, "power": q(10.0, "kW")})
    found = figures(judged(record(meter), design=design))
    assert found["shaft_power"]["value"] == pytest.approx(8640.0)
    shown = figures(judged(record(fan(drive={"power": q(9.6, "kW")})), design=design))
    assert shown["electrical_power"]["value"] == pytest.approx(10_000.0)
    assert shown["shaft_power"]["value"] == pytest.approx(8640.0)
    # the display to 2.5 %, the drive's efficiency to 0.015 (k = 1; common practice, no source)
    relative = shown["electrical_power"]["standard_uncertainty"] / 10_000.0
    assert relative == pytest.approx(math.hypot(0.025, 0.015 / 0.96), rel=1e-9)


def test_a_meter_behind_a_drive_is_trusted_less_and_it_says_so() -> None:
    """1.5 %/√3 of the clamp, 0.5 % between readings, and 5 % for a current that is no sine (common practice)."""
    result = judged(record(fan(read_at="drive_output", current=amps(20.0, 20.0, 20.0))), design={"supply": THREE})
    expected = 20.0 * math.sqrt(0.015**2 / 3.0 + 0.005**2 + 0.05**2)
    assert figures(result)["current"]["standard_uncertainty"] == pytest.approx(expected, rel=1e-9)
    assert any("misreads" in remark for remark in result.measurements[0]["remarks"])


def test_where_the_design_has_a_drive_it_must_be_said_on_which_side_was_read() -> None:
    found = read({"drive": True}, voltage=volts(460.0, 461.0, 459.0), current=amps(20.0, 20.0, 20.0))
    assert all("which side" in found[name]["doubts"][0] for name in ("voltage", "voltage_unbalance", "current"))


@pytest.mark.parametrize(
    ("motor", "not_there"),
    [
        ("single_phase", {"voltage_unbalance", "current_unbalance"}),
        ("electronically_commutated", {"voltage_unbalance", "current_unbalance", "slip", "overload_setting"}),
    ],
)
def test_what_cannot_apply_is_not_applicable_and_never_missing(motor: str, not_there: set[str]) -> None:
    given = fan(voltage=volts(230.0), current=amps(2.0), nameplate=nameplate(motor, 2.4))
    result = judged(record(given))
    told = result.measurements[0]["facts"]["fans"]["supply"]["not_applicable"]
    assert not_there <= set(told)
    assert all(told.values())
    text = [one.text for one in electrical.show(result.measurements[0], "si") if isinstance(one, Sentence)]
    assert any(one.startswith("Not applicable, voltage unbalance: ") for one in text)


def test_the_caution_stands_first_and_never_says_that_it_is_safe() -> None:
    result = judged(record(fan(current=amps(9.0, 9.0, 9.0))))
    first = electrical.show(result.measurements[0], "ip")[0]
    assert isinstance(first, Caution)
    assert "qualified person" in first.text
    assert "holds its charge" in first.text
    assert "Nothing here says that a panel is safe to open, or a motor safe to energise." in first.text


def test_the_nameplate_that_was_seen_counts_and_the_difference_is_told() -> None:
    plate = nameplate("three_phase", 9.6, voltage=q(460.0, "V"), power=q(5.0, "hp"))
    design = {"supply": {**THREE, "motor_power": q(7.5, "hp")}}
    result = judged(record(fan(current=amps(9.0, 9.0, 9.0), nameplate=plate)), design=design)
    facts = result.measurements[0]["facts"]["fans"]["supply"]
    assert facts["motor"]["current_a"] == 9.6
    assert facts["motor"]["sources"]["current_a"] == "nameplate as seen"
    assert facts["differences"] == [
        "its current is 9.6 A, scheduled 28 A",
        "its power is 3.73 kW, scheduled 5.59 kW",  # 5 and 7.5 hp
    ]
    assert "The nameplate counts" in result.measurements[0]["remarks"][0]


def test_a_lost_phase_is_read_and_not_refused() -> None:
    """Two legs and nothing in the third: mean 10, worst 10 away: 100 %. 460, 0 and 460 V: 100 % of 306.7 V."""
    found = read(voltage=volts(460.0, 0.0, 460.0), current=amps(15.0, 15.0, 0.0), power_factor=factor(0.8))
    assert found["current_unbalance"]["value"] == pytest.approx(1.0)
    assert found["voltage_unbalance"]["value"] == pytest.approx(1.0)
    still = judged(record(fan(voltage=volts(0.0, 0.0, 0.0), current=amps(0.0, 0.0, 0.0))), design={"supply": THREE})
    assert still.problems == []
    assert any("did it run" in remark for remark in still.measurements[0]["remarks"])


def test_the_headline_names_amps_and_a_wrong_rotation() -> None:
    result = judged(record(fan(current=amps(9.87, 9.5, 9.6)), fan("exhaust", rotation="reversed")))
    assert electrical.headline(result.measurements[0], "ip") == "supply fan: 9.87 A; exhaust fan: turns the wrong way"


@pytest.mark.parametrize(
    ("change", "field", "reason"),
    [
        ({"voltage": volts(460.0, 461.0)}, "/payload/fans/0/voltage", "one or three voltages, not 2"),
        ({"current": amps(1.0, 2.0)}, "/payload/fans/0/current", "one or three legs, not 2"),
        ({"current": amps(9.0, instrument=None)}, "/payload", "Name the meter that read the supply fan's motor"),
        ({"speed": {**rpm(900.0), "instrument": None}}, "/payload/fans/0/speed", "Name the tachometer"),
        ({"power_factor": factor(1.2)}, "/payload/fans/0/power_factor/values/0", "at most 1"),
        ({"frequency": q(60.0, "V")}, "/payload/fans/0/frequency", "V"),
        ({"voltage": volts(99_000.0)}, "/payload/fans/0/voltage/readings", "99000 V lies outside 0 to 1.5e+04 V"),
        (
            {"overload": {"protection": "in_the_motor", "setting": q(9.0, "A")}},
            "/payload/fans/0/overload",
            "Only the overload protection of a relay or a drive has a setting",
        ),
        (
            {"drive": {"current": q(9.0, "A")}, "current": amps(9.0)},
            "/payload/fans/0",
            "Say whether the meter was on its input or its output",
        ),
        ({"drive": {}}, "/payload/fans/0/drive", "what the drive shows"),
        ({"rotation": "not_seen"}, "/payload/fans/0", "Nothing was read or seen"),
        (
            {"nameplate": {"motor": "single_phase", "phases": 3}},
            "/payload/fans/0/nameplate",
            "contradict one another",
        ),
    ],
)
def test_what_cannot_be_is_refused_with_field_value_reason_and_remedy(
    change: dict[str, Any], field: str, reason: str
) -> None:
    [problem] = judged(record(fan(**change))).problems
    assert problem["field"] == field
    assert reason.lower() in problem["reason"].lower().replace("there is a drive: s", "s")
    assert problem["value"]
    assert problem["remedy"]


def test_a_fan_cannot_stand_twice() -> None:
    [problem] = judged(record(fan(current=amps(1.0)), fan(current=amps(2.0)))).problems
    assert "stands twice" in problem["reason"]


def test_units_of_either_system_give_the_same() -> None:
    design = {"supply": {**THREE, "motor_efficiency": 0.93, "motor_power": q(20.0, "hp")}}
    metric = {"supply": {**THREE, "motor_efficiency": 0.93, "motor_power": q(20.0 * HP / 1000.0, "kW")}}
    one = judged(record(fan(power={"instrument": METER, "power": q(10.0, "hp")})), design=design)
    two = judged(record(fan(power={"instrument": METER, "power": q(10.0 * HP, "W")})), design=metric)
    first, second = figures(one), figures(two)
    assert set(first) == set(second) == {"electrical_power", "shaft_power", "shaft_load"}
    for name, figure in first.items():
        assert figure["value"] == pytest.approx(second[name]["value"], rel=1e-9)
        assert figure["expanded_uncertainty"] == pytest.approx(second[name]["expanded_uncertainty"], rel=1e-9)


def test_a_meter_out_of_the_list_is_remarked() -> None:
    result = judged(record(fan(current=amps(9.0))), instruments=[instrument()])
    assert result.measurements[0]["calibration"] == "none"
    assert any("not in the firm's list" in remark for remark in result.measurements[0]["remarks"])
    assert judged(record(fan(current=amps(9.0))), instruments=[CLAMP]).measurements[0]["calibration"] == "in_date"
