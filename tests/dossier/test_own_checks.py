"""A firm's own checks: added, worded otherwise or dropped, judged by their version; a safety item stays as it is."""

from __future__ import annotations

from typing import Any

import pytest

from commissioning import judging
from commissioning.blocks import Table
from commissioning.catalogue.checks import CATALOGUE
from commissioning.dossier.own_checks import merged
from commissioning.dossier.own_equipment import OWN_ID
from tests.judging.builder import Result, conventions
from tests.judging.builder import document as builder_document
from tests.kinds.checklist_records import NOON, all_right, judged, lift, no, place, record, release, yes

LABEL = {
    "id": "own_label",
    "group": "mounting",
    "text": "The firm's label is on the door, with the tag.",
    "why": "Who comes next finds the record by it.",
    "how": "At eye level, on the hinge side.",
    "trade": "mechanical",
    "hold": "quality",
}
GAP = LABEL | {"id": "own_gap", "answer": "number", "unit": "m", "low": 0.5, "source": "our manual, 4.2", "hold": ""}
WIDE = {"id": "panel_depth", "text": "Working space in front, by our manual.", "low": 1.2, "source": "our manual, 4.1"}


def of(*records: Any, own: dict[str, Any], **changes: Any) -> Result:
    return judged(*records, conventions=conventions(own_checks={"version": 3, **own}), **changes)


def states(result: Result) -> dict[str, str]:
    return {one["item"]: one["state"] for one in result.judgement("ready_for_test")["facts"]["items"]}


def test_an_added_item_is_asked_and_its_hold_is_lifted_by_the_lead_alone() -> None:
    own = {"add": [LABEL]}
    assert states(of(record(*all_right()), own=own))["own_label"] == "due"
    wrong = record(*all_right(), no("own_label"))
    assert of(wrong, own=own).outcome("ready_for_test") == "does_not_conform"
    released = record(releases=[release("own_label")], name="released", at=NOON)
    assert states(of(wrong, released, own=own))["own_label"] == "wrong"  # a release is of safety holds
    lifted = record(lifts=[lift("own_label")], name="lifted", at=NOON)
    result = of(wrong, lifted, own=own)
    assert result.outcome("ready_for_test") == "conforms"
    blocks = judging.RULES["ready_for_test"].show(result.judgement("ready_for_test"), {}, "si")
    cells = [cell for block in blocks if isinstance(block, Table) for row in block.rows for cell in row]
    assert LABEL["text"] in cells


def test_limits_of_the_firm_decide_where_the_catalogue_s_would_let_it_pass() -> None:
    """At least 3 ft by the catalogue, 1.2 m by the firm: one metre passes the one and not the other."""
    one_metre = {"item": "panel_depth", "number": {"value": 1.0, "unit": "m"}}
    given = record(*all_right("panel_depth"), one_metre)
    assert judged(given).outcome("ready_for_test") == "conforms"
    result = of(given, own={"change": [WIDE]})
    assert states(result)["panel_depth"] == "wrong"
    assert result.judgement("ready_for_test")["facts"]["own"]["panel_depth"]["text"] == WIDE["text"]


def test_what_is_dropped_is_not_asked_and_an_old_answer_to_it_is_still_read() -> None:
    own = {"drop": ["level"]}
    assert of(record(*all_right("level")), own=own).outcome("ready_for_test") == "conforms"
    assert states(of(record(no("level")), own=own))["level"] == "wrong"
    assert merged(None) is CATALOGUE


def test_an_answer_to_an_item_that_the_firm_does_not_have_is_left_out_and_told() -> None:
    given = record(*yes("own_label", "level"), {"item": "own_gap", "yes": True})
    result = of(given, own={"add": [GAP]})
    assert result.problems == []
    assert states(result)["level"] == "right"
    (measured,) = result.measurements
    assert measured["remarks"] == [
        "An answer is left out: no item of this firm's checklist is called own_label.",
        "An answer is left out: the item own_gap is answered by a `number`, or by `cannot`, and by one of them.",
    ]


@pytest.mark.parametrize(
    ("own", "at", "said"),
    [
        ({"drop": ["grounded"]}, "/drop", "The safety item grounded is never dropped."),
        ({"drop": ["lever"]}, "/drop", "No item of the catalogue is called lever."),
        ({"drop": ["level", "level"]}, "", "The item level stands twice."),
        (
            {"change": [{"id": "grounded", "text": "Somebody says so."}]},
            "/change/0",
            "The safety item grounded is not",
        ),
        ({"change": [{"id": "level"}]}, "/change/0", "Nothing of level is changed."),
        (
            {"change": [{"id": "level", "low": 1.0, "source": "our manual"}]},
            "/change/0",
            "The item level is answered by",
        ),
        ({"change": [{"id": "panel_depth", "low": 1.2}]}, "/change/0", "Limits of your own have a source."),
        ({"change": [WIDE | {"high": 1.0}]}, "/change/0", "The limits 1.2 and 1 cross."),
        ({"add": [LABEL | {"id": "label"}]}, "/add/0", "The id label is none of a firm's own."),
        ({"add": [LABEL | {"group": "attic", "trade": "magic"}]}, "/add/0", "no trade is called magic; no group is"),
        ({"add": [GAP | {"source": ""}]}, "/add/0", "limits have a source"),
        ({"add": [GAP | {"unit": "cubit"}]}, "/add/0", "cubit"),
        ({"add": [LABEL | {"when": {"options": ["jacuzzi"]}}]}, "/add/0", "no option is called jacuzzi"),
    ],
)
def test_what_cannot_be_is_refused_with_its_place(own: dict[str, Any], at: str, said: str) -> None:
    given = builder_document(place=place(), conventions=conventions(own_checks=own))
    with pytest.raises(judging.DocumentError) as refused:
        judging.judge_document(given)
    (problem,) = refused.value.problems
    assert problem.pointer == f"/conventions/own_checks{at}"
    assert said in problem.reason
    assert problem.remedy


def test_no_item_of_the_catalogue_has_an_id_of_a_firm_s_own() -> None:
    assert not [id for id in CATALOGUE.items if OWN_ID.fullmatch(id)]
