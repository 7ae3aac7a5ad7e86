"""Lists over a project tell days as they are at the site: 03:00 UTC on the fifth is the evening of the fourth."""

from datetime import UTC, date, datetime
from types import SimpleNamespace

import pytest

from commissioning import standing
from commissioning.models import AnswerLink, Issue
from portfolio.dashboards import days
from portfolio.models import Standing
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World

pytestmark = pytest.mark.django_db
EVENING = datetime(2026, 5, 5, 3, tzinfo=UTC)  # 4 May, 21:00, in Denver


@pytest.fixture
def evening(firm: World, monkeypatch: pytest.MonkeyPatch) -> Issue:
    """It is the evening of the fourth; the issue of ERV-3 moved then, and is due that day."""
    monkeypatch.setattr(days, "timezone", SimpleNamespace(now=lambda: EVENING))
    issue = firm.issue_of("ERV-3", "outdoor")
    Issue.objects.filter(pk=issue.pk).update(moved_at=EVENING, due=date(2026, 5, 4))
    standing.refresh([firm.units["ERV-3"].pk])
    return issue


def test_what_is_due_today_at_the_site_is_not_late_and_its_day_is_the_sites(
    firm: World, browser: Browser, evening: Issue, monkeypatch: pytest.MonkeyPatch
) -> None:
    row = next(row for row in browser("lead").get("/issues").context["rows"] if row["issue"].pk == evening.pk)
    assert (row["since"], row["due"], row["is_late"]) == ("4 May 2026", "4 May 2026", False)
    unit = next(
        row for row in browser("lead").get("/").context["rows"] if row.standing.position_id == firm.units["ERV-3"].pk
    )
    assert (unit.since, unit.is_late) == ("4 May 2026", False)
    assert Standing.objects.get(pk=firm.units["ERV-3"].pk).since == date(2026, 5, 4)
    assert "One issue is yours; it is due on Mon 4 May 2026." in text(browser("contractor").get("/"))
    monkeypatch.setattr(days, "timezone", SimpleNamespace(now=lambda: EVENING.replace(hour=7)))  # 5 May, 01:00
    assert "One issue is yours; it is overdue." in text(browser("contractor").get("/"))


def test_a_link_ends_on_the_day_that_it_is_at_the_site(firm: World, browser: Browser) -> None:
    path = f"/projects/{firm.project.pk}/companies/{firm.company.pk}"
    browser("lead").post(f"{path}/link")
    AnswerLink.objects.update(made_at=EVENING)
    assert "Made 4 May 2026 by Maren Tollefsby" in text(browser("lead").get(f"{path}/list"))
