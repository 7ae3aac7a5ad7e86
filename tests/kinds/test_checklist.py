"""What a checklist record amounts to: each answer held to what its item wants, and what cannot be an answer."""

from __future__ import annotations

import doctest
import sys
from typing import Any

import pytest

from commissioning.blocks import Caution, Photo, Table
from commissioning.catalogue.checks import CATALOGUE
from commissioning.kinds import checklist
from tests.judging.builder import Result
from tests.kinds.checklist_records import all_right, cannot, judged, lift, no, record, release, right, signoff, yes

HASH = "ab" * 32


def answers(result: Result) -> dict[str, dict[str, Any]]:
    assert result.problems == []
    (one,) = [held for held in result.measurements if held["kind"] == "checklist"]
    return {answer["item"]: answer for answer in one["facts"]["answers"]}


@pytest.mark.parametrize(
    ("answer", "outcome", "said"),
    [
        ({"item": "level", "yes": True}, "right", "yes"),
        ({"item": "level", "yes": False}, "wrong", "no"),
        ({"item": "intake_distance", "number": {"value": 10.0, "unit": "ft"}}, "right", "10 ft"),
        ({"item": "intake_distance", "number": {"value": 3.0, "unit": "m"}}, "wrong", "3 m"),
        ({"item": "control_voltage", "number": {"value": 26.5, "unit": "V"}}, "wrong", "26.5 V"),
        ({"item": "filters_fitted", "choice": "final, clean"}, "right", "final, clean"),
        ({"item": "filters_fitted", "choice": "construction"}, "wrong", "construction"),
        ({"item": "plate_photo", "photos": [HASH]}, "right", "photo"),
        ({"item": "plate_photo", "photos": [HASH, "cd" * 32]}, "right", "2 photos"),
        (cannot("level", "no_access"), "cannot", "no access"),
        (cannot("intake_distance", "ceiling_open"), "cannot", "ceiling still open, or already closed"),
    ],
)
def test_each_answer_is_held_to_what_its_item_wants(answer: dict[str, Any], outcome: str, said: str) -> None:
    """10 ft are the limit itself, 3 m are 9.84 ft, 26.5 V lie above 24 V and a tenth."""
    found = answers(judged(record(answer)))[answer["item"]]
    assert (found["outcome"], found["said"]) == (outcome, said)


@pytest.mark.parametrize(
    ("reason", "told", "trade", "company"),
    [
        ("no_power", {}, "electrical", ""),
        ("controls_not_ready", {}, "controls", ""),
        ("no_access", {"trade": "mechanical"}, "mechanical", ""),
        ("other", {"company": "Halvard Electric "}, "", "Halvard Electric"),
        ("ceiling_open", {"company": "Orme Ceilings"}, "general", "Orme Ceilings"),
    ],
)
def test_what_cannot_be_answered_names_who_unblocks_it(
    reason: str, told: dict[str, Any], trade: str, company: str
) -> None:
    found = answers(judged(record(cannot("level", reason, **told))))["level"]
    assert (found["reason"], found["trade"], found["company"]) == (reason, trade, company)


def test_the_state_of_the_unit_takes_nothing_from_an_answer() -> None:
    state = {"outdoor_damper": "closed", "filters": "construction"}
    (one,) = judged(record(*yes("level"), state=state)).measurements
    assert (one["faults"], one["unseen"]) == ([], [])


BAD = [
    (
        {"answers": [{"item": "sails", "yes": True}]},
        "/payload/answers/0/item",
        "no item of the checklist is called sails",
    ),
    ({"answers": [{"item": "level"}]}, "/payload/answers/0", "level is answered by `yes`"),
    ({"answers": [{"item": "level", "choice": "yes"}]}, "/payload/answers/0", "level is answered by `yes`"),
    ({"answers": [{"item": "level", "yes": "yes"}]}, "/payload/answers/0/yes", "neither true nor false"),
    ({"answers": [{**cannot("level"), "yes": True}]}, "/payload/answers/0", "by one of them"),
    ({"answers": [{"item": "plate_photo"}]}, "/payload/answers/0", "by a photo, and there is none"),
    ({"answers": [{"item": "plate_photo", "photos": ["x"]}]}, "/payload/answers/0/photos/0", "the form asked for"),
    ({"answers": [{"item": "filters_fitted", "choice": "old"}]}, "/payload/answers/0", "final, clean; final, loaded"),
    (
        {"answers": [{"item": "intake_distance", "number": {"value": 10, "unit": "V"}}]},
        "/payload/answers/0",
        "length",
    ),
    (
        {"answers": [{"item": "intake_distance", "number": {"value": -1.0, "unit": "m"}}]},
        "/payload/answers/0",
        "-1 m lies outside",
    ),
    ({"answers": [cannot("level", "other")]}, "/payload/answers/0/cannot", "say who unblocks it"),
    ({"answers": [cannot("level", "tired")]}, "/payload/answers/0/cannot/reason", "not known here"),
    ({"answers": [*yes("level"), no("level")]}, "/payload", "level is answered twice"),
    ({"answers": []}, "/payload", "nothing is answered in it"),
    ({"releases": [release("level")]}, "/payload/releases/0", "holds nothing back for safety"),
    ({"releases": [release("grounded", person="")]}, "/payload/releases/0/person", "at least 2 characters"),
    ({"releases": [release("grounded", company="")]}, "/payload/releases/0/company", "at least 2 characters"),
    ({"releases": [release("grounded", by="commissioning_lead")]}, "/payload/releases/0/by", "not known here"),
    ({"releases": [release("grounded", by="licensed_person")]}, "/payload/releases/0", "names the licence"),
    ({"releases": [release("grounded", on="May")]}, "/payload/releases/0/on", ""),
    ({"lifts": [lift("grounded")]}, "/payload/lifts/0", "only a recorded release lifts it"),
    ({"signoffs": [signoff("balancing")]}, "/payload/signoffs/0", "balancing signs nothing; those that sign are mech"),
    ({"signoffs": [signoff("general")] * 2}, "/payload", "general is signed off twice"),
    ({"lifts": [lift("level")]}, "/payload/lifts/0", "holds nothing back"),
    ({"lifts": [lift("ducts_sealed", reason="ok")]}, "/payload/lifts/0/reason", "at least 10 characters"),
    ({"answers": yes("level"), "signed": True}, "/payload/signed", "no such field"),
]


@pytest.mark.parametrize(("payload", "field", "said"), BAD)
def test_what_cannot_be_an_answer_is_kept_and_named(payload: dict[str, Any], field: str, said: str) -> None:
    made = record()
    made["payload"] = payload
    result = judged(made)
    (problem,) = result.problems
    assert problem["field"] == field
    assert said.lower() in problem["reason"].lower()
    assert problem["remedy"]
    assert result.measurements == []


def test_it_shows_cautions_first_then_what_is_wrong_then_each_group() -> None:
    wrong = no("grounded", note="no jumper across the isolators", photos=[HASH])
    (one,) = judged(record(*yes("level", "ducts_sealed"), wrong, cannot("switches_in_auto"))).measurements
    blocks = checklist.show(one, "ip")
    kinds = [type(block) for block in blocks]
    assert kinds[:2] == [Caution, Caution]
    assert {block.hazard for block in blocks if isinstance(block, Caution)} == {"live parts", "rotating parts"}
    first, *groups = [block for block in blocks if isinstance(block, Table)]
    assert first.rows[0][1] == "no; no jumper across the isolators"
    assert [table.caption for table in groups] == [
        "Delivery and mounting",
        "Duct and outdoor intake",
        "Wiring and power",
        "Controls",
    ]
    assert "electrical unblocks it" in groups[-1].rows[0][1]
    assert blocks[-1] == Photo(HASH, CATALOGUE.items["grounded"].text)
    assert checklist.headline(one, "ip") == "4 answered: 1 wrong, 1 cannot be answered yet, 2 right"


def test_a_release_and_a_lift_show_who_gave_them() -> None:
    made = record(releases=[release("grounded", by="licensed_person", licence="E-2214")], lifts=[lift("ducts_sealed")])
    (one,) = judged(made).measurements
    told = " ".join(
        cell for block in checklist.show(one, "si") if isinstance(block, Table) for row in block.rows for cell in row
    )
    assert "Tove Brandeis, Halvard Electric, licensed person, licence E-2214, 2026-05-04" in told
    assert "Maren Tollefsby, 2026-05-04: The owner's own crew" in told
    assert checklist.headline(one, "si") == "1 release of a safety hold; 1 lift of a quality hold"


def test_a_photo_that_the_record_does_not_list_is_no_answer_and_is_told() -> None:
    made = record({"item": "plate_photo", "photos": [HASH]}, {"item": "level", "yes": True, "photos": ["cd" * 32]})
    made["photos"] = []
    result = judged(made)
    found = answers(result)
    assert [found[item]["outcome"] for item in ("plate_photo", "level")] == ["wrong", "right"]
    (one,) = result.measurements
    assert len(one["remarks"]) == 2
    assert not [block for block in checklist.show(one, "si") if isinstance(block, Photo)]


def test_every_item_can_be_answered_rightly() -> None:
    found = answers(judged(record(*all_right())))
    assert {one["outcome"] for one in found.values()} == {"right"}
    assert len(found) > 50


def test_every_other_item_too() -> None:
    found = answers(judged(record(*(right(item) for item in CATALOGUE.items.values()))))
    assert [one["item"] for one in found.values() if one["outcome"] != "right"] == []


def test_the_example_in_the_docstring_holds() -> None:
    found = doctest.testmod(sys.modules["commissioning.kinds.checklist.show"])
    assert (found.failed, found.attempted > 0) == (0, True)
