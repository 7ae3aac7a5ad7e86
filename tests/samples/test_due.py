"""The work list says which units are to be verified, to those who go there and for as long as it is so."""

from __future__ import annotations

import pytest
from django.test import Client

from tests.pages.world import World
from tests.samples.world import built, drawn, repeated, tags_of

pytestmark = pytest.mark.django_db


def told(firm: World, who: str, query: str = "") -> str:
    client = Client()
    client.force_login(firm.people[who])
    body = " ".join(client.get(f"/{query}").content.decode().split())
    lines = [line.partition("</p>")[0] for line in body.split("<p>To be verified")[1:]]
    return " ".join(lines)


def test_the_drawn_units_stand_on_the_work_list_until_they_are_repeated() -> None:
    firm = built()
    assert told(firm, "technician") == ""
    sample = drawn(firm)
    drawn_tags = tags_of(sample)
    said = told(firm, "technician")
    assert all(f">{tag}</a> (Sorrel Hall)" in said for tag in drawn_tags)
    assert said.count('class="tag"') == len(drawn_tags) == 3
    assert f'href="/samples/{sample.pk}">sample 1, Sorrel Hall</a>' in said
    assert told(firm, "lead") == said
    assert told(firm, "contractor") == ""
    here, there = (firm.buildings[name].pk for name in ("Sorrel Hall", "Thane Hall"))
    assert told(firm, "technician", f"?building={here}") == said
    assert told(firm, "technician", f"?building={there}") == ""
    first, *rest = drawn_tags
    repeated(firm, first)
    firm.judged()
    assert f">{first}</a>" not in told(firm, "technician")
    for tag in rest:
        repeated(firm, tag)
    firm.judged()
    assert told(firm, "technician") == ""
