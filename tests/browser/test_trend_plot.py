"""The plot of a trend log, as a reader looks into it: lines and marks, zoom by the server, the table beside it."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, Response

from tests.browser.chromium import DESK, PHONE, Visitor
from tests.browser.conftest import House, Visit
from tests.browser.seed import LOG_UNIT, SPIKE_C, SPIKE_S
from tests.browser.soundness import faults
from tests.kinds.trend_records import BEGIN_S, HOUR

pytestmark = pytest.mark.browser
RATIO = "settings read as left: exhaust to supply ratio from 90 % to 70 %"

_INK = """(canvas) => {
  const probe = document.createElement('p');
  probe.style.color = 'var(--brick)';
  document.body.append(probe);
  const [r, g, b] = getComputedStyle(probe).color.match(/[0-9]+/g).map(Number);
  probe.remove();
  const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
  let ink = 0, brick = 0;
  for (let i = 0; i < data.length; i += 4) {
    if (data[i + 3] < 128) continue;
    ink++;
    if (Math.abs(data[i] - r) + Math.abs(data[i + 1] - g) + Math.abs(data[i + 2] - b) < 30) brick++;
  }
  return { ink, brick, area: canvas.width * canvas.height };
}"""


def is_series(response: Response) -> bool:
    return "/series.json" in response.url


@contextmanager
def opened(visitor: Visitor, house: House) -> Iterator[tuple[Page, dict[str, Any]]]:
    """The page with its whole log drawn; whatever it asks of another host fails the test."""
    asked: list[str] = []
    visitor.page.on("request", lambda request: asked.append(request.url))
    with visitor.page.expect_response(is_series) as answer:
        page = visitor.open(f"{house.unit(LOG_UNIT)}/trends/1")
    page.locator(".uplot canvas").last.wait_for()
    yield page, answer.value.json()
    assert [url for url in asked if not url.startswith((house.url, "data:"))] == []


def temperatures(series: dict[str, Any]) -> list[tuple[float, float]]:
    """As drawn: when, and how warm in °F."""
    [line] = [line for panel in series["panels"] for line in panel["lines"] if line["name"] == "supply air temperature"]
    pairs = zip(line["times_s"], line["values"], strict=True)
    return [(series["from_s"] + at, value) for at, value in pairs if value is not None]


def drag(page: Page, over: Locator, begin: float, end: float) -> None:
    """Draw over a stretch, from one share of the width to another."""
    over.scroll_into_view_if_needed()
    box = over.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] * begin, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * end, box["y"] + box["height"] / 2, steps=4)
    page.mouse.up()


@pytest.mark.parametrize("size", [PHONE, DESK])
def test_lines_and_findings_are_drawn_and_stand_in_words_and_in_a_table(
    visit: Visit, house: House, size: tuple[int, int]
) -> None:
    with visit("technician", size) as technician, opened(technician, house) as (page, series):
        states, temperature = (page.locator(".uplot canvas").nth(index).evaluate(_INK) for index in (0, 1))
        for canvas in (states, temperature):
            assert 0.01 < canvas["ink"] / canvas["area"] < 0.9  # neither blank nor filled
            assert canvas["brick"] > 50  # the finding's line goes through each panel
        assert page.locator("figure.trend > svg").first.is_hidden()  # the picture that stands without a script
        marks = page.locator("ol.marks li")
        assert marks.count() == len(series["marks"])
        bad = [one["words"] for one in series["marks"] if one["is_fault"]]
        assert page.locator("ol.marks li.bad").all_inner_texts() == bad
        assert any("commanded before the outdoor air damper was proven open" in one for one in bad)
        assert f"Mon 4 May, 15:00: {RATIO}." in marks.all_inner_texts()
        event = page.locator("#events ~ table").first.locator("tbody tr").inner_text()
        assert " ".join(event.split()) == f"Mon 4 May, 15:00 {LOG_UNIT} {RATIO}"
        page.locator("select[name=point]").select_option(label="supply air temperature, °F")
        page.get_by_role("button", name="Show its samples").click()
        assert "8640 samples" in page.locator("main").inner_text()  # 24 h of one in ten seconds
        assert page.locator("table.samples tbody tr").count() == 100
        assert faults(page) == []


def test_the_whole_log_keeps_its_extremes_and_a_stretch_is_asked_of_the_server_finer(
    visit: Visit, house: House
) -> None:
    with visit("lead", DESK) as lead, opened(lead, house) as (page, series):
        whole = temperatures(series)
        assert len(whole) < 8640 / 2
        assert dict(whole)[BEGIN_S + SPIKE_S] == pytest.approx(SPIKE_C * 1.8 + 32.0, abs=0.1)
        with page.expect_response(is_series) as answer:
            drag(page, page.locator(".uplot .u-over").nth(1), 0.49, 0.53)
        near = temperatures(answer.value.json())
        begin, end = near[0][0], near[-1][0]
        assert BEGIN_S + 11.0 * HOUR < begin < end < BEGIN_S + 13.5 * HOUR
        assert len(near) == round((end - begin) / 10.0) + 1  # now each sample is drawn
        page.wait_for_url("**from=*")
        assert "Mon 4 May, 15:00" not in page.locator("ol.marks").inner_text()
        with page.expect_response(is_series) as back:
            page.get_by_role("button", name="Whole log").click()
        assert temperatures(back.value.json()) == whole
        page.wait_for_url(lambda url: "from=" not in url)


def test_on_a_phone_the_buttons_zoom_and_the_window_stays_on_reload(visit: Visit, house: House) -> None:
    with visit("technician", PHONE) as technician, opened(technician, house) as (page, series):
        with page.expect_response(is_series) as answer:
            page.get_by_role("button", name="Zoom in").tap()
        near = answer.value.json()
        assert near["end_s"] == pytest.approx(series["end_s"] / 2)
        assert len(temperatures(near)) >= 0.9 * len(temperatures(series))  # the half in as many points
        page.wait_for_url("**from=*")
        with page.expect_response(is_series) as again:
            page.reload()
        assert (again.value.json()["from_s"], again.value.json()["end_s"]) == (near["from_s"], near["end_s"])
