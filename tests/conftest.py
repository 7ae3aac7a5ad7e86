"""What every test stands on: a directory of its own for files, the insert-only triggers, the cast.

The triggers stay on in every test. Only Django's emptying of the tables after a transactional test lifts them, and
puts them back at once.

Properties try the same cases on each run, so that a change is judged by what it changes; EXPLORE=1 tries new ones.
They are not timed: the first call of a library that serves as oracle may take long.
"""

import os
import shutil
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings as properties

properties.register_profile("same", deadline=None, derandomize=True)
properties.register_profile("new", deadline=None)
properties.load_profile("new" if os.environ.get("EXPLORE") else "same")


def pytest_configure(config: pytest.Config) -> None:
    from django.conf import settings

    var = Path(tempfile.mkdtemp(prefix="ventfolio-tests-"))
    settings.VAR_DIR = var
    settings.BLOB_DIR = var / "blobs"
    settings.STATIC_ROOT = var / "static"
    settings.STATIC_ROOT.mkdir()
    database = settings.DATABASES["default"]
    if "sqlite" not in database["ENGINE"]:  # two runs at once do not empty one another's tables
        database.setdefault("TEST", {})["NAME"] = f"test_ventfolio_{os.getpid()}"
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]  # quick; tests make many people
    config.add_cleanup(lambda: shutil.rmtree(var, ignore_errors=True))
    _lift_triggers_around_flush()
    _wait_for_no_disk(settings.DATABASES["default"])
    _one_chain_of_middleware()


LONG = ("demo", "services", "binders", "faults")  # folders of tests that start installations or render much


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The long ones first, so that two workers end together; and each with its mark."""
    items.sort(key=lambda item: item.path.parent.name not in LONG)
    _mark_what_opens_the_database(items)


def _mark_what_opens_the_database(items: list[pytest.Item]) -> None:
    """What it does may depend on which database the run has. All else, the
    engineering and the installations that tests start with a database of their own, does the same on each."""
    opens = {"db", "transactional_db", "django_db_setup"}
    for item in items:
        if item.get_closest_marker("django_db") or opens & set(getattr(item, "fixturenames", ())):
            item.add_marker("database")


def _one_chain_of_middleware() -> None:
    """As a server has it, for all clients of a process: each would else list all static files anew before its first
    request. Made again once a test changes a setting, but for where files are kept, which no middleware reads."""
    from django.core.signals import setting_changed
    from django.test.client import ClientHandler

    load = ClientHandler.load_middleware
    held: dict[str, Any] = {}

    def load_once(self: Any, is_async: bool = False) -> None:
        if not held:
            load(self, is_async)
            held.update({name: value for name, value in vars(self).items() if name != "enforce_csrf_checks"})
        vars(self).update(held)

    def forget(*, setting: str, **_: Any) -> None:
        if setting != "BLOB_DIR":
            held.clear()

    ClientHandler.load_middleware = load_once  # type: ignore[method-assign]
    setting_changed.connect(forget, weak=False)


def _wait_for_no_disk(database: dict[str, Any]) -> None:
    """No test pulls the plug, so none waits for PostgreSQL's disk; and one transaction holds a whole test, however
    long it thinks in between. Processes that a test starts have both as settings say."""
    options = database.get("OPTIONS", {})
    if "options" in options:
        for ours, in_tests in (
            ("synchronous_commit=on", "synchronous_commit=off"),
            ("idle_in_transaction_session_timeout=30000", "idle_in_transaction_session_timeout=0"),
        ):
            options["options"] = options["options"].replace(ours, in_tests)


_STAYS = {"django_migrations", "django_content_type", "auth_permission"}


def _lift_triggers_around_flush() -> None:
    """`flush` is how Django empties tables between transactional tests; evidence refuses that by trigger.

    Rows are deleted rather than tables truncated, and what migrations made is left there: with small tables that is
    many times quicker, and on PostgreSQL most of what such a test would take.
    """
    from django.core.management.commands import flush

    flush.Command.handle = lambda self, **options: _empty(options["database"])  # type: ignore[method-assign]


def _empty(using: str) -> None:
    from django.db import connections

    from portfolio.models import insert_only

    connection = connections[using]
    tables = set(connection.introspection.django_table_names(only_existing=True, include_views=False)) - _STAYS
    deletes = [f'DELETE FROM "{table}"' for table in sorted(tables)]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":  # neither triggers nor foreign keys, for these statements alone
            cursor.execute(
                "; ".join(["SET session_replication_role = replica", *deletes, "RESET session_replication_role"])
            )
            return
        insert_only.lift(using)
        cursor.execute("PRAGMA foreign_keys = OFF")
        for delete in deletes:
            cursor.execute(delete)
        cursor.execute("PRAGMA foreign_keys = ON")
        insert_only.install(using)


@pytest.fixture(autouse=True)
def own_blobs(settings: Any, tmp_path: Path) -> Path:
    """Each test keeps its files in a place of its own."""
    settings.BLOB_DIR = tmp_path / "blobs"
    return tmp_path / "blobs"


@cache
def _cast() -> Any:
    from tests.cast import Cast
    from tests.put_back import PutBack

    return PutBack(Cast.assemble)


@pytest.fixture
def cast(db: None) -> Any:
    """Two firms and everyone in them; see tests/cast.py."""
    return _cast()()
