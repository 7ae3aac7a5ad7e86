"""Schedules and binders by hand: a dry run before anything is applied, a binder watched until it can be fetched."""

import re
import uuid
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from commissioning.models import Binder
from portfolio.jobs import runner
from portfolio.models import DesignImport, DesignRevision, Position
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World

pytestmark = pytest.mark.django_db

CELLS = "TAG\tBUILDING\tSUPPLY CFM\tOUTDOOR CFM\nERV-1\tSorrel Hall\t1100\t1000\nERV-20\tThane Hall\t900\t900\n"


def read(firm: World, browser: Browser, **fields: Any) -> str:
    response = browser("lead").post(f"/projects/{firm.project.pk}/import", fields)
    assert response.status_code == 303, text(response)
    return str(response["Location"])


def test_what_was_pasted_is_read_and_asks_for_the_air(firm: World, browser: Browser) -> None:
    where = read(firm, browser, pasted=CELLS)
    said = text(browser("lead").get(where))
    assert "One question stands in the way; nothing is applied while it does." in said
    assert "ERV-20 Thane Hall new supply airflow: 900 cfm Pasted!C3" in said
    assert "supply airflow: 1000 cfm → 1100 cfm Pasted!C2" in said
    assert "Apply it" not in said
    refused = browser("lead").post(f"{where}/apply")
    assert refused.status_code == 400
    assert "Nothing was applied" in text(refused)
    assert DesignRevision.objects.count() == 1


def test_what_was_meant_is_said_and_then_it_is_applied_once(firm: World, browser: Browser) -> None:
    where = read(firm, browser, pasted=CELLS)
    said = {
        "air_basis": "standard",
        "dated": "2026-04-01",
        "source": "addendum",
        "title": "Addendum 1",
        "partial": "on",
    }
    assert browser("lead").post(where, said).status_code == 303
    page = browser("lead").get(where)
    assert "Applying it makes one unit and changes one." in text(page)
    assert browser("lead").post(f"{where}/apply").status_code == 303
    revision = DesignRevision.objects.get(number=2)
    assert (str(revision.dated), revision.source, revision.title, revision.partial) == (
        "2026-04-01", "addendum", "Addendum 1", True,
    )  # fmt: skip
    assert Position.objects.filter(tag="ERV-20").exists()
    runner.drain()
    unit = text(browser("lead").get(f"/units/{firm.units['ERV-1'].pk}"))
    assert "1,100 cfm Revision 2, addendum, 2026-04-01" in unit
    assert "This schedule was applied as revision 2." in text(browser("lead").get(where))
    again = read(firm, browser, pasted=CELLS)
    browser("lead").post(again, said)
    assert "Applying it changes nothing" in text(browser("lead").get(again))


def test_a_column_can_be_told_otherwise(firm: World, browser: Browser) -> None:
    where = read(firm, browser, pasted=CELLS.replace("OUTDOOR CFM", "MYSTERY"))
    body = browser("lead").get(where).content.decode()
    number = re.search(r'name="(meaning-\d+)"(?:(?!name=)[\s\S])*<option value="" selected', body)
    assert number
    index = number[1].partition("-")[2]
    fields = {f"meaning-{index}": "outdoor.airflow", f"unit-{index}": "cfm", "air_basis": "standard"}
    assert browser("lead").post(where, fields).status_code == 303
    assert "outdoor airflow: 900 cfm" in text(browser("lead").get(where))
    bad = browser("lead").post(where, {f"meaning-{index}": "nonsense"})
    assert bad.status_code == 400
    assert "there is no such meaning" in text(bad)


def test_errors_are_told_with_their_cells(firm: World, browser: Browser) -> None:
    where = read(firm, browser, pasted=CELLS.replace("Thane Hall", "Nowhere").replace("1100", "lots"))
    response = browser("lead").get(where)
    found = {(one["row"], one["column"], one["value"]) for one in response.context["errors"]}
    assert (3, "B", "Nowhere") in found or any(value == "Nowhere" for _, _, value in found)
    assert any(value == "lots" for _, _, value in found)
    assert "Buildings are: Sorrel Hall, Thane Hall." in text(response)


def test_nothing_handed_in_is_said(firm: World, browser: Browser) -> None:
    path = f"/projects/{firm.project.pk}/import"
    assert browser("lead").post(path, {}).status_code == 400
    junk = SimpleUploadedFile("x.xlsx", b"PK no workbook", "application/zip")
    where = browser("lead").post(path, {"file": junk})["Location"]
    assert "stands in the way" in text(browser("lead").get(where))
    assert DesignImport.objects.count() == 1


def test_only_the_lead_imports(firm: World, browser: Browser) -> None:
    response = browser("owner").get(f"/projects/{firm.project.pk}/import")
    assert response.status_code == 403
    assert "Only a commissioning lead may import a design; here you are the owner." in text(response)


# --- binders -----------------------------------------------------------------------------------------------------
def ask(firm: World, browser: Browser, who: str = "owner", **fields: Any) -> Any:
    return browser(who).post(f"/projects/{firm.project.pk}/binders", {"title": "Sorrel Hall, closeout"} | fields)


def test_a_binder_is_asked_for_watched_and_fetched(firm: World, browser: Browser) -> None:
    asked = ask(firm, browser, building=str(firm.buildings["Sorrel Hall"].pk))
    assert asked.status_code == 303
    page = browser("owner").get(asked["Location"])
    assert "It waits to be built." in text(page)
    assert page["Refresh"] == "3"
    runner.drain()
    page = browser("owner").get(asked["Location"])
    binder = Binder.objects.get()
    assert f"It is built: {binder.pages} pages." in text(page)
    assert "Refresh" not in page
    assert f'href="/api/v1/binders/{binder.pk}/file"' in page.content.decode()
    fetched = browser("owner").get(f"/api/v1/binders/{binder.pk}/file")
    assert fetched.getvalue().startswith(b"%PDF")
    assert "Sorrel Hall, closeout, Ostrander Vale schools: " in text(browser("owner").get("/"))


def test_chosen_units_make_a_binder_too(firm: World, browser: Browser) -> None:
    ask(firm, browser, unit=[str(firm.units["ERV-1"].pk), str(firm.units["ERV-6"].pk)])
    assert sorted(Binder.objects.get().positions.values_list("tag", flat=True)) == ["ERV-1", "ERV-6"]


@pytest.mark.parametrize("fields", [{}, {"building": "x"}, {"unit": [str(uuid.uuid4())]}, {"title": " "}])
def test_a_binder_of_nothing_is_not_asked_for(firm: World, browser: Browser, fields: dict[str, Any]) -> None:
    response = ask(firm, browser, "lead", **fields)
    assert response.status_code == 400
    assert not Binder.objects.exists()


def test_who_may_not_have_one_built_reads_why(firm: World, browser: Browser) -> None:
    response = ask(firm, browser, "technician", building=str(firm.buildings["Sorrel Hall"].pk))
    assert response.status_code == 403
    said = text(browser("technician").get(f"/projects/{firm.project.pk}/binders"))
    assert "Only a commissioning lead or the owner may have a binder built" in said
