"""A photo of a record or an issue that one sees: the copy for looking at, never the original with its metadata."""

from django.http import Http404, HttpRequest
from django.http.response import HttpResponseBase

from commissioning.issues import photos
from portfolio.blobs.photos import view_copy
from portfolio.dashboards.page import Page
from portfolio.door.files import serve


class PhotoPage(Page):
    def get(self, request: HttpRequest, sha256: str) -> HttpResponseBase:
        blob = photos.seen_by(self.person, sha256)
        if blob is None:
            raise Http404
        return serve(view_copy(blob), name=f"{sha256[:12]}.jpg", inline=True)
