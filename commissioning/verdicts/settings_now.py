"""The tables in which settings are searched, kept beside the verdicts: whose they are, and a row for each setting.

Derived from what judging measured; `manage.py rebuild_settings` makes it again and says what differed.
"""

from collections.abc import Collection, Iterable, Mapping
from datetime import date, datetime
from typing import Any
from uuid import UUID

from commissioning.dossier.canonical import canonical_json
from commissioning.dossier.settings.catalogue import Plain
from commissioning.dossier.settings.newest import newest
from commissioning.models import JudgedPosition, SettingsNow, SettingValue
from commissioning.verdicts.keep import Found
from portfolio.models import Installation, Position, bulk

_NAMES = ("position", "moment", "observed_at", "envelope", "values")
_VALUE = ("settings", "code", "number", "word")
Held = dict[str, tuple[float | None, str]]  # number and word of each setting
Row = tuple[tuple[UUID, str, datetime, UUID, dict[str, Any]], Held]


def keep(found: Iterable[Found], places: Mapping[UUID, Mapping[str, Any]]) -> None:
    """In the effect's transaction; `places` are the positions in the judging document's form."""
    rows, without = [], []
    for one in found:
        place = places[one.position]
        machine = place["machine"]
        since = date.fromisoformat(machine["since"]) if machine else None
        row = _row(one.position, one.measurements, since, place["time_zone"])
        if row is None:
            without.append(one.position)
        else:
            rows.append(row)
    _write(rows, without)


def rebuild(positions: Collection[UUID]) -> list[str]:
    """Make the rows of these positions again from what was measured; says of which the kept one was another."""
    ours = Position.objects.filter(bulk.among("pk", positions))
    places = {pk: (tag, zone) for pk, tag, zone in ours.values_list("pk", "tag", "building__site__time_zone")}
    sits = Installation.objects.filter(bulk.among("position", positions), until__isnull=True)
    since = dict(sits.values_list("position", "since"))
    kept = _kept(positions)
    judged = JudgedPosition.objects.filter(bulk.among("pk", positions)).values_list("pk", "measurements")
    fresh = {
        pk: row
        for pk, measurements in judged
        if (row := _row(pk, measurements, since.get(pk), places[pk][1])) is not None
    }
    differing = [pk for pk in positions if kept.get(pk) != fresh.get(pk)]
    _write([fresh[pk] for pk in differing if pk in fresh], [pk for pk in differing if pk not in fresh])
    return [f"{places[pk][0]}: {'other settings were kept' if pk in kept else 'none were kept'}" for pk in differing]


def in_columns(value: Plain) -> tuple[float | None, str]:
    """A value as number and word.

    >>> in_columns(0.5), in_columns("schedule"), in_columns(True)
    ((0.5, ''), (None, 'schedule'), (None, 'yes'))
    """
    if isinstance(value, bool):
        return None, "yes" if value else "no"
    return (None, value) if isinstance(value, str) else (float(value), "")


def _kept(positions: Collection[UUID]) -> dict[UUID, Row]:
    heads = SettingsNow.objects.filter(bulk.among("pk", positions)).values_list(*_NAMES)
    kept: dict[UUID, Row] = {head[0]: (head, {}) for head in heads}
    for pk, code, *held in SettingValue.objects.filter(bulk.among("settings", positions)).values_list(*_VALUE):
        kept[pk][1][code] = (held[0], held[1])
    return kept


def _row(position: UUID, measurements: list[dict[str, Any]], since: date | None, zone: str) -> Row | None:
    one = newest(measurements, machine_since=since, time_zone=zone)
    if one is None:
        return None
    at = datetime.fromisoformat(one["observed_at"])
    values = one["facts"]["values"]
    held = {code: in_columns(value) for code, value in values.items()}
    return (position, one["facts"]["moment"], at, UUID(one["envelope"]), values), held


def _write(rows: Collection[Row], without: Collection[UUID]) -> None:
    """Whole: what a position had is replaced."""
    if without:
        SettingsNow.objects.filter(bulk.among("pk", without)).delete()
    if not rows:
        return
    SettingValue.objects.filter(bulk.among("settings", [head[0] for head, _ in rows])).delete()
    heads = [(*head[:-1], canonical_json(head[-1]).decode()) for head, _ in rows]
    bulk.insert(SettingsNow, _NAMES, heads, unique=("position",))
    values = [(head[0], code, number, word) for head, held in rows for code, (number, word) in held.items()]
    bulk.insert(SettingValue, _VALUE, values)
