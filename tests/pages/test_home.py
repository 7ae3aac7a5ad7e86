"""The first page, for each person: sentences from known data, filters in the address, and a fixed number of queries."""

import csv
import io
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from portfolio.models import Position, Standing
from portfolio.models.standing import as_text, from_text
from tests.pages.conftest import Browser
from tests.pages.reading import text, titles
from tests.pages.world import World

pytestmark = pytest.mark.django_db


def test_the_lead_reads_how_many_can_be_signed_and_for_whom_the_others_wait(firm: World, browser: Browser) -> None:
    said = text(browser("lead").get("/"))
    assert (
        "Four of eight units can be signed. Two wait for a technician, one for Garrowby Mechanical and one for you."
        in said
    )


def test_units_stand_in_the_order_of_who_has_the_next_move(firm: World, browser: Browser) -> None:
    rows = browser("lead").get("/").context["rows"]
    assert [row.standing.position.tag for row in rows] == [
        "ERV-7", "ERV-1", "ERV-2", "ERV-4", "ERV-6", "ERV-5", "ERV-8", "ERV-3", "ERV-9",
    ]  # fmt: skip
    assert [row.who for row in rows] == ["you"] * 5 + ["a technician"] * 2 + ["Garrowby Mechanical", ""]
    assert rows[7].is_late


def test_each_row_has_the_band_of_its_worst_port(firm: World, browser: Browser) -> None:
    said = titles(browser("lead").get("/"))
    assert "Supply air measured at 79 % of design, ±4.1 %; allowed −10 % to +10 %: does not conform." in said
    assert len(said) == 6
    assert text(browser("lead").get("/")).count("– not measured") == 2


@pytest.mark.parametrize(
    ("query", "tags"),
    [
        ("state=not_measured", ["ERV-5", "ERV-8"]),
        ("who=technician", ["ERV-5", "ERV-8"]),
        ("q=bay 3", ["ERV-3"]),
        ("state=signable&sort=-unit", ["ERV-6", "ERV-4", "ERV-2", "ERV-1"]),
        ("state=nonsense&page=x&building=1&sort=by", None),
        ("page=7", []),
    ],
)
def test_what_is_asked_lies_in_the_address(firm: World, browser: Browser, query: str, tags: list[str] | None) -> None:
    response = browser("lead").get(f"/?{query}")
    assert response.status_code == 200
    found = [row.standing.position.tag for row in response.context["rows"]]
    assert found == tags if tags is not None else len(found) == 9


def test_filters_are_words_with_their_counts(firm: World, browser: Browser) -> None:
    found = browser("lead").get("/?state=not_measured").context["words"]
    states = {word.text: (word.number, word.is_chosen) for word in found["Standing"]}
    assert states["all"] == (9, False)
    assert states["not measured"] == (2, True)
    assert states["can be signed"] == (4, False)
    assert {word.text: word.number for word in found["Next move"]} == {"everyone": 2, "a technician": 2}
    company = browser("lead").get(f"/?who={firm.company.pk}").context
    assert [row.standing.position.tag for row in company["rows"]] == ["ERV-3"]


def test_a_sorted_column_says_so(firm: World, browser: Browser) -> None:
    body = browser("lead").get("/?sort=unit").content.decode()
    assert 'aria-sort="ascending"><a href="?sort=-unit"' in body


def test_the_technician_reads_what_is_next(firm: World, browser: Browser) -> None:
    said = text(browser("technician").get("/"))
    assert "Next: ERV-5, Roof, bay 5, Sorrel Hall. Nothing is measured yet." in said
    assert "Four of eight units can be signed. Two wait for the lead" not in said
    assert "one for the lead and two for you." in said


def test_the_sheet_has_every_row_and_runs_nothing(firm: World, browser: Browser) -> None:
    Position.objects.filter(pk=firm.units["ERV-5"].pk).update(location="=HYPERLINK(1)", tag="@ERV-5")
    response = browser("lead").get("/work.csv?sort=unit")
    assert response["Content-Disposition"] == 'attachment; filename="work.csv"'
    rows = list(csv.reader(io.StringIO(response.getvalue().decode("utf-8-sig"))))
    assert rows[0][:3] == ["Unit", "Kind", "Project"]
    assert len(rows) == 10
    odd = next(row for row in rows if "ERV-5" in row[0])
    assert (odd[0], odd[4]) == ("'@ERV-5", "'=HYPERLINK(1)")
    assert next(row for row in rows if row[0] == "ERV-3")[-1] == "79"


def test_the_owner_reads_a_sentence_per_building(firm: World, browser: Browser) -> None:
    said = text(browser("owner").get("/"))
    assert (
        "Three of five units in Sorrel Hall deliver their air. One does not: ERV-3 (Room 112) at 79 % of design. "
        "One has no final reading yet." in said
    )
    assert "One of three units in Thane Hall delivers its air. One does not: ERV-7 at 74 % of design." in said


def test_buildings_and_requirements_are_counts_in_words_and_marks(firm: World, browser: Browser) -> None:
    response = browser("owner").get("/")
    said = text(response)
    assert "1 does not conform 1 not due yet 3 conform" in said
    assert response.content.decode().count('class="dot bad"') == 4


def test_what_the_owner_may_accept_and_what_the_engineer_may(firm: World, browser: Browser) -> None:
    owners = [d.units for d in browser("owner").get("/").context["decisions"]]
    engineers = [d.units for d in browser("engineer").get("/").context["decisions"]]
    assert (owners, engineers) == (["ERV-7"], ["ERV-3"])
    assert "Declared ready; the retest is to come." in text(browser("owner").get("/"))


def test_the_contractor_reads_what_is_theirs_and_what_closes_it(firm: World, browser: Browser) -> None:
    said = text(browser("contractor").get("/"))
    assert "One issue is yours; it is overdue." in said
    assert (
        "Design airflow met at outdoor and supply air of ERV-3; ventilation minimum met at outdoor air of ERV-3" in said
    )
    assert "ERV-7 exhaust air: design airflow not met : ready for retest" in said
    assert "mass balance" not in said.lower()  # a draft is not theirs to see


def test_who_has_no_part_sees_no_building(firm: World, browser: Browser) -> None:
    said = text(browser("stranger").get("/"))
    assert "Nothing is yours to see at present." in said
    assert "Sorrel" not in said


# --- queries -----------------------------------------------------------------------------------------------------
WORK_QUERIES = 10
BUILDING_QUERIES = 12


def many(firm: World, number: int) -> None:
    building = firm.buildings["Sorrel Hall"]
    made = Position.objects.bulk_create(
        Position(building=building, tag=f"HRV-{number}-{n:04}", kind="hrv") for n in range(number)
    )
    Standing.objects.bulk_create(
        Standing(
            position=one,
            code="signable",
            sentence="Sign.",
            mover="lead",
            since=date(2026, 5, 1),
            band=None,
            building=building,
            tag=one.tag,
            outcomes=f"design_airflow:{'does_not_conform' if n % 50 == 0 else 'conforms'}",
        )
        for n, one in enumerate(made)
    )


def queries(browser: Browser, who: str, path: str) -> int:
    client = browser(who)
    with CaptureQueriesContext(
        connection,
    ) as seen:
        assert client.get(path).status_code == 200
    return len(seen)


@pytest.mark.parametrize(("who", "number"), [("lead", WORK_QUERIES), ("owner", BUILDING_QUERIES)])
def test_the_first_page_asks_the_same_of_a_hundred_units_and_of_a_thousand(
    firm: World, browser: Browser, who: str, number: int
) -> None:
    many(firm, 100)
    few = queries(browser, who, "/")
    many(firm, 900)
    assert (few, queries(browser, who, "/")) == (number, number)


def test_a_page_has_a_hundred_rows(firm: World, browser: Browser) -> None:
    many(firm, 150)
    first, second = browser("lead").get("/"), browser("lead").get("/?page=2")
    assert [len(page.context["rows"]) for page in (first, second)] == [100, 59]
    assert 'rel="next" href="?page=2"' in first.content.decode()


def test_what_is_accepted_as_it_is_has_no_alarm_in_the_work_list(firm: World, browser: Browser) -> None:
    def row_of_it() -> str:
        body = browser("lead").get("/").content.decode()
        return next(row for row in body.split("<tr") if firm.units["ERV-3"].pk.hex in row.replace("-", ""))

    assert 'class="dot bad"' in row_of_it()
    standing = Standing.objects.get(pk=firm.units["ERV-3"].pk)
    Standing.objects.filter(pk=standing.pk).update(
        outcomes=as_text(from_text(standing.outcomes) | {"design_airflow": "accepted"})
    )
    row = row_of_it()
    assert 'class="dot bad"' not in row
    assert 'class="dot taken"' in row
    assert "does not conform, accepted as is.</title>" in row
