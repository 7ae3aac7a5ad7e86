"""Safety holds and ready for test: several people's partial answers merged, holds lifted by those who may, or not.

The unit is an HRV with everything of `tests.kinds.checklist_records`; the number of its items is counted there.
"""

from __future__ import annotations

from typing import Any

import pytest

from commissioning import judging
from commissioning.blocks import Caution, Sentence, Table
from tests.judging.builder import Result, envelope
from tests.judging.builder import judged as judged_plain
from tests.kinds.checklist_records import (
    APPLYING,
    EVENING,
    IDRIS,
    MORNING,
    NOON,
    WREN,
    all_right,
    cannot,
    judged,
    lift,
    no,
    place,
    record,
    release,
    standing,
    states,
    yes,
)

SAFETY = [item.id for item in APPLYING if item.hold == "safety"]
REQUIREMENTS = ("safety_holds", "ready_for_test")


def outcomes(*records: Any, **changes: Any) -> tuple[str, str]:
    result = judged(*records, **changes)
    assert result.problems == []
    return result.outcome("safety_holds"), result.outcome("ready_for_test")


DONE = record(*all_right())
HELD = record(*all_right("grounded"), no("grounded"))
LATE = {"name": "later", "at": NOON}
RELEASED = record(releases=[release("grounded")], **LATE)
TABLE = [
    pytest.param([], ("not_due", "not_due"), id="nothing answered yet, the design names equipment"),
    pytest.param([DONE], ("conforms", "conforms"), id="all right"),
    pytest.param([HELD], ("does_not_conform", "does_not_conform"), id="a safety item answered no"),
    pytest.param([HELD, RELEASED], ("conforms", "conforms"), id="and released"),
    pytest.param(
        [HELD, record(*yes("grounded"), **LATE)],
        ("does_not_conform", "does_not_conform"),
        id="a later yes, by the same person, releases nothing",
    ),
    pytest.param(
        [HELD, record(*yes("grounded"), by=WREN, **LATE)],
        ("does_not_conform", "does_not_conform"),
        id="nor by another person",
    ),
    pytest.param(
        [HELD, RELEASED, record(no("grounded"), name="again", at=EVENING)],
        ("does_not_conform", "does_not_conform"),
        id="wrong again after its release: it holds again",
    ),
    pytest.param(
        [record(*all_right("grounded"), no("grounded"), at=NOON), record(releases=[release("grounded")], name="r")],
        ("does_not_conform", "does_not_conform"),
        id="a release recorded before the wrong answer",
    ),
    pytest.param(
        [HELD, record(releases=[release("grounded", on="2026-05-03")], **LATE)],
        ("does_not_conform", "does_not_conform"),
        id="a release of the day before",
    ),
    pytest.param(
        [HELD, record(releases=[release("terminals_tight")], **LATE)],
        ("does_not_conform", "does_not_conform"),
        id="the release of another item",
    ),
    pytest.param(
        [record(*all_right("grounded"), no("grounded"), releases=[release("grounded")])],
        ("conforms", "conforms"),
        id="answered and released in one record",
    ),
    pytest.param(
        [record(*all_right("ducts_sealed"), no("ducts_sealed"))],
        ("conforms", "does_not_conform"),
        id="a quality item answered no holds no power back",
    ),
    pytest.param(
        [record(*all_right("ducts_sealed"), no("ducts_sealed"), lifts=[lift("ducts_sealed")])],
        ("conforms", "conforms"),
        id="its hold lifted by the lead",
    ),
    pytest.param(
        [record(*all_right("ducts_sealed"), no("ducts_sealed")), record(*yes("ducts_sealed"), by=WREN, **LATE)],
        ("conforms", "conforms"),
        id="mended, and answered again",
    ),
    pytest.param(
        [record(*all_right("level"), no("level"))], ("conforms", "does_not_conform"), id="an item without a hold"
    ),
    pytest.param(
        [record(*all_right("level", "grounded"), cannot("level"), cannot("grounded"))],
        ("not_due", "not_due"),
        id="what cannot be answered is open and does not fail",
    ),
    pytest.param([record(*all_right("level"))], ("conforms", "not_due"), id="one not answered"),
    pytest.param(
        [record(*all_right("level", "grounded"), no("level"))],
        ("not_due", "does_not_conform"),
        id="a failure is told although a safety item is not answered",
    ),
]


@pytest.mark.parametrize(("records", "expected"), TABLE)
def test_holds_and_readiness(records: list[Any], expected: tuple[str, str]) -> None:
    assert outcomes(*records) == expected
    assert outcomes(*reversed(records)) == expected  # in whatever order they arrived


def test_nothing_is_said_where_nobody_uses_a_checklist() -> None:
    """Neither a record nor equipment in the design: no new judgement stands in the way of signing."""
    for result in (judged_plain(envelope({"supply": 1000.0})), judged(where=place({}))):
        assert [result.outcome(requirement) for requirement in REQUIREMENTS] == ["nothing said", "nothing said"]


def test_a_record_without_equipment_in_the_design_asks_what_every_unit_has() -> None:
    result = judged(record(*yes("level"), no("wheel_seals")), where=place({}))
    asked = states(result)
    assert "core_seated" not in asked
    assert asked["level"] == "right"
    assert asked["wheel_seals"] == "wrong"  # answered, so it is there, whatever the design says
    assert result.judgement("ready_for_test")["facts"]["design_named"] is False


def test_the_newest_answer_of_each_item_stands_and_the_other_person_stays_in_sight() -> None:
    first = record(*yes("level", "isolators_free"), no("ducts_sealed"), by=IDRIS)
    second = record(*yes("ducts_sealed"), no("level"), by=WREN, **LATE)
    result = judged(second, first)
    assert [states(result)[item] for item in ("level", "isolators_free", "ducts_sealed")] == ["wrong", "right", "right"]
    assert standing(result, "level")["others"] == [{"said": "yes", "on": MORNING}]
    assert standing(result, "isolators_free")["others"] == []
    again = record(no("level"), by=IDRIS, name="agrees", at=EVENING)
    assert standing(judged(first, second, again), "level")["others"] == []  # the first one has come round


def test_a_superseded_answer_is_out_with_the_hold_that_it_made() -> None:
    mended = record(*all_right(), name="corrected", at=NOON)
    mended["supersedes"] = [{"id": HELD["id"], "reason": "tapped on the wrong line"}]
    assert outcomes(HELD, mended) == ("conforms", "conforms")


def test_a_new_machine_makes_every_answer_due_again_item_by_item() -> None:
    """M-2 has sat here since the fifth; two answers were given on it, the others on the machine before."""
    swapped = place(machine={"serial": "M-2", "since": "2026-05-05"})
    old = record(*all_right("grounded"), no("grounded"))
    new = record(*yes("level", "doors_tight"), name="new", at="2026-05-06T08:00:00-05:00", serial_seen="M-2")
    result = judged(old, new, where=swapped)
    assert (result.outcome("safety_holds"), result.outcome("ready_for_test")) == ("recheck", "recheck")
    held = states(result)
    assert held.pop("level") == held.pop("doors_tight") == "right"
    assert set(held.values()) == {"again"}
    assert "changed on 2026-05-05" in result.judgement("safety_holds")["absence"]["text"]
    assert outcomes(old, record(*all_right(), name="new", at=new["observed_at"], serial_seen="M-2"), where=swapped) == (
        "conforms",
        "conforms",
    )


def test_answers_read_at_another_unit_count_for_nothing() -> None:
    result = judged(record(*all_right(), serial_seen="M-77"))
    assert set(states(result).values()) == {"again"}
    assert "M-77" in standing(result, "level")["note"]


def test_a_unit_out_of_scope_is_not_counted() -> None:
    assert outcomes(HELD, where=place(scope="deferred")) == ("not_counted", "not_counted")


def test_groups_are_counted_and_the_next_move_is_told_by_trade() -> None:
    rest = [item.id for item in APPLYING if item.group == "controls"]
    answers = all_right("grounded", "ducts_sealed", "level", *rest)
    given = record(
        *answers,
        no("grounded"),
        no("ducts_sealed"),
        cannot("level", "no_access", company="Orme Scaffolding"),
        lifts=[lift("ducts_sealed")],
    )
    facts = judged(given).judgement("ready_for_test")["facts"]
    counted = {one["group"]: one for one in facts["groups"]}
    assert sum(one["items"] for one in counted.values()) == len(APPLYING)
    wiring = sum(item.group == "wiring" for item in APPLYING)
    assert (counted["wiring"]["held"], counted["wiring"]["right"]) == (1, wiring - 1)
    assert counted["ducts"]["lifted"] == counted["mounting"]["cannot"] == 1
    assert counted["controls"]["due"] == len(rest)
    assert [(one["trade"], one["company"], one["items"]) for one in facts["moves"]] == [
        ("controls", "", rest),
        ("electrical", "", ["grounded"]),
        ("general", "Orme Scaffolding", ["level"]),
    ]


def test_i_p_and_si_give_the_same() -> None:
    feet, metres = (
        record(*all_right("panel_depth"), {"item": "panel_depth", "number": {"value": value, "unit": unit}})
        for value, unit in ((3.0, "ft"), (0.9144, "m"))
    )
    assert outcomes(feet) == outcomes(metres) == ("conforms", "conforms")


def blocks_of(result: Result, requirement: str) -> list[Any]:
    return list(judging.RULES[requirement].show(result.judgement(requirement), {}, "ip"))


def text_of(blocks: list[Any]) -> str:
    told = [block.text for block in blocks if isinstance(block, Sentence | Caution)]
    tables = [block for block in blocks if isinstance(block, Table)]
    cells = [cell for table in tables for row in table.rows for cell in row]
    return " ".join(filter(None, [*told, *(table.caption for table in tables), *cells]))


def test_a_hold_shows_its_cautions_then_what_holds_and_that_nobody_overrides_it() -> None:
    blocks = blocks_of(judged(HELD, record(*yes("grounded"), **LATE)), "safety_holds")
    assert isinstance(blocks[0], Caution)
    assert blocks[0].hazard == "live parts"
    assert "1 safety hold of" in blocks[1].text
    assert "nobody here overrides one" in blocks[1].text
    told = text_of(blocks)
    assert "answered right since, which releases nothing" in told
    assert "The release is given by the installing contractor or a licensed person" in told


@pytest.mark.parametrize("requirement", REQUIREMENTS)
@pytest.mark.parametrize("records", [one.values[0] for one in TABLE], ids=[one.id for one in TABLE])
def test_no_page_says_that_a_unit_may_be_energised_or_entered(records: list[Any], requirement: str) -> None:
    told = text_of(blocks_of(judged(*records), requirement)).lower()
    assert "is safe" not in told
    assert "safe to" not in told
    assert "may be energised" not in told.replace("says nothing about whether the unit may be energised or entered", "")
    assert "none" not in told.split()
    assert "  " not in told


def test_what_fails_stands_before_what_is_counted_and_a_conflict_stays_in_sight() -> None:
    other = record(no("level"), by=WREN, **LATE)
    blocks = blocks_of(judged(record(*all_right()), other), "ready_for_test")
    captions = [block.caption for block in blocks if isinstance(block, Table)]
    assert captions[0] == "What is wrong"
    assert captions.index("By group") > captions.index("Who has the next move")
    assert "Where two people answered differently" in captions
    assert "Of 5" in text_of(blocks) or "Of 6" in text_of(blocks)


def test_a_release_is_printed_with_the_name_the_company_and_the_licence() -> None:
    given = record(releases=[release("grounded", by="licensed_person", licence="E-2214", note="jumper fitted")], **LATE)
    told = text_of(blocks_of(judged(HELD, given), "safety_holds"))
    assert "Tove Brandeis, Halvard Electric, licensed person, licence E-2214, 2026-05-04: jumper fitted" in told
    assert f"{len(SAFETY)} safety items answered, 1 by a recorded release" in told


def test_the_lead_s_reason_is_printed() -> None:
    given = record(*all_right("ducts_sealed"), no("ducts_sealed"), lifts=[lift("ducts_sealed")])
    told = text_of(blocks_of(judged(given), "ready_for_test"))
    assert "The owner's own crew seals it in June; the airflow is read with it taped." in told


def test_a_list_of_functional_tests_alone_makes_no_checklist_due() -> None:
    result = judged(where=place({"tests": ["power"]}))
    assert not [one for one in result.judgements if one["requirement"] in REQUIREMENTS]
