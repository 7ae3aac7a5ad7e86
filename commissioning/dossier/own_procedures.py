"""Functional procedures of a firm's own, and steps of the catalogue's that it words otherwise; merged with them. Pure.

No procedure of the catalogue is dropped, and nothing of it changes but the words of steps: its cautions, what it needs,
its criteria and its restoring stay. One of the firm's own is held to all that the catalogue's own are held to.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints, model_validator
from pydantic_core import PydanticCustomError

from commissioning.catalogue import procedures
from commissioning.catalogue.procedures import LIBRARY, Library, Procedure, Step
from commissioning.dossier import quantities as q
from commissioning.dossier.own_equipment import OWN_ID
from commissioning.dossier.procedures.named import strange

OWN_CODE = re.compile(r"own_[a-z]{3,16}")  # it stands where a port stands
MOST = 60
MOST_STEPS = 60

Id = Annotated[str, StringConstraints(min_length=1, max_length=50)]
Words = Annotated[str, StringConstraints(min_length=3, max_length=600, strip_whitespace=True)]
Line = Annotated[str, StringConstraints(max_length=400, strip_whitespace=True)]
Codes = Annotated[list[Id], Field(max_length=60)]
Version = Annotated[int, Field(ge=1, le=9999)]
_AS_THE_CATALOGUE = "Mend it; the rules for procedures are in docs/judging-document.md."


def _refused(reason: str, remedy: str) -> PydanticCustomError:
    return PydanticCustomError("own_procedures", "{reason}", {"reason": reason, "remedy": remedy})


class ProcedureWhenModel(q.Closed):
    """One way in which it applies: all that is named has to hold; of a list, any one.

    Kinds, options and sensors of the firm's own are those of `own_checks`; one that is not there never holds.
    """

    kinds: Codes = []
    options: Codes = []
    sensors: Codes = []
    settings: dict[Id, Annotated[list[bool | Id], Field(min_length=1, max_length=20)]] = {}


class NeedsModel(q.Closed):
    """What has to be so before it begins; `present` are trades."""

    season: Words
    occupancy: Words
    coordination: Words
    present: Codes = []


class StepModel(q.Closed):
    """A step of a procedure, as the catalogue's files have it."""

    id: Id
    do: Words
    expect: Words
    part: Literal["run", "restore"] = "run"
    answer: Literal["yes_no", "number", "interval", "trend"] = "yes_no"
    photo: bool = False
    measured: bool = False
    caution: Codes = []
    who: Annotated[str, StringConstraints(max_length=50)] = ""
    first: Line = ""
    then: Line = ""
    unit: Annotated[str, StringConstraints(max_length=20)] = ""
    unit_ip: Annotated[str, StringConstraints(max_length=20)] = ""
    low: q.Number | None = None
    high: q.Number | None = None
    offset: bool = False
    expects: Annotated[str, StringConstraints(max_length=50)] = ""
    source: Line = ""
    simulated: Line = ""
    untested: Line = ""
    trend: Annotated[list[Annotated[str, StringConstraints(max_length=100)]], Field(max_length=20)] = []
    leaves: Line = ""
    look: Line = ""
    when: Annotated[list[ProcedureWhenModel], Field(max_length=20)] = []
    retired: bool = False

    @model_validator(mode="after")
    def _holds_together(self) -> "StepModel":
        made = procedures.step_built(self.model_dump())
        faults = list(procedures.faults_of_step(made, is_own=OWN_ID.fullmatch))
        if faults:
            raise _refused(f"the step {self.id}: {'; '.join(faults)}", _AS_THE_CATALOGUE)
        return self


class ProcedureModel(q.Closed):
    """A procedure of the firm's own, with all that one of the catalogue has."""

    code: Id
    title: Annotated[str, StringConstraints(min_length=3, max_length=120, strip_whitespace=True)]
    version: Version
    why: Words
    needs: NeedsModel
    safe_state: Words
    step: Annotated[list[StepModel], Field(min_length=2, max_length=MOST_STEPS)]
    counts_from: Version = 1
    caution: Codes = []
    when: Annotated[list[ProcedureWhenModel], Field(max_length=20)] = []
    otherwise: Line = ""
    settings: Codes = []
    touched: bool = False
    witnessed: bool = False

    @model_validator(mode="after")
    def _holds_together(self) -> "ProcedureModel":
        if self.code in LIBRARY.procedures:
            remedy = "Give it a code of your own; the words of the catalogue's steps change under `reword`."
            raise _refused(f"the procedure {self.code} is the catalogue's and is not replaced", remedy)
        if not OWN_CODE.fullmatch(self.code):
            remedy = "Begin it with own_ and 3 to 16 small letters, like own_hood."
            raise _refused(f"the code {self.code} is none of a firm's own", remedy)
        made = self.procedure
        faults = [*procedures.faults(made, is_own=OWN_ID.fullmatch), *strange(made)]
        if faults:
            raise _refused(f"the procedure {self.code}: {'; '.join(faults)}", _AS_THE_CATALOGUE)
        return self

    @property
    def procedure(self) -> Procedure:
        return procedures.built(self.model_dump())


class RewordedStepModel(q.Closed):
    """Other words of a step of the catalogue; what is not named stays."""

    procedure: Id
    step: Id
    do: Words | None = None
    expect: Words | None = None
    look: Words | None = None

    @model_validator(mode="after")
    def _may_change(self) -> "RewordedStepModel":
        step = self._known()
        if not self.words:
            raise _refused(f"nothing of {self.step} is worded otherwise", "Name do, expect or look, or leave it out.")
        faults = list(procedures.faults_of_step(replace(step, **self.words)))
        if faults:
            raise _refused(f"the step {self.step} of {self.procedure}: {'; '.join(faults)}", _AS_THE_CATALOGUE)
        held = LIBRARY.procedures[self.procedure]
        steps = tuple(replace(one, **self.words) if one.id == self.step else one for one in held.steps)
        faults = list(procedures.faults(replace(held, steps=steps)))
        if faults:
            raise _refused(f"the procedure {self.procedure}: {'; '.join(faults)}", _AS_THE_CATALOGUE)
        return self

    def _known(self) -> Step:
        held = LIBRARY.procedures.get(self.procedure)
        if held is None:
            remedy = "Take its code from the catalogue's list; what is your own is changed under `add`."
            raise _refused(f"no procedure of the catalogue is called {self.procedure}", remedy)
        step = held.by_id.get(self.step)
        if step is None:
            raise _refused(f"{self.procedure} has no step {self.step}", f"Its steps are {', '.join(held.by_id)}.")
        why = _why_it_stays(held, step)
        if why:
            remedy = "Leave it as it is; what you want beside it is a procedure of your own."
            raise _refused(f"the step {self.step} of {self.procedure} keeps its words: {why}", remedy)
        return step

    @property
    def words(self) -> dict[str, Any]:
        return self.model_dump(exclude={"procedure", "step"}, exclude_none=True)


def _why_it_stays(procedure: Procedure, step: Step) -> str:
    """Why a step of the catalogue is not worded otherwise; empty where it may be."""
    if procedure.witnessed:
        return "the test is the fire alarm contractor's"
    if step.part == "restore":
        return "it restores the unit, or proves it restored"
    if step.caution or step.who == "electrical":
        return "people may be hurt at it"
    return ""


def may_be_worded(procedure: Procedure) -> tuple[str, ...]:
    return tuple(one.id for one in procedure.steps if not _why_it_stays(procedure, one))


class OwnProceduresModel(q.Closed):
    """A version of what a firm has of its own."""

    version: Annotated[int, Field(ge=1)] = 1
    add: Annotated[list[ProcedureModel], Field(max_length=MOST)] = []
    reword: Annotated[list[RewordedStepModel], Field(max_length=400)] = []

    @model_validator(mode="after")
    def _each_once(self) -> "OwnProceduresModel":
        codes = [*(one.code for one in self.add), *(f"{one.procedure}, {one.step}" for one in self.reword)]
        twice = sorted({code for code in codes if codes.count(code) > 1})
        if twice:
            raise _refused(f"{'; '.join(twice)} stands twice", "Add a procedure, or word a step, once.")
        return self


def merged(own: Mapping[str, Any] | None) -> Library:
    """The catalogue with what a firm has of its own, which comes last; from values that were validated."""
    return _merged(json.dumps(own, sort_keys=True)) if own else LIBRARY


@lru_cache(maxsize=32)
def _merged(own: str) -> Library:
    held = OwnProceduresModel.model_validate_json(own)
    words = {(one.procedure, one.step): one.words for one in held.reword}
    found = {code: _worded(one, words) for code, one in LIBRARY.procedures.items()}
    return Library(LIBRARY.version, found | {one.code: one.procedure for one in held.add})


def _worded(procedure: Procedure, words: Mapping[tuple[str, str], Mapping[str, Any]]) -> Procedure:
    if not any(code == procedure.code for code, _ in words):
        return procedure
    steps = (replace(one, **words.get((procedure.code, one.id), {})) for one in procedure.steps)
    return replace(procedure, steps=tuple(steps))


def own_of(procedure: Procedure) -> dict[str, Any]:
    """What a judgement keeps of a procedure that is not as in the catalogue, so that it can be read alone."""
    return {} if LIBRARY.procedures.get(procedure.code) == procedure else {"own": procedures.plain(procedure)}


def procedure_in(facts: Mapping[str, Any]) -> Procedure | None:
    """The procedure of a run or a judgement, from what was kept with it."""
    own = facts.get("own")
    return procedures.built(own) if own else LIBRARY.procedures.get(facts["procedure"])
