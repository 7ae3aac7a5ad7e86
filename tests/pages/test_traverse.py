"""The page of positions: the published fractions of a side in the units and marks of a rule, and what is refused."""

import re

import pytest
from django.test import Client

from tests.cast import Cast

pytestmark = pytest.mark.django_db

# ISO 3966 and ASHRAE 111, as two public reprints have them (T2.09 and T2.11): fractions of a side, of a diameter
FIVE_LINES = (0.074, 0.288, 0.500, 0.712, 0.926)
SIX_ON_A_DIAMETER = (0.032, 0.135, 0.321, 0.679, 0.865, 0.968)


@pytest.fixture
def phone(cast: Cast) -> Client:
    client = Client()
    client.force_login(cast.person("own", "technician"))
    return client


def depths(text: str) -> list[str]:
    """Of the table of marks on the probe."""
    table = text.split("Marks on the probe")[1].split("</table>")[0]
    return re.findall(r'class="figures">([^<]+)</td>', table)


def test_without_a_size_it_asks(phone: Client) -> None:
    text = phone.get("/traverse").content.decode()
    assert 'name="width"' in text
    assert "Before you drill or climb" in text
    assert "Marks on the probe" not in text


def test_a_rectangular_duct_by_the_published_fractions(phone: Client) -> None:
    text = phone.get("/traverse", {"unit": "mm", "width": "500", "height": "400"}).content.decode()
    assert "25 points by log-tchebycheff: 5 holes, 5 depths each, in mm." in text
    assert [float(one) for one in depths(text)] == pytest.approx([400 * one for one in FIVE_LINES], abs=0.7)


def test_a_round_duct_by_the_published_fractions(phone: Client) -> None:
    asked = {"unit": "mm", "diameter": "500", "points": "6"}
    text = phone.get("/traverse", asked).content.decode()
    assert "12 points by log-linear: 2 diameters, 6 depths each, in mm." in text
    assert [float(one) for one in depths(text)] == pytest.approx([500 * one for one in SIX_ON_A_DIAMETER], abs=0.8)


def test_inches_are_read_as_a_rule_is_and_the_wall_counts(phone: Client) -> None:
    """0.074 of 16 in. is 1.18, with 1 in. of wall 2.18: to an eighth 2 1/8 (2.125); 8 and 1 in. are 9."""
    asked = {"unit": "in", "width": "20", "height": "16", "wall": "1", "mark": "1/8"}
    found = depths(phone.get("/traverse", asked).content.decode())
    assert found[0] == "2 1/8"
    assert found[2] == "9"


@pytest.mark.parametrize(
    ("asked", "said", "field"),
    [
        ({"width": "20"}, "height: The height is missing.", "height"),
        ({"width": "20", "height": "1x"}, "height: This is no number.", "height"),
        ({"width": "20", "height": "16", "diameter": "12"}, "both round and rectangular", "diameter"),
        ({"width": "1", "height": "16"}, "width: 1 in lies outside 1.969 to 787.4 in. Is the unit right?", "width"),
        ({"width": "20", "height": "16", "mark": "1/0"}, "mark: This is no mark of a rule.", "mark"),
        ({"width": "20", "height": "16", "points": "2.5"}, "points: This is no number of points", "points"),
        ({"diameter": "20", "rule": "log_tchebycheff"}, "Choose another rule", "rule"),
        ({"width": "20", "height": "8", "mark": "3.9"}, "Choose another rule, mark or number of points.", "rule"),
    ],
)
def test_what_cannot_be_laid_out_is_said_and_kept(phone: Client, asked: dict[str, str], said: str, field: str) -> None:
    answer = phone.get("/traverse", {"unit": "in", **asked})
    text = answer.content.decode()
    assert answer.status_code == 400
    assert said in text
    assert re.search(rf'id="{field}"[^>]*aria-invalid="true"', text)
    for name, value in asked.items():
        assert f'name="{name}"' in text
        assert value in text


def test_the_form_of_a_unit_leads_here(phone: Client, cast: Cast) -> None:
    assert 'href="/traverse"' in phone.get(f"/units/{cast.things['position'].pk}/record").content.decode()
