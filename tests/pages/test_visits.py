"""The plan of two weeks: what is due stands by day, crew and site with what it needs; the lead plans, in versions."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from commissioning.models import Visit
from portfolio.models import DesignEntry
from tests.pages import world
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm() -> World:
    """Two units whose lists name tests, one whose list names none."""
    made = world.found()
    for tag, tests in {"ERV-1": ["interlock"], "ERV-2": ["frost", "power"], "ERV-3": []}.items():
        made.unit(tag, "Sorrel Hall")
        entry = DesignEntry.objects.get(position=made.units[tag])
        fields = {**entry.fields, "equipment": {"unit": {"options": ["bypass"], "tests": tests}}}
        DesignEntry.objects.filter(pk=entry.pk).update(fields=fields)
    made.judged()
    return made


def day_after(days: int) -> str:
    return (timezone.now() + timedelta(days=days)).date().isoformat()


def typed(firm: World, tag: str, seen: int, **rest: str) -> dict[str, str]:
    who = str(firm.people["technician"].pk)
    return {"unit": f"{firm.units[tag].pk}:{seen}", "day": day_after(5), "person": who, **rest}


def test_the_lead_plans_and_a_technician_sees_their_own_with_what_it_needs(firm: World, browser: Browser) -> None:
    url = f"/projects/{firm.project.pk}/visits"
    page = text(browser("lead").get(url))
    assert "Two units are to be visited; none within two weeks." in page
    assert "Without a day" in page
    assert "test: Supply and exhaust interlock" in page
    assert "Nothing here says that a unit is safe to enter" in page
    assert browser("lead").post(url, typed(firm, "ERV-1", 0)).status_code == 303
    mine = text(browser("technician").get(url))
    assert "One unit is to be visited; one within two weeks." in mine
    assert firm.people["technician"].name in mine
    assert "ERV-1" in mine
    assert "ERV-2" not in mine
    assert "to be there: controls" in mine
    assert "permits and licensed persons: " in mine
    paper = browser("technician").get(f"{url}.pdf")
    assert paper.content.startswith(b"%PDF-")


def test_a_plan_that_rests_on_an_older_one_is_refused_and_every_plan_is_kept(firm: World, browser: Browser) -> None:
    url, lead = f"/projects/{firm.project.pk}/visits", browser("lead")
    assert lead.post(url, typed(firm, "ERV-1", 0)).status_code == 303
    late = lead.post(url, typed(firm, "ERV-1", 0, day=day_after(6)))
    assert late.status_code == 409
    assert "planned by somebody else meanwhile" in text(late)
    assert lead.post(url, typed(firm, "ERV-1", 1, day="", person="")).status_code == 303
    assert list(Visit.objects.order_by("version").values_list("version", "person")) == [
        (1, firm.people["technician"].pk),
        (2, None),
    ]
    assert "ERV-1" not in text(browser("technician").get(url))
    assert browser("technician").post(url, typed(firm, "ERV-1", 2)).status_code == 403
    assert lead.post(url, typed(firm, "ERV-1", 2, day="soon")).status_code == 400
