"""Drawing a sample, and drawing more of it after a failure. A draw is written once and never changed.

The order of a stratum follows from the seed and the units' ids alone (engineering.acceptance_sampling); an enlargement
takes more of the same order.
"""

import secrets
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Max
from django.http import HttpRequest
from django.utils import timezone
from rest_framework.request import Request

from commissioning.dossier.procedures.alike import name_of
from commissioning.dossier.procedures.show_tests import title_of
from commissioning.engineering.acceptance_sampling import (
    OperatingPoint,
    StratumDraw,
    draw_by_strata,
    draw_order,
    enlarged_sample,
    operating_characteristic,
)
from commissioning.evidence.own_procedures import library_of
from commissioning.models import Sample, SampleUnit
from commissioning.samples.of_tests import Groups, drawable, groups_of
from commissioning.samples.population import CENTRAL, MOST_UNITS, strata_of
from commissioning.samples.results import result_of
from portfolio import audit
from portfolio.jobs import queue
from portfolio.models import Person, Position, Project

SEED_BYTES = 8


class NotDrawn(Exception):
    """Why a sample cannot be drawn so, as a sentence for people."""


@dataclass(frozen=True)
class Terms:
    """What was agreed before the draw."""

    confidence: float
    largest_defective_share: float
    accept: int = 0
    whole: frozenset[str] = frozenset()  # kinds of which every unit is repeated
    central: frozenset[UUID] = frozenset()  # units that are repeated whatever their kind
    procedure: str = ""  # the functional test that is run at the drawn ones; '' where airflows are repeated


@dataclass(frozen=True)
class Foreseen:
    """A stratum before its draw: how many are to be repeated, and how likely populations pass."""

    stratum: str
    population: int
    sample: int
    whole: bool
    points: tuple[OperatingPoint, ...]


def foresee(units: Collection[Position], terms: Terms) -> list[Foreseen]:
    """How many units would be repeated: it does not depend on the seed."""
    return [
        Foreseen(one.stratum, len(one.units), one.sample, one.whole, _points(one, terms))
        for one in _drawn("any", _groups(units, terms), terms)
    ]


def draw(
    *,
    project: Project,
    person: Person,
    title: str,
    units: Collection[Position],
    terms: Terms,
    seed: str = "",
    request: Request | HttpRequest | None = None,
    at: datetime | None = None,
) -> Sample:
    """Draw and write down. Without a seed the server makes one at random. Raises NotDrawn."""
    used = seed or secrets.token_hex(SEED_BYTES)
    groups = _groups(units, terms)
    draws = _drawn(used, groups, terms)
    plan: dict[str, Any] = {
        "confidence": terms.confidence,
        "largest_defective_share": terms.largest_defective_share,
        "accept": terms.accept,
        "strata": [_planned(one) | _common(groups, one.stratum) for one in draws],
    }
    if terms.procedure:
        plan["procedure"] = terms.procedure
    with transaction.atomic():
        Project.objects.select_for_update().get(pk=project.pk)
        sample = Sample.objects.create(
            project=project,
            number=_next_number(project),
            title=f"{title}: {title_of(terms.procedure, library_of(project.pk))}"[:200] if terms.procedure else title,
            seed=used,
            seed_by=Sample.SeedBy.TYPED if seed else Sample.SeedBy.SERVER,
            plan=plan,
            drawn_by=person,
            drawn_at=at or timezone.now(),
        )
        _write_units(sample, {one.stratum: one.units for one in draws})
        _note(sample, request)
        _judge_again(sample)
    return sample


def enlarge(
    *, sample: Sample, person: Person, request: Request | HttpRequest | None = None, at: datetime | None = None
) -> Sample:
    """Draw more of the same order where more units differ than are accepted: twice as many, then all.

    Raises NotDrawn.
    """
    with transaction.atomic():
        Project.objects.select_for_update().get(pk=sample.project_id)
        if not Sample.objects.standing().filter(pk=sample.pk).exists():
            raise NotDrawn("This sample is enlarged already: look at the last one of its order.")
        due = {one.stratum for one in result_of(sample).strata if one.enlarge_to is not None}
        if not due:
            raise NotDrawn("A sample is enlarged where more units differ than its plan accepts; here none is due.")
        more = Sample.objects.create(
            project_id=sample.project_id,
            number=_next_number(sample.project),
            title=sample.title,
            first_id=sample.first_id or sample.pk,
            enlargement=sample.enlargement + 1,
            seed=sample.seed,
            seed_by=sample.seed_by,
            plan={**sample.plan, "strata": [_enlarged(one) if one["stratum"] in due else one for one in sample.strata]},
            drawn_by=person,
            drawn_at=at or timezone.now(),
        )
        _write_units(more, orders_of(sample))
        _note(more, request)
        _judge_again(more)
    return more


def orders_of(sample: Sample) -> dict[str, tuple[str, ...]]:
    """Ids of each stratum in the order of the draw, as they were written down."""
    orders: dict[str, list[str]] = {}
    for stratum, position in sample.units.order_by("stratum", "rank").values_list("stratum", "position"):
        orders.setdefault(stratum, []).append(str(position))
    return {stratum: tuple(ids) for stratum, ids in orders.items()}


def is_drawn_again_the_same(sample: Sample) -> bool:
    """Whether seed and ids give the order that was written down, and its first units are the ones drawn."""
    orders = orders_of(sample)
    drawn = {str(pk) for pk in sample.units.filter(drawn=True).values_list("position", flat=True)}
    first = {id for one in sample.strata for id in orders.get(one["stratum"], ())[: one["sample"]]}
    return first == drawn and all(draw_order(seed=sample.seed, units=sorted(ids)) == ids for ids in orders.values())


def _groups(units: Collection[Position], terms: Terms) -> Groups:
    if not units:
        raise NotDrawn("None of what is named is a counted unit: name a building, a system or units.")
    if len(units) > MOST_UNITS:
        raise NotDrawn(f"A sample is drawn of at most {MOST_UNITS:,} units.")
    if not terms.procedure:
        return Groups(strata_of(units, terms.central), {}, frozenset())
    known = drawable(next(iter(units)).building.site.project_id)
    if terms.procedure not in known:
        raise NotDrawn("This test is no matter of a sample: it is run or witnessed at every unit that has it.")
    groups = groups_of(units, known[terms.procedure], terms.central)
    if not groups.strata:
        raise NotDrawn("The test is due at none of these units: the design's list of tests has to name it.")
    return groups


def _drawn(seed: str, groups: Groups, terms: Terms) -> tuple[StratumDraw, ...]:
    strata = groups.strata
    by_kind = {name for name in strata if name.partition(" ")[0] in terms.whole}
    try:
        return draw_by_strata(
            seed=seed,
            strata=strata,
            whole=(by_kind | groups.whole | {CENTRAL}) & set(strata),
            confidence=terms.confidence,
            largest_defective_share=terms.largest_defective_share,
            accept=terms.accept,
        )
    except ValueError as fault:
        raise NotDrawn(f"It cannot be drawn so: {fault}.") from fault


def _points(one: StratumDraw, terms: Terms) -> tuple[OperatingPoint, ...]:
    """Some points of the operating characteristic, up to the share that must be found and a little beyond."""
    if one.plan is None:
        return ()
    population, bad = len(one.units), one.plan.defective
    wanted = sorted({0, 1, 2, max(1, bad // 2), bad, min(population, 2 * bad), min(population, 3 * bad)})
    return operating_characteristic(
        population=population,
        sample=one.sample,
        accept=terms.accept,
        defectives=[number for number in wanted if number <= population],
    )


def _planned(one: StratumDraw) -> dict[str, Any]:
    return {
        "stratum": one.stratum,
        "population": len(one.units),
        "first_sample": one.sample,
        "sample": one.sample,
        "enlargements": 0,
        "whole": one.whole,
        "defective": one.plan.defective if one.plan else None,
        "acceptance_probability": one.plan.acceptance_probability if one.plan else None,
    }


def _common(groups: Groups, stratum: str) -> dict[str, Any]:
    """What the units of a group for a functional test have in common, and its name."""
    like = groups.common.get(stratum)
    return {} if like is None else {"alike": like, "group": name_of(like)}


def _judge_again(sample: Sample) -> None:
    """A unit that is not drawn says which sample stands for it."""
    if sample.procedure:
        queue.want("judge", sample.units.values_list("position", flat=True))


def _enlarged(one: Mapping[str, Any]) -> dict[str, Any]:
    times = one["enlargements"] + 1
    number = enlarged_sample(population=one["population"], first_sample=one["first_sample"], enlargements=times)
    return {**one, "sample": number, "enlargements": times}


def _write_units(sample: Sample, orders: Mapping[str, Sequence[str]]) -> None:
    numbers = {one["stratum"]: one["sample"] for one in sample.strata}
    SampleUnit.objects.bulk_create(
        [
            SampleUnit(sample=sample, position_id=UUID(id), stratum=stratum, rank=rank, drawn=rank <= numbers[stratum])
            for stratum, ids in orders.items()
            for rank, id in enumerate(ids, start=1)
        ]
    )


def _next_number(project: Project) -> int:
    """The project's row must be locked."""
    return (Sample.objects.filter(project=project).aggregate(top=Max("number"))["top"] or 0) + 1


def _note(sample: Sample, request: Request | HttpRequest | None) -> None:
    detail: dict[str, Any] = {"number": sample.number, "seed": sample.seed, "plan": sample.plan}
    audit.note(
        request=request,
        person=sample.drawn_by,
        verb="draw_sample",
        obj=sample,
        project_id=sample.project_id,
        detail=detail,
    )


def earlier_of_the_same(sample: Sample) -> Iterable[Sample]:
    """Other draws before this one in which some of its units were: a draw repeated until it pleases shows here."""
    chain = {sample.first_id or sample.pk}
    rows = Sample.objects.filter(project=sample.project_id, number__lt=sample.number, first=None)
    shared = SampleUnit.objects.filter(position__in=sample.units.values("position"), sample__in=rows)
    return rows.filter(pk__in=shared.values("sample")).exclude(pk__in=chain).order_by("number")
