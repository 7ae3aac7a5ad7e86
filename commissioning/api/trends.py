"""Trend logs over HTTP: an upload that goes on where it was cut off, a look, a mapping, and the records."""

import json
import uuid
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.parsers import BaseParser
from rest_framework.request import Request
from rest_framework.response import Response

from commissioning.api.settings_mappings import refused
from commissioning.api.submissions import problem_of
from commissioning.evidence.accept import Refused, Sender
from commissioning.evidence.trends import mapping, receiving, sending
from commissioning.evidence.trends.receiving import UploadRefused
from commissioning.models import LogMappingVersion, TrendUpload
from portfolio.api.writes import read
from portfolio.door.bodies import body_of
from portfolio.door.fields import Strict, Text
from portfolio.door.problems import Problem
from portfolio.door.views import DoorView
from portfolio.models import DeviceToken, Position

MOST_PIECE = 8 * 1024 * 1024


class _AsItCame(BaseParser):
    media_type = "*/*"


class UploadForm(Strict):
    """What the sender says of the file beforehand."""

    file_name = Text(max_length=255)
    bytes = serializers.IntegerField(min_value=1)
    sha256 = Text(max_length=64)


def told(upload: TrendUpload) -> dict[str, Any]:
    return {
        "id": str(upload.pk),
        "position": str(upload.position_id),
        "file_name": upload.file_name,
        "bytes": upload.size,
        "sha256": upload.sha256,
        "offset": upload.received,
        "state": upload.state,
        "fault": upload.fault,
        "mapping": mapping_told(upload.mapping) if upload.mapping else None,
        "seen": upload.seen or None,
        "result": upload.result or None,
    }


def mapping_told(row: LogMappingVersion) -> dict[str, Any]:
    return {
        "source": row.source,
        "version": row.version,
        "sha256": row.sha256,
        "made_at": row.made_at,
        "document": row.document,
    }


def _problem(no: UploadRefused) -> Problem:
    status = {"offset": 409, "finished": 409, "not_converted": 409, "accepted": 409, "too_many": 429}.get(no.code, 400)
    extra = {} if no.offset is None else {"offset": no.offset}
    return Problem(status, no.code, "The upload is not taken", f"{no.reason} {no.remedy}", extra=extra)


class UploadsView(DoorView):
    verbs = {"POST": "submit_evidence"}

    @extend_schema(
        operation_id="begin_trend_upload",
        summary="Begin the upload of a trend log",
        description="Its pieces are then sent by PATCH. A log may serve other units of the building too.",
        request=UploadForm,
        responses={201: OpenApiTypes.OBJECT},
    )
    def post(self, request: Request, pk: uuid.UUID) -> Response:
        position = self.visible(Position.objects, pk)
        given = read(UploadForm, request)
        declared = receiving.Declared(given["file_name"], given["bytes"], given["sha256"])
        try:
            upload = receiving.begin(position=position, person=self.person, declared=declared)
        except UploadRefused as no:
            raise _problem(no) from no
        return Response(told(upload), status=201)


class UploadView(DoorView):
    verbs = {"GET": "see", "PATCH": "submit_evidence"}
    parser_classes = [_AsItCame]

    @extend_schema(
        operation_id="trend_upload",
        summary="How far an upload is, what was seen in its file, and what came of it",
        responses={200: OpenApiTypes.OBJECT},
    )
    def get(self, request: Request, pk: uuid.UUID) -> Response:
        return Response(told(self.visible(TrendUpload.objects.select_related("mapping"), pk)))

    @extend_schema(
        operation_id="send_trend_piece",
        summary="The next piece of the file",
        description=(
            "The body is the piece as it is; `Upload-Offset` says where it begins and has to be the `offset` of the "
            "upload, else 409 tells it. After the last piece the whole is compared with the declared hash."
        ),
        request={"application/octet-stream": OpenApiTypes.BINARY},
        responses={200: OpenApiTypes.OBJECT},
        parameters=[OpenApiParameter("Upload-Offset", int, OpenApiParameter.HEADER, required=True)],
    )
    def patch(self, request: Request, pk: uuid.UUID) -> Response:
        upload = self.visible(TrendUpload.objects, pk)
        offset = request.META.get("HTTP_UPLOAD_OFFSET", "")
        if not (offset.isascii() and offset.isdigit() and len(offset) < 12):
            raise Problem(400, "offset_unreadable", "Upload-Offset is missing", "Send where the piece begins.")
        piece = body_of(request, limit_bytes=MOST_PIECE)
        try:
            return Response(told(receiving.take(upload.pk, offset=int(offset), piece=piece)))
        except UploadRefused as no:
            raise _problem(no) from no


class MappingView(DoorView):
    verbs = {"PUT": "submit_evidence"}

    @extend_schema(
        operation_id="map_trend_upload",
        summary="Say what the file's points are, and have it converted",
        description="The body is a mapping (docs/trends.md); it is kept as the next version of its source.",
        request=OpenApiTypes.OBJECT,
        responses={200: OpenApiTypes.OBJECT},
    )
    def put(self, request: Request, pk: uuid.UUID) -> Response:
        upload = self.visible(TrendUpload.objects.select_related("position__building"), pk)
        try:
            row = mapping.apply(upload, mapping.read_mapping(request.data), self.person, request=request)
        except mapping.MappingFaulty as no:
            raise refused("This mapping cannot be used", no.problems) from no
        return Response(mapping_told(row))


class AcceptanceView(DoorView):
    verbs = {"POST": "submit_evidence"}

    @extend_schema(
        operation_id="accept_trend_upload",
        summary="Accept a converted log: a record for each unit that it serves",
        description="The same again brings the same receipts.",
        request=None,
        responses={201: OpenApiTypes.OBJECT},
    )
    def post(self, request: Request, pk: uuid.UUID) -> Response:
        upload = self.visible(TrendUpload.objects.select_related("position", "mapping"), pk)
        token = request.auth if isinstance(request.auth, DeviceToken) else None
        sender = Sender(self.person, token, request.META.get("ventfolio.request_id", ""))
        try:
            sent = sending.send(upload, sender)
        except UploadRefused as no:
            raise _problem(no) from no
        receipts = []
        for one in sent:
            if isinstance(one.outcome, Refused):
                raise problem_of(one.outcome)
            receipts.append({"unit": one.position.tag, "receipt": json.loads(one.outcome.receipt)})
        return Response({"records": receipts}, status=201)
