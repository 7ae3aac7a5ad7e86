"""The person of the company whom an issue is with: named by the lead, and gone with the company."""

import uuid
from typing import Any

import pytest

from commissioning.models import Issue
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World

pytestmark = pytest.mark.django_db


def send(browser: Browser, issue: Issue, act: str, **fields: str) -> Any:
    issue.refresh_from_db()
    data = {"act": act, "version": str(issue.version), "last_event": "0"} | fields
    return browser("lead").post(f"/issues/{issue.pk}/acts", data)


def test_the_lead_says_who_in_the_company_has_it_and_nobody_of_another(firm: World, browser: Browser) -> None:
    issue, rufus = firm.issue_of("ERV-3", "outdoor"), firm.people["contractor"]
    body = text(browser("lead").get(f"/issues/{issue.pk}"))
    assert "Who in the company has it" in body
    assert send(browser, issue, "describe", assignee=str(rufus.pk)).status_code == 303
    said = text(browser("contractor").get(f"/issues/{issue.pk}"))
    assert "with Garrowby Mechanical (Rufus Amberly), due" in said
    assert "assignee: Rufus Amberly" in said
    issue.refresh_from_db()
    assert issue.events.order_by("pk").last().detail == {"assignee": str(rufus.pk)}  # type: ignore[union-attr]

    for other in (str(firm.people["technician"].pk), str(uuid.uuid4()), "nobody"):
        refused = send(browser, issue, "describe", assignee=other)
        assert refused.status_code == 400
        assert "There is no such thing, or you do not see it. Choose again." in text(refused)
    issue.refresh_from_db()
    assert issue.assignee_id == rufus.pk
    assert send(browser, issue, "hand_over", company=str(firm.controls.pk)).status_code == 303
    assert Issue.objects.filter(pk=issue.pk, company=firm.controls, assignee=None).exists()
