"""Lists lose and repeat nothing, whatever comes and goes between two pages."""

from typing import Any
from urllib.parse import urlsplit

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from portfolio.models import Company, Owner
from tests.cast import Actor, Cast

pytestmark = pytest.mark.django_db


def walk(actor: Actor, path: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    following: str | None = path
    while following:
        page = actor.call("GET", following).json()
        assert set(page) == {"results", "next"}
        found += page["results"]
        parts = urlsplit(page["next"] or "")
        following = f"{parts.path}?{parts.query}".removeprefix("/api/v1/") if page["next"] else None
    return found


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(names=st.lists(st.sampled_from("aAbBäzZ09 -_"), max_size=25), size=st.integers(1, 7))
def test_pages_are_the_list_however_it_is_cut(cast: Cast, names: list[str], size: int) -> None:
    firm = cast.things["foreign_firm"]
    Company.objects.filter(firm=firm, trade="other").delete()
    for index, name in enumerate(names):
        Company.objects.create(firm=firm, name=f"{name}{index // 3}{'~' * (index % 3)}", trade="other")
    path = f"firms/{firm.pk}/companies"
    whole = [row["id"] for row in walk(cast.actor("foreign", "lead"), f"{path}?page_size=500")]
    parts = [row["id"] for row in walk(cast.actor("foreign", "lead"), f"{path}?page_size={size}")]
    assert parts == whole
    assert len(set(parts)) == len(names) + 1


def test_rows_that_come_and_go_between_pages_disturb_no_other(cast: Cast) -> None:
    firm, actor = cast.things["firm"], cast.actor("own", "lead")
    kept = [Owner.objects.create(firm=firm, name=f"m{n:02}").pk for n in range(10)]
    first = actor.call("GET", f"firms/{firm.pk}/owners?page_size=4").json()
    Owner.objects.create(firm=firm, name="a, before the cursor")
    Owner.objects.filter(name=first["results"][-1]["name"]).delete()
    rest = walk(actor, first["next"].split("/api/v1/")[1])
    ids = [row["id"] for row in first["results"] + rest]
    assert len(ids) == len(set(ids))
    assert {str(pk) for pk in kept} <= set(ids)


def test_newest_first_and_equal_moments(cast: Cast) -> None:
    actor = cast.actor("own", "lead")
    for number in range(5):
        actor.call("POST", "tokens", {"label": f"t{number}", "scope": "read"})
    labels = [row["label"] for row in walk(actor, "tokens?page_size=2")]
    assert labels == ["t4", "t3", "t2", "t1", "t0", "of the cast"]


@pytest.mark.parametrize(
    ("query", "pointer"),
    [
        ("page_size=0", "?page_size"),
        ("page_size=501", "?page_size"),
        ("page_size=x", "?page_size"),
        ("page_size=١", "?page_size"),
        ("page_size=1_0", "?page_size"),
        ("pagesize=5", "?pagesize"),
        ("tags=ERV-1", "?tags"),
        ("cursor=forged", "?cursor"),
        ("cursor=", "?cursor"),
        ("tag=%00", "?tag"),
    ],
)
def test_a_query_that_is_not_understood_is_400(cast: Cast, query: str, pointer: str) -> None:
    response = cast.actor("own", "lead").call("GET", f"positions?{query}")
    assert response.status_code == 400
    assert response.json()["errors"][0]["pointer"] == pointer


def test_a_cursor_is_good_for_its_own_list_only(cast: Cast) -> None:
    actor = cast.actor("own", "lead")
    page = actor.call("GET", "positions?page_size=1").json()
    cursor = page["next"].split("cursor=")[1]
    assert actor.call("GET", f"buildings?page_size=1&cursor={cursor}").status_code == 400


@pytest.mark.parametrize("name", ["building", "project"])
def test_filters_narrow_within_what_is_seen(cast: Cast, name: str) -> None:
    actor, mine, foreign = cast.actor("own", "lead"), cast.things[name], cast.things[f"foreign_{name}"]
    assert cast.canaries["stage"] in actor.call("GET", f"positions?{name}={mine.pk}").content.decode()
    assert actor.call("GET", f"positions?{name}={foreign.pk}").json()["results"] == []
    assert actor.call("GET", f"positions?{name}=all").status_code == 400
