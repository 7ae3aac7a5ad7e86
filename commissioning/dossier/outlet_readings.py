"""Outlets as read: out of the figures of their records, with what they share of their errors, and their sums.

One hood at all outlets is one error. A figure keeps the parts of its uncertainty by name; which of them are common to
several outlets is said here, once, for the record itself and for what is judged of several records together.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from commissioning.dossier.figures import Figure, Figures
from commissioning.engineering.budget import Budget, Component, combine
from commissioning.engineering.outlets import sum_components

KIND = "outlets"
AIRFLOW = "outlet_airflow"  # the figure of one outlet
UNKNOWN = ("blocked", "no_access")  # states in which nobody knows what the outlet gives


@dataclass(frozen=True, slots=True)
class OutletReading:
    """One outlet of a record, on the air basis of its design; without an airflow it was not read, for a reason."""

    name: str
    port: str
    branch: str
    room: str
    device: str
    basis: str
    state: str  # read | closed | blocked | no_access
    reason: str
    instrument: str
    design_m3_s: float | None
    airflow_m3_s: float | None
    expanded_uncertainty_m3_s: float
    standard_uncertainty_m3_s: float
    components: tuple[Component, ...]
    envelope: str
    doubts: tuple[str, ...] = ()

    @property
    def ratio(self) -> float | None:
        if self.airflow_m3_s is None or not self.design_m3_s:
            return None
        return self.airflow_m3_s / self.design_m3_s


@dataclass(frozen=True, slots=True)
class Total:
    """The sum of some outlets, signed where some of them take air away."""

    airflow_m3_s: float
    design_m3_s: float | None  # None where one of them has no design
    components: tuple[Component, ...]
    budget: Budget
    bases: frozenset[str]
    unknown: tuple[str, ...]  # outlets whose airflow nobody knows


def group_of(part: str, *, method: str, port: str, device: str, instrument: str) -> str | None:
    """Which part of an outlet's uncertainty is one and the same error at other outlets, and at which."""
    return {
        "instrument": instrument or None,
        "method": f"method {method}",
        "hood back pressure": f"back pressure {port}",
        "device type": f"type {port} {device}",
        "hood factor": f"factor {port} {device}",
        "density": "density",
        "read off the controller": "controller",
    }.get(part)


def readings_of(record: Figures) -> list[OutletReading]:
    """The outlets of a record in its order."""
    figures = {one.at: one for one in record.figures if one.name == AIRFLOW}
    return [_reading(record, row, figures.get(row["name"])) for row in record.facts["outlets"]]


def _reading(record: Figures, row: Mapping[str, Any], figure: Figure | None) -> OutletReading:
    return OutletReading(
        name=row["name"],
        port=row["port"],
        branch=row["branch"],
        room=row["room"],
        device=row["device"],
        basis=row["basis"],
        state=row["state"],
        reason=row["reason"],
        instrument=row["instrument"],
        design_m3_s=row["design_m3_s"],
        airflow_m3_s=figure.value if figure else None,
        expanded_uncertainty_m3_s=(figure.expanded_uncertainty or 0.0) if figure else 0.0,
        standard_uncertainty_m3_s=(figure.standard_uncertainty or 0.0) if figure else 0.0,
        components=_components(record, row, figure) if figure else (),
        envelope=record.envelope,
        doubts=figure.doubts if figure else (),
    )


def _components(record: Figures, row: Mapping[str, Any], figure: Figure) -> tuple[Component, ...]:
    shared = {"method": record.method, "port": row["port"], "device": row["device"], "instrument": row["instrument"]}
    freedom = {"repeatability": max(1.0, row["readings"] - 1.0)} if row["readings"] >= 4 else {}
    return tuple(
        Component(
            part.name,
            part.standard_uncertainty,
            degrees_of_freedom=freedom.get(part.name, float("inf")),
            kind="A" if part.kind == "A" else "B",
            source=part.source,
            group=group_of(part.name, **shared),
        )
        for part in figure.budget
    )


def total(readings: Iterable[OutletReading], *, coverage_probability: float, leaving: Sequence[str] = ()) -> Total:
    """The sum of outlets; those at the ports named in `leaving` count against it. A closed outlet gives no air."""
    held = sorted(readings, key=lambda one: one.name)
    signed = [(-1.0 if one.port in leaving else 1.0, one) for one in held]
    parts = [(sign, one.components) for sign, one in signed if one.components]
    components = tuple(sum_components(parts)) if parts else ()
    designs = [None if one.design_m3_s is None else sign * one.design_m3_s for sign, one in signed]
    return Total(
        airflow_m3_s=sum(sign * (one.airflow_m3_s or 0.0) for sign, one in signed),
        design_m3_s=None if None in designs else sum(value for value in designs if value is not None),
        components=components,
        budget=combine(components or [Component("none", 0.0)], coverage_probability=coverage_probability),
        bases=frozenset(one.basis for one in held),
        unknown=tuple(one.name for one in held if one.state in UNKNOWN),
    )
