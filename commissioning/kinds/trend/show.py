"""A trend log as blocks: what it says first, then its picture, then each expectation, its points, its repairs."""

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table
from commissioning.dossier.trend_pictures import lasting, picture, span
from commissioning.dossier.trend_standing import where
from commissioning.dossier.trends import printed
from commissioning.logs.roles import roles

_OUTCOMES = {"fails": "does not hold", "unknown": "cannot be told", "holds": "holds"}
_WAITING = "Its samples are still to be analysed."


def headline(measurement: Mapping[str, Any], display: str) -> str:
    facts = measurement["facts"]
    period = span(seconds_of(facts["first"]), seconds_of(facts["last"]), facts["zone"])
    points = len(facts["points"])
    return f"{period}, {points} point{'' if points == 1 else 's'}; {found_in_words(facts['trend'])}"


def found_in_words(trend: Mapping[str, Any] | None) -> str:
    """
    >>> found_in_words({"results": [{"outcome": "fails"}, {"outcome": "holds"}, {"outcome": "holds"}]})
    '1 expectation does not hold, 2 hold'
    """
    if trend is None:
        return "still to be analysed"
    outcomes = [one["outcome"] for one in trend["results"]]
    fail, unknown, hold = (outcomes.count(one) for one in ("fails", "unknown", "holds"))
    parts = [
        f"{fail} expectation{' does' if fail == 1 else 's do'} not hold" if fail else "",
        f"{hold} hold{'s' if hold == 1 else ''}" if hold else "",
        f"{unknown} cannot be told" if unknown else "",
    ]
    return ", ".join(filter(None, parts)) or "nothing could be asked of it"


def seconds_of(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()


def show(measurement: Mapping[str, Any], display: str) -> tuple[Block, ...]:
    facts = measurement["facts"]
    trend = facts["trend"]
    words = headline(measurement, display)
    blocks: list[Block] = [Sentence(f"{words[0].upper()}{words[1:]}. File {facts['file']}.", "lead")]
    if trend is None:
        blocks.append(Sentence(_WAITING))
    else:
        blocks += [picture(trend, facts["zone"], display), *told(trend, display)]
    blocks.append(points(facts))
    blocks += [Sentence(text, "aside") for text in _repairs(facts)]
    named = f"File {facts['sha256']}; mapping {facts['mapping']['source']}, version {facts['mapping']['version']}."
    return (*blocks, Sentence(named, "aside"), *(Sentence(one, "aside") for one in measurement["remarks"]))


def told(trend: Mapping[str, Any], display: str) -> tuple[Block, ...]:
    """What the log says: each expectation, then what it means for the settings of its loops."""
    return expectations(trend, display), *advice(trend, display)


def expectations(trend: Mapping[str, Any], display: str) -> Table:
    order = list(_OUTCOMES)
    rows = tuple(
        (
            _OUTCOMES[one["outcome"]],
            where(one["title"], one["at"]),
            printed(one["words"], one["amounts"], display),
            one["look"],
        )
        for one in sorted(trend["results"], key=lambda one: order.index(one["outcome"]))
    )
    columns = (Column("It"), Column("Expected"), Column("What the log says"), Column("What to look at next"))
    return Table(columns, rows, "What is expected of the log", "Its points allow nothing to be asked.")


def advice(trend: Mapping[str, Any], display: str) -> tuple[Sentence, ...]:
    """What the log means for the settings of its loops; an analysis of before has none."""
    return tuple(Sentence(printed(one["words"], one["amounts"], display)) for one in trend.get("advice", ()))


def points(facts: Mapping[str, Any]) -> Table:
    columns = (
        Column("Point"),
        Column("In the file"),
        Column("Logged"),
        Column("Samples", "", "right"),
        Column("Longest gap"),
    )
    rows = tuple(
        (
            roles()[one["role"]].title,
            f"{one['name']}, {one['unit']}" if one["unit"] else one["name"],
            "at a change" if one["by_change"] else _every(one["interval"]),
            f"{one['samples']:,}" + (f", {one['without_value']:,} without a value" if one["without_value"] else ""),
            lasting(_seconds(one["longest_gap"])) if one["longest_gap"] else "",
        )
        for one in facts["points"]
    )
    return Table(columns, rows, "Its points")


def _every(interval: Mapping[str, Any] | None) -> str:
    return f"every {lasting(_seconds(interval))}" if interval else "at intervals"


def _seconds(given: Mapping[str, Any]) -> float:
    return float(given["value"]) * {"s": 1.0, "min": 60.0, "h": 3600.0}.get(given["unit"], 1.0)


def _repairs(facts: Mapping[str, Any]) -> Iterator[str]:
    for one in facts["repairs"][:20]:
        where = f"Line {one['line']}: " if one["line"] else ""
        more = f" ({one['count']:,} times)" if one["count"] > 1 else ""
        yield f"{where}{one['sentence']}{more}"
