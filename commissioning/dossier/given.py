"""What judging is given beside the evidence: conventions, instruments and the design, read from the document."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from commissioning.catalogue.checks import CATALOGUE, Catalogue
from commissioning.catalogue.procedures import LIBRARY, Library
from commissioning.dossier import own_procedures
from commissioning.dossier.own_checks import merged
from commissioning.dossier.quantities import si
from commissioning.dossier.sampled_tests import SampledTest
from commissioning.dossier.settings.neighbours import Neighbour
from commissioning.dossier.sisters import Sister
from commissioning.engineering import units
from commissioning.engineering.conformity import Assessment, DecisionRule, Limits, assess
from commissioning.engineering.rounding import round_half_up

INCH_OF_WATER_PA = {
    "4degC": units.INCH_OF_WATER_4C_PA,
    "60degF": units.INCH_OF_WATER_60F_PA,
    "20degC": units.INCH_OF_WATER_20C_PA,
}
COUNTED = frozenset({"in_scope", "added"})
PORTS = ("supply", "return", "outdoor", "exhaust")


@dataclass(frozen=True, slots=True)
class Tolerance:
    """Limits on the deviation from design as fractions; an open side is None."""

    low: float | None
    high: float | None
    clause: str
    rounding: str = "none"  # or percent_1: the deviation is rounded to a whole per cent before it is compared

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "Tolerance":
        return cls(data["low"], data["high"], data.get("clause", ""), data.get("rounding", "none"))

    @property
    def limits(self) -> Limits:
        return Limits(self.low, self.high)

    def compared(self, deviation: float) -> float:
        """The deviation as it is compared with the limits: rounded where the contract says so."""
        return round_half_up(deviation, step=0.01) if self.rounding == "percent_1" else deviation


@dataclass(frozen=True, slots=True)
class Conventions:
    """What the project has agreed on."""

    version: int
    decision_rule: DecisionRule
    guard_multiplier: float
    coverage_probability: float
    standard_density_kg_m3: float
    inch_of_water_pa: float
    basis_when_not_stated: str
    default_tolerance: Tolerance
    mass_balance_allowance: float
    display: str
    signoffs_required: tuple[str, ...] = ()  # trades whose companies sign their items of the checklist
    checks: Catalogue = CATALOGUE  # with what the firm has of its own
    procedures: Library = LIBRARY  # likewise

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "Conventions":
        inch = INCH_OF_WATER_PA[data.get("inch_of_water", "4degC")]
        return cls(
            version=data.get("version", 1),
            decision_rule=DecisionRule(data.get("decision_rule", "simple")),
            guard_multiplier=float(data.get("guard_multiplier", 1.0)),
            coverage_probability=float(data.get("coverage_probability", 0.95)),
            standard_density_kg_m3=si(data["standard_density"]),
            inch_of_water_pa=inch,
            basis_when_not_stated=data["basis_when_not_stated"],
            default_tolerance=Tolerance.from_json(data["default_tolerance"]),
            mass_balance_allowance=float(data.get("mass_balance_allowance", 0.1)),
            display=data.get("display", "si"),
            signoffs_required=tuple(data.get("signoffs_required") or ()),
            checks=merged(data.get("own_checks")),
            procedures=own_procedures.merged(data.get("own_procedures")),
        )

    def assess(
        self, *, value: float, standard_uncertainty: float, expanded_uncertainty: float, limits: Limits
    ) -> Assessment:
        """By the decision rule that was agreed."""
        return assess(
            value=value,
            standard_uncertainty=standard_uncertainty,
            expanded_uncertainty=expanded_uncertainty,
            limits=limits,
            rule=self.decision_rule,
            guard_multiplier=self.guard_multiplier,
        )


@dataclass(frozen=True, slots=True)
class Calibration:
    certificate: str
    on: date
    due: date
    as_found: str

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "Calibration":
        on, due = date.fromisoformat(data["on"]), date.fromisoformat(data["due"])
        return cls(data["certificate"], on, due, data.get("as_found", "not_stated"))


@dataclass(frozen=True, slots=True)
class Instrument:
    """`half_width = relative × reading + absolute`, of the given shape."""

    id: str
    name: str
    serial: str
    kind: str
    relative: float
    absolute: Mapping[str, Any] | None
    shape: str
    resolution: Mapping[str, Any] | None
    calibrations: tuple[Calibration, ...] = ()

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "Instrument":
        accuracy = data["accuracy"]
        rows = (Calibration.from_json(row) for row in data.get("calibrations", ()))
        return cls(
            id=data["id"],
            name=data["name"],
            serial=data["serial"],
            kind=data["kind"],
            relative=float(accuracy.get("relative") or 0.0),
            absolute=accuracy.get("absolute"),
            shape=accuracy.get("shape", "rectangular"),
            resolution=data.get("resolution"),
            calibrations=tuple(sorted(rows, key=lambda c: (c.on, c.certificate))),
        )

    def standing_on(self, day: date) -> tuple[str, str]:
        """`in_date | lapsed | failed | none` on a day, and the certificate that says so.

        A calibration that found the instrument outside its limits speaks of the time since the one before.
        """
        before = [c for c in self.calibrations if c.on <= day]
        after = [c for c in self.calibrations if c.on > day]
        if after and after[0].as_found == "outside":
            return "failed", after[0].certificate
        if not before:
            return "none", ""
        return ("in_date" if day <= before[-1].due else "lapsed"), before[-1].certificate


@dataclass(frozen=True, slots=True)
class PortDesign:
    """What was designed at a port. A field that no revision gives is None: not given, never failing."""

    airflow_m3_s: float | None
    basis: str
    tolerance: Tolerance | None
    minimum_m3_s: float | None
    sources: Mapping[str, str]

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "PortDesign":
        return cls(
            airflow_m3_s=_si_or_none(data.get("airflow")),
            basis=data.get("basis") or "not_stated",
            tolerance=Tolerance.from_json(data["tolerance"]) if data.get("tolerance") else None,
            minimum_m3_s=_si_or_none(data.get("minimum")),
            sources=data.get("sources", {}),
        )


@dataclass(frozen=True, slots=True)
class FanDesign:
    """A fan with its motor and drive. `drive_service_factor` is what the motor's maker allows on a drive."""

    speed_rpm: float | None
    maximum_speed_rpm: float | None
    nameplate_current_a: float | None
    phases: int | None
    motor: str | None
    has_drive: bool
    service_factor: float
    voltage_v: float | None = None
    motor_power_w: float | None = None
    motor_efficiency: float | None = None
    drive_efficiency: float | None = None
    drive_service_factor: float | None = None
    overload_low_a: float | None = None
    overload_high_a: float | None = None
    sources: Mapping[str, str] = field(default_factory=dict)

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "FanDesign":
        return cls(
            speed_rpm=_si_or_none(data.get("speed")),
            maximum_speed_rpm=_si_or_none(data.get("maximum_speed")),
            nameplate_current_a=_si_or_none(data.get("nameplate_current")),
            phases=data.get("phases"),
            motor=data.get("motor"),
            has_drive=bool(data.get("drive")),
            service_factor=float(data.get("service_factor") or 1.0),
            voltage_v=_si_or_none(data.get("voltage")),
            motor_power_w=_si_or_none(data.get("motor_power")),
            motor_efficiency=data.get("motor_efficiency"),
            drive_efficiency=data.get("drive_efficiency"),
            drive_service_factor=data.get("drive_service_factor"),
            overload_low_a=_si_or_none(data.get("overload_low")),
            overload_high_a=_si_or_none(data.get("overload_high")),
            sources=data.get("sources", {}),
        )


@dataclass(frozen=True, slots=True)
class Place:
    """A position: what it is, where it lies, which machine sits in it, what was designed."""

    id: str
    tag: str
    kind: str
    scope: str
    elevation_m: float
    time_zone: str
    machine_serial: str | None
    machine_since: date | None
    ports: Mapping[str, PortDesign] = field(default_factory=dict)
    fans: Mapping[str, FanDesign] = field(default_factory=dict)
    design: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)  # as given, for what is no port and no fan
    neighbours: tuple[Neighbour, ...] | None = None  # None: nobody looked for any
    trends: tuple[Mapping[str, Any], ...] = ()  # what the analysis of each log's samples says
    sisters: tuple[Sister, ...] = ()
    shared_rooms: tuple[Mapping[str, Any], ...] = ()  # what other units of the building give to its rooms, as given
    sampled: tuple[SampledTest, ...] = ()  # tests for which it was not drawn

    def parts(self, group: str) -> Mapping[str, Mapping[str, Any]]:
        """The design of outlets, rooms, exchangers or pressures by name, in the document's form."""
        return self.design.get(group) or {}

    @property
    def is_counted(self) -> bool:
        return self.scope in COUNTED

    def day(self, moment: datetime) -> date:
        """The calendar day of a moment at the site."""
        return moment.astimezone(ZoneInfo(self.time_zone)).date()

    def is_another_machine(self, serial: str, moment: datetime) -> bool:
        """Whether a serial seen at a moment is not that of the machine that sat here then, as far as is known."""
        if self.machine_serial is None or serial == self.machine_serial:
            return False
        return self.machine_since is None or self.day(moment) >= self.machine_since

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "Place":
        machine = data.get("machine")
        design = data.get("design") or {}
        near = data.get("neighbours")
        return cls(
            id=data["id"],
            tag=data["tag"],
            kind=data["kind"],
            scope=data["scope"],
            elevation_m=si(data["elevation"]),
            time_zone=data["time_zone"],
            machine_serial=machine["serial"] if machine else None,
            machine_since=date.fromisoformat(machine["since"]) if machine else None,
            ports={name: PortDesign.from_json(port) for name, port in design.get("ports", {}).items()},
            fans={name: FanDesign.from_json(fan) for name, fan in design.get("fans", {}).items()},
            design=design,
            neighbours=None if near is None else tuple(Neighbour.from_json(one) for one in near),
            trends=tuple(data.get("trends", ())),
            sisters=tuple(Sister.from_json(one) for one in data.get("sisters", ())),
            shared_rooms=tuple(data.get("shared_rooms", ())),
            sampled=tuple(SampledTest.from_json(one) for one in data.get("sampled_tests", ())),
        )


def _si_or_none(given: Mapping[str, Any] | None) -> float | None:
    return None if given is None else si(given)
