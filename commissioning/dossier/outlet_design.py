"""Outlets and rooms as designed: the parts of a design by which outlets are judged, in SI."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from commissioning.dossier.given import Conventions, Place, Tolerance
from commissioning.dossier.quantities import si

EXTRACT = ("return", "exhaust")  # the ports to which a room gives its air


@dataclass(frozen=True, slots=True)
class OutletDesign:
    """One outlet by its number on the drawing; what no revision gives is None."""

    name: str
    port: str | None
    branch: str | None
    room: str | None
    device: str | None
    airflow_m3_s: float | None
    basis: str | None
    tolerance: Tolerance | None
    sources: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class RoomDesign:
    """One room: how its supply stands to what is taken from it."""

    name: str
    relation: str | None
    offset_m3_s: float | None
    tolerance: Tolerance | None
    sources: Mapping[str, str]


def outlets_of(place: Place) -> dict[str, OutletDesign]:
    return {name: _outlet(name, given) for name, given in place.parts("outlets").items()}


def rooms_of(place: Place) -> dict[str, RoomDesign]:
    return {name: _room(name, given) for name, given in place.parts("rooms").items()}


def basis_of(place: Place, port: str, design: OutletDesign | None, conventions: Conventions) -> str:
    """The air basis of an outlet's design: its own, else that of its port, else what the project agreed on."""
    at_port = place.ports.get(port)
    for stated in (design.basis if design else None, at_port.basis if at_port else None):
        if stated in ("standard", "actual"):
            return stated
    return conventions.basis_when_not_stated


def _outlet(name: str, given: Mapping[str, Any]) -> OutletDesign:
    return OutletDesign(
        name=name,
        port=given.get("port"),
        branch=given.get("branch"),
        room=given.get("room"),
        device=given.get("device"),
        airflow_m3_s=_si_or_none(given.get("airflow")),
        basis=given.get("basis"),
        tolerance=_tolerance(given),
        sources=given.get("sources", {}),
    )


def _room(name: str, given: Mapping[str, Any]) -> RoomDesign:
    return RoomDesign(
        name, given.get("relation"), _si_or_none(given.get("offset")), _tolerance(given), given.get("sources", {})
    )


def _tolerance(given: Mapping[str, Any]) -> Tolerance | None:
    return Tolerance.from_json(given["tolerance"]) if given.get("tolerance") else None


def _si_or_none(given: Mapping[str, Any] | None) -> float | None:
    return None if given is None else si(given)
