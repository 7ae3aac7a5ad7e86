"""The balance of units: which ports cross what, standard air, what is agreed, and the worst of a design."""

from __future__ import annotations

from typing import Any

import pytest
from CoolProp.HumidAirProp import HAPropsSI
from hypothesis import given
from hypothesis import strategies as st

from commissioning.dossier import balance
from commissioning.dossier.balance import Relation
from commissioning.dossier.given import Conventions, Place
from commissioning.dossier.view import View
from commissioning.engineering.units import from_si
from tests.judging.builder import conventions, direct, envelope, judged, port_design, position, reading

AGREED = Conventions.from_json(conventions())


def unit(
    flows: dict[str, float], design: dict[str, float] | None = None, tag: str = "ERV-1", basis: str = "standard"
) -> View:
    """A unit of which these ports were read, in cfm, from its kept JSON."""
    place = position({port: port_design(flow) for port, flow in (design or flows).items()}, tag=tag)
    given_ = [reading(port, direct(*[flow] * 5, basis=basis)) for port, flow in flows.items()]
    kept = judged(envelope(given_), place=place).measurements if flows else []
    read = [one for data in kept if (one := balance.measurement_of(data))]
    return View(Place.from_json(place), AGREED, {}, measurements=read)


def cfm(flow_m3_s: float) -> float:
    return float(from_si(flow_m3_s, "cfm"))


def total(*units: View, around: balance.Around = "building", required: Relation | None = None) -> balance.Balance:
    sides = [side for one in units for side in balance.sides_of(one, around)]
    return balance.balance_of(sides, required, AGREED)


def test_t10_09_supply_5200_against_4900() -> None:
    """5.769231 % positive, recomputed; supply 5200 against exhaust, toilets and kitchen of 4900 in all."""
    doas, toilets, kitchen = (
        unit({"supply": 5200.0}, tag="DOAS-1"),
        unit({"exhaust": 1900.0}, tag="EF-1"),
        unit({"exhaust": 3000.0}, tag="EF-2"),
    )
    found = total(doas, toilets, kitchen).offset
    assert found is not None
    assert 100.0 * found.relative_offset == pytest.approx(5.769231, abs=1e-4)
    assert cfm(found.offset_m3_s) == pytest.approx(300.0, abs=1e-4)


@pytest.mark.parametrize(
    ("ports", "building", "space"),
    [
        ({"supply": 9.0, "return": 7.0, "outdoor": 3.0, "exhaust": 2.0}, 1.0, 2.0),
        ({"supply": 9.0, "return": 7.0}, 2.0, 2.0),
        ({"supply": 9.0, "exhaust": 7.0}, 2.0, 2.0),
        ({"supply": 9.0, "outdoor": 3.0, "return": 7.0}, 2.0, 2.0),  # a unit with recirculated air
        ({"supply": 9.0, "outdoor": 3.0}, 3.0, 9.0),
        ({"outdoor": 3.0, "exhaust": 2.0}, 1.0, 1.0),
    ],
)
def test_which_ports_cross_a_building_and_a_space(ports: dict[str, float], building: float, space: float) -> None:
    one = unit({port: 100.0 * flow for port, flow in ports.items()})
    for around, expected in (("building", building), ("space", space)):
        found = total(one, around=around).offset  # type: ignore[arg-type]
        assert found is not None
        assert cfm(found.offset_m3_s) == pytest.approx(100.0 * expected, abs=1e-4)


def test_flows_are_added_as_standard_air() -> None:
    """Actual air at 20 °C, 101 325 Pa, 50 %: 1.1994 kg/m³ by CoolProp: 1000 actual are 999.5 standard of 1.2.

    CoolProp counts the compressibility of the real gas, 0.04 %.
    """
    found = total(unit({"supply": 1000.0}, basis="actual")).offset
    assert found is not None
    density = 1.0 / HAPropsSI("Vha", "T", 293.15, "P", 101_325.0, "R", 0.5)
    assert cfm(found.offset_m3_s) == pytest.approx(1000.0 * density / 1.2, rel=5e-4)


def test_nothing_supplied_is_no_offset() -> None:
    found = total(unit({"exhaust": 500.0}))
    assert found.offset is None
    assert cfm(found.exhausted_only_m3_s) == pytest.approx(500.0, rel=1e-3)


def test_a_port_without_a_final_is_missing_with_its_reason() -> None:
    found = total(unit({"outdoor": 1000.0}, {"outdoor": 1000.0, "exhaust": 900.0}))
    assert not found.is_complete
    (side,) = found.missing
    assert (side.port, side.absence.code if side.absence else "") == ("exhaust", "not_due")
    assert found.verdict is None


def test_what_another_version_kept_is_passed_by() -> None:
    (kept,) = judged(envelope({"supply": 1000.0}), place=position({"supply": port_design()})).measurements
    assert balance.measurement_of(kept) is not None
    assert balance.measurement_of({name: value for name, value in kept.items() if name != "density_kg_m3"}) is None
    assert balance.measurement_of({**kept, "kind": "pressure"}) is None
    assert balance.measurement_of({**kept, "something_new": 1}) is not None


@pytest.mark.parametrize(
    ("held", "expected"),
    [
        ([], None),
        ([{"relation": "positive"}], "positive"),
        ([{"relation": "positive"}, {"building": "Lab", "relation": "negative"}], "negative"),
        ([{"building": "Elsewhere", "relation": "negative"}], None),
    ],
)
def test_a_building_named_goes_before_every_building(held: list[dict[str, Any]], expected: str | None) -> None:
    found = balance.relation_of({"building_relations": held}, "lab ")
    assert (found.relation if found else None) == expected


@pytest.mark.parametrize(
    ("relation", "supply", "exhaust", "verdict"),
    [
        ("positive", 1200.0, 1000.0, "conforms"),
        ("positive", 1000.0, 995.0, "inconclusive"),
        ("positive", 1000.0, 1200.0, "does_not_conform"),
        ("negative", 1000.0, 1200.0, "conforms"),
        ("negative", 1200.0, 1000.0, "does_not_conform"),
    ],
)
def test_the_sign_has_to_be_certain(relation: str, supply: float, exhaust: float, verdict: str) -> None:
    found = total(unit({"supply": supply, "exhaust": exhaust}), required=Relation(relation, None, ""))
    assert found.verdict == verdict


def test_the_worst_of_a_design_goes_with_the_sign() -> None:
    """1000 and 900, ±10 %: least 900 − 990 = −90, most 1100 − 810 = 290."""
    views = [unit({}, {"supply": 1000.0, "exhaust": 900.0})]
    assert cfm(balance.worst_by_design_m3_s(views, None) or 0.0) == pytest.approx(-90.0)
    most = balance.worst_by_design_m3_s(views, Relation("negative", None, ""))
    assert cfm(most or 0.0) == pytest.approx(290.0)
    assert balance.worst_by_design_m3_s([unit({}, {"supply": 1000.0})], None) is None


@given(flows=st.lists(st.floats(200.0, 5000.0), min_size=2, max_size=4), seed=st.randoms())
def test_the_order_of_the_units_changes_nothing(flows: list[float], seed: Any) -> None:
    units = [unit({"supply": flow, "exhaust": 0.9 * flow}, tag=f"ERV-{n}") for n, flow in enumerate(flows)]
    mixed = list(units)
    seed.shuffle(mixed)
    one, other = total(*units).offset, total(*mixed).offset
    assert one is not None
    assert other is not None
    assert one.offset_m3_s == pytest.approx(other.offset_m3_s, rel=1e-12)
    assert one.standard_uncertainty_m3_s == pytest.approx(other.standard_uncertainty_m3_s, rel=1e-9)
