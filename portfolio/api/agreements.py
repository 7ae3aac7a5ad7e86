"""What a project has agreed on and what an instrument promises, in the form in which judging reads them."""

from typing import Any

from rest_framework import serializers

from commissioning.engineering import units
from portfolio.door.fields import Number, Quantity, Strict, Text

_ACCURACY_QUANTITIES = (
    "pressure",
    "velocity",
    "airflow",
    "temperature",
    "ratio",
    "rotational speed",
    "current",
    "voltage",
    "power",
)

_LARGEST = 1_000_000.0  # no instrument is as far out, whatever it reads

SIGNING = ["mechanical", "electrical", "controls", "fire_alarm", "general"]


class Tolerance(Strict):
    """Limits as fractions of the design value: ``-0.1`` is ten per cent below. Null is a side without a limit."""

    low = Number(min_value=-1, max_value=0, allow_null=True)
    high = Number(min_value=0, max_value=10, allow_null=True)
    clause = Text(max_length=200, allow_blank=True)
    rounding = serializers.ChoiceField(choices=["none", "percent_1"], default="none")


class BuildingRelation(Strict):
    """What a building's supply less its exhaust shall come to; without a name, every building that none names."""

    building = Text(max_length=200, allow_blank=True, default="")
    relation = serializers.ChoiceField(choices=["positive", "negative", "neutral"])
    offset = Quantity("airflow", low=0, high=500, keep=True, allow_null=True, default=None)
    clause = Text(max_length=200, allow_blank=True, default="")


class Conventions(Strict):
    """Everything has a usual value, so that a project can be judged from its first day; what is sent replaces it."""

    decision_rule = serializers.ChoiceField(
        choices=["simple", "guarded_acceptance", "guarded_rejection"], default="simple"
    )
    guard_multiplier = Number(min_value=0, max_value=3, default=1.0)
    coverage_probability = Number(min_value=0.5, max_value=0.999, default=0.95)
    standard_density = Quantity("density", low=0.8, high=1.5, keep=True, default={"value": 0.075, "unit": "lb/ft3"})
    inch_of_water = serializers.ChoiceField(choices=["4degC", "60degF", "20degC"], default="4degC")
    basis_when_not_stated = serializers.ChoiceField(choices=["standard", "actual"], default="standard")
    default_tolerance = Tolerance(
        default={
            "low": -0.1,
            "high": 0.1,
            "clause": "no clause given: ten per cent, common practice",
            "rounding": "none",
        }
    )
    mass_balance_allowance = Number(min_value=0, max_value=1, default=0.10)
    display = serializers.ChoiceField(choices=["ip", "si"], default="ip")
    building_relations = BuildingRelation(many=True, required=False, max_length=500)  # type: ignore[call-arg]
    signoffs_required = serializers.ListField(child=serializers.ChoiceField(choices=SIGNING), required=False)


class ConventionsOut(Conventions):
    version = serializers.IntegerField()
    made_at = serializers.DateTimeField()


class AnyQuantity(Quantity):
    """A quantity of any kind that an instrument can have."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__("pressure", keep=True, **kwargs)

    def _si(self, value: float, code: Any) -> float:
        known = isinstance(code, str) and code in {c for q in _ACCURACY_QUANTITIES for c in units.codes_of(q)}
        if known and units.quantity_of(code) in _ACCURACY_QUANTITIES:
            if not 0.0 <= value <= _LARGEST:
                told = f"This is outside 0 to {_LARGEST:,.0f}. | Check the value and its unit."
                raise serializers.ValidationError({"value": [serializers.ErrorDetail(told, "out_of_range")]})
            return value
        detail = serializers.ErrorDetail("This is no unit that an instrument reads in.", "unknown_unit")
        raise serializers.ValidationError({"unit": [detail]})


class Accuracy(Strict):
    """``relative`` of the reading and ``absolute``, added; the shape says what the maker's figure means."""

    relative = Number(min_value=0, max_value=1)
    absolute = AnyQuantity(allow_null=True, default=None)
    shape = serializers.ChoiceField(choices=["rectangular", "normal_k2"], default="rectangular")


class InstrumentIn(Strict):
    name = Text(max_length=200)
    kind = Text(max_length=60)
    serial = Text(max_length=100)
    accuracy = Accuracy()
    resolution = AnyQuantity(allow_null=True, default=None)


class InstrumentOut(InstrumentIn):
    id = serializers.UUIDField()
    firm = serializers.UUIDField(source="firm_id")


def usual_conventions(sent: dict[str, Any] | None = None) -> dict[str, Any]:
    """`sent` with the usual values for what it does not name."""
    reader = Conventions(data=sent or {})
    reader.is_valid(raise_exception=True)
    return plain(reader.validated_data)


def plain(values: dict[str, Any]) -> dict[str, Any]:
    """Plain dictionaries, as JSON columns hold them."""
    return {str(key): _plain(value) for key, value in values.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return plain(value)
    return [_plain(one) for one in value] if isinstance(value, list) else value
