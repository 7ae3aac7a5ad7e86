"""Queries that every request asks in the same form: their SQL is put together once for each connection.

For a small request Django spends several times longer on writing a query than the database on answering it. What
comes back is the same as from the queryset itself.

    _TOKEN = Prepared(lambda digest: DeviceToken.objects.select_related("person").filter(digest=digest), str)
    found = _TOKEN("9f86…")          # a list
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from uuid import UUID, uuid4
from weakref import WeakKeyDictionary

from django.db import connections, router
from django.db.models import QuerySet

_MARKERS: dict[type, Callable[[], Any]] = {
    str: lambda: uuid4().hex,
    UUID: uuid4,
    datetime: lambda: datetime.fromtimestamp(uuid4().int % 10**9, UTC),
}


@dataclass(frozen=True)
class _Written:
    sql: str
    parameters: tuple[Any, ...]
    places: tuple[tuple[int, int], ...]  # where in the parameters which argument goes
    queryset: Any
    compiler: Any


class Prepared:
    """`build` makes the queryset from one value of each of `kinds`; its form may not depend on them."""

    def __init__(self, build: Callable[..., QuerySet[Any, Any]], *kinds: type) -> None:
        self._build, self._kinds = build, kinds
        self._written: WeakKeyDictionary[Any, _Written] = WeakKeyDictionary()

    def __call__(self, *values: Any) -> list[Any]:
        connection: Any = connections[router.db_for_read(None)]  # type: ignore[arg-type]
        held = self._written.get(connection)
        if held is None:
            held = self._written[connection] = self._write(connection)
        parameters = list(held.parameters)
        for place, argument in held.places:
            parameters[place] = _in_database(connection, values[argument])
        with connection.cursor() as cursor:
            cursor.execute(held.sql, parameters)
            rows = cursor.fetchall()
        held.compiler.execute_sql = lambda *args, **kwargs: [rows]
        return list(held.queryset._iterable_class(held.queryset))

    def _write(self, connection: Any) -> _Written:
        markers = [_MARKERS[kind]() for kind in self._kinds]
        queryset: Any = self._build(*markers).using(connection.alias)
        compiler = queryset.query.get_compiler(connection=connection)
        sql, parameters = compiler.as_sql()
        known = {_in_database(connection, marker): number for number, marker in enumerate(markers)}
        places = tuple((place, known[value]) for place, value in enumerate(parameters) if value in known)
        if {argument for _, argument in places} != set(range(len(markers))):
            raise TypeError(f"not every argument is found in the query again: {sql}")
        queryset.query.get_compiler = lambda *args, **kwargs: compiler
        return _Written(sql, tuple(parameters), places, queryset, compiler)


def _in_database(connection: Any, value: Any) -> Any:
    """A value as the connection's driver takes it."""
    if isinstance(value, UUID):
        return value if connection.features.has_native_uuid_field else value.hex
    if isinstance(value, datetime):
        return connection.ops.adapt_datetimefield_value(value)
    return value
