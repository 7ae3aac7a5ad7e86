"""A run's answers held against what each step has to come to: one row of plain JSON values for each step."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from commissioning.catalogue.procedures import Procedure, Step
from commissioning.catalogue.units import VOCABULARY
from commissioning.dossier import parts
from commissioning.dossier.figures import Figure, Figures
from commissioning.dossier.given import Conventions
from commissioning.dossier.procedures import by_log
from commissioning.dossier.procedures.expected import Expected
from commissioning.dossier.procedures.plan import Asked
from commissioning.dossier.results import Absence
from commissioning.dossier.settings.printed import title_of
from commissioning.engineering import units
from commissioning.engineering.conformity import Limits

ANSWER = "answer"
WITNESSED = ("witnessed", "transcribed")


def asked_json(asked: Asked) -> dict[str, Any]:
    """A step as the plan has it, as a judgement keeps it."""
    step, told = asked.step, asked.expected
    limits = limits_of(step, told)
    return {
        "step": step.id,
        "unit": units.SI_CODES[units.quantity_of(step.unit)] if step.unit else "",
        "low": limits.low if limits else None,
        "high": limits.high if limits else None,
        "expected": told.value if told else None,
        "how": told.how if told else "",
        "basis": told.basis if told else "",
        "missing": list(asked.missing),
        "trend": list(step.trend),
    }


def limits_of(step: Step, told: Expected | None) -> Limits | None:
    """The limits of a step in SI; none where they follow from what is not known, or where nothing is counted."""
    if not step.unit or (step.expects and told is None):
        return None
    ends: list[float | None] = []
    for end in (step.low, step.high):
        if end is None:
            ends.append(None)
        elif told is None:
            ends.append(float(units.to_si(end, step.unit)))
        elif step.offset:
            ends.append(told.value + _size(end, step.unit))
        else:
            ends.append(told.value * (1.0 + end))
    return Limits(*ends)


def _size(difference: float, unit: str) -> float:
    """A difference in SI: of temperatures, without the offset of their scale."""
    return float(units.to_si(difference, unit)) - float(units.to_si(0.0, unit))


def rows(
    conventions: Conventions, run: Figures, asked: Sequence[Asked], logs: Sequence[Figures]
) -> list[dict[str, Any]]:
    """In the order of the steps; steps that were answered although they do not apply are left out.

    `logs` are the trend logs that stand at the unit.
    """
    return [_row(conventions, run, one, logs) for one in asked]


def _row(conventions: Conventions, run: Figures, asked: Asked, logs: Sequence[Figures]) -> dict[str, Any]:
    step = asked.step
    given: Mapping[str, Any] | None = run.facts["answers"].get(step.id)
    row = {**asked_json(asked), "name": step.id, "part": step.part, "note": "", "said": "", "photos": []}
    if given is None:
        return row | parts.not_assessed("not_due", "Not answered.")
    row |= {"note": given["note"], "photos": given["photos"], "said": _said(given)}
    if given["cannot"]:
        return row | parts.not_assessed("not_due", f"Could not be done: {given['cannot']}")
    if step.photo and not given["photos"] and given["yes"] is not False:
        return row | parts.not_assessed("not_judged", "Its photo is missing.")
    if step.answer in ("yes_no", "trend"):
        return row | by_log.seen(run, step, given, logs)
    figure = run.figure(ANSWER, step.id)
    assert figure is not None
    return row | _counted(conventions, asked, figure, given["basis"])


def _said(given: Mapping[str, Any]) -> str:
    return "" if given["yes"] is None else "as expected" if given["yes"] else "not as expected"


def _counted(conventions: Conventions, asked: Asked, figure: Figure, basis: str) -> dict[str, Any]:
    step, told = asked.step, asked.expected
    known = {"value": figure.value, "expanded_uncertainty": figure.expanded_uncertainty}
    if step.expects and told is None:
        names = ", ".join(title_of(code) for code in asked.missing)
        return known | parts.not_assessed(
            "not_judged", f"No value to compare it with; not read or not designed: {names}."
        )
    if told is not None and told.basis and basis != told.basis:
        why = f"Measured as {basis} air; the design is of {told.basis} air. Type it on that basis."
        return known | parts.not_assessed("not_judged", why)
    limits = limits_of(step, told)
    assert limits is not None
    return parts.assessed(
        conventions,
        value=figure.value,
        standard_uncertainty=figure.standard_uncertainty or 0.0,
        expanded_uncertainty=figure.expanded_uncertainty or 0.0,
        limits=limits,
        clause=step.source,
        unit=figure.unit,
    )


def simulated(procedure: Procedure, run: Figures, asked: Sequence[Asked]) -> list[dict[str, str]]:
    """What of the answered steps was simulated and what that leaves untested, each once."""
    found: list[dict[str, str]] = []
    for one in asked:
        given = run.facts["answers"].get(one.step.id)
        if given is None or given["cannot"]:
            continue
        told = [{"part": one.step.simulated, "untested": one.step.untested}] if one.step.simulated else []
        told += [dict(given["simulated"])] if given["simulated"] else []
        found += [each for each in told if each not in found]
    return found


def unsigned(procedure: Procedure, run: Figures) -> Iterator[str]:
    """What a run lacks beside its answers, in words."""
    there = {one["trade"] for one in run.facts["witnesses"]}
    for trade in procedure.needs.present:
        if trade not in there:
            yield f"Nobody of {VOCABULARY.trades[trade]} is named among the witnesses."
    if procedure.witnessed and run.grade not in WITNESSED:
        yield "This test is the fire alarm contractor's: the record says that it was witnessed, or it does not count."
    if run.facts["signature"] is None:
        yield "It is not signed."


def incomplete(found: Sequence[Mapping[str, Any]], lacking: Sequence[str]) -> Absence | None:
    """Why no verdict rests on a run of which nothing fails; what is not judged is told before what is not done."""
    blocked = parts.blocked(found, ("not_judged", "not_due"))
    if not blocked and not lacking:
        return None
    code = blocked[0]["code"] if blocked else "not_judged"
    of = f"{len(blocked)} of {len(found)} steps give no result. {blocked[0]['why']}" if blocked else ""
    return Absence(code, " ".join(filter(None, (of, *lacking))))
