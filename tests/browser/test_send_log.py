"""A log sent over a line that breaks: it goes on where it was cut off, also after the page was left."""

import pytest
from playwright.sync_api import FilePayload, Page, Route

from tests.browser.chromium import PHONE
from tests.browser.conftest import House, Visit
from tests.browser.seed import LOG_UNIT

pytestmark = pytest.mark.browser
PIECE = 1024 * 1024
ROWS = "".join(f"2026-05-04T{s // 3600:02}:{s // 60 % 60:02}:{s % 60:02}Z,{18 + s % 7}.0\n" for s in range(86_400))
DATA = f"Time,SAT (°C)\n{ROWS}".encode()
assert PIECE < len(DATA) < 3 * PIECE


def choose(page: Page, name: str) -> None:
    file: FilePayload = {"name": name, "mimeType": "text/csv", "buffer": DATA}
    page.locator("#file").set_input_files(file)
    page.get_by_role("button", name="Send and look at it").click()


class Line:
    """The line to the server: how far each piece began that went through, and whether it is broken."""

    def __init__(self, page: Page, *, breaks_at: int) -> None:
        self.began: list[int] = []
        self.breaks_at = breaks_at
        page.route("**/api/v1/trend-uploads/*", self._piece)

    def _piece(self, route: Route) -> None:
        if route.request.method != "PATCH":
            route.fallback()
            return
        offset = int(route.request.headers["upload-offset"])
        if offset == self.breaks_at:
            route.abort("connectionreset")
            return
        self.began.append(offset)
        route.fallback()


def test_a_line_that_breaks_is_waited_for_and_nothing_is_sent_twice(visit: Visit, house: House) -> None:
    with visit("technician", PHONE) as technician:
        page = technician.open(f"{house.unit(LOG_UNIT)}/trends/new")
        line = Line(page, breaks_at=PIECE)
        choose(page, "waits.csv")
        page.get_by_text("The line broke. What is there stays there").wait_for()
        line.breaks_at = -1
        page.wait_for_url("**/trend-uploads/*")
        assert line.began == list(range(0, len(DATA), PIECE))
        assert page.locator("h1").inner_text() == "waits.csv"
        technician.watch.complaints = [one for one in technician.watch.complaints if "ERR_CONNECTION_RESET" not in one]


def test_the_same_file_chosen_again_goes_on_where_it_was_cut_off(visit: Visit, house: House) -> None:
    with visit("technician", PHONE) as technician:
        page = technician.open(f"{house.unit(LOG_UNIT)}/trends/new")
        Line(page, breaks_at=PIECE)
        choose(page, "left.csv")
        page.get_by_text("The line broke").wait_for()
        page.unroute_all(behavior="ignoreErrors")
        page = technician.open(f"{house.unit(LOG_UNIT)}/trends/new")
        page.get_by_text("cut off at 1.0").wait_for()
        line = Line(page, breaks_at=-1)
        choose(page, "left.csv")
        page.wait_for_url("**/trend-uploads/*")
        assert line.began == list(range(PIECE, len(DATA), PIECE))
        technician.watch.complaints = [one for one in technician.watch.complaints if "ERR_CONNECTION_RESET" not in one]
