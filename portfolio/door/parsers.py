"""The only parser of the API: strict JSON, so that what is kept is what was sent."""

from collections.abc import Mapping
from typing import Any

from rest_framework.parsers import BaseParser

from commissioning.dossier import strict_json
from portfolio.door.bodies import body_of
from portfolio.door.field_errors import FieldError
from portfolio.door.problems import Problem


class StrictJSONParser(BaseParser):
    media_type = "application/json"

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Mapping[str, Any] | None = None) -> Any:
        assert parser_context is not None
        return parse_json(body_of(parser_context["request"], limit_bytes=strict_json.MOST_BYTES))


def parse_json(raw: bytes) -> Any:
    """What the bytes say, or 400 with the place, the value, the reason and the remedy."""
    try:
        return strict_json.parse(raw)
    except strict_json.StrictError as fault:
        error = FieldError(
            pointer=fault.pointer, code="unreadable", detail=fault.reason, value=fault.value, remedy=fault.remedy
        )
        raise Problem(400, "unreadable", "This is not read as JSON", str(fault), errors=[error]) from fault
