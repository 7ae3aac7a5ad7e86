"""A functional test on a phone, step by step: one step fails, its draft is released, retested and closed."""

import re

import pytest
from playwright.sync_api import FilePayload, Page

from tests.browser.chromium import DESK, PHONE
from tests.browser.conftest import House, Visit
from tests.browser.seed import TEST_UNIT
from tests.browser.test_one_unit import open_act, open_issue, png, until

pytestmark = pytest.mark.browser
TITLE = f"{TEST_UNIT} power test: functional tests not met"
PHOTO: FilePayload = {"name": "seen.png", "mimeType": "image/png", "buffer": png()}


def run(page: Page, *wrong: str) -> None:
    """From step to step by the links at their feet; what is not named as wrong is as expected."""
    page.get_by_role("link", name=re.compile("^Begin with step 1 of")).click()
    steps = page.locator("section.step")
    for number in range(1, steps.count() + 1):
        step = steps.nth(number - 1)
        assert page.url.endswith(f"#s-{number}")
        answer(step.get_attribute("aria-labelledby") or "", page, wrong)
        step.get_by_role("navigation").get_by_role("link").last.click()
    assert page.url.endswith("#people")
    for seat, name in {"electrical": "Sefton Marr", "controls": "Tove Brandeis"}.items():
        page.locator(f"#person-{seat}").fill(name)
        page.locator(f"#company-{seat}").fill("Garrowby Mechanical")
    page.locator("#signed").fill("Idris Fenwarden")
    page.get_by_role("button", name="Send: kept once received").click()
    assert page.get_by_role("status").first.inner_text().startswith("Received. Receipt ")


def answer(heading: str, page: Page, wrong: tuple[str, ...]) -> None:
    id = heading.removeprefix("h-")
    if page.locator(f"#first-{id}").count():
        page.locator(f"#first-{id}").fill("0")
        page.locator(f"#then-{id}").fill("3")
    elif page.locator(f"#n-{id}").count():
        page.locator(f"#n-{id}").fill("5")
    else:
        page.locator(f"input[name='a-{id}'][value='{'no' if id in wrong else 'yes'}']").check()
        page.locator(f"#photo-{id}").set_input_files(PHOTO)


def test_a_test_is_run_fails_is_released_retested_and_closed(visit: Visit, house: House) -> None:
    form = f"{house.unit(TEST_UNIT)}/record/test_run"
    with visit("technician", PHONE) as technician:
        page = technician.open(form)
        page.get_by_role("link", name=re.compile("^Power loss")).click()
        run(page, "kept")
        until(page, "Release or drop issue")
    with visit("lead", DESK) as lead:
        release = open_act(open_issue(lead, TITLE), "Release to a company")
        release.get_by_label("Company").select_option(label="Garrowby Mechanical, mechanical")
        release.get_by_label("Due on").fill("2031-05-15")
        release.get_by_role("button", name="Release to a company").click()
        lead.page.get_by_text("with Garrowby Mechanical, due Thu 15 May 2031").wait_for()
    with visit("technician", PHONE) as technician:
        page = technician.open(form)
        page.get_by_role("link", name=re.compile("^Power loss.*retest for issue", re.DOTALL)).click()
        assert "This is a retest for issue" in page.locator("main").inner_text()
        run(page)
        until(page, "The evidence passes: close issue")
    with visit("lead", DESK) as lead:
        open_act(open_issue(lead, TITLE), "Close on passing evidence").get_by_role("button").click()
        lead.page.get_by_text("Closed since").wait_for()
