"""Design schedules over HTTP: upload, look at the dry run, say what was meant, apply."""

from datetime import date
from typing import Any
from uuid import UUID

from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.parsers import BaseParser
from rest_framework.request import Request
from rest_framework.response import Response

from portfolio import audit
from portfolio.api.writes import read
from portfolio.door.bodies import body_of
from portfolio.door.field_errors import FieldError
from portfolio.door.fields import Day, Id, Strict, Text
from portfolio.door.problems import Problem
from portfolio.door.views import DoorView
from portfolio.models import Building, DesignImport, DesignRevision, Project
from portfolio.schedules import importing, plan

MOST_BYTES = 20 * 1024 * 1024


class _AsItCame(BaseParser):
    media_type = "*/*"


class ColumnForm(Strict):
    sheet = Text(max_length=200, allow_blank=True)
    table = serializers.IntegerField(min_value=1)
    column = Text(max_length=5)
    meaning = Text(max_length=60, allow_blank=True, default="")
    unit = Text(max_length=20, allow_blank=True, default="")


class SkipForm(Strict):
    sheet = Text(max_length=200, allow_blank=True)
    table = serializers.IntegerField(min_value=1)


class ImportForm(Strict):
    """What a person says after seeing the dry run, and of the revision as a whole."""

    columns = ColumnForm(many=True, required=False)
    air_basis = serializers.ChoiceField(choices=["", "standard", "actual", "not stated"], required=False)
    decimal = serializers.ChoiceField(choices=["", "point", "comma"], required=False)
    skip = SkipForm(many=True, required=False)
    tags_of = serializers.DictField(child=serializers.ListField(child=Text(max_length=60)), required=False)
    dated = Day(required=False)
    source = serializers.ChoiceField(choices=DesignRevision.Source.choices, required=False)  # type: ignore[assignment]
    title = Text(max_length=200, allow_blank=True, required=False)
    partial = serializers.BooleanField(required=False)  # type: ignore[assignment]
    building = Id(required=False)


def heading_of(taken: DesignImport) -> plan.Heading:
    held = taken.choices
    return plan.Heading(
        dated=date.fromisoformat(held["dated"]) if "dated" in held else timezone.now().date(),
        source=held.get("source", "design"),
        title=held.get("title", ""),
        partial=held.get("partial", False),
        building=UUID(held["building"]) if held.get("building") else None,
    )


def choose(taken: DesignImport, values: dict[str, Any]) -> None:
    """Keep a person's choices beside the file."""
    plain = {name: str(v) if isinstance(v, date | UUID) else v for name, v in values.items()}
    taken.choices = {**taken.choices, **plain}
    taken.save(update_fields=["choices"])


def show(taken: DesignImport) -> dict[str, Any]:
    head = {
        "id": str(taken.pk),
        "project": str(taken.project_id),
        "file_name": taken.file_name,
        "sha256": taken.blob_id,
        "made_at": taken.made_at,
        "choices": taken.choices,
        "revision": taken.revision.number if taken.revision else None,
    }
    return head | importing.told(importing.dry_run(taken, heading_of(taken)))


class ImportsView(DoorView):
    verbs = {"POST": "import_design", "GET": "import_design"}
    parser_classes = [_AsItCame]

    @extend_schema(operation_id="imports", summary="Schedules that were read", responses={200: OpenApiTypes.OBJECT})
    def get(self, request: Request, pk: UUID) -> Response:
        project = self.visible(Project.objects, pk)
        rows = self.seen(DesignImport.objects).filter(project=project).select_related("revision").order_by("-made_at")
        return Response(
            {
                "results": [
                    {
                        "id": str(row.pk),
                        "file_name": row.file_name,
                        "made_at": row.made_at,
                        "revision": row.revision.number if row.revision else None,
                    }
                    for row in rows[:100]
                ]
            }
        )

    @extend_schema(
        operation_id="read_schedule",
        summary="Read a design schedule as a dry run",
        description="The body is the file as it is (.xlsx, .csv), or pasted cells with the name `pasted.txt`.",
        request={"application/octet-stream": OpenApiTypes.BINARY},
        parameters=[OpenApiParameter("name", str, required=True)],
        responses={201: OpenApiTypes.OBJECT},
    )
    def post(self, request: Request, pk: UUID) -> Response:
        project = self.visible(Project.objects, pk)
        name = request.query_params.get("name", "").strip() or importing.PASTED
        data = body_of(request, limit_bytes=MOST_BYTES)
        taken = importing.take(project=project, person=self.person, file_name=name, data=data)
        audit.note(request=request, person=self.person, verb="read_schedule", obj=taken, project_id=project.pk)
        return Response(show(taken), status=201)


class ImportView(DoorView):
    verbs = {"GET": "import_design", "PATCH": "import_design"}

    @extend_schema(operation_id="dry_run", summary="The dry run of a schedule", responses={200: OpenApiTypes.OBJECT})
    def get(self, request: Request, pk: UUID) -> Response:
        return Response(show(self.visible(DesignImport.objects, pk)))

    @extend_schema(
        operation_id="choose_meanings",
        summary="Say what columns mean, which air, which date",
        request=ImportForm,
        responses={200: OpenApiTypes.OBJECT},
    )
    def patch(self, request: Request, pk: UUID) -> Response:
        taken = self.visible(DesignImport.objects, pk)
        values = read(ImportForm, request, partial=True)
        if "building" in values:
            self.visible(Building.objects, values["building"], verb="see")
        choose(taken, values)
        return Response(show(taken))


class ApplyView(DoorView):
    verbs = {"POST": "import_design"}

    @extend_schema(
        operation_id="apply_schedule",
        summary="Apply a schedule as a revision: all of it, or nothing",
        request=None,
        responses={200: OpenApiTypes.OBJECT},
    )
    def post(self, request: Request, pk: UUID) -> Response:
        taken = self.visible(DesignImport.objects, pk)
        try:
            revision, done = importing.apply(taken, heading_of(taken), self.person)
        except importing.CannotApply as fault:
            raise refused(fault) from fault
        if revision is not None:
            audit.note(
                request=request, person=self.person, verb="apply_schedule", obj=revision, project_id=taken.project_id
            )
        return Response(
            {
                "revision": revision.number if revision else None,
                "changed": [step.tag for step in done.changing],
                "same": len(done.steps) - len(done.changing),
            }
        )


def refused(fault: importing.CannotApply) -> Problem:
    errors = [
        FieldError(
            pointer=f"{one.sheet}!{one.column}{one.row}" if one.row else one.sheet,
            code=one.code,
            detail=one.reason,
            value=one.value,
            remedy=one.remedy,
        )
        for one in fault.obstacles
    ]
    return Problem(400, "cannot_apply", "Nothing was applied", f"{len(errors)} errors stand in the way.", errors=errors)
