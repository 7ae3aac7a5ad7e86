"""Functional tests: each procedure that the design's list names, or that somebody ran, by the newest run that stands.

A run counts as long as the machine, the settings on which it depends and the airflows are those that it ran with.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block
from commissioning.catalogue.procedures import ALL, LIBRARY, Procedure
from commissioning.dossier import parts
from commissioning.dossier.figures import Figures
from commissioning.dossier.own_procedures import own_of
from commissioning.dossier.procedures import show_tests
from commissioning.dossier.procedures.alike import likeness, name_of
from commissioning.dossier.procedures.answered import asked_json, incomplete, rows, simulated, unsigned
from commissioning.dossier.procedures.by_log import logs_of
from commissioning.dossier.procedures.plan import Planned, Unit, planned
from commissioning.dossier.procedures.runs import (
    THROUGH,
    Settings,
    Standing,
    known_now,
    not_carried_through,
    outdated,
    ran_with,
    runs_of,
    standing_of,
    unit_with,
)
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.trend_standing import standing
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Verdict

CODE = "functional_tests"
TITLE = "Functional tests"
VERSION = LIBRARY.version
PRIORITY = "performance"
OF = "test"
CLAUSE = "every step as expected, witnessed, signed, and restored; common practice, no source"


def judge(view: View) -> Iterator[Judgement]:
    unit = None
    listed = (view.place.parts("equipment").get("unit") or {}).get("tests")
    for code, procedure in view.conventions.procedures.procedures.items():
        runs = runs_of(view, code)
        if not runs and not listed:
            continue
        unit = unit or unit_with(view, known_now(view))
        plan = planned(unit, procedure)
        if runs or plan.is_due:
            yield _judge(view, unit, plan, runs)
    yield from (_no_such(view, code) for code in listed or () if _is_strange(view, code))


def _is_strange(view: View, code: str) -> bool:
    return code != ALL and code not in view.conventions.procedures.procedures


def _no_such(view: View, code: str) -> Judgement:
    """The design's list names a test of a firm's own that the firm does not have."""
    absence = Absence("not_given", f"The list of tests names {code}, and the firm has no such procedure.")
    facts: dict[str, Any] = {"procedure": code, "version": None, "plan": [], "runs": []}
    return Judgement(CODE, code, VERSION, absence=absence, clause=CLAUSE, facts=facts)


def _judge(view: View, unit: Unit, plan: Planned, runs: list[Figures]) -> Judgement:
    if not view.place.is_counted:
        return _absent(view, plan, view.not_counted(), runs)
    if not runs:
        if plan.applies == "no":
            return _absent(view, plan, Absence("not_given", f"The list of tests names it. {plan.reason}"), runs)
        sampled = next((one for one in view.place.sampled if one.procedure == plan.procedure.code), None)
        if sampled is not None:
            return _absent(view, plan, sampled.absence(name_of(likeness(unit, plan))), runs, sample=sampled.sample)
        return _absent(view, plan, Absence("not_due", "Not run yet."), runs)
    found = standing_of(view, runs)
    if isinstance(found, Absence):
        return _absent(view, plan, found, runs)
    return _by_run(view, plan.procedure, found, runs)


def _absent(view: View, plan: Planned, absence: Absence, runs: list[Figures], **more: Any) -> Judgement:
    facts = {
        "procedure": plan.procedure.code,
        "version": plan.procedure.version,
        "plan": [asked_json(one) for one in plan.steps],
        "runs": [_run_json(view, plan.procedure, one) for one in runs],
        **own_of(plan.procedure),
        **more,
    }
    rests_on = tuple(one.envelope for one in runs[-1:])
    return Judgement(CODE, plan.procedure.code, VERSION, absence=absence, clause=CLAUSE, rests_on=rests_on, facts=facts)


def _run_json(view: View, procedure: Procedure, run: Figures) -> dict[str, Any]:
    kept = ("run", "outcome", "retest_of")
    told = {"envelope": run.envelope, "on": run.observed_at, **{name: run.facts[name] for name in kept}}
    return told | {"verdict": _worst(view, procedure, run) if run.facts["outcome"] == THROUGH else None}


def _worst(view: View, procedure: Procedure, run: Figures) -> str | None:
    """What a run came to with the settings of its time, whether or not it still stands."""
    before = ran_with(view, run)
    plan = planned(unit_with(view, before if isinstance(before, Settings) else known_now(view)), procedure)
    held = [one for one in rows(view.conventions, run, plan.steps, standing(view)) if one["verdict"]]
    return str(min(held, key=_place)["verdict"]) if held else None


def _by_run(view: View, procedure: Procedure, found: Standing, runs: list[Figures]) -> Judgement:
    run = found.run
    before = ran_with(view, run)
    plan = planned(unit_with(view, before if isinstance(before, Settings) else known_now(view)), procedure)
    doubt = view.doubt(run)
    if doubt is None:
        doubt = before if isinstance(before, Absence) else outdated(view, procedure, run, before)
    if doubt is not None:
        return _absent(view, plan, doubt, runs)
    held = rows(view.conventions, run, plan.steps, standing(view))
    worst = min((one for one in held if one["verdict"]), key=_place, default=None)
    told: dict[str, Any] = {
        "clause": CLAUSE,
        "rests_on": (run.envelope, *logs_of(held)),
        "facts": {
            "procedure": procedure.code,
            "version": run.facts["version"],
            "steps": held,
            "simulated": simulated(procedure, run, plan.steps),
            "runs": [_run_json(view, procedure, one) for one in runs],
            "guard_multiplier": view.conventions.guard_multiplier,
            **own_of(procedure),
        },
    }
    fails = worst is not None and worst["verdict"] == "does_not_conform"
    absence = None if fails else _unsettled(procedure, found, held)
    if absence is not None:
        return Judgement(CODE, procedure.code, VERSION, absence=absence, **told)
    assert worst is not None
    look = () if worst["verdict"] == "conforms" else tuple(_looks(procedure, held))
    return Judgement(
        CODE,
        procedure.code,
        VERSION,
        verdict=Verdict(worst["verdict"]),
        provisional=view.is_provisional(run),
        rule=str(view.conventions.decision_rule),
        look_next=look,
        **told,
    )


def _unsettled(procedure: Procedure, found: Standing, held: list[dict[str, Any]]) -> Absence | None:
    """Why a run of which nothing fails gives no verdict."""
    if found.after is not None and found.after.facts["outcome"] == "aborted":
        return Absence("recheck", f"A later run was broken off. {not_carried_through(found.after.facts).text}")
    return incomplete(held, list(unsigned(procedure, found.run)))


def _place(row: Mapping[str, Any]) -> int:
    return parts.WORST_FIRST.index(row["verdict"])


def _looks(procedure: Procedure, held: list[dict[str, Any]]) -> Iterator[str]:
    """For each step that is not as expected: what was expected, and where to look."""
    for number, row in enumerate(held, start=1):
        if row["verdict"] in ("does_not_conform", "inconclusive"):
            step = procedure.by_id[row["step"]]
            yield f"Step {number}: {step.look or step.expect}"


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    return show_tests.judged(judgement, display)
