"""What a result looks like, for those who read it: the schema of `ventfolio/judgements/1`. Judging itself writes it."""

from typing import Annotated, Any, Literal

from pydantic import Field

from commissioning.dossier.quantities import Closed

Verdict = Literal["conforms", "does_not_conform", "inconclusive"]
Hash = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


class BudgetPart(Closed):
    """One line of an uncertainty budget: its size in the value's unit, how it was found, its share of the variance."""

    name: str
    standard_uncertainty: float
    kind: Literal["A", "B"]
    source: str
    share: float


class MeasurementModel(Closed):
    """What one envelope amounts to at one port, on the design's air basis. SI units, named in each field."""

    envelope: str
    kind: str
    port: str
    airflow_m3_s: float
    standard_uncertainty_m3_s: float
    expanded_uncertainty_m3_s: float
    coverage_factor: float
    degrees_of_freedom: Annotated[float | None, Field(description="null is as good as infinite")]
    budget: list[BudgetPart]
    basis: Literal["standard", "actual"]
    basis_assumed: bool
    actual_airflow_m3_s: float
    density_kg_m3: float
    standard_density_kg_m3: float
    method: str
    equation: str
    readings: int
    inputs: list[list[str]]
    grade: str
    stage: Literal["preliminary", "final"]
    session: str
    purpose: Literal["as_left", "verification"]
    mode: str
    observed_at: str
    instrument: str | None
    calibration: Literal["in_date", "lapsed", "failed", "none", "not_applicable"]
    certificate: str
    serial_seen: str | None
    faults: Annotated[list[str], Field(description="why the operating state does not allow a verdict")]
    unseen: Annotated[list[str], Field(description="parts of the operating state that nobody looked at")]
    remarks: list[str]
    state: dict[str, str]
    fans: list[dict[str, Any]]
    static_pressures: Annotated[list[list[str | float]], Field(description="where, and Pa")]
    instruments: Annotated[list[str], Field(description="all that were used; `instrument` is the first")]
    doubts: Annotated[list[str], Field(description="why the method bears no verdict here")]
    facts: dict[str, Any]


class FigureModel(Closed):
    """One quantity of a record that is not airflow, with its uncertainty. SI."""

    name: str
    at: Annotated[str, Field(description="where on the unit; empty for the unit as a whole")]
    value: float
    unit: str
    standard_uncertainty: float | None
    expanded_uncertainty: float | None
    coverage_factor: float | None
    degrees_of_freedom: Annotated[float | None, Field(description="null is as good as infinite")]
    budget: list[BudgetPart]
    equation: str
    source: str
    inputs: list[list[str]]
    doubts: Annotated[list[str], Field(description="why it is shown and not judged")]


class FiguresModel(Closed):
    """What one envelope of any kind but airflow amounts to."""

    envelope: str
    kind: str
    port: str
    figures: list[FigureModel]
    method: str
    grade: str
    stage: Literal["preliminary", "final"]
    session: str
    purpose: Literal["as_left", "verification"]
    mode: str
    observed_at: str
    instrument: Annotated[str | None, Field(description="the first of `instruments`")]
    instruments: list[str]
    calibration: Annotated[
        Literal["in_date", "lapsed", "failed", "none", "not_applicable"],
        Field(description="the worst of its instruments"),
    ]
    certificate: str
    serial_seen: str | None
    faults: Annotated[list[str], Field(description="why the operating state does not allow a verdict")]
    unseen: Annotated[list[str], Field(description="parts of the operating state that nobody looked at")]
    remarks: list[str]
    state: dict[str, str]
    facts: dict[str, Any]


class AbsenceModel(Closed):
    """Why there is no verdict."""

    code: Literal["not_due", "not_given", "not_judged", "recheck", "disputed", "not_counted"]
    text: str


class JudgementModel(Closed):
    """A requirement applied: exactly one of `verdict` and `absence` is not null."""

    requirement: str
    port: Annotated[str, Field(description="empty for the unit as a whole")]
    rule_version: int
    verdict: Verdict | None
    absence: AbsenceModel | None
    provisional: bool
    value: Annotated[float | None, Field(description="in `unit`; a deviation is a fraction of design")]
    expanded_uncertainty: float | None
    unit: str
    low: float | None
    high: float | None
    clause: str
    rule: str
    margin: float | None
    conformance_probability: float | None
    rests_on: Annotated[list[str], Field(description="ids of envelopes")]
    sources: dict[str, str]
    facts: Annotated[dict[str, Any], Field(description="what else the working of this requirement shows")]
    look_next: Annotated[list[str], Field(description="in the order of diagnosis")]
    remedy: str


class JudgedPosition(Closed):
    id: str
    tag: str
    inputs_hash: Hash
    measurements: list[MeasurementModel | FiguresModel]
    judgements: list[JudgementModel]


class ProblemModel(Closed):
    """`field` is a JSON pointer into the envelope, or into the document where no envelope could be read."""

    envelope: str | None
    field: str
    value: str
    reason: str
    remedy: str


class JudgementsModel(Closed):
    schema_: Annotated[Literal["ventfolio/judgements/1"], Field(alias="schema")]
    positions: list[JudgedPosition]
    problems: list[ProblemModel]
