"""The analyses of trend logs on their way into the judging document: which are wanted, which are there, how made.

A log's plan is made of its points and of the unit's settings as judging knew them last. In the transaction that writes
a judging's effect, a unit of which a log has no analysis by its plan of now is wanted by the job `analyse`; that job
wants a judging where it found something else than was there.
"""

import json
import signal
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import QuerySet

from commissioning import logs
from commissioning.dossier.canonical import canonical_json, sha256_hex
from commissioning.dossier.trend_logs import MOST_LOGS
from commissioning.dossier.trends import VERSION, default_plan
from commissioning.evidence.trends.kept import kept_log
from commissioning.evidence.trends.reading import convert_again
from commissioning.models import JudgedPosition, Record, SettingsNow, TrendAnalysis
from commissioning.verdicts.keep import Found
from portfolio.jobs import child, queue
from portfolio.jobs.queue import Claim
from portfolio.models import bulk

JOB = "analyse"


class Stopped(Exception):
    """The child did not come to its end; the job shows why."""


@dataclass(frozen=True)
class Wanted:
    """One log of one unit with the plan by which it is to be analysed now."""

    position: UUID
    facts: Mapping[str, Any]
    plan: dict[str, Any]

    @property
    def file(self) -> str:
        return str(self.facts["sha256"])

    @property
    def mapping(self) -> str:
        return str(self.facts["mapping"]["sha256"])

    @property
    def points(self) -> list[dict[str, Any]]:
        return [{name: one[name] for name in ("role", "name", "by_change")} for one in self.facts["points"]]

    @property
    def key(self) -> str:
        held = [self.file, self.mapping, self.points, self.plan, VERSION, logs.VERSION]
        return sha256_hex(canonical_json(held))


def given(positions: Collection[UUID]) -> dict[UUID, list[dict[str, Any]]]:
    """What is kept for these positions, in the document's form and in one order."""
    found: dict[UUID, list[dict[str, Any]]] = defaultdict(list)
    rows = TrendAnalysis.objects.filter(bulk.among("position", positions)).order_by("position", "file", "mapping")
    for position, one in rows.values_list("position", "found"):
        found[position].append(one)
    return {position: held[:MOST_LOGS] for position, held in found.items()}


def follow(found: Iterable[Found]) -> None:
    """In the transaction of a judging's effect, after the settings of now are kept."""
    measured = {one.position: one.measurements for one in found}
    wanted = _wanted(measured)
    if not wanted:
        return
    kept = _keys(measured)
    stale = {one.position for one in wanted if kept.get((one.position, one.file, one.mapping)) != one.key}
    if stale:
        queue.want(JOB, stale)


def units() -> QuerySet[Record, UUID]:
    """Those that have a log: the job looks itself whether anything is to be done."""
    return Record.objects.filter(kind="trend").order_by().values_list("position", flat=True).distinct()


def work(claim: Claim) -> None:
    """Analyse what is wanted of one unit and not there, its samples made again from the log's file where they are lost.

    A log whose file did not come in here stays as it is.
    """
    measured = dict(JudgedPosition.objects.filter(pk=claim.subject).values_list("pk", "measurements"))
    wanted, kept = _wanted(measured), _keys([claim.subject])
    made: list[tuple[Wanted, dict[str, Any]]] = []
    for one in wanted:
        if not convert_again(claim, one.file, one.mapping):
            return
        place = kept_log(one.file, one.mapping)
        if place is not None and kept.get((one.position, one.file, one.mapping)) != one.key:
            answer = in_child(claim, _order(one, place))
            if answer is None:
                return
            made.append((one, answer))
    with transaction.atomic():
        if queue.finish([claim]):
            _keep(claim.subject, wanted, made)


def _keep(position: UUID, wanted: list[Wanted], made: list[tuple[Wanted, dict[str, Any]]]) -> None:
    for one, answer in made:
        TrendAnalysis.objects.update_or_create(
            position_id=position, file=one.file, mapping=one.mapping, defaults={"key": one.key, "found": answer}
        )
    logs = {(one.file, one.mapping) for one in wanted}
    gone = [
        pk
        for pk, *log in TrendAnalysis.objects.filter(position=position).values_list("pk", "file", "mapping")
        if tuple(log) not in logs
    ]
    TrendAnalysis.objects.filter(pk__in=gone).delete()
    if made or gone:
        queue.want("judge", [position])


def _wanted(measured: Mapping[UUID, list[dict[str, Any]]]) -> list[Wanted]:
    logs = {
        position: [one["facts"] for one in measurements if one["kind"] == "trend"][-MOST_LOGS:]
        for position, measurements in measured.items()
    }
    holding = [position for position, held in logs.items() if held]
    if not holding:
        return []
    read = dict(SettingsNow.objects.filter(bulk.among("pk", holding)).values_list("pk", "values"))
    return [
        Wanted(position, facts, _plan(facts, read.get(position, {})))
        for position in holding
        for facts in logs[position]
    ]


def _plan(facts: Mapping[str, Any], values: Mapping[str, Any]) -> dict[str, Any]:
    numbers = {code: float(one) if type(one) is int else one for code, one in values.items()}
    roles = [one["role"] for one in facts["points"]]
    return default_plan(roles, numbers, facts["zone"]).model_dump(mode="json")


def _keys(positions: Collection[UUID]) -> dict[tuple[UUID, str, str], str]:
    rows = TrendAnalysis.objects.filter(bulk.among("position", positions))
    return {
        (position, file, mapping): key
        for position, file, mapping, key in rows.values_list("position", "file", "mapping", "key")
    }


# --- the child -----------------------------------------------------------------------------------------------------
def _order(one: Wanted, parquet: Path) -> dict[str, Any]:
    return {
        "parquet": str(parquet),
        "file": one.file,
        "mapping": one.mapping,
        "points": one.points,
        "plan": one.plan,
        "memory_mb": settings.LOG_MEMORY_MB,
        "seconds": settings.LOG_SECONDS,
    }


def in_child(claim: Claim, order: dict[str, Any]) -> dict[str, Any] | None:
    """What the child answers; None where the claim was lost meanwhile."""
    try:
        ended = child.run(claim, "commissioning.dossier.analyse_log", order, seconds=settings.LOG_SECONDS)
    except child.TooLong as over:
        raise Stopped(f"The analysis was stopped after {over.waited_s:.0f} s.") from over
    if ended is None:
        return None
    if ended.code != 0:
        raise Stopped(_reason(ended.code, ended.complaint))
    answer: dict[str, Any] = json.loads(ended.said)
    return answer


def _reason(code: int, complaint: str) -> str:
    if code == -signal.SIGXCPU:
        return f"The analysis needed more than {settings.LOG_SECONDS} s of the processor."
    last = complaint.strip().splitlines()[-1:] or [f"exit code {code}"]
    return f"The analysis ended early: {last[0][:300]}"
