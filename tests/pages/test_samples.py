"""The pages of samples: the numbers before the draw, the units to repeat, what the result says, and who sees what."""

import hashlib
import re
from typing import Any

import pytest

from commissioning.models import Sample
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World
from tests.samples.world import built, drawn, repeated, tags_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm() -> World:
    return built()


def typed(firm: World, **fields: str) -> dict[str, str]:
    building = str(firm.buildings["Sorrel Hall"].pk)
    terms = {"confidence": "80", "share": "50", "accept": "0"}
    return {"title": "Sorrel Hall", "building": building, "act": "look"} | terms | fields


def ask(browser: Browser, firm: World, who: str = "lead", **fields: str) -> Any:
    return browser(who).post(f"/projects/{firm.project.pk}/samples", typed(firm, **fields))


def test_the_lead_sees_the_numbers_before_anything_is_drawn(firm: World, browser: Browser) -> None:
    page = text(ask(browser, firm))
    assert "3 units would be repeated" in page
    assert "5 50 % 8.33 %" in page  # five of ten differ: C(5, 3) / C(10, 3) = 10 / 120 = 8.33 %
    assert not Sample.objects.exists()


def test_the_lead_draws_and_anyone_who_sees_it_can_draw_again(firm: World, browser: Browser) -> None:
    made = ask(browser, firm, act="draw", seed="2026-05-05 A")
    sample = Sample.objects.get()
    assert (made.status_code, made["Location"]) == (303, f"/samples/{sample.pk}")
    page = browser("owner").get(f"/samples/{sample.pk}").content.decode()
    rows = re.findall(r"<td class=\"figures\">(\d+)</td><td>(ERV-\d+)</td><td><code>(\S+?)</code></td>", page)
    assert len(rows) == 10
    seed = re.search(r"Seed <code>(.*?)</code>", page)
    assert seed is not None
    by_hash = sorted(rows, key=lambda row: hashlib.sha256(f"{seed.group(1)}{row[2]}".encode()).hexdigest())
    assert [rank for rank, _, _ in by_hash] == [str(n) for n in range(1, 11)]
    assert [tag for _, tag, _ in by_hash[:3]] == tags_of(sample)


def test_units_that_do_not_count_cannot_be_drawn(firm: World, browser: Browser) -> None:
    firm.unit("ERV-11", "Sorrel Hall", designed=False, scope="by_others")
    ask(browser, firm, act="draw", unit=str(firm.units["ERV-11"].pk))
    assert len(tags_of(Sample.objects.get(), only_drawn=False)) == 10


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"confidence": "ninety"}, "The confidence is not a number"),
        ({"confidence": "30"}, "confidence is 0.3"),
        ({"share": "0"}, "largest defective share is 0"),
        ({"accept": "1.5"}, "The number of accepted failures is not a whole number"),
        ({"building": ""}, "name a building, a system or units"),
        ({"act": "draw", "title": ""}, "A sample needs a name"),
    ],
)
def test_what_cannot_be_drawn_is_given_back_with_the_reason(
    firm: World, browser: Browser, fields: dict[str, str], why: str
) -> None:
    answer = ask(browser, firm, **fields)
    assert answer.status_code == 400
    assert why in text(answer)
    assert not Sample.objects.exists()


@pytest.mark.parametrize("who", ["technician", "owner", "engineer"])
def test_only_the_lead_draws(firm: World, browser: Browser, who: str) -> None:
    answer = ask(browser, firm, who, act="draw")
    assert answer.status_code == 403
    assert not Sample.objects.exists()


def test_a_contractor_sees_nothing_of_samples(firm: World, browser: Browser) -> None:
    sample = drawn(firm)
    contractor = browser("contractor")
    assert contractor.get(f"/samples/{sample.pk}").status_code == 404
    assert contractor.get(f"/projects/{firm.project.pk}/samples").status_code == 403
    assert contractor.get(f"/projects/{firm.project.pk}/instruments").status_code == 403
    for path in (f"/projects/{firm.project.pk}", f"/units/{firm.units[tags_of(sample)[0]].pk}"):
        assert "ample" not in text(contractor.get(path)), path


def test_a_technician_sees_which_units_to_repeat_and_not_what_came_of_others(firm: World, browser: Browser) -> None:
    sample = drawn(firm)
    bad, *rest = tags_of(sample)
    repeated(firm, bad, {"supply": 800})
    firm.judged()
    page = text(browser("technician").get(f"/samples/{sample.pk}"))
    assert "Two of three drawn units are to be repeated, by a technician." in page
    assert all(tag in page for tag in rest)
    assert "differ" not in page.partition("How it was drawn")[0]
    owners = text(browser("owner").get(f"/samples/{sample.pk}"))
    assert "differs, in dispute supply: differs, in dispute" in owners
    assert "to be repeated supply, return, outdoor and exhaust: not repeated yet" in owners


def test_a_failed_sample_is_enlarged_once_by_the_lead(firm: World, browser: Browser) -> None:
    sample = drawn(firm)
    for tag in tags_of(sample):
        repeated(firm, tag, {"supply": 800})
    firm.judged()
    page = text(browser("lead").get(f"/samples/{sample.pk}"))
    assert "It is to be enlarged to 6 units. The next move is with the lead." in page
    assert "Enlarge it" in page
    assert "Enlarge it" not in text(browser("owner").get(f"/samples/{sample.pk}"))
    made = browser("lead").post(f"/samples/{sample.pk}")
    larger = Sample.objects.get(first=sample)
    assert (made.status_code, made["Location"]) == (303, f"/samples/{larger.pk}")
    again = browser("lead").post(f"/samples/{sample.pk}")
    assert again.status_code == 409
    assert "sample 2 takes its place" in text(again)
    assert Sample.objects.count() == 2


def test_a_drawn_unit_says_so_on_its_page_until_it_is_repeated(firm: World, browser: Browser) -> None:
    sample = drawn(firm)
    first = tags_of(sample)[0]
    other = tags_of(sample, only_drawn=False)[-1]

    def page(tag: str) -> str:
        return text(browser("technician").get(f"/units/{firm.units[tag].pk}"))

    assert "To be verified, sample 1." in page(first)
    assert "sample 1" not in page(other)
    repeated(firm, first)
    firm.judged()
    assert "Repeated, sample 1." in page(first)


def test_the_projects_page_leads_to_samples_and_instruments(firm: World, browser: Browser) -> None:
    page = browser("engineer").get(f"/projects/{firm.project.pk}").content.decode()
    for where in ("samples", "instruments"):
        assert f'href="/projects/{firm.project.pk}/{where}"' in page
