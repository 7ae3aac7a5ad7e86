"""One position judged: everything that stands about it in, what it amounts to out. No clock, no chance, no order."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any
from uuid import UUID

from commissioning.blocks import to_json
from commissioning.dossier.canonical import canonical_json, sha256_hex
from commissioning.dossier.envelope import Envelope
from commissioning.dossier.figures import Figures
from commissioning.dossier.given import Conventions, Instrument, Place
from commissioning.dossier.problem import Problem
from commissioning.dossier.results import Absence, Judgement, Measurement
from commissioning.dossier.startup.temporary import never_final
from commissioning.dossier.view import View
from commissioning.engineering.guards import OutOfRange
from commissioning.judging.registry import KINDS, RULES, Requirement, rules_hash
from commissioning.requirements.design_airflow import band

Located = tuple[UUID, Problem]
_WORST_FIRST = ("does_not_conform", "inconclusive", "conforms")


@dataclass(frozen=True)
class PositionDossier:
    """All that a judging of one position rests on; `inputs` is the same as plain JSON values, for the hash."""

    place: Place
    conventions: Conventions
    instruments: Mapping[str, Instrument]
    envelopes: tuple[Envelope, ...]  # those that stand and can be evaluated, in the order of observation
    problems: tuple[Located, ...]
    inputs: Mapping[str, Any]

    @cached_property
    def inputs_hash(self) -> str:
        return sha256_hex(canonical_json(self.inputs))


@dataclass(frozen=True, slots=True)
class PositionResult:
    measurements: tuple[Measurement | Figures, ...]
    judgements: tuple[Judgement, ...]
    problems: tuple[Located, ...]

    def to_json(self) -> dict[str, Any]:
        judgements = [one.to_json() for one in self.judgements]
        return {
            "measurements": [one.to_json() for one in self.measurements],
            "judgements": judgements,
            "problems": problems_json(self.problems),
            "band": worst_band(judgements),
        }


def inputs_hash(dossier: PositionDossier) -> str:
    """Equal inputs have equal hashes, however they arrived."""
    return dossier.inputs_hash


def judge_position(dossier: PositionDossier) -> PositionResult:
    measurements: list[Measurement | Figures] = []
    problems = list(dossier.problems)
    for envelope in dossier.envelopes:
        kind = KINDS[envelope.kind]
        try:
            measurements += kind.measure(envelope, dossier.place, dossier.conventions, dossier.instruments)
        except ValueError as error:  # what only shows when all is put together, like a humidity that cannot be there
            problems.append((envelope.id, _not_evaluated(error)))
    measurements = never_final(measurements, dossier.place)
    problems += _other_machine(dossier.place, measurements)
    view = View(
        dossier.place,
        dossier.conventions,
        dossier.instruments,
        measurements=[one for one in measurements if isinstance(one, Measurement)],
        records=[one for one in measurements if isinstance(one, Figures)],
    )
    judgements = tuple(judgement for rule in RULES.values() for judgement in _judged(rule, view))
    return PositionResult(tuple(measurements), judgements, tuple(problems))


def _judged(rule: Requirement, view: View) -> list[Judgement]:
    """A number for which no formula holds leaves its own requirement without a verdict, not the unit."""
    try:
        return list(rule.judge(view))
    except OutOfRange as error:
        text = f"A number lies where no formula holds: {error}. Look at what was recorded and designed."
        refused = {"refused": error.quantity}
        return [Judgement(rule.CODE, "", rule.VERSION, absence=Absence("not_judged", text), facts=refused)]


def _other_machine(place: Place, measurements: Iterable[Measurement | Figures]) -> list[Located]:
    """Records that saw another serial than the machine that sits here: perhaps saved on the wrong unit."""
    found: dict[str, Located] = {}
    for one in measurements:
        if one.serial_seen and place.is_another_machine(one.serial_seen, one.when):
            found[one.envelope] = (
                UUID(one.envelope),
                Problem(
                    "/payload/serial_seen",
                    one.serial_seen,
                    f"Here sits {place.machine_serial}.",
                    "Move the record to the unit that it was read on, or record the change of machine.",
                ),
            )
    return list(found.values())


def _not_evaluated(error: ValueError) -> Problem:
    text = str(error)
    remedy = "Supersede it with what was really read."
    return Problem("/payload", text[:80], f"These readings cannot be evaluated: {text}.", remedy)


def dossier_of(
    *,
    conventions: Mapping[str, Any],
    instruments: Mapping[str, Mapping[str, Any]],
    position: Mapping[str, Any],
    given: Iterable[tuple[Envelope, Any]],
    problems: Iterable[Located] = (),
) -> PositionDossier:
    """From plain JSON values that were validated; `given` are the envelopes that stand, each with its own values."""
    standing = sorted(given, key=lambda one: (one[0].observed_at, one[0].id))
    evaluable = [(envelope, values) for envelope, values in standing if not envelope.problems]
    found = [(envelope.id, problem) for envelope, _ in standing for problem in envelope.problems]
    named = sorted({name for one, _ in evaluable for name in KINDS[one.kind].instruments(one.payload)})
    tools = {name: instruments[name] for name in named if name in instruments}
    return PositionDossier(
        place=Place.from_json(position),
        conventions=Conventions.from_json(conventions),
        instruments={name: Instrument.from_json(tool) for name, tool in tools.items()},
        envelopes=tuple(envelope for envelope, _ in evaluable),
        problems=(*found, *problems),
        inputs={
            "conventions": conventions,
            "instruments": list(tools.values()),
            "position": position,
            "envelopes": [values for _, values in evaluable],
            "problems": [[str(envelope), problem.to_json()] for envelope, problem in (*found, *problems)],
        },
    )


def problems_json(problems: Iterable[tuple[UUID | None, Problem]]) -> list[dict[str, Any]]:
    rows = [
        {
            "envelope": str(envelope) if envelope else None,
            "field": problem.pointer,
            "value": problem.value,
            "reason": problem.reason,
            "remedy": problem.remedy,
        }
        for envelope, problem in problems
    ]
    return sorted(rows, key=lambda row: json.dumps(row, sort_keys=True))


def worst_band(judgements: Iterable[Mapping[str, Any]]) -> dict[str, Any] | None:
    """The band of the port that is furthest from where it should be, for lists."""
    drawn = [one for one in judgements if one["requirement"] == "design_airflow" and one["verdict"] is not None]
    worst = min(drawn, key=lambda one: (_WORST_FIRST.index(one["verdict"]), one["margin"]), default=None)
    picture = band(worst) if worst else None
    return to_json(picture) if picture else None


def hashes_of(dossier: PositionDossier) -> tuple[str, str]:
    return dossier.inputs_hash, rules_hash()
