"""Outlets, rooms and pressures of a design on the unit's page: as given, in natural order, folded where many."""

from datetime import date
from typing import Any

import pytest

from commissioning.pages.unit_story import _decided_by
from portfolio.models import DesignEntry, DesignRevision
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World

pytestmark = pytest.mark.django_db


def page(firm: World, browser: Browser, fields: dict[str, Any]) -> tuple[str, str]:
    """Markup and words of ERV-3's page in L/s, with this design beside that of its ports."""
    revision = DesignRevision.objects.create(
        project=firm.project, number=2, dated=date(2026, 3, 2), source="addendum", partial=True,
        applied_by=firm.people["lead"],
    )  # fmt: skip
    DesignEntry.objects.create(
        revision=revision, position=firm.units["ERV-3"], fields={"ports": {}, "fans": {}, **fields}
    )
    client, path = browser("lead"), f"/units/{firm.units['ERV-3'].pk}"
    client.post("/display", {"display": "si", "next": path})
    response = client.get(path)
    assert response.status_code == 200
    return response.content.decode(), text(response)


def outlets(number: int, value: float = 5, unit: str = "L/s") -> dict[str, Any]:
    given = {"port": "supply", "airflow": {"value": value, "unit": unit}}
    return {f"R-{n}": given for n in range(1, number + 1)}


def test_what_follows_stands_before_what_was_designed_and_measured(firm: World, browser: Browser) -> None:
    body, _ = page(firm, browser, {})
    heads = ["Ports", "What follows", "What was designed", "What was measured", "Issues"]
    places = [body.index(f"<h2>{head}</h2>") for head in heads]
    assert places == sorted(places)


@pytest.mark.parametrize(
    ("value", "unit", "printed"),
    [
        (5, "L/s", "5 L/s"),
        (138.75, "L/s", "138.75 L/s"),
        (300, "cfm", "141.6 L/s"),  # 300 x 0.4719474 = 141.58
    ],
)
def test_a_contract_s_number_is_printed_as_it_is_given(
    firm: World, browser: Browser, value: float, unit: str, printed: str
) -> None:
    _, said = page(firm, browser, {"outlets": outlets(1, value, unit)})
    assert f"R-1 supply {printed} Revision 2" in said


def test_outlets_are_counted_as_people_do_and_many_are_folded(firm: World, browser: Browser) -> None:
    body, said = page(firm, browser, {"outlets": outlets(12)})
    places = [body.index(f'<th scope="row">R-{n}</th>') for n in range(1, 13)]
    assert places == sorted(places)
    assert "<details><summary>Outlet: 12 as designed</summary>" in body
    assert "Outlet: 12 as designed" in said


def test_six_outlets_stand_open(firm: World, browser: Browser) -> None:
    body, _ = page(firm, browser, {"outlets": outlets(6)})
    assert "as designed</summary>" not in body


def test_pressures_have_their_names_in_words(firm: World, browser: Browser) -> None:
    given = {"pressure": {"value": 120, "unit": "Pa"}}
    body, said = page(firm, browser, {"pressures": {"core_drop_exhaust": given, "external_supply": given}})
    assert "Core drop, exhaust 120 Pa" in said
    assert "External static pressure, supply 120 Pa" in said
    assert "core_drop" not in body


@pytest.mark.parametrize(
    ("requirement", "low", "high", "said"),
    [
        ("design_airflow", -0.1, 0.1, "limits −10 % to +10 %"),
        ("design_airflow", None, 0.125, "limits at most +12.5 %"),
        ("exchanger_effectiveness", 0.68, None, "limits 68 % or more"),
        ("duct_leakage", None, 0.05, "limits at most 5 %"),
        ("overload_setting", 1.0, 1.25, "limits 100 % to 125 %"),
    ],
)
def test_a_share_has_no_sign(requirement: str, low: float | None, high: float | None, said: str) -> None:
    result = {"requirement": requirement, "verdict": "conforms", "unit": "1", "low": low, "high": high}
    assert _decided_by(result).split("; ")[0] == said
