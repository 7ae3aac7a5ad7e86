"""What a design may say beside ports and fans: outlets, rooms, exchangers, pressures, equipment. Each by its name.

Every field is optional: what no revision gives is *not given* and never fails.
"""

from typing import Annotated, Literal

from pydantic import Field, StringConstraints, ValidationInfo, field_validator, model_validator

from commissioning.catalogue.procedures import LIBRARY
from commissioning.catalogue.units import VOCABULARY
from commissioning.dossier import quantities as q
from commissioning.dossier.own_equipment import OWN_ID
from commissioning.dossier.own_procedures import OWN_CODE
from commissioning.dossier.tolerance_model import ToleranceModel

Text = Annotated[str, StringConstraints(max_length=400)]
Sources = dict[str, Text]
PortName = Literal["supply", "return", "outdoor", "exhaust"]
Fraction = Annotated[q.Number, Field(ge=0.0, le=1.0)]


class OutletDesignModel(q.Closed):
    """A grille or diffuser, by its number on the drawing."""

    port: PortName | None = None
    branch: Text | None = None
    room: Text | None = None
    device: Text | None = None
    airflow: q.Airflow | None = None
    basis: Literal["standard", "actual", "not_stated"] | None = None
    tolerance: ToleranceModel | None = None
    sources: Sources = {}


class RoomDesignModel(q.Closed):
    """A room or space: the relation of its supply to its exhaust, and its pressure against its neighbour."""

    relation: Literal["positive", "negative", "neutral"] | None = None
    offset: q.Airflow | None = None  # the least difference between supply and exhaust, in the sense of the relation
    tolerance: ToleranceModel | None = None  # of the room's total
    pressure: q.Pressure | None = None  # the least difference to the neighbour, in the sense of the relation
    neighbour: Text | None = None
    occupants: Annotated[q.Number, Field(ge=0.0, le=1e5)] | None = None  # these five: a designer's check of ventilation
    floor_area: q.Area | None = None
    people_rate: q.AirflowPerPerson | None = None  # outdoor air for each of the occupants
    area_rate: q.AirflowPerArea | None = None
    distribution_effectiveness: Annotated[q.Number, Field(ge=0.5, le=1.5)] | None = None
    sources: Sources = {}


class ResetModel(q.Closed):
    """A port's airflow over CO2: level below the lower, straight to the upper, level above. On the port's air basis."""

    low_co2: q.MoleFraction
    high_co2: q.MoleFraction
    airflow_at_low: q.Airflow
    airflow_at_high: q.Airflow
    clause: Text = ""

    @model_validator(mode="after")
    def _ends_apart(self) -> "ResetModel":
        if q.si(self.high_co2) < q.si(self.low_co2) + 1e-6:
            raise ValueError("the upper CO2 of a reset line lies above the lower")
        return self


class RatingModel(q.Closed):
    """A rated point of an exchanger: its flows, at standard air, and effectivenesses."""

    season: Literal["heating", "cooling", "any"] = "any"
    supply_airflow: q.Airflow
    exhaust_airflow: q.Airflow | None = None
    sensible: Fraction | None = None
    latent: Fraction | None = None
    total: Fraction | None = None


class CriterionModel(q.Closed):
    """A least effectiveness that the contract makes a criterion, at the measured flows or at rated ones.

    At rated flows it is carried to the measured ones by what the ratings let expect there.
    """

    quantity: Literal["sensible", "latent", "total"]
    minimum: Fraction
    at: Literal["measured_flows", "rated_flows"] = "measured_flows"
    clause: Text = ""


class ExchangerDesignModel(q.Closed):
    """An exchanger, by its name ("core" where there is one)."""

    kind: Literal["counterflow", "crossflow", "wheel", "run_around", "heat_pipe", "other"] | None = None
    ratings: Annotated[list[RatingModel], Field(max_length=12)] | None = None
    criteria: Annotated[list[CriterionModel], Field(max_length=6)] | None = None
    wheel_speed: q.Speed | None = None
    wheel_speed_tolerance: ToleranceModel | None = None
    transfer_ratio_maximum: Fraction | None = None  # EATR
    rows: Annotated[int, Field(ge=1, le=40)] | None = None  # of heat pipes, in the direction of the air
    sources: Sources = {}


PressureName = Literal[
    "external",
    "external_supply",
    "external_exhaust",
    "filter_drop",
    "filter_drop_supply",
    "filter_drop_exhaust",
    "core_drop",
    "core_drop_supply",
    "core_drop_exhaust",
    "coil_drop",
    "coil_drop_supply",
    "coil_drop_exhaust",
    "controlled_static",
    "controlled_static_supply",
    "controlled_static_exhaust",
]


class PressureDesignModel(q.Closed):
    """A pressure or a pressure drop, by what it is and the stream; without a stream it holds for both.

    Drops are of clean and dry parts, at the stream's design airflow unless `airflow` says another one, and go with its
    power `exponent`. For a controlled static pressure, `pressure` is the setpoint and `tolerance` lies about it.
    """

    pressure: q.Pressure | None = None
    tolerance: ToleranceModel | None = None
    final: q.Pressure | None = None  # the drop at which a filter is changed
    airflow: q.Airflow | None = None
    exponent: Annotated[q.Number, Field(ge=1.0, le=2.0)] | None = None
    sources: Sources = {}


class EquipmentDesignModel(q.Closed):
    """What the unit has: options and field sensors as `catalogue/units.toml` codes them, and how it is ducted.

    They decide which checks and tests apply. Its motors stand with its fans. `tests` are the functional tests that
    the contract asks for, by code, or `all_that_apply`. Codes of a firm's own are those of `own_checks` in the
    conventions; `own_kind` is the firm's kind of unit, like the unit's kind.
    """

    options: Annotated[list[Text], Field(max_length=60)] | None = None
    field_sensors: Annotated[list[Text], Field(max_length=60)] | None = None
    ducted: Literal["stand_alone", "to_air_handler"] | None = None
    tests: Annotated[list[Text], Field(max_length=60)] | None = None
    own_kind: Annotated[str, StringConstraints(pattern=f"^{OWN_ID.pattern}$", max_length=50)] | None = None
    sources: Sources = {}

    @field_validator("options", "field_sensors", "tests")
    @classmethod
    def _are_known(cls, given: list[str] | None, info: ValidationInfo) -> list[str] | None:
        known = {"options": VOCABULARY.options, "field_sensors": VOCABULARY.sensors, "tests": LIBRARY.listable}
        words = known[info.field_name or ""]
        is_own = (OWN_CODE if info.field_name == "tests" else OWN_ID).fullmatch
        strange = [code for code in given or () if code not in words and not is_own(code)]
        if strange:
            raise ValueError(f"{', '.join(strange)} is not known; known are {', '.join(words)}")
        return given
