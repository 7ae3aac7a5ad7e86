"""Claims over time against rtamt, an independent evaluator of signal temporal logic, and gaps by hand.

rtamt works on samples at whole steps and knows no gaps; there both must give the same margins. What a gap does is
shown by filling it in every way: the bounds must hold for each filling, and be reached by one.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from commissioning.engineering.claim_windows import at_intervals, at_some_time, between, throughout
from commissioning.engineering.guards import FloatArray, OutOfRange
from commissioning.engineering.sequences import Moment, orders, responses, rises, runs, sequences
from commissioning.engineering.signals import Signal, sampled
from commissioning.engineering.temporal import (
    Claim,
    always,
    both,
    either,
    follows_line,
    in_band,
    is_on,
    negated,
    never,
    whenever,
)

rtamt = pytest.importorskip("rtamt", reason="the parser that rtamt pins does not run on Python 3.13")
STEPS = 60


def random_levels(seed: int) -> tuple[FloatArray, FloatArray]:
    draw = np.random.default_rng(seed)
    return draw.normal(size=STEPS).round(3), draw.normal(size=STEPS).round(3)


def every_second(levels: FloatArray) -> Signal:
    return Signal(np.arange(levels.size + 1, dtype=float), levels)


def by_rtamt(formula: str, x: FloatArray, y: FloatArray) -> FloatArray:
    specification = rtamt.StlDiscreteTimeSpecification()
    for name in ("x", "y"):
        specification.declare_var(name, "float")
    specification.declare_var("out", "float")
    specification.spec = f"out = {formula}"
    specification.parse()
    told = specification.evaluate({"time": list(range(x.size)), "x": x.tolist(), "y": y.tolist()})
    return np.array([margin for _, margin in told])


def at_seconds(claim: Claim, seconds: int) -> FloatArray:
    return claim.least[np.searchsorted(claim.times_s, np.arange(seconds), side="right") - 1]


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("window", [0, 1, 3, 7, 20])
def test_windows_give_the_margins_of_rtamt(seed: int, window: int) -> None:
    x, y = random_levels(seed)
    claim = in_band(signal=every_second(x), low=0.2)
    inside = STEPS - window - 1  # past its end rtamt takes the log for complete; here it is unknown
    for formula, ours in (
        (f"always[0,{window}](x >= 0.2)", throughout(claim=claim, window_s=float(window))),
        (f"eventually[0,{window}](x >= 0.2)", at_some_time(claim=claim, window_s=float(window))),
    ):
        assert at_seconds(ours, inside) == pytest.approx(by_rtamt(formula, x, y)[:inside], abs=1e-12)


@pytest.mark.parametrize("seed", range(4))
def test_claims_joined_give_the_margins_of_rtamt(seed: int) -> None:
    x, y = random_levels(seed)
    a, b = in_band(signal=every_second(x), low=0.0), in_band(signal=every_second(y), high=0.5)
    for formula, ours in (
        ("(x >= 0) and (y <= 0.5)", both(claims=[a, b])),
        ("(x >= 0) or (y <= 0.5)", either(claims=[a, b])),
        ("(x >= 0) -> (y <= 0.5)", whenever(condition=a, claim=b)),
        ("not(x >= 0)", negated(claim=a)),
    ):
        assert at_seconds(ours, STEPS) == pytest.approx(by_rtamt(formula, x, y), abs=1e-12)


@pytest.mark.parametrize("seed", range(3))
def test_a_nested_claim_gives_the_margin_of_rtamt(seed: int) -> None:
    """Whenever x is high, y is low within 5 s and stays so for 3 s."""
    x, y = random_levels(seed)
    settles = at_some_time(
        claim=throughout(claim=in_band(signal=every_second(y), high=0.9), window_s=3.0), window_s=5.0
    )
    ours = whenever(condition=in_band(signal=every_second(x), low=1.0), claim=settles)
    theirs = by_rtamt("(x >= 1) -> (eventually[0,5](always[0,3](y <= 0.9)))", x, y)
    assert at_seconds(ours, STEPS - 9) == pytest.approx(theirs[: STEPS - 9], abs=1e-12)


@pytest.mark.parametrize("seed", range(3))
def test_the_bounds_across_a_gap_hold_for_every_filling_and_are_reached(seed: int) -> None:
    """Fillings far above and below all that was logged, in every combination, of two seconds that are not known."""
    levels = random_levels(seed)[0][:8]
    gaps = (3, 5)
    unknown = levels.copy()
    unknown[list(gaps)] = np.nan
    ours = throughout(claim=in_band(signal=every_second(unknown), low=0.0), window_s=2.0)
    filled = []
    for filling in itertools.product((-99.0, 99.0), repeat=len(gaps)):
        whole = levels.copy()
        whole[list(gaps)] = filling
        filled.append(at_seconds(throughout(claim=in_band(signal=every_second(whole), low=0.0), window_s=2.0), 5))
    lowest, highest = np.min(filled, axis=0), np.max(filled, axis=0)
    at = np.searchsorted(ours.times_s, np.arange(5), side="right") - 1
    assert np.where(lowest == -99.0, -math.inf, lowest) == pytest.approx(ours.least[at])
    assert np.where(highest == 99.0, math.inf, highest) == pytest.approx(ours.most[at])


def test_one_that_is_known_to_fail_fails_whatever_the_gap_holds() -> None:
    found = always(claim=in_band(signal=every_second(np.array([1.0, np.nan, -0.5, 2.0])), low=0.0))
    assert (found.outcome, found.most, found.at_s, found.failing_s, found.unknown_s) == ("fails", -0.5, 2.0, 1.0, 1.0)


def test_one_that_only_a_gap_could_break_is_unknown() -> None:
    found = always(claim=in_band(signal=every_second(np.array([1.0, np.nan, 2.0])), low=0.0))
    assert (found.outcome, found.least, found.most, found.at_s) == ("unknown", -math.inf, 1.0, 1.0)
    assert never(claim=in_band(signal=every_second(np.array([1.0, np.nan])), low=3.0)).outcome == "unknown"


def test_one_without_a_gap_holds_by_its_smallest_margin() -> None:
    found = always(claim=in_band(signal=every_second(np.array([3.0, 1.5, 2.0])), low=1.0, high=9.0))
    assert (found.outcome, found.least, found.most, found.at_s) == ("holds", 0.5, 0.5, 1.0)


def test_a_window_past_the_log_is_unknown_unless_it_fails_already() -> None:
    claim = throughout(claim=in_band(signal=every_second(np.array([1.0, 1.0, -1.0, 1.0])), low=0.0), window_s=2.0)
    at = np.searchsorted(claim.times_s, [0.0, 1.5, 3.5], side="right") - 1
    assert claim.most[at].tolist() == [-1.0, -1.0, 1.0]
    assert claim.least[at].tolist() == [-1.0, -1.0, -math.inf]


def test_a_line_is_followed_within_the_tolerance() -> None:
    """A falling line from (0, 20) to (10, 10): at 4 it asks for 16, at 12 still for 10."""
    x, y = every_second(np.array([4.0, 12.0, 4.0])), every_second(np.array([16.5, 10.0, 18.0]))
    ends = np.array([0.0, 10.0])
    claim = follows_line(signal=y, over=x, line_x=ends, line_y=np.array([20.0, 10.0]), tolerance=1.0)
    assert claim.least.tolist() == [0.5, 1.0, -1.0]
    with pytest.raises(ValueError, match="they rise"):
        follows_line(signal=y, over=x, line_x=np.array([1.0, 1.0]), line_y=ends, tolerance=1.0)


@pytest.mark.parametrize(
    "call",
    [
        lambda claim: throughout(claim=claim, window_s=-1.0),
        lambda claim: throughout(claim=claim, window_s=math.inf),
        lambda claim: throughout(claim=claim, window_s=math.nan),
        lambda claim: responses(cause=claim, effect=claim, within_s=-1.0),
        lambda claim: orders(first=claim, then=claim, lead_s=-1.0),
        lambda claim: runs(claim=claim, at_least_s=-1.0),
    ],
)
def test_a_duration_below_nothing_is_refused(call: object) -> None:
    claim = is_on(signal=every_second(np.array([0.0, 1.0])))
    with pytest.raises(OutOfRange):
        call(claim)  # type: ignore[operator]


# Facts of the trade, common practice, no source: T12.01 and T12.02 of the check values.


def seen(at_s: float, end_s: float = 200.0) -> Claim:
    return is_on(signal=Signal(np.array([0.0, at_s, end_s]), np.array([0.0, 1.0])))


def test_a_fan_commanded_three_seconds_after_the_end_switch_follows_it() -> None:
    """Start at 0 s, end switch at 42 s, fan output at 45 s."""
    assert [(one.outcome, one.least, one.most) for one in orders(first=seen(42.0), then=seen(45.0))] == [
        ("holds", 3.0, 3.0)
    ]
    assert [(one.outcome, one.most) for one in orders(first=seen(45.0), then=seen(42.0))] == [("fails", -3.0)]


def test_an_alarm_thirty_one_seconds_after_the_loss_is_inside_thirty_and_two() -> None:
    lost, alarm = seen(100.0), seen(131.0)
    (late,) = responses(cause=lost, effect=alarm, within_s=32.0)
    (early,) = responses(cause=lost, effect=negated(claim=alarm), within_s=0.0)
    assert (late.outcome, late.least) == ("holds", 1.0)
    assert early.outcome == "holds"  # it was not there at once
    assert responses(cause=lost, effect=alarm, within_s=30.0)[0].outcome == "fails"


def test_an_effect_that_never_came_fails_once_the_delay_is_over_and_is_unknown_before() -> None:
    nothing = is_on(signal=Signal(np.array([0.0, 200.0]), np.array([0.0])))
    (over,) = responses(cause=seen(100.0), effect=nothing, within_s=60.0)
    assert (over.outcome, over.least, over.most) == ("fails", -math.inf, -40.0)
    assert responses(cause=seen(180.0), effect=nothing, within_s=60.0)[0].outcome == "unknown"


def test_a_command_taken_back_in_time_asks_for_nothing() -> None:
    command = is_on(signal=Signal(np.array([0.0, 10.0, 30.0, 200.0]), np.array([0.0, 1.0, 0.0])))
    nothing = is_on(signal=Signal(np.array([0.0, 200.0]), np.array([0.0])))
    assert responses(cause=command, effect=nothing, within_s=60.0) == []
    assert responses(cause=command, effect=nothing, within_s=15.0)[0].outcome == "fails"


def test_two_stages_of_one_interval_are_in_no_known_order() -> None:
    """Logged each minute, both come up in the same sample: either was first."""
    log = sampled(times_s=np.array([0.0, 60.0, 120.0]), values=np.array([0.0, 1.0, 1.0]), longest_gap_s=90.0)
    stage = at_intervals(claim=is_on(signal=log))
    (one,) = orders(first=stage, then=stage)
    assert one.outcome == "unknown"
    assert [one.least, one.most] == pytest.approx([-60.0, 60.0], abs=0.01)


def test_a_sample_between_two_stages_tells_their_order() -> None:
    def minutes(*levels: float) -> Claim:
        times = 60.0 * np.arange(len(levels), dtype=np.float64)
        return at_intervals(claim=is_on(signal=sampled(times_s=times, values=np.array(levels), longest_gap_s=90.0)))

    (one,) = orders(first=minutes(0, 1, 1, 1), then=minutes(0, 0, 1, 1))
    assert one.outcome == "holds"
    assert [one.least, one.most] == pytest.approx([0.0, 120.0], abs=0.01)


def test_a_start_across_a_gap_is_known_between_two_bounds() -> None:
    log = Signal(np.array([0.0, 10.0, 40.0, 60.0]), np.array([0.0, np.nan, 1.0]))
    assert rises(claim=is_on(signal=log)) == [Moment(10.0, 40.0)]


def test_each_start_has_the_delay_of_each_of_its_stages() -> None:
    """Two starts, at 10 s and 110 s; the second time the fan never comes before the log ends at 200 s."""
    on = np.array([0.0, 1.0, 0.0, 1.0])
    command = is_on(signal=Signal(np.array([0.0, 10.0, 60.0, 110.0, 200.0]), on))
    damper = is_on(signal=Signal(np.array([0.0, 30.0, 70.0, 135.0, 200.0]), on))
    fan = is_on(signal=Signal(np.array([0.0, 33.0, 61.0, 200.0]), np.array([0.0, 1.0, 0.0])))
    first, second = sequences(trigger=command, stages={"damper": damper, "fan": fan})
    assert first.delays == {"damper": Moment(20.0, 20.0), "fan": Moment(23.0, 23.0)}
    assert second.delays == {"damper": Moment(25.0, 25.0), "fan": Moment(90.0, math.inf)}


def test_a_short_run_is_found() -> None:
    fan = is_on(signal=Signal(np.array([0.0, 10.0, 40.0, 100.0, 300.0]), np.array([0.0, 1.0, 0.0, 1.0])))
    assert [(one.outcome, one.least) for one in runs(claim=fan, at_least_s=120.0)] == [
        ("fails", -90.0),
        ("holds", 80.0),
    ]


def test_a_part_of_a_log_is_looked_at_alone() -> None:
    claim = in_band(signal=every_second(np.array([-1.0, 1.0, 2.0, -3.0])), low=0.0)
    assert always(claim=between(claim=claim, from_s=1.0, to_s=3.0)).least == 1.0
    with pytest.raises(ValueError, match="nothing is logged"):
        between(claim=claim, from_s=9.0, to_s=12.0)
