"""Real processes for a test: relay, Celery worker, web server and a Redis of the test's own, to be killed and frozen.

    with installed(folder, database_url=..., broker_url=redis.url) as here:
        here.migrate()
        web, relay, worker = here.web(), here.relay(), here.worker()
        worker.kill()                                   # SIGKILL to the whole group, as a power cut of one process
        wait_until(lambda: here.rows("SELECT ...") == [(0,)], "no job is due")

Every process leads a group of its own, so that its children go with it, and `installed` leaves none behind. The
fixtures `live` and `private_redis` give the same on the test's own database; a test that uses them is marked
`services`.
"""

import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlsplit

import pytest

ROOT = Path(__file__).resolve().parent.parent
SLOW_S = 60.0
"""How long a start may take on a busy machine before it counts as failed."""


def wait_until(condition: Callable[[], object], what: str, *, seconds: float = SLOW_S, pause: float = 0.05) -> float:
    """Wait for a true condition; returns how long it took, and fails in words when it does not come."""
    began = time.monotonic()
    while not condition():
        if time.monotonic() - began > seconds:
            raise AssertionError(f"not within {seconds:g} s: {what}")
        time.sleep(pause)
    return time.monotonic() - began


def free_port() -> int:
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class Running:
    """A process that was started here, the leader of its own group."""

    name: str
    process: subprocess.Popen[bytes]
    log: Path

    @property
    def pid(self) -> int:
        return self.process.pid

    @property
    def is_alive(self) -> bool:
        return self.process.poll() is None

    def output(self) -> str:
        return self.log.read_text(errors="replace")

    def children(self) -> list[int]:
        """Processes that this one started and that still live, deepest last."""
        found = [self.pid]
        for pid in found:
            for task in Path(f"/proc/{pid}/task").glob("*/children"):
                with suppress(OSError):
                    found += [int(child) for child in task.read_text().split()]
        return found[1:]

    def kill(self) -> None:
        """SIGKILL to the whole group: nothing gets to tidy up."""
        self._signal(signal.SIGKILL)
        self.process.wait(SLOW_S)

    def kill_child(self) -> int:
        """SIGKILL to the last child alone, such as a worker's pool process; returns its pid."""
        child = self.children()[-1]
        os.kill(child, signal.SIGKILL)
        return child

    def freeze(self) -> None:
        self._signal(signal.SIGSTOP)

    def thaw(self) -> None:
        self._signal(signal.SIGCONT)

    def stop(self, *, seconds: float = SLOW_S) -> int:
        """SIGTERM to the leader, as a supervisor does; what has not ended by then is killed."""
        if self.is_alive:
            self.thaw()
            self.process.terminate()
            with suppress(subprocess.TimeoutExpired):
                self.process.wait(seconds)
        if self.is_alive:
            self.kill()
        with suppress(ProcessLookupError):  # children that outlived their parent
            os.killpg(self.pid, signal.SIGKILL)
        return int(self.process.returncode)

    def _signal(self, number: int) -> None:
        with suppress(ProcessLookupError):
            os.killpg(self.pid, number)


@dataclass
class Web(Running):
    url: str = ""

    def get(self, path: str, headers: Mapping[str, str] | None = None) -> tuple[int, bytes]:
        return self.send("GET", path, headers=headers)

    def send(
        self, method: str, path: str, body: bytes | None = None, headers: Mapping[str, str] | None = None
    ) -> tuple[int, bytes]:
        """Status and body. A reply that never came raises, which is not the same as a refusal."""
        request = urllib.request.Request(self.url + path, data=body, method=method, headers=dict(headers or {}))
        try:
            with urllib.request.urlopen(request, timeout=SLOW_S) as reply:
                return int(reply.status), reply.read()
        except urllib.error.HTTPError as refusal:
            with refusal:
                return refusal.code, refusal.read()

    def answers(self) -> bool:
        try:
            return self.get("/healthz")[0] == 200
        except OSError:
            return False


class Redis:
    """A Redis of the test's own that keeps nothing on disk. `start` again after a kill takes the same port."""

    def __init__(self, here: "Installation", *, settings: Sequence[str] = ()) -> None:
        self.here = here
        self.port = free_port()
        self.url = f"redis://127.0.0.1:{self.port}/0"
        self.settings = list(settings)
        self.running: Running | None = None

    def start(self) -> Running:
        command = ["redis-server", "--bind", "127.0.0.1", "--port", str(self.port), "--save", "", "--appendonly", "no"]
        command += ["--dir", str(self.here.folder), *self.settings]
        self.running = self.here.start("redis", command)
        wait_until(self.answers, "Redis answers")
        return self.running

    def answers(self) -> bool:
        return self.say("PING") == "PONG"

    def say(self, *words: str) -> str:
        """A command to Redis and its answer, by Redis's own client; empty when there is none."""
        told = subprocess.run(
            ["redis-cli", "-p", str(self.port), *words], capture_output=True, text=True, timeout=SLOW_S, check=False
        )
        return told.stdout.strip()


@dataclass
class Installation:
    """One database, one broker or none, one directory for files, and the processes that were started on them."""

    folder: Path
    database_url: str
    broker_url: str = ""
    extra: Mapping[str, str] = field(default_factory=dict)
    started: list[Running] = field(default_factory=list)

    @property
    def environment(self) -> dict[str, str]:
        return {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "portfolio.settings",
            "DATABASE_URL": self.database_url,
            "BROKER_URL": self.broker_url,
            "VAR_DIR": str(self.folder / "var"),
            "BLOB_DIR": str(self.folder / "blobs"),
            "LOG_LEVEL": "INFO",
            "PYTHONUNBUFFERED": "1",
            **self.extra,
        }

    def manage(self, *arguments: str, check: bool = True) -> subprocess.CompletedProcess[str]:
        """Run a management command to its end. A failure shows what it printed."""
        done = subprocess.run(
            [sys.executable, "manage.py", *arguments],
            cwd=ROOT,
            env=self.environment,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
        )
        if check and done.returncode:
            raise AssertionError(f"manage.py {' '.join(arguments)}: {done.returncode}\n{done.stdout}{done.stderr}")
        return done

    def migrate(self) -> None:
        self.manage("migrate", "--no-input", "--verbosity", "0")

    def start(self, name: str, command: Sequence[str], environment: Mapping[str, str] | None = None) -> Running:
        process, log = self._spawn(name, command, environment or {})
        running = Running(name, process, log)
        self.started.append(running)
        return running

    def _spawn(
        self, name: str, command: Sequence[str], environment: Mapping[str, str]
    ) -> tuple[subprocess.Popen[bytes], Path]:
        log = self.folder / f"{len(self.started):02}-{name}.log"
        with log.open("wb") as sink:
            process = subprocess.Popen(
                command,
                cwd=ROOT,
                env={**self.environment, **environment},
                stdin=subprocess.DEVNULL,
                stdout=sink,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )
        return process, log

    def relay(self, environment: Mapping[str, str] | None = None) -> Running:
        """The relay; with no broker it also does the jobs, in a child."""
        return self.start("relay", [sys.executable, "manage.py", "relay"], environment)

    def worker(self, processes: int = 2, environment: Mapping[str, str] | None = None) -> Running:
        """A Celery worker that is ready to consume."""
        command = [sys.executable, "manage.py", "worker", "--processes", str(processes)]
        command += ["--name", f"w{len(self.started)}"]
        worker = self.start("worker", command, environment)
        wait_until(lambda: " ready." in worker.output() or not worker.is_alive, "the worker is ready")
        assert worker.is_alive, worker.output()
        return worker

    def web(self, processes: int = 2, environment: Mapping[str, str] | None = None) -> Web:
        """Gunicorn with sync workers, answering."""
        port = free_port()
        command = [sys.executable, "-m", "gunicorn", "portfolio.wsgi:application", "--workers", str(processes)]
        command += ["--no-control-socket", "--bind", f"127.0.0.1:{port}"]
        process, log = self._spawn("web", command, environment or {})
        web = Web("web", process, log, f"http://127.0.0.1:{port}")
        self.started.append(web)
        wait_until(lambda: web.answers() or not web.is_alive, "the web server answers")
        assert web.is_alive, web.output()
        return web

    def rows(self, query: str, parameters: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        """What is committed, read over a connection of its own. Placeholders are `?` on both databases."""
        if self.database_url.startswith("sqlite"):
            path = self.database_url.removeprefix("sqlite:///")
            with closing(sqlite3.connect(path, timeout=SLOW_S)) as connection:
                return list(connection.execute(query, parameters).fetchall())
        import psycopg

        with psycopg.connect(self.database_url.replace("postgres://", "postgresql://", 1)) as on_server:
            return list(on_server.execute(query.replace("?", "%s"), parameters).fetchall())

    def stop_all(self) -> None:
        for running in reversed(self.started):
            running.stop(seconds=5)


@contextmanager
def installed(
    folder: Path, *, database_url: str = "", broker_url: str = "", extra: Mapping[str, str] | None = None
) -> Iterator[Installation]:
    """An installation in `folder`, by default an SQLite file and no broker; nothing of it runs on afterwards."""
    url = database_url or f"sqlite:///{folder / 'live.sqlite3'}"
    here = Installation(folder, url, broker_url, dict(extra or {}))
    try:
        yield here
    finally:
        here.stop_all()


def database_url_of_the_test() -> str:
    """The URL by which another process reaches the database that this test uses."""
    from django.db import connection

    held = connection.settings_dict
    name = str(held["NAME"])
    if connection.vendor == "sqlite":
        if "memory" in name:
            raise AssertionError("this test's database is in memory, where no other process can reach it")
        return f"sqlite:///{name}"
    user = quote(str(held["USER"]), safe="")
    password = f":{quote(str(held['PASSWORD']), safe='')}" if held["PASSWORD"] else ""
    return f"postgres://{user}{password}@{held['HOST'] or '127.0.0.1'}:{held['PORT'] or 5432}/{name}"


def need_services() -> None:
    """Skip where there is no PostgreSQL or Redis, unless REQUIRE_SERVICES says that there must be."""
    from django.conf import settings
    from django.db import connection

    lacking = []
    if connection.vendor != "postgresql":
        lacking.append("DATABASE_URL names no PostgreSQL")
    if not settings.BROKER_URL:
        lacking.append("BROKER_URL names no Redis")
    if not (shutil.which("redis-server") and shutil.which("redis-cli")):
        lacking.append("redis-server and redis-cli are not installed")
    if lacking:
        complain = pytest.fail if os.environ.get("REQUIRE_SERVICES") else pytest.skip
        complain("; ".join(lacking))


def flush_broker(url: str) -> None:
    """Empty the one database number that the URL names."""
    parts = urlsplit(url)
    command = ["redis-cli", "-h", parts.hostname or "127.0.0.1", "-p", str(parts.port or 6379)]
    subprocess.run([*command, "-n", parts.path.strip("/") or "0", "FLUSHDB"], check=True, capture_output=True)


@pytest.fixture
def live(transactional_db: None, settings: Any, own_blobs: Path, tmp_path: Path) -> Iterator[Installation]:
    """The test's own database and files, and the broker that BROKER_URL names, emptied before."""
    need_services()
    flush_broker(settings.BROKER_URL)
    extra = {"BLOB_DIR": str(own_blobs), "SECRET_KEY": settings.SECRET_KEY}
    with installed(
        tmp_path, database_url=database_url_of_the_test(), broker_url=settings.BROKER_URL, extra=extra
    ) as here:
        yield here


@pytest.fixture
def private_redis(live: Installation) -> Redis:
    """A Redis that this test alone uses, running; `live` is pointed at it, and the test may kill or freeze it."""
    redis = Redis(live)
    redis.start()
    live.broker_url = redis.url
    return redis
