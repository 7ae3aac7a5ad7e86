"""The pages that people open first, by ten people at once over HTTP: what each waits for, with few units and with many.

`tests.bench.pages` measures the processor's time of one request; here a reader also waits for those before him.
"""

import http.client
import shutil
import statistics
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore

from portfolio.models import Person
from tests.bench import world
from tests.bench.pages import FEW
from tests.bench.timing import ROUNDS, Line, percentile
from tests.live import SLOW_S, Web, installed

CLIENTS = 10
_WHO: tuple[tuple[str, str, Callable[[world.World], Person]], ...] = (
    ("B15a", "work list", lambda one: one.person),
    ("B15b", "owner's dashboard", lambda one: one.owner),
)


def lines(database_url: str, few: world.World, plenty: world.World, *, each: int) -> list[Line]:
    """`each` pages by each client in each round, first of the one firm and then of the other."""
    folder = Path(tempfile.mkdtemp(prefix="ventfolio-bench-"))
    extra = {"SECRET_KEY": settings.SECRET_KEY}  # by which sessions are signed
    try:
        with installed(folder, database_url=database_url, extra=extra) as here:
            web = here.web()
            return [
                _line(code, what, web, [_cookie(who(one)) for one in (few, plenty)], each, len(plenty.positions))
                for code, what, who in _WHO
            ]
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _line(code: str, what: str, web: Web, cookies: list[str], each: int, many: int) -> Line:
    address = urlsplit(web.url).netloc
    p95: list[list[float]] = [[], []]
    middle: list[list[float]] = [[], []]
    with ThreadPoolExecutor(CLIENTS) as clients:
        for number in range(ROUNDS + 1):
            for side in (0, 1) if number % 2 else (1, 0):
                one = [clients.submit(_read, address, cookies[side], each) for _ in range(CLIENTS)]
                took = [ms for some in one for ms in some.result()]
                if number:  # the first is what is only made once
                    p95[side].append(percentile(took, 0.95))
                    middle[side].append(statistics.median(took))
    ratios = [b / a for a, b in zip(*p95, strict=True)]
    few_ms, many_ms = (statistics.median(side) for side in p95)
    figures = f"{many_ms:.0f} against {few_ms:.0f} ms; medians {statistics.median(middle[1]):.0f}, "
    figures += f"{statistics.median(middle[0]):.0f}; {CLIENTS * each} pages a side and round"
    return Line(
        code,
        f"{what} by {CLIENTS} clients over HTTP, p95 with {many:,} positions / with {FEW}",
        statistics.median(ratios),
        min(ratios),
        max(ratios),
        2.0,
        1.3,
        more_is_better=False,
        figures=figures,
    )


def _cookie(person: Person) -> str:
    """A session as signing in makes it."""
    session = SessionStore()
    session[SESSION_KEY] = str(person.pk)
    session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[0]
    session[HASH_SESSION_KEY] = person.get_session_auth_hash()
    session.create()
    return f"{settings.SESSION_COOKIE_NAME}={session.session_key}"


def _read(address: str, cookie: str, number: int) -> list[float]:
    """How long each page took, in ms; the next is asked for when the one before is there."""
    took = []
    for _ in range(number):
        began = time.monotonic()
        held = http.client.HTTPConnection(address, timeout=SLOW_S)
        try:
            held.request("GET", "/", headers={"Cookie": cookie})
            answer = held.getresponse()
            answer.read()
            assert answer.status == 200, answer.status
        finally:
            held.close()
        took.append(1e3 * (time.monotonic() - began))
    return took
