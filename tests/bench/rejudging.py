"""Judging everything again: against the mere reading and writing of the same rows, and against the bare arithmetic."""

import copy
from typing import Any
from uuid import UUID

from django.db import transaction

from commissioning import judging
from commissioning.models import CurrentVerdict, JudgedPosition, Judgement, Record
from commissioning.verdicts import dossiers
from portfolio.jobs import queue, runner
from portfolio.models import DesignEntry, ProjectConventions, Standing
from tests.bench import arithmetic
from tests.bench.timing import Line, cpu, in_turns, ratio
from tests.bench.world import Place, World

BATCH = 500


def lines(there: World) -> list[Line]:
    """Every round has a project of its own, of which each position has four traverses: 80 readings."""
    runner.drain()
    kept = [_Rows(place) for place in there.places]
    each = len(there.places[0].positions)

    def full(number: int) -> None:
        place = there.places[number]
        newest = ProjectConventions.objects.filter(project=place.project).latest("version")
        ProjectConventions.objects.create(project=place.project, version=newest.version + 1, agreed=newest.agreed)
        nothing(number)

    def nothing(number: int) -> None:
        with transaction.atomic():
            queue.want("rejudge", [there.places[number].project.pk])
        done = runner.drain(["rejudge"]) + runner.drain(["judge"])
        assert done == each + 1, done

    bulked, whole, idle = in_turns(lambda n: kept[n].read_and_write(), full, nothing, rounds=len(there.places))
    ms = [1e3 * sum(cpu(side)) / len(side) / each for side in (bulked, whole, idle)]
    return [
        ratio(
            "B3a",
            "judging again whole / reading and bulk-writing the same rows, CPU",
            cpu(whole),
            cpu(bulked),
            floor=3.0,
            goal=2.0,
            more_is_better=False,
            figures=f"{ms[1]:.2f} ms against {ms[0]:.2f} ms per position",
        ),
        ratio(
            "B3b",
            "judging again where nothing changed / whole, CPU",
            cpu(idle),
            cpu(whole),
            floor=0.5,
            goal=0.3,
            more_is_better=False,
            figures=f"{ms[2]:.2f} ms against {ms[1]:.2f} ms per position",
        ),
    ]


class _Rows:
    """The rows of a project's judging as they stand, ready to be written again."""

    def __init__(self, place: Place) -> None:
        self.ids = [position.pk for position in place.positions]
        self.batches = [self._batch(self.ids[start : start + BATCH]) for start in range(0, len(self.ids), BATCH)]

    def _batch(self, ids: list[UUID]) -> dict[str, Any]:
        verdicts = list(CurrentVerdict.objects.filter(position__in=ids).select_related("judgement"))
        judgements = []
        for verdict in verdicts:
            again = copy.copy(verdict.judgement)
            again.pk, again.inputs_hash = None, "b" * 64
            verdict.judgement = again
            judgements.append(again)
        return {
            "ids": ids,
            "judgements": judgements,
            "verdicts": verdicts,
            "judged": list(JudgedPosition.objects.filter(pk__in=ids)),
            "standings": list(Standing.objects.filter(pk__in=ids)),
        }

    def read_and_write(self) -> None:
        for batch in self.batches:
            with transaction.atomic():
                list(Record.objects.filter(position__in=batch["ids"]).values_list("position", "submission__raw"))
                list(DesignEntry.objects.filter(position__in=batch["ids"]).values_list("position", "fields"))
                self._write(batch)

    @staticmethod
    def _write(batch: dict[str, Any]) -> None:
        Judgement.objects.bulk_create(batch["judgements"])
        for verdict in batch["verdicts"]:
            verdict.judgement_id = verdict.judgement.pk
        _upsert(CurrentVerdict, batch["verdicts"], ["position", "requirement", "port"], ["judgement", "outcome"])
        _upsert(JudgedPosition, batch["judged"], ["position"], ["inputs_hash", "measurements", "problems", "band"])
        _upsert(Standing, batch["standings"], ["position"], ["code", "sentence", "mover", "since", "band", "outcomes"])


def _upsert(model: Any, rows: list[Any], unique: list[str], update: list[str]) -> None:
    rows = [copy.copy(row) for row in rows]
    if model is CurrentVerdict:
        for row in rows:
            row.pk = None
    model.objects.bulk_create(rows, update_conflicts=True, unique_fields=unique, update_fields=update)


def pure(there: World) -> list[Line]:
    """From documents in memory to judgements with their working, against the numbers alone."""
    documents = []
    for place in there.places:
        gathered = dossiers.gather([position.pk for position in place.positions])
        documents.append([gathered.document(position.pk) for position in place.positions])
    numbers = [arithmetic.numbers_of(some) for some in documents]

    def ours(number: int) -> None:
        for document in documents[number]:
            ready = judging.prepare(document)
            assert ready.hashes
            assert ready.judge()["judgements"]

    def one_by_one(number: int) -> None:
        for one in range(len(documents[number])):
            arithmetic.judge(numbers[number].of(one))

    def at_once(number: int) -> None:
        arithmetic.judge(numbers[number])

    arithmetic.compare(judging.prepare(documents[0][0]).judge(), numbers[0].of(0))
    judged, single, whole = in_turns(ours, one_by_one, at_once, rounds=len(there.places))
    each = len(documents[0])
    ms = [1e3 * sum(cpu(side)) / len(side) / each for side in (judged, single, whole)]
    at_once_line = ratio("", "", cpu(judged), cpu(whole), floor=None, goal=None, more_is_better=False)
    return [
        ratio(
            "B3c",
            "judging, pure, with workings / bare numpy of one position at a time, CPU",
            cpu(judged),
            cpu(single),
            floor=50,
            goal=25,
            more_is_better=False,
            figures=f"{ms[0]:.2f} ms against {ms[1]:.3f} ms per position; {at_once_line.value:.0f} × all at once",
        )
    ]
