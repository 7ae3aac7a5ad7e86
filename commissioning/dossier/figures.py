"""Figures: what a record of any kind but airflow amounts to, each with its uncertainty, source and inputs. SI.

Airflow has measurements of its own (`results.Measurement`), since it is carried to the design's air basis and compared
port by port. Everything else is a set of figures: a name, where on the unit, a value with its unit.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from datetime import datetime
from typing import Any

from commissioning.dossier.envelope import Envelope
from commissioning.dossier.field_record import FieldRecord
from commissioning.dossier.given import Instrument, Place
from commissioning.dossier.results import Share, kept
from commissioning.dossier.state import faults_of, seen_in, unseen_of
from commissioning.engineering import uncertainty
from commissioning.engineering.uncertainty import Component

_WORST_FIRST = ("failed", "none", "lapsed", "in_date", "not_applicable")
AS_GOOD_AS_INFINITE = 1e6  # degrees of freedom: what scatters by the last bits alone tells nothing


@dataclass(frozen=True, slots=True)
class Figure:
    """One quantity. With `doubts` it is shown and never judged."""

    name: str  # such as sensible_effectiveness
    at: str  # where on the unit: a port, a fan, an outlet; empty for the unit
    value: float
    unit: str  # of `value`, SI, as units.py codes it; "1" for a ratio
    standard_uncertainty: float | None = None  # None: not a measured quantity, as a count
    expanded_uncertainty: float | None = None
    coverage_factor: float | None = None
    degrees_of_freedom: float | None = None  # None: as good as infinite
    budget: tuple[Share, ...] = ()
    equation: str = ""
    source: str = ""  # of the equation, with edition and clause
    inputs: tuple[tuple[str, str], ...] = ()  # what went in, in the units of the evidence
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Figures:
    """All that one envelope amounts to."""

    envelope: str
    kind: str
    figures: tuple[Figure, ...]
    method: str
    grade: str
    stage: str
    session: str
    purpose: str
    mode: str
    observed_at: str
    instruments: tuple[str, ...]
    calibration: str  # the worst of its instruments
    certificate: str
    serial_seen: str | None
    faults: tuple[str, ...]
    unseen: tuple[str, ...]
    remarks: tuple[str, ...] = ()
    state: dict[str, str] = field(default_factory=dict)
    facts: dict[str, Any] = field(default_factory=dict)  # what was seen and is no figure
    port: str = ""

    @property
    def when(self) -> datetime:
        return datetime.fromisoformat(self.observed_at)

    def figure(self, name: str, at: str = "") -> Figure | None:
        return next((one for one in self.figures if one.name == name and one.at == at), None)

    def named(self, name: str) -> list[Figure]:
        return [one for one in self.figures if one.name == name]

    def to_json(self) -> dict[str, Any]:
        data: dict[str, Any] = {one.name: getattr(self, one.name) for one in fields(self)}
        for name in ("faults", "unseen", "remarks", "instruments"):
            data[name] = list(data[name])
        data["instrument"] = self.instruments[0] if self.instruments else None
        data["figures"] = [_figure_json(one) for one in self.figures]
        rounded: dict[str, Any] = kept(data)
        return rounded


def _figure_json(figure: Figure) -> dict[str, Any]:
    data: dict[str, Any] = {one.name: getattr(figure, one.name) for one in fields(figure)}
    data["budget"] = [{one.name: getattr(part, one.name) for one in fields(part)} for part in figure.budget]
    data["inputs"] = [list(pair) for pair in figure.inputs]
    data["doubts"] = list(figure.doubts)
    return data


def measured(
    name: str,
    value: float,
    unit: str,
    components: Sequence[Component],
    *,
    coverage_probability: float,
    at: str = "",
    **told: Any,
) -> Figure:
    """A figure with its uncertainty combined from its components; `told` are the remaining fields of `Figure`."""
    if not components:
        return Figure(name, at, value, unit, **told)
    budget = uncertainty.combine(list(components), coverage_probability=coverage_probability)
    freedom = budget.effective_degrees_of_freedom
    return Figure(
        name,
        at,
        value,
        unit,
        standard_uncertainty=budget.standard_uncertainty,
        expanded_uncertainty=budget.expanded_uncertainty,
        coverage_factor=budget.coverage_factor,
        degrees_of_freedom=freedom if freedom < AS_GOOD_AS_INFINITE else None,
        budget=tuple(
            Share(c.name, abs(c.contribution), c.kind, c.source, budget.shares[c.name]) for c in budget.components
        ),
        **told,
    )


def figures_of(
    envelope: Envelope,
    place: Place,
    found: Sequence[Figure],
    *,
    method: str,
    tools: Sequence[tuple[str, Instrument | None]],
    remarks: Sequence[str] = (),
    facts: dict[str, Any] | None = None,
) -> Figures:
    """The figures of a record with its frame; `tools` are the instruments named, each with what is known of it."""
    payload = envelope.payload
    assert isinstance(payload, FieldRecord)
    standing = [_calibration(envelope, place, tool) for _, tool in tools] or [("not_applicable", "")]
    calibration, certificate = min(standing, key=lambda one: _WORST_FIRST.index(one[0]))
    unknown = [
        "An instrument is not in the firm's list: its own error is not in the uncertainty."
        for _, tool in tools
        if tool is None
    ]
    return Figures(
        envelope=str(envelope.id),
        kind=envelope.kind,
        figures=tuple(found),
        method=method,
        grade=payload.grade,
        stage=payload.stage,
        session=payload.session.id,
        purpose=payload.session.purpose,
        mode=payload.state.mode,
        observed_at=envelope.observed_at.isoformat(),
        instruments=tuple(name for name, _ in tools),
        calibration=calibration,
        certificate=certificate,
        serial_seen=payload.serial_seen,
        faults=faults_of(payload.state),
        unseen=unseen_of(payload.state),
        remarks=(*remarks, *unknown[:1]),
        state=seen_in(payload.state),
        facts=(facts or {}) | ({"calibrations": [list(one) for one in standing]} if len(tools) > 1 else {}),
    )


def _calibration(envelope: Envelope, place: Place, tool: Instrument | None) -> tuple[str, str]:
    return ("none", "") if tool is None else tool.standing_on(place.day(envelope.observed_at))
