"""What came of a sample: derived from the verdicts that stand and from what was measured, never stored.

A unit that differed when it was repeated stays a failure of the sample, corrected or not: whoever corrects what was
found has corrected nothing of what nobody looked at.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from commissioning.dossier.sampled_tests import why_failed
from commissioning.engineering.acceptance_sampling import SampleResult, enlarged_sample, sample_result
from commissioning.models import CurrentVerdict, Sample, SampleUnit
from commissioning.samples import of_tests
from commissioning.samples.states import differences, measured
from portfolio.dashboards.words import units as units_word
from portfolio.models import Position, bulk

REPEAT = "two_finals_agree"
DESIGNED = "design_airflow"
AGREES, DIFFERS, CORRECTED, DUE, NOT_COUNTED = "agrees", "differs", "corrected", "due", "not_counted"
FAILED = frozenset({DIFFERS, CORRECTED})


@dataclass(frozen=True)
class Port:
    """A port of a drawn unit: one of agrees, differs, corrected (differed, and was left anew since) or due."""

    port: str
    code: str
    why: str = ""


@dataclass(frozen=True)
class Unit:
    """A drawn unit, as its worst port."""

    position: Position
    stratum: str
    rank: int
    code: str
    ports: tuple[Port, ...]

    @property
    def is_due(self) -> bool:
        """Whether somebody has to go there, for the sample: a failure is one already."""
        return self.code == DUE


@dataclass(frozen=True)
class Stratum:
    """What a stratum allows to say. `said` is there once every drawn unit was repeated."""

    stratum: str
    population: int  # those that are still counted
    drawn: int
    failures: int
    due: int
    enlargements: int
    failed: bool  # whatever the units that are still due turn out to be
    said: SampleResult | None
    enlarge_to: int | None  # units in all, where it failed and some were not drawn
    sentence: str
    mover: str


@dataclass(frozen=True)
class Result:
    strata: tuple[Stratum, ...]
    units: tuple[Unit, ...]

    @property
    def is_due(self) -> bool:
        return any(one.due for one in self.strata)

    @property
    def may_enlarge(self) -> bool:
        return any(one.enlarge_to is not None for one in self.strata)


def result_of(sample: Sample) -> Result:
    """In three queries, whatever the number of units."""
    rows = list(sample.units.select_related("position__building__site").order_by("stratum", "rank"))
    since = sample.drawn_at if sample.first is None else sample.first.drawn_at
    units = units_of([row for row in rows if row.drawn], since, sample.procedure)
    counted: dict[str, int] = {}
    for row in rows:
        counted[row.stratum] = counted.get(row.stratum, 0) + row.position.is_counted
    strata = tuple(
        _stratum(planned, sample.plan, counted.get(planned["stratum"], 0), units) for planned in sample.strata
    )
    return Result(strata, tuple(units))


def units_of(rows: Sequence[SampleUnit], since: datetime, procedure: str = "") -> list[Unit]:
    """Where these drawn units are; for one unit's page as for a whole sample's."""
    if procedure:
        codes = of_tests.codes_of(rows, procedure, since)
        return [_tested(row, procedure, *codes[row.position_id]) for row in rows]
    ids = [row.position_id for row in rows]
    verdicts = _verdicts(ids)
    readings = measured(ids)
    found = []
    for row in rows:
        differed = {one.port: one.when for one in differences(readings.get(row.position_id, []), since)}
        ports = _ports(verdicts.get(row.position_id, {}), differed)
        code = _worst(ports) if row.position.is_counted else NOT_COUNTED
        found.append(Unit(row.position, row.stratum, row.rank, code, tuple(ports)))
    return found


def _tested(row: SampleUnit, procedure: str, code: str, why: str) -> Unit:
    counted = code if row.position.is_counted else NOT_COUNTED
    return Unit(row.position, row.stratum, row.rank, counted, (Port(procedure, code, why),))


_Verdicts = dict[tuple[str, str], tuple[str, Mapping[str, Any]]]  # by requirement and port


def _verdicts(ids: Collection[UUID]) -> dict[UUID, _Verdicts]:
    names = ("position", "requirement", "port", "outcome", "judgement__result")
    rows = CurrentVerdict.objects.filter(bulk.among("position", ids), requirement__in=(REPEAT, DESIGNED))
    found: dict[UUID, _Verdicts] = {}
    for position, requirement, port, outcome, result in rows.values_list(*names):
        found.setdefault(position, {})[requirement, port] = (outcome, result)
    return found


def _ports(verdicts: _Verdicts, differed: Mapping[str, datetime]) -> list[Port]:
    """Each port that has a design or was repeated: a unit is repeated when all of them are."""
    wanted = {port for (_, port), (outcome, _) in verdicts.items() if outcome not in ("not_given", "not_counted")}
    order = ("supply", "return", "outdoor", "exhaust")
    return [_port(port, verdicts.get((REPEAT, port)), differed) for port in order if port in wanted | set(differed)]


def _port(port: str, verdict: tuple[str, Mapping[str, Any]] | None, differed: Mapping[str, datetime]) -> Port:
    outcome, result = verdict or ("", {})
    if outcome == "does_not_conform":
        return Port(port, DIFFERS)
    if port in differed:
        return Port(port, CORRECTED)
    if outcome == "conforms" and "session" not in result.get("facts", {}):
        return Port(port, AGREES)
    if outcome == "conforms":
        return Port(port, DUE, "the unit was touched since it was repeated")
    return Port(port, DUE, (result.get("absence") or {}).get("text", "") or "not repeated yet")


def _worst(ports: Sequence[Port]) -> str:
    codes = {one.code for one in ports}
    return next((code for code in (DIFFERS, CORRECTED, DUE, AGREES) if code in codes), DUE)


def _stratum(planned: Mapping[str, Any], plan: Mapping[str, Any], population: int, units: Sequence[Unit]) -> Stratum:
    drawn = [one for one in units if one.stratum == planned["stratum"] and one.code != NOT_COUNTED]
    failures = sum(one.code in FAILED for one in drawn)
    due = sum(one.is_due for one in drawn)
    said = None
    if drawn and not due:
        said = sample_result(population=population, sample=len(drawn), failures=failures, confidence=plan["confidence"])
    reason = why_failed(planned, plan, population, len(drawn), failures)
    larger = _larger(planned) if reason else None
    disputed = any(one.code == DIFFERS for one in drawn)
    return Stratum(
        stratum=planned["stratum"],
        population=population,
        drawn=len(drawn),
        failures=failures,
        due=due,
        enlargements=planned["enlargements"],
        failed=bool(reason),
        said=said,
        enlarge_to=larger,
        sentence=_sentence(TESTED if plan.get("procedure") else REPEATED, said, len(drawn), failures, due, reason),
        mover="lead" if larger or (disputed and not due) else "technician" if due else "",
    )


def _larger(planned: Mapping[str, Any]) -> int | None:
    if planned["sample"] >= planned["population"]:
        return None
    return enlarged_sample(
        population=planned["population"],
        first_sample=planned["first_sample"],
        enlargements=planned["enlargements"] + 1,
    )


@dataclass(frozen=True)
class _Words:
    done: str
    one: str
    many: str

    def fail(self, number: int) -> str:
        return self.one if number == 1 else self.many


REPEATED = _Words("repeated", "differs", "differ")
TESTED = _Words("tested", "fails", "fail")


def _sentence(words: _Words, said: SampleResult | None, drawn: int, failures: int, due: int, reason: str) -> str:
    if not drawn:
        return "None of its units is counted any more."
    found = f"{failures} of {drawn - due} {words.done} {units_word(drawn - due)} {words.fail(failures)}"
    if said is None:
        left = f"{due} of {drawn} drawn {_are(due)} still to be {words.done}"
        return f"{found}{f', {reason}' if reason else ''}; {left}, and until then nothing follows for the others."
    if said.not_repeated == 0:
        return f"Every unit was {words.done}: {failures} of {said.population} {words.fail(failures)}."
    verdict = f"The sample is not passed: {reason}" if reason else "The sample is passed"
    most = f"At {100 * said.confidence:.4g} % confidence at most {said.most_defective} of {said.population} units"
    return (
        f"{found}. {verdict}. {most} {words.many}: {failures} found, "
        f"and at most {said.most_defective_unseen} among the {said.not_repeated} that were not {words.done}."
    )


def _are(number: int) -> str:
    return "is" if number == 1 else "are"
