"""Tables whose rows are never changed or deleted, held so by the database itself.

SQLite drops triggers when a migration remakes a table, so they are put back after every migrate, and a system check
looks whether they are there.
"""

from typing import Any

from django.db import connections

INSERT_ONLY = (
    *("commissioning_submission", "commissioning_issueevent", "portfolio_auditevent"),
    *("commissioning_sample", "commissioning_sampleunit", "commissioning_mappingversion"),
    *("commissioning_ownchecks", "commissioning_signature", "commissioning_logmappingversion"),
    *("commissioning_visit", "commissioning_ownprocedures"),
)

_FUNCTION = """
CREATE OR REPLACE FUNCTION ventfolio_refuse_change() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'rows of % are never changed or deleted', TG_TABLE_NAME; END $$
"""


def _verbs(vendor: str) -> tuple[str, ...]:
    """PostgreSQL can empty a table without touching a row; SQLite cannot."""
    return ("UPDATE", "DELETE") if vendor == "sqlite" else ("UPDATE", "DELETE", "TRUNCATE")


def _name(table: str, verb: str) -> str:
    return f"{table}_refuse_{verb.lower()}"


def missing(using: str = "default") -> list[str]:
    """Names of the triggers that should exist and do not (tables not yet made are passed over)."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    wanted = [_name(t, verb) for t in INSERT_ONLY if t in tables for verb in _verbs(connection.vendor)]
    query = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if connection.vendor == "sqlite"
        else "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal"
    )
    with connection.cursor() as cursor:
        cursor.execute(query)
        present = {row[0] for row in cursor.fetchall()}
    return [name for name in wanted if name not in present]


def install(using: str = "default") -> None:
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_FUNCTION)
        for table in INSERT_ONLY:
            if table in tables:
                for verb in _verbs(connection.vendor):
                    cursor.execute(_statement(connection.vendor, table, verb))


def _statement(vendor: str, table: str, verb: str) -> str:
    name = _name(table, verb)
    if vendor == "sqlite":
        return (
            f"CREATE TRIGGER IF NOT EXISTS {name} BEFORE {verb} ON {table} "
            f"BEGIN SELECT RAISE(ABORT, 'rows of {table} are never changed or deleted'); END"
        )
    return (
        f"CREATE OR REPLACE TRIGGER {name} BEFORE {verb} ON {table} "
        f"FOR EACH {'STATEMENT' if verb == 'TRUNCATE' else 'ROW'} EXECUTE FUNCTION ventfolio_refuse_change()"
    )


def lift(using: str = "default") -> None:
    """Take the triggers away: only for emptying a test database between tests."""
    connection = connections[using]
    with connection.cursor() as cursor:
        for table in INSERT_ONLY:
            for verb in _verbs(connection.vendor):
                on = "" if connection.vendor == "sqlite" else f" ON {table}"
                cursor.execute(f"DROP TRIGGER IF EXISTS {_name(table, verb)}{on}")


def reinstall(using: str = "default", **_: Any) -> None:
    """Receiver of Django's post_migrate."""
    install(using)
