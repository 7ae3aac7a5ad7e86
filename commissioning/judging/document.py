"""The judging document: self-contained, judged anywhere, the same that the server makes from its tables."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from pydantic import BaseModel, TypeAdapter, ValidationError

from commissioning.dossier.document_model import (
    ConventionsModel,
    InstrumentModel,
    JudgingDocumentModel,
    PositionModel,
)
from commissioning.dossier.envelope import Envelope
from commissioning.dossier.faults import problems_of
from commissioning.dossier.own_checks import merged
from commissioning.dossier.own_equipment import unknown_in
from commissioning.dossier.problem import Problem, pointer_of
from commissioning.judging import standing
from commissioning.judging.position import (
    PositionDossier,
    dossier_of,
    hashes_of,
    judge_position,
    problems_json,
)
from commissioning.judging.reading import Read, envelope_of, read_envelope

RESULT_SCHEMA = "ventfolio/judgements/1"
UNSETTLED = frozenset({"not_due", "not_judged", "recheck", "disputed"})


class DocumentError(ValueError):
    """A judging document that cannot be read: every fault with its place."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        first = problems[0]
        super().__init__(f"{first.pointer or 'the document'}: {first.reason}")

    def to_json(self) -> dict[str, Any]:
        rows = problems_json((None, problem) for problem in self.problems)
        return {"schema": RESULT_SCHEMA, "positions": [], "problems": rows}


@dataclass
class _Pile:
    """The envelopes of a document: each id once, what stands, and what is wrong with the rest."""

    held: dict[UUID, tuple[Envelope, Any]] = field(default_factory=dict)
    problems: list[tuple[UUID | None, Problem]] = field(default_factory=list)
    clashing: set[UUID] = field(default_factory=set)

    def take(self, read: Read, values: Any, index: int) -> None:
        envelope = read.frame
        if envelope is None:
            self.problems += [(None, _at(index, problem)) for problem in read.problems]
        elif envelope.id not in self.held:
            self.held[envelope.id] = (envelope, values)
        elif self.held[envelope.id][1] != values:
            self.clashing.add(envelope.id)

    def by_position(self) -> dict[UUID, tuple[list[tuple[Envelope, Any]], list[tuple[UUID, Problem]]]]:
        """What stands at each position, and the problems that belong to it."""
        envelopes = {id: envelope for id, (envelope, _) in self.held.items() if id not in self.clashing}
        gone = standing.superseded(envelopes.values())
        faults = dict(standing.circles(envelopes))
        faults |= {id: _clash(id) for id in self.clashing}
        found: dict[UUID, tuple[list[tuple[Envelope, Any]], list[tuple[UUID, Problem]]]] = defaultdict(lambda: ([], []))
        for id, (envelope, values) in self.held.items():
            stands, problems = found[envelope.position]
            if id in faults:
                problems.append((id, faults[id]))
            elif id not in gone:
                stands.append((envelope, values))
        for _, problems in found.values():
            problems.sort(key=lambda one: str(one[0]))
        return found


def judge_document(document: Any) -> dict[str, Any]:
    """The judgements of every position of a document. Raises DocumentError where it cannot be read."""
    _validate(TypeAdapter(JudgingDocumentModel), document, ())
    _check_ids(document)
    _check_own_words(document)
    instruments = {str(UUID(one["id"])): one for one in document.get("instruments", ())}
    pile = _piled(document.get("envelopes", ()))
    grouped = pile.by_position()
    positions, problems = [], list(pile.problems)
    for position in document["positions"]:
        stands, faults = grouped.pop(UUID(position["id"]), ([], []))
        dossier = dossier_of(
            conventions=document["conventions"],
            instruments=instruments,
            position=position,
            given=stands,
            problems=faults,
        )
        result = judge_position(dossier)
        problems += result.problems
        found = result.to_json()
        positions.append(
            {
                "id": str(UUID(position["id"])),
                "tag": position["tag"],
                "inputs_hash": dossier.inputs_hash,
                "measurements": found["measurements"],
                "judgements": found["judgements"],
            }
        )
    problems += [(envelope.id, _elsewhere(envelope)) for stands, _ in grouped.values() for envelope, _ in stands]
    problems += [one for _, faults in grouped.values() for one in faults]
    return {"schema": RESULT_SCHEMA, "positions": positions, "problems": problems_json(problems)}


@dataclass(frozen=True)
class Prepared:
    """One position read and hashed; `judge` does the rest, and only when it is asked."""

    dossier: PositionDossier
    unreadable: tuple[tuple[UUID | None, Problem], ...]

    @property
    def hashes(self) -> tuple[str, str]:
        """Of the inputs, and of the versions of all kinds and rules."""
        return hashes_of(self.dossier)

    def judge(self) -> dict[str, Any]:
        found = judge_position(self.dossier).to_json()
        return {**found, "problems": [*found["problems"], *problems_json(self.unreadable)]}


_POSITION, _CONVENTIONS, _INSTRUMENT = (
    TypeAdapter(model) for model in (PositionModel, ConventionsModel, InstrumentModel)
)


def prepare(document: Mapping[str, Any]) -> Prepared:
    """A document of one position, as the server assembles it; only the instruments that were used are looked at."""
    (position,) = document["positions"]
    _validate(_POSITION, position, ("positions", 0))
    _validate(_CONVENTIONS, document["conventions"], ("conventions",))
    _check_own_words(document)
    pile = _piled(document["envelopes"])
    stands, faults = pile.by_position().get(UUID(position["id"]), ([], []))
    dossier = dossier_of(
        conventions=document["conventions"],
        instruments={one["id"]: one for one in document["instruments"]},
        position=position,
        given=stands,
        problems=faults,
    )
    for index, tool in enumerate(dossier.inputs["instruments"]):
        _validate(_INSTRUMENT, tool, ("instruments", index))
    return Prepared(dossier, tuple(pile.problems))


def exit_code(result: Mapping[str, Any]) -> int:
    """0 all conform, 1 some do not, 2 none fails but something is not settled."""
    judgements = [one for position in result["positions"] for one in position["judgements"]]
    verdicts = {one["verdict"] for one in judgements} - {None}
    absences = {one["absence"]["code"] for one in judgements if one["absence"]}
    if "does_not_conform" in verdicts:
        return 1
    settled = verdicts == {"conforms"} and not absences & UNSETTLED and not result["problems"]
    return 0 if settled else 2


def _piled(envelopes: Sequence[Any]) -> _Pile:
    pile = _Pile()
    for index, given in enumerate(envelopes):
        if isinstance(given, str):
            read, values = _parsed(given)
        else:
            read, values = envelope_of(given), given
        pile.take(read, values, index)
    return pile


def _parsed(text: str) -> tuple[Read, Any]:
    read = read_envelope(text.encode("utf-8", "surrogatepass"))
    return read, read.values


def _validate(adapter: TypeAdapter[Any], given: Any, above: tuple[str | int, ...]) -> BaseModel:
    try:
        return adapter.validate_python(given)  # type: ignore[no-any-return]
    except ValidationError as error:
        raise DocumentError(problems_of(error, given, above)) from None


def _check_ids(document: Mapping[str, Any]) -> None:
    problems = []
    for group in ("positions", "instruments"):
        seen: set[UUID] = set()
        for index, one in enumerate(document.get(group, ())):
            id = UUID(one["id"])
            if id in seen:
                where = pointer_of((group, index, "id"))
                problems.append(Problem(where, str(id), "This id stands twice.", "Give each its own id."))
            seen.add(id)
    if problems:
        raise DocumentError(problems)


def _check_own_words(document: Mapping[str, Any]) -> None:
    """What the designs name of the firm's own stands in the version that the document carries."""
    words = merged(document["conventions"].get("own_checks")).words
    held = enumerate(document["positions"])
    problems = [one for at, place in held for one in unknown_in(place["design"], words, ("positions", at, "design"))]
    if problems:
        raise DocumentError(problems)


def _at(index: int, problem: Problem) -> Problem:
    return Problem(f"/envelopes/{index}{problem.pointer}", problem.value, problem.reason, problem.remedy)


def _clash(id: UUID) -> Problem:
    reason = "Two different envelopes have this id: neither is evaluated."
    return Problem("/id", str(id), reason, "A changed record is a new envelope that supersedes the old one.")


def _elsewhere(envelope: Envelope) -> Problem:
    reason = "No position of this document has this id."
    return Problem("/position", str(envelope.position), reason, "Add the position, or leave the envelope out.")
