"""What a trend log says of a loop, and what it cannot say where the loop was not at work."""

import pytest

from tests.kinds.trend_records import day, state, steady, trend


@pytest.mark.parametrize(("valve", "outcome"), [(0.0, "unknown"), (0.4, "holds"), (1.0, "fails")])
def test_a_loop_that_is_not_at_work_shows_no_capacity(valve: float, outcome: str) -> None:
    """A day in summer does not close what a winter's day showed: 18 °C against 20 °C with the valve wide open."""
    heating = state((0.0, 0.0), (7.0, valve), (19.0, 0.0), (23.9, 0.0))
    held = day(heating_valve=heating, supply_temperature_setpoint=steady(20.0, 0.0))
    found = {(one["code"], one["at"]): one for one in trend(held)["results"]}["saturated", "supply_temperature"]
    assert (found["outcome"], found["asked_s"] > 0.0) == (outcome, outcome != "unknown")
