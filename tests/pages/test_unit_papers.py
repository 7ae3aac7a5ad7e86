"""Restore sheet and start report of a unit: the links, the pages and their PDF, as somebody at the firm meets them."""

from io import BytesIO
from typing import Any

import pikepdf
import pytest

from commissioning.binders import pages
from commissioning.evidence.accept import Kept, Sender, accept
from tests import envelopes
from tests.kinds import settings_records
from tests.pages import world
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def firm(db: None) -> World:
    made = world.found()
    made.unit("ERV-1", "Sorrel Hall", "Roof, bay 1")
    made.judged()
    return made


def read_settings(firm: World, **changes: Any) -> None:
    """A snapshot as left, sent by the technician and judged."""
    given = settings_records.record(**{"serial_seen": "SN-ERV-1", **changes})
    given |= {"position": str(firm.units["ERV-1"].pk), "observed_by": str(firm.people["technician"].pk)}
    (outcome,) = accept(Sender(firm.people["technician"], None, "world"), [envelopes.raw(given)])
    assert isinstance(outcome, Kept), outcome
    firm.judged()


def paper(response: Any) -> str:
    assert (response.status_code, response["Content-Type"]) == (200, "application/pdf")
    with pikepdf.open(BytesIO(response.content)) as opened:
        return f"{len(opened.pages)} pages: " + " ".join(pages.read(response.content).pages)


def test_the_restore_sheet_of_a_unit_is_a_page_and_one_page_on_paper(firm: World, browser: Browser) -> None:
    address = f"/units/{firm.units['ERV-1'].pk}"
    nothing = browser("technician").get(f"{address}/restore")
    assert "there is nothing to set it by" in text(nothing)
    assert b"restore.pdf" not in nothing.content
    read_settings(firm)
    assert f'href="{address}/restore"' in browser("technician").get(address).content.decode()
    page = text(browser("technician").get(f"{address}/restore"))
    assert "42 settings." in page
    assert "Read by Idris Fenwarden, measured by us, in session AL-1, on the machine of serial SN-ERV-1" in page
    assert "Caution: A fan that starts." in page
    printed = paper(browser("contractor").get(f"{address}/restore.pdf"))
    assert printed.startswith("1 pages: ")
    assert "Restore sheet: ERV-1" in printed
    assert "SN-ERV-1 (Aldermoor AV-12)" in printed


def test_the_start_report_says_first_what_is_missing_and_whose_evidence_it_rests_on(
    firm: World, browser: Browser
) -> None:
    read_settings(firm)
    address = f"/units/{firm.units['ERV-1'].pk}"
    assert f'href="{address}/start"' in browser("lead").get(address).content.decode()
    page = text(browser("lead").get(f"{address}/start"))
    assert "Not complete: no checklist is recorded; " in page
    assert "Revision 1, design, 2026-01-05" in page
    assert "Idris Fenwarden" in page
    printed = paper(browser("owner").get(f"{address}/start.pdf"))
    assert "Start report: ERV-1" in printed
    assert "no start is recorded" in printed


def test_who_does_not_see_the_unit_finds_none_of_its_papers(firm: World, browser: Browser) -> None:
    for name in ("restore", "restore.pdf", "start", "start.pdf"):
        assert browser("stranger").get(f"/units/{firm.units['ERV-1'].pk}/{name}").status_code == 404
