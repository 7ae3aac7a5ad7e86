"""A functional test by sample: like units grouped, one group drawn from, and what the others of it say."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest
from django.test import Client

from commissioning.binders.sampled import drawn_in, frozen
from commissioning.evidence.accept import Kept, Sender, accept
from commissioning.models import CurrentVerdict, Sample
from commissioning.samples.draw import NotDrawn, Terms, draw, enlarge
from commissioning.samples.results import result_of
from portfolio.models import DesignEntry, Position
from tests import envelopes
from tests.kinds import test_run_records as runs
from tests.pages import world
from tests.pages.reading import text
from tests.pages.world import World

pytestmark = pytest.mark.django_db

POWER = Terms(confidence=0.80, largest_defective_share=0.50, procedure="power")
LISTED = {"options": ["bypass"], "tests": ["power"]}


@pytest.fixture
def firm() -> World:
    """Five alike with the test on their list, one with a wheel, one whose list does not name it."""
    made = world.found()
    for number in range(1, 8):
        made.unit(f"ERV-{number}", "Sorrel Hall")
    given: dict[str, Any] = {f"ERV-{n}": LISTED for n in range(1, 6)}
    given |= {"ERV-6": {**LISTED, "options": ["wheel"]}, "ERV-7": {"options": ["bypass"]}}
    for tag, unit in given.items():
        entry = DesignEntry.objects.get(position=made.units[tag])
        entry.fields = {**entry.fields, "equipment": {"unit": unit}}
        DesignEntry.objects.filter(pk=entry.pk).update(fields=entry.fields)
        sent(made, made.units[tag], runs.settings(tag, at="2026-05-03T08:00:00-06:00"))
    made.judged()
    return made


def sent(firm: World, unit: Position, made: dict[str, Any]) -> None:
    made |= {"position": str(unit.pk), "observed_by": str(firm.people["technician"].pk)}
    made["payload"]["serial_seen"] = None
    [outcome] = accept(Sender(firm.people["technician"], None, "tests"), [envelopes.raw(made)])
    assert isinstance(outcome, Kept), outcome


def drawn(firm: World, **terms: Any) -> Sample:
    return draw(
        project=firm.project,
        person=firm.people["lead"],
        title="Sorrel Hall",
        units=list(Position.objects.filter(building=firm.buildings["Sorrel Hall"]).select_related("building")),
        terms=replace(POWER, **terms),
        seed="2026-05-05 A",
        at=datetime(2026, 5, 4, 15, 0, tzinfo=UTC),
    )


def ran(firm: World, unit: Position, *, name: str = "run", day: int = 6, **rest: Any) -> None:
    made = runs.run("power", name=f"{unit.tag} {name}", at=f"2026-05-{day:02}T10:00:00-06:00", **rest)
    sent(firm, unit, made)


def said(unit: Position) -> tuple[str, str]:
    held = CurrentVerdict.objects.select_related("judgement").get(position=unit, requirement="functional_tests")
    return held.outcome, (held.judgement.result["absence"] or {}).get("text", "")


def group(sample: Sample) -> tuple[list[Position], list[Position]]:
    rows = sample.units.filter(stratum="erv 1").select_related("position").order_by("rank")
    return [row.position for row in rows if row.drawn], [row.position for row in rows if not row.drawn]


def test_like_units_are_grouped_and_the_others_say_which_sample_stands_for_them(firm: World) -> None:
    """Of five of which three fail, two drawn miss them in C(2, 2) / C(5, 2) = 1 of 10: under the 20 % agreed."""
    sample = drawn(firm)
    assert {one["stratum"]: (one["population"], one["sample"]) for one in sample.strata} == {
        "erv 1": (5, 2),
        "erv 2": (1, 1),
    }
    first, others = group(sample)
    firm.judged()
    assert {said(one) for one in others} == {("not_due", "Not run yet.")}
    for one in first:
        ran(firm, one)
    firm.judged()
    assert {said(one) for one in others} == {("not_given", "Not drawn: sample 1 of 4 May 2026 stands for it.")}
    lead = Client()
    lead.force_login(firm.people["lead"])
    page = text(lead.get(f"/samples/{sample.pk}"))
    # three failing of five would show in 9 of 10, two in 1 − C(3, 2) / C(5, 2) = 7 of 10: at most two, at 80 %
    assert "At 80 % confidence at most 2 of 5 units fail: 0 found, and at most 2 among the 3" in page
    assert "Energy recovery ventilator, group 1, alike in: bypass around" in page
    [in_binder] = drawn_in(firm.project, [firm.buildings["Sorrel Hall"].pk])
    assert frozen(in_binder, str)["procedure"] == "power"


def test_a_failing_unit_fails_the_sample_even_when_it_is_corrected_and_more_are_drawn(firm: World) -> None:
    sample = drawn(firm)
    (bad, good), others = group(sample)
    ran(firm, good)
    ran(firm, bad, name="first", otherwise={"kept": {"yes": False}})
    firm.judged()
    assert {said(one)[1] for one in others} == {
        "Not drawn, and sample 1 of 4 May 2026 is not passed: enlarge it, or test this unit."
    }
    ran(firm, bad, name="retest", day=7)
    firm.judged()
    assert said(bad)[0] == "conforms"
    held = {one.stratum: one for one in result_of(sample).strata}["erv 1"]
    assert (held.failures, held.enlarge_to) == (1, 4)
    larger = enlarge(sample=sample, person=firm.people["lead"])
    assert [len(half) for half in group(larger)] == [4, 1]


def test_while_a_drawn_unit_is_still_to_be_tested_the_others_do_not_give_it_away_even_after_a_failure(
    firm: World,
) -> None:
    sample = drawn(firm)
    (bad, good), others = group(sample)
    ran(firm, bad, otherwise={"kept": {"yes": False}})
    firm.judged()
    assert said(bad)[0] == "does_not_conform"
    assert {said(one) for one in [good, *others]} == {("not_due", "Not run yet.")}
    seen = Client()
    seen.force_login(firm.people["technician"])  # who tests them is told on the sample's page
    assert f">{good.tag}<" in seen.get(f"/samples/{sample.pk}").content.decode().partition("How it was drawn")[0]


def test_a_test_that_is_due_nowhere_or_is_witnessed_only_is_not_drawn(firm: World) -> None:
    with pytest.raises(NotDrawn, match="due at none of these units"):
        drawn(firm, procedure="frost")
    with pytest.raises(NotDrawn, match="no matter of a sample"):
        drawn(firm, procedure="smoke")
