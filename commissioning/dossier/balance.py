"""What is supplied to a building or a space less what is exhausted from it, by the finals that stand at its units.

Across a building's envelope a unit moves its outdoor and its exhaust air; where these are not both known, what it
supplies and returns on the building's side. Into a space it moves supply and return air. All flows are put on standard
air, so that they may be added. Parts of an uncertainty that streams of one instrument share cancel as far as they do.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any, Literal

from commissioning.dossier.given import Conventions, Tolerance
from commissioning.dossier.parts import sign_first
from commissioning.dossier.quantities import si
from commissioning.dossier.results import Absence, Measurement, Share
from commissioning.dossier.view import View
from commissioning.engineering.building_balance import (
    Offset,
    Stream,
    supply_exhaust_offset,
    worst_case_offset_m3_s,
)
from commissioning.engineering.conformity import Limits, Verdict

Around = Literal["building", "space"]
_SIDES: dict[Around, tuple[tuple[str, str], ...]] = {
    "building": (("outdoor", "exhaust"), ("supply", "return"), ("supply", "exhaust"), ("outdoor", "return")),
    "space": (("supply", "return"), ("supply", "exhaust"), ("outdoor", "exhaust"), ("outdoor", "return")),
}
_ALONE: dict[Around, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "building": (("outdoor", "supply"), ("exhaust", "return")),
    "space": (("supply", "outdoor"), ("return", "exhaust")),
}
_NAMES = frozenset(one.name for one in fields(Measurement))


@dataclass(frozen=True, slots=True)
class Relation:
    """What is agreed for a building."""

    relation: str  # positive, negative or neutral
    least_m3_s: float | None
    clause: str

    @property
    def limits(self) -> Limits | None:
        if self.relation == "positive":
            return Limits(low=self.least_m3_s or 0.0)
        if self.relation == "negative":
            return Limits(high=-(self.least_m3_s or 0.0))
        return None if self.least_m3_s is None else Limits(-self.least_m3_s, self.least_m3_s)


@dataclass(frozen=True, slots=True)
class Side:
    """One port of one unit on the way in or out: its final as standard air, or why there is none."""

    tag: str
    port: str
    way: str  # in or out
    stream: Stream | None
    final: Measurement | None
    absence: Absence | None


@dataclass(frozen=True, slots=True)
class Balance:
    """The sides of all units, and what they come to as far as they are there."""

    sides: tuple[Side, ...]
    offset: Offset | None  # of those that are there; None where nothing is supplied
    exhausted_only_m3_s: float  # what is taken out where nothing is supplied
    verdict: Verdict | None  # only where all are there and something is required

    @property
    def missing(self) -> tuple[Side, ...]:
        return tuple(one for one in self.sides if one.stream is None)

    @property
    def is_complete(self) -> bool:
        return bool(self.sides) and not self.missing


def relation_of(agreed: Mapping[str, Any], building: str) -> Relation | None:
    """What the conventions agree for a building: by its name, else for every building."""
    held = agreed.get("building_relations") or []
    for name in (building, ""):
        for one in held:
            if (one.get("building") or "").strip().lower() == name.strip().lower():
                least = si(one["offset"]) if one.get("offset") else None
                return Relation(one["relation"], least, one.get("clause") or "")
    return None


def measurement_of(kept: Mapping[str, Any]) -> Measurement | None:
    """A measurement of airflow from its kept JSON; None for another kind, or one that another version kept."""
    if kept.get("kind") != "airflow":
        return None
    data = {name: value for name, value in kept.items() if name in _NAMES}
    for name in ("faults", "unseen", "remarks", "fans"):
        data[name] = tuple(data.get(name, ()))
    for name in ("inputs", "static_pressures"):
        data[name] = tuple((pair[0], pair[1]) for pair in data.get(name, ()))
    try:
        data["budget"] = tuple(Share(**part) for part in data.get("budget", ()))
        return Measurement(**data)
    except TypeError:
        return None


def sides_of(view: View, around: Around) -> list[Side]:
    """The ports by which a unit moves air in and out, each with its final or why there is none."""
    ports = set(view.ports)
    pair = next((pair for pair in _SIDES[around] if set(pair) <= ports), None)
    if pair is None:
        goes_in, goes_out = (next((port for port in order if port in ports), None) for order in _ALONE[around])
    else:
        goes_in, goes_out = pair
    found = [(port, way) for port, way in ((goes_in, "in"), (goes_out, "out")) if port is not None]
    return [_side(view, port, way) for port, way in found]


def _side(view: View, port: str, way: str) -> Side:
    ground = view.ground(port)
    if isinstance(ground, Absence):
        return Side(view.place.tag, port, way, None, None, ground)
    return Side(view.place.tag, port, way, stream_of(ground, view.place.tag), ground, None)


def stream_of(final: Measurement, tag: str) -> Stream:
    """A final as standard air, with the part of its uncertainty that its instrument has in common with others."""
    standard = final.actual_airflow_m3_s * final.density_kg_m3 / final.standard_density_kg_m3
    scale = standard / final.airflow_m3_s if final.airflow_m3_s > 0.0 else 0.0
    shared = sum(part.standard_uncertainty for part in final.budget if part.name == "instrument")
    whole = final.standard_uncertainty_m3_s * scale
    return Stream(f"{tag} {final.port}", standard, whole, final.instrument, min(shared * scale, whole))


def balance_of(sides: Sequence[Side], required: Relation | None, conventions: Conventions) -> Balance:
    streams = {way: tuple(one.stream for one in sides if one.way == way and one.stream) for way in ("in", "out")}
    leaving = sum(stream.airflow_m3_s for stream in streams["out"])
    if sum(stream.airflow_m3_s for stream in streams["in"]) <= 0.0:
        return Balance(tuple(sides), None, leaving, None)
    limits = required.limits if required else None
    offset = supply_exhaust_offset(
        supplied=streams["in"],
        exhausted=streams["out"],
        required=limits,
        rule=conventions.decision_rule,
        guard_multiplier=conventions.guard_multiplier,
        coverage_probability=conventions.coverage_probability,
    )
    is_complete = all(one.stream is not None for one in sides)
    verdict = _verdict(offset, required) if is_complete and required else None
    return Balance(tuple(sides), offset, 0.0, verdict)


def _verdict(offset: Offset, required: Relation) -> Verdict | None:
    found = offset.assessment
    if found is None or required.relation == "neutral":
        return found.verdict if found else None
    return sign_first(
        found.verdict,
        margin=found.margin,
        value=offset.offset_m3_s,
        expanded_uncertainty=offset.expanded_uncertainty_m3_s,
    )


def worst_by_design_m3_s(views: Iterable[View], required: Relation | None) -> float | None:
    """The offset if every port stood at the worst end of its tolerance: a note on the design, judged against nothing.

    None where a port's airflow or the side of its tolerance that matters is not given.
    """
    mirrored = required is not None and required.relation == "negative"
    ends: dict[str, list[tuple[float, float]]] = {"in": [], "out": []}
    for view in views:
        for side in sides_of(view, "building"):
            design = view.place.ports.get(side.port)
            if design is None or not design.airflow_m3_s:
                return None
            tolerance = design.tolerance or view.conventions.default_tolerance
            off = _end(tolerance, low=(side.way == "in") is not mirrored)
            if off is None:
                return None
            ends[side.way].append((design.airflow_m3_s, off))
    if not ends["in"] or not ends["out"]:
        return None
    less, more = (ends["out"], ends["in"]) if mirrored else (ends["in"], ends["out"])
    worst = worst_case_offset_m3_s(
        supply_airflow_m3_s=sum(flow for flow, _ in less),
        supply_low_tolerance=_share(less),
        exhaust_airflow_m3_s=sum(flow for flow, _ in more),
        exhaust_high_tolerance=_share(more),
    )
    return -float(worst) if mirrored else float(worst)


def _end(tolerance: Tolerance, *, low: bool) -> float | None:
    end = tolerance.low if low else tolerance.high
    return None if end is None else min(max(-end if low else end, 0.0), 1.0)


def _share(ends: Sequence[tuple[float, float]]) -> float:
    return sum(flow * off for flow, off in ends) / sum(flow for flow, _ in ends)
