"""The start report from what is kept: what is missing first, each part by its own show functions, whose evidence."""

from __future__ import annotations

import json
from typing import Any

from commissioning import judging
from commissioning.blocks import Block, Caution, Sentence, Table, to_json
from commissioning.judging import start_report as report
from tests.judging import builder
from tests.judging.shown import CODE, texts
from tests.kinds import checklist_records, electrical_records, settings_records, startup_records
from tests.kinds.checklist_records import all_right, no

HASH = "0123456789abcdef" * 4
CHECKED = checklist_records.record(*all_right(), name="checked")
SET = settings_records.record(name="set")
READ = electrical_records.record(electrical_records.fan(), electrical_records.fan("exhaust"), name="read")
STARTED = startup_records.record(name="started")
ISSUE = report.OpenIssue(3, "ERV-1: the fan turns the wrong way", "released", "Garrowby Mechanical", "14 May 2026")


def given(*records: dict[str, Any], **changes: Any) -> report.Given:
    place = checklist_records.place()
    result = builder.judged(*records, place=place, instruments=electrical_records.TOOLS)
    kept = json.loads(json.dumps(result.json["positions"][0]))
    evidence = tuple(
        report.Evidence(one["envelope"], one["kind"], one["observed_at"], "Idris Fenwarden", HASH)
        for one in kept["measurements"]
    )
    return report.Given((("Tag", "ERV-1"),), kept["judgements"], kept["measurements"], evidence, **changes)


def blocks(held: report.Given, title: str) -> tuple[Block, ...]:
    return next(one.blocks for one in report.sections(held, "ip") if one.title == title)


def said(shown: tuple[Block, ...]) -> str:
    return " | ".join(text for block in shown for text in texts(to_json(block)))


def test_nothing_recorded_names_all_that_is_missing_in_the_order_of_the_work() -> None:
    # ready for test is asked of a unit whose design names its options, before anybody answers
    assert report.sentence(given()).startswith("Not complete: no checklist is recorded; ")
    assert report.missing(given())[-3:] == [
        "no controller settings are recorded",
        "no start is recorded",
        "no electrical readings are recorded",
    ]


def test_a_start_in_order_is_complete_and_says_what_that_does_not_mean() -> None:
    held = given(CHECKED, SET, READ, STARTED)
    assert report.missing(held) == []
    complete = (
        "Complete as far as it is recorded: checklist, settings as left, start and electrical readings are there, and "
        "nothing that is asked of them is open."
    )
    first = report.sections(held, "ip")[0].blocks
    assert first[:2] == (Sentence(complete, "lead"), Sentence(report.NOT_SAID, "aside"))


def test_whatever_fails_is_named_with_where_and_what_is_accepted_is_not() -> None:
    backwards = electrical_records.record(
        electrical_records.fan(), electrical_records.fan("exhaust", rotation="reversed"), name="read"
    )
    # which way it turns is asked of the motor, and air that moves proves no fan that turns the wrong way
    fails = ["fan proven (exhaust fan): does not conform", "rotation of the fan (exhaust fan): does not conform"]
    assert report.missing(given(CHECKED, SET, backwards, STARTED)) == fails
    accepted = frozenset({("fan_rotation", "exhaust")})
    assert report.missing(given(CHECKED, SET, backwards, STARTED, accepted=accepted)) == fails[:1]
    assert report.missing(given(CHECKED, SET, READ, STARTED, issues=(ISSUE,))) == ["one issue is open"]


def test_that_it_is_not_started_is_named_where_nothing_else_says_why() -> None:
    no_power = {"cause": "no_power", "note": "feeder not pulled"}
    stands = startup_records.record(name="started", fans=[], dampers=[], not_running=no_power)
    held = given(CHECKED, SET, READ, stands)
    shown = said(blocks(held, "Start"))
    assert "feeder not pulled" in shown, shown
    rolled_up = [{**one} for one in held.judgements if one["requirement"] == "started"]
    alone = report.Given(held.identity, rolled_up, held.measurements)
    assert report.missing(alone) == ["started: does not conform"]


def test_settings_that_were_only_found_are_not_left() -> None:
    found = settings_records.record(name="found", moment="as_found")
    assert "the settings are not read as left" in report.missing(given(CHECKED, found, READ, STARTED))


def test_holds_and_their_releases_stand_in_it() -> None:
    wrong = checklist_records.record(*all_right("grounded"), no("grounded"), name="wrong")
    lifted = checklist_records.record(releases=[checklist_records.release("grounded")], name="lifted")
    held = given(wrong)
    assert "safety holds: does not conform" in report.missing(held)
    assert "What holds" in said(blocks(held, "Checklist"))
    assert "Released" in said(blocks(given(wrong, lifted), "Checklist"))


def test_cautions_stand_before_all_else_of_a_part_and_once() -> None:
    for title in ("Settings as left", "Start", "Electrical readings"):
        shown = blocks(given(CHECKED, SET, READ, STARTED), title)
        care = [one for one in shown if isinstance(one, Caution)]
        assert care
        assert list(shown[: len(care)]) == care == list(dict.fromkeys(care))


def test_every_requirement_that_it_asks_for_is_judged_somewhere() -> None:
    assert {code for part in report.PARTS for code in part.asked} <= set(judging.RULES)
    assert {part.kind for part in report.PARTS} <= set(judging.KINDS)


def test_who_recorded_what_has_the_whole_hash_and_the_words_of_the_trade() -> None:
    held = given(CHECKED, SET, READ, STARTED)
    (table,) = (one for one in blocks(held, "Who did what") if isinstance(one, Table))
    assert {row[2:] for row in table.rows} == {("Idris Fenwarden", " ".join([HASH[:16]] * 4))}
    assert len(table.rows) == 4
    for section in report.sections(held, "si"):
        assert not CODE.search(said(section.blocks)), section.title


def test_in_few_lines_it_counts_outcomes_and_names_the_newest_record() -> None:
    first, table = report.summary(given(CHECKED, SET), "ip")
    assert isinstance(table, Table)
    assert said((first,)).startswith("Not complete: no start is recorded; ")
    rows = {row[0]: row[1:] for row in table.rows}
    assert rows["Checklist"][0] == "2 conform"
    assert "Idris Fenwarden, SHA-256 0123456789abcdef…" in rows["Settings as left"][1]
    assert rows["Start"][1] == "No start is recorded"


def test_a_unit_that_does_not_count_is_asked_nothing() -> None:
    told = report.sentence(given(not_counted="by others"))
    assert told.startswith("Not counted, by others: no start is asked of it.")
