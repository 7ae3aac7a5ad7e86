"""Verification samples over HTTP: draw one, read which units are to be repeated and what came of it, draw more."""

import uuid
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from commissioning.models import Sample
from commissioning.samples import draw as drawing
from commissioning.samples.draw import NotDrawn, Terms
from commissioning.samples.population import MOST_UNITS, Units, counted, lying_in, part_of
from commissioning.samples.results import Result, Stratum, Unit, result_of
from portfolio.access import may
from portfolio.api.writes import read, wrong
from portfolio.door.fields import Id, Number, Strict, Text, Whole
from portfolio.door.paging import page_of
from portfolio.door.problems import Problem, not_found
from portfolio.door.views import DoorView
from portfolio.models import Position, Project, System


class SampleForm(Strict):
    """The population, all counted units of what is named; and what was agreed before the draw."""

    title = Text(max_length=200)
    buildings = serializers.ListField(child=Id(), required=False, default=list, max_length=200)
    systems = serializers.ListField(child=Id(), required=False, default=list, max_length=200)
    positions = serializers.ListField(child=Id(), required=False, default=list, max_length=MOST_UNITS)
    confidence = Number(min_value=0.5, max_value=0.9999)
    largest_defective_share = Number(min_value=0.001, max_value=1.0)
    accept = Whole(min_value=0, max_value=MOST_UNITS, default=0)
    whole = serializers.ListField(
        child=serializers.ChoiceField(Position.Kind.choices), required=False, default=list, max_length=20
    )
    central = serializers.ListField(child=Id(), required=False, default=list, max_length=MOST_UNITS)
    seed = Text(max_length=100, required=False, default="", allow_blank=True)
    procedure = Text(max_length=40, required=False, default="", allow_blank=True)


def brief(sample: Sample) -> dict[str, Any]:
    return {
        "id": str(sample.pk),
        "project": str(sample.project_id),
        "number": sample.number,
        "title": sample.title,
        "procedure": sample.procedure or None,
        "first": str(sample.first_id) if sample.first_id else None,
        "enlargement": sample.enlargement,
        "seed": sample.seed,
        "seed_by": sample.seed_by,
        "drawn_by": str(sample.drawn_by_id),
        "drawn_at": sample.drawn_at,
        "plan": sample.plan,
    }


def whole(sample: Sample, *, with_results: bool) -> dict[str, Any]:
    """All that it takes to draw it again; what came of it only for who may see that."""
    orders = drawing.orders_of(sample)
    numbers = {one["stratum"]: one["sample"] for one in sample.strata}
    result = result_of(sample)
    return brief(sample) | {
        "population": {stratum: sorted(ids) for stratum, ids in orders.items()},
        "order": {stratum: list(ids) for stratum, ids in orders.items()},
        "drawn": {stratum: list(ids[: numbers[stratum]]) for stratum, ids in orders.items()},
        "drawn_again_the_same": drawing.is_drawn_again_the_same(sample),
        "units": [_unit(one, with_results=with_results) for one in result.units],
        "result": _result(result) if with_results else None,
    }


def _unit(one: Unit, *, with_results: bool) -> dict[str, Any]:
    told: dict[str, Any] = {
        "position": str(one.position.pk),
        "tag": one.position.tag,
        "stratum": one.stratum,
        "rank": one.rank,
        "due": one.is_due,
    }
    if with_results:
        told["state"] = one.code
        told["ports"] = {port.port: port.code for port in one.ports}
    return told


def _result(result: Result) -> list[dict[str, Any]]:
    return [_stratum(one) for one in result.strata]


def _stratum(one: Stratum) -> dict[str, Any]:
    said = one.said
    return {
        "stratum": one.stratum,
        "population": one.population,
        "drawn": one.drawn,
        "failures": one.failures,
        "due": one.due,
        "sentence": one.sentence,
        "next_move": one.mover,
        "enlarge_to": one.enlarge_to,
        "confidence": said.confidence if said else None,
        "most_defective": said.most_defective if said else None,
        "most_defective_unseen": said.most_defective_unseen if said else None,
        "failed": one.failed,
    }


class SamplesView(DoorView):
    verbs = {"GET": "see", "POST": "draw_sample"}

    @extend_schema(
        operation_id="samples",
        summary="Verification samples of a project that you may see",
        description="Contractors see nothing of samples.",
        responses={200: OpenApiTypes.OBJECT},
    )
    def get(self, request: Request, project_id: uuid.UUID) -> Response:
        project = self.visible(Project.objects, project_id)
        self.allow(part_of(self.person, project), verb="see_samples")
        rows = self.seen(Sample.objects).filter(project=project)
        return Response(page_of(request, rows, order=["-number", "id"], show=brief))

    @extend_schema(
        operation_id="draw_sample",
        summary="Draw a verification sample",
        description=(
            "Like units are drawn kind by kind, by the hash of a seed and their ids; without a seed the server makes "
            "one at random. With a procedure the units at which that functional test is due are drawn in groups that "
            "are alike for it, and one that is not drawn says which sample stands for it. A draw is never changed; "
            "the same units drawn again is another sample, and both are kept."
        ),
        request=SampleForm,
        responses={201: OpenApiTypes.OBJECT},
    )
    def post(self, request: Request, project_id: uuid.UUID) -> Response:
        project = self.visible(Project.objects, project_id, verb="see")
        values = read(SampleForm, request)
        part = part_of(self.person, project)
        units = self._units(part, values)
        self.allow(Units(project, frozenset(one.building_id for one in units)) if units else part)
        if set(values["central"]) - {one.pk for one in units}:
            raise wrong("/central", "unknown", "Some of these are not in the population.", "Name units that are.")
        terms = Terms(
            confidence=values["confidence"],
            largest_defective_share=values["largest_defective_share"],
            accept=values["accept"],
            whole=frozenset(values["whole"]),
            central=frozenset(values["central"]),
            procedure=values["procedure"],
        )
        try:
            sample = drawing.draw(
                project=project,
                person=self.person,
                title=values["title"],
                units=units,
                terms=terms,
                seed=values["seed"],
                request=request,
            )
        except NotDrawn as why:
            raise wrong("", "not_drawn", str(why), "Name other units or other terms.") from why
        told = whole(sample, with_results=True)
        return Response(told, status=201, headers={"Location": f"/api/v1/samples/{sample.pk}"})

    def _units(self, part: Units, values: dict[str, Any]) -> list[Position]:
        """The counted units of what is named; what is not seen is not found."""
        buildings, systems, units = (set(values[name]) for name in ("buildings", "systems", "positions"))
        if not buildings | systems | units:
            raise wrong("", "one_of", "No population is named.", "Send buildings, systems or positions.")
        seen = System.objects.filter(building__in=part.buildings, pk__in=systems).count() == len(systems)
        if buildings - part.buildings or not seen or lying_in(part).filter(pk__in=units).count() < len(units):
            raise not_found()
        return counted(part, buildings=buildings, systems=systems, units=units)


class SampleView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(
        operation_id="sample",
        summary="A verification sample: its draw, the units to repeat, what came of it",
        description="`result` and the units' `state` are for the lead, the owner and the engineer of record.",
        responses={200: OpenApiTypes.OBJECT},
    )
    def get(self, request: Request, pk: uuid.UUID) -> Response:
        sample = self.visible(Sample.objects.select_related("project", "first"), pk)
        return Response(whole(sample, with_results=bool(may(self.person, "see_sample_results", sample))))


class EnlargementView(DoorView):
    verbs = {"POST": "draw_sample"}

    @extend_schema(
        operation_id="enlarge_sample",
        summary="Draw more of a sample's order after a failure",
        description="Twice as many units, then all, of each kind of which more differ than the plan accepts.",
        request=None,
        responses={201: OpenApiTypes.OBJECT},
    )
    def post(self, request: Request, pk: uuid.UUID) -> Response:
        sample = self.visible(Sample.objects.select_related("project", "first"), pk)
        try:
            more = drawing.enlarge(sample=sample, person=self.person, request=request)
        except NotDrawn as why:
            raise Problem(409, "not_drawn", "It is not enlarged", str(why)) from why
        told = whole(more, with_results=True)
        return Response(told, status=201, headers={"Location": f"/api/v1/samples/{more.pk}"})
