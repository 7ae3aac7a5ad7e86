"""Decision rules: a table of values around the limits, and what settles an inconclusive verdict."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import scipy.integrate
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from commissioning.engineering.conformity import (
    DecisionRule,
    Limits,
    Remedy,
    Verdict,
    assess,
    conformance_probability,
    false_acceptance_risk,
    relative_deviation,
    what_would_settle,
)
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.units import to_si
from tests.engineering.reference_rows import Row, hold, parameters

TEN_PERCENT = Limits(-0.10, 0.10)


def verdict_of(deviation: float, limits: Limits) -> Verdict:
    return assess(value=deviation, standard_uncertainty=0.025, expanded_uncertainty=0.05, limits=limits).verdict


def room_and_terminals() -> list[float]:
    readings = np.array([218.0, 186.0, 205.0])
    total = relative_deviation(measured=float(readings.sum()), required=600.0)
    parts = np.asarray(relative_deviation(measured=readings, required=200.0))
    assert all(verdict_of(float(part), TEN_PERCENT) is Verdict.CONFORMS for part in parts)
    assert verdict_of(float(total), Limits(-0.05, 0.05)) is Verdict.CONFORMS
    return [100.0 * float(value) for value in (total, *parts)]


CHECKS: dict[str, Callable[[], Any]] = {
    "T6.01": lambda: 100.0 * relative_deviation(measured=2730.0, required=3000.0),
    "T6.02": lambda: 100.0 * relative_deviation(measured=1325.0, required=1200.0),
    "T6.03": lambda: 100.0 * relative_deviation(measured=9950.0, required=10_000.0),
    "T6.04": lambda: room_and_terminals()[0],
}


@pytest.mark.parametrize(("row", "check"), parameters("balancing_tolerance", CHECKS))
def test_published(row: Row, check: Callable[[], Any]) -> None:
    hold(row, check())


@pytest.mark.parametrize(
    ("id_", "limits", "verdict"),
    [
        ("T6.01", TEN_PERCENT, Verdict.CONFORMS),
        ("T6.02", TEN_PERCENT, Verdict.DOES_NOT_CONFORM),
        ("T6.03", Limits(0.0, 0.10), Verdict.DOES_NOT_CONFORM),
    ],
)
def test_published_outcome(id_: str, limits: Limits, verdict: Verdict) -> None:
    assert verdict_of(float(CHECKS[id_]()) / 100.0, limits) is verdict


def test_terminals_of_the_room() -> None:
    assert room_and_terminals()[1:] == pytest.approx([9.0, -7.0, 2.5])


C, D, N = Verdict.CONFORMS, Verdict.DOES_NOT_CONFORM, Verdict.INCONCLUSIVE


@pytest.mark.parametrize(
    ("value", "simple", "acceptance", "rejection"),
    [
        (830.0, D, D, D),
        (839.9, D, D, D),
        (840.0, D, D, N),
        (899.9, D, D, N),
        (900.0, C, N, C),
        (940.0, C, N, C),
        (960.0, C, C, C),
        (1000.0, C, C, C),
        (1040.0, C, C, C),
        (1040.1, C, N, C),
        (1100.0, C, N, C),
        (1100.1, D, D, N),
        (1160.0, D, D, N),
        (1160.1, D, D, D),
    ],
)
def test_two_sided(value: float, simple: Verdict, acceptance: Verdict, rejection: Verdict) -> None:
    found = [
        assess(
            value=value,
            standard_uncertainty=30.0,
            expanded_uncertainty=60.0,
            limits=Limits(900.0, 1100.0),
            rule=rule,
        ).verdict
        for rule in DecisionRule
    ]
    assert found == [simple, acceptance, rejection]


@pytest.mark.parametrize(
    ("value", "simple", "acceptance", "rejection"),
    [
        (79.9, D, D, D),
        (80.0, D, D, N),
        (99.9, D, D, N),
        (100.0, C, N, C),
        (119.9, C, N, C),
        (120.0, C, C, C),
        (1e9, C, C, C),
    ],
)
def test_a_minimum_alone(value: float, simple: Verdict, acceptance: Verdict, rejection: Verdict) -> None:
    found = [
        assess(value=value, standard_uncertainty=10.0, expanded_uncertainty=20.0, limits=Limits(low=100.0), rule=rule)
        for rule in DecisionRule
    ]
    assert [assessment.verdict for assessment in found] == [simple, acceptance, rejection]
    assert all(assessment.acceptance_high is None for assessment in found)
    assert found[1].acceptance_low == 120.0
    assert found[2].rejection_low == 80.0


def test_a_value_on_the_limit_but_for_a_unit_conversion_conforms() -> None:
    design = float(to_si(1000.0, "cfm"))
    for measured, limits in ((900.0, Limits(low=0.9 * design)), (1100.0, Limits(high=1.1 * design))):
        value = float(to_si(measured, "cfm"))
        found = assess(value=value, standard_uncertainty=0.01, expanded_uncertainty=0.02, limits=limits)
        assert found.verdict is Verdict.CONFORMS
        assert found.conformance_probability == pytest.approx(0.5)
    just_out = float(to_si(899.999, "cfm"))
    assert (
        assess(
            value=just_out, standard_uncertainty=0.01, expanded_uncertainty=0.02, limits=Limits(low=0.9 * design)
        ).verdict
        is Verdict.DOES_NOT_CONFORM
    )


def test_the_assessment_says_where_the_value_lies() -> None:
    found = assess(value=940.0, standard_uncertainty=28.2, expanded_uncertainty=56.4, limits=Limits(900.0, 1100.0))
    assert found.margin == 40.0
    assert found.inside_uncertainty
    assert (found.acceptance_low, found.acceptance_high) == (900.0, 1100.0)
    outside = assess(value=1200.0, standard_uncertainty=28.2, expanded_uncertainty=56.4, limits=Limits(900.0, 1100.0))
    assert outside.margin == -100.0
    assert not outside.inside_uncertainty
    clear = assess(value=1000.0, standard_uncertainty=28.2, expanded_uncertainty=56.4, limits=Limits(900.0, 1100.0))
    assert not clear.inside_uncertainty


def test_a_guard_wider_than_the_tolerance_leaves_nothing_to_accept() -> None:
    found = assess(
        value=1000.0,
        standard_uncertainty=60.0,
        expanded_uncertainty=120.0,
        limits=Limits(900.0, 1100.0),
        rule="guarded_acceptance",
    )
    assert found.verdict is Verdict.INCONCLUSIVE
    assert found.acceptance_low is not None
    assert found.acceptance_high is not None
    assert found.acceptance_low > found.acceptance_high


def test_guard_multiplier() -> None:
    found = assess(
        value=935.0,
        standard_uncertainty=30.0,
        expanded_uncertainty=60.0,
        limits=Limits(low=900.0),
        rule="guarded_acceptance",
        guard_multiplier=0.5,
    )
    assert found.verdict is Verdict.CONFORMS
    assert found.acceptance_low == 930.0


def test_no_uncertainty_is_allowed() -> None:
    inside = assess(value=1.0, standard_uncertainty=0.0, expanded_uncertainty=0.0, limits=Limits(0.0, 2.0))
    assert (inside.verdict, inside.conformance_probability) == (Verdict.CONFORMS, 1.0)
    outside = assess(value=3.0, standard_uncertainty=0.0, expanded_uncertainty=0.0, limits=Limits(0.0, 2.0))
    assert (outside.verdict, outside.conformance_probability) == (Verdict.DOES_NOT_CONFORM, 0.0)


measured_values = st.floats(-200.0, 200.0)
uncertainties = st.floats(0.01, 50.0)


@given(value=measured_values, u=uncertainties, low=st.floats(-100.0, 0.0), high=st.floats(1.0, 100.0))
def test_rules_are_nested(value: float, u: float, low: float, high: float) -> None:
    verdicts = {
        rule: assess(
            value=value, standard_uncertainty=u, expanded_uncertainty=2.0 * u, limits=Limits(low, high), rule=rule
        ).verdict
        for rule in DecisionRule
    }
    if verdicts[DecisionRule.GUARDED_ACCEPTANCE] is C:
        assert verdicts[DecisionRule.SIMPLE] is C
    if verdicts[DecisionRule.SIMPLE] is C:
        assert verdicts[DecisionRule.GUARDED_REJECTION] is C
    if verdicts[DecisionRule.GUARDED_REJECTION] is D:
        assert verdicts[DecisionRule.SIMPLE] is D
    assert verdicts[DecisionRule.SIMPLE] is not N


@given(value=measured_values, u=uncertainties, low=st.floats(-100.0, 0.0), high=st.floats(1.0, 100.0))
def test_mirrored_limits_give_mirrored_answers(value: float, u: float, low: float, high: float) -> None:
    for rule in DecisionRule:
        arguments = {"standard_uncertainty": u, "expanded_uncertainty": 2.0 * u}
        one = assess(value=value, limits=Limits(low, high), rule=rule, **arguments)
        other = assess(value=-value, limits=Limits(-high, -low), rule=rule, **arguments)
        assert one.verdict is other.verdict
        assert one.conformance_probability == pytest.approx(other.conformance_probability, abs=1e-12)
        assert one.margin == other.margin


def test_probability_over_arrays_and_one_side() -> None:
    found = conformance_probability(value=np.array([100.0, 120.0]), standard_uncertainty=10.0, limits=Limits(low=100.0))
    assert found == pytest.approx(np.array([0.5, 0.97725]), abs=1e-5)
    above = conformance_probability(value=120.0, standard_uncertainty=10.0, limits=Limits(high=100.0))
    assert above == pytest.approx(0.02275, abs=1e-5)


@pytest.mark.parametrize("acceptance", [None, Limits(-1.5, 2.5)])
def test_the_global_risk_is_that_of_a_double_integral(acceptance: Limits | None) -> None:
    """JCGM 106:2012, 9.5, by scipy's adaptive quadrature; units that do not scatter by 1 around 0."""
    mean, spread, uncertainty, limits = 0.7, 2.5, 0.6, Limits(-3.0, 4.0)
    low, high = (-3.0, 4.0) if acceptance is None else (-1.5, 2.5)

    def accepted_wrongly(x: float) -> float:
        chance = scipy.stats.norm.cdf((high - x) / uncertainty) - scipy.stats.norm.cdf((low - x) / uncertainty)
        return float(scipy.stats.norm.pdf(x, mean, spread) * chance)

    expected = sum(scipy.integrate.quad(accepted_wrongly, *ends)[0] for ends in ((-25.0, -3.0), (4.0, 25.0)))
    found = false_acceptance_risk(
        limits=limits,
        process_mean=mean,
        process_standard_deviation=spread,
        standard_uncertainty=uncertainty,
        acceptance=acceptance,
    )
    assert found == pytest.approx(expected, rel=1e-5)


def test_a_margin_of_just_the_uncertainty_is_inside_it() -> None:
    judged = assess(value=940.0, standard_uncertainty=20.0, expanded_uncertainty=40.0, limits=Limits(900.0, 1100.0))
    assert judged.margin == 40.0
    assert judged.inside_uncertainty
    farther = assess(value=940.0, standard_uncertainty=20.0, expanded_uncertainty=39.9, limits=Limits(900.0, 1100.0))
    assert not farther.inside_uncertainty


def test_a_guard_band_lowers_the_risk_of_accepting_wrongly() -> None:
    arguments: dict[str, Any] = {
        "limits": Limits(-2.0, 2.0),
        "process_mean": 0.5,
        "process_standard_deviation": 1.0,
        "standard_uncertainty": 0.3,
    }
    simple = false_acceptance_risk(**arguments)
    guarded = false_acceptance_risk(**arguments, acceptance=Limits(-1.4, 1.4))
    assert 0.0 < guarded < 0.1 * simple
    one_side = false_acceptance_risk(**(arguments | {"limits": Limits(high=2.0)}))
    assert one_side == pytest.approx(simple, rel=0.15)
    far = false_acceptance_risk(**(arguments | {"limits": Limits(low=-50.0)}))
    assert far == 0.0


@pytest.mark.parametrize(
    ("low", "high", "message"),
    [(None, None, "a lower or an upper end"), (2.0, 1.0, "lies above"), (math.nan, 1.0, "lower limit is nan")],
)
def test_limits_refuse(low: float | None, high: float | None, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        Limits(low, high)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"value": math.nan}, "value is nan"),
        ({"expanded_uncertainty": 0.5}, "expanded uncertainty is 0.5; it must lie in 1"),
        ({"standard_uncertainty": -1.0}, "standard uncertainty is -1"),
        ({"guard_multiplier": 7.0}, "guard multiplier is 7"),
        ({"rule": "lenient"}, "lenient"),
    ],
)
def test_assess_refuses(changes: dict[str, Any], message: str) -> None:
    arguments: dict[str, Any] = {
        "value": 1.0,
        "standard_uncertainty": 1.0,
        "expanded_uncertainty": 2.0,
        "limits": Limits(0.0, 2.0),
        "rule": "guarded_acceptance",
    }
    with pytest.raises(ValueError, match=message):
        assess(**(arguments | changes))


SETTLE: dict[str, Any] = {
    "distance": 10.0,
    "reading_standard_deviation": 12.0,
    "readings": 4,
    "instrument_standard_uncertainty": 2.0,
    "other_standard_uncertainty": 3.0,
}


@pytest.mark.parametrize(
    ("changes", "remedy"),
    [
        ({}, Remedy.MORE_READINGS),
        ({"distance": -10.0}, Remedy.MORE_READINGS),
        ({"distance": 20.0}, Remedy.SETTLED),
        ({"distance": 0.0}, Remedy.NOTHING),
        ({"reading_standard_deviation": 0.0, "instrument_standard_uncertainty": 4.0}, Remedy.SETTLED),  # √(4² + 3²) = 5
        ({"distance": 6.0}, Remedy.ANOTHER_PLANE_OR_METHOD),
        ({"instrument_standard_uncertainty": 6.0, "readings": 20}, Remedy.BETTER_INSTRUMENT),
        ({"reading_standard_deviation": 200.0}, Remedy.ANOTHER_PLANE_OR_METHOD),
    ],
)
def test_what_would_settle(changes: dict[str, Any], remedy: Remedy) -> None:
    found = what_would_settle(**(SETTLE | changes))
    assert found.remedy is remedy
    assert found.sentence


@pytest.mark.parametrize("unit", [1e-3, 1.0, 1e3])
@pytest.mark.parametrize(
    ("changes", "remedy"),
    [
        ({}, Remedy.MORE_READINGS),
        ({"distance": 8.0}, Remedy.MORE_READINGS),
        ({"instrument_standard_uncertainty": 6.0, "readings": 20}, Remedy.BETTER_INSTRUMENT),
        ({"distance": 6.0}, Remedy.ANOTHER_PLANE_OR_METHOD),
    ],
)
def test_what_would_settle_does_not_go_by_the_unit(changes: dict[str, Any], remedy: Remedy, unit: float) -> None:
    given = SETTLE | changes
    kept = ("readings", "guard_multiplier", "coverage_factor")
    scaled = {name: value if name in kept else unit * value for name, value in given.items()}
    assert what_would_settle(**scaled).remedy is remedy


def test_a_hundred_readings_are_still_asked_for_and_no_more() -> None:
    """left = 5² - 2² - 3² = 12, so s² = 1200 asks for 100 readings in all, and a little more for 101."""
    hundred = what_would_settle(**(SETTLE | {"reading_standard_deviation": math.sqrt(1200.0)}))
    assert (hundred.remedy, hundred.readings_needed) == (Remedy.MORE_READINGS, 100)
    more = what_would_settle(**(SETTLE | {"reading_standard_deviation": math.sqrt(1200.1)}))
    assert more.remedy is not Remedy.MORE_READINGS


def test_the_readings_needed_do_settle_it_and_one_fewer_does_not() -> None:
    found = what_would_settle(**SETTLE)
    assert found.readings_needed is not None
    needed = found.needed_standard_uncertainty
    assert needed == 5.0

    def uncertainty(readings: int) -> float:
        return math.hypot(12.0 / math.sqrt(readings), 2.0, 3.0)

    assert uncertainty(found.readings_needed) <= needed < uncertainty(found.readings_needed - 1)


def test_the_better_instrument_does_settle_it() -> None:
    found = what_would_settle(**(SETTLE | {"instrument_standard_uncertainty": 6.0, "readings": 20}))
    assert found.needed_instrument_uncertainty is not None
    after = math.hypot(12.0 / math.sqrt(20), found.needed_instrument_uncertainty, 3.0)
    assert after == pytest.approx(found.needed_standard_uncertainty)


def test_settle_refuses() -> None:
    with pytest.raises(OutOfRange, match="number of readings is 0"):
        what_would_settle(**(SETTLE | {"readings": 0}))


def test_one_reading_may_be_settled_by_more() -> None:
    found = what_would_settle(**(SETTLE | {"readings": 1}))
    assert (found.remedy, found.readings_needed) == (Remedy.MORE_READINGS, 12)
