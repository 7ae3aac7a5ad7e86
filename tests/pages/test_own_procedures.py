"""A firm's lead keeps versions of its own procedures: looked at first, run on the form, judged by, never lost."""

from __future__ import annotations

import json
from html import unescape
from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from commissioning import judging
from commissioning.catalogue.procedures import LIBRARY
from commissioning.evidence.own_procedures import library_of
from commissioning.models import CurrentVerdict, OwnProcedures
from commissioning.verdicts.dossiers import gather
from portfolio.jobs import runner
from portfolio.models import AuditEvent, DesignEntry, Job
from tests.cast import Cast
from tests.pages.test_field_test_run import opened, sent
from tests.pages.test_own_checks import kept as keep_checks
from tests.pages.test_own_checks import lead as lead_of_checks

pytestmark = pytest.mark.django_db(transaction=True)

HOOD = """
[[add]]
code = "own_hood"
title = "Kitchen hood and make-up air"
version = 1
why = "A hood without its make-up air pulls flue gas into the kitchen."
safe_state = "Hood and make-up air off."
caution = ["hot_surfaces"]
[add.needs]
season = "any"
occupancy = "The kitchen is not cooking."
coordination = "The kitchen's staff know of it."
[[add.step]]
id = "both_start"
do = "Have the hood started by its switch."
expect = "The make-up air starts with it."
[[add.step]]
id = "stays_up"
do = "Look at both for five minutes."
expect = "Both stay on."
[[add.step]]
id = "as_found"
part = "restore"
do = "Switch the hood off."
expect = "Both stand still, as found."
photo = true
"""
WORDS = """
[[reword]]
procedure = "power"
step = "as_found"
do = "Photo of all four pages of the controller, by our list."
"""


def lead(cast: Cast) -> tuple[Client, str]:
    client, _ = lead_of_checks(cast)
    return client, f"/firms/{cast.things['firm'].pk}/procedures"


def kept(cast: Cast, text: str = HOOD) -> Any:
    client, url = lead(cast)
    return client.post(url, {"act": "keep", "text": text})


def asked_for(cast: Cast, *tests: str) -> tuple[Client, str]:
    client, url = opened(cast)
    for entry in DesignEntry.objects.all():
        entry.fields["equipment"]["unit"]["tests"] = list(tests)
        entry.save()
    return client, url


def test_looking_says_what_would_change_and_keeps_nothing_and_keeping_makes_versions(cast: Cast) -> None:
    client, url = lead(cast)
    looked = client.post(url, {"act": "look", "text": HOOD + WORDS}).content.decode()
    assert "<code>own_hood</code></th><td>added</td><td>Kitchen hood and make-up air: 3 steps, version 1" in looked
    assert "<code>power, as_found</code></th><td>reworded</td><td>Photo of all four pages" in looked
    assert f"{len(LIBRARY.procedures) - 1} of the catalogue's {len(LIBRARY.procedures)} procedures are as" in looked
    assert not OwnProcedures.objects.exists()
    assert [kept(cast, one).status_code for one in (HOOD + WORDS, HOOD, "")] == [303, 303, 303]
    versions = OwnProcedures.objects.order_by("version").values_list("version", "document")
    assert [(version, list(document)) for version, document in versions] == [
        (1, ["add", "reword"]),
        (2, ["add"]),
        (3, []),
    ]
    assert AuditEvent.objects.filter(verb="keep_procedures").count() == 3
    assert "Version 2, " in client.get(url).content.decode()
    assert library_of(cast.things["project"].pk) is LIBRARY  # nothing of its own any more


def test_a_file_and_json_of_the_same_form_are_read_alike(cast: Cast) -> None:
    client, url = lead(cast)
    file = SimpleUploadedFile("own.toml", ("\ufeff" + HOOD).encode())
    assert client.post(url, {"act": "keep", "text": "not looked at", "file": file}).status_code == 303
    document = OwnProcedures.objects.get().document
    assert kept(cast, json.dumps(document)).status_code == 303
    assert OwnProcedures.objects.latest("version").document == document


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[[add]\n", "This cannot be read as TOML: "),
        (HOOD.replace("version = 1", "version ="), "(at line 4, column 10)"),
        ('{"add": [}', "column 10"),
        (HOOD.replace("photo = true", "photo = true\nlow = nan"), "This is no finite number."),
        ('{"add": [], "add": []}', "twice"),
        ("version = 3\n" + HOOD, "A version is not chosen."),
        (HOOD.replace("part", "parts"), "<code>/add/0/step/2/parts</code>"),
        (HOOD.replace("photo = true", ""), "a step of its restoring has a photo"),
        (HOOD.replace("by its switch", "under load"), "nothing is switched under load"),
        ("x" * 400_001, "This has more than 400,000 characters."),
    ],
)
def test_what_cannot_be_read_or_may_not_be_is_told_and_nothing_is_kept(cast: Cast, text: str, said: str) -> None:
    answer = kept(cast, text)
    assert answer.status_code == 400
    assert said in answer.content.decode()
    assert "Nothing is kept." in answer.content.decode()
    assert not OwnProcedures.objects.exists()
    assert not Job.objects.filter(kind="rejudge").exists()


def test_every_fault_is_told_at_once(cast: Cast) -> None:
    broken = HOOD.replace('"own_hood"', '"hood"') + WORDS.replace("as_found", "isolated") + WORDS.replace("power", "x")
    page = kept(cast, broken).content.decode()
    assert all(f"<code>{at}</code> " in page for at in ("/add/0", "/reword/0", "/reword/1"))
    assert "<code>/add/0</code> The code hood is none of a firm&#x27;s own. Begin it with own_" in page


def test_a_file_that_is_no_text_is_told_with_its_name_and_place(cast: Cast) -> None:
    client, url = lead(cast)
    page = client.post(url, {"act": "look", "file": SimpleUploadedFile("own.toml", b"ab\xff")})
    assert page.status_code == 400
    assert "own.toml: This file is no text in UTF-8: byte 2." in page.content.decode()
    large = SimpleUploadedFile("own.toml", BytesIO(b"#" * 1_600_001).getvalue())
    assert "has more than 1,600,000 bytes" in client.post(url, {"act": "look", "file": large}).content.decode()


def test_it_is_planned_run_and_judged_at_the_firm_s_units_and_at_no_other(cast: Cast) -> None:
    client, url = asked_for(cast, "own_hood")
    assert kept(cast, HOOD + WORDS).status_code == 303
    (job,) = Job.objects.filter(kind="rejudge", due=True)
    assert job.subject == cast.things["firm"].pk
    runner.drain()
    position = cast.things["position"]
    verdict = CurrentVerdict.objects.get(position=position, requirement="functional_tests", port="own_hood")
    assert verdict.outcome == "not_due"
    form = client.get(f"{url}?procedure=own_hood").content.decode()
    assert "Have the hood started by its switch." in form
    assert form.index("hot surfaces") < form.index("Have the hood started by its switch.")
    assert "Photo of all four pages of the controller" in client.get(f"{url}?procedure=power").content.decode()
    plan = client.get(f"/api/v1/positions/{position.pk}/test-plan").json()["tests"]
    assert [one["due"] for one in plan if one["procedure"] == "own_hood"] == [True]
    assert sent(client, url, procedure="own_hood", a__both_start="yes", a__stays_up="no").status_code == 303
    verdict.refresh_from_db()
    assert verdict.outcome == "does_not_conform"
    unit = client.get(f"/units/{position.pk}").content.decode()
    assert "Kitchen hood and make-up air: 1 of 3 steps as expected, 1 not as expected." in unit
    assert library_of(cast.things["foreign_project"].pk) is LIBRARY


def test_the_document_of_a_unit_carries_it_and_judged_alone_it_says_the_same(cast: Cast) -> None:
    client, url = asked_for(cast, "own_hood")
    kept(cast)
    sent(client, url, procedure="own_hood", a__both_start="yes", a__stays_up="no")
    position = cast.things["position"].pk
    document = json.loads(json.dumps(gather({position}).document(position)))
    assert document["conventions"]["own_procedures"]["version"] == 1
    alone = judging.judge_document(document)["positions"][0]["judgements"]
    kept_there = CurrentVerdict.objects.get(position=position, requirement="functional_tests", port="own_hood")
    (held,) = [one for one in alone if one["port"] == "own_hood"]
    assert held == kept_there.judgement.result


@pytest.mark.parametrize(
    ("was", "becomes", "said"),
    [
        (HOOD, WORDS, "The procedure own_hood was run at"),
        ("caution = ", "# ", "own_hood is not what was kept as its version 1, beyond its words."),
        ("version = 1", "version = 2\ncounts_from = 1\nwitnessed = false\n", ""),
        ('id = "stays_up"', 'id = "stays_on"', "The step stays_up of own_hood is left out, and old runs name it."),
        ("five minutes", "ten minutes", ""),
    ],
)
def test_a_next_version_loses_no_run_and_changes_openly(cast: Cast, was: str, becomes: str, said: str) -> None:
    client, url = asked_for(cast, "own_hood")
    kept(cast)
    sent(client, url, procedure="own_hood", a__both_start="yes")
    assert was in HOOD
    answer = kept(cast, HOOD.replace(was, becomes))
    assert answer.status_code == (400 if said else 303)
    assert said in answer.content.decode()


def test_a_word_of_the_firm_s_own_stands_in_its_checks_first(cast: Cast) -> None:
    switched = HOOD.replace("version = 1", 'version = 1\nwhen = [{options = ["own_switch"]}]\notherwise = "No hood."')
    refused = kept(cast, switched)
    assert refused.status_code == 400
    assert "The firm has no option called own_switch." in refused.content.decode()
    keep_checks(cast, '[[option]]\ncode = "own_switch"\ntitle = "hood switch"\n')
    assert kept(cast, switched).status_code == 303


def test_a_version_does_not_go_back_and_what_was_never_run_may_be_left_out(cast: Cast) -> None:
    kept(cast, HOOD.replace("version = 1", "version = 2"))
    back = kept(cast)
    assert back.status_code == 400
    assert "Neither goes back" in back.content.decode()
    assert kept(cast, WORDS).status_code == 303


def test_the_page_s_own_example_may_be_kept(cast: Cast) -> None:
    client, url = lead(cast)
    page = client.get(url).content.decode()
    example = unescape(page[page.index("<pre>") + 5 : page.index("</pre>")])
    assert kept(cast, example).status_code == 303
    assert set(OwnProcedures.objects.get().document) == {"reword", "add"}
