"""What sisters read, beside a port that is off its design: words that lead somewhere, and never another verdict."""

from __future__ import annotations

from typing import Any

import pytest

from commissioning.judging import judge_document
from commissioning.judging.document import DocumentError
from tests.judging.builder import DESIGN_CFM, cfm, document, envelope, judged, port_design, position


def sister(tag: str = "ERV-3", design: float = DESIGN_CFM, **flows: float) -> dict[str, Any]:
    ports = {
        port: {"airflow": cfm(flow), "expanded_uncertainty": cfm(40.0), "design": cfm(design)}
        for port, flow in flows.items()
    }
    return {"tag": tag, "ports": ports}


def airflow(supply: float, *sisters: dict[str, Any], outdoor: float = 800.0) -> dict[str, Any]:
    place = position({"supply": port_design(), "outdoor": port_design()}, sisters=list(sisters))
    result = judged(envelope({"supply": supply, "outdoor": outdoor}), place=place)
    assert result.problems == []
    return result.judgement("design_airflow", "supply")


def line(*given: Any, **rest: Any) -> str:
    return next((one for one in airflow(*given, **rest)["look_next"] if "sister" in one), "")


def test_a_sister_in_order_points_at_what_is_the_units_own() -> None:
    said = line(800.0, sister(supply=1030.0))
    assert said == (
        "Its sister ERV-3 reads 103 % of its own design, the same (±4.0 %). "
        "What they share is in order there: look first at what is this unit's own."
    )


@pytest.mark.parametrize(("hers", "alike"), [(790.0, True), (650.0, False), (1250.0, False)])
def test_off_alike_is_by_as_much_and_to_the_same_side(hers: float, alike: bool) -> None:
    """800 and 790 lie 1 % apart, 800 and 650 15 %: more than both uncertainties, 4 % of hers and 2 to 5 % here."""
    assert ("ERV-3 is off alike" in line(800.0, sister(supply=hers))) is alike


def test_the_readings_of_a_sister_with_another_design_are_asked_about_first() -> None:
    """At both ports within 1 % of hers, which are what her own design asks for."""
    one = airflow(700.0, sister("ERV-8", 700.0, supply=702.0, outdoor=705.0), outdoor=701.0)
    assert one["facts"]["causes"][0]["code"] == "wrong_unit"
    assert any("the readings here are those of ERV-8: was it the right unit?" in said for said in one["look_next"])


@pytest.mark.parametrize(
    "other",
    [
        sister("ERV-8", 700.0, supply=702.0),  # one port in common may be chance
        sister("ERV-8", 700.0, supply=702.0, outdoor=760.0),  # another reading at the second port
        sister("ERV-8", 1000.0, supply=702.0, outdoor=705.0),  # the same design: a cause that both have
        sister("ERV-8", 900.0, supply=702.0, outdoor=705.0),  # not in order herself
    ],
)
def test_less_than_that_is_no_other_unit(other: dict[str, Any]) -> None:
    one = airflow(700.0, other, outdoor=701.0)
    assert "wrong_unit" not in [cause["code"] for cause in one["facts"]["causes"]]


def test_what_sisters_read_changes_no_verdict_and_is_said_of_no_port_that_is_in_order() -> None:
    alone, beside = airflow(800.0), airflow(800.0, sister(supply=1000.0))
    same = ("verdict", "value", "low", "high", "margin", "conformance_probability")
    assert [alone[name] for name in same] == [beside[name] for name in same]
    assert line(1000.0, sister(supply=790.0)) == ""


def test_what_a_sister_reads_is_told_without_units_since_readers_choose_their_own() -> None:
    said = line(800.0, sister("ERV-4", 500.0, supply=450.0))
    assert said.startswith("Its sister ERV-4 reads 90 % of its own design, 50 % of this one (±8.0 %). ")
    assert "cfm" not in said


def test_the_three_nearest_in_design_are_told() -> None:
    said = line(
        800.0,
        *(sister(f"ERV-{number}", design, supply=design) for number, design in enumerate((2000, 1500, 900, 1010), 1)),
    )
    assert [tag for tag in ("ERV-1", "ERV-2", "ERV-3", "ERV-4") if tag in said] == ["ERV-2", "ERV-3", "ERV-4"]
    assert said.startswith("Its sister ERV-4 reads")


def test_a_sister_without_a_design_or_with_a_field_that_is_none_is_refused() -> None:
    for wrong, where in (
        (sister(design=0.0, supply=1.0), "/positions/0/sisters/0/ports/supply"),
        (sister(supply=1.0) | {"serial": "1"}, "/positions/0/sisters/0/serial"),
        (sister(), "/positions/0/sisters/0/ports"),
    ):
        with pytest.raises(DocumentError) as told:
            judge_document(document(place=position({"supply": port_design()}, sisters=[wrong])))
        assert told.value.problems[0].pointer == where
