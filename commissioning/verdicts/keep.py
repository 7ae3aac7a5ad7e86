"""Keeping what judging found: rows only where something differs, and what changed as rows of its own.

Everything here runs inside the effect's transaction, after the fenced finish.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import QuerySet

from commissioning import judging
from commissioning.dossier.canonical import canonical_json, sha256_hex
from commissioning.models import (
    CurrentVerdict,
    JudgedPosition,
    Judgement,
    KeptLog,
    SettingsNow,
    TrendAnalysis,
    VerdictChange,
)
from portfolio.models import bulk

Key = tuple[UUID, str, str]  # position, requirement, port


@dataclass(frozen=True)
class Found:
    """What one judging of one position found, in the document's form."""

    position: UUID
    inputs_hash: str
    rules_hash: str
    measurements: list[dict[str, Any]]
    judgements: list[dict[str, Any]]
    problems: list[dict[str, Any]]
    band: dict[str, Any] | None


def outcome_of(judgement: Mapping[str, Any]) -> str:
    """One of three verdicts, or the code of why there is none."""
    verdict = judgement["verdict"]
    return str(verdict if verdict is not None else judgement["absence"]["code"])


def unchanged(positions: Collection[UUID], hashes: Mapping[UUID, tuple[str, str]]) -> set[UUID]:
    """Positions whose last judging rested on exactly these inputs and rules."""
    rows = JudgedPosition.objects.filter(bulk.among("pk", positions)).values_list("pk", "inputs_hash", "rules_hash")
    return {pk for pk, inputs, rules in rows if hashes.get(pk) == (inputs, rules)}


@dataclass(frozen=True)
class _Row:
    """A judgement as it is kept."""

    position: UUID
    requirement: str
    port: str
    inputs_hash: str
    rule_version: int
    result_hash: str
    result: str
    outcome: str
    provisional: bool

    @property
    def key(self) -> Key:
        return self.position, self.requirement, self.port

    @property
    def identity(self) -> tuple[Any, ...]:
        return self.position, self.requirement, self.port, self.inputs_hash, self.rule_version, self.result_hash


def keep(found: Sequence[Found], now: datetime) -> None:
    positions = [one.position for one in found]
    rows = {row.key: row for one in found for row in _rows(one)}
    _point(rows, _judgements(rows.values(), positions, now), positions, now)
    bulk.insert(
        JudgedPosition,
        ("position", "inputs_hash", "rules_hash", "measurements", "problems", "band", "judged_at"),
        [(o.position, o.inputs_hash, o.rules_hash, *_texts(o.measurements, o.problems, o.band), now) for o in found],
        unique=("position",),
    )


def _texts(*data: Any) -> tuple[str | None, ...]:
    return tuple(None if one is None else canonical_json(one).decode() for one in data)


def _rows(one: Found) -> Iterator[_Row]:
    for judged in one.judgements:
        text = canonical_json(judged)
        yield _Row(
            one.position,
            judged["requirement"],
            judged["port"],
            one.inputs_hash,
            judged["rule_version"],
            sha256_hex(text),
            text.decode(),
            outcome_of(judged),
            bool(judged["provisional"]),
        )


_IDENTITY = ("position", "requirement", "port", "inputs_hash", "rule_version", "result_hash")


def _judgements(rows: Collection[_Row], positions: Sequence[UUID], now: datetime) -> dict[Key, int]:
    """The kept judgement of each row: the one that is there already, or a new one."""
    hashes = {row.inputs_hash for row in rows}
    kept = Judgement.objects.filter(bulk.among("position", positions), inputs_hash__in=hashes)
    found = kept.values_list("pk", *_IDENTITY)
    there = {tuple(identity): pk for pk, *identity in found}
    new = [row for row in rows if row.identity not in there]
    keys = bulk.insert(
        Judgement,
        (*_IDENTITY, "result", "made_at"),
        [(*row.identity, row.result, now) for row in new],
        returning=True,
    )
    there |= {row.identity: pk for row, pk in zip(new, keys, strict=True)}
    return {row.key: there[row.identity] for row in rows}


class _Held(NamedTuple):
    pk: int
    judgement: int
    outcome: str
    provisional: bool


def _held(positions: Sequence[UUID]) -> dict[Key, _Held]:
    names = ("position", "requirement", "port", "pk", "judgement", "outcome", "provisional")
    rows = CurrentVerdict.objects.filter(bulk.among("position", positions)).values_list(*names)
    return {(position, requirement, port): _Held(*rest) for position, requirement, port, *rest in rows}


def _point(rows: Mapping[Key, _Row], judgements: Mapping[Key, int], positions: Sequence[UUID], now: datetime) -> None:
    """Let the current verdicts point at what holds now, and write down each change of outcome."""
    held = _held(positions)
    point, changes = [], []
    for key, row in rows.items():
        before, judgement = held.get(key), judgements[key]
        if before is None or before.outcome != row.outcome:
            changes.append(_change(key, before.outcome if before else "", row.outcome, judgement, now))
        if before is None or (before.judgement, before.provisional) != (judgement, row.provisional):
            point.append((*key, judgement, row.outcome, row.provisional))
    gone = {key: verdict for key, verdict in held.items() if key not in rows}
    changes += [_change(key, verdict.outcome, "", None, now) for key, verdict in gone.items()]
    if gone:
        CurrentVerdict.objects.filter(pk__in=[verdict.pk for verdict in gone.values()]).delete()
    by_key = ("position", "requirement", "port")
    bulk.insert(CurrentVerdict, (*by_key, "judgement", "outcome", "provisional"), point, unique=by_key)
    VerdictChange.objects.bulk_create(changes)


def _change(key: Key, before: str, after: str, judgement: int | None, now: datetime) -> VerdictChange:
    return VerdictChange(
        position_id=key[0], requirement=key[1], port=key[2], before=before, after=after, judgement_id=judgement, at=now
    )


def burn(positions: Collection[UUID] | None = None) -> None:
    """Throw away all that is derived; judging makes it again (`manage.py burn_derived`)."""
    for model in (CurrentVerdict, Judgement, JudgedPosition, SettingsNow, TrendAnalysis):
        rows = model.objects.all() if positions is None else model.objects.filter(position__in=positions)
        rows.delete()
    if positions is None:  # one file may serve many positions
        KeptLog.objects.all().delete()


def outdated() -> QuerySet[JudgedPosition, UUID]:
    """Positions that were judged by other rules than those of now."""
    return JudgedPosition.objects.exclude(rules_hash=judging.rules_hash()).values_list("pk", flat=True)
