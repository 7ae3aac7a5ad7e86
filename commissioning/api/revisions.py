"""Design revisions: what there is, and one written straight in, such as an answer to a question about tolerances."""

from typing import Annotated, Any, Literal
from uuid import UUID

from django.db import transaction
from django.db.models import Count
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from pydantic import Field, StringConstraints, ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from commissioning.dossier import quantities as q
from commissioning.dossier.document_model import DesignModel
from commissioning.dossier.envelope import Id
from commissioning.dossier.faults import problems_of
from portfolio import audit
from portfolio.api.writes import wrong
from portfolio.door.field_errors import FieldError
from portfolio.door.problems import Problem
from portfolio.door.views import DoorView
from portfolio.models import DesignRevision, Position, Project
from portfolio.models.design import GROUPS
from portfolio.schedules.plan import Heading
from portfolio.schedules.writing import write


class EntryModel(q.Closed):
    position: Id
    design: DesignModel


class RevisionModel(q.Closed):
    """Only what is named changes; a field named as null is not given from then on."""

    dated: q.Day
    source: Literal["design", "addendum", "answer", "submittal"]
    title: Annotated[str, StringConstraints(max_length=200)] = ""
    entries: Annotated[list[EntryModel], Field(min_length=1, max_length=5000)]


class RevisionsView(DoorView):
    verbs = {"GET": "see", "POST": "import_design"}

    @extend_schema(operation_id="revisions", summary="Design revisions", responses={200: OpenApiTypes.OBJECT})
    def get(self, request: Request, pk: UUID) -> Response:
        project = self.visible(Project.objects, pk)
        rows = DesignRevision.objects.filter(project=project).annotate(units=Count("entries")).order_by("number")
        return Response({"results": [_show(row) | {"units": row.units} for row in rows]})

    @extend_schema(
        operation_id="write_revision",
        summary="Write a revision straight in",
        description="Entries in the form of a judging document's `design` (docs/judging-document.md).",
        request=OpenApiTypes.OBJECT,
        responses={201: OpenApiTypes.OBJECT},
    )
    def post(self, request: Request, pk: UUID) -> Response:
        project = self.visible(Project.objects, pk)
        wish = _read(request.data)
        self._check_positions(project, wish)
        heading = Heading(dated=wish.dated, source=wish.source, title=wish.title, partial=True)
        entries = {entry.position: fields_of(entry.design) for entry in wish.entries}
        with transaction.atomic():
            revision = write(project=project, person=self.person, heading=heading, entries=entries)
            audit.note(request=request, person=self.person, verb="write_revision", obj=revision, project_id=project.pk)
        return Response(_show(revision) | {"units": len(entries)}, status=201)

    def _check_positions(self, project: Project, wish: RevisionModel) -> None:
        ids = [entry.position for entry in wish.entries]
        if len(ids) != len(set(ids)):
            raise wrong("/entries", "twice", "A position stands twice.", "Say all about a position in one entry.")
        rows = self.seen(Position.objects).filter(building__site__project=project, pk__in=ids)
        found = set(rows.values_list("pk", flat=True))
        for index, pk in enumerate(ids):
            if pk not in found:
                raise wrong(
                    f"/entries/{index}/position", "not_found", "This project has no such position.", "Look it up again."
                )


def _read(data: Any) -> RevisionModel:
    try:
        return RevisionModel.model_validate(data)
    except ValidationError as error:
        errors = [
            FieldError(pointer=p.pointer, code="invalid", detail=p.reason, value=p.value, remedy=p.remedy)
            for p in problems_of(error, data)
        ]
        raise Problem(400, "invalid", "The request has faults", errors[0]["detail"], errors=errors) from error


def fields_of(design: DesignModel) -> dict[str, Any]:
    """Only the fields that were named, nulls among them."""
    held = design.model_dump(mode="json", exclude_unset=True)
    return {
        group: {
            name: {k: v for k, v in values.items() if k != "sources"} for name, values in held.get(group, {}).items()
        }
        for group in GROUPS
        if group in held
    }


def _show(revision: DesignRevision) -> dict[str, Any]:
    return {
        "id": str(revision.pk),
        "number": revision.number,
        "dated": revision.dated,
        "source": revision.source,
        "title": revision.title,
        "partial": revision.partial,
        "sha256": revision.blob_id,
    }
