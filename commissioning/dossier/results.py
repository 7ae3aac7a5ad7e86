"""What judging gives: measurements and judgements, as data. Whatever is shown is made from these, later."""

from dataclasses import dataclass, field, fields
from datetime import datetime
from typing import Any

from commissioning.engineering.conformity import Verdict


@dataclass(frozen=True, slots=True)
class Share:
    """One line of an uncertainty budget, in the unit of the measured value."""

    name: str
    standard_uncertainty: float
    kind: str
    source: str
    share: float


@dataclass(frozen=True, slots=True)
class Measurement:
    """What one envelope amounts to at one port, on the design's air basis. SI."""

    envelope: str
    kind: str
    port: str
    airflow_m3_s: float
    standard_uncertainty_m3_s: float
    expanded_uncertainty_m3_s: float
    coverage_factor: float
    degrees_of_freedom: float | None  # None: as good as infinite
    budget: tuple[Share, ...]
    basis: str
    basis_assumed: bool
    actual_airflow_m3_s: float
    density_kg_m3: float
    standard_density_kg_m3: float
    method: str
    equation: str
    readings: int
    inputs: tuple[tuple[str, str], ...]  # what went in, in the units of the evidence
    grade: str
    stage: str
    session: str
    purpose: str
    mode: str
    observed_at: str
    instrument: str | None
    calibration: str  # in_date | lapsed | failed | none | not_applicable
    certificate: str
    serial_seen: str | None
    faults: tuple[str, ...]  # why the operating state does not allow a verdict
    unseen: tuple[str, ...]  # parts of the operating state that nobody looked at
    remarks: tuple[str, ...]
    state: dict[str, str] = field(default_factory=dict)  # the operating state as it was seen
    fans: tuple[dict[str, Any], ...] = ()
    static_pressures: tuple[tuple[str, float], ...] = ()  # where, and Pa
    instruments: tuple[str, ...] = ()  # all that were used; `instrument` is the first
    doubts: tuple[str, ...] = ()  # why the method bears no verdict here
    facts: dict[str, Any] = field(default_factory=dict)  # what a requirement may ask of the method or the visit

    @property
    def when(self) -> datetime:
        return datetime.fromisoformat(self.observed_at)

    def to_json(self) -> dict[str, Any]:
        data: dict[str, Any] = {name: getattr(self, name) for name in _MEASURED}
        for name in ("faults", "unseen", "remarks", "fans", "instruments", "doubts"):
            data[name] = list(data[name])
        for name in ("inputs", "static_pressures"):
            data[name] = [list(pair) for pair in data[name]]
        data["budget"] = [{name: getattr(part, name) for name in _PARTS} for part in self.budget]
        rounded: dict[str, Any] = kept(data)
        return rounded


@dataclass(frozen=True, slots=True)
class Absence:
    """Why there is no verdict: not_due, not_given, not_judged, recheck, disputed or not_counted, and in words."""

    code: str
    text: str


@dataclass(frozen=True, slots=True)
class Judgement:
    """A requirement applied. Exactly one of `verdict` and `absence` is there."""

    requirement: str
    port: str
    rule_version: int
    verdict: Verdict | None = None
    absence: Absence | None = None
    provisional: bool = False
    value: float | None = None  # in `unit`
    expanded_uncertainty: float | None = None
    unit: str = ""
    low: float | None = None
    high: float | None = None
    clause: str = ""
    rule: str = ""
    margin: float | None = None
    conformance_probability: float | None = None
    rests_on: tuple[str, ...] = ()
    sources: dict[str, str] = field(default_factory=dict)
    facts: dict[str, Any] = field(default_factory=dict)  # what else the working shows
    look_next: tuple[str, ...] = ()
    remedy: str = ""

    def __post_init__(self) -> None:
        if (self.verdict is None) == (self.absence is None):
            raise ValueError("a judgement has either a verdict or a reason why there is none")

    def to_json(self) -> dict[str, Any]:
        data: dict[str, Any] = {name: getattr(self, name) for name in _JUDGED}
        data["verdict"] = None if self.verdict is None else self.verdict.value
        data["absence"] = None if self.absence is None else {"code": self.absence.code, "text": self.absence.text}
        data["rests_on"], data["look_next"] = list(self.rests_on), list(self.look_next)
        rounded: dict[str, Any] = kept(data)
        return rounded


_AS_IT_IS = frozenset({str, int, bool, type(None)})


def kept(value: Any) -> Any:
    """Results as they are kept: numbers to twelve significant digits.

    More would be bits of the machine rather than of the result, and a binder that is judged again on another one
    would differ in them.

    >>> kept({"a": [0.1 + 0.2, 3, "x", None, True]})
    {'a': [0.3, 3, 'x', None, True]}
    """
    kind = type(value)
    if kind in _AS_IT_IS:
        return value
    if kind is float or isinstance(value, float):
        return float(f"{value:.12g}")
    if kind is dict or isinstance(value, dict):
        return {
            name: one if (its := type(one)) in _AS_IT_IS else float(f"{one:.12g}") if its is float else kept(one)
            for name, one in value.items()
        }
    if isinstance(value, list | tuple):
        return [
            one if (its := type(one)) in _AS_IT_IS else float(f"{one:.12g}") if its is float else kept(one)
            for one in value
        ]
    return value


_PARTS, _MEASURED, _JUDGED = (tuple(one.name for one in fields(held)) for held in (Share, Measurement, Judgement))
