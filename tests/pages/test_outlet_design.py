"""A lead pastes the outlets of a unit as designed: a dry run, then a partial revision that changes what it names."""

from __future__ import annotations

import pytest
from django.test import Client

from portfolio.models import DesignEntry, DesignRevision
from portfolio.models.design import fold_entries
from tests.cast import Cast

pytestmark = pytest.mark.django_db(transaction=True)

PASTE = "No.\tRoom\tDuct\tType\tDesign L/s\nD1\t112\tB1\tsquare\t95\nD2\t112\tB1\tslot\t48,5\n"


@pytest.fixture
def page(cast: Cast) -> tuple[Cast, Client, str]:
    client = Client()
    client.force_login(cast.person("own", "lead"))
    return cast, client, f"/units/{cast.things['position'].pk}/outlets"


def filled(**rest: str) -> dict[str, str]:
    return {
        "paste": PASTE,
        "port": "supply",
        "basis": "actual",
        "dated": "2026-05-04",
        "source": "addendum",
        "title": "Diffusers, level 1",
        "display": "ip",
        "act": "apply",
        **rest,
    }


def outlets(cast: Cast) -> dict[str, dict[str, object]]:
    rows = DesignEntry.objects.filter(position=cast.things["position"]).select_related("revision")
    held: dict[str, dict[str, object]] = fold_entries(rows).get("outlets", {})
    return held


def test_looking_shows_what_would_change_and_applies_nothing(page: tuple[Cast, Client, str]) -> None:
    _, client, url = page
    text = client.post(url, filled(act="look")).content.decode()
    assert "What would change, airflows read in L/s" in text
    assert "port supply; branch B1; room 112; device slot; airflow 102.8 cfm; basis actual" in text
    assert not DesignRevision.objects.exists()


def test_applying_makes_a_partial_revision_that_keeps_what_it_does_not_name(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    assert client.post(url, filled()).status_code == 303
    assert outlets(cast)["D2"]["airflow"] == {"value": 48.5, "unit": "L/s"}
    again = filled(paste="Outlet\tDesign L/s\nD2\t52", port="", basis="", dated="2026-05-05")
    text = client.post(url, again | {"act": "look"}).content.decode()
    assert "airflow 102.8 cfm → 110.2 cfm" in text  # 48.5 and 52 times 2.11888
    assert "1 outlet not named stays as designed" in text
    assert client.post(url, again).status_code == 303
    held = outlets(cast)
    assert (held["D2"]["airflow"], held["D2"]["room"], held["D2"]["port"]) == (
        {"value": 52.0, "unit": "L/s"},
        "112",
        "supply",
    )
    assert held["D1"]["airflow"] == {"value": 95.0, "unit": "L/s"}
    assert held["D2"]["sources"]["airflow"] == "Revision 2, addendum, 2026-05-05"  # type: ignore[index]
    assert [one.partial for one in DesignRevision.objects.all()] == [True, True]


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"paste": ""}, "table: No outlet is named."),
        ({"paste": PASTE.replace("95", "9x")}, "row 2, column E (Design L/s): This is no airflow."),
        ({"paste": PASTE.replace("95", "9500000")}, "lies outside"),
        ({"dated": "4 May"}, "dated: This is no date."),
        ({"source": "hearsay"}, "source: A revision has a source."),
    ],
)
def test_what_cannot_be_applied_says_why_and_nothing_is_lost(
    page: tuple[Cast, Client, str], wrong: dict[str, str], said: str
) -> None:
    _, client, url = page
    answer = client.post(url, filled(**wrong))
    assert answer.status_code == 400
    assert said in answer.content.decode()
    assert "Diffusers, level 1" in answer.content.decode()
    assert not DesignRevision.objects.exists()


def test_a_technician_reads_outlets_and_designs_none(page: tuple[Cast, Client, str]) -> None:
    cast, lead, url = page
    technician = Client()
    technician.force_login(cast.person("own", "technician"))
    assert technician.get(url).status_code == 403
    form = f"/units/{cast.things['position'].pk}/record/outlets"
    assert "Outlets as designed" in lead.get(form).content.decode()
    assert "Outlets as designed" not in technician.get(form).content.decode()
