"""Debian's Chromium, driven: sizes, signing in, and a watch over what a page complains of.

Used by the tests of this room and by pictures.py. It asks nothing of Django: what it opens is a real server.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Response, StorageState, sync_playwright

EXECUTABLE = Path("/usr/bin/chromium")
QUIETLY = [
    *("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"),
    *("--disable-sync", "--no-first-run", "--disable-quic"),
]
PHONE = (390, 844)
DESK = (1280, 900)
PATIENCE_MS = 20_000


@dataclass
class Watch:
    """What went wrong on the pages of one context: the console, scripts, blocked content, answers that failed."""

    complaints: list[str] = field(default_factory=list)

    def over(self, page: Page) -> None:
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.complaints.append(f"{page.url}: {error}"))
        page.on("response", self._response)

    def _console(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            self.complaints.append(f"{message.location.get('url', '')}: {message.text}")

    def _response(self, response: Response) -> None:
        if response.status >= 400:
            self.complaints.append(f"{response.status} for {response.url}")


@dataclass
class Visitor:
    """One browser with its own cookies, at one size."""

    page: Page
    base: str
    watch: Watch

    def open(self, path: str) -> Page:
        self.page.goto(self.base + path)
        return self.page

    def sign_in(self, email: str, password: str) -> Page:
        page = self.open("/login")
        page.get_by_label("Mail address").fill(email)
        page.get_by_label("Password").fill(password)
        page.get_by_role("button", name="Sign in").click()
        page.get_by_role("button", name="Sign out").wait_for()
        return page


@contextmanager
def chromium() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=os.fspath(EXECUTABLE), args=QUIETLY, headless=True, chromium_sandbox=False
        )
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def visiting(
    browser: Browser,
    base: str,
    size: tuple[int, int] = DESK,
    *,
    dark: bool = False,
    sharp: bool = False,
    cookies: StorageState | None = None,
) -> Iterator[Visitor]:
    """`sharp` takes two pixels for one, as phones do; `cookies` are those of an earlier visit."""
    width, height = size
    context: BrowserContext = browser.new_context(
        viewport={"width": width, "height": height},
        color_scheme="dark" if dark else "light",
        device_scale_factor=2 if sharp else 1,
        has_touch=size == PHONE,
        is_mobile=size == PHONE,
        reduced_motion="reduce",
        locale="en-US",
        accept_downloads=True,
        storage_state=cookies,
    )
    context.set_default_timeout(PATIENCE_MS)
    try:
        watch = Watch()
        context.on("page", watch.over)
        yield Visitor(context.new_page(), base, watch)
    finally:
        context.close()
