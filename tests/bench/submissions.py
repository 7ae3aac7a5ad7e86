"""Evidence coming in: against the plain nested insert of the same readings, and against the database's bulk way in."""

import random
import uuid
from collections.abc import Callable, Iterable
from io import BytesIO
from typing import Any

from django.db import connection, transaction

from portfolio.jobs import runner
from portfolio.models import Position
from portfolio.wsgi import application as ours
from tests import envelopes
from tests.bench import world
from tests.bench.nested import serving
from tests.bench.nested.models import Reading, Sheet
from tests.bench.timing import Line, cpu, in_turns, ratio, wall

LINES = 50


def post(application: Callable[..., Iterable[bytes]], path: str, body: bytes, kind: str, token: str) -> bytes:
    """A request as a WSGI server hands it over, and the whole answer."""
    told: list[str] = []
    environ: dict[str, Any] = {
        "REQUEST_METHOD": "POST",
        "SCRIPT_NAME": "",
        "PATH_INFO": path,
        "QUERY_STRING": "",
        "SERVER_NAME": "localhost",
        "SERVER_PORT": "80",
        "SERVER_PROTOCOL": "HTTP/1.1",
        "REMOTE_ADDR": "127.0.0.1",
        "CONTENT_TYPE": kind,
        "CONTENT_LENGTH": str(len(body)),
        "HTTP_HOST": "localhost",
        "HTTP_AUTHORIZATION": token,
        "wsgi.version": (1, 0),
        "wsgi.url_scheme": "http",
        "wsgi.input": BytesIO(body),
        "wsgi.errors": BytesIO(),
        "wsgi.multithread": False,
        "wsgi.multiprocess": True,
        "wsgi.run_once": False,
    }
    answer = application(environ, lambda status, headers, *_: told.append(status))
    said = b"".join(answer)
    answer.close()  # type: ignore[attr-defined]
    if not told[0].startswith("20"):
        raise AssertionError(f"{told[0]}: {said[:500]!r}")
    return said


class Plain:
    """The plain side, with a token of its own kind."""

    def __init__(self, there: world.World) -> None:
        from rest_framework.authtoken.models import Token

        self.application = serving.application()
        token, _ = Token.objects.get_or_create(user=there.person)
        self.token = f"Token {token.key}"

    def insert(self, body: bytes) -> None:
        post(self.application, "/bench/sheets", body, "application/json", self.token)


def lines(there: world.World, per_round: int) -> list[Line]:
    """Every record goes to a unit of its own, so that no side's work grows from round to round."""
    dice = random.Random(7)
    units = iter(there.positions)
    plain, ours_token = Plain(there), f"Bearer {there.token}"

    def made() -> list[dict[str, Any]]:
        return [world.of_one_port(there, next(units), dice) for _ in range(per_round)]

    bodies = {side: [made() for _ in range(7)] for side in ("bare", "submit", "judge")}
    sheets = [[world.as_sheet(one) for one in some] for some in bodies["bare"]]
    raws = {side: [[envelopes.raw(one) for one in some] for some in bodies[side]] for side in ("submit", "judge")}

    def bare(number: int) -> None:
        for body in sheets[number]:
            plain.insert(body)

    def submit(number: int) -> None:
        for body in raws["submit"][number]:
            post(ours, "/api/v1/submissions", body, "application/json", ours_token)

    def judge(number: int) -> None:
        for body in raws["judge"][number]:
            post(ours, "/api/v1/submissions", body, "application/json", ours_token)
        runner.drain(["judge"])

    for side in (bare, submit, judge):
        side(6)  # what is only made once
    runner.drain()
    submitted, inserted, judged = [], [], []
    for number in range(6):
        one, two = in_turns(lambda _, n=number: bare(n), lambda _, n=number: submit(n), rounds=1)  # type: ignore[misc]
        runner.drain()  # what `submit` left due is not the next side's work
        (three,) = in_turns(lambda _, n=number: judge(n), rounds=1)  # type: ignore[misc]
        inserted += one
        submitted += two
        judged += three
    each = [1e3 * sum(cpu(side)) / len(side) / per_round for side in (inserted, submitted, judged)]
    by_wall = ratio("", "", wall(inserted), wall(submitted), floor=None, goal=None, more_is_better=True)
    return [
        ratio(
            "B1a",
            "submissions / plain nested inserts, per CPU second",
            cpu(inserted),
            cpu(submitted),
            floor=1.2,
            goal=1.8,
            more_is_better=True,
            figures=f"{each[1]:.2f} ms against {each[0]:.2f} ms; by the clock {by_wall.value:.2f} ×",
        ),
        ratio(
            "B1b",
            "submissions with their judging / plain nested inserts, per CPU second",
            cpu(inserted),
            cpu(judged),
            floor=0.5,
            goal=1.0,
            more_is_better=True,
            figures=f"{each[2]:.2f} ms against {each[0]:.2f} ms",
        ),
    ]


def batch(there: world.World) -> list[Line]:
    """Batches of 50 × 20 readings against the same readings as rows by the database's own bulk way in."""
    dice = random.Random(8)
    batches = 3
    units = [there.positions[n % len(there.positions)] for n in range(LINES)]
    token = f"Bearer {there.token}"
    bodies = [[_batch(there, units, dice) for _ in range(batches)] for _ in range(7)]
    rows = [[_rows(units, dice) for _ in range(batches)] for _ in range(7)]

    def ours_(number: int) -> None:
        for body in bodies[number]:
            said = post(ours, "/api/v1/submissions/batch", body, "application/x-ndjson", token)
            assert said.count(b'"status":201') == LINES

    def bulk(number: int) -> None:
        for some in rows[number]:
            copy_in(some)

    ours_(6)
    bulk(6)
    bulked, taken = in_turns(lambda n: bulk(n), lambda n: ours_(n))
    runner.drain()
    count = LINES * world.POINTS * batches
    how = "COPY" if connection.vendor == "postgresql" else "executemany"
    return [
        ratio(
            "B2",
            f"readings in NDJSON batches / rows by {how}, per second",
            wall(bulked),
            wall(taken),
            floor=0.10,
            goal=0.25,
            more_is_better=True,
            figures=f"{count / min(wall(taken)):,.0f} against {count / min(wall(bulked)):,.0f} per s",
        )
    ]


def _batch(there: world.World, units: list[Position], dice: random.Random) -> bytes:
    return b"\n".join(envelopes.raw(world.of_one_port(there, one, dice)) for one in units)


def _rows(units: list[Position], dice: random.Random) -> list[list[tuple[int, float, str]]]:
    return [[(n, p, "Pa") for n, p in enumerate(world.pressures(1000.0, dice))] for _ in units]


def copy_in(sheets: list[list[tuple[int, float, str]]]) -> None:
    """Readings as rows under one sheet, committed."""
    sheet = _sheet()
    table = Reading._meta.db_table
    with transaction.atomic(), connection.cursor() as cursor:
        flat = [(sheet.pk, *row) for readings in sheets for row in readings]
        if connection.vendor == "postgresql":
            with cursor.cursor.copy(f"COPY {table} (sheet_id, number, value, unit) FROM STDIN") as copy:
                for row in flat:
                    copy.write_row(row)
        else:
            cursor.executemany(f"INSERT INTO {table} (sheet_id, number, value, unit) VALUES (%s, %s, %s, %s)", flat)


def _sheet() -> Sheet:
    found = Sheet.objects.order_by("pk").first()
    if found is None:
        found = Sheet.objects.create(
            client_id=uuid.uuid4(),
            position=Position.objects.all()[0],
            kind="airflow",
            observed_at=world.today(),
            observed_by=uuid.uuid4(),
            stage="final",
            session="AL-1",
            grade="measured",
            port="supply",
            width_mm=600,
            height_mm=400,
            dry_bulb_c=20,
            relative_humidity=0.4,
        )
    return found
