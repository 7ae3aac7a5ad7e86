"""A firm's own kinds, options, field sensors and groups: they choose its checks, and a document carries all of them."""

from __future__ import annotations

from typing import Any

import pytest

from commissioning import judging
from commissioning.blocks import Table
from commissioning.catalogue.checks import CATALOGUE
from commissioning.catalogue.units import VOCABULARY, Equipment
from commissioning.dossier.own_checks import merged
from tests.dossier.test_own_checks import LABEL, WIDE, of, states
from tests.judging.builder import conventions
from tests.judging.builder import document as builder_document
from tests.kinds.checklist_records import all_right, no, place, record

SASH = {"code": "own_sash", "title": "sash switch", "kinds": ["hrv", "own_lab_unit"]}
RADON = {"code": "own_radon", "title": "radon in the space"}
LAB = {"code": "own_lab", "title": "Laboratory"}
UNIT = {"code": "own_lab_unit", "title": "laboratory unit", "like": "hrv"}
WORDS: dict[str, Any] = {"option": [SASH], "sensor": [RADON], "group": [LAB], "kind": [UNIT]}
FOUR: dict[str, Any] = {  # an item that each of the four chooses, by itself
    "own_by_option": {"when": {"options": ["own_sash"]}},
    "own_by_sensor": {"when": {"sensors": ["own_radon"]}},
    "own_by_kind": {"when": {"kinds": ["own_lab_unit"]}},
    "own_in_group": {"group": "own_lab"},
}
OWN = WORDS | {"add": [LABEL | {"id": id} | rest for id, rest in FOUR.items()]}


def asked(equipment: dict[str, Any], own: dict[str, Any] = OWN, **changes: Any) -> set[str]:
    """Which of the firm's items stand on the checklist of such a unit."""
    where = place({"options": [], "field_sensors": []} | equipment, **changes)
    return {item for item in states(of(record(*all_right()), own=own, where=where)) if item.startswith("own_")}


@pytest.mark.parametrize(
    ("equipment", "items"),
    [
        ({}, {"own_in_group"}),
        ({"options": ["own_sash"]}, {"own_in_group", "own_by_option"}),
        ({"field_sensors": ["own_radon"]}, {"own_in_group", "own_by_sensor"}),
        ({"own_kind": "own_lab_unit"}, {"own_in_group", "own_by_kind"}),
    ],
)
def test_each_of_the_firm_s_words_chooses_its_items_and_no_other(equipment: dict[str, Any], items: set[str]) -> None:
    assert asked(equipment) == items


def test_a_group_for_a_kind_is_asked_there_alone_and_a_kind_holds_where_the_unit_is_like_it() -> None:
    own = OWN | {"group": [LAB | {"kinds": ["own_lab_unit"]}]}
    assert "own_in_group" not in asked({}, own)
    assert "own_in_group" in asked({"own_kind": "own_lab_unit"}, own)
    assert asked({"own_kind": "own_lab_unit"}, own, kind="exhaust_fan") == set()


def test_a_kind_of_the_firm_s_own_is_asked_all_that_the_one_is_asked_that_it_is_like() -> None:
    """Beside its own: what the catalogue asks of an HRV, counted by the catalogue itself."""
    ours = {item.id for item in CATALOGUE.applying(Equipment("hrv", drive=False))}
    theirs = {item.id for item in merged(OWN).applying(Equipment("hrv", drive=False, own_kind="own_lab_unit"))}
    assert theirs - ours == {"own_by_kind", "own_in_group"}
    assert ours < theirs


def test_a_group_of_the_firm_s_own_is_walked_last_and_told_by_its_title_from_the_judgement_alone() -> None:
    result = of(record(*all_right(), no("own_in_group")), own=OWN)
    judgement = result.judgement("ready_for_test")
    assert judgement["facts"]["groups"][-1]["group"] == "own_lab"
    shown = judging.RULES["ready_for_test"].show(judgement, {}, "si")
    (table,) = [block for block in shown if isinstance(block, Table) and block.caption == "By group"]
    assert table.rows[-1][:2] == ("Laboratory", "1")
    (measured,) = result.measurements
    captions = [one.caption for one in judging.KINDS["checklist"].show(measured, "si") if isinstance(one, Table)]
    assert "Laboratory" in captions


def test_a_version_that_was_kept_before_there_were_words_is_judged_as_it_was() -> None:
    """The hash was taken at the commit before them, by the same document."""
    own = {"add": [LABEL], "change": [WIDE], "drop": ["level"]}
    given = builder_document(
        record(*all_right("panel_depth"), no("own_label")),
        place=place(),
        conventions=conventions(own_checks={"version": 3, **own}),
    )
    (found,) = judging.judge_document(given)["positions"]
    assert found["inputs_hash"] == "4e89aaf9ed2eaa689b531b8395d31212c4654594765185cb4d494d4b7985f279"
    assert merged({"version": 3, **own}).words == VOCABULARY
    assert merged({"version": 3, **own}).groups == CATALOGUE.groups


ITEM = LABEL | {"id": "own_item"}
BROKEN: list[tuple[dict[str, Any], str, str]] = [
    ({"option": [SASH | {"code": "sash"}]}, "/option/0", "The code sash is none of a firm's own."),
    ({"option": [SASH | {"code": "own_Sash"}]}, "/option/0", "The code own_Sash is none of a firm's own."),
    ({"option": [{"code": "own_sash"}]}, "/option/0/title", "This field is missing."),
    ({"option": [SASH | {"colour": "red"}]}, "/option/0/colour", "There is no such field."),
    ({"option": [SASH | {"kinds": ["boiler"]}]}, "/option", "The option own_sash: no kind is called boiler."),
    ({"option": [SASH | {"kinds": []}, SASH | {"kinds": [], "title": "another"}]}, "", "own_sash stands twice."),
    ({"option": [SASH | {"kinds": [], "title": "Roof Curb"}]}, "/option", "another option is called Roof Curb"),
    ({"option": [SASH | {"kinds": [], "read_as": ["hood / sash"]}]}, "/option/0", "more than one word of a schedule"),
    ({"option": [RADON], "sensor": [RADON]}, "", "The item own_radon stands twice."),
    ({"sensor": [RADON, RADON | {"code": "own_rn"}]}, "/sensor", "The sensor own_rn: another sensor is called radon"),
    ({"sensor": [RADON | {"title": "Rn"}]}, "/sensor/0/title", "This text needs at least 3 characters."),
    ({"sensor": [RADON] * 61}, "/sensor", "There may be at most 60."),
    ({"group": [LAB | {"kinds": ["own_lab_unit"]}]}, "/group", "The group own_lab: no kind is called own_lab_unit."),
    ({"group": [LAB], "add": [LABEL | {"id": "own_lab"}]}, "", "The item own_lab stands twice."),
    ({"kind": [UNIT | {"like": "other"}]}, "/kind/0", "is like other, and no kind of the catalogue is"),
    ({"kind": [UNIT | {"like": "own_lab_unit"}]}, "/kind/0", "is like own_lab_unit, and no kind of the catalogue is"),
    ({"add": [ITEM | {"group": "own_lab"}]}, "/add/0", "The item own_item: no group is called own_lab."),
    ({"add": [ITEM | {"when": {"options": ["own_sash"]}}]}, "/add/0", "no option is called own_sash"),
    ({"sensor": [RADON], "add": [ITEM | {"when": {"options": ["own_radon"]}}]}, "/add/0", "no option is called own_r"),
    ({"add": [LABEL, ITEM | {"when": {"kinds": ["own_lab_unit"]}}]}, "/add/1", "no kind is called own_lab_unit"),
]


@pytest.mark.parametrize(("own", "at", "said"), BROKEN)
def test_a_broken_version_is_refused_at_its_place(own: dict[str, Any], at: str, said: str) -> None:
    given = builder_document(place=place(), conventions=conventions(own_checks=own))
    with pytest.raises(judging.DocumentError) as refused:
        judging.judge_document(given)
    (problem,) = refused.value.problems
    assert problem.pointer == f"/conventions/own_checks{at}"
    assert said in problem.reason
    assert problem.remedy


def test_every_fault_of_a_version_is_told_at_once() -> None:
    own = {"option": [SASH | {"code": "sash"}], "kind": [UNIT | {"like": "other"}], "drop": ["grounded"]}
    with pytest.raises(judging.DocumentError) as refused:
        judging.judge_document(builder_document(place=place(), conventions=conventions(own_checks=own)))
    assert {one.pointer.rsplit("own_checks")[1] for one in refused.value.problems} == {"/option/0", "/kind/0", "/drop"}


@pytest.mark.parametrize(
    ("equipment", "at", "what"),
    [
        ({"options": ["bypass", "own_hood"]}, "options/1", "option"),
        ({"options": ["own_radon"]}, "options/0", "option"),  # that is a sensor
        ({"field_sensors": ["own_sash"]}, "field_sensors/0", "sensor"),
        ({"own_kind": "own_hood"}, "own_kind", "kind"),
    ],
)
def test_a_design_names_nothing_that_the_document_s_version_has_not(
    equipment: dict[str, Any], at: str, what: str
) -> None:
    given = builder_document(place=place(equipment), conventions=conventions(own_checks=OWN))
    for judge in (judging.judge_document, judging.prepare):
        with pytest.raises(judging.DocumentError) as refused:
            judge(given)
        (problem,) = refused.value.problems
        assert problem.pointer == f"/positions/0/design/equipment/unit/{at}"
        assert problem.reason == f"The firm has no {what} of its own called {problem.value}."


def test_a_word_without_the_prefix_is_refused_as_before() -> None:
    given = builder_document(place=place({"options": ["jacuzzi"]}), conventions=conventions(own_checks=OWN))
    with pytest.raises(judging.DocumentError) as refused:
        judging.judge_document(given)
    assert "Jacuzzi is not known; known are fixed_core" in refused.value.problems[0].reason


def test_no_word_of_the_catalogue_could_be_a_firm_s_own() -> None:
    words = (*VOCABULARY.kinds, *VOCABULARY.options, *VOCABULARY.sensors, *(group.code for group in CATALOGUE.groups))
    assert not [code for code in words if code.startswith("own_")]
