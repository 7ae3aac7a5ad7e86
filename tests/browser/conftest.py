"""A real server and its jobs on an SQLite file, and Chromium to look at it with.

The server is started once for all of this room. The browser is started per module: while it is open its event loop
runs in this thread, where tests of other rooms must not find it.
"""

import json
import os
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from typing import Any

import pytest
from playwright.sync_api import Browser, StorageState

from tests.browser import chromium
from tests.browser.chromium import DESK, Visitor
from tests.live import installed
from tests.pages.world import PASSWORD

Visit = Callable[..., AbstractContextManager[Visitor]]


@dataclass(frozen=True)
class House:
    url: str
    known: dict[str, Any]

    def unit(self, tag: str) -> str:
        return f"/units/{self.known['units'][tag]}"

    def building(self, name: str) -> str:
        return f"/buildings/{self.known['buildings'][name]}"

    def issue(self, name: str) -> str:
        return f"/issues/{self.known['issues'][name]}"

    def project(self, rest: str = "") -> str:
        return f"/projects/{self.known['project']}{rest}"

    def answer(self, name: str) -> str:
        return f"/answer/{self.known['links'][name]}"


def need_chromium() -> None:
    """Skip where there is no Chromium, unless REQUIRE_BROWSER says that there must be."""
    if not chromium.EXECUTABLE.exists():
        complain = pytest.fail if os.environ.get("REQUIRE_BROWSER") else pytest.skip
        complain(f"there is no {chromium.EXECUTABLE}; on Debian: apt-get install chromium")


@pytest.fixture(scope="session")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    need_chromium()
    with installed(tmp_path_factory.mktemp("house")) as here:
        told = here.manage("shell", "-v", "0", "-c", "from tests.browser.seed import sow; sow()").stdout
        here.relay()
        yield House(here.web().url, json.loads(told.strip().splitlines()[-1]))


@pytest.fixture(scope="module")
def browser(house: House) -> Iterator[Browser]:
    with chromium.chromium() as opened:
        yield opened


@pytest.fixture(scope="session")
def signed_in() -> dict[str, StorageState]:
    """The cookies of whoever came through the door once: it takes its time, and test_people.py looks at it."""
    return {}


@pytest.fixture
def visit(browser: Browser, house: House, signed_in: dict[str, StorageState]) -> Visit:
    """``with visit("lead", DESK) as visitor``: signed in as this person of the world; "" is nobody.

    `anew` goes through the door again and is forgotten afterwards. Whatever the pages complained of in the meantime
    fails the test.
    """

    @contextmanager
    def visit(who: str, size: tuple[int, int] = DESK, *, dark: bool = False, anew: bool = False) -> Iterator[Visitor]:
        cookies = None if anew else signed_in.get(who)
        with chromium.visiting(browser, house.url, size, dark=dark, cookies=cookies) as visitor:
            if who and cookies is None:
                visitor.sign_in(f"{who}@example.test", PASSWORD)
                if not anew:
                    signed_in[who] = visitor.page.context.storage_state()
            yield visitor
            assert visitor.watch.complaints == []

    return visit
