"""What a firm has of its own, read and kept over HTTP: by the version that one saw, looked at first, refused whole."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.test import Client

from commissioning.models import OwnChecks, OwnProcedures
from portfolio.models import Job
from tests.cast import Cast
from tests.pages.test_own_checks import OWN
from tests.pages.test_own_procedures import HOOD, WORDS

pytestmark = pytest.mark.django_db(transaction=True)


def put(cast: Cast, name: str, text: str, version: int | None = 0, *, query: str = "", who: str = "lead") -> Any:
    client = Client()
    client.force_login(cast.person("own", who))
    headers = {} if version is None else {"If-Match": f'"{version}"'}
    url = f"/api/v1/firms/{cast.things['firm'].pk}/{name}{query}"
    return client.put(url, text.encode(), content_type="application/octet-stream", headers=headers)


def got(cast: Cast, name: str, who: str = "technician") -> Any:
    client = Client()
    client.force_login(cast.person("own", who))
    return client.get(f"/api/v1/firms/{cast.things['firm'].pk}/{name}")


@pytest.mark.parametrize(("name", "text"), [("own-checks", OWN), ("own-procedures", HOOD)])
def test_a_version_follows_the_one_that_was_seen_and_everybody_of_the_firm_reads_it(
    cast: Cast, name: str, text: str
) -> None:
    first = got(cast, name)
    assert (first.status_code, first["ETag"], first.json()["document"]) == (200, '"0"', {})
    assert put(cast, name, text, None).status_code == 428
    kept = put(cast, name, text)
    assert (kept.status_code, kept["ETag"]) == (200, '"1"')
    late = put(cast, name, "", 0)
    assert (late.status_code, late.json()["current"]) == (412, {"version": 1})
    read = got(cast, name)
    assert read.json() == kept.json()
    assert (read.json()["version"], read.json()["text"]) == (1, text)
    assert Job.objects.filter(kind="rejudge", due=True).count() == 1
    assert put(cast, name, "", 1, who="technician").status_code == 403
    assert put(cast, name, "", 1).json()["version"] == 2


def test_a_look_says_what_would_change_and_keeps_nothing(cast: Cast) -> None:
    looked = put(cast, "own-procedures", HOOD + WORDS, None, query="?look=yes")
    assert looked.status_code == 200
    assert [(one["name"], one["is"]) for one in looked.json()["changes"]] == [
        ("own_hood", "added"),
        ("power, as_found", "reworded"),
    ]
    again = put(cast, "own-procedures", json.dumps(looked.json()["document"]), None, query="?look=yes")
    assert again.json() == looked.json()  # the document itself, as JSON
    assert put(cast, "own-checks", OWN, None, query="?look=yes").json()["document"]["drop"] == ["level"]
    assert not OwnProcedures.objects.exists()
    assert not OwnChecks.objects.exists()


@pytest.mark.parametrize(
    ("name", "text", "at", "said"),
    [
        ("own-checks", 'drop = ["grounded"]', "/drop", "is never dropped"),
        ("own-procedures", HOOD.replace("five minutes", "an hour under load"), "/add/0/step/1", "under load"),
        ("own-procedures", "[[add]", "", "(at line 1, column"),
    ],
)
def test_a_fault_is_a_problem_with_its_field_and_nothing_is_kept(
    cast: Cast, name: str, text: str, at: str, said: str
) -> None:
    refused = put(cast, name, text)
    assert refused.status_code == 400
    (error,) = refused.json()["errors"]
    assert error["pointer"] == at
    assert said in error["detail"]
    assert error["remedy"]
    assert got(cast, name).json()["version"] == 0


def test_what_is_no_text_is_told_by_its_byte(cast: Cast) -> None:
    client = Client()
    client.force_login(cast.person("own", "lead"))
    url = f"/api/v1/firms/{cast.things['firm'].pk}/own-procedures"
    refused = client.put(url, b"a\xff", content_type="application/octet-stream", headers={"If-Match": '"0"'})
    assert refused.json()["errors"][0]["detail"] == "This is no text in UTF-8: byte 1."
