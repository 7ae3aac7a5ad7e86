"""A fan that holds a pressure: ±10 % at both demands, stable within 5 minutes, the setpoint lower where zones ask.

UMC E 805.7.1.2 (California NA7.5.6), read in a stored copy of an adopted code text.
"""

from __future__ import annotations

from typing import Any

import pytest

from commissioning import judging
from tests.requirements.pressures import control, designed, envelope, found, pa, read

CODE = "duct_static_control"


def of(*held: dict[str, Any], **payload: Any) -> str:
    return found(designed(), envelope(controlled=list(held), **payload)).outcome(CODE, "supply")


@pytest.mark.parametrize(
    ("design", "minimum", "outcome"),
    [
        (205.0, 118.0, "conforms"),  # +2.5 % of 200, −1.7 % of 120
        (220.0, 108.0, "conforms"),  # +10 % and −10 %, both on the limit
        (221.0, 120.0, "does_not_conform"),  # +10.5 %
        (200.0, 107.0, "does_not_conform"),  # −10.8 %
    ],
)
def test_within_ten_per_cent_of_its_setpoint_at_both_demands(design: float, minimum: float, outcome: str) -> None:
    assert of(control(design), control(minimum, 120.0, demand="minimum")) == outcome


def test_the_worst_demand_is_the_value() -> None:
    given = envelope(controlled=[control(204.0), control(90.0, 120.0, demand="minimum")])
    one = found(designed(), given).judgement(CODE, "supply")
    assert one["value"] == pytest.approx(-0.25)  # (90 − 120) / 120
    assert "E 805.7.1.2" in one["clause"]


@pytest.mark.parametrize(("seconds", "outcome"), [(300.0, "conforms"), (301.0, "does_not_conform")])
def test_stable_within_five_minutes(seconds: float, outcome: str) -> None:
    assert of(control(200.0, after=seconds), control(120.0, 120.0, demand="minimum")) == outcome


@pytest.mark.parametrize(
    ("zones", "at_minimum", "outcome"),
    [
        (True, 199.0, "conforms"),
        (True, 200.0, "does_not_conform"),
        (False, 200.0, "conforms"),
        (None, 200.0, "conforms"),
    ],
)
def test_the_setpoint_falls_where_zones_ask_for_it(zones: bool | None, at_minimum: float, outcome: str) -> None:
    held = [control(200.0), control(at_minimum, at_minimum, demand="minimum")]
    assert of(*held, reset_by_zones=zones) == outcome


def test_one_demand_alone_is_not_due_but_fails_when_it_fails() -> None:
    assert of(control(200.0)) == "not_due"
    assert of(control(240.0)) == "does_not_conform"


def test_a_contract_s_own_tolerance_goes_first() -> None:
    tight = {"low": -0.05, "high": 0.05, "clause": "23 09 93, 2.4", "rounding": "none"}
    place = designed(pressures={"controlled_static_supply": {"pressure": pa(200.0), "tolerance": tight}})
    given = envelope(controlled=[control(212.0), control(120.0, 120.0, demand="minimum")])
    one = found(place, given).judgement(CODE, "supply")
    assert (one["verdict"], one["high"], one["clause"]) == ("does_not_conform", 0.05, "23 09 93, 2.4")


def test_a_designed_setpoint_waits_for_its_reading() -> None:
    place = designed(pressures={"controlled_static_supply": {"pressure": pa(200.0)}})
    assert found(place).outcome(CODE, "supply") == "not_due"
    assert found(designed()).outcome(CODE, "supply") == "nothing said"


def test_the_unit_of_the_evidence_changes_nothing() -> None:
    def inches(held: float, setpoint: float, demand: str) -> dict[str, Any]:
        wanted = pa(setpoint / 249.08891, "in_wc")
        return read(*[held / 249.08891] * 5, unit="in_wc", fan="supply", demand=demand, setpoint=wanted)

    given = envelope(controlled=[inches(221.0, 200.0, "design"), inches(120.0, 120.0, "minimum")])
    assert found(designed(), given).judgement(CODE, "supply")["value"] == pytest.approx(0.105, abs=1e-6)


def test_it_shows_each_demand() -> None:
    given = envelope(controlled=[control(221.0), control(120.0, 120.0, demand="minimum")])
    result = found(designed(), given)
    text = repr(judging.show_judgement(result.judgement(CODE, "supply"), result.measurements, "ip"))
    assert "pressure held at design demand, +10.5 % of its setpoint" in text
    assert "stable at minimum demand" in text
    assert "The sensor" in text
