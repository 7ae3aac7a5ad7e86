"""The verification samples of a binder's buildings, as they are frozen: how each was drawn and what came of it.

Of a sample with units still to be repeated only its numbers are told: who knows which units are drawn, or can draw
them again by the seed, can look after just these.
"""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import Exists, OuterRef

from commissioning.models import Sample, SampleUnit
from commissioning.samples.population import stratum_in_words
from commissioning.samples.results import Result, result_of
from portfolio.models import Project


@dataclass(frozen=True)
class Drawn:
    """A sample with what came of it, and its population in the order of the draw."""

    sample: Sample
    result: Result
    rows: list[tuple[str, int, UUID, str, bool]]  # stratum, rank, unit, tag, drawn


def drawn_in(project: Project, buildings: Collection[UUID]) -> list[Drawn]:
    """Samples of which every unit lies in these buildings, the enlarged ones too."""
    beyond = SampleUnit.objects.filter(sample=OuterRef("pk")).exclude(position__building__in=buildings)
    samples = Sample.objects.filter(~Exists(beyond), project=project).select_related("drawn_by", "first")
    return [Drawn(one, result_of(one), _rows(one)) for one in samples.order_by("number")]


def _rows(sample: Sample) -> list[tuple[str, int, UUID, str, bool]]:
    names = ("stratum", "rank", "position", "position__tag", "drawn")
    return list(sample.units.order_by("stratum", "rank").values_list(*names))


def frozen(one: Drawn, local: Callable[[datetime], str]) -> dict[str, Any]:
    sample, is_due = one.sample, one.result.is_due
    plan = sample.plan
    return {
        "number": sample.number,
        "title": sample.title,
        "procedure": sample.procedure,
        "enlarges": sample.first.number if sample.first else None,
        "drawn_by": sample.drawn_by.name,
        "drawn_at": local(sample.drawn_at),
        "seed": "" if is_due else sample.seed,
        "seed_by": sample.seed_by,
        "confidence": plan["confidence"],
        "largest_defective_share": plan["largest_defective_share"],
        "accept": plan["accept"],
        "is_due": is_due,
        "strata": _strata(one),
    }


def _strata(drawn: Drawn) -> list[dict[str, Any]]:
    result = drawn.result
    outcomes = {one.position.pk: one.code for one in result.units}
    order: dict[str, list[dict[str, Any]]] = {}
    for stratum, rank, position, tag, is_drawn in drawn.rows:
        outcome = outcomes[position] if is_drawn else None
        told = {"rank": rank, "position": str(position), "tag": tag, "outcome": outcome}
        order.setdefault(stratum, []).append(told)
    return [
        {
            "stratum": stratum_in_words(said.stratum),
            "population": planned["population"],
            "sample": planned["sample"],
            "is_whole": planned["whole"],
            "due": said.due,
            "sentence": "" if result.is_due else said.sentence,
            "order": [] if result.is_due else order.get(said.stratum, []),
        }
        for planned, said in zip(drawn.sample.strata, result.strata, strict=True)
    ]
