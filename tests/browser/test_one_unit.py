"""One unit through the browser, by the people it concerns: from a failing final to the binder."""

import hashlib
import io
import re
import struct
import time
import zlib
from pathlib import Path

import pikepdf
import pytest
from playwright.sync_api import FilePayload, Locator, Page

from tests.browser.chromium import DESK, PHONE, Visitor
from tests.browser.conftest import House, Visit
from tests.browser.seed import STORY_BUILDING, STORY_UNIT
from tests.pages.world import DESIGN

pytestmark = pytest.mark.browser
JUDGED_S = 30.0
"""Judging takes a second or two; a binder of one unit not much more. A busy machine is given its time."""


def png() -> bytes:
    """A photo of eight grey pixels squared, which no camera ever took."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    rows = b"".join(b"\0" + bytes([90] * 8) for _ in range(8))
    head = struct.pack(">IIBBBBB", 8, 8, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def until(page: Page, words: str) -> None:
    """Load the page again until it says so, as a person would who waits for the judging."""
    end = time.monotonic() + JUDGED_S
    while words not in page.locator("main").inner_text():
        assert time.monotonic() < end, f"{page.url} does not say {words!r}:\n{page.locator('main').inner_text()}"
        page.wait_for_timeout(300)
        page.reload()


def record(technician: Visitor, session: str, flows: dict[str, float]) -> None:
    """From the list to a receipt, as the thumb goes."""
    page = technician.open("/")
    page.get_by_role("link", name=STORY_UNIT, exact=True).first.click()
    page.get_by_role("link", name="Record readings").click()
    page.get_by_label("Serial on its plate").fill(f"SN-{STORY_UNIT}")
    for group, choice in {
        "Outdoor air damper": "open",
        "Exhaust air damper": "open",
        "Filters": "clean",
        "Bypass": "closed",
        "Wheel": "running",
        "Doors": "closed",
        "The instrument shows": "standard air",
        "Readings are": "final",
    }.items():
        page.get_by_role("group", name=group, exact=True).get_by_label(choice, exact=True).check()
    page.get_by_label("Dry bulb").fill("70")
    page.get_by_label("Relative humidity").fill("40")
    page.get_by_label("Instrument", exact=True).select_option(label="Hood 3 FH-300")
    for port, flow in flows.items():
        for number, off in enumerate((-2, 0, 2), 1):
            page.get_by_label(f"{port} air, reading {number}").fill(f"{flow + off:.0f}")
    page.get_by_label("Session").fill(session)
    page.get_by_role("button", name="Send: kept once received").click()
    receipt = page.get_by_role("status").first.inner_text()
    assert re.fullmatch(r"Received\. Receipt [0-9a-f]{12}, kept on the server\.", receipt)


def open_issue(visitor: Visitor, title: str) -> Page:
    page = visitor.open("/issues")
    page.get_by_role("link", name=re.compile(re.escape(title))).click()
    return page


def open_act(page: Page, act: str) -> Locator:
    """The form of one act of the issue, opened."""
    form = page.locator("details", has=page.locator("summary", has_text=re.compile(f"^{act}$")))
    form.locator("summary").click()
    return form


def test_from_a_failing_final_to_the_binder(visit: Visit, house: House, tmp_path: Path) -> None:
    title = f"{STORY_UNIT} exhaust air: design airflow not met"
    failing_is_recorded(visit)
    draft_is_released(visit, title)
    company_declares_ready(visit, title)
    retest_passes(visit, title)
    issue_is_closed(visit, title)
    owner_is_told(visit, house)
    binder_is_built(visit, house, tmp_path)
    meeting_is_held(visit, house)


def failing_is_recorded(visit: Visit) -> None:
    with visit("technician", PHONE) as technician:
        record(technician, "AL-1", DESIGN | {"exhaust": 820})
        until(technician.page, "Release or drop issue")
        assert "does not conform" in technician.page.locator("main").inner_text()


def draft_is_released(visit: Visit, title: str) -> None:
    with visit("lead", DESK) as lead:
        page = lead.open("/")
        row = page.get_by_role("row").filter(has=page.get_by_role("link", name=STORY_UNIT, exact=True))
        assert re.search(r"Release or drop issue \d+\..*you", row.inner_text(), re.DOTALL)
        row.get_by_role("link", name=STORY_UNIT).click()
        page.get_by_role("link", name=re.compile(re.escape(title))).click()
        form = open_act(page, "Release to a company")
        form.get_by_label("Company").select_option(label="Garrowby Mechanical, mechanical")
        form.get_by_label("Due on").fill("2031-05-15")
        form.get_by_label("Root cause").fill("exhaust belt slips")
        form.get_by_role("button", name="Release to a company").click()
        page.get_by_text("with Garrowby Mechanical, due Thu 15 May 2031").wait_for()


def company_declares_ready(visit: Visit, title: str) -> None:
    with visit("contractor", PHONE) as contractor:
        page = contractor.open("/")
        assert STORY_BUILDING in page.locator("main").inner_text()
        page.get_by_role("link", name=re.compile(re.escape(title))).click()
        assert f"Design airflow met at exhaust air of {STORY_UNIT}" in page.locator("main").inner_text()
        form = open_act(page, "Declare ready, with proof")
        form.get_by_label("What was done, and how you know that it works").fill("New belt, tension set and measured.")
        photo: FilePayload = {"name": "belt.png", "mimeType": "image/png", "buffer": png()}
        form.get_by_label("Photo").set_input_files(photo)
        form.get_by_role("button", name="Declare ready, with proof").click()
        page.get_by_text("Ready for retest since").wait_for()
        assert "New belt, tension set" in page.locator(".story").last.inner_text()
        assert page.locator(".story img").count() == 1


def retest_passes(visit: Visit, title: str) -> None:
    with visit("technician", PHONE) as technician:
        page = technician.open("/")
        assert re.search(r"Retest: issue \d+ declared ready by Garrowby", page.locator("main").inner_text())
        record(technician, "AL-2", DESIGN)
        until(page, "The evidence passes: close issue")


def issue_is_closed(visit: Visit, title: str) -> None:
    with visit("lead", DESK) as lead:
        page = open_issue(lead, title)
        open_act(page, "Close on passing evidence").get_by_role("button").click()
        page.get_by_text("Closed since").wait_for()
        page.get_by_role("link", name=STORY_UNIT, exact=True).first.click()
        assert "it can be signed" in page.locator(".lead").inner_text()


def owner_is_told(visit: Visit, house: House) -> None:
    with visit("owner", PHONE) as owner:
        page = owner.open("/")
        assert f"The one unit in {STORY_BUILDING} delivers its air." in page.locator("main").inner_text()


def binder_is_built(visit: Visit, house: House, tmp_path: Path) -> None:
    with visit("lead", DESK) as lead:
        page = lead.open(house.building(STORY_BUILDING))
        page.get_by_role("link", name="Ask for its binder").click()
        assert page.get_by_label(STORY_BUILDING, exact=True).is_checked()
        page.get_by_role("button", name="Have it built").click()
        fetch = page.get_by_role("link", name="Fetch the binder (PDF)")
        fetch.wait_for(timeout=JUDGED_S * 1000)  # the page loads itself again until it is there
        with page.expect_download() as coming:
            fetch.click()
        file = tmp_path / "binder.pdf"
        coming.value.save_as(file)
        shown = page.locator("code").inner_text()
        pages = int(re.search(r"It is built: (\d+) pages", page.locator(".lead").inner_text())[1])  # type: ignore[index]
    data = file.read_bytes()
    assert data.startswith(b"%PDF-")
    assert hashlib.sha256(data).hexdigest() == shown.replace("\n", "")
    with pikepdf.open(io.BytesIO(data)) as binder:
        assert len(binder.pages) == pages > 8
        assert binder.attachments
    with visit("owner", DESK) as owner:
        page = owner.open("/")
        page.get_by_role("link", name=STORY_BUILDING, exact=True).last.click()
        assert page.get_by_role("link", name="Fetch the binder (PDF)").is_visible()


def meeting_is_held(visit: Visit, house: House) -> None:
    with visit("lead", DESK) as lead:
        page = lead.open(house.project())
        page.get_by_role("link", name="Sheet for the weekly meeting").click()
        assert re.search(r"issues? (is|are) open", page.locator(".lead").inner_text())
        paper = page.request.get(lead.base + str(page.get_by_role("link", name="PDF").get_attribute("href")))
        assert paper.ok
        with pikepdf.open(io.BytesIO(paper.body())) as sheet:
            assert 1 <= len(sheet.pages) <= 2
