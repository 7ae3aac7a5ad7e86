"""What must be true of an installation, told by `manage.py check` with id, cause and remedy."""

import sqlite3
from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connection

from portfolio.models import insert_only
from portfolio.sqlite import wal_is_sound


@register(Tags.database)
def triggers_are_there(*, databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
    if not databases:
        return []
    lost = insert_only.missing()
    if not lost:
        return []
    return [
        Error(
            f"The triggers that keep evidence unchanged are missing: {', '.join(lost)}.",
            hint="Run `manage.py migrate`: it puts them back.",
            id="portfolio.E001",
        )
    ]


@register(Tags.database)
def sqlite_is_durable(*, databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
    if not databases or connection.vendor != "sqlite":
        return []
    with connection.cursor() as cursor:
        journal = cursor.execute("PRAGMA journal_mode").fetchone()[0]
        synchronous = cursor.execute("PRAGMA synchronous").fetchone()[0]
        recursive = cursor.execute("PRAGMA recursive_triggers").fetchone()[0]
    faults = []
    if journal == "wal" and not wal_is_sound(sqlite3.sqlite_version_info):
        faults.append(f"journal mode is WAL, which SQLite {sqlite3.sqlite_version} may lose pages with")
    if synchronous != 2:
        faults.append("synchronous is not FULL")
    if recursive != 1:
        faults.append("recursive triggers are off, so INSERT OR REPLACE could pass the insert-only triggers")
    return [
        Error(f"SQLite is not durable: {fault}.", hint="Remove what overrides DATABASES.", id="portfolio.E002")
        for fault in faults
    ]


@register(Tags.security, deploy=True)
def served_over_tls(**_: Any) -> list[CheckMessage]:
    if settings.TLS:
        return []
    return [
        Error(
            "Cookies and redirects are set for plain HTTP.",
            hint="Put the server behind TLS and set BEHIND_TLS=1.",
            id="portfolio.E003",
        )
    ]
