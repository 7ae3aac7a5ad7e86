"""What many tests begin with, made once for a process and then put back as rows.

    firm = PutBack(world.with_issues)
    firm()      # made by the doors that a real one uses; from the second time on the same rows, the same objects anew

It is put back only into empty tables: after other rows it is made as the first time. Files are not kept, so what is
made may keep none.
"""

import pickle
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Generic, TypeVar

from django.apps import apps
from django.conf import settings
from django.db import connection, transaction

Made = TypeVar("Made")
_STAYS = {"django_content_type", "auth_permission"}  # made by migrations
_AT_ONCE = 5000  # values in one statement


@dataclass
class PutBack(Generic[Made]):
    make: Callable[[], Made]
    made: bytes = b""
    rows: list[tuple[str, Sequence[str], list[Any]]] = field(default_factory=list)

    def __call__(self) -> Made:
        if not _are_empty():
            return self.make()
        if self.made:
            with transaction.atomic():  # what names a row may come before it
                for table, columns, rows in self.rows:
                    _insert(table, columns, rows)
        else:
            fresh = self.make()
            assert not Path(settings.BLOB_DIR).exists(), "files are not put back"
            self.rows = [(table, columns, rows) for table, columns in _tables() if (rows := _select(table, columns))]
            self.made = pickle.dumps(fresh)
        again: Made = pickle.loads(self.made)
        return again


def _tables() -> list[tuple[str, list[str]]]:
    """Each table with the columns that are written."""
    metas = [model._meta for model in apps.get_models(include_auto_created=True)]
    return [
        (meta.db_table, [one.column for one in meta.local_concrete_fields if one.column and not one.generated])
        for meta in metas
        if meta.db_table not in _STAYS
    ]


def _are_empty() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT " + " OR ".join(f'EXISTS (SELECT 1 FROM "{table}")' for table, _ in _tables()))
        return not cursor.fetchone()[0]


def _select(table: str, columns: Sequence[str]) -> list[Any]:
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {_named(columns)} FROM {connection.ops.quote_name(table)}")
        return list(cursor.fetchall())


def _insert(table: str, columns: Sequence[str], rows: list[Any]) -> None:
    each = max(1, _AT_ONCE // len(columns))
    one = f"({', '.join(['%s'] * len(columns))})"
    for start in range(0, len(rows), each):
        some = rows[start : start + each]
        with connection.cursor() as cursor:
            cursor.execute(
                f"INSERT INTO {connection.ops.quote_name(table)} ({_named(columns)})"
                f" VALUES {', '.join([one] * len(some))}",
                [value for row in some for value in row],
            )


def _named(columns: Sequence[str]) -> str:
    return ", ".join(map(connection.ops.quote_name, columns))
