"""Instruments against one another: pairs of one untouched state, one unit counted once, and prompts for the lead."""

import re
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from commissioning.samples.comparisons import Compared, compare
from commissioning.samples.states import measured
from portfolio.models import Instrument
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import DESIGN, World
from tests.samples.world import another_hood, built, repeated

pytestmark = pytest.mark.django_db

LOW = {port: flow / 1.06 for port, flow in DESIGN.items()}
HIGH = {port: flow * 1.06 for port, flow in DESIGN.items()}


@pytest.fixture
def firm() -> World:
    return built(6)


def repeat_with(firm: World, tool: Instrument, tag: str, flows: dict[str, float], **rest: Any) -> None:
    kept = firm.instrument
    firm.instrument = tool
    repeated(firm, tag, flows, **rest)
    firm.instrument = kept


def found(firm: World) -> dict[str, Compared]:
    return compare(measured([unit.pk for unit in firm.units.values()]), {})


def test_a_hood_that_reads_six_per_cent_high_on_five_units_is_told_apart(firm: World) -> None:
    other = another_hood(firm)
    for n in range(1, 6):
        repeat_with(firm, other, f"ERV-{n}", HIGH)
    firm.judged()
    held = found(firm)
    high, low = held[str(other.pk)], held[str(firm.instrument.pk)]
    assert high.bias is not None
    assert low.bias is not None
    assert (high.units, len(high.pairs)) == (5, 20)
    assert high.bias.pairs == 5
    assert high.bias.mean_relative_difference == pytest.approx(0.06, abs=1e-9)  # every pair is 1.06 to 1
    assert low.bias.mean_relative_difference == pytest.approx(1 / 1.06 - 1, abs=1e-9)
    assert high.bias.distinguishable
    assert high.bias.coverage_probability == pytest.approx(0.975)  # 1 - 0.05 / 2: two instruments are looked at


def test_the_instruments_own_error_is_left_out_and_what_differs_from_unit_to_unit_is_not(firm: World) -> None:
    other = another_hood(firm)
    for n in range(1, 6):
        repeat_with(firm, other, f"ERV-{n}", DESIGN)
    firm.judged()
    bias = found(firm)[str(other.pk)].bias
    assert bias is not None
    # of a direct reading: 2 % of method and the scatter of 998, 1000, 1002 over root 3, each port of its own;
    # small-sample scatter of three readings: 0.002 / root 3 times 5 (what 0.0027 / 0.47 of the kept budget says)
    one = (0.02**2 + 0.00577**2) ** 0.5
    assert bias.standard_uncertainty == pytest.approx((2 * one**2 / 4 / 5) ** 0.5, rel=0.01)


def test_a_unit_that_was_touched_in_between_makes_no_pair(firm: World) -> None:
    other = another_hood(firm)
    firm.measured("ERV-1", session="AL-2", at="2026-05-05T10:15:00-06:00")
    repeat_with(firm, other, "ERV-1", HIGH, day=4)  # before AL-2: it is paired with AL-1
    repeat_with(firm, other, "ERV-2", HIGH, day=6)
    kept, firm.instrument = firm.instrument, other
    firm.measured("ERV-3", HIGH, session="AL-9", at="2026-05-07T10:15:00-06:00")  # another state, another instrument
    firm.instrument = kept
    firm.judged()
    pairs = found(firm)[str(other.pk)].pairs
    sessions = {(pair.position, pair.reading.session, pair.other.session) for pair in pairs}
    assert sessions == {
        (firm.units["ERV-1"].pk, "V-4", "AL-1"),
        (firm.units["ERV-2"].pk, "V-6", "AL-1"),
    }


def test_one_instrument_is_not_compared_with_itself(firm: World) -> None:
    repeated(firm, "ERV-1", HIGH)
    firm.judged()
    assert found(firm)[str(firm.instrument.pk)].pairs == []


def test_the_page_says_how_many_more_units_would_tell(firm: World, browser: Browser) -> None:
    other = another_hood(firm)
    repeat_with(firm, other, "ERV-1", DESIGN)
    firm.judged()
    where = f"/projects/{firm.project.pk}/instruments"
    page = text(browser("owner").get(where))
    assert "Two instruments read finals here; none shares 3 units with another, so that nothing is told." in page
    assert "Two more units read by both, at least." in page
    for n in range(2, 6):  # two units read 6 % high and two as much low: what scatters so is not told apart
        repeat_with(firm, other, f"ERV-{n}", HIGH if n % 2 else LOW)
    firm.judged()
    page = text(browser("owner").get(where))
    assert "Not told apart from the others." in page
    more = re.search(r"(\d+) more units would tell a difference of 3 %, in four cases of five\.", page)
    assert more is not None
    # scatter of 0, ±6 %: s = 0.06 (with n - 1 = 4, sqrt(4 * 0.0583^2 / 4) = 0.058); at a coverage of 97.5 % and a power
    # of 80 %, ((2.24 + 0.84) * 0.06 / 0.03)^2 = 38 by the normal distribution, some more by Student's
    assert 33 <= int(more.group(1)) <= 40


def test_the_page_tells_what_is_to_be_checked_and_accuses_nobody(firm: World, browser: Browser) -> None:
    other = another_hood(firm)
    for n in range(1, 6):
        repeat_with(firm, other, f"ERV-{n}", HIGH)
    firm.judged()
    where = f"/projects/{firm.project.pk}/instruments"
    page = text(browser("lead").get(where))
    assert "Two of two instruments read apart from the others; two could be compared." in page
    assert "On 5 units this instrument read 6.0% above the other" in page
    assert "accuse nobody" in page
    assert "look again : 100% of 24 readings match their design within 0.5%." in page  # six units, four ports each
    assert "look again : The ratio of 20 pairs of readings varies by 0.00%." in page
    assert "second look" not in text(browser("owner").get(where))


def test_it_takes_the_same_queries_for_one_unit_and_for_six(firm: World, browser: Browser) -> None:
    other = another_hood(firm)
    counted = []
    for tags in (["ERV-1"], [f"ERV-{n}" for n in range(2, 7)]):
        for tag in tags:
            repeat_with(firm, other, tag, HIGH)
        firm.judged()
        client = browser("lead")
        with CaptureQueriesContext(connection) as held:
            client.get(f"/projects/{firm.project.pk}/instruments")
        counted.append(len(held))
    assert counted[0] == counted[1]
