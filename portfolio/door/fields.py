"""Serializer fields that take exactly what they say: no numbers for text, no dates without a day, no bare numbers.

A message may bring its remedy behind a bar; see `field_errors`.
"""

import datetime
import math
import unicodedata
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from commissioning.engineering import units

_TEXT_CONTROL = {"Cc", "Cs", "Co"}
_BIDI = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")


class Strict(serializers.Serializer[Any]):
    """Refuses what it does not know: a field that is silently passed over is a field that somebody relied on."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, dict):
            unknown = sorted(set(map(str, data)) - set(self.fields))
            if unknown:
                known = ", ".join(self.fields)
                raise serializers.ValidationError(
                    {
                        name: serializers.ErrorDetail(
                            f"There is no such field. | The fields are {known}.", "unknown_field"
                        )
                        for name in unknown
                    }
                )
        return super().to_internal_value(data)


class Text(serializers.CharField):
    """One line of text (`lines=True`: several). Control and direction-changing characters are refused."""

    default_error_messages = {
        "invalid": "This is not a text. | Send a JSON string.",
        "control": "There is a control character in it. | Remove it.",
    }

    def __init__(self, *, lines: bool = False, **kwargs: Any) -> None:
        self.lines = lines
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("invalid")
        allowed = "\n\t" if self.lines else ""
        for character in data:
            if character not in allowed and (unicodedata.category(character) in _TEXT_CONTROL or character in _BIDI):
                self.fail("control")
        return super().to_internal_value(data)


class Number(serializers.FloatField):
    """A JSON number: neither a text that looks like one, nor true."""

    def to_internal_value(self, data: Any) -> float:
        if isinstance(data, bool) or not isinstance(data, int | float) or not _finite(data):
            self.fail("invalid")
        return float(data)


class Whole(serializers.IntegerField):
    """A whole JSON number."""

    def to_internal_value(self, data: Any) -> int:
        if isinstance(data, bool) or not isinstance(data, int):
            self.fail("invalid")
        return data


class Id(serializers.UUIDField):
    def to_internal_value(self, data: Any) -> UUID:
        if not isinstance(data, str) or len(data) != 36:
            self.fail("invalid", value=data)
        found: UUID = super().to_internal_value(data)
        return found


class Day(serializers.DateField):
    def to_internal_value(self, value: Any) -> datetime.date:
        if not isinstance(value, str) or len(value) != 10:
            self.fail("invalid", format="YYYY-MM-DD")
        return super().to_internal_value(value)


@extend_schema_field({"type": "string", "format": "date-time", "description": "with its offset from UTC"})
class Instant(serializers.Field[datetime.datetime, str, str, Any]):
    """A moment with its offset; without one nobody knows when it was."""

    default_error_messages = {
        "invalid": "This is no moment. | Send like 2026-05-04T10:15:00-05:00.",
        "naive": "The offset from UTC is missing. | Send like 2026-05-04T10:15:00-05:00.",
    }

    def to_internal_value(self, data: str) -> datetime.datetime:
        try:
            moment = datetime.datetime.fromisoformat(data)
        except (TypeError, ValueError):
            self.fail("invalid")
        if moment.tzinfo is None:
            self.fail("naive")
        return moment

    def to_representation(self, value: datetime.datetime) -> str:
        return value.isoformat()


@extend_schema_field({"type": "string", "description": "an IANA time zone, such as America/Denver"})
class TimeZone(Text):
    def to_internal_value(self, data: Any) -> str:
        name = super().to_internal_value(data)
        try:
            ZoneInfo(name)
        except (KeyError, ValueError, OSError):
            raise serializers.ValidationError(
                "There is no such time zone. | Send an IANA name such as America/Denver.", "unknown_time_zone"
            ) from None
        return name


@extend_schema_field(
    {
        "type": "object",
        "properties": {"value": {"type": "number"}, "unit": {"type": "string"}},
        "required": ["value", "unit"],
        "additionalProperties": False,
    }
)
class Quantity(serializers.Field[Any, Any, Any, Any]):
    """``{"value": 1609, "unit": "m"}``: kept as sent (`keep=True`) or turned into SI.

    Shown in the unit of all formulas, so that what is read can be sent back.
    """

    def __init__(
        self, quantity: str, *, low: float = -math.inf, high: float = math.inf, keep: bool = False, **kwargs: Any
    ) -> None:
        self.quantity, self.low, self.high, self.keep = quantity, low, high, keep
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> Any:
        if not isinstance(data, dict) or set(data) != {"value", "unit"}:
            raise serializers.ValidationError(
                'This is no quantity. | Send like {"value": 1609, "unit": "m"}.', "not_a_quantity"
            )
        value, code = data["value"], data["unit"]
        if isinstance(value, bool) or not isinstance(value, int | float) or not _finite(value):
            raise serializers.ValidationError(
                {"value": [serializers.ErrorDetail("This is no number.", "not_a_number")]}
            )
        si = self._si(float(value), code)
        if not self.low <= si <= self.high:
            unit = units.SI_CODES[self.quantity]
            raise serializers.ValidationError(
                f"This is outside {self.low:g} to {self.high:g} {unit}. | Check the value and its unit.", "out_of_range"
            )
        return data if self.keep else si

    def _si(self, value: float, code: Any) -> float:
        fits = ", ".join(units.codes_of(self.quantity))
        try:
            if not isinstance(code, str) or units.quantity_of(code) != self.quantity:
                raise ValueError(code)
            return float(units.to_si(value, code))
        except ValueError:
            detail = serializers.ErrorDetail(
                f"This is no unit of {self.quantity}. | Send one of {fits}.", "unknown_unit"
            )
            raise serializers.ValidationError({"unit": [detail]}) from None

    def to_representation(self, value: Any) -> Any:
        return value if self.keep else {"value": value, "unit": units.SI_CODES[self.quantity]}


def _finite(value: int | float) -> bool:
    try:
        return math.isfinite(float(value))
    except OverflowError:
        return False
