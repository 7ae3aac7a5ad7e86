"""What was designed of an exchanger, and its record that stands. A unit may have more than one, each by its name."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from commissioning.dossier.figures import Figures
from commissioning.dossier.given import Place, Tolerance
from commissioning.dossier.quantities import si
from commissioning.dossier.results import Absence
from commissioning.dossier.view import View

KIND = "exchanger"
# Where the schedule gives a wheel's speed and no tolerance; common practice, no source (from memory).
WHEEL_SPEED_TOLERANCE = Tolerance(-0.05, 0.05, "±5 % of the submitted speed: common practice, no source")


@dataclass(frozen=True, slots=True)
class Rating:
    """A rated point, its airflows at standard air."""

    season: str
    supply_m3_s: float
    exhaust_m3_s: float
    effectiveness: Mapping[str, float]  # of sensible, latent and total, those that are given

    @property
    def mean_m3_s(self) -> float:
        return 0.5 * (self.supply_m3_s + self.exhaust_m3_s)

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "Rating":
        supply = si(data["supply_airflow"])
        other = data.get("exhaust_airflow")
        parts = {part: data[part] for part in ("sensible", "latent", "total") if data.get(part) is not None}
        return cls(data.get("season", "any"), supply, si(other) if other else supply, parts)


@dataclass(frozen=True, slots=True)
class Criterion:
    quantity: str
    minimum: float
    at: str  # measured_flows or rated_flows
    clause: str


@dataclass(frozen=True, slots=True)
class ExchangerDesign:
    """A field that no revision gives is empty: not given, never failing."""

    kind: str | None = None
    ratings: tuple[Rating, ...] = ()
    criteria: tuple[Criterion, ...] = ()
    wheel_speed_rpm: float | None = None
    wheel_speed_tolerance: Tolerance = WHEEL_SPEED_TOLERANCE
    transfer_ratio_maximum: float | None = None
    rows: int | None = None  # of heat pipes, one behind the other in the direction of the air
    sources: Mapping[str, str] = field(default_factory=dict)

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "ExchangerDesign":
        speed, tolerance = data.get("wheel_speed"), data.get("wheel_speed_tolerance")
        criteria = (
            Criterion(one["quantity"], one["minimum"], one.get("at", "measured_flows"), one.get("clause", ""))
            for one in data.get("criteria") or ()
        )
        return cls(
            kind=data.get("kind"),
            ratings=tuple(Rating.from_json(one) for one in data.get("ratings") or ()),
            criteria=tuple(criteria),
            wheel_speed_rpm=None if speed is None else si(speed),
            wheel_speed_tolerance=Tolerance.from_json(tolerance) if tolerance else WHEEL_SPEED_TOLERANCE,
            transfer_ratio_maximum=data.get("transfer_ratio_maximum"),
            rows=data.get("rows"),
            sources=data.get("sources") or {},
        )


def exchangers(place: Place) -> dict[str, ExchangerDesign]:
    """In the order of their names."""
    return {name: ExchangerDesign.from_json(data) for name, data in sorted(place.parts("exchangers").items())}


def exchanger(place: Place, name: str) -> ExchangerDesign:
    data = place.parts("exchangers").get(name)
    return ExchangerDesign.from_json(data) if data else ExchangerDesign()


def recorded(view: View, *figures: str) -> tuple[str, ...]:
    """The names of the exchangers of which a record says something of one of these figures."""
    held = {one.facts["exchanger"] for one in view.records if one.kind == KIND and _speaks_of(one, figures)}
    return tuple(sorted(held))


def standing(view: View, name: str, *figures: str) -> Figures | Absence:
    """The final record of one exchanger that stands, of those that say something of one of these figures."""
    held = [
        one for one in view.records if one.kind == KIND and one.facts["exchanger"] == name and _speaks_of(one, figures)
    ]
    record = replace(view, records=held).record(KIND)
    return record if isinstance(record, Absence) else view.drifted(record, "exchanger") or record


def _speaks_of(record: Figures, figures: tuple[str, ...]) -> bool:
    """A figure that could not be computed is spoken of too."""
    return any(record.named(figure) or figure in record.facts["not_computed"] for figure in figures)
