"""Photos arrive by their hash, before or after the record that names them."""

import hashlib

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema, inline_serializer
from rest_framework import serializers
from rest_framework.parsers import BaseParser
from rest_framework.request import Request
from rest_framework.response import Response

from portfolio.access import Forbidden, may_somewhere
from portfolio.api.writes import note
from portfolio.blobs.photos import MAX_BYTES, PhotoRefused, accept_photo
from portfolio.door.bodies import body_of
from portfolio.door.problems import Problem
from portfolio.door.views import DoorView

_OUT = inline_serializer("Photo", {"sha256": serializers.CharField(), "size": serializers.IntegerField()})


class PhotoView(DoorView):
    verbs = {"PUT": "attach_photo"}
    parser_classes: list[type[BaseParser]] = []

    @extend_schema(request={"image/jpeg": OpenApiTypes.BINARY, "image/png": OpenApiTypes.BINARY}, responses={200: _OUT})
    def put(self, request: Request, sha256: str) -> Response:
        """Send a photo (JPEG or PNG) under the SHA-256 of its bytes. Sending it again changes nothing."""
        answer = may_somewhere(self.person, self.verb)
        self._asked = True
        if not answer:
            raise Forbidden(getattr(answer, "reason", ""))
        body = body_of(request, limit_bytes=MAX_BYTES)
        if hashlib.sha256(body).hexdigest() != sha256:
            raise Problem(
                400, "digest_mismatch", "The body is not what was sent", "Its SHA-256 differs. Send it again."
            )
        try:
            blob = accept_photo(body)
        except PhotoRefused as refused:
            raise Problem(400, refused.code, "This is not taken as a photo", refused.reason) from refused
        note(self, blob)
        return Response({"sha256": blob.sha256, "size": blob.size})
