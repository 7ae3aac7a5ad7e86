"""A database of the run's own: an SQLite file, or one made on the server of DATABASE_URL and dropped afterwards."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit


@contextmanager
def own_database(folder: Path, name: str = "bench") -> Iterator[str]:
    given = os.environ.get("BENCH_SERVER_URL") or os.environ.get("DATABASE_URL", "")
    if not given.startswith(("postgres", "psql", "pgsql")):
        yield f"sqlite:///{folder / name}.sqlite3"
        return
    import psycopg

    parts = urlsplit(given)
    ours = f"ventfolio_{name}_{os.getpid()}"
    with psycopg.connect(urlunsplit(("postgresql", parts.netloc, "/postgres", "", "")), autocommit=True) as server:
        server.execute(f'CREATE DATABASE "{ours}"'.encode())
        try:
            yield urlunsplit(("postgres", parts.netloc, f"/{ours}", parts.query, ""))
        finally:
            server.execute(f'DROP DATABASE IF EXISTS "{ours}" WITH (FORCE)'.encode())


def in_words() -> str:
    from django.db import connection

    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT current_setting('server_version'), current_setting('fsync')")
            version, fsync = cursor.fetchone()
            return f"PostgreSQL {version.split()[0]}, fsync {fsync}"
        cursor.execute("SELECT sqlite_version()")
        (version,) = cursor.fetchone()
        cursor.execute("PRAGMA journal_mode")
        (journal,) = cursor.fetchone()
        return f"SQLite {version}, journal {journal}, synchronous full"
