"""What a sample allows to say follows from the verdicts, and a corrected failure stays one."""

from typing import Any

import pytest

from commissioning.samples.draw import enlarge
from commissioning.samples.results import Result, result_of
from commissioning.verdicts.keep import burn
from portfolio.jobs import queue
from portfolio.models import Position
from tests.pages.world import World
from tests.samples.world import built, drawn, repeated, tags_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm() -> World:
    return built()


def codes(result: Result) -> list[str]:
    return [one.code for one in result.units]


def test_nothing_follows_until_every_drawn_unit_is_repeated(firm: World) -> None:
    sample = drawn(firm)
    assert codes(result_of(sample)) == ["due", "due", "due"]
    repeated(firm, tags_of(sample)[0])
    firm.judged()
    result = result_of(sample)
    (one,) = result.strata
    assert codes(result) == ["agrees", "due", "due"]
    assert one.said is None
    assert one.mover == "technician"
    assert one.sentence == (
        "0 of 1 repeated unit differ; 2 of 3 drawn are still to be repeated, "
        "and until then nothing follows for the others."
    )


def test_a_passed_sample_says_how_many_may_differ_all_the_same(firm: World) -> None:
    sample = drawn(firm)
    for tag in tags_of(sample):
        repeated(firm, tag)
    firm.judged()
    (one,) = result_of(sample).strata
    # at 80 %: with 4 of 10 defective three good ones come up in C(6, 3) / C(10, 3) = 20 / 120 = 0.167, with 3 in
    # C(7, 3) / C(10, 3) = 35 / 120 = 0.29: four are excluded, three are not
    assert one.sentence == (
        "0 of 3 repeated units differ. The sample is passed. At 80 % confidence at most 3 of 10 units differ: 0 found, "
        "and at most 3 among the 7 that were not repeated."
    )
    assert (one.mover, one.enlarge_to) == ("", None)


def test_a_failed_sample_calls_for_the_lead_to_enlarge_it(firm: World) -> None:
    sample = drawn(firm)
    bad, *good = tags_of(sample)
    repeated(firm, bad, {"supply": 800})
    for tag in good:
        repeated(firm, tag)
    firm.judged()
    result = result_of(sample)
    (one,) = result.strata
    assert codes(result) == ["differs", "agrees", "agrees"]
    assert {port.port: port.code for port in result.units[0].ports}["supply"] == "differs"
    assert (one.mover, one.enlarge_to) == ("lead", 6)
    # with 6 of 10 defective, one or none comes up in (C(4, 3) + 6 C(4, 2)) / 120 = 40 / 120 = 0.33; with 7 in
    # (1 + 7 * 3) / 120 = 0.18: at most six
    assert (
        "not passed: more than the 0 accepted. At 80 % confidence at most 6 of 10 units differ: 1 found" in one.sentence
    )


def test_an_enlarged_sample_is_held_to_what_the_plan_is_for(firm: World) -> None:
    first = drawn(firm)
    bad = tags_of(first)[0]
    repeated(firm, bad, {"supply": 800})
    firm.judged()
    second = enlarge(sample=first, person=firm.people["lead"])
    (one,) = result_of(second).strata
    # 1 of 6: were 5 of 10 defective, six would show one or none in 5 / 210 = 0.024 of all draws, so that it can pass
    assert (one.failed, one.enlarge_to, one.mover) == (False, None, "technician")
    for tag in set(tags_of(second)) - {bad}:
        repeated(firm, tag)
    firm.judged()
    (one,) = result_of(second).strata
    # with 4 of 10 one or none comes up in (4 * C(6, 5) + C(6, 6)) / 210 = 25 / 210 = 0.12, with 3 in
    # (3 * C(7, 5) + C(7, 6)) / 210 = 70 / 210 = 0.33: at most three
    assert one.sentence == (
        "1 of 6 repeated units differs. The sample is passed. At 80 % confidence at most 3 of 10 units differ: "
        "1 found, and at most 2 among the 4 that were not repeated."
    )


def test_an_enlarged_sample_with_too_many_failures_goes_on_to_every_unit(firm: World) -> None:
    first = drawn(firm)
    for tag in tags_of(first):
        repeated(firm, tag, {"supply": 800})
    firm.judged()
    second = enlarge(sample=first, person=firm.people["lead"])
    (one,) = result_of(second).strata
    # 3 of 6: were 5 of 10 defective, six would show three or fewer in (5 + 50 + 100) / 210 = 0.74 of all draws
    assert (one.failed, one.enlarge_to, one.mover) == (True, 10, "lead")
    assert "too many to show that fewer than 5 of 10 differ" in one.sentence


def test_a_unit_that_was_corrected_after_it_differed_stays_a_failure(firm: World) -> None:
    sample = drawn(firm)
    bad = tags_of(sample)[0]
    repeated(firm, bad, {"supply": 800})
    firm.measured(bad, session="AL-2", at="2026-05-08T10:15:00-06:00")
    repeated(firm, bad, day=9)
    firm.judged()
    result = result_of(sample)
    assert result.units[0].code == "corrected"
    assert result.strata[0].failures == 1


def test_a_repeat_that_was_saved_on_the_wrong_unit_is_no_failure(firm: World) -> None:
    sample = drawn(firm)
    tag = tags_of(sample)[0]
    wrong = repeated(firm, tag, {"supply": 800})
    firm.judged()
    assert result_of(sample).units[0].code == "differs"
    repeated(firm, tag, day=7, supersedes=[{"id": wrong, "reason": "read on the unit beside it"}])
    firm.judged()
    assert result_of(sample).units[0].code == "agrees"


def test_what_differed_before_the_draw_and_was_corrected_counts_for_nothing(firm: World) -> None:
    tag = tags_of(drawn(firm))[0]
    repeated(firm, tag, {"supply": 800}, day=4)
    firm.measured(tag, session="AL-2", at="2026-05-05T08:15:00-06:00")
    firm.judged()
    unit = result_of(drawn(firm)).units[0]
    assert unit.code == "due"
    assert next(port.why for port in unit.ports if port.port == "supply") == (
        "the unit was touched since it was repeated"
    )


def test_a_unit_of_which_one_port_was_repeated_is_still_due(firm: World) -> None:
    sample = drawn(firm)
    tag = tags_of(sample)[0]
    only = {"supply": 1000.0}
    repeated(firm, tag, ports=_ports(firm, only))
    firm.judged()
    unit = result_of(sample).units[0]
    assert {port.port: port.code for port in unit.ports} == {
        "supply": "agrees", "return": "due", "outdoor": "due", "exhaust": "due",
    }  # fmt: skip
    assert unit.code == "due"


def _ports(firm: World, flows: dict[str, float]) -> list[dict[str, Any]]:
    reading = {"method": "direct", "basis": "standard", "readings": {"values": list(flows.values()), "unit": "cfm"}}
    return [{"port": port, "instrument": str(firm.instrument.pk), "method": reading} for port in flows]


def test_a_unit_that_is_no_longer_counted_leaves_sample_and_population(firm: World) -> None:
    sample = drawn(firm)
    gone, *rest = tags_of(sample)
    for tag in rest:
        repeated(firm, tag)
    Position.objects.filter(tag=gone).update(scope="deleted")
    firm.judged()
    result = result_of(sample)
    (one,) = result.strata
    assert result.units[0].code == "not_counted"
    assert (one.drawn, one.population, one.due) == (2, 9, 0)


def test_burnt_and_judged_again_it_says_the_same(firm: World) -> None:
    sample = drawn(firm)
    bad = tags_of(sample)[0]
    repeated(firm, bad, {"supply": 800})
    firm.measured(bad, session="AL-2", at="2026-05-08T10:15:00-06:00")
    firm.judged()
    before = result_of(sample)
    burn()
    assert codes(result_of(sample)) == ["due", "due", "due"]
    queue.want("judge", [unit.pk for unit in firm.units.values()])
    firm.judged()
    assert result_of(sample) == before


@pytest.mark.parametrize("number", [1, 3])
def test_it_takes_the_same_queries_for_any_number_of_units(
    firm: World, number: int, django_assert_num_queries: Any
) -> None:
    sample = drawn(firm, confidence=0.80 if number == 3 else 0.50)
    assert len(tags_of(sample)) == number
    with django_assert_num_queries(3):
        result_of(sample)
