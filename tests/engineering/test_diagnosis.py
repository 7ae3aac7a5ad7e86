"""What the table of diagnosis names, on a simulation that does not know the table; sizes and confusions on its page."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commissioning.engineering.diagnosis import Cause, Change, Symptoms, diagnose, relative_change
from commissioning.engineering.diagnosis_table import SIGNATURES, FanWheel, Quantity
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.units import to_si
from tests.engineering.diagnosis_page import PAGE, PLANTED, Planted, page, read
from tests.engineering.fan_stream import AGAINST_DESIGN, AGAINST_EARLIER, WHOLE, Broken, readings, symptoms

Q = Quantity
SAME_SIGN = {"duct_heavier": "discharge_closed"}  # opened up, they are told apart; read, they are one


def codes(found: tuple[Cause, ...]) -> list[str]:
    return [cause.code for cause in found if cause.stands]


def test_the_page_is_what_the_code_names() -> None:
    assert PAGE.read_text(encoding="utf-8") == page()


def test_every_row_of_the_table_is_planted() -> None:
    assert {planted.code for planted in PLANTED} - {"nothing"} == {row.code for row in SIGNATURES}


@pytest.mark.parametrize("planted", PLANTED, ids=lambda planted: planted.code)
def test_with_everything_read_a_large_cause_is_named_first(planted: Planted) -> None:
    found = read(planted, planted.sizes[-1], AGAINST_EARLIER)
    if planted.code == "nothing":
        assert found == ()
        return
    assert found[0].code == SAME_SIGN.get(planted.code, planted.code)
    assert planted.code in codes(found) or planted.code == "wheel_stopped"


@pytest.mark.parametrize("planted", PLANTED, ids=lambda planted: planted.code)
@pytest.mark.parametrize("uncertainties", [AGAINST_EARLIER, AGAINST_DESIGN], ids=["everything", "usual"])
def test_whatever_is_named_the_planted_cause_is_not_excluded(
    planted: Planted, uncertainties: dict[Quantity, float]
) -> None:
    for size in planted.sizes:
        found = read(planted, size, uncertainties)
        if codes(found):
            assert planted.code in codes(found), size


def test_never_is_speed_alone_named_for_what_is_not_the_speed() -> None:
    for planted in PLANTED:
        for size in planted.sizes:
            for uncertainties in (AGAINST_EARLIER, AGAINST_DESIGN):
                if planted.code not in ("speed", "duct_lighter"):
                    named = [cause for cause in read(planted, size, uncertainties) if cause.stands]
                    assert not named or not all(cause.leaves_speed for cause in named), (planted.code, size)


def test_with_the_airflow_alone_the_order_of_diagnosis_decides() -> None:
    found = diagnose(Symptoms({Q.OUTLET_FLOW: Change(math.log(0.8), 0.03)}, seen={"method": ("station",)}))
    assert codes(found) == [
        "suction_closed",
        "filter_loaded",
        "discharge_closed",
        "wrong_factor",
        "duct_heavier",
        "speed",
        "core_blocked",  # seldom met on a new unit
    ]


def test_what_was_seen_in_order_excludes_what_only_the_airflow_suggests() -> None:
    seen = {"inlet_damper": ("open",), "outlet_damper": ("open",), "filters": ("clean",), "bypass": ("closed",)}
    found = diagnose(Symptoms({Q.OUTLET_FLOW: Change(math.log(0.8), 0.03)}, seen=seen))
    assert {"suction_closed", "filter_loaded", "discharge_closed"}.isdisjoint(codes(found))
    told = next(cause for cause in found if cause.code == "filter_loaded")
    assert told.evidence_against == ("seen: filters clean",)


def test_readings_outweigh_what_was_ticked() -> None:
    """A filter ticked as clean whose pressure has doubled while all others fell is still the first cause."""
    broken = Broken(factors={"filter": 6.0})
    found = diagnose(symptoms(broken, AGAINST_EARLIER, seen={"filters": ("clean",)}))
    assert found[0].code == "filter_loaded"
    assert "seen: filters clean" in found[0].evidence_against


def test_evidence_says_what_was_read_and_what_the_cause_would_do() -> None:
    found = diagnose(symptoms(Broken(factors={"filter": 4.0}), AGAINST_EARLIER))
    now, before = readings(Broken(factors={"filter": 4.0})), readings(WHOLE)
    rise = round(100.0 * (now[Q.FILTER] / before[Q.FILTER] - 1.0))
    assert any(line.startswith(f"pressure lost over the filter +{rise} %") for line in found[0].evidence_for)
    assert found[0].evidence_against == ()
    damper = next(cause for cause in found if cause.code == "suction_closed")
    assert any(line.startswith(f"pressure lost over the filter +{rise} %") for line in damper.evidence_against)


def test_a_change_of_speed_is_taken_out_before_another_cause_is_tried() -> None:
    both = Broken(factors={"filter": 5.0}, speed=0.9)
    found = diagnose(symptoms(both, AGAINST_EARLIER))
    assert found[0].code == "filter_loaded"
    assert any("at this speed" in line for line in found[0].evidence_for)
    alone = diagnose(symptoms(Broken(speed=0.9), AGAINST_EARLIER))
    assert [cause.code for cause in alone] == ["speed"]


def test_the_current_is_judged_by_the_wheel() -> None:
    """Throttled, a forward-curved wheel's current falls by half of the airflow and more, a backward-curved's not."""
    changes = {Q.OUTLET_FLOW: Change(-0.4, 0.03), Q.CURRENT: Change(-0.6, 0.03)}
    misfit = {
        wheel: next(c.score for c in diagnose(Symptoms(changes, wheel=wheel)) if c.code == "suction_closed")
        for wheel in FanWheel
    }
    assert misfit[FanWheel.FORWARD] < 1.0
    assert misfit[FanWheel.NOT_KNOWN] < 1.0
    assert misfit[FanWheel.BACKWARD] > 4.0


def test_a_reversed_wheel_takes_half_of_the_air_and_three_phases() -> None:
    broken = Broken(reversed_=True)
    assert 0.4 < readings(broken)[Q.OUTLET_FLOW] < 0.6
    assert diagnose(symptoms(broken, AGAINST_EARLIER))[0].code == "reversed"
    electronic = diagnose(symptoms(broken, AGAINST_EARLIER, seen={"motor": ("electronically_commutated",)}))
    told = next(cause for cause in electronic if cause.code == "reversed")
    assert "seen: motor electronically commutated" in told.evidence_against
    mild = diagnose(Symptoms({Q.OUTLET_FLOW: Change(math.log(0.85), 0.02), Q.DISCHARGE: Change(-0.33, 0.03)}))
    assert "reversed" not in codes(mild)


@pytest.mark.parametrize(("read_as", "ratio", "named"), [(1.21, 1 / 1.21, True), (1.21, 0.7, False), (0.8, 1.25, True)])
def test_a_wrong_factor_is_one_of_the_neighbouring_sizes(read_as: float, ratio: float, named: bool) -> None:
    one = symptoms(Broken(misread=read_as), AGAINST_EARLIER, seen={"method": ("station",)})
    found = diagnose(Symptoms(one.changes, one.judged, one.seen, one.wheel, factor_ratios=(ratio, 3.0)))
    assert ("wrong_factor" in codes(found)) is named


def test_a_factor_is_only_doubted_where_a_station_was_read() -> None:
    one = Broken(misread=1.21)
    assert "wrong_factor" not in codes(diagnose(symptoms(one, AGAINST_EARLIER, seen={"method": ("direct",)})))
    assert "wrong_plane" in codes(diagnose(symptoms(one, AGAINST_EARLIER, seen={"method": ("hood",)})))


@pytest.mark.parametrize(
    ("method", "code", "largest"), [("station", "wrong_factor", 0.5), ("traverse", "wrong_plane", 0.7)]
)
@pytest.mark.parametrize("sign", [-1.0, 1.0])
def test_beyond_the_largest_size_of_a_cause_the_rest_remains(
    method: str, code: str, largest: float, sign: float
) -> None:
    """0.1 too far leaves 0.1^2 / (0.03^2 + (0.1 d)^2); as far as e^0.5 and e^0.7 is common practice, no source."""
    for beyond in (0.0, 0.1):
        read_as = largest + beyond
        changes = {Q.OUTLET_FLOW: Change(sign * read_as, 0.03)}
        found = diagnose(Symptoms(changes, seen={"method": (method,)}))
        cause = next(cause for cause in found if cause.code == code)
        assert cause.size == pytest.approx(sign * largest)
        assert cause.score == pytest.approx(beyond**2 / (0.03**2 + (0.1 * read_as) ** 2))


@pytest.mark.parametrize("seen", [{"serial": ("another",)}, {"sister": ("matches",)}])
def test_another_units_reading_comes_before_all(seen: dict[str, tuple[str, ...]]) -> None:
    assert diagnose(symptoms(Broken(factors={"duct": 4.0}), AGAINST_EARLIER, seen=seen))[0].code == "wrong_unit"
    assert "wrong_unit" not in codes(diagnose(symptoms(Broken(factors={"duct": 4.0}), AGAINST_EARLIER)))


def test_a_wheel_that_stands_has_no_sign_in_the_airflow() -> None:
    found = diagnose(symptoms(Broken(factors={"filter": 4.0}), AGAINST_EARLIER, seen={"wheel": ("stopped",)}))
    assert (found[0].code, found[-1].code, found[-1].stands) == ("filter_loaded", "wheel_stopped", False)
    assert "no sign in the airflow" in found[-1].sentence


def test_the_riser_is_only_doubted_where_there_is_one() -> None:
    broken = Broken(others=0.0)
    for riser, named in (("none", False), ("not_seen", True), ("off", True)):
        found = diagnose(symptoms(broken, AGAINST_EARLIER, seen={"others_on_riser": (riser,)}))
        assert ("others_on_riser" in codes(found)) is named


@given(
    order=st.permutations(list(AGAINST_EARLIER)), factor=st.floats(1.0, 8.0), part=st.sampled_from(["filter", "duct"])
)
def test_the_order_of_the_readings_changes_nothing(order: list[Quantity], factor: float, part: str) -> None:
    one = symptoms(Broken(factors={part: factor}), AGAINST_EARLIER)
    assert diagnose(Symptoms({quantity: one.changes[quantity] for quantity in order}, wheel=one.wheel)) == diagnose(one)


@given(now=st.floats(0.1, 10.0), reference=st.floats(0.1, 10.0))
def test_a_change_is_the_same_in_inch_pounds_and_in_si(now: float, reference: float) -> None:
    si = relative_change(now=now, reference=reference, relative_uncertainty=0.03)
    cfm = [float(to_si(value, "cfm")) for value in (now, reference)]
    other = relative_change(now=cfm[0], reference=cfm[1], relative_uncertainty=0.03)
    assert other.log_ratio == pytest.approx(si.log_ratio, abs=1e-9)
    assert si.log_ratio == pytest.approx(math.log(now) - math.log(reference), abs=1e-9)


def test_no_air_at_all_is_a_very_small_ratio_and_a_reference_of_nothing_is_refused() -> None:
    assert relative_change(now=0.0, reference=1.0, relative_uncertainty=0.03).log_ratio == pytest.approx(math.log(1e-3))
    with pytest.raises(OutOfRange, match="reference is 0"):
        relative_change(now=1.0, reference=0.0, relative_uncertainty=0.03)


def test_where_nothing_is_visible_nothing_is_named() -> None:
    assert diagnose(Symptoms({Q.OUTLET_FLOW: Change(-0.08, 0.03)})) == ()
    assert diagnose(Symptoms({})) == ()
    assert len(diagnose(Symptoms({Q.OUTLET_FLOW: Change(-0.1, 0.03)}))) > 3


def test_the_simulation_keeps_its_air() -> None:
    """What enters leaves: with a leak before the fan, inlet below fan; with one after it, outlets below fan."""
    whole = readings(WHOLE)
    assert whole[Q.INLET_FLOW] == pytest.approx(whole[Q.OUTLET_FLOW], rel=1e-3)
    assert whole[Q.OUTLETS] == pytest.approx(1.0, rel=1e-3)
    before, after = readings(Broken(leak_before=0.2)), readings(Broken(leak_after=0.2))
    assert before[Q.INLET_FLOW] < 0.9 * before[Q.OUTLET_FLOW]
    assert after[Q.OUTLETS] < 0.9 * after[Q.OUTLET_FLOW]
    turned = readings(Broken(speed=0.8))
    assert turned[Q.OUTLET_FLOW] == pytest.approx(0.8, rel=0.02)


def test_only_a_set_speed_and_the_duct_as_built_leave_the_speed_as_a_remedy() -> None:
    assert {row.code for row in SIGNATURES if row.leaves_speed} == {"speed", "duct_heavier", "duct_lighter"}


def test_a_cause_that_leaves_more_than_it_explains_does_not_stand() -> None:
    """More air enters, less passes the fan, more comes out, at half of the current: no row's picture."""
    read_as = {
        Q.INLET_FLOW: 0.5,
        Q.OUTLET_FLOW: -0.5,
        Q.OUTLETS: 0.3,
        Q.DISCHARGE: -0.3,
        Q.FILTER: 0.3,
        Q.CURRENT: -0.5,
    }
    odd = {quantity: Change(change, 0.03) for quantity, change in read_as.items()}
    found = diagnose(Symptoms(odd))
    assert found
    assert codes(found) == []
