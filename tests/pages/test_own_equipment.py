"""A firm's own kinds, options and field sensors through the whole line: kept, set up, read from schedules, judged."""

from __future__ import annotations

import json
from typing import Any

import pytest

from commissioning import judging
from commissioning.evidence.own_checks import catalogue_of
from commissioning.models import OwnChecks
from commissioning.verdicts.dossiers import gather
from portfolio.jobs import runner
from portfolio.models import DesignRevision, Position
from portfolio.schedules.entries import fields_of
from portfolio.schedules.reading import read_pasted
from portfolio.schedules.understanding import Choices, understand
from portfolio.schedules.understanding.equipment import SENSORS, OwnWord, codes_in
from tests.cast import Cast
from tests.flows.test_schedule import apply
from tests.pages.test_equipment_design import FORM, opened, sister, unit_of
from tests.pages.test_own_checks import OWN, kept, lead, states

pytestmark = pytest.mark.django_db(transaction=True)

SASH = """
[[option]]
code = "own_sash"
title = "sash switch"
kinds = ["erv", "own_lab_unit"]
read_as = ["fume hood switch"]
"""
KIND = """
[[kind]]
code = "own_lab_unit"
title = "laboratory unit"
like = "hrv"
"""
WORDS = (
    OWN.replace('hold = "quality"', 'hold = "quality"\nwhen = {options = ["own_sash"]}')
    + SASH
    + KIND
    + """
[[sensor]]
code = "own_radon"
title = "radon in the space"
"""
)


def set_up(cast: Cast, status: int = 303, **typed: Any) -> str:
    client, url = opened(cast)
    answer = client.post(url, FORM | {"kind": "erv"} | typed)
    assert answer.status_code == status, answer.content.decode()
    return answer.content.decode()


def units(cast: Cast) -> tuple[Position, Position]:
    return cast.things["position"], sister(cast, "ERV-8")


def test_a_unit_is_set_up_with_the_firm_s_own_and_so_are_its_sisters_and_their_checks_follow(cast: Cast) -> None:
    unit, near = units(cast)
    assert kept(cast, WORDS).status_code == 303
    client, url = opened(cast)
    page = client.get(url).content.decode()
    assert all(words in page for words in ("sash switch", "radon in the space", "laboratory unit"))
    ticked: dict[str, Any] = {
        "options": ["bypass", "own_sash"],
        "field_sensors": ["own_radon"],
        "sister": [str(near.pk)],
    }
    looked = client.post(url, FORM | ticked | {"kind": "own_lab_unit", "act": "look"}).content.decode()
    assert "kind: energy recovery ventilator → laboratory unit; options: not given → bypass around" in looked
    set_up(cast, kind="own_lab_unit", **ticked)
    for one in (unit, near):
        held = unit_of(one)
        assert (held["options"], held["field_sensors"]) == (["bypass", "own_sash"], ["own_radon"])
        assert (held["own_kind"], Position.objects.get(pk=one.pk).kind) == ("own_lab_unit", "hrv")
        assert asked(one)["own_label"] == "due"
    assert "Laboratory unit (heat recovery ventilator)" in client.get(f"/units/{unit.pk}").content.decode()
    set_up(cast, kind="hrv", options=["bypass"], dated="2026-05-05")
    assert (unit_of(unit)["own_kind"], unit_of(near)["own_kind"]) == (None, "own_lab_unit")
    assert "own_label" in asked(near)
    assert "own_label" not in asked(unit)


def asked(unit: Position) -> dict[str, str]:
    """Where each item stands, by the document alone as it leaves the server."""
    document = json.loads(json.dumps(gather({unit.pk}).document(unit.pk)))
    (found,) = judging.judge_document(document)["positions"]
    ready = next(one for one in found["judgements"] if one["requirement"] == "ready_for_test")
    return {one["item"]: one["state"] for one in ready["facts"]["items"]}


def test_the_document_of_a_unit_stands_alone(cast: Cast) -> None:
    unit, _ = units(cast)
    kept(cast, WORDS)
    set_up(cast, options=["own_sash"])
    runner.drain()
    assert asked(unit) == states()
    assert states()["own_label"] == "due"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"options": ["own_hood"]}, "options: own_hood is not known."),
        ({"kind": "own_hood"}, "kind: There is no such kind of unit."),
        ({"kind": "exhaust_fan", "options": ["own_sash"]}, "is of a kind that may not have sash switch."),
    ],
)
def test_what_the_firm_has_not_or_the_kind_may_not_have_is_refused_and_nothing_is_applied(
    cast: Cast, typed: dict[str, Any], said: str
) -> None:
    units(cast)
    kept(cast, WORDS)
    assert said in set_up(cast, 400, **typed)
    assert not DesignRevision.objects.exists()
    assert cast.things["position"].kind == Position.objects.get(pk=cast.things["position"].pk).kind


def test_another_firm_s_words_are_not_offered(cast: Cast) -> None:
    kept(cast, WORDS)
    assert "own_sash" not in catalogue_of(cast.things["foreign_project"].pk).words.options


@pytest.mark.parametrize(
    ("version", "said"),
    [
        ("", "2 units have the option own_sash, which is not in this version: ERV-1, ERV-8."),
        ("", "1 unit has the sensor own_radon, which is not in this version: ERV-1."),
        ("", "2 units have the kind own_lab_unit, which is not in this version: ERV-1, ERV-8."),
        (
            WORDS.replace('["erv", "own_lab_unit"]', '["erv"]'),
            "2 units have the option own_sash, which is for other kinds of unit in this version: ERV-1, ERV-8.",
        ),
        (
            WORDS.replace('like = "hrv"', 'like = "doas"'),
            "2 units have the kind own_lab_unit, which is for other kinds of unit in this version: ERV-1, ERV-8.",
        ),
    ],
)
def test_no_version_takes_from_units_what_they_have_by_their_design(cast: Cast, version: str, said: str) -> None:
    unit, near = units(cast)
    said = said.replace("ERV-1,", f"{unit.tag},").replace("ERV-1.", f"{unit.tag}.")
    kept(cast, WORDS)
    typed: dict[str, Any] = {"kind": "own_lab_unit", "options": ["own_sash"], "sister": [str(near.pk)]}
    set_up(cast, **typed)
    set_up(cast, **typed | {"sister": [], "field_sensors": ["own_radon"], "dated": "2026-05-05"})
    client, url = lead(cast)
    for act in ("look", "keep"):
        answer = client.post(url, {"act": act, "text": version})
        assert answer.status_code == 400
        assert said in answer.content.decode()
    assert OwnChecks.objects.count() == 1
    assert kept(cast, WORDS.replace("radon in the space", "radon")).status_code == 303  # another title takes nothing
    rest: dict[str, Any] = {"options": ["bypass"], "field_sensors": ["none"], "sister": [str(near.pk)]}
    set_up(cast, kind="hrv", dated="2026-05-06", **rest)
    assert kept(cast, "").status_code == 303  # nobody has it any more


def test_looking_tells_what_is_added_changed_dropped_and_as_it_was(cast: Cast) -> None:
    kept(cast, WORDS)
    client, url = lead(cast)
    version = WORDS.replace(KIND, "").replace(', "own_lab_unit"', "").replace("own_radon", "own_rn")
    page = client.post(url, {"act": "look", "text": version + '[[group]]\ncode = "own_lab"\ntitle = "Laboratory"'})
    told = page.content.decode()
    for code, what in (
        ("own_sash", "option, changed"),
        ("own_rn", "field sensor, added"),
        ("own_radon", "field sensor, dropped"),
        ("own_lab", "group of checks, added"),
        ("own_lab_unit", "kind of unit, dropped"),
    ):
        assert f"<code>{code}</code></th><td>{what}</td>" in told
    same = client.post(url, {"act": "look", "text": WORDS}).content.decode()
    assert same.count(", unchanged</td>") == 3


def test_a_spelling_that_schedules_use_for_something_else_is_refused(cast: Cast) -> None:
    page = kept(cast, WORDS.replace("fume hood switch", "OA damper")).content.decode()
    assert "A schedule&#x27;s OA damper is read as outdoor_damper already." in page
    assert "Take another title or another spelling." in page
    assert not OwnChecks.objects.exists()


HEAD = "TAG\tBUILDING\tSUPPLY CFM\tOPTIONS\tFIELD SENSORS\n"


def pasted(cast: Cast, row: str) -> dict[str, Any]:
    client = cast.actor("own", "lead")
    url = f"projects/{cast.things['project'].pk}/imports?name=pasted.txt"
    answer = client.call("POST", url, (HEAD + row).encode())
    told = answer.json()
    change = {"dated": "2026-02-01", "air_basis": "standard"}
    return client.call("PATCH", f"imports/{told['id']}", change).json()  # type: ignore[no-any-return]


def test_a_schedule_names_the_firm_s_own_by_code_by_title_and_as_it_is_written(cast: Cast) -> None:
    kept(cast, WORDS)
    name = cast.things["building"].name
    told = pasted(cast, f"ERV-21\t{name}\t900\tBypass; 2 fume hood switch\tRadon in the space, CO2\n")
    assert told["may_apply"], told["errors"]
    assert not [one for one in told["remarks"] if one["code"] == "word_unknown"]
    apply(cast, told)
    held = unit_of(Position.objects.get(tag="ERV-21"))
    assert (held["options"], held["field_sensors"]) == (["bypass", "own_sash"], ["own_radon", "co2"])


def test_a_schedule_that_gives_a_unit_what_its_kind_may_not_have_is_an_error_in_its_cell(cast: Cast) -> None:
    kept(cast, WORDS)
    told = pasted(cast, f"EF-21\t{cast.things['building'].name}\t900\tsash switch\t\n")
    (error,) = told["errors"]
    assert (error["row"], error["column"], error["code"]) == (2, "D", "not_of_this_kind")
    assert error["reason"] == "EF-21 is of a kind that may not have sash switch."
    assert not told["may_apply"]
    apply(cast, told, status=400)
    assert not Position.objects.filter(tag="EF-21").exists()


def test_without_the_firm_s_words_a_cell_is_read_as_before() -> None:
    own = (OwnWord(SENSORS, "own_radon", "radon in the space", ("Rn",)),)
    assert codes_in(SENSORS, "CO2; Rn") == (("co2",), ("Rn",))
    assert codes_in(SENSORS, "CO2; Rn; own_radon; Radon in the space", own) == (("co2", "own_radon"), ())
    held = understand(read_pasted(HEAD + "ERV-1\tA\t900\t\tRn\n"), choices=Choices(air_basis="standard"), own=own)
    assert fields_of(held.rows[0], partial=False, own=own)["equipment"]["unit"]["field_sensors"] == ["own_radon"]
