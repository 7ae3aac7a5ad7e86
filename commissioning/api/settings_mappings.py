"""A firm's mappings of controllers over HTTP, and a controller's file looked at through one."""

import uuid
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.parsers import BaseParser
from rest_framework.request import Request
from rest_framework.response import Response

from commissioning.dossier.problem import Problem as Fault
from commissioning.dossier.settings import exports, mapping
from commissioning.dossier.settings.applying import Imported, Understood, as_text
from commissioning.dossier.settings.mapping import MappingRefused
from commissioning.evidence import mappings
from commissioning.models import MappingVersion
from portfolio.api.writes import wrong
from portfolio.door.bodies import body_of
from portfolio.door.field_errors import FieldError
from portfolio.door.paging import filters_of, page_of
from portfolio.door.problems import Problem, not_found
from portfolio.door.views import DoorView
from portfolio.models import Firm, Position


class _AsItCame(BaseParser):
    media_type = "*/*"


def refused(title: str, faults: list[Fault]) -> Problem:
    errors = [
        FieldError(pointer=one.pointer, code="invalid", detail=one.reason, value=one.value, remedy=one.remedy)
        for one in faults
    ]
    return Problem(400, "invalid", title, f"{len(errors)} faults; nothing was kept.", errors=errors)


def brief(row: MappingVersion) -> dict[str, Any]:
    return {
        "id": str(row.pk),
        "firm": str(row.firm_id),
        "family": row.family,
        "version": row.version,
        "sha256": row.sha256,
        "made_at": row.made_at,
        "made_by": str(row.made_by_id),
    }


class MappingsView(DoorView):
    verbs = {"GET": "see", "POST": "keep_mappings"}
    parser_classes = [_AsItCame]

    @extend_schema(
        operation_id="settings_mappings",
        summary="A firm's mappings of controllers, all versions",
        responses={200: OpenApiTypes.OBJECT},
    )
    def get(self, request: Request, pk: uuid.UUID) -> Response:
        rows = self.seen(MappingVersion.objects).filter(firm=self.visible(Firm.objects, pk))
        return Response(page_of(request, rows, order=("family_key", "-version", "id"), show=brief))

    @extend_schema(
        operation_id="keep_settings_mapping",
        summary="Keep a version of a mapping",
        description="The body is the mapping as it is, TOML or JSON. The same bytes again are the same version.",
        request={"application/octet-stream": OpenApiTypes.BINARY},
        responses={201: OpenApiTypes.OBJECT},
    )
    def post(self, request: Request, pk: uuid.UUID) -> Response:
        firm = self.visible(Firm.objects, pk)
        raw = body_of(request, limit_bytes=mapping.MOST_BYTES)
        try:
            row, is_new = mappings.keep_mapping(firm=firm, person=self.person, raw=raw, request=request)
        except MappingRefused as no:
            raise refused("This mapping cannot be used", no.problems) from no
        return Response(brief(row), status=201 if is_new else 200)


class MappingView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(
        operation_id="settings_mapping",
        summary="A version of a mapping, with its document as it was sent",
        responses={200: OpenApiTypes.OBJECT},
    )
    def get(self, request: Request, pk: uuid.UUID) -> Response:
        row = self.visible(MappingVersion.objects, pk)
        return Response(brief(row) | {"document": bytes(row.raw).decode()})


class LookView(DoorView):
    verbs = {"POST": "submit_evidence"}
    parser_classes = [_AsItCame]

    @extend_schema(
        operation_id="look_at_settings_file",
        summary="A controller's file as settings, through a mapping",
        description=(
            "The body is the file as it is, CSV or JSON. The answer tells what each name was understood as, and in "
            "`payload` what a settings envelope says of it; that is then submitted like any other. With `keep=yes` "
            "the file is kept by its hash, unless there is a fault."
        ),
        request={"application/octet-stream": OpenApiTypes.BINARY},
        parameters=[
            OpenApiParameter("mapping", str, required=True, description="id of a version"),
            OpenApiParameter("name", str, description="of the file"),
            OpenApiParameter("keep", str, enum=["yes"]),
        ],
        responses={200: OpenApiTypes.OBJECT},
    )
    def post(self, request: Request, pk: uuid.UUID) -> Response:
        position = self.visible(Position.objects.select_related("building__site__project"), pk)
        sent = filters_of(request, "mapping", "name", "keep")
        row = self._mapping(sent.get("mapping", ""), position)
        raw = body_of(request, limit_bytes=exports.MOST_BYTES)
        try:
            imported = mappings.look(row, raw)
        except MappingRefused as no:
            raise refused("This mapping cannot be used any more", no.problems) from no
        if imported.problems:
            raise refused("This file is not taken", list(imported.problems))
        if sent.get("keep") == "yes":
            mappings.keep_file(raw)
        payload = mappings.readings_of(imported, file=sent.get("name", "").strip(), raw=raw)
        return Response(told(imported) | {"payload": payload})

    def _mapping(self, text: str, position: Position) -> MappingVersion:
        try:
            wanted = uuid.UUID(text)
        except ValueError:
            raise wrong("?mapping", "invalid", "No mapping is named.", "Send the id of a version.") from None
        rows = self.seen(MappingVersion.objects).filter(firm=position.building.site.project.firm_id)
        row = rows.filter(pk=wanted).first()
        if row is None:
            raise not_found()
        return row


def told(imported: Imported) -> dict[str, Any]:
    return {
        "names": [_name(one) for one in imported.lines],
        "absent": [{"name": one.source, "setting": one.setting.code} for one in imported.absent],
        "columns_not_read": list(imported.columns_not_read),
    }


def _name(one: Understood) -> dict[str, Any]:
    return {
        "name": one.given.source,
        "where": one.given.where,
        "given": as_text(one.given.value),
        "unit": one.given.unit,
        "became": one.became,
        "setting": one.code or None,
        "value": one.value,
    }
