"""Units found by what their controllers are set to."""

from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from commissioning.engineering import units
from commissioning.verdicts import settings_search
from commissioning.verdicts.settings_search import HOWS, NotAsked, Question, question
from portfolio.door.field_errors import FieldError
from portfolio.door.paging import filters_of, page_of
from portfolio.door.problems import invalid
from portfolio.door.views import DoorView

_KEYS = ("setting", "is", "value", "unit")


class SettingsSearchView(DoorView):
    verbs = {"GET": "see"}

    @extend_schema(
        operation_id="settings_search",
        summary="Units by what their controllers are set to",
        description=(
            "Of each unit that you may see the newest settings as left, else the newest. Quantities are equal within a "
            "thousandth. Values come in SI."
        ),
        parameters=[
            OpenApiParameter("setting", str, required=True, description="a name of docs/schemas/payload-settings.json"),
            OpenApiParameter("is", str, required=True, enum=list(HOWS)),
            OpenApiParameter("value", str, description="a number, a word of a choice, yes or no"),
            OpenApiParameter("unit", str, description="of the value, where the setting has one"),
        ],
        responses={200: OpenApiTypes.OBJECT},
    )
    def get(self, request: Request) -> Response:
        self._asked = True  # `found` looks at what the person may see only
        sent = filters_of(request, *_KEYS)
        try:
            asked = question(*(sent.get(key, "") for key in _KEYS))
        except NotAsked as no:
            error = FieldError(
                pointer=f"?{no.name}", code="invalid", detail=no.reason, value=no.value, remedy=no.remedy
            )
            raise invalid([error]) from no
        rows = settings_search.found(self.person, asked).select_related("position")
        order = ("position__tag", "position_id")
        return Response(page_of(request, rows, order=order, show=lambda row: _show(row, asked), filters=_KEYS))


def _show(row: Any, asked: Question) -> dict[str, Any]:
    quantity = asked.setting.quantity
    held = settings_search.held(row, asked.setting)
    return {
        "position": str(row.position_id),
        "tag": row.position.tag,
        "setting": asked.setting.code,
        "value": {"value": held, "unit": units.SI_CODES[quantity]} if quantity and held is not None else held,
        "moment": row.moment,
        "observed_at": row.observed_at,
        "record": str(row.envelope),
    }
