"""The frozen document (`ventfolio/binder/1`): all that a binder shows, and all that it takes to judge it again.

Pure: read here without a database, on any machine, years later. docs/binder.md describes it, docs/binder-schema.json
is made from these models: `python -m commissioning.binders.document docs/binder-schema.json`.
"""

import hashlib
import json
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter, ValidationError

from commissioning import judging
from commissioning.dossier import strict_json
from commissioning.dossier.canonical import canonical_json, sha256_hex
from commissioning.dossier.faults import problems_of
from commissioning.dossier.problem import Problem
from commissioning.dossier.quantities import Closed, Number

SCHEMA = "ventfolio/binder/1"
MOST_BYTES = 512 * 1024 * 1024

Sha256 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Moment = Annotated[str, Field(description="with its offset, in the zone of the site")]


class AskedModel(Closed):
    """Who asked for the binder and when. Not part of the document that is handed over, nor of its hash."""

    by: str
    at: Moment


class NamedModel(Closed):
    id: str
    name: str


class ProjectModel(NamedModel):
    code: str


class SiteModel(Closed):
    name: str
    address: str
    time_zone: str
    elevation_m: Number


class BuildingModel(NamedModel):
    site: SiteModel


class MachineModel(Closed):
    serial: str
    maker: str
    model: str
    since: str
    until: str | None


class StandingModel(Closed):
    code: str
    sentence: str
    company: str | None
    since: str | None
    due: str | None


class SignatureModel(Closed):
    """The newest signature for a unit. `statement` is what was signed, by the hash of each judgement as it was then."""

    number: int
    by: str
    at: Moment
    note: str
    sha256: Sha256
    statement: dict[str, Any]
    stands: bool
    void: str


class UnitModel(Closed):
    """What a position is beside what judging needs of it."""

    position: str
    tag: str
    kind: str
    building: str
    location: str
    scope: str
    scope_in_words: str
    scope_reason: str
    also_called: list[str]
    serves: list[str]
    machines: list[MachineModel]
    standing: StandingModel
    signature: SignatureModel | None = None


class CheckModel(Closed):
    position: str
    tag: str
    requirement: str
    port: str
    outcome: str


class EventModel(Closed):
    at: Moment
    who: str
    act: str
    before: str
    after: str
    text: str
    photo: str | None


class IssueModel(Closed):
    number: int
    title: str
    state: str
    state_in_words: str
    is_open: bool
    priority: str
    root_cause: str
    company: str | None
    assignee: str | None
    due: str | None
    opened_at: Moment
    moved_at: Moment
    wasted_call_outs: int
    checks: list[CheckModel]
    story: list[EventModel]


class NotTestedModel(Closed):
    position: str
    tag: str
    requirement: str
    port: str
    code: str
    text: str


class SupersededModel(Closed):
    by: str
    reason: str


class EvidenceModel(Closed):
    """A line of the manifest: one envelope as it was received. `held` says where its bytes are in this document."""

    id: str
    position: str
    tag: str
    kind: str
    sha256: Sha256
    observed_at: str
    observed_by: str
    received_at: Moment
    sent_by: str
    session: str
    is_final: bool
    held: Literal["judging", "set_aside"]
    superseded: list[SupersededModel]


class SetAsideModel(Closed):
    """Kept as it came and never evaluated: the bytes, and why."""

    id: str
    raw: str
    problems: list[dict[str, Any]]


class PhotoModel(Closed):
    """`sha256` is of the bytes as they came; `view` of the copy without place and device, which is in the binder."""

    sha256: Sha256
    view: Sha256 | None
    missing: str
    caption: str
    belongs_to: str


class SampledUnitModel(Closed):
    """A unit of a population in the order of its draw; `outcome` is null where it was not drawn."""

    rank: int
    position: str
    tag: str
    outcome: Literal["agrees", "differs", "corrected", "due", "not_counted"] | None


class StratumModel(Closed):
    stratum: str
    population: int
    sample: int
    is_whole: bool
    due: int
    sentence: str
    order: list[SampledUnitModel]


class SampleModel(Closed):
    """A verification sample. With units still to be repeated it names neither its seed nor its units."""

    number: int
    title: str
    procedure: str = ""  # the functional test that is run at the drawn units; empty where airflows are repeated
    enlarges: int | None
    drawn_by: str
    drawn_at: Moment
    seed: str
    seed_by: Literal["typed", "server"]
    confidence: Number
    largest_defective_share: Number
    accept: int
    is_due: bool
    strata: list[StratumModel]


class WithheldModel(Closed):
    """An envelope that says it supersedes another without having had the right to: so it does not."""

    envelope: str
    names: str


class MadeWithModel(Closed):
    software: str
    rules: dict[str, int]
    kinds: dict[str, int]
    rules_hash: str
    libraries: dict[str, str]
    fonts: dict[str, str]


class BinderModel(Closed):
    schema_: Annotated[Literal["ventfolio/binder/1"], Field(alias="schema")]
    title: str
    as_of: Moment
    asked: AskedModel | None = None
    made_with: MadeWithModel
    project: ProjectModel
    owner: NamedModel
    firm: NamedModel
    buildings: list[BuildingModel]
    units: list[UnitModel]
    judging: dict[str, Any]
    judged: dict[str, Any]
    withheld: list[WithheldModel]
    set_aside: list[SetAsideModel]
    issues: list[IssueModel]
    not_tested: list[NotTestedModel]
    samples: list[SampleModel] = []
    manifest: list[EvidenceModel]
    photos: list[PhotoModel]


_BINDER: TypeAdapter[BinderModel] = TypeAdapter(BinderModel)


class Unreadable(ValueError):
    """Not a frozen document: the first fault, with its place."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        super().__init__(f"{problem.pointer or 'the document'}: {problem.reason} ({problem.value})")


def read(data: bytes) -> dict[str, Any]:
    """The frozen document in these bytes, read strictly and checked field by field."""
    try:
        found = strict_json.parse(data, most_bytes=MOST_BYTES)
    except strict_json.StrictError as error:
        raise Unreadable(Problem(error.pointer, error.value, error.reason, error.remedy)) from None
    try:
        _BINDER.validate_python(found)
    except ValidationError as error:
        raise Unreadable(problems_of(error, found)[0]) from None
    document: dict[str, Any] = found
    return document


def handed_over(document: Mapping[str, Any]) -> bytes:
    """The document as it is attached: without who asked when, so that two who ask for the same get the same bytes."""
    return canonical_json({name: value for name, value in document.items() if name != "asked"})


def input_hash(document: Mapping[str, Any]) -> str:
    """Equal inputs have equal hashes; it is the SHA-256 of the attached file."""
    return sha256_hex(handed_over(document))


def schema_text() -> str:
    """The published schema, as it is kept in docs/."""
    held = {"$schema": "https://json-schema.org/draft/2020-12/schema", **_BINDER.json_schema(by_alias=True)}
    return json.dumps(held, indent=1, ensure_ascii=False, sort_keys=True) + "\n"


def judged(document: Mapping[str, Any]) -> dict[str, Any]:
    """What judging says of the document, from the bytes of the evidence. May raise judging.DocumentError."""
    given = document["judging"]
    result = judging.judge_document(given)
    claims = document["withheld"]
    if not claims:
        return result
    place_of = {one["id"]: one["position"] for one in document["manifest"]}
    for position in sorted({place_of[claim["names"]] for claim in claims}):
        without = {claim["envelope"] for claim in claims if place_of[claim["names"]] == position}
        alone = judging.judge_document(_without(given, position, without))["positions"]
        result["positions"] = [alone[0] if one["id"] == position else one for one in result["positions"]]
    return result


def _without(given: Mapping[str, Any], position: str, envelopes: set[str]) -> dict[str, Any]:
    def is_kept(raw: str) -> bool:
        frame = judging.read_envelope(raw.encode()).frame
        return frame is None or str(frame.id) not in envelopes

    return {
        **given,
        "positions": [one for one in given["positions"] if one["id"] == position],
        "envelopes": [raw for raw in given["envelopes"] if is_kept(raw)],
    }


def not_tested(result: Mapping[str, Any], units: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Every requirement that has no verdict, with the reason; and units that no requirement speaks of."""
    held = {one["id"]: one["judgements"] for one in result["positions"]}
    found = []
    for unit in units:
        where = {"position": unit["position"], "tag": unit["tag"]}
        judgements = held.get(unit["position"], [])
        for one in judgements:
            if one["absence"] is not None:
                told = {"requirement": one["requirement"], "port": one["port"], **one["absence"]}
                found.append({**where, **told})
        if not judgements:
            said = unit["scope_reason"] or unit["standing"]["sentence"]
            found.append({**where, "requirement": "", "port": "", "code": "not_judged", "text": said})
    return found


def raw_hash(raw: str) -> str:
    """The hash of an envelope's bytes: its text is exactly their UTF-8."""
    return hashlib.sha256(raw.encode("utf-8", "surrogatepass")).hexdigest()


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(schema_text(), encoding="utf-8")
