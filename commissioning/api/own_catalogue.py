"""What a firm has of its own, checks and procedures, over HTTP: the version that holds, a look at a next one, keeping.

The body is the document as it is, TOML (procedures: or JSON). A next version names the one it follows, by If-Match.
"""

import uuid
from typing import Any

from django.db import transaction
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.parsers import BaseParser
from rest_framework.request import Request
from rest_framework.response import Response

from commissioning.api.settings_mappings import refused
from commissioning.dossier.own_procedures_compared import compared
from commissioning.evidence import own_checks, own_procedures
from commissioning.evidence.own_checks import ChecksRefused
from commissioning.evidence.own_procedures import ProceduresRefused
from commissioning.models import OwnChecks, OwnProcedures
from portfolio.door import conditional
from portfolio.door.bodies import body_of
from portfolio.door.field_errors import FieldError
from portfolio.door.paging import filters_of
from portfolio.door.problems import Problem
from portfolio.door.views import DoorView
from portfolio.models import Firm

Row = OwnChecks | OwnProcedures
_TITLE = "This version is not kept"
_IF_MATCH = OpenApiParameter(
    "If-Match", str, OpenApiParameter.HEADER, description="the version that it follows; 0: none"
)
_LOOK = OpenApiParameter("look", str, enum=["yes"], description="only read: nothing is kept, and If-Match is not asked")
_BODY = {"application/octet-stream": OpenApiTypes.BINARY}


class _AsItCame(BaseParser):
    media_type = "*/*"


def _is_look(request: Request) -> bool:
    return filters_of(request, "look").get("look") == "yes"


def _told(firm: Firm, row: Row | None) -> Response:
    """The version that holds; 0, and nothing, where the firm never kept one."""
    held = {
        "firm": str(firm.pk),
        "version": row.version if row else 0,
        "text": row.text if row else "",
        "document": row.document if row else {},
        "made_at": row.made_at if row else None,
        "made_by": str(row.made_by_id) if row else None,
    }
    return Response(held, headers={"ETag": conditional.etag(held["version"])})


def _text(request: Request, most: int) -> str:
    raw = body_of(request, limit_bytes=4 * most)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        told = f"This is no text in UTF-8: byte {error.start}."
        fault = FieldError(pointer="", code="invalid", detail=told, value="", remedy="Save it as UTF-8.")
        raise Problem(400, "invalid", _TITLE, "1 fault; nothing was kept.", errors=[fault]) from None
    return text


class _OwnView(DoorView):
    parser_classes = [_AsItCame]

    model: type[Row]

    def _newest(self, firm: Firm) -> Row | None:
        return self.model.objects.newest_of(firm)

    def _locked(self, request: Request, firm: Firm) -> None:
        """Inside the transaction that keeps: nobody keeps another version meanwhile."""
        Firm.objects.select_for_update().get(pk=firm.pk)
        row = self._newest(firm)
        version = row.version if row else 0
        conditional.require_match(request, version, {"version": version})


class OwnChecksView(_OwnView):
    model = OwnChecks
    verbs = {"GET": "see", "PUT": "keep_checks"}

    @extend_schema(
        operation_id="own_checks",
        summary="A firm's own checks before a test, as they hold",
        responses={200: OpenApiTypes.OBJECT},
    )
    def get(self, request: Request, pk: uuid.UUID) -> Response:
        firm = self.visible(Firm.objects, pk)
        return _told(firm, self._newest(firm))

    @extend_schema(
        operation_id="keep_own_checks",
        summary="Keep the next version of a firm's own checks, or look at it first",
        request=_BODY,
        responses={200: OpenApiTypes.OBJECT},
        parameters=[_IF_MATCH, _LOOK],
    )
    def put(self, request: Request, pk: uuid.UUID) -> Response:
        firm = self.visible(Firm.objects, pk)
        text = _text(request, own_checks.MOST_CHARACTERS)
        try:
            if _is_look(request):
                return Response({"document": own_checks.read_for(firm, text)})
            with transaction.atomic():
                self._locked(request, firm)
                row = own_checks.keep(firm=firm, person=self.person, text=text, request=request)
        except ChecksRefused as no:
            raise refused(_TITLE, no.problems) from no
        return _told(firm, row)


class OwnProceduresView(_OwnView):
    model = OwnProcedures
    verbs = {"GET": "see", "PUT": "keep_procedures"}

    @extend_schema(
        operation_id="own_procedures",
        summary="A firm's own functional procedures, as they hold",
        responses={200: OpenApiTypes.OBJECT},
    )
    def get(self, request: Request, pk: uuid.UUID) -> Response:
        firm = self.visible(Firm.objects, pk)
        return _told(firm, self._newest(firm))

    @extend_schema(
        operation_id="keep_own_procedures",
        summary="Keep the next version of a firm's own functional procedures, or look at it first",
        description="`changes` of a look says of each procedure or step whether it is added, changed or reworded.",
        request=_BODY,
        responses={200: OpenApiTypes.OBJECT},
        parameters=[_IF_MATCH, _LOOK],
    )
    def put(self, request: Request, pk: uuid.UUID) -> Response:
        firm = self.visible(Firm.objects, pk)
        text = _text(request, own_procedures.MOST_CHARACTERS)
        try:
            if _is_look(request):
                return self._looked(firm, own_procedures.read_for(firm, text))
            with transaction.atomic():
                self._locked(request, firm)
                row = own_procedures.keep(firm=firm, person=self.person, text=text, request=request)
        except ProceduresRefused as no:
            raise refused(_TITLE, no.problems) from no
        return _told(firm, row)

    def _looked(self, firm: Firm, document: dict[str, Any]) -> Response:
        rows = compared(own_procedures.newest_of(firm), document)
        names = ("name", "is", "words")
        return Response({"document": document, "changes": [dict(zip(names, row, strict=True)) for row in rows]})
