"""A lead sets what a unit has, and takes it to its sisters: a dry run, then one revision of only what is named."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from portfolio.models import DesignEntry, DesignRevision, Job, Position
from portfolio.models.design import fold_entries
from tests.cast import Cast

pytestmark = pytest.mark.django_db(transaction=True)

FORM = {"dated": "2026-05-04", "source": "addendum", "title": "As ordered", "kind": "hrv", "act": "apply"}
TICKED = {"options": ["bypass", "outdoor_damper"], "field_sensors": ["none"], "ducted": "stand_alone"}


def sister(cast: Cast, tag: str, **rest: Any) -> Position:
    unit: Position = cast.things["position"]
    given = {"building": unit.building, "system": unit.system, "kind": "erv"} | rest
    return Position.objects.create(tag=tag, **given)


def opened(cast: Cast) -> tuple[Client, str]:
    client = Client()
    client.force_login(cast.person("own", "lead"))
    return client, f"/units/{cast.things['position'].pk}/equipment"


def unit_of(position: Position) -> dict[str, Any]:
    held: dict[str, Any] = fold_entries(DesignEntry.objects.filter(position=position).select_related("revision"))
    return held.get("equipment", {}).get("unit", {})  # type: ignore[no-any-return]


def test_a_set_up_goes_to_the_chosen_sisters_in_one_revision_that_names_what_changes(cast: Cast) -> None:
    client, url = opened(cast)
    near, other = sister(cast, "ERV-8"), sister(cast, "ERV-9", kind="hrv", system=None)
    page = client.get(url).content.decode()
    assert f'value="{near.pk}" checked' in page  # same system and kind
    assert f'value="{other.pk}">' in page
    typed = FORM | TICKED | {"sister": [str(near.pk), str(other.pk)]}
    looked = client.post(url, typed | {"act": "look"}).content.decode()
    assert "What would change at 3 units" in looked
    assert "kind: energy recovery ventilator → heat recovery ventilator; options: not given → bypass around" in looked
    assert not DesignRevision.objects.exists()
    assert client.post(url, typed).status_code == 303
    for one in (cast.things["position"], near, other):
        assert unit_of(one)["options"] == ["bypass", "outdoor_damper"]
        assert (unit_of(one)["field_sensors"], Position.objects.get(pk=one.pk).kind) == ([], "hrv")
        assert Job.objects.filter(kind="judge", subject=one.pk, due=True).exists()
    assert DesignRevision.objects.get().partial


def test_a_list_in_which_nothing_is_ticked_stays_as_it_was_and_an_equal_one_makes_no_entry(cast: Cast) -> None:
    client, url = opened(cast)
    unit, near = cast.things["position"], sister(cast, "ERV-8")
    assert client.post(url, FORM | TICKED | {"kind": "erv", "sister": [str(near.pk)]}).status_code == 303
    change = {"kind": "erv", "options": ["wheel"], "sister": [str(near.pk)], "dated": "2026-05-05"}
    assert client.post(url, FORM | change).status_code == 303
    assert DesignEntry.objects.filter(revision__number=2, position=unit).get().fields == {
        "equipment": {"unit": {"options": ["wheel"]}}
    }
    assert unit_of(near)["sources"]["ducted"] == "Revision 1, addendum, 2026-05-04"
    again = client.post(url, FORM | change)
    assert (again.status_code, DesignRevision.objects.count()) == (400, 2)
    assert "Nothing would change." in again.content.decode()


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"options": ["bypass", "none"]}, "None of these is ticked, and some are."),
        ({"options": ["jacuzzi"]}, "options: jacuzzi is not known."),
        ({"kind": "boiler"}, "kind: There is no such kind of unit."),
        ({"dated": "4 May"}, "dated: This is no date."),
        ({"sister": "other_position"}, "There is no such unit in this project"),
    ],
)
def test_what_cannot_be_applied_says_why_and_changes_no_unit(cast: Cast, wrong: dict[str, Any], said: str) -> None:
    client, url = opened(cast)
    if "sister" in wrong:
        wrong = {"sister": [str(cast.things[wrong["sister"]].pk)]}
    answer = client.post(url, FORM | TICKED | wrong)
    assert answer.status_code == 400
    assert said in answer.content.decode()
    assert not DesignRevision.objects.exists()
    assert Position.objects.get(pk=cast.things["position"].pk).kind == "erv"
