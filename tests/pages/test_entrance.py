"""In and out, the display, refusals that a person can read, and what holds for every page."""

import re
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.test import Client

from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import PASSWORD, World

pytestmark = pytest.mark.django_db


def test_a_person_signs_in_and_goes_where_they_wanted(firm: World) -> None:
    client = Client()
    away = client.get("/issues?state=all")
    assert (away.status_code, away["Location"]) == (302, "/login?next=/issues%3Fstate%3Dall")
    fields = {"email": "lead@example.test", "password": PASSWORD, "next": "/issues?state=all"}
    done = client.post("/login", fields)
    assert (done.status_code, done["Location"]) == (303, "/issues?state=all")
    assert "Maren Tollefsby" in client.get("/").content.decode()
    assert client.get("/logout").status_code == 405
    assert client.post("/logout")["Location"] == "/login"
    assert client.get("/").status_code == 302


@pytest.mark.parametrize("where", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)", "/\\x"])
def test_no_login_leads_elsewhere(firm: World, where: str) -> None:
    fields = {"email": "lead@example.test", "password": PASSWORD, "next": where}
    assert Client().post("/login", fields)["Location"] == "/"


def test_a_wrong_password_and_an_unknown_address_read_the_same(firm: World) -> None:
    wrong = Client().post("/login", {"email": "lead@example.test", "password": "x"})
    unknown = Client().post("/login", {"email": "nobody@example.test", "password": "x"})
    assert wrong.status_code == unknown.status_code == 400
    assert text(wrong) == text(unknown)
    assert "No account has this mail address and password." in text(wrong)


def test_tries_are_counted(firm: World, settings: Any) -> None:
    settings.LOGIN_TRIES_PER_ACCOUNT = 2
    tries = [Client().post("/login", {"email": "lead@example.test", "password": "x"}) for _ in range(3)]
    assert [one.status_code for one in tries] == [400, 400, 429]
    assert tries[-1]["Retry-After"] == "900"
    assert "Wait a quarter of an hour." in text(tries[-1])


def test_a_form_without_its_token_is_refused_in_words(firm: World) -> None:
    client = Client(enforce_csrf_checks=True)
    response = client.post("/login", {"email": "a", "password": "b"})
    assert response.status_code == 403
    assert "The page was open too long." in text(response)


def test_what_is_not_there_is_a_page_and_under_api_a_document(firm: World, browser: Browser) -> None:
    response = browser("lead").get("/nowhere")
    assert response.status_code == 404
    assert "There is no such page" in text(response)
    assert browser("lead").get("/api/v1/nowhere")["Content-Type"] == "application/problem+json"


@pytest.mark.parametrize("wanted", ["metric", ""])
def test_only_two_displays_can_be_chosen(firm: World, browser: Browser, wanted: str) -> None:
    client = browser("lead")
    client.post("/display", {"display": wanted})
    assert "display" not in client.session


# --- every page --------------------------------------------------------------------------------------------------
def test_pages_hold_what_each_reader_needs(firm: World, browser: Browser) -> None:
    paths = {
        "lead": ["/", "/issues", "/projects", f"/projects/{firm.project.pk}", f"/projects/{firm.project.pk}/import"],
        "owner": ["/", f"/projects/{firm.project.pk}/binders", f"/projects/{firm.project.pk}/meeting"],
        "contractor": ["/", f"/issues/{firm.issue_of('ERV-3', 'outdoor').pk}"],
        "technician": [f"/units/{firm.units['ERV-3'].pk}"],
    }
    for who, pages in paths.items():
        for path in pages:
            response = browser(who).get(path)
            body = response.content.decode()
            assert response.status_code == 200, path
            assert '<html lang="en">' in body
            assert 'href="#content"' in body
            assert len(re.findall("<h1", body)) == 1
            assert len(re.findall("<main", body)) == 1
            assert re.findall(r"<th(?![^>]*scope=)[ >]", body) == [], path
            assert _unlabelled(body) == [], path
            assert _inline(body) == [], path
            ids = re.findall(r'\sid="([^"]+)"', body)
            assert len(ids) == len(set(ids)), path


def _unlabelled(body: str) -> list[str]:
    """Fields without a label: by `for`, by standing inside of one, or hidden."""
    labelled = set(re.findall(r'<label[^>]*for="([^"]+)"', body))
    within = re.findall(r"<label(?:(?!</label>)[\s\S])*<input([^>]*)>", body)
    missing = []
    for attributes in re.findall(r"<(?:input|select|textarea)([^>]*)>", body):
        name = re.search(r'id="([^"]+)"', attributes)
        if 'type="hidden"' in attributes or attributes in within or (name and name[1] in labelled):
            continue
        missing.append(attributes)
    return missing


def _inline(body: str) -> list[str]:
    """Scripts, styles and handlers in the page: the policy of the server lets none of them run."""
    return re.findall(r"<script[^>]*>|<style|\sstyle=|\son\w+=", body)


def test_the_policy_lets_nothing_from_elsewhere_run(firm: World, browser: Browser) -> None:
    policy = browser("lead").get("/")["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe-inline" not in policy
    for sheet in Path(settings.BASE_DIR, "portfolio", "static", "portfolio").glob("*.css"):
        assert not re.search(r"url\(|@import|https?:", sheet.read_text()), sheet.name
