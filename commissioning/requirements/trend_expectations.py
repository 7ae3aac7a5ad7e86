"""Trend logs: what is expected over time holds in the newest log that can tell.

A later log that can tell takes the place of an earlier one, so that a log after the repair closes what the log before
it opened. What a gap hides is not known, and is no verdict either way: it closes nothing.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table, Working, WorkingLine
from commissioning.dossier import shows
from commissioning.dossier.figures import Figures
from commissioning.dossier.results import Absence, Judgement
from commissioning.dossier.trend_standing import KIND, kept, newest, standing, where
from commissioning.dossier.trends import printed
from commissioning.dossier.view import View
from commissioning.engineering.conformity import Verdict

CODE = "trend_expectations"
TITLE = "Trend logs as expected"
VERSION = 2
PRIORITY = "performance"
FAILS = "the trend log shows what should not be"
CLAUSE = "each expectation holds in the newest log that can tell; limits by settings as left, else common practice"
_OUTCOMES = {"fails": "does not hold", "unknown": "cannot be told", "holds": "holds"}
_WAITING = Absence("not_due", "The samples of a trend log are still to be analysed.")
_NOTHING = Absence("not_judged", "Nothing that is expected can be asked of these logs: their points or time do not do.")


def judge(view: View) -> Iterator[Judgement]:
    logs = view.of_kind(KIND)
    if not logs:
        return
    if not view.place.is_counted:
        yield Judgement(CODE, "", VERSION, absence=view.not_counted())
        return
    held = standing(view)
    if not held:
        finals = [one for one in logs if one.stage == "final"]
        reason = view.doubt(finals[-1]) if finals else None
        yield Judgement(CODE, "", VERSION, absence=reason or Absence("not_due", "There are only preliminary logs."))
        return
    yield _judged(held)


def _judged(logs: list[Figures]) -> Judgement:
    told = list(newest(logs).values())
    by_outcome = {name: [one for one in told if one[0]["outcome"] == name] for name in _OUTCOMES}
    given: dict[str, Any] = {
        "clause": CLAUSE,
        "rests_on": tuple(dict.fromkeys(log.envelope for _, log in told)),
        "facts": {
            "expectations": [kept(result, log) for name in _OUTCOMES for result, log in by_outcome[name]],
            "advice": list(_advice(logs)),
        },
    }
    if by_outcome["fails"]:
        steps = tuple(dict.fromkeys(result["look"] for result, _ in by_outcome["fails"] if result["look"]))
        verdict = Verdict.DOES_NOT_CONFORM
        return Judgement(CODE, "", VERSION, verdict=verdict, rule="simple", look_next=steps, **given)
    if any(one.facts["trend"] is None for one in logs):
        return Judgement(CODE, "", VERSION, absence=_WAITING, **given)
    if by_outcome["unknown"]:
        return Judgement(CODE, "", VERSION, verdict=Verdict.INCONCLUSIVE, rule="simple", **given)
    if by_outcome["holds"]:
        return Judgement(CODE, "", VERSION, verdict=Verdict.CONFORMS, rule="simple", **given)
    return Judgement(CODE, "", VERSION, absence=_NOTHING, **given)


def _advice(logs: list[Figures]) -> Iterator[dict[str, Any]]:
    """Of each loop what the newest log says that tells its process."""
    told = {one["loop"]: (one, log) for log in logs for one in (log.facts["trend"] or {}).get("advice", ())}
    for one, log in told.values():
        yield {"words": one["words"], "amounts": one["amounts"], "file": log.facts["file"]}


def show(
    judgement: Mapping[str, Any], measurements: Mapping[str, Mapping[str, Any]], display: str
) -> tuple[Block, ...]:
    told = judgement["facts"].get("expectations", [])
    if judgement["absence"] is not None:
        return (*shows.absent(judgement, TITLE), *_table(told, display))
    failing = [printed(one["words"], one["amounts"], display) for one in told if one["outcome"] == "fails"]
    open_ = sum(one["outcome"] == "unknown" for one in told)
    holding = sum(one["outcome"] == "holds" for one in told)
    text = " ".join(failing) or _quiet(holding, open_)
    lines = (
        WorkingLine("Criterion", "", judgement["clause"]),
        *_tuning(judgement, display),
        *shows.decision(judgement),
    )
    aside = "A log tells what was logged; where a gap hides the answer it is not known."
    return (
        shows.lead(judgement, text),
        *_table(told, display),
        Working(lines, TITLE),
        *shows.next_steps(judgement),
        Sentence(aside, "aside"),
    )


def _tuning(judgement: Mapping[str, Any], display: str) -> tuple[WorkingLine, ...]:
    told = judgement["facts"].get("advice", ())
    return tuple(
        WorkingLine("Settings of a loop", "", printed(one["words"], one["amounts"], display), one["file"])
        for one in told
    )


def _quiet(holding: int, open_: int) -> str:
    """
    >>> _quiet(4, 0), _quiet(1, 2)
    ('All 4 expectations hold.', '1 expectation holds; 2 cannot be told from the log.')
    """
    if not open_:
        return f"All {holding} expectations hold." if holding != 1 else "The one expectation holds."
    held = f"{holding} expectation{' holds' if holding == 1 else 's hold'}"
    return f"{held}; {open_} cannot be told from the log."


def _table(told: list[Mapping[str, Any]], display: str) -> tuple[Block, ...]:
    """What does not hold, or cannot be told, row by row; what holds in one line."""
    rows = tuple(
        (
            where(one["title"], one["at"]),
            _OUTCOMES[one["outcome"]],
            printed(one["words"], one["amounts"], display),
            one["file"],
        )
        for one in told
        if one["outcome"] != "holds"
    )
    columns = (Column("Expected"), Column("It"), Column("What the log says"), Column("Log"))
    holding = [where(one["title"], one["at"]) for one in told if one["outcome"] == "holds"]
    blocks: list[Block] = [Table(columns, rows, "What is open, expectation by expectation")] if rows else []
    if holding:
        blocks.append(Sentence(f"These hold: {'; '.join(holding)}.", "aside"))
    return tuple(blocks)
