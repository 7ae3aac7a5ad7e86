"""Whatever was judged shows itself as blocks, from what is kept alone, in I-P and in SI."""

from __future__ import annotations

import pytest

from commissioning import blocks, judging
from commissioning.dossier.shows import ABSENCES, VERDICTS
from tests.judging.builder import envelope, judged, port_design, position
from tests.judging.shown import check, pages, texts
from tests.stories import BY_KIND
from tests.stories.airflow import STORIES

JUDGED = sorted(set(judging.RULES) - {"ventilation_rate"})  # which is a designer's check and never judged


@pytest.mark.parametrize("display", ["ip", "si"])
@pytest.mark.parametrize(("kind", "story"), [(kind, story) for kind, held in BY_KIND.items() for story in held])
def test_every_judgement_and_measurement_shows_itself(kind: str, story: str, display: str) -> None:
    result = BY_KIND[kind][story]
    for name, page in pages(result, display):
        check(name, page)
    assert all(judging.headline(one, display) for one in result.measurements)


def test_between_them_the_stories_show_every_kind_requirement_and_outcome() -> None:
    whole = [story for held in BY_KIND.values() for story in held.values()]
    assert {one["requirement"] for story in whole for one in story.judgements} == set(judging.RULES)
    assert {one["kind"] for story in whole for one in story.measurements} == set(judging.KINDS) == set(BY_KIND)
    assert {outcome for story in whole for outcome in story.outcomes().values()} == {*VERDICTS, *ABSENCES}


@pytest.mark.parametrize("requirement", JUDGED)
def test_each_requirement_shows_what_conforms_and_what_does_not(requirement: str) -> None:
    """A page that was only ever seen without a verdict was not seen."""
    whole = [story for held in BY_KIND.values() for story in held.values()]
    seen = {one["verdict"] for story in whole for one in story.judgements if one["requirement"] == requirement}
    assert seen >= {"conforms", "does_not_conform"}


def test_a_failing_port_reads_like_the_trade() -> None:
    shown = judging.show_judgement(
        STORIES["fails"].judgement("design_airflow", "supply"), STORIES["fails"].measurements, "ip"
    )
    lead = shown[0]
    assert isinstance(lead, blocks.Sentence)
    # u: instrument (0.03 × 700 + 5) / √3 = 15.0 cfm, direct reading 2 % = 14 cfm; together 20.5, doubled 41
    assert lead.text == "Does not conform. Supply air: 700 ± 41 cfm against 1,000 cfm designed, −30 %."
    band = next(block for block in shown if isinstance(block, blocks.Band))
    assert [band.low, band.high, band.minimum, band.measured] == pytest.approx([90.0, 110.0, 93.0, 70.0])
    assert band.outcome == "does_not_conform"
    assert band.label == (
        "Supply air measured at 70 % of design, ±4.1 %; allowed −10 % to +10 %; the ventilation minimum is at 93 %: "
        "does not conform."
    )


def test_the_working_opens_down_to_readings_instrument_source_and_version() -> None:
    shown = judging.show_judgement(
        STORIES["conforms"].judgement("design_airflow", "supply"), STORIES["conforms"].measurements, "si"
    )
    text = " ".join(text for block in shown for text in texts(blocks.to_json(block)))
    for needed in (
        "1000, 1000, 1000, 1000, 1000 cfm",
        "Revision 2, addendum, 2026-04-01",
        "23 05 93, 3.6",
        "simple acceptance",
        f"version {judging.RULES['design_airflow'].VERSION}",
        "Balancing hood H-1",
        "C-1",
        "JCGM 100:2008",
        "k = ",
    ):
        assert needed in text


def test_earlier_readings_are_ticks_of_the_band() -> None:
    result = judged(
        envelope({"supply": 700.0}, name="look", at="2026-05-01T09:00:00Z", stage="preliminary"),
        envelope({"supply": 990.0}),
        place=position({"supply": port_design()}),
    )
    band = next(
        block
        for block in judging.show_judgement(result.judgement("design_airflow", "supply"), result.measurements, "ip")
        if isinstance(block, blocks.Band)
    )
    assert band.earlier == (70.0,)


def test_a_rule_that_this_version_does_not_have_still_shows_a_sentence() -> None:
    (block,) = judging.show_judgement({"requirement": "noise", "port": ""}, [], "ip")
    assert isinstance(block, blocks.Sentence)
