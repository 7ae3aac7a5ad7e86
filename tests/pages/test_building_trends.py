"""A building's trend logs on one page: what is on record with what was found, what waits, and for whom it is there."""

import re
from typing import Any

import pytest

from commissioning.evidence.accept import Sender
from commissioning.evidence.trends import mapping, receiving, sending
from commissioning.models import TrendUpload
from portfolio.jobs import child
from tests.logs.test_again import MAPPING, exported, here
from tests.pages import world
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World

TWO = [MAPPING["points"][0], *(one | {"tag": "ERV-2"} for one in MAPPING["points"][1:])]


@pytest.fixture
def firm(db: None, monkeypatch: pytest.MonkeyPatch) -> World:
    monkeypatch.setattr(child, "run", here)
    made = world.found()
    for tag, building in (("ERV-1", "Sorrel Hall"), ("ERV-2", "Sorrel Hall"), ("ERV-7", "Thane Hall")):
        made.unit(tag, building, designed=False)
    made.judged()
    return made


def sent(firm: World, tag: str, name: str, data: bytes | None = None) -> TrendUpload:
    held = exported() if data is None else data
    return receiving.receive_whole(
        position=firm.units[tag], person=firm.people["technician"], file_name=name, data=held
    )


def recorded(firm: World, tag: str, name: str, points: Any = MAPPING["points"]) -> TrendUpload:
    upload = sent(firm, tag, name, exported() + f"\n1777957000,note,{len(name)}".encode())
    mapping.apply(upload, mapping.read_mapping(MAPPING | {"points": points}), firm.people["technician"])
    firm.judged()
    upload.refresh_from_db()
    sending.send(upload, Sender(firm.people["technician"], None, "test"))
    firm.judged()
    return upload


def page_of(firm: World, client: Any, building: str = "Sorrel Hall", query: str = "") -> Any:
    page = client.get(f"/buildings/{firm.buildings[building].pk}/trends{query}")
    assert page.status_code == 200
    return page


def rows(page: Any) -> list[str]:
    body = page.content.decode().split("<tbody>")[1].split("</tbody>")[0]
    return [" ".join(re.sub(r"<[^>]+>", " ", one).split()) for one in re.findall(r"<tr>(.*?)</tr>", body, re.DOTALL)]


def test_a_log_on_record_tells_its_units_and_what_was_found_at_each(firm: World, browser: Browser) -> None:
    recorded(firm, "ERV-1", "both.csv", TWO)
    page = page_of(firm, browser("owner"))
    assert "1 log came in, and it is on record." in text(page)
    [row] = rows(page)
    assert "Mon 4 May 2026, 00:00 to Mon 4 May, 23:55" in row  # in the log's own zone
    assert "North wing accepted ERV-1 :" in row
    assert re.search(r"ERV-2 : \d expectations? do(es)? not hold|ERV-2 : \d holds?", row)
    for tag in ("ERV-1", "ERV-2"):
        address = f"/units/{firm.units[tag].pk}/trends/1"
        assert f'href="{address}"' in page.content.decode()
        assert browser("owner").get(address).status_code == 200


def test_what_is_not_on_record_tells_what_it_waits_for(firm: World, browser: Browser) -> None:
    sent(firm, "ERV-2", "waits.csv")
    sent(firm, "ERV-1", "broken.csv", b"\x00\x01\x02 no table")
    firm.judged()
    page = page_of(firm, browser("technician"))
    assert "2 logs came in; 2 are not on record." in text(page)
    broken, waits = sorted(rows(page))
    assert "not said read, and waiting for its mapping ERV-2" in waits
    assert "There is a NUL character. The file was cut or damaged; export it again. ERV-1" in broken


def test_another_buildings_logs_are_not_there_and_a_stranger_finds_no_page(firm: World, browser: Browser) -> None:
    sent(firm, "ERV-1", "sorrel.csv")
    sent(firm, "ERV-7", "thane.csv")
    firm.judged()
    assert [row.split()[0] for row in rows(page_of(firm, browser("lead")))] == ["sorrel.csv"]
    assert [row.split()[0] for row in rows(page_of(firm, browser("lead"), "Thane Hall"))] == ["thane.csv"]
    address = f"/buildings/{firm.buildings['Sorrel Hall'].pk}"
    assert browser("stranger").get(f"{address}/trends").status_code == 404
    assert f'href="{address}/trends"' in browser("lead").get(address).content.decode()


def test_a_log_is_sent_from_here_by_who_may(firm: World, browser: Browser) -> None:
    assert "No log came in yet." in text(page_of(firm, browser("technician")))
    links = {tag: f'href="/units/{unit.pk}/trends/new"' for tag, unit in firm.units.items()}
    held = page_of(firm, browser("technician")).content.decode()
    assert [tag for tag, link in links.items() if link in held] == ["ERV-1", "ERV-2"]
    assert "/trends/new" not in page_of(firm, browser("owner")).content.decode()


def test_a_hundred_logs_are_read_in_as_many_questions_as_one(
    firm: World, browser: Browser, django_assert_max_num_queries: Any
) -> None:
    held = recorded(firm, "ERV-1", "first.csv", TWO)
    client = browser("technician")
    page_of(firm, client)
    with django_assert_max_num_queries(100) as once:
        page_of(firm, client)
    TrendUpload.objects.bulk_create(
        TrendUpload(
            position=held.position, made_by=held.made_by, file_name=f"{number}.csv", size=1, sha256=held.sha256,
            state="accepted", mapping=held.mapping, result=held.result,
        )
        for number in range(100)
    )  # fmt: skip
    with django_assert_max_num_queries(len(once.captured_queries)):
        page = page_of(firm, client)
    assert len(rows(page)) == 50
    assert len(rows(page_of(firm, client, query="?page=3"))) == 1
    assert rows(page_of(firm, client, query="?page=9")) == rows(page_of(firm, client, query="?page=3"))
