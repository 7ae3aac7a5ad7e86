"""What is sent of one run of one procedure on one unit. Runs of several units that were one visit share their `run`."""

from typing import Annotated, Literal

from pydantic import AfterValidator, Field, StringConstraints, ValidationInfo, model_validator

from commissioning.catalogue.procedures import LIBRARY, Procedure, Step
from commissioning.dossier import quantities as q
from commissioning.dossier.envelope import Id, Moment
from commissioning.dossier.field_record import FieldRecord, Session
from commissioning.dossier.own_procedures import OWN_CODE
from commissioning.engineering import units

Named = Annotated[str, StringConstraints(min_length=2, max_length=200, strip_whitespace=True)]
Told = Annotated[str, StringConstraints(min_length=5, max_length=1000, strip_whitespace=True)]
Note = Annotated[str, StringConstraints(max_length=1000)]
Hash = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Trade = Literal["mechanical", "electrical", "controls", "fire_alarm", "balancing", "general"]


def _known(code: str) -> str:
    """One of a firm's own is held against what the firm has when it is judged, as the document carries it."""
    if code not in LIBRARY.procedures and not OWN_CODE.fullmatch(code):
        raise ValueError(f"no procedure is called {code}; there are {', '.join(LIBRARY.procedures)}")
    return code


_CODES = {"anyOf": [{"enum": list(LIBRARY.procedures)}, {"pattern": f"^{OWN_CODE.pattern}$"}]}
Code = Annotated[str, AfterValidator(_known), Field(json_schema_extra=_CODES)]


class Simulated(q.Closed):
    """A part that was simulated beyond what the step itself says, and what that leaves untested."""

    part: Told
    untested: Told


class Times(q.Closed):
    """When an interval began and ended, both on one watch."""

    first: q.Duration
    then: q.Duration


class StepAnswer(q.Closed):
    """Exactly one of `yes`, `readings`, `times` or `cannot`, as the step asks; `log` names the trend looked at."""

    step: Annotated[str, StringConstraints(max_length=60)]
    yes: bool | None = None
    readings: q.Series | None = None
    instrument: Id | None = None
    basis: Literal["standard", "actual"] | None = None
    times: Times | None = None
    cannot: Told | None = None
    at: Moment | None = None
    photos: Annotated[list[Hash], Field(max_length=10)] = []
    log: Annotated[str, StringConstraints(max_length=400)] = ""
    simulated: Simulated | None = None
    note: Note = ""


class Witness(q.Closed):
    name: Named
    company: Named
    trade: Trade | None = None
    role: Annotated[str, StringConstraints(max_length=200)] = ""


class Signature(q.Closed):
    """A name typed by whoever signs, and the day; a photo of a signature by its hash where there is one."""

    name: Named
    on: q.Day
    photo: Hash | None = None


class Aborted(q.Closed):
    """Why it was broken off, and the state in which the unit was left."""

    reason: Told
    safe_state: Told


class Wasted(q.Closed):
    """Somebody came and nothing could be tested: why, and by which company's doing."""

    cause: Told
    company: Named


class Deferred(q.Closed):
    """It cannot be done now: what would allow it, who pays the return, who sees to it, and by when."""

    condition: Told
    pays: Named
    owner: Named
    by: q.Day


class RetestOf(q.Closed):
    """The run that this one repeats, and the number of the issue that asked for it."""

    id: Id
    issue: Annotated[int, Field(ge=1)] | None = None


def _fits(given: StepAnswer, info: ValidationInfo) -> StepAnswer:
    """As its step asks; the procedure stands before the answers."""
    procedure = LIBRARY.procedures.get(info.data.get("procedure", ""))
    return given if procedure is None else fitting(procedure, given)


def fitting(procedure: Procedure, given: StepAnswer) -> StepAnswer:
    """The answer, or ValueError where it is none to a step of the procedure."""
    step = procedure.by_id.get(given.step)
    if step is None:
        raise ValueError(f"{procedure.code} has no step {given.step}; it has {', '.join(procedure.by_id)}")
    named = [name for name in ("yes", "readings", "times", "cannot") if getattr(given, name) is not None]
    if named == ["cannot"]:
        return given
    wanted = {"yes_no": "yes", "trend": "yes", "number": "readings", "interval": "times"}[step.answer]
    if named != [wanted]:
        raise ValueError(f"the step {step.id} is answered by `{wanted}`, or by `cannot`, and by one of them")
    if step.answer == "trend" and not given.log.strip():
        raise ValueError(f"the step {step.id} names the trend that was looked at, as `log`")
    if given.readings is not None:
        _reading_fits(step, given, given.readings)
    return given


def _reading_fits(step: Step, given: StepAnswer, readings: q.Series) -> None:
    quantity = units.quantity_of(step.unit)
    low, high = {"temperature": (-50.0, 80.0), "airflow": (0.0, 500.0)}.get(quantity, (-1e6, 1e6))
    q.check(quantity, low, high, readings.values, readings.unit)
    if step.measured and given.instrument is None:
        raise ValueError(f"the step {step.id} is measured; name the instrument")
    if quantity == "airflow" and given.basis is None:
        raise ValueError(f"the airflow of {step.id} is of standard or of actual air; say which, as `basis`")


class RunPayload(FieldRecord):
    """One that is `aborted`, `wasted` or `deferred` says so by that field; without one it was carried through.

    `settings` names the record of the settings that it ran with; without it the newest before the run counts.
    """

    stage: Literal["preliminary", "final"] = "final"
    session: Session = Session(id="functional tests", purpose="verification")
    grade: Literal["measured", "witnessed", "transcribed", "controller"] = "measured"
    procedure: Code
    version: Annotated[int, Field(ge=1)]
    run: Annotated[str, StringConstraints(min_length=1, max_length=100, strip_whitespace=True)]
    settings: Id | None = None
    answers: Annotated[list[Annotated[StepAnswer, AfterValidator(_fits)]], Field(max_length=100)] = []
    witnesses: Annotated[list[Witness], Field(max_length=20)] = []
    signature: Signature | None = None
    aborted: Aborted | None = None
    wasted: Wasted | None = None
    deferred: Deferred | None = None
    retest_of: RetestOf | None = None

    @property
    def outcome(self) -> str:
        named = [name for name in ("aborted", "wasted", "deferred") if getattr(self, name) is not None]
        return named[0] if named else "carried_through"

    def held_to(self, procedure: Procedure) -> None:
        """ValueError where it was run by a version that is not there yet."""
        if self.version > procedure.version:
            raise ValueError(f"{procedure.code} has version {procedure.version} here; update before you send")

    @model_validator(mode="after")
    def _one_outcome(self) -> "RunPayload":
        named = [name for name in ("aborted", "wasted", "deferred") if getattr(self, name) is not None]
        if len(named) > 1:
            raise ValueError(f"a run is {' or '.join(named)}, not both; send what happened last, the rest as a note")
        if self.outcome == "carried_through" and not self.answers:
            raise ValueError("no step is answered; answer one, or say why it was aborted, wasted or deferred")
        if self.outcome in ("wasted", "deferred") and self.answers:
            raise ValueError(f"nothing was tested in a run that is {self.outcome}; leave the answers out")
        return self

    @model_validator(mode="after")
    def _each_step_once(self) -> "RunPayload":
        known = LIBRARY.procedures.get(self.procedure)
        if known is not None:
            self.held_to(known)
        ids = [one.step for one in self.answers]
        twice = sorted({id for id in ids if ids.count(id) > 1})
        if twice:
            raise ValueError(f"in one run {', '.join(twice)} is answered twice; send what holds")
        return self


def facts(payload: RunPayload) -> tuple[bool, str]:
    """Lists show the run where others show the session."""
    return payload.stage == "final", payload.run
