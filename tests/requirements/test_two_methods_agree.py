"""Two methods at one port in one session: agree, differ, share an instrument, and the factor of another size."""

from __future__ import annotations

import math
from typing import Any

import pytest

from commissioning.blocks import Sentence, Table, Working
from commissioning.requirements import two_methods_agree
from tests.judging.builder import (
    Result,
    direct,
    envelope,
    instrument,
    judged,
    named,
    port_design,
    position,
    reading,
    state,
)
from tests.kinds.indirect_records import GAUGE, air_of_density, on_fan_curve, pressure_drop

LATER = "2026-05-04T11:00:00-05:00"


def station(signal_pa: float, *others: float, factor: float = 120.0) -> dict[str, Any]:
    unit = "m3/h/Pa^0.5"
    return {
        "method": "station",
        "factor": {"value": factor, "unit": unit},
        "other_factors": [{"value": one, "unit": unit} for one in others],
        "reference_density": {"value": 1.2, "unit": "kg/m3"},
        "readings": {"values": [signal_pa] * 4, "unit": "Pa"},
    }


def metered(flow_m3_s: float) -> dict[str, Any]:
    return direct(*[flow_m3_s] * 4, unit="m3/s")


def both(
    first: dict[str, Any],
    second: dict[str, Any],
    *,
    tools: tuple[str, str] = ("gauge", "meter"),
    scope: str = "in_scope",
    **later: Any,
) -> Result:
    one = envelope([reading("supply", first, named(tools[0]))], air=air_of_density(1.2))
    two = envelope(
        [reading("supply", second, named(tools[1]))], name="second", at=LATER, **{"air": air_of_density(1.2), **later}
    )
    place = position({"supply": port_design(1.0 / 0.0004719474432)}, scope=scope)
    return judged(one, two, place=place, instruments=[instrument(), GAUGE])


def test_one_method_alone_has_nothing_to_agree_with() -> None:
    assert both(metered(1.0), metered(1.1), tools=("meter", "meter")).outcome("two_methods_agree", "supply") == (
        "nothing said"
    )


def test_methods_that_agree_show_their_weighted_mean_and_the_last_one_stands() -> None:
    """900 Pa at K = 120 are 3600 m³/h = 1 m³/s. Weights go with 1/U² (no error is shared)."""
    result = both(station(900.0), metered(1.02))
    one = result.judgement("two_methods_agree", "supply")
    a, b = (result.measurement("supply", name) for name in ("second", "first"))
    assert (a["method"], b["method"]) == ("direct", "station")
    wide = math.hypot(a["expanded_uncertainty_m3_s"], b["expanded_uncertainty_m3_s"])
    assert one["verdict"] == "conforms"
    assert one["value"] == pytest.approx(0.02 / wide, rel=1e-9)
    weights = [1.0 / x["expanded_uncertainty_m3_s"] ** 2 for x in (a, b)]
    mean = (weights[0] * 1.02 + weights[1] * 1.0) / sum(weights)
    assert one["facts"]["best"]["airflow_m3_s"] == pytest.approx(mean, rel=1e-9)
    assert one["facts"]["best"]["expanded_uncertainty_m3_s"] == pytest.approx(sum(weights) ** -0.5, rel=1e-9)
    assert result.judgement("design_airflow", "supply")["rests_on"] == [named("second")]


def test_a_wrong_size_of_the_station_is_asked_about() -> None:
    """The engineering row: K 120 used, 154 true; q 1.0, other 1.27. 1.0 · 154/120 = 1.2833 m³/s."""
    one = both(station(900.0, 95.0, 120.0, 154.0), metered(1.27)).judgement("two_methods_agree", "supply")
    assert one["verdict"] == "does_not_conform"
    assert one["facts"]["best"] is None
    (offered,) = one["facts"]["neighbours"]
    assert offered["factor"] == "154 m3/h/Pa^0.5"
    assert offered["airflow_m3_s"] == pytest.approx(154.0 / 120.0, rel=1e-9)
    assert "nameplate" in one["look_next"][0]
    assert "K = 154" in one["look_next"][0]


def test_a_station_that_came_last_is_asked_too() -> None:
    one = both(metered(1.27), station(900.0, 154.0), tools=("meter", "gauge")).judgement("two_methods_agree", "supply")
    assert [found["factor"] for found in one["facts"]["neighbours"]] == ["154 m3/h/Pa^0.5"]


def test_no_size_is_offered_that_would_not_explain_it() -> None:
    one = both(station(900.0, 95.0, 240.0), metered(1.27)).judgement("two_methods_agree", "supply")
    assert one["verdict"] == "does_not_conform"
    assert one["facts"]["neighbours"] == []
    assert "nameplate" not in " ".join(one["look_next"])


def test_methods_that_differ_leave_the_last_final_to_decide() -> None:
    result = both(station(900.0), metered(1.27))
    assert result.outcome("two_methods_agree", "supply") == "does_not_conform"
    assert result.judgement("design_airflow", "supply")["rests_on"] == [named("second")]
    assert result.outcome("design_airflow", "supply") == "does_not_conform"


def test_one_gauge_for_both_shares_its_error_with_its_sign() -> None:
    """A gauge that reads high makes a station high and a fan curve low, so r is negative there; for a station and a
    rated part it is positive: r = c_a c_b / (u_a u_b), c the instrument's part of each."""
    fan = both(station(2304.0), on_fan_curve(256.0), tools=("gauge", "gauge"))
    drop = both(station(900.0), pressure_drop(150.0), tools=("gauge", "gauge"))
    for result, sign in ((fan, -1.0), (drop, 1.0)):
        found = [result.measurement("supply", name) for name in ("first", "second")]
        parts = [
            next(one["standard_uncertainty"] for one in each["budget"] if one["name"] == "instrument") for each in found
        ]
        whole = found[0]["standard_uncertainty_m3_s"] * found[1]["standard_uncertainty_m3_s"]
        expected = sign * parts[0] * parts[1] / whole
        assert result.judgement("two_methods_agree", "supply")["facts"]["correlation"] == pytest.approx(expected)


def test_a_method_that_bears_no_verdict_cannot_be_compared() -> None:
    one = both(metered(1.0), pressure_drop(150.0, condition={"moisture": "wet"}), tools=("meter", "gauge"))
    assert one.outcome("two_methods_agree", "supply") == "not_judged"
    assert "it was wet" in one.judgement("two_methods_agree", "supply")["absence"]["text"]


def test_two_modes_are_two_airflows() -> None:
    one = both(station(900.0), metered(0.5), state=state(mode="minimum"))
    assert one.outcome("two_methods_agree", "supply") == "not_due"


def test_a_later_session_stands_alone() -> None:
    assert both(station(900.0), metered(1.27), session="AL-2").outcome("two_methods_agree", "supply") == "nothing said"


def test_a_unit_out_of_scope_is_not_counted() -> None:
    assert both(station(900.0), metered(1.27), scope="deleted").outcome("two_methods_agree", "supply") == "not_counted"


def test_shown_in_words_and_numbers() -> None:
    agreed = both(station(900.0), metered(1.02)).judgement("two_methods_agree", "supply")
    blocks = two_methods_agree.show(agreed, {}, "si")
    told = " ".join(one.text for one in blocks if isinstance(one, Sentence))
    assert "1,020 ±" in told
    assert "For information, both together" in told
    differing = both(station(900.0, 154.0), metered(1.27)).judgement("two_methods_agree", "supply")
    blocks = two_methods_agree.show(differing, {}, "si")
    assert any(isinstance(one, Table) and one.rows[0][0].startswith("154") for one in blocks)
    assert any(isinstance(one, Working) for one in blocks)
