"""A company answers its list: through a link without an account, or by its spreadsheet with a dry run."""

import io
import re
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone
from openpyxl import load_workbook

from commissioning.issues import exchange, links
from commissioning.models import AnswerLink, Issue
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World
from tests.portfolio.photographs import jpeg

pytestmark = pytest.mark.django_db


@pytest.fixture
def secret(firm: World) -> str:
    return links.make(project=firm.project, company=firm.company, person=firm.people["lead"])[1]


def answer(secret: str, asked: Issue, **fields: Any) -> Any:
    data = {
        "issue": str(asked.number), "version": str(asked.version), "answer": "ready",
        "text": "New actuator.", "name": "Lorcan Piddock",
    }  # fmt: skip
    return Client(enforce_csrf_checks=True).post(f"/answer/{secret}", data | fields)


def test_the_link_shows_this_list_and_nothing_else(firm: World, secret: str) -> None:
    response = Client().get(f"/answer/{secret}")
    said = text(response)
    assert "One issue awaits the answer of Garrowby Mechanical." in said
    assert "ERV-3 outdoor air" in said
    assert "mass balance" not in said.lower()  # a draft
    body = response.content.decode()
    for hidden in ("Trelisk", "Maren", "Idris", "/units/", "/issues/", "Ostrander Vale Schools", "SN-ERV"):
        assert hidden not in body
    assert response["Referrer-Policy"] == "no-referrer"
    assert response["Cache-Control"] == "no-store"


def test_an_answer_is_taken_with_name_text_and_photo(firm: World, secret: str) -> None:
    issue = firm.issue_of("ERV-3", "outdoor")
    response = answer(secret, issue, photo=SimpleUploadedFile("a.jpg", jpeg(), "image/jpeg"))
    assert (response.status_code, response["Location"]) == (303, f"/answer/{secret}?answered={issue.number}")
    issue.refresh_from_db()
    assert issue.state == "ready"
    told = [(e.act, e.person, e.said_by, e.text) for e in issue.events.order_by("pk")][-2:]
    assert told == [
        ("answer_ready", None, "Lorcan Piddock", "New actuator."),
        ("add_photo", None, "Lorcan Piddock", ""),
    ]
    said = text(Client().get(response["Location"]))
    assert f"Your answer to issue {issue.number} has been received." in said
    assert "No issues await the answer of Garrowby Mechanical." in said


@pytest.mark.parametrize(
    ("fields", "status", "reason"),
    [
        ({"answer": ""}, 400, "An answer is one of two."),
        ({"name": " "}, 400, "An answer names who gives it."),
        ({"text": ""}, 400, "To declare ready, with proof, this is needed."),
        ({"version": "1"}, 409, "was changed meanwhile"),
        ({"issue": "4711"}, 400, "No issue of this list has that number."),
        ({"photo": SimpleUploadedFile("a.jpg", b"GIF89a", "image/jpeg")}, 400, "A photo is a JPEG or a PNG file."),
    ],
)
def test_what_cannot_be_taken_is_said_and_nothing_changes(
    firm: World, secret: str, fields: dict[str, Any], status: int, reason: str
) -> None:
    issue = firm.issue_of("ERV-3", "outdoor")
    response = answer(secret, issue, **fields)
    assert response.status_code == status
    assert reason in text(response)
    if "text" not in fields and "issue" not in fields:
        assert "New actuator.</textarea>" in response.content.decode()
    issue.refresh_from_db()
    assert issue.state == "released"


def test_another_companys_issue_is_not_on_this_list(firm: World, secret: str) -> None:
    draft = Issue.objects.get(state="draft")
    firm.act(draft, "lead", "release", company=firm.controls)
    draft.refresh_from_db()
    assert answer(secret, draft).status_code == 400
    draft.refresh_from_db()
    assert draft.state == "released"


@pytest.mark.parametrize("how", ["unknown", "revoked", "expired", "no longer party"])
def test_a_link_that_does_not_hold_says_one_thing_only(firm: World, secret: str, how: str) -> None:
    link = AnswerLink.objects.get()
    if how == "revoked":
        links.revoke(link)
    elif how == "expired":
        AnswerLink.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    elif how == "no longer party":
        firm.project.parties.remove(firm.company)
    response = Client().get(f"/answer/{'x' * 43 if how == 'unknown' else secret}")
    assert response.status_code == 404
    assert "This link is not valid, or not any longer." in text(response)
    assert "Garrowby" not in response.content.decode()


def test_answers_and_guesses_are_counted(firm: World, secret: str, settings: Any) -> None:
    settings.ANSWERS_PER_LINK = 2
    issue = firm.issue_of("ERV-3", "outdoor")
    assert [answer(secret, issue, answer="").status_code for _ in range(3)] == [400, 400, 429]
    settings.LOGIN_TRIES_PER_ADDRESS = 2
    guesses = [Client().get("/answer/guess") for _ in range(3)]
    assert [one.status_code for one in guesses] == [404, 404, 429]
    assert int(guesses[-1]["Retry-After"]) > 0


def test_a_link_is_made_and_shown_once(firm: World, browser: Browser) -> None:
    path = f"/projects/{firm.project.pk}/companies/{firm.company.pk}"
    response = browser("lead").post(f"{path}/link")
    found = re.search(r"http://testserver/answer/([\w-]{43})", response.content.decode())
    assert found
    assert links.find(found[1]) == AnswerLink.objects.get()
    again = browser("lead").get(f"{path}/list").content.decode()
    assert found[1] not in again
    assert "made" in again.lower()
    assert browser("contractor").post(f"{path}/link").status_code == 403


# --- the spreadsheet ---------------------------------------------------------------------------------------------
def filled(firm: World, browser: Browser, *cells: str) -> bytes:
    path = f"/api/v1/projects/{firm.project.pk}/companies/{firm.company.pk}/issues.xlsx"
    book = load_workbook(io.BytesIO(browser("contractor").get(path).content))
    sheet = book.worksheets[0]
    row = next(
        r for r in range(3, sheet.max_row + 1) if sheet.cell(r, 1).value == firm.issue_of("ERV-3", "outdoor").number
    )
    for column, value in enumerate(cells, start=9):
        sheet.cell(row, column).value = value
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def upload(firm: World, browser: Browser, data: bytes, who: str = "contractor") -> Any:
    path = f"/projects/{firm.project.pk}/companies/{firm.company.pk}/list"
    return browser(who).post(path, {"list": SimpleUploadedFile("list.xlsx", data, exchange.__name__)})


def test_a_list_that_comes_back_is_first_a_dry_run(firm: World, browser: Browser) -> None:
    issue = firm.issue_of("ERV-3", "outdoor")
    response = upload(firm, browser, filled(firm, browser, "ready", "New actuator.", "Lorcan"))
    said = text(response)
    assert "Dry run: nothing is taken over yet" in said
    assert f"{issue.number} ready New actuator. Lorcan" in said
    issue.refresh_from_db()
    assert issue.state == "released"
    path = f"/projects/{firm.project.pk}/companies/{firm.company.pk}/list"
    done = browser("contractor").post(path, {"reading": response.context["signed"]})
    assert done.status_code == 303
    issue.refresh_from_db()
    assert issue.state == "ready"
    late = browser("contractor").post(path, {"reading": response.context["signed"]})
    assert late.status_code == 400
    assert "Nothing was taken over." in text(late)
    assert browser("contractor").post(path, {"reading": "made up"}).status_code == 400


def test_a_list_with_faults_names_each_and_offers_nothing_to_take(firm: World, browser: Browser) -> None:
    said = text(upload(firm, browser, filled(firm, browser, "maybe", "?", "")))
    assert "1 row cannot be taken." in said
    assert "This is no answer. Write ready or not ours." in said
    assert "Take over" not in said
    assert "This is no list of ours" in text(upload(firm, browser, b"no workbook"))


def test_who_may_not_answer_reads_why(firm: World, browser: Browser) -> None:
    said = text(upload(firm, browser, filled(firm, browser, "ready", "x", "y"), who="lead"))
    assert "Only a contractor of the company that has it may answer this issue" in said
