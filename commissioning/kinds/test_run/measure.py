"""From a run's payload to what it amounts to: each number with its uncertainty, each answer in words.

Whether an answer is what was expected is not said here: that follows from the unit's settings and design.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from statistics import fmean
from typing import Any, cast

from commissioning.catalogue.procedures import Library, Procedure, Step
from commissioning.dossier.envelope import Envelope
from commissioning.dossier.figures import Figure, Figures, figures_of, measured
from commissioning.dossier.given import Conventions, Instrument, Place
from commissioning.dossier.instrument_error import COMMON_PRACTICE, of_instrument, of_repeats, papers_fit
from commissioning.dossier.own_procedures import own_of
from commissioning.dossier.quantities import si, si_values
from commissioning.engineering import uncertainty, units
from commissioning.engineering.uncertainty import Component
from commissioning.kinds.test_run.payload import RunPayload, StepAnswer, fitting

VERSION = 1
ANSWER = "answer"  # the name of every figure; where it holds is the step
WATCH_STEP_S = 1.0


def instruments(payload: RunPayload) -> frozenset[str]:
    return frozenset(str(one.instrument) for one in payload.answers if one.instrument is not None)


def measure(
    envelope: Envelope, place: Place, conventions: Conventions, tools: Mapping[str, Instrument]
) -> list[Figures]:
    payload = cast(RunPayload, envelope.payload)
    procedure = _procedure(payload, conventions.procedures)
    left_out = dict(_left_out(payload, procedure))
    answers = [one for one in payload.answers if one.step not in left_out]
    listed = {one.sha256 for one in envelope.photos}
    found = [
        figure for one in answers if (figure := _figure(procedure.by_id[one.step], one, conventions, tools)) is not None
    ]
    used = sorted(instruments(payload))
    remarks = [f"An answer is left out: {fault}." for fault in left_out.values()]
    kinds = {
        str(one.instrument): units.quantity_of(procedure.by_id[one.step].unit)
        for one in answers
        if one.instrument and one.readings
    }
    made = figures_of(
        envelope,
        place,
        found,
        method="functional test",
        tools=[(id, tools.get(id)) for id in used],
        remarks=remarks + [text for id, quantity in kinds.items() for text in papers_fit(tools.get(id), quantity)],
        facts=_facts(payload, answers, listed) | own_of(procedure),
    )
    return [replace(made, faults=(), unseen=())]  # what the unit does is what is tested


def _procedure(payload: RunPayload, library: Library) -> Procedure:
    found = library.procedures.get(payload.procedure)
    if found is None:
        raise ValueError(f"no procedure of this firm is called {payload.procedure}")
    payload.held_to(found)
    return found


def _left_out(payload: RunPayload, procedure: Procedure) -> Iterator[tuple[str, str]]:
    """Answers that are none to a step of the procedure as it is now, and why: of a firm's own nobody knew before."""
    for one in payload.answers:
        try:
            fitting(procedure, one)
        except ValueError as error:
            yield one.step, str(error)


def _figure(step: Step, given: StepAnswer, conventions: Conventions, tools: Mapping[str, Instrument]) -> Figure | None:
    if given.times is not None:
        return _interval(step, given, conventions)
    if given.readings is None:
        return None
    values = si_values(given.readings, inch_of_water_pa=conventions.inch_of_water_pa)
    quantity = units.quantity_of(step.unit)
    parts = _parts(given, values, quantity, conventions, tools)
    told = f"{', '.join(f'{one:g}' for one in given.readings.values)} {units.unit(given.readings.unit).label}"
    return measured(
        ANSWER,
        fmean(values),
        units.SI_CODES[quantity],
        parts,
        coverage_probability=conventions.coverage_probability,
        at=step.id,
        equation="mean of the readings",
        inputs=(("read", told),),
    )


def _parts(
    given: StepAnswer, values: list[float], quantity: str, conventions: Conventions, tools: Mapping[str, Instrument]
) -> list[Component]:
    tool = tools.get(str(given.instrument)) if given.instrument else None
    slopes = [1.0 / len(values)] * len(values)
    found = of_instrument(tool, values, slopes, quantity, inch_of_water_pa=conventions.inch_of_water_pa)
    if quantity == "airflow" or len(values) > 1:
        found.append(of_repeats(values, 1.0))
    return found


def _interval(step: Step, given: StepAnswer, conventions: Conventions) -> Figure:
    assert given.times is not None
    first, then = si(given.times.first), si(given.times.then)
    each = float(uncertainty.resolution(WATCH_STEP_S))
    parts = [Component(name, each, source=f"read to the second; {COMMON_PRACTICE}") for name in (step.first, step.then)]
    return measured(
        ANSWER,
        then - first,
        "s",
        parts,
        coverage_probability=conventions.coverage_probability,
        at=step.id,
        equation="end − beginning",
        inputs=((step.first, f"{first:g} s"), (step.then, f"{then:g} s")),
    )


def _facts(payload: RunPayload, answers: Sequence[StepAnswer], listed: set[str]) -> dict[str, Any]:
    held = payload.model_dump(mode="json")
    kept = ("procedure", "version", "run", "settings", "witnesses", "signature", "aborted", "wasted", "deferred")
    return {
        **{name: held[name] for name in (*kept, "retest_of", "note")},
        "outcome": payload.outcome,
        "answers": {one.step: dict(_answer(one, listed)) for one in answers},
    }


def _answer(given: StepAnswer, listed: set[str]) -> Iterator[tuple[str, Any]]:
    yield "yes", given.yes
    yield "cannot", given.cannot or ""
    yield "basis", given.basis or ""
    yield "instrument", str(given.instrument) if given.instrument else ""
    yield "at", given.at.isoformat() if given.at else ""
    yield "photos", [one for one in given.photos if one in listed]
    yield "log", given.log.strip()
    yield "simulated", given.simulated.model_dump() if given.simulated else None
    yield "note", given.note.strip()
