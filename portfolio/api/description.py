"""The API's own description, as the server publishes it."""

from functools import cache
from typing import Any

from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from portfolio.door.views import DoorView


def describe() -> dict[str, Any]:
    document: dict[str, Any] = SchemaGenerator().get_schema(request=None, public=True)  # type: ignore[no-untyped-call]
    return document


@cache
def published() -> dict[str, Any]:
    """Made once for a process, whose routes stay as they are: anybody may ask, and making it takes most of a second."""
    return describe()


class DescriptionView(DoorView):
    verbs = {"GET": "see"}
    public = True

    @extend_schema(exclude=True)
    def get(self, request: Request) -> Response:
        """OpenAPI 3.1."""
        return Response(published())
