"""Issues as pages: lists, one issue, exactly the acts that may follow for each person, and what others changed."""

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from commissioning.models import Issue
from portfolio.models import AuditEvent
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World
from tests.portfolio.photographs import jpeg

pytestmark = pytest.mark.django_db


def acts_of(response: Any) -> list[str]:
    return [form.act.code for form in response.context["forms"]]


def send(browser: Browser, who: str, issue: Issue, act: str, **fields: Any) -> Any:
    issue.refresh_from_db()
    data = {"act": act, "version": str(issue.version), "last_event": "0"} | fields
    return browser(who).post(f"/issues/{issue.pk}/acts", data)


def test_the_list_opens_with_what_is_open(firm: World, browser: Browser) -> None:
    response = browser("lead").get("/issues")
    assert (
        "Three issues are open: one is a draft to release or drop, one is with a company, one awaits its retest."
        in text(response)
    )
    assert [row["units"] for row in response.context["rows"]] == ["ERV-3", "ERV-7", "ERV-7"]
    assert len(browser("lead").get("/issues?state=all").context["rows"]) == 4
    assert len(browser("lead").get("/issues?state=ready").context["rows"]) == 1
    assert len(browser("owner").get("/issues").context["rows"]) == 2
    assert browser("stranger").get("/issues").context["total"] == 0


def test_an_issue_tells_its_checks_its_story_and_what_closes_it(firm: World, browser: Browser) -> None:
    said = text(browser("contractor").get(f"/issues/{firm.issue_of('ERV-3', 'outdoor').pk}"))
    assert "with Garrowby Mechanical, due Thu 14 May 2026." in said
    assert "Root cause outdoor damper stuck half open" in said
    assert "ERV-3 Sorrel Hall Ventilation minimum outdoor air does not conform" in said
    assert "Maren Tollefsby Released (" in said
    assert "due: 2026-05-14; " in said
    assert "root cause: outdoor damper stuck half open" in said


@pytest.mark.parametrize(
    ("who", "acts"),
    [
        ("lead", ["hand_over", "describe", "close", "merge", "split", "comment", "add_photo"]),
        ("technician", ["comment", "add_photo"]),
        ("contractor", ["answer_ready", "answer_not_ours", "comment", "add_photo"]),
        ("owner", ["comment", "add_photo"]),  # below a ventilation minimum it is the engineer's to accept
        ("engineer", ["accept", "comment", "add_photo"]),
    ],
)
def test_the_forms_are_the_acts_that_may_follow_for_this_person(
    firm: World, browser: Browser, who: str, acts: list[str]
) -> None:
    response = browser(who).get(f"/issues/{firm.issue_of('ERV-3', 'outdoor').pk}")
    assert acts_of(response) == acts
    reasons = [one.reason for one in response.context["refused"]]
    assert all(reason.startswith("Only ") for reason in reasons)
    assert len(reasons) + len(acts) == 10


def test_a_draft_is_released_to_a_company(firm: World, browser: Browser) -> None:
    draft = Issue.objects.get(state="draft")
    response = send(
        browser, "lead", draft, "release",
        company=str(firm.controls.pk), due="2026-06-01", priority="safety", root_cause="wheel speed", text="Look.",
    )  # fmt: skip
    assert (response.status_code, response["Location"]) == (303, f"/issues/{draft.pk}")
    draft.refresh_from_db()
    assert (draft.state, draft.company, draft.priority, str(draft.due)) == (
        "released", firm.controls, "safety", "2026-06-01",
    )  # fmt: skip
    assert AuditEvent.objects.filter(verb="issue.release", object_id=str(draft.pk)).count() == 1


def test_what_is_missing_is_said_and_what_was_typed_stays(firm: World, browser: Browser) -> None:
    draft = Issue.objects.get(state="draft")
    response = send(browser, "lead", draft, "release", due="2026-06-01", text="half a page of text")
    assert response.status_code == 400
    assert "To release to a company, this is needed. Give company." in text(response)
    body = response.content.decode()
    assert "half a page of text</textarea>" in body
    assert 'value="2026-06-01"' in body
    assert "<details open><summary>Release to a company" in body
    bad = send(browser, "lead", draft, "release", company="x", due="tomorrow")
    assert bad.status_code == 400
    draft.refresh_from_db()
    assert draft.state == "draft"


def test_who_was_slower_sees_what_changed_and_keeps_the_text(firm: World, browser: Browser) -> None:
    issue = firm.issue_of("ERV-3", "outdoor")
    version, last = issue.version, issue.events.order_by("-pk")[0].pk
    firm.act(issue, "lead", "comment", text="Bring the long ladder.")
    fields = {"act": "answer_ready", "version": str(version), "last_event": str(last), "text": "The actuator is new."}
    response = browser("contractor").post(f"/issues/{issue.pk}/acts", fields)
    assert response.status_code == 409
    assert [event["text"] for event in response.context["changed"]] == ["Bring the long ladder."]
    assert "The actuator is new.</textarea>" in response.content.decode()
    issue.refresh_from_db()
    assert issue.state == "released"
    assert f'name="version" value="{issue.version}"' in response.content.decode()


def test_an_answer_may_bring_a_photo_that_only_they_see_who_see_the_issue(firm: World, browser: Browser) -> None:
    issue = firm.issue_of("ERV-3", "outdoor")
    photo = SimpleUploadedFile("damper.jpg", jpeg(), "image/jpeg")
    assert send(browser, "contractor", issue, "answer_ready", text="Done.", photo=photo).status_code == 303
    issue.refresh_from_db()
    assert issue.state == "ready"
    response = browser("lead").get(f"/issues/{issue.pk}")
    (sha256,) = [event["photo"] for event in response.context["story"] if event["photo"]]
    assert f'<img src="/photos/{sha256}"' in response.content.decode()
    shown = browser("owner").get(f"/photos/{sha256}")
    assert (shown.status_code, shown["Content-Type"]) == (200, "image/jpeg")
    assert shown.getvalue().startswith(b"\xff\xd8\xff")
    assert browser("stranger").get(f"/photos/{sha256}").status_code == 404


def test_a_file_that_is_no_photo_takes_nothing_along(firm: World, browser: Browser) -> None:
    issue = firm.issue_of("ERV-3", "outdoor")
    svg = SimpleUploadedFile("x.jpg", b"<svg onload='alert(1)'/>", "image/jpeg")
    response = send(browser, "contractor", issue, "answer_ready", text="Done.", photo=svg)
    assert response.status_code == 400
    assert "A photo is a JPEG or a PNG file." in text(response)
    issue.refresh_from_db()
    assert issue.state == "released"


def test_merge_and_split_by_form(firm: World, browser: Browser) -> None:
    issue, draft = firm.issue_of("ERV-3", "outdoor"), Issue.objects.get(state="draft")
    assert send(browser, "lead", draft, "merge", into=str(issue.pk))["Location"] == f"/issues/{issue.pk}"
    checks = list(issue.checks.filter(requirement="mass_balance").values_list("pk", flat=True))
    assert send(browser, "lead", issue, "split", checks=checks, title="Balance apart").status_code == 303
    apart = Issue.objects.get(title="Balance apart")
    assert [check.requirement for check in apart.checks.all()] == ["mass_balance"]
    assert send(browser, "lead", issue, "split", checks=["x"]).status_code == 400


def test_the_act_of_another_is_refused_with_the_reason(firm: World, browser: Browser) -> None:
    issue = firm.issue_of("ERV-3", "outdoor")
    response = send(browser, "owner", issue, "accept", text="good enough")
    assert response.status_code == 403
    assert "Only the engineer of record may accept this as is" in text(response)
    assert send(browser, "stranger", issue, "comment", text="hello").status_code == 404


def test_closing_without_passing_evidence_says_which_check_stands_in_the_way(firm: World, browser: Browser) -> None:
    response = send(browser, "lead", firm.issue_of("ERV-7", "exhaust"), "close")
    assert response.status_code == 400
    assert "design_airflow exhaust of ERV-7 is does not conform." in text(response)
