"""What may stand in a judging document, field by field: refused where it is not named, and published as a schema."""

from typing import Annotated, Any, Literal
from uuid import UUID
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import AfterValidator, Field, StringConstraints, model_validator

from commissioning.dossier import quantities as q
from commissioning.dossier.design_parts import (
    EquipmentDesignModel,
    ExchangerDesignModel,
    OutletDesignModel,
    PressureDesignModel,
    PressureName,
    ResetModel,
    RoomDesignModel,
)
from commissioning.dossier.own_checks import OwnChecksModel
from commissioning.dossier.own_procedures import OwnProceduresModel
from commissioning.dossier.room_parts import MOST as MOST_PARTS
from commissioning.dossier.room_parts import RoomPartModel
from commissioning.dossier.sampled_tests import MOST as MOST_SAMPLED
from commissioning.dossier.sampled_tests import SampledTestModel
from commissioning.dossier.settings.neighbours import MOST, NeighbourModel
from commissioning.dossier.sisters import MOST as MOST_SISTERS
from commissioning.dossier.sisters import SisterModel
from commissioning.dossier.tolerance_model import ToleranceModel
from commissioning.dossier.trend_logs import MOST_LOGS, TrendModel

SCHEMA = "ventfolio/judge/1"

Text = Annotated[str, StringConstraints(max_length=400)]
Name = Annotated[str, StringConstraints(min_length=1, max_length=200)]
Fraction = Annotated[q.Number, Field(ge=0.0, le=1.0)]
Id = Annotated[UUID, Field(strict=False)]
PortName = Literal["supply", "return", "outdoor", "exhaust"]
SigningTrade = Literal["mechanical", "electrical", "controls", "fire_alarm", "general"]
FanName = Literal["supply", "exhaust"]
Sources = dict[str, Text]
ServiceFactor = Annotated[q.Number, Field(ge=1.0, le=1.5)]
Efficiency = Annotated[q.Number, Field(ge=0.1, le=1.0)]


def _zone(name: str) -> str:
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError("this is not a time zone, like America/Denver") from None
    return name


class BuildingRelationModel(q.Closed):
    """What a building's supply and exhaust shall come to: the sign, and the least difference in its sense.

    Without a name it holds for every building that none names. Judging a unit does not look at it.
    """

    building: Text = ""
    relation: Literal["positive", "negative", "neutral"]
    offset: q.Airflow | None = None
    clause: Text = ""


class ConventionsModel(q.Closed):
    version: Annotated[int, Field(ge=1)] = 1
    decision_rule: Literal["simple", "guarded_acceptance", "guarded_rejection"] = "simple"
    guard_multiplier: Annotated[q.Number, Field(ge=0.0, le=5.0)] = 1.0
    coverage_probability: Annotated[q.Number, Field(ge=0.5, le=0.9999)] = 0.95
    standard_density: q.Density
    inch_of_water: Literal["4degC", "60degF", "20degC"] = "4degC"
    basis_when_not_stated: Literal["standard", "actual"]
    default_tolerance: ToleranceModel
    mass_balance_allowance: Annotated[q.Number, Field(gt=0.0, le=1.0)] = 0.1
    display: Literal["ip", "si"] = "si"
    building_relations: Annotated[list[BuildingRelationModel], Field(max_length=500)] = []
    signoffs_required: Annotated[list[SigningTrade], Field(max_length=10)] = []  # on the checklist of a unit
    own_checks: OwnChecksModel | None = None  # of the firm
    own_procedures: OwnProceduresModel | None = None  # likewise


class AccuracyModel(q.Closed):
    """Half-width = relative × reading + absolute."""

    relative: Fraction | None = None
    absolute: q.Quantity | None = None
    shape: Literal["rectangular", "normal_k2"] = "rectangular"

    @model_validator(mode="after")
    def _known_unit(self) -> "AccuracyModel":
        if self.absolute is not None:
            q.check_promise(self.absolute)
        return self


class CalibrationModel(q.Closed):
    certificate: Name
    on: q.Day
    due: q.Day
    as_found: Literal["within", "outside", "not_stated"] = "not_stated"


class InstrumentModel(q.Closed):
    id: Id
    name: Name
    serial: Text
    kind: Text
    accuracy: AccuracyModel
    resolution: q.Quantity | None = None
    calibrations: Annotated[list[CalibrationModel], Field(max_length=200)] = []

    @model_validator(mode="after")
    def _known_unit(self) -> "InstrumentModel":
        if self.resolution is not None:
            q.check_promise(self.resolution)
        return self


class PortDesignModel(q.Closed):
    """A field that is null or missing is not given; it never fails."""

    airflow: q.Airflow | None = None
    basis: Literal["standard", "actual", "not_stated"] | None = None
    tolerance: ToleranceModel | None = None
    minimum: q.Airflow | None = None
    static_pressure: q.Pressure | None = None
    leakage_maximum: Fraction | None = None  # of the port's airflow, lost before its outlets
    co2_reset: ResetModel | None = None
    sources: Sources = {}


class CreditModel(q.Closed):
    """A device in the air stream that an energy code's fan power limit allows for."""

    device: Name
    airflow: q.Airflow  # design airflow through it
    pressure: q.Pressure | None = None
    effectiveness: Annotated[q.Number, Field(ge=0.25, le=1.0)] | None = None  # of an exchanger: gives its own pressure

    @model_validator(mode="after")
    def _one_of_them(self) -> "CreditModel":
        if (self.pressure is None) == (self.effectiveness is None):
            raise ValueError("a credit has either its pressure drop or the effectiveness of its exchanger")
        if self.pressure is not None and not 0.0 <= q.si(self.pressure) <= 2000.0:
            raise ValueError("the pressure drop of a credit lies between 0 and 2000 Pa")
        return self


class FanPowerLimitModel(q.Closed):
    """The limit of all fans' shaft power by an energy code. `criterion`: the contract makes it one."""

    system: Literal["constant_volume", "variable_volume"]
    credits: Annotated[list[CreditModel], Field(max_length=20)] = []
    criterion: bool = False
    clause: Text = ""


class SpecificPowerLimitModel(q.Closed):
    """The largest specific fan power that the contract allows."""

    maximum: q.SpecificFanPower
    clause: Text = ""


class FanDesignModel(q.Closed):
    motor_power: q.Power | None = None
    speed: q.Speed | None = None
    maximum_speed: q.Speed | None = None
    nameplate_current: q.Current | None = None
    voltage: q.Voltage | None = None
    phases: Literal[1, 3] | None = None
    motor: Literal["single_phase", "three_phase", "electronically_commutated"] | None = None
    drive: bool | None = None
    service_factor: ServiceFactor | None = None
    drive_service_factor: ServiceFactor | None = None  # on a drive, as the motor's maker says in writing
    motor_efficiency: Efficiency | None = None
    drive_efficiency: Efficiency | None = None
    overload_low: q.Current | None = None  # the settings that the submittal or the contract allows
    overload_high: q.Current | None = None
    power_limit: FanPowerLimitModel | None = None  # of the whole system; stands at its supply fan
    specific_power_limit: SpecificPowerLimitModel | None = None  # likewise
    sources: Sources = {}

    @model_validator(mode="after")
    def _range_of_settings(self) -> "FanDesignModel":
        low, high = self.overload_low, self.overload_high
        if low is not None and high is not None and q.si(low) > q.si(high):
            raise ValueError("the least overload setting lies above the largest")
        return self


class DesignModel(q.Closed):
    ports: dict[PortName, PortDesignModel] = {}
    fans: dict[FanName, FanDesignModel] = {}
    outlets: dict[Name, OutletDesignModel] = {}
    rooms: dict[Name, RoomDesignModel] = {}
    exchangers: dict[Name, ExchangerDesignModel] = {}
    pressures: dict[PressureName, PressureDesignModel] = {}
    equipment: dict[Literal["unit"], EquipmentDesignModel] = {}


class MachineModel(q.Closed):
    serial: Text
    since: q.Day


class PositionModel(q.Closed):
    id: Id
    tag: Name
    kind: Text
    scope: Literal["in_scope", "added", "deleted", "deferred", "by_others", "existing", "out_of_scope"]
    elevation: q.Elevation
    time_zone: Annotated[str, AfterValidator(_zone)]
    system: Text | None = None
    machine: MachineModel | None = None
    neighbours: Annotated[list[NeighbourModel], Field(max_length=MOST)] | None = None  # null: nobody looked
    trends: Annotated[list[TrendModel], Field(max_length=MOST_LOGS)] = []
    sisters: Annotated[list[SisterModel], Field(max_length=MOST_SISTERS)] = []
    shared_rooms: Annotated[list[RoomPartModel], Field(max_length=MOST_PARTS)] = []
    sampled_tests: Annotated[list[SampledTestModel], Field(max_length=MOST_SAMPLED)] = []
    design: DesignModel


class JudgingDocumentModel(q.Closed):
    """Conventions, instruments, positions with their design, and the envelopes as raw JSON text or as objects."""

    schema_: Annotated[Literal["ventfolio/judge/1"], Field(alias="schema")]
    conventions: ConventionsModel
    instruments: list[InstrumentModel] = []
    positions: list[PositionModel]
    envelopes: list[str | dict[str, Any]] = []
