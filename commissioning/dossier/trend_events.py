"""What happened at a unit while a log ran, for its plot: settings that were read, functional tests, starts.

Told from the unit's measurements, as judging has them; nothing of it is judged here.
"""

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from typing import Any, NamedTuple

from commissioning.blocks import Mark
from commissioning.dossier.procedures.show_tests import OUTCOMES, title_of
from commissioning.dossier.settings import printed
from commissioning.dossier.settings.compare import Change, changes, in_both
from commissioning.dossier.settings.words import MOMENTS
from commissioning.dossier.startup import words as startup
from commissioning.dossier.startup.standing import FANS
from commissioning.dossier.trend_pictures import moment

KINDS = ("settings", "test_run", "startup")
_NAMED = 2  # settings that changed; the rest is counted


class Event(NamedTuple):
    """From when to when, in seconds of the epoch, and what."""

    from_s: float
    to_s: float
    words: str

    def mark(self, zone: str, tag: str = "") -> Mark:
        """`tag` where it was at another unit than the plot is of."""
        said = f"{moment(self.from_s, zone)}: {f'{tag}, ' if tag else ''}{self.words}."
        return Mark(said, self.from_s, self.to_s)


def events(measurements: Iterable[Mapping[str, Any]], display: str) -> list[Event]:
    """In the order of time. `measurements` are one unit's, in the order of observation."""
    held = list(measurements)
    found = [*_settings(held, display), *_runs(held), *_starts(held)]
    return sorted(found)


def inside(found: Iterable[Event], from_s: float, to_s: float) -> list[Event]:
    return [one for one in found if one.to_s >= from_s and one.from_s <= to_s]


def _settings(held: Iterable[Mapping[str, Any]], display: str) -> Iterator[Event]:
    """Each moment at which they were read, against all that was read before: a moment may hold only some of them."""
    known: dict[str, Any] = {}
    for one in held:
        facts = one["facts"]
        if one["kind"] != "settings" or facts["moment"] == "as_ordered":
            continue
        values = {code: float(value) if type(value) is int else value for code, value in facts["values"].items()}
        moved = in_both(changes(known, values))
        told = f"settings read {MOMENTS[facts['moment']]}"
        if known:
            told += f": {_changed(moved, display)}" if moved else ": as before"
        known |= values
        at_s = _seconds(one["observed_at"])
        yield Event(at_s, at_s, told)


def _changed(moved: tuple[Change, ...], display: str) -> str:
    named = [
        f"{printed.lower_title_of(one.code)} from {printed.value(one.code, one.before, display)} "
        f"to {printed.value(one.code, one.after, display)}"
        for one in moved[:_NAMED]
    ]
    more = len(moved) - _NAMED
    return ", ".join(named) + (f", and {more} more" if more > 0 else "")


def _runs(held: Iterable[Mapping[str, Any]]) -> Iterator[Event]:
    """From the first answer that has its time to the last; else the moment of the record."""
    for one in held:
        if one["kind"] == "test_run":
            facts = one["facts"]
            times = [_seconds(answer["at"]) for answer in facts["answers"].values() if answer["at"]]
            times = times or [_seconds(one["observed_at"])]
            told = f"test “{title_of(facts['procedure'])}”, run {facts['run']}, {OUTCOMES[facts['outcome']]}"
            yield Event(min(times), max(times), told)


def _starts(held: Iterable[Mapping[str, Any]]) -> Iterator[Event]:
    for one in held:
        if one["kind"] == "startup":
            facts = one["facts"]
            at_s = _seconds(facts["start_command"] or one["observed_at"])
            yield Event(at_s, at_s, f"start recorded: {_start(facts)}")


def _start(facts: Mapping[str, Any]) -> str:
    if facts["not_running"]:
        return f"does not run, {startup.cause_of(facts['not_running'])}"
    seen = {fan: facts["fans"][fan]["air"]["seen"] for fan in FANS if fan in facts["fans"]}
    fans = [f"{fan} fan, {startup.AIR[one]}" for fan, one in seen.items()]
    return "; ".join(fans) or "no fan commanded"


def _seconds(text: str) -> float:
    return datetime.fromisoformat(text).timestamp()
