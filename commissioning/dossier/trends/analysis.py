"""A log judged by its plan: each expectation asked, what became of it, and what was found."""

from collections.abc import Mapping
from typing import Any

from commissioning.dossier.trends.kind import Kind, Terms
from commissioning.dossier.trends.kinds import KINDS
from commissioning.dossier.trends.logged import Log, Logged
from commissioning.dossier.trends.loops import loops
from commissioning.dossier.trends.plan import Asked, Plan
from commissioning.dossier.trends.said import Said, as_json, not_asked
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.temporal import FAILS

FORM = "ventfolio/trend-analysis/1"
CANNOT_TELL = ("the signals are logged at no time", "the log is no longer", "nothing is logged")
VERSION = 3  # of the analysis: a change of what it says of an old log raises it


def analyse(series: Mapping[str, Logged], plan: Plan) -> dict[str, Any]:
    """What a log says, as plain data for JSON.

    `results` has every expectation of the plan in its order; `findings` those of them that fail, each with what to
    look at next; `loops` how each loop answered and what its process is, where the log tells. Times are seconds of the
    epoch; margins and amounts are in SI with their unit codes.
    """
    log = Log(series, plan.zone)
    results = [_result(log, asked, plan) for asked in plan.asked]
    return {
        "form": FORM,
        "version": VERSION,
        "from_s": log.begin_s,
        "to_s": log.end_s,
        "gaps": [list(one) for one in log.gaps],
        "results": results,
        "loops": loops(log),
        "findings": [one for one in results if one["outcome"] == FAILS],
    }


def _result(log: Log, asked: Asked, plan: Plan) -> dict[str, Any]:
    kind = KINDS[asked.code]
    said = _judged(log, kind, Terms(asked.at, asked.limits, plan.week))
    return {
        "code": asked.code,
        "at": asked.at,
        "title": kind.title,
        "roles": [role for one in kind.roles(asked.at) if (role := log.one_of(one))],
        "limits": {
            name: {"value": value, "unit": kind.limits[name].unit, "source": asked.sources.get(name, "")}
            for name, value in asked.limits.items()
        },
        **as_json(said),
        "look": kind.look if said.outcome == FAILS else "",
    }


def _judged(log: Log, kind: Kind, terms: Terms) -> Said:
    missing = [one for one in kind.roles(terms.at) if not log.has(one)]
    if missing:
        return not_asked(f"The log has no {' and no '.join(one.replace('|', ' or ') for one in missing)}.")
    try:
        return kind.judge(log, terms)
    except OutOfRange as error:
        return not_asked(f"With these limits nothing can be asked: {error}.")
    except ValueError as error:
        if not str(error).startswith(CANNOT_TELL):
            raise
        return not_asked("The log is too short for it, or its points were not logged together.")
