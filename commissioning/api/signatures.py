"""Signing for a unit over HTTP: what would be signed now, and the act, for exactly that and nothing else."""

import uuid
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from commissioning.signatures.actions import CannotSign, OfUnit, SeenOtherwise, Signable, Told, of_unit, sign
from portfolio.access import may
from portfolio.api.writes import read
from portfolio.door import conditional
from portfolio.door.fields import Strict, Text
from portfolio.door.problems import Problem
from portfolio.door.views import DoorView
from portfolio.models import Position


class SignatureForm(Strict):
    note = Text(max_length=500, required=False, default="", allow_blank=True)


def _show(one: Told) -> dict[str, Any]:
    return {
        "number": one.number,
        "signed_by": str(one.person),
        "signed_at": one.at,
        "sha256": one.sha256,
        "note": one.note,
        "stands": one.stands,
        "state": one.state,
    }


def _whole(unit: Position, found: OfUnit, *, may_sign: bool) -> dict[str, Any]:
    now = found.signable
    return {
        "position": str(unit.pk),
        "tag": unit.tag,
        "signatures": [_show(one) for one in found.told],
        "signable": _signable(now) if may_sign and now.sha256 else None,
    }


def _signable(now: Signable) -> dict[str, Any]:
    return {"sha256": now.sha256, "statement": now.statement}


class SignaturesView(DoorView):
    verbs = {"GET": "see", "POST": "sign_unit"}

    @extend_schema(
        operation_id="signatures",
        summary="Who signed for a unit, whether it stands, and what can be signed now",
        description="`signable` is for who may sign: each judgement by its hash; its SHA-256 is the ETag.",
        responses={200: OpenApiTypes.OBJECT},
    )
    def get(self, request: Request, pk: uuid.UUID) -> Response:
        unit = self.visible(Position.objects, pk)
        found = of_unit(unit.pk)
        told = _whole(unit, found, may_sign=bool(may(self.person, "sign_unit", unit)))
        return Response(told, headers={"ETag": conditional.etag(found.signable.sha256)} if told["signable"] else {})

    @extend_schema(
        operation_id="sign_unit",
        summary="Sign for a unit, over exactly what If-Match names",
        description="Sent again it is the same signature. 412 if the verdicts are others by now; then look again.",
        request=SignatureForm,
        responses={201: OpenApiTypes.OBJECT},
        parameters=[OpenApiParameter("If-Match", str, OpenApiParameter.HEADER, required=True)],
    )
    def post(self, request: Request, pk: uuid.UUID) -> Response:
        unit = self.visible(Position.objects, pk)
        values = read(SignatureForm, request)
        of = conditional.named(request, of_unit(unit.pk).signable.sha256).strip('"')
        try:
            made = sign(position=unit, person=self.person, of=of, note=values["note"], request=request)
        except SeenOtherwise as late:
            raise conditional.stale(late.now.sha256, _signable(late.now)) from late
        except CannotSign as refused:
            raise Problem(409, "not_signed", "It is not signed", str(refused)) from refused
        (told,) = (one for one in of_unit(unit.pk).told if one.number == made.number)
        return Response(_show(told), status=201)
