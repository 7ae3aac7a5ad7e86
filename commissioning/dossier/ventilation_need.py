"""The outdoor air that a unit's rooms ask for by the ventilation rate procedure: a designer's check, for information.

    V_bz = R_p P_z + R_a A_z,  V_oz = V_bz / E_z,  V_ot = ΣV_oz

The sum is that of a unit whose air is all outdoor air; one that recirculates needs more (system efficiency). Rates are
of standard air.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from commissioning.blocks import Column, Table
from commissioning.dossier import printing
from commissioning.dossier.given import Place
from commissioning.dossier.quantities import si
from commissioning.dossier.results import Measurement
from commissioning.engineering import ventilation

SOURCE = "ASHRAE 62.1, 6.2.1 (ventilation rate procedure)"
FIELDS = ("occupants", "floor_area", "people_rate", "area_rate")
EFFECTIVENESS_NOT_GIVEN = 1.0
_LEAST_M3_S = 1e-6  # below it nothing is divided by an airflow


@dataclass(frozen=True, slots=True)
class RoomNeed:
    """What one room asks for."""

    name: str
    people: float
    area_m2: float
    people_rate_m3_s: float
    area_rate_m3_s_m2: float
    effectiveness: float
    airflow_m3_s: float


@dataclass(frozen=True, slots=True)
class Need:
    """What all rooms ask for, and the rooms of which a number is missing."""

    rooms: tuple[RoomNeed, ...]
    incomplete: tuple[str, ...]

    @property
    def airflow_m3_s(self) -> float | None:
        if self.incomplete or not self.rooms:
            return None
        total = sum(room.airflow_m3_s for room in self.rooms)
        return float(ventilation.system_outdoor_airflow_m3_s(uncorrected_airflow_m3_s=total))


def need_of(place: Place) -> Need:
    """Of the rooms of which the design says anything about people, area or rates."""
    told = {
        name: room for name, room in place.parts("rooms").items() if any(room.get(one) is not None for one in FIELDS)
    }
    complete = {name: room for name, room in told.items() if all(room.get(one) is not None for one in FIELDS)}
    return Need(
        tuple(_room(name, room) for name, room in sorted(complete.items())),
        tuple(sorted(set(told) - set(complete))),
    )


def _room(name: str, room: Mapping[str, Any]) -> RoomNeed:
    people, area = float(room["occupants"]), si(room["floor_area"])
    per_person, per_area = si(room["people_rate"]), si(room["area_rate"])
    given = room.get("distribution_effectiveness")
    effectiveness = EFFECTIVENESS_NOT_GIVEN if given is None else float(given)
    breathing = ventilation.breathing_zone_airflow_m3_s(
        people=people, area_m2=area, rate_per_person_m3_s=per_person, rate_per_area_m3_s_m2=per_area
    )
    zone = ventilation.zone_outdoor_airflow_m3_s(
        breathing_zone_airflow_m3_s=breathing, distribution_effectiveness=effectiveness
    )
    return RoomNeed(name, people, area, per_person, per_area, effectiveness, float(zone))


def to_basis(standard_m3_s: float, final: Measurement) -> float:
    """A standard airflow on the basis of a measurement, at the density that it was measured at."""
    if final.basis == "standard":
        return standard_m3_s
    return standard_m3_s * final.standard_density_kg_m3 / final.density_kg_m3


def _some(airflow_m3_s: float | None) -> float | None:
    return None if airflow_m3_s is None or airflow_m3_s < _LEAST_M3_S else airflow_m3_s


def side_by_side(
    required_m3_s: float | None,
    design_m3_s: float | None,
    measured_m3_s: float | None,
    expanded_uncertainty_m3_s: float | None = None,
) -> dict[str, Any]:
    """Required, designed and measured with their ratios, as facts; what is hardly any air is taken as not given."""
    found = ventilation.ventilation_side_by_side(
        required_m3_s=_some(required_m3_s),
        design_m3_s=_some(design_m3_s),
        measured_m3_s=measured_m3_s,
        expanded_uncertainty_m3_s=expanded_uncertainty_m3_s,
    )
    return {
        "required_m3_s": found.required_m3_s,
        "design_m3_s": found.design_m3_s,
        "measured_m3_s": found.measured_m3_s,
        "design_over_required": found.design_over_required,
        "measured_over_required": found.measured_over_required,
        "measured_over_design": found.measured_over_design,
        "shortfall_m3_s": found.shortfall_m3_s,
        "shortfall_within_uncertainty": found.shortfall_within_uncertainty,
    }


def table(facts: Mapping[str, Any], asked_by: str, display: str) -> Table:
    """Three airflows under one another, each against the one above."""
    rows = tuple(
        (label, _flow(facts[name], display), *(_share(facts.get(ratio)) for ratio in ratios))
        for label, name, ratios in (
            (f"Required, {asked_by}", "required_m3_s", ("", "")),
            ("Design", "design_m3_s", ("design_over_required", "")),
            ("Measured", "measured_m3_s", ("measured_over_required", "measured_over_design")),
        )
    )
    columns = (
        Column("Outdoor air"),
        Column("Airflow", printing.airflow_unit(display), "right"),
        Column("Of what is required", "", "right"),
        Column("Of the design", "", "right"),
    )
    return Table(columns, rows, "Required, designed and measured, for information")


def _flow(flow_m3_s: float | None, display: str) -> str:
    return "not known" if flow_m3_s is None else printing.airflow(flow_m3_s, display)


def _share(ratio: float | None) -> str:
    return "" if ratio is None else printing.percent(ratio)
