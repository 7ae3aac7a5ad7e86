"""A photo read back: of a record or an issue that one sees, as the copy for looking at."""

from django.http.response import HttpResponseBase
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request

from commissioning.issues import photos
from portfolio.blobs.photos import view_copy
from portfolio.door.files import serve
from portfolio.door.problems import not_found
from portfolio.door.views import DoorView


class PhotoCopyView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(
        operation_id="photo_copy",
        summary="A photo to look at",
        description="Upright, at most 2,000 pixels wide or high, without the metadata of the original.",
        responses={(200, "image/jpeg"): OpenApiTypes.BINARY},
    )
    def get(self, request: Request, sha256: str) -> HttpResponseBase:
        self._asked = True
        blob = photos.seen_by(self.person, sha256)
        if blob is None:
            raise not_found()
        return serve(view_copy(blob), name=f"{sha256[:12]}.jpg", inline=True)
