"""A firm's lead keeps versions of its own checks: looked at first, asked on the form, and judged by."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.test import Client

from commissioning.evidence.own_checks import catalogue_of
from commissioning.models import CurrentVerdict, OwnChecks
from portfolio.jobs import runner
from portfolio.models import Job
from tests.cast import Cast
from tests.kinds.checklist_records import no, yes
from tests.pages.test_contractor_checklist import problems, submitted
from tests.pages.test_field_checklist import opened, outcome, sent, text

pytestmark = pytest.mark.django_db(transaction=True)

OWN = """
drop = ["level"]

[[add]]
id = "own_label"
group = "mounting"
text = "The firm's label is on the door."
why = "Who comes next finds the record by it."
how = "At eye level, on the hinge side."
trade = "electrical"
hold = "quality"
caution = ["height"]
"""


def lead(cast: Cast) -> tuple[Client, str]:
    client = Client()
    client.force_login(cast.person("own", "lead"))
    return client, f"/firms/{cast.things['firm'].pk}/checks"


def kept(cast: Cast, held: str = OWN) -> Any:
    client, url = lead(cast)
    answer = client.post(url, {"act": "keep", "text": held})
    return answer


def states() -> dict[str, str]:
    facts = CurrentVerdict.objects.get(requirement="ready_for_test").judgement.result["facts"]
    return {one["item"]: one["state"] for one in facts["items"]}


def test_looking_shows_what_differs_and_keeps_nothing_and_keeping_makes_versions(cast: Cast) -> None:
    client, url = lead(cast)
    looked = client.post(url, {"act": "look", "text": OWN}).content.decode()
    assert "asked as well" in looked
    assert "not asked any more" in looked
    assert not OwnChecks.objects.exists()
    assert (kept(cast).status_code, kept(cast, "").status_code) == (303, 303)
    assert [(one.version, bool(one.document)) for one in OwnChecks.objects.order_by("version")] == [
        (1, True),
        (2, False),
    ]
    assert "own_label" not in catalogue_of(cast.things["project"].pk).items  # nothing of its own any more


def test_every_fault_is_told_at_once_and_nothing_is_kept(cast: Cast) -> None:
    answer = kept(cast, OWN.replace('["level"]', '["grounded"]').replace('"electrical"', '"magic"'))
    page = answer.content.decode()
    assert answer.status_code == 400
    assert "<code>/drop</code>" in page
    assert "The safety item grounded is never dropped." in page
    assert "<code>/add/0</code>" in page
    assert "no trade is called magic" in page
    assert "This cannot be read as TOML" in kept(cast, "drop = [").content.decode()
    assert not OwnChecks.objects.exists()


def test_a_version_is_asked_on_the_form_and_judges_the_firm_s_units_again_and_no_other(cast: Cast) -> None:
    client, url = opened(cast)
    sent(client, url, a__isolators_free="yes")
    assert states()["level"] == "due"
    assert kept(cast).status_code == 303
    assert list(Job.objects.filter(kind="rejudge", due=True).values_list("subject", flat=True)) == [
        cast.things["firm"].pk
    ]
    runner.drain()
    assert "level" not in states()
    assert states()["own_label"] == "due"
    assert "The firm&#x27;s label is on the door." in text(client, url)
    assert sent(client, url, a__own_label="no").status_code == 303
    assert (states()["own_label"], outcome(cast, "ready_for_test")) == ("wrong", "does_not_conform")
    unit = client.get(f"/units/{cast.things['position'].pk}").content.decode()
    assert "The firm&#x27;s label is on the door." in unit
    assert catalogue_of(cast.things["foreign_project"].pk).items.keys().isdisjoint({"own_label"})


@pytest.mark.parametrize("version", ["", OWN.replace("own_label", "own_guard")])
def test_no_version_takes_a_safety_hold_of_the_firm_s_own_away(cast: Cast, version: str) -> None:
    """Left out, or a quality hold from now on, which the lead could lift."""
    guard = OWN.replace("own_label", "own_guard").replace('"quality"', '"safety"')
    client, url = opened(cast)
    assert kept(cast, guard).status_code == 303
    assert kept(cast, version).status_code == kept(cast, guard).status_code == 303  # it holds nowhere yet
    sent(client, url, a__own_guard="no")
    runner.drain()
    assert outcome(cast, "safety_holds") == "does_not_conform"
    refused = kept(cast, version)
    assert refused.status_code == 400
    tag = cast.things["position"].tag
    assert f"The safety item own_guard holds at {tag}: it is neither dropped nor changed." in refused.content.decode()
    assert kept(cast, guard.replace("Who comes", "Whoever comes")).status_code == 303  # its words alone


def test_a_firm_s_own_item_is_answered_by_its_trade(cast: Cast) -> None:
    opened(cast)
    kept(cast)
    name = cast.things["company"].name
    told = problems(submitted(cast, company=name, answers=[*yes("isolators_free"), no("own_label")]))
    assert [(at, "of the trade electrical" in reason) for at, reason in told] == [("/payload/answers/1", True)]
    assert json.dumps(told)
