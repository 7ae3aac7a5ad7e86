"""Visits by API: the page's own acts, on the version that was seen; a wasted call-out is counted with its cause."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.utils import timezone

from commissioning.models import Issue, IssueEvent, Visit
from portfolio.models import AuditEvent
from tests.pages.conftest import Browser, Device
from tests.pages.reading import text
from tests.pages.world import World

pytestmark = pytest.mark.django_db

SOON = (timezone.now() + timedelta(days=5)).date().isoformat()
CAUSE = "The roof was locked and nobody had the key."


def plan(firm: World, device: Device, method: str, tag: str, seen: int, who: str = "lead", **body: Any) -> Any:
    path = f"positions/{firm.units[tag].pk}/visit"
    return device(who).call(method, path, body or None, headers={"If-Match": f'"{seen}"'})


def waste(firm: World, device: Device, tag: str, seen: int, cause: str = CAUSE) -> Any:
    path = f"positions/{firm.units[tag].pk}/visit/wasted"
    return device("lead").call("POST", path, {"cause": cause}, headers={"If-Match": f'"{seen}"'})


def listed(firm: World, device: Device, who: str) -> dict[str, dict[str, Any]]:
    answer = device(who).call("GET", f"projects/{firm.project.pk}/visits")
    assert answer.status_code == 200, answer.content
    return {one["tag"]: one for one in answer.json()["results"]}


def test_a_visit_is_planned_changed_and_taken_off_and_the_page_shows_it(
    firm: World, device: Device, browser: Browser
) -> None:
    crew = str(firm.people["technician"].pk)
    due = listed(firm, device, "lead")["ERV-7"]  # answered ready: world.with_issues
    number = firm.issue_of("ERV-7", "exhaust").number
    assert (due["version"], due["day"], [one["number"] for one in due["retests"]]) == (0, None, [number])
    assert listed(firm, device, "technician") == {}

    made = plan(firm, device, "PUT", "ERV-7", 0, day=SOON, person=crew)
    assert (made.status_code, made["ETag"], made.json()["day"]) == (200, '"1"', SOON)
    mine = listed(firm, device, "technician")
    assert list(mine) == ["ERV-7"]
    assert f"retest for issue {number}" in mine["ERV-7"]["what"]
    assert "One unit is to be visited; one within two weeks." in text(
        browser("technician").get(f"/projects/{firm.project.pk}/visits")
    )

    late = plan(firm, device, "PUT", "ERV-7", 0, day=SOON, person=None)
    assert (late.status_code, late.json()["current"]["person"]) == (412, crew)
    assert plan(firm, device, "PUT", "ERV-7", 1, day=SOON, person=None).status_code == 200
    assert plan(firm, device, "DELETE", "ERV-7", 2).status_code == 204
    soon = date.fromisoformat(SOON)
    held = list(Visit.objects.order_by("version").values_list("day", "person"))
    assert held == [(soon, firm.people["technician"].pk), (soon, None), (None, None)]
    assert AuditEvent.objects.filter(verb="plan_visit", token_id__isnull=False).count() == 3


def test_beyond_two_weeks_it_is_not_listed(firm: World, device: Device) -> None:
    far = (timezone.now() + timedelta(days=30)).date().isoformat()
    assert plan(firm, device, "PUT", "ERV-7", 0, day=far, person=None).status_code == 200
    assert "ERV-7" not in listed(firm, device, "lead")


@pytest.mark.parametrize("who", ["contractor", "owner", "stranger"])
def test_only_the_crew_is_sent_by_page_and_api(firm: World, device: Device, browser: Browser, who: str) -> None:
    person = str(firm.people[who].pk)
    refused = plan(firm, device, "PUT", "ERV-7", 0, day=SOON, person=person)
    assert refused.status_code == 400
    (fault,) = refused.json()["errors"]
    assert (fault["pointer"], fault["detail"]) == ("/person", "This person is not of the crew here.")
    typed = {"unit": f"{firm.units['ERV-7'].pk}:0", "day": SOON, "person": person}
    page = browser("lead").post(f"/projects/{firm.project.pk}/visits", typed)
    assert page.status_code == 400
    assert "This person is not of the crew here. Choose another." in text(page)
    assert not Visit.objects.exists()


def test_what_is_no_plan_is_refused_with_its_field(firm: World, device: Device) -> None:
    for body, pointer in (
        ({"day": "soon", "person": None}, "/day"),
        ({"day": SOON}, "/person"),
        ({"day": SOON, "person": None, "crew": 2}, "/crew"),
    ):
        refused = plan(firm, device, "PUT", "ERV-7", 0, **body)
        assert (refused.status_code, [one["pointer"] for one in refused.json()["errors"]]) == (400, [pointer])
    bare = device("lead").call("PUT", f"positions/{firm.units['ERV-7'].pk}/visit", {"day": SOON, "person": None})
    assert bare.status_code == 428
    assert plan(firm, device, "PUT", "ERV-7", 0, "technician", day=SOON, person=None).status_code == 403
    assert not Visit.objects.exists()


def test_a_wasted_call_out_is_counted_once_with_its_cause(firm: World, device: Device) -> None:
    plan(firm, device, "PUT", "ERV-7", 0, day=SOON, person=None)
    assert waste(firm, device, "ERV-7", 1, "no").json()["errors"][0]["pointer"] == "/cause"
    done = waste(firm, device, "ERV-7", 1)
    assert done.status_code == 200, done.content
    issue = firm.issue_of("ERV-7", "exhaust")
    assert (issue.state, issue.wasted_call_outs) == (Issue.State.RELEASED, 1)
    assert done.json()["counted_at"] == [
        {"id": str(issue.pk), "number": issue.number, "state": "released", "wasted_call_outs": 1}
    ]
    event = IssueEvent.objects.get(issue=issue, act="waste_call_out")
    assert (event.text, event.person_id) == (CAUSE, firm.people["lead"].pk)
    assert Visit.objects.newest().get().day is None
    assert waste(firm, device, "ERV-7", 1).status_code == 412
    again = waste(firm, device, "ERV-7", 2)
    assert (again.status_code, again.json()["code"]) == (409, "nothing_wasted")
    assert firm.issue_of("ERV-7", "exhaust").wasted_call_outs == 1


def test_the_page_says_that_a_call_out_was_wasted_by_the_same_act(firm: World, browser: Browser) -> None:
    url, unit = f"/projects/{firm.project.pk}/visits", firm.units["ERV-7"].pk
    assert "A call-out was wasted" in text(browser("lead").get(url))
    assert browser("lead").post(url, {"act": "waste", "unit": f"{unit}:0", "cause": ""}).status_code == 400
    assert browser("lead").post(url, {"act": "waste", "unit": f"{unit}:0", "cause": CAUSE}).status_code == 303
    assert firm.issue_of("ERV-7", "exhaust").wasted_call_outs == 1
    again = browser("lead").post(url, {"act": "waste", "unit": f"{unit}:1", "cause": CAUSE})
    assert again.status_code == 409
    assert "No issue at ERV-7 is declared ready" in text(again)
    assert "A call-out was wasted" not in text(browser("lead").get(url))


def test_a_retest_scheduled_after_a_visit_was_taken_off_is_on_the_plan(firm: World, device: Device) -> None:
    plan(firm, device, "DELETE", "ERV-7", 0)
    firm.act(firm.issue_of("ERV-7", "exhaust"), "lead", "schedule", retest_on=date.fromisoformat(SOON))
    assert listed(firm, device, "lead")["ERV-7"]["day"] == SOON
