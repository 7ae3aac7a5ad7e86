"""The pictures in docs/ and README.md, taken of the demo as each of its people sees it: `make pictures`.

    python -m tests.browser.pictures                 plays the demo in a temporary directory first
    python -m tests.browser.pictures --of var        takes them of a copy of a VAR_DIR where the demo has been played

Nothing is drawn or retouched: each is a page as Chromium shows it, or a page of a binder as poppler does, with fewer
colours so that it stays small.
"""

import argparse
import io
import re
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from uuid import UUID

from PIL import Image
from playwright.sync_api import Browser, Page

from fixtures.demo.stage import PASSWORD
from fixtures.scenario.people import PEOPLE
from tests.browser.chromium import DESK, PHONE, Visitor, chromium, visiting
from tests.live import ROOT, Installation, Web, installed

PICTURES = ROOT / "docs" / "pictures"
COLOURS = 160
LARGEST = 150_000
MOST_WIDE = 1280


@dataclass
class Camera:
    """Takes pictures of the installation into `folder`."""

    here: Installation
    web: Web
    browser: Browser
    folder: Path

    @contextmanager
    def of(self, who: str, size: tuple[int, int]) -> Iterator[Visitor]:
        """`who` by the key of the scenario, signed in; "" is nobody."""
        with visiting(self.browser, self.web.url, size, sharp=size == PHONE) as visitor:
            if who:
                visitor.sign_in(next(p.email for p in PEOPLE if p.key == who), PASSWORD)
            yield visitor
            assert visitor.watch.complaints == [], visitor.watch.complaints

    def shoot(self, name: str, page: Page) -> None:
        self.keep(name, Image.open(io.BytesIO(page.screenshot(animations="disabled"))))

    def keep(self, name: str, picture: Image.Image) -> None:
        assert picture.width <= MOST_WIDE, name
        file = self.folder / f"{name}.png"
        few = picture.convert("RGB").quantize(COLOURS, Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE)
        few.save(file, optimize=True)
        size = file.stat().st_size
        print(f"{name}: {picture.width} x {picture.height}, {size / 1000:.0f} kB", flush=True)
        assert size < LARGEST, f"{name} is {size} bytes"

    # --- where things are, asked of the database, since the demo gives every thing an id of its own ---------------
    def unit(self, tag: str, building: str) -> str:
        query = "SELECT p.id FROM portfolio_position p JOIN portfolio_building b ON b.id = p.building_id"
        return f"/units/{self._id(query + ' WHERE p.tag = ? AND b.name = ?', tag, building)}"

    def building(self, name: str) -> str:
        return f"/buildings/{self._id('SELECT id FROM portfolio_building WHERE name = ?', name)}"

    def project(self, code: str) -> str:
        return f"/projects/{self._id('SELECT id FROM portfolio_project WHERE code = ?', code)}"

    def issue(self, title: str, state: str) -> str:
        query = "SELECT id FROM commissioning_issue WHERE title LIKE ? AND state = ?"
        return f"/issues/{self._id(query, title + '%', state)}"

    def binder(self, building: str) -> str:
        return f"/binders/{self._id('SELECT id FROM commissioning_binder WHERE title LIKE ?', building + '%')}"

    def _id(self, query: str, *values: str) -> UUID:
        ((found,), *_) = self.here.rows(query, values)
        return UUID(str(found))


def to_the_top(page: Page, words: str) -> None:
    """Scroll so that the heading or legend with these words is at the top."""
    place = page.locator("h2, h3, legend, summary, label").filter(has_text=re.compile(f"^{words}")).first
    place.evaluate("e => window.scrollBy(0, e.getBoundingClientRect().top - 16)")


def opened(page: Page, act: str) -> Page:
    page.locator("summary", has_text=re.compile(f"^{act}$")).click()
    return page


def in_days(days: int) -> str:
    return (date.today() + timedelta(days=days)).isoformat()


# --- the lead, at a desk ------------------------------------------------------------------------------------------
def of_the_lead(camera: Camera) -> None:
    with camera.of("maren", DESK) as lead:
        camera.shoot("lead-work", lead.open("/"))
        camera.shoot("lead-unit", lead.open(camera.unit("AHU-1", "Forge Building")))
        page = lead.page
        page.locator("details.judged").filter(has_text="Design airflow, supply").first.locator("summary").first.click()
        to_the_top(page, "What follows")
        camera.shoot("lead-working", page)
        page = lead.open(camera.issue("AHU-1 supply air", "draft"))
        form = opened(page, "Release to a company").locator("details[open]")
        form.get_by_label("Company").select_option(label="Garrowby Mechanical, mechanical")
        form.get_by_label("Due on").fill(in_days(10))
        form.get_by_label("Root cause").fill("supply damper not fully open")
        camera.shoot("lead-release", page)
        camera.shoot("lead-meeting", lead.open(camera.project("OV-2601") + "/meeting"))
        camera.shoot("lead-building", lead.open(camera.building("Linden Hall")))


# --- a technician, on a roof --------------------------------------------------------------------------------------
def of_the_technician(camera: Camera) -> None:
    with camera.of("teodor", PHONE) as technician:
        camera.shoot("technician-next", technician.open("/"))
        page = technician.open(camera.unit("ERV-1", "North Block"))
        camera.shoot("technician-unit", page)
        page.get_by_role("link", name="Record readings").click()
        camera.shoot("technician-caution", page)
        _type_readings(page)
        to_the_top(page, "Readings")
        camera.shoot("technician-readings", page)
        page.get_by_role("button", name="Send: kept once received").click()
        page.get_by_role("status").first.wait_for()
        camera.shoot("technician-receipt", page)
        _wait_for(page, "it can be signed")
        camera.shoot("technician-judged", page)


def _type_readings(page: Page) -> None:
    """The anemometer's certificate had lapsed; the unit is read again with one whose has not."""
    page.get_by_label("When, at the site").fill("2026-06-08T09:10:00-06:00")
    page.get_by_label("Serial on its plate").fill("E27517")
    for group, choice in {"Filters": "clean", "Wheel": "running", "Doors": "closed", "Readings are": "final"}.items():
        page.get_by_role("group", name=group, exact=True).get_by_label(choice, exact=True).check()
    page.get_by_label("Dry bulb").fill("21.5")
    page.get_by_label("Relative humidity").fill("30")
    chosen = page.get_by_label("Instrument", exact=True)
    label = next(o for o in chosen.locator("option").all_inner_texts() if o.startswith("Thermal anemometer TA-2"))
    chosen.select_option(label=label)
    for port, values in {
        "supply": ("372", "376", "378"),
        "return": ("352", "351", "355"),
        "outdoor": ("371", "369", "374"),
        "exhaust": ("346", "349", "344"),
    }.items():
        for number, value in enumerate(values, 1):
            page.get_by_label(f"{port} air, reading {number}").fill(value)
    page.get_by_label("Session").fill("AL-2")


def _wait_for(page: Page, words: str) -> None:
    end = time.monotonic() + 60
    while words not in page.locator("main").inner_text():
        assert time.monotonic() < end, page.locator("main").inner_text()
        page.wait_for_timeout(500)
        page.reload()


# --- a company that installed it ----------------------------------------------------------------------------------
def of_the_contractor(camera: Camera) -> None:
    with camera.of("lorcan", PHONE) as contractor:
        camera.shoot("contractor-list", contractor.open("/"))
        page = contractor.open(camera.issue("Vane meter", "released"))
        camera.shoot("contractor-issue", page)
        form = opened(page, "Declare ready, with proof").locator("details[open]")
        form.get_by_label("What was done").fill(
            "Balanced again with vane meter VM-4, certificate VM-4/26. All four airflows within 4 %; report attached."
        )
        to_the_top(page, "What may follow")
        camera.shoot("contractor-ready", page)
    with camera.of("maren", DESK) as lead:
        page = lead.open(camera.project("OV-2601"))
        page.get_by_role("link", name="Wexmoor Air Balance").click()
        camera.shoot("lead-list", page)
        page.get_by_role("button", name="Make a link").click()
        address = page.locator(".told code").inner_text()
    with camera.of("", PHONE) as nobody:
        page = nobody.open(address.removeprefix(camera.web.url))
        page.locator("summary").first.click()
        page.get_by_label("Ready for the retest").check()
        page.get_by_label("What was done").fill("Balanced again with vane meter VM-4; all four within 4 %.")
        page.get_by_label("Your name").fill("Lorcan Piddock")
        page.evaluate("window.scrollTo(0, 0)")
        camera.shoot("contractor-link", page)


# --- the owner ----------------------------------------------------------------------------------------------------
def of_the_owner(camera: Camera) -> None:
    with camera.of("hester", DESK) as owner:
        camera.shoot("owner-buildings", owner.open("/"))
        camera.shoot("owner-building", owner.open(camera.building("Juniper Annex")))
        page = owner.open(camera.issue("Vane meter", "released"))
        form = opened(page, "Accept as is").locator("details[open]")
        form.get_by_label("Why it is accepted").fill(
            "The seminar room is used by twelve at most; the lower airflow holds until the summer works."
        )
        camera.shoot("owner-accept", page)
        page = owner.open(camera.binder("Linden Hall"))
        camera.shoot("owner-binder", page)
        href = page.get_by_role("link", name="Fetch the binder").get_attribute("href")
        file = camera.here.folder / "binder.pdf"
        file.write_bytes(page.request.get(owner.base + str(href)).body())
    for name, page_number in (("binder-summary", 4), ("binder-unit", _page_of(file, "ERV-3"))):
        camera.keep(name, _paper(file, page_number))


def _page_of(binder: Path, tag: str) -> int:
    """The first page whose outer corner and title both say the tag."""
    pages = subprocess.run(
        ["pdftotext", "-layout", str(binder), "-"], capture_output=True, text=True, check=True
    ).stdout
    return next(n for n, text in enumerate(pages.split("\f"), 1) if re.search(rf"^\s*{tag}\n", text, re.MULTILINE))


def _paper(binder: Path, number: int) -> Image.Image:
    command = ["pdftoppm", "-png", "-r", "92", "-f", str(number), "-l", str(number), str(binder)]
    return Image.open(io.BytesIO(subprocess.run(command, capture_output=True, check=True).stdout))


SITTINGS: tuple[Callable[[Camera], None], ...] = (of_the_lead, of_the_owner, of_the_contractor, of_the_technician)


def take(given: Path | None, folder: Path) -> None:
    with tempfile.TemporaryDirectory(prefix="ventfolio-pictures-") as made:
        var = Path(made) / "var"
        if given:
            shutil.copytree(given, var)
        else:
            var.mkdir()
        extra = {"VAR_DIR": str(var), "BLOB_DIR": str(var / "blobs")}
        with installed(Path(made), database_url=f"sqlite:///{var / 'ventfolio.sqlite3'}", extra=extra) as here:
            here.migrate()
            if not given:
                print("Playing the demo, a minute or two.", flush=True)
                here.manage("demo")
            here.relay()
            web = here.web()
            folder.mkdir(parents=True, exist_ok=True)
            with chromium() as browser:
                for sitting in SITTINGS:
                    sitting(Camera(here, web, browser, folder))


def main() -> None:
    parser = argparse.ArgumentParser(description="Takes the pictures of docs/pictures.")
    parser.add_argument("--of", type=Path, metavar="VAR_DIR", help="where the demo has been played; it is not touched")
    parser.add_argument("--into", type=Path, default=PICTURES, metavar="FOLDER")
    asked = parser.parse_args()
    take(asked.of, asked.into)


if __name__ == "__main__":
    main()
