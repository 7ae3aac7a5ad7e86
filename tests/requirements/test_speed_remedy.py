"""Where speed is the remedy it is predicted with its motor load; everywhere else it is said why it is not."""

from typing import Any

import pytest

from tests.judging.builder import envelope, judged, port_design, position, state

A = "A"
FAN = {
    "speed": {"value": 1200.0, "unit": "rpm"},
    "maximum_speed": {"value": 1400.0, "unit": "rpm"},
    "nameplate_current": {"value": 10.0, "unit": A},
    "phases": 3,
    "motor": "three_phase",
    "drive": False,
    "service_factor": 1.15,
}


def fan(**changes: Any) -> dict[str, Any]:
    return {
        "fan": "supply",
        "control": "constant_speed",
        "speed": {"value": 1000.0, "unit": "rpm"},
        "current": {"values": [7.0, 7.2, 6.8], "unit": A},
        **changes,
    }


def remedy(
    measured: float = 880.0, *, design: dict[str, Any] | None = None, seen: dict[str, str] | None = None, **changes: Any
) -> tuple[str, dict[str, Any]]:
    place = position({"supply": port_design()}, fans={"supply": {**FAN, **(design or {})}})
    one = judged(envelope({"supply": measured}, fans=[fan(**changes)], state=seen or state()), place=place)
    found = one.judgement("design_airflow", "supply")
    return found["remedy"], found["facts"].get("remedy", {})


def test_speed_flow_and_current_are_predicted_by_the_fan_laws() -> None:
    text, data = remedy()
    ratio = 1000.0 / 880.0
    assert data["predicted_speed_rpm"] == pytest.approx(1000.0 * ratio)
    assert data["target_m3_s"] == pytest.approx(data["predicted_airflow_m3_s"])
    assert data["predicted_current_a"] == pytest.approx(7.0 * ratio**3)
    assert data["share_of_nameplate"] == pytest.approx(0.7 * ratio**3)
    assert "about 1136 rpm" in text
    assert "1,000 cfm" in text


def test_too_much_air_asks_for_less_speed() -> None:
    slower = {"speed": {"value": 870.0, "unit": "rpm"}}
    assert remedy(1150.0, design=slower)[1]["predicted_speed_rpm"] == pytest.approx(1000.0 / 1.15)


def test_too_much_air_at_less_than_the_scheduled_speed_asks_what_else_is_wrong() -> None:
    text, data = remedy(1150.0)
    assert "leave other causes standing (A door, panel or recirculation damper before the fan is open" in text
    assert "predicted_speed_rpm" not in data


def test_more_than_twenty_per_cent_of_speed_is_refused() -> None:
    text, data = remedy(800.0)
    assert "predicted_speed_rpm" not in data
    assert "more than 20 %" in text


def test_above_the_largest_speed_is_refused() -> None:
    text, _ = remedy(design={"maximum_speed": {"value": 1100.0, "unit": "rpm"}})
    assert "above the largest allowed of 1100 rpm" in text


@pytest.mark.parametrize(
    ("amps", "drive", "refused"),
    [(7.0, False, False), (7.4, False, False), (7.4, True, True), (8.0, False, True), (6.5, True, False)],
)
def test_the_motor_may_carry_its_nameplate_and_the_service_factor_only_without_a_drive(
    amps: float, drive: bool, refused: bool
) -> None:
    text, data = remedy(design={"drive": drive}, current={"values": [amps], "unit": A})
    assert ("more than the motor may carry" in text) is refused
    assert data["service_factor"] == (1.0 if drive else 1.15)


@pytest.mark.parametrize(("amps", "refused"), [(7.4, False), (8.0, True)])
def test_on_a_drive_counts_what_the_motors_maker_allows_there(amps: float, refused: bool) -> None:
    """Predicted 7.4 (1000/880)³ = 10.86 A and 8.0 → 11.74 A of 10 A; the maker allows 1.1 on a drive, else 1.15."""
    text, data = remedy(design={"drive": True, "drive_service_factor": 1.1}, current={"values": [amps], "unit": A})
    assert ("more than the motor may carry" in text) is refused
    assert data["service_factor"] == 1.1


@pytest.mark.parametrize(
    ("control", "words"),
    [
        ("pressure", "holds a pressure: change its setpoint"),
        ("constant_airflow", "holds an airflow: change that setpoint"),
        ("follows", "follows the other fan: change that setpoint"),
    ],
)
def test_under_control_the_setpoint_changes_not_the_speed(control: str, words: str) -> None:
    text, data = remedy(control=control)
    assert words in text
    assert "predicted_speed_rpm" not in data


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"control": "not_seen"}, "how the fan is controlled was not seen"),
        ({"speed": None}, "the fan speed was not read"),
        ({"seen": state(bypass="not_seen")}, "nobody looked at bypass"),
        ({"seen": state(filters="loaded")}, "the filters are loaded"),
    ],
)
def test_diagnosis_comes_before_advice(changes: dict[str, Any], words: str) -> None:
    text, data = remedy(**changes)
    assert words in text
    assert "predicted_speed_rpm" not in data


def test_without_a_current_the_motor_is_to_be_read_first() -> None:
    assert "read both first" in remedy(current=None)[0]


def test_the_exhaust_fan_serves_return_and_exhaust() -> None:
    place = position({"return": port_design()}, fans={"exhaust": FAN})
    one = judged(envelope({"return": 880.0}, fans=[fan(), fan(fan="exhaust")]), place=place)
    assert one.judgement("design_airflow", "return")["facts"]["remedy"]["fan"] == "exhaust"
