"""The weekly sheet: the same moment gives the same sheet, on the page and on two sheets of paper."""

import io
from datetime import date, datetime, timedelta
from typing import Any
from urllib.parse import urlencode

import pikepdf
import pytest
from django.utils import timezone

from commissioning.blocks import Table
from commissioning.models import Issue
from commissioning.pages.meeting import asked_moment, compose, gather
from commissioning.pages.meeting_pdf import pages_of
from portfolio.models import Person
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World

pytestmark = pytest.mark.django_db


def rows_of(firm: World, title: str, as_of: datetime | None = None, who: str = "lead") -> list[tuple[str, ...]]:
    moment = as_of or timezone.now()
    person = Person.objects.get(pk=firm.people[who].pk)
    sheet = compose(gather(person, firm.project, moment, moment - timedelta(days=7)))
    section = next(section for section in sheet.sections if section.title.startswith(title))
    (table,) = (block for block in section.blocks if isinstance(block, Table))
    return list(table.rows)


def path(firm: World, kind: str = "", **query: Any) -> str:
    return f"/projects/{firm.project.pk}/meeting{kind}?{urlencode(query)}"


def test_it_opens_with_what_is_open_and_what_was_settled(firm: World, browser: Browser) -> None:
    said = text(browser("lead").get(path(firm)))
    assert "Three issues are open; none was settled since" in said
    assert "Of 24 ports judged for design airflow, 21 conform." in said
    assert "Of the issues, two were released and one was declared ready." in said


def test_who_has_what(firm: World) -> None:
    assert [row[:2] for row in rows_of(firm, "Who has")] == [
        ("Garrowby Mechanical", "1"),
        ("the firm, to retest", "1"),
        ("the lead", "1"),
    ]
    assert [row[0] for row in rows_of(firm, "Open issues")] == [
        "Garrowby Mechanical",
        "the firm, to retest",
        "the lead",
    ]
    ((issue, units, company, _, when),) = rows_of(firm, "Ready")
    assert (issue.partition(". ")[2], units, company, when) == (
        "ERV-7 exhaust air: design airflow not met", "ERV-7", "Garrowby Mechanical", "not scheduled",
    )  # fmt: skip


def test_decisions_are_named_with_whose_they_are(firm: World) -> None:
    found = {what.partition(". ")[2]: (decision, whose) for what, decision, whose in rows_of(firm, "Decisions")}
    assert found["ERV-7: mass balance not met"] == ("release it to a company, or drop it", "the lead")
    late = (timezone.now().date() - date(2026, 5, 14)).days
    decision, _ = found["ERV-3 outdoor air: design airflow and ventilation minimum not met"]
    assert decision.startswith(f"overdue by {late} d") or decision.startswith(f"overdue by {late - 1} d")


def test_the_next_two_weeks(firm: World) -> None:
    soon = timezone.now().date() + timedelta(days=3)
    firm.act(firm.issue_of("ERV-7", "exhaust"), "lead", "schedule", retest_on=soon)
    ((day, what, _, units, who),) = rows_of(firm, "The next two weeks")
    assert (what, units, who) == ("retest", "ERV-7", "the firm")
    assert str(soon.year) in day


def test_as_of_a_moment_is_frozen(firm: World, browser: Browser) -> None:
    moment = timezone.now()
    query = {"as_of": moment.isoformat(), "since": (moment - timedelta(days=7)).isoformat()}
    before = text(browser("lead").get(path(firm, **query)))
    firm.measured("ERV-3", session="AL-2", at="2026-05-12T09:00:00-06:00")
    firm.judged()
    firm.act(firm.issue_of("ERV-3", "outdoor"), "lead", "close")
    assert text(browser("lead").get(path(firm, **query))) == before
    after = text(browser("lead").get(path(firm)))
    assert "Two issues are open; one was settled since" in after
    assert "ERV-3 Sorrel Hall Design airflow outdoor air and supply air does not conform conforms" in after
    assert rows_of(firm, "Open issues", moment - timedelta(days=300)) == []


def test_each_sees_only_their_part(firm: World) -> None:
    assert [row[0] for row in rows_of(firm, "Open issues", who="contractor")] == [
        "Garrowby Mechanical", "the firm, to retest",
    ]  # fmt: skip
    assert "mass balance" not in str(rows_of(firm, "Decisions", who="owner"))


@pytest.mark.parametrize("said", ["", "yesterday", "2026-05-04", "2026-05-04T10:00:00"])
def test_a_moment_without_its_offset_is_no_moment(said: str) -> None:
    assert asked_moment(said) is None


# --- on paper ----------------------------------------------------------------------------------------------------
def test_the_paper_is_the_same_bytes_each_time_and_has_two_pages_at_most(firm: World, browser: Browser) -> None:
    for number in range(120):
        firm_issue = Issue.objects.create(
            project=firm.project, number=100 + number, title=f"A long title that says much of what is wrong {number}",
            opened_at=timezone.now(), moved_at=timezone.now(), company=firm.company,
        )  # fmt: skip
        assert firm_issue.pk
    query = {"as_of": timezone.now().isoformat()}
    first, second = (browser("lead").get(path(firm, ".pdf", **query)) for _ in range(2))
    assert first["Content-Type"] == "application/pdf"
    assert first.content == second.content
    with pikepdf.open(io.BytesIO(first.content)) as made:
        assert len(made.pages) <= 2


def test_what_looks_like_markup_is_printed_as_it_stands(firm: World) -> None:
    Issue.objects.filter(state="draft").update(title="<b>x</b> <!-- & --> <img src='file:///etc/passwd'>")
    moment = timezone.now()
    lead = Person.objects.get(pk=firm.people["lead"].pk)
    sheet = compose(gather(lead, firm.project, moment, moment - timedelta(days=7)))
    data, pages = pages_of(sheet, "ip")
    assert pages == 1
    with pikepdf.open(io.BytesIO(data)) as made:
        assert made.pages[0].mediabox[2] == 612
        assert "/XObject" not in made.pages[0].get("/Resources", {})
    with pikepdf.open(io.BytesIO(pages_of(sheet, "si")[0])) as metric:
        assert round(float(metric.pages[0].mediabox[2])) == 595
