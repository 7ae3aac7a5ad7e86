"""Many rows of one table by plain statements: for the few tables that are read and written by the thousand.

The same rows as by `bulk_create` and `__in`, without an object per row, a field's preparation per value and a parameter
per value, which cost more than the database does. PostgreSQL takes each column as one array.
"""

import json
import uuid
from collections.abc import Callable, Collection, Iterable, Sequence
from datetime import date, datetime
from typing import Any

from django.db import connection, models
from django.db.models import F, Func, Value

_MOST_ROWS = 500


def among(name: str, ids: Collection[uuid.UUID]) -> Func:
    """The condition that field `name`, a UUID or a key to one, is one of `ids`."""
    return _AmongArray(F(name), Value(_array(ids))) if _has_arrays() else _AmongJson(F(name), Value(_json(ids)))


class _AmongArray(Func):
    output_field = models.BooleanField()
    arg_joiner, template = " = ANY(", "%(expressions)s::uuid[])"


class _AmongJson(Func):
    output_field = models.BooleanField()
    arg_joiner, template = " IN (SELECT value FROM json_each(", "%(expressions)s))"


def insert(
    model: type[models.Model],
    names: Sequence[str],
    rows: Sequence[tuple[Any, ...]],
    *,
    unique: Sequence[str] = (),
    returning: bool = False,
) -> list[Any]:
    """Insert `rows` of the fields `names`; a JSON field's value is given as its text. Returns primary keys if asked.

    With `unique`, a row that is there already gets the values of the other fields.
    """
    if not rows:
        return []
    columns = [_quoted(model, name) for name in names]
    table = connection.ops.quote_name(model._meta.db_table)
    head = f"INSERT INTO {table} ({', '.join(columns)}) "
    tail = ""
    if unique:
        sets = ", ".join(f"{c} = EXCLUDED.{c}" for c, name in zip(columns, names, strict=True) if name not in unique)
        tail = f" ON CONFLICT ({', '.join(_quoted(model, name) for name in unique)}) DO UPDATE SET {sets}"
    if returning:
        tail += f" RETURNING {_quoted(model, 'pk')}"
    found: list[Any] = []
    with connection.cursor() as cursor:
        for source, parameters in _arrays(model, names, rows) if _has_arrays() else _tuples(rows):
            cursor.execute(head + source + tail, parameters)
            found += [key for (key,) in cursor.fetchall()] if returning else []
    return found


_Source = tuple[str, list[Any]]  # where the rows come from, and its parameters


def _arrays(model: type[models.Model], names: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> Iterable[_Source]:
    """All rows at once, from an array for each column."""
    types = ", ".join(f"%s::{_field(model, name).db_type(connection)}[]" for name in names)
    columns = [_array(column) for column in zip(*rows, strict=True)]
    yield f"SELECT * FROM unnest({types})", columns  # noqa: S608  (types of our own fields)


def _tuples(rows: Sequence[tuple[Any, ...]]) -> Iterable[_Source]:
    """As many rows at a time as the database takes parameters."""
    width = len(rows[0])
    one = f"({', '.join(['%s'] * width)})"
    most = min(_MOST_ROWS, (connection.features.max_query_params or 60_000) // width)
    prepared = _prepared(rows)
    for start in range(0, len(prepared), most):
        part = prepared[start : start + most]
        yield f"VALUES {', '.join([one] * len(part))}", [value for row in part for value in row]


def _has_arrays() -> bool:
    return connection.vendor == "postgresql"


def _array(values: Iterable[Any]) -> str:
    r"""As PostgreSQL reads an array; the driver would take longer to write it than the server takes to insert it.

    >>> _array([1, None, 'NULL', 'a "b" {c}', "d\\e"])
    '{"1",NULL,"NULL","a \\"b\\" {c}","d\\\\e"}'
    """
    return "{" + ",".join("NULL" if one is None else f'"{_escaped(str(one))}"' for one in values) + "}"


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"')


def _json(ids: Iterable[uuid.UUID]) -> str:
    return json.dumps([one.hex for one in ids])


def _field(model: type[models.Model], name: str) -> Any:
    return model._meta.pk if name == "pk" else model._meta.get_field(name)


def _quoted(model: type[models.Model], name: str) -> str:
    return connection.ops.quote_name(_field(model, name).column)


def _prepared(rows: Sequence[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """Column by column, since all values of one are of one kind."""
    columns: list[Iterable[Any]] = []
    for column in zip(*rows, strict=True):
        prepare = _preparation(next((one for one in column if one is not None), None))
        columns.append([one if one is None else prepare(one) for one in column] if prepare else column)
    return list(zip(*columns, strict=True))


def _preparation(value: Any) -> Callable[[Any], Any] | None:
    if isinstance(value, uuid.UUID):
        return lambda one: one.hex
    if isinstance(value, datetime):
        return connection.ops.adapt_datetimefield_value
    if isinstance(value, date):
        return connection.ops.adapt_datefield_value
    return None
