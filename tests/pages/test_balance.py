"""The balance page: what a building's air comes to, by the finals that stand, in a fixed number of queries."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from rest_framework.exceptions import ValidationError

from portfolio.api.agreements import usual_conventions
from portfolio.models import Instrument, Position, ProjectConventions, ServedSpace, System
from tests.pages import world
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World

pytestmark = pytest.mark.django_db
Made = Callable[..., World]


@pytest.fixture
def small(db: None) -> World:
    """Two units in Thane Hall, designed for 1000 cfm out of doors and 950 cfm exhaust each; nothing measured yet."""
    firm = world.found()
    for number in (1, 2):
        firm.unit(f"ERV-{number}", "Thane Hall")
    return firm


def agree(firm: World, **relation: Any) -> None:
    agreed = usual_conventions({"building_relations": [relation]})
    ProjectConventions.objects.create(project=firm.project, version=2, agreed=agreed)


def said(firm: World, browser: Browser, who: str = "lead") -> str:
    return text(browser(who).get(f"/buildings/{firm.buildings['Thane Hall'].pk}/balance"))


def test_without_finals_nothing_is_told_and_the_units_are_named(small: World, browser: Browser) -> None:
    small.judged()
    told = said(small, browser)
    assert "The offset of Thane Hall cannot be told: two units have no final that stands (ERV-1 and ERV-2)." in told
    assert "Nothing is measured yet." in told


def test_the_offset_and_its_uncertainty(small: World, browser: Browser) -> None:
    """2 · 1000 − 2 · 950 = 100 cfm in more, on standard air; without an agreement no sign is asked for."""
    small.measured("ERV-1")
    small.measured("ERV-2")
    small.judged()
    told = said(small, browser)
    assert "Thane Hall brings in 100 ± " in told
    assert "cfm more than it takes out; no sign is agreed for it." in told
    assert "Σ q_in − Σ q_out = 100.00 cfm, +5 % of what comes in" in told
    assert "they belong in the project" in told


def test_one_hood_s_error_cancels_between_in_and_out(small: World, browser: Browser) -> None:
    small.measured("ERV-1")
    small.measured("ERV-2")
    small.judged()
    response = browser("lead").get(f"/buildings/{small.buildings['Thane Hall'].pk}/balance")
    working = response.context["working"]
    assert float(working["standard"]) < float(working["independent"])
    own = Instrument.objects.create(
        firm=small.project.firm, name="Hood 4", kind="flow hood", serial="FH-301", accuracy=small.instrument.accuracy
    )
    small.instrument = own
    small.measured("ERV-2", session="AL-2", at="2026-05-06T09:00:00-06:00")
    small.judged()
    apart = browser("lead").get(f"/buildings/{small.buildings['Thane Hall'].pk}/balance").context["working"]
    # each hood still cancels within its own unit: 1000 against 950
    assert float(apart["standard"]) == pytest.approx(float(working["standard"]), rel=0.1)
    assert "Hood 4 FH-301" in said(small, browser)


def test_every_flow_conforms_and_the_offset_reverses(small: World, browser: Browser) -> None:
    """Outdoor 920 of 1000 (−8 %), exhaust 1030 of 950 (+8.4 %): each within 10 %, and 2 · 110 cfm more go out."""
    agree(small, building="Thane Hall", relation="positive", clause="23 05 93, 3.7")
    for tag in ("ERV-1", "ERV-2"):
        small.measured(tag, {"outdoor": 920, "supply": 920, "exhaust": 1030, "return": 1030})
    small.judged()
    told = said(small, browser)
    assert "Every airflow conforms, and yet Thane Hall takes out 220 ± " in told
    assert "agreed is positive (23 05 93, 3.7)." in told


@pytest.mark.parametrize(
    ("relation", "flows", "expected"),
    [
        ({"relation": "positive"}, {"outdoor": 1080, "exhaust": 900}, "more than it takes out, as agreed: positive."),
        ({"relation": "positive"}, {"outdoor": 960, "exhaust": 950}, "that is not certain. The uncertainty hides"),
        ({"relation": "negative"}, {"outdoor": 900, "exhaust": 1040}, "more than it brings in, as agreed: negative."),
        (
            {"relation": "positive", "offset": {"value": 500, "unit": "cfm"}},
            {"outdoor": 1080, "exhaust": 900},  # 360 of 500 cfm
            "at least 500 cfm more in than out",
        ),
        ({"relation": "neutral"}, {}, "without a size that could be judged"),
    ],
)
def test_against_what_is_agreed(
    small: World, browser: Browser, relation: dict[str, Any], flows: dict[str, float], expected: str
) -> None:
    agree(small, **relation)
    for tag in ("ERV-1", "ERV-2"):
        small.measured(tag, flows)
    small.judged()
    assert expected in said(small, browser)


@pytest.mark.parametrize(
    ("relation", "field"),
    [
        ({"relation": "upwards"}, "relation"),
        ({"relation": "positive", "offset": {"value": 300, "unit": "Pa"}}, "offset"),
        ({"relation": "positive", "offset": 300}, "offset"),
        ({"building": "Thane Hall"}, "relation"),
        ({"relation": "positive", "sign": "+"}, "sign"),
    ],
)
def test_what_cannot_be_agreed_is_refused_at_its_field(relation: dict[str, Any], field: str) -> None:
    with pytest.raises(ValidationError) as refused:
        usual_conventions({"building_relations": [relation]})
    assert field in refused.value.detail["building_relations"][0]  # type: ignore[call-overload, index]


def test_another_building_s_agreement_is_not_ours(small: World, browser: Browser) -> None:
    agree(small, building="Sorrel Hall", relation="positive")
    small.measured("ERV-1")
    small.judged()
    assert "No sign and no least offset are agreed" in said(small, browser)


def test_a_unit_that_does_not_count_is_not_in_it(small: World, browser: Browser) -> None:
    Position.objects.filter(pk=small.units["ERV-2"].pk).update(scope="by_others")
    small.measured("ERV-1")
    small.judged()
    told = said(small, browser)
    assert "Thane Hall brings in 50 ± " in told
    assert "ERV-2" not in told


def test_an_older_session_is_a_recheck_and_the_offset_not_complete(small: World, browser: Browser) -> None:
    small.measured("ERV-1")
    small.measured("ERV-2")
    small.measured("ERV-2", stage="preliminary", session="AL-2", at="2026-05-06T09:00:00-06:00")
    small.judged()
    told = said(small, browser)
    assert "cannot be told yet: one unit has no final that stands (ERV-2)." in told
    assert "As far as they stand, it brings in 50 ± " in told
    assert "the unit was touched since, in AL-2" in told


def test_finals_on_one_riser_count_when_the_last_branch_is_done(small: World, browser: Browser) -> None:
    riser = System.objects.create(building=small.buildings["Thane Hall"], name="Riser B")
    small.unit("ERV-3", "Thane Hall", system=riser)
    Position.objects.filter(tag__in=["ERV-1", "ERV-2"]).update(system=riser)
    small.measured("ERV-1", session="AL-1")
    small.measured("ERV-2", session="AL-9", at="2026-05-06T09:00:00-06:00")
    small.judged()
    told = said(small, browser)
    assert (
        "Riser B: finals of one of three units count. ERV-3 has none that stands; ERV-1 was read before ERV-2 in AL-9."
        in told
    )
    small.measured("ERV-3", session="AL-9", at="2026-05-06T11:00:00-06:00")
    small.measured("ERV-1", session="AL-9", at="2026-05-06T12:00:00-06:00")
    small.judged()
    assert "Riser B: the finals of all three units count." in said(small, browser)


def test_a_space_is_the_sum_of_its_sources_unless_they_serve_others_too(small: World, browser: Browser) -> None:
    hall, store = (
        ServedSpace.objects.create(building=small.buildings["Thane Hall"], name=name) for name in ("Hall", "Store")
    )
    small.units["ERV-1"].spaces.set([hall])
    small.units["ERV-2"].spaces.set([hall])
    for tag in ("ERV-1", "ERV-2"):
        small.measured(tag, {"return": 900})
    small.judged()
    assert "Hall brings in 200 ± " in said(small, browser)  # 2 · (1000 − 900)
    small.units["ERV-2"].spaces.set([hall, store])
    assert "Not told: ERV-2 serves other spaces too" in said(small, browser)


def test_the_worst_of_the_design_is_a_note(small: World, browser: Browser) -> None:
    """2 · 1000 · 0.9 − 2 · 950 · 1.1 = −290 cfm."""
    told = said(small, browser)
    assert "judged against nothing" in told
    assert "the offset would be −290 cfm" in told


def test_a_machine_that_was_changed_is_measured_again(small: World, browser: Browser) -> None:
    small.measured("ERV-1")
    small.measured("ERV-2")
    small.units["ERV-2"].installations.update(since=date(2026, 5, 20))
    small.judged()
    assert "The machine was changed on 2026-05-20" in said(small, browser)


def test_the_number_of_queries_does_not_grow(small: World, browser: Browser) -> None:
    def queries() -> int:
        client: Client = browser("lead")
        with CaptureQueriesContext(
            connection,
        ) as seen:
            assert client.get(f"/buildings/{small.buildings['Thane Hall'].pk}/balance").status_code == 200
        return len(seen)

    small.measured("ERV-1")
    small.judged()
    before = queries()
    riser = System.objects.create(building=small.buildings["Thane Hall"], name="Riser B")
    for number in range(3, 9):
        unit = small.unit(f"ERV-{number}", "Thane Hall", system=riser)
        unit.spaces.set([ServedSpace.objects.create(building=unit.building, name=f"Room {number}")])
        small.measured(f"ERV-{number}")
    small.judged()
    assert queries() == before
    assert before < 20


def test_the_building_page_leads_there_and_a_stranger_sees_nothing(small: World, browser: Browser) -> None:
    place = f"/buildings/{small.buildings['Thane Hall'].pk}"
    assert f"{place}/balance" in browser("owner").get(place).content.decode()
    assert browser("owner").get(f"{place}/balance").status_code == 200
    assert browser("stranger").get(f"{place}/balance").status_code == 404
