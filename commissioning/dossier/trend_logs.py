"""What a judging document says of a trend log beside its record: what analysis of its samples found, and its picture.

The samples are too many to be judged again each time that a reading comes in. They are analysed once, by a plan made
from the log's points and the unit's settings; the document carries what that said, and whoever has the log can make
it again (`docs/trends.md`).
"""

import math
from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Annotated, Any, Literal, Protocol

import numpy as np
from pydantic import Field, StringConstraints

from commissioning.dossier import quantities as q
from commissioning.dossier.trends import VERSION, Logged, Plan, analyse
from commissioning.dossier.trends.logged import Log
from commissioning.dossier.trends.tuning import advice
from commissioning.logs.reduce import Floats, Reduced, reduce, told_once
from commissioning.logs.roles import MODE, STATE, roles

PICTURE_BUCKETS = 120
MOST_LINES = 16
_MOMENT_S = 1e-3
MOST_LOGS = 40  # of one unit, each analysed; the newest

Sha256 = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
Word = Annotated[str, StringConstraints(max_length=60)]
Text = Annotated[str, StringConstraints(max_length=1000)]
Pair = Annotated[list[q.Number], Field(min_length=2, max_length=2)]


class AmountModel(q.Closed):
    value: q.Number | None
    unit: Word
    source: Text = ""


class MarginModel(q.Closed):
    least: q.Number | None
    most: q.Number | None
    unit: Word


class ResultModel(q.Closed):
    """One expectation and what the log says of it. Times are seconds of the epoch, amounts in SI."""

    code: Word
    at: Word
    title: Text
    roles: Annotated[list[Word], Field(max_length=20)]
    limits: dict[Word, AmountModel]
    outcome: Literal["holds", "fails", "unknown"]
    margin: MarginModel | None
    at_s: q.Number | None
    lasting_s: q.Number
    unknown_s: q.Number
    asked_s: q.Number
    times: Annotated[int, Field(ge=0)]
    marks: Annotated[list[Pair], Field(max_length=50)]
    words: Text
    amounts: dict[Word, AmountModel]
    look: Text


class AdviceModel(q.Closed):
    """What the log means for a loop's settings, or why it advises none; amounts in SI."""

    loop: Word
    words: Text
    amounts: dict[Word, AmountModel]


class LineModel(q.Closed):
    """A point reduced for its picture: seconds since the log began, and values in SI; null breaks the line."""

    role: Word
    steps: bool
    times_s: Annotated[list[q.Number], Field(max_length=8 * PICTURE_BUCKETS)]
    values: Annotated[list[q.Number | None], Field(max_length=8 * PICTURE_BUCKETS)]


class TrendModel(q.Closed):
    """Of one file through one mapping, by one version of the analysis."""

    file: Sha256
    mapping: Sha256
    version: Annotated[int, Field(ge=1)]
    from_s: q.Number
    to_s: q.Number
    gaps: Annotated[list[Pair], Field(max_length=200)]
    results: Annotated[list[ResultModel], Field(max_length=400)]
    advice: Annotated[list[AdviceModel], Field(max_length=20)] = []
    lines: Annotated[list[LineModel], Field(max_length=MOST_LINES)]


class Opened(Protocol):
    """A kept log, as `logs.store.open_log` gives it."""

    def series(self, point: str) -> tuple[Floats, Floats]: ...


def series_of(log: Opened, points: Iterable[Mapping[str, Any]], wanted: Collection[str] = ()) -> dict[str, Logged]:
    """The series by role; `points` as a record names them. With `wanted` only these roles are read."""
    return {
        one["role"]: Logged(*log.series(one["name"]), by_change=one["by_change"])
        for one in points
        if not wanted or one["role"] in wanted
    }


def analysed(series: Mapping[str, Logged], plan: Plan, *, file: str, mapping: str) -> dict[str, Any]:
    """What a judging document carries of a log; ValueError where no point of it has a value."""
    found = analyse(series, plan)
    log = Log(series, plan.zone)
    return {
        "file": file,
        "mapping": mapping,
        "version": VERSION,
        "from_s": log.begin_s,
        "to_s": log.end_s,
        "gaps": sorted(found["gaps"], key=lambda one: one[0] - one[1])[:200],
        "results": [{name: one[name] for name in ResultModel.model_fields} for one in found["results"]],
        "advice": list(advice(found["loops"])),
        "lines": list(_lines(series, log)),
    }


def _lines(series: Mapping[str, Logged], log: Log) -> Iterator[dict[str, Any]]:
    for line in in_window(series, log, log.begin_s, log.end_s, PICTURE_BUCKETS):
        whole = [float(round(at)) for at in line["times_s"]]
        values = [None if one is None else float(f"{one:.4g}") for one in line["values"]]
        yield {**line, "times_s": whole, "values": values}


def in_window(
    series: Mapping[str, Logged], log: Log, start_s: float, end_s: float, buckets: int
) -> Iterator[dict[str, Any]]:
    """Each point's line in a window, in seconds since the window's begin, with the sample on each side of it."""
    known = [role for role in roles() if role in series and np.isfinite(series[role].values).any()]
    for role in known[:MOST_LINES]:
        one = series[role]
        drawn = told_once(window(one, log, start_s, end_s, buckets))
        yield {
            "role": role,
            "steps": steps(role, one),
            "times_s": [round(at - start_s, 3) for at in drawn.times_s.tolist()],
            "values": [None if math.isnan(value) else float(f"{value:.6g}") for value in drawn.values.tolist()],
        }


def window(one: Logged, log: Log, start_s: float, end_s: float, buckets: int) -> Reduced:
    """A point's picture in a window."""
    times, values = _held_on(one, log) if one.by_change else (one.times_s, one.values)
    return reduce(times, values, start_s=start_s, end_s=end_s, buckets=buckets, longest_gap_s=one.carry_s)


def _held_on(one: Logged, log: Log) -> tuple[Floats, Floats]:
    """A log by change holds to its end, and is not known from where the whole log is silent to its next sample."""
    times, values = one.times_s, one.values
    begins = np.array([begin for begin, _ in log.gaps])
    at = np.searchsorted(times, begins, side="right")
    at, first = np.unique(at, return_index=True)  # of two silences between two samples the first one ends what is known
    inside = (at > 0) & (at < times.size)
    at, begins = at[inside], begins[first[inside]]
    before = np.maximum(begins - _MOMENT_S, times[at - 1])
    times = np.insert(times, np.repeat(at, 2), np.column_stack([before, begins]).ravel())
    values = np.insert(values, np.repeat(at, 2), np.column_stack([values[at - 1], np.full(at.size, np.nan)]).ravel())
    if log.end_s > times[-1]:
        times, values = np.append(times, log.end_s), np.append(values, values[-1])
    return times, values


def steps(role: str, one: Logged) -> bool:
    """Whether a value is drawn to hold until the next."""
    return one.by_change or roles()[role].quantity in (STATE, MODE)
