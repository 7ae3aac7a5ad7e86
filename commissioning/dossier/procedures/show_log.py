"""Steps that stand on a trend log, in words: what they stand on, and what eye and log say side by side."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table, WorkingLine
from commissioning.dossier.procedures.named import split
from commissioning.dossier.trend_pictures import span
from commissioning.dossier.trend_standing import where
from commissioning.dossier.trends import printed
from commissioning.dossier.trends.kinds import KINDS

_SAYS = {"fails": "not as expected", "unknown": "not known", "holds": "as expected"}  # the worst first
RULE = (
    "of the logs that the answer names, else whose hours hold its moment, the newest that can tell decides; "
    "by eye where none does"
)
_HOW = {"named": "named in the answer", "covers": "its hours hold the moment of the answer"}


def stands_on(named: Sequence[str]) -> str:
    """
    >>> stands_on(["hunts.supply_temperature", "heat_and_cool"])
    'judged by a trend log that covers it: Loop does not hunt, supply air temperature; No heating against cooling'
    >>> stands_on([])
    ''
    """
    titles = [_title(one) for one in named]
    return f"judged by a trend log that covers it: {'; '.join(titles)}" if titles else ""


def _title(named: str) -> str:
    code, at = split(named)
    return where(KINDS[code].title, at) if code in KINDS else named


def seen(row: Mapping[str, Any]) -> str:
    """What eye and log say of a step, in a few words; what the eye says alone where no log has a say."""
    held, said = row.get("log"), row["said"]
    if held is None or not said:
        return str(said)
    if not held["results"]:
        return f"{said} by eye; {_no_log(held)}"
    by_log = next(words for code, words in _SAYS.items() if any(one["outcome"] == code for one in held["results"]))
    return f"{said} by eye, {by_log} by the log{_which_counts(row, by_log)}"


def _no_log(held: Mapping[str, Any]) -> str:
    if held["waits"]:
        return "the log that covers it is still to be analysed"
    return "the log that covers it cannot be asked this" if held["files"] else "no log covers it"


def _which_counts(row: Mapping[str, Any], by_log: str) -> str:
    """Where the two differ: the log, but for what it does not tell."""
    if row["verdict"] is None or row["said"] == by_log:
        return ""
    by_eye = row["verdict"] == "does_not_conform" and by_log != _SAYS["fails"]
    return ": the log does not tell all of it, and the eye decides the rest" if by_eye else ": the log decides"


def rule(rows: Sequence[Mapping[str, Any]]) -> tuple[WorkingLine, ...]:
    """How it is decided, where a step stands on a trend log."""
    return (WorkingLine("Steps over a trend", "", RULE),) if any("log" in row for row in rows) else ()


def side_by_side(rows: Sequence[Mapping[str, Any]], display: str) -> tuple[Block, ...]:
    """A row for each expectation of a step that a log covers; nothing where no log has a say."""
    told = tuple(line for number, row in enumerate(rows, start=1) for line in _lines(number, row, display))
    columns = (
        Column("Step", align="right"),
        Column("By eye"),
        Column("Expected of the log"),
        Column("What the log says"),
        Column("Margin"),
        Column("Log"),
    )
    return (Table(columns, told, "By eye and by the log"), *_left(rows)) if told else ()


def _left(rows: Sequence[Mapping[str, Any]]) -> Iterator[Sentence]:
    """Of each step what the log does not tell."""
    for number, row in enumerate(rows, start=1):
        held = row.get("log")
        if held is not None and held["results"]:
            told = {(one["code"], one["at"]) for one in held["results"]}
            left = [_title(one) for one in row["trend"] if split(one) not in told]
            left += [held["leaves"]] if held["leaves"] else []
            if left:
                yield Sentence(f"Step {number}: the log leaves to the eye: {'; '.join(left)}.", "aside")


def _lines(number: int, row: Mapping[str, Any], display: str) -> Iterator[tuple[str, ...]]:
    for one in row.get("log", {}).get("results", ()):
        yield (
            str(number),
            row["said"],
            where(one["title"], one["at"]),
            f"{_SAYS[one['outcome']]}: {printed(one['words'], one['amounts'], display)}",
            margin(one, display),
            f"{one['file']}, {_span(one)}; {_HOW[row['log']['how']]}",
        )


def _span(one: Mapping[str, Any]) -> str:
    begin, end = (datetime.fromisoformat(one[name]).timestamp() for name in ("first", "last"))
    return span(begin, end, one["zone"])


def margin(result: Mapping[str, Any], display: str) -> str:
    """By how much it holds or, negative, fails: what is certain of it.

    >>> held = {"outcome": "fails", "margin": {"least": None, "most": -5.0, "unit": "s"}}
    >>> margin(held, "si"), margin({"outcome": "holds", "margin": {"least": 3.0, "most": 4.0, "unit": "s"}}, "si")
    ('−5 s', '3 s')
    """
    held = result["margin"]
    if held is None or result["outcome"] == "unknown":
        return ""
    value = held["most" if result["outcome"] == "fails" else "least"]
    return "" if value is None else printed("{by}", {"by": {"value": value, "unit": held["unit"]}}, display)
