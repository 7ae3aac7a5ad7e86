"""Samples of functional tests as judging needs them: what a unit that was not drawn is given of the sample it rests on.

A drawn unit's verdict is part of what the others of its group say; where it changes, they are judged again.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from commissioning.dossier.sampled_tests import why_failed
from commissioning.models import CurrentVerdict, Sample, SampleUnit
from portfolio.models import Position, bulk

REQUIREMENT = "functional_tests"
FAILS, OPEN = "does_not_conform", "open"

Key = tuple[UUID, str]  # position, procedure


def of_tests() -> QuerySet[Sample]:
    """The samples of functional tests that no larger one takes the place of."""
    return Sample.objects.standing().filter(plan__has_key="procedure")


def tested(keys: Collection[Key]) -> dict[Key, tuple[str, Mapping[str, Any]]]:
    """Outcome and result of these tests at these units, in one query."""
    rows = CurrentVerdict.objects.filter(
        bulk.among("position", {pk for pk, _ in keys}), requirement=REQUIREMENT, port__in={code for _, code in keys}
    )
    names = ("position", "port", "outcome", "judgement__result")
    return {(pk, port): (outcome, result) for pk, port, outcome, result in rows.values_list(*names)}


def failed_since(result: Mapping[str, Any], since: datetime) -> bool:
    """Whether a run since the draw came out wrong, whatever was corrected afterwards."""
    runs = result.get("facts", {}).get("runs", ())
    return any(one.get("verdict") == FAILS and datetime.fromisoformat(one["on"]) >= since for one in runs)


def given(positions: Collection[UUID]) -> dict[UUID, list[dict[str, Any]]]:
    """What each of these is given for the tests for which it was not drawn, once all that are drawn are tested."""
    rows = SampleUnit.objects.filter(
        bulk.among("position", positions), drawn=False, sample__in=of_tests().values("pk")
    ).select_related("sample__first", "position__building__site")
    held = sorted(rows, key=lambda row: (row.position_id, row.sample.number))
    states = _states({(row.sample_id, row.stratum): row.sample for row in held}) if held else {}
    newest: dict[Key, dict[str, Any]] = {}
    for row in held:
        sample, zone = row.sample, ZoneInfo(row.position.building.site.time_zone)
        planned = next(one for one in sample.strata if one["stratum"] == row.stratum)
        newest[row.position_id, sample.procedure] = {
            "procedure": sample.procedure,
            "sample": sample.number,
            "drawn_on": sample.drawn_at.astimezone(zone).date().isoformat(),
            "alike": planned["group"],
            "state": states[row.sample_id, row.stratum],
        }
    found: dict[UUID, list[dict[str, Any]]] = defaultdict(list)
    for (position, _), told in sorted(newest.items()):
        if told["state"] != OPEN:
            found[position].append(told)
    return dict(found)


def _states(samples: Mapping[tuple[UUID, str], Sample]) -> dict[tuple[UUID, str], str]:
    """Of each group of a sample: open, stands or failed."""
    ids = {one.pk for one in samples.values()}
    rows = SampleUnit.objects.filter(sample__in=ids, position__scope__in=Position.COUNTED)
    drawn: dict[tuple[UUID, str], list[UUID]] = defaultdict(list)
    population: dict[tuple[UUID, str], int] = defaultdict(int)
    for sample, stratum, position, is_drawn in rows.values_list("sample", "stratum", "position", "drawn"):
        population[sample, stratum] += 1
        if is_drawn:
            drawn[sample, stratum].append(position)
    held = tested({(pk, samples[key].procedure) for key in samples for pk in drawn[key]})
    return {key: _state(one, key[1], population[key], drawn[key], held) for key, one in samples.items()}


def _state(
    sample: Sample,
    stratum: str,
    population: int,
    drawn: Collection[UUID],
    held: Mapping[Key, tuple[str, Mapping[str, Any]]],
) -> str:
    """Open until all that are drawn are tested, failed or not: the others must not give away who is still to be."""
    since = (sample.first or sample).drawn_at
    found = [held.get((pk, sample.procedure), ("", {})) for pk in drawn]
    if not drawn or not all(outcome in ("conforms", FAILS) for outcome, _ in found):
        return OPEN
    failures = sum(outcome == FAILS or failed_since(result, since) for outcome, result in found)
    planned = next(one for one in sample.strata if one["stratum"] == stratum)
    return "failed" if why_failed(planned, sample.plan, population, len(drawn), failures) else "stands"


def drawn(positions: Iterable[UUID]) -> dict[Key, int]:
    """The judgement that holds of each of these that is drawn for a test. Asked before and after keeping."""
    rows = SampleUnit.objects.filter(
        bulk.among("position", list(positions)), drawn=True, sample__in=of_tests().values("pk")
    )
    keys = {(pk, plan["procedure"]) for pk, plan in rows.values_list("position", "sample__plan")}
    if not keys:
        return {}
    verdicts = CurrentVerdict.objects.filter(
        bulk.among("position", {pk for pk, _ in keys}), requirement=REQUIREMENT
    ).values_list("position", "port", "judgement")
    return {(pk, port): judgement for pk, port, judgement in verdicts if (pk, port) in keys}


def stale(before: Mapping[Key, int], after: Mapping[Key, int]) -> set[UUID]:
    """Who rests on a drawn unit whose verdict is another one now."""
    changed = {key for key in before.keys() | after.keys() if before.get(key) != after.get(key)}
    found: set[UUID] = set()
    for position, procedure in changed:
        mine = SampleUnit.objects.filter(position=position, drawn=True, sample__in=of_tests().values("pk"))
        for one in mine.select_related("sample"):
            if one.sample.procedure == procedure:
                others = SampleUnit.objects.filter(sample=one.sample_id, stratum=one.stratum, drawn=False)
                found |= set(others.values_list("position", flat=True))
    return found
