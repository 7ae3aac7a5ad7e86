"""What was accepted as it is says so beside its verdict, by whom and when, to whoever sees the issue."""

from __future__ import annotations

import re
from typing import Any

import pytest

from commissioning.pages import accepted
from tests.pages import world
from tests.pages.conftest import Browser

pytestmark = pytest.mark.django_db


def head_of(browser: Browser, who: str, unit: Any, anchor: str) -> str:
    body = browser(who).get(f"/units/{unit.pk}").content.decode()
    found = re.search(rf'id="{anchor}"><summary>(.*?)</summary>', body, re.S)
    assert found
    return " ".join(found[1].split())


def test_a_verdict_that_was_accepted_says_by_whom_and_raises_no_alarm(browser: Browser) -> None:
    firm = world.with_issues()
    unit, issue, anchor = firm.units["ERV-3"], firm.issue_of("ERV-3", "outdoor"), "j-design_airflow-outdoor"
    before = head_of(browser, "lead", unit, anchor)
    assert 'class="dot bad"' in before
    assert "accepted" not in before
    firm.act(issue, "engineer", "accept", text="Enough for the class as it is used.")
    name = firm.people["engineer"].name
    for who in ("lead", "engineer", "technician"):
        after = head_of(browser, who, unit, anchor)
        assert f"does not conform, accepted as is by {name} on " in after
        assert f", issue {issue.number}</span>" in after
        assert 'class="dot bad"' not in after
    assert "accepted" not in head_of(browser, "lead", firm.units["ERV-7"], "j-design_airflow-exhaust")


def test_who_does_not_see_the_issue_is_not_told_who_accepted_it(browser: Browser) -> None:
    firm = world.with_issues()
    issue = firm.issue_of("ERV-3", "outdoor")
    firm.act(issue, "engineer", "accept", text="Enough for the class as it is used.")
    told = accepted.of_unit(firm.units["ERV-3"], firm.people["stranger"])
    assert set(told.values()) == {"accepted as is"}
