"""A step that expects something over a trend: which logs cover it, and what they say beside the answer by eye.

A log covers a step where the answer names its file, else where its window holds the moment of the answer. Of the logs
that cover it the newest that can tell an expectation counts. The order in which run and log arrive counts for nothing.
"""

import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from commissioning.catalogue.procedures import Step
from commissioning.dossier import parts
from commissioning.dossier.figures import Figures
from commissioning.dossier.procedures.named import split
from commissioning.dossier.trend_standing import kept, newest
from commissioning.dossier.trends.kinds import KINDS


def seen(run: Figures, step: Step, given: Mapping[str, Any], logs: Sequence[Figures]) -> dict[str, Any]:
    """The judged half of the row of a step that is answered by eye; where a log tells, it decides."""
    if not step.trend:
        return by_eye(given["yes"])
    covering, how = _covering(run, given, logs)
    told = newest(covering)
    results = [_kept(*told[key]) for key in map(split, step.trend) if key in told]
    waiting = [one for one in covering if one.facts["trend"] is None and _may_tell(one, step)]
    outcomes = [one["outcome"] for one in results]
    files = [one.facts["file"] for one in covering]
    held = {"how": how, "files": files, "waits": bool(waiting), "leaves": step.leaves, "results": results}
    row = {"log": held}
    if waiting and "fails" not in outcomes:
        why = f"The log {waiting[-1].facts['file']} covers it and is still to be analysed."
        return row | parts.not_assessed("not_due", why)
    is_whole = len(results) == len(step.trend) and not step.leaves
    return by_eye(given["yes"]) | row | {"verdict": _verdict(outcomes, yes=given["yes"], is_whole=is_whole)}


def _verdict(outcomes: Sequence[str], *, yes: bool, is_whole: bool) -> str:
    """What the log tells, it decides; the answer by eye stands for what the log leaves. A failure that was seen is not
    made doubtful by a log that hides the moment.

    >>> _verdict(["holds"], yes=False, is_whole=True), _verdict(["holds"], yes=False, is_whole=False)
    ('conforms', 'does_not_conform')
    >>> _verdict(["holds", "fails"], yes=True, is_whole=True), _verdict(["unknown"], yes=True, is_whole=True)
    ('does_not_conform', 'inconclusive')
    >>> _verdict(["unknown"], yes=False, is_whole=True)
    'does_not_conform'
    """
    is_hidden = "unknown" in outcomes
    if "fails" in outcomes or (not yes and (is_hidden or not is_whole)):
        return "does_not_conform"
    return "inconclusive" if is_hidden else "conforms"


def by_eye(yes: bool) -> dict[str, Any]:
    return {
        "verdict": "conforms" if yes else "does_not_conform",
        "value": None,
        "expanded_uncertainty": None,
        "margin": None,
        "probability": None,
        "why": "",
    }


def _kept(result: Mapping[str, Any], log: Figures) -> dict[str, Any]:
    return kept(result, log) | {name: log.facts[name] for name in ("first", "last", "zone")}


def _covering(run: Figures, given: Mapping[str, Any], logs: Sequence[Figures]) -> tuple[list[Figures], str]:
    named = [one for one in logs if _names(given["log"], one.facts["file"])]
    if named:
        return named, "named"
    at = datetime.fromisoformat(given["at"]) if given["at"] else run.when
    return [one for one in logs if _moment(one, "first") <= at <= _moment(one, "last")], "covers"


def _names(said: str, file: str) -> bool:
    """Whether what was said of the trend has the name of a file in it, as a whole.

    >>> _names("ERV-1.csv, 22:00 to 06:00", "erv-1.csv"), _names("serv-1.csv", "erv-1.csv")
    (True, False)
    """
    return re.search(rf"(?<![\w.-]){re.escape(file)}(?![\w-])", said, re.IGNORECASE) is not None


def _moment(log: Figures, end: str) -> datetime:
    return datetime.fromisoformat(log.facts[end])


def _may_tell(log: Figures, step: Step) -> bool:
    """Whether its points allow one of the step's expectations to be asked."""
    roles = {one["role"] for one in log.facts["points"]}
    return any(KINDS[code].fits(at, roles) for code, at in map(split, step.trend))


def logs_of(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """The logs on which steps rest, each once."""
    return list(dict.fromkeys(one["envelope"] for row in rows for one in row.get("log", {}).get("results", ())))
