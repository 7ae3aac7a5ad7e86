"""Temporary operation: what was read while a unit ran for somebody's convenience is never final, whatever was sent.

A period is told by a start's record and lasts to its end, to the next start that is none of temporary operation, or to
the change of the machine. Answers of a checklist and settings that were read stand: they are no readings of its work.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from commissioning.dossier.figures import Figures
from commissioning.dossier.given import Place
from commissioning.dossier.results import Measurement
from commissioning.dossier.startup.standing import KIND, is_commanded
from commissioning.dossier.startup.words import FILTERS, period_of

_STANDS = ("checklist", "settings")


@dataclass(frozen=True, slots=True)
class Period:
    """Days at the site, both included; `ends` is the moment of the start that ended it sooner."""

    since: date
    until: date | None
    ends: datetime | None
    said: str

    def holds(self, moment: datetime, place: Place) -> bool:
        day = place.day(moment)
        if day < self.since or (self.until is not None and day > self.until):
            return False
        if self.ends is not None and moment >= self.ends:
            return False
        changed = place.machine_since
        return changed is None or not self.since < changed <= day


def periods(held: Iterable[Measurement | Figures]) -> list[Period]:
    """As the newest record says of each beginning."""
    starts = [one for one in held if isinstance(one, Figures) and one.kind == KIND]
    newest: dict[str, int] = {}
    for number, one in enumerate(starts):
        if one.facts["temporary"]:
            newest[one.facts["temporary"]["since"]] = number
    return [_period(starts[number], starts[number + 1 :]) for number in newest.values()]


def _period(start: Figures, later: Sequence[Figures]) -> Period:
    told = start.facts["temporary"]
    return Period(
        since=date.fromisoformat(told["since"]),
        until=date.fromisoformat(told["until"]) if told["until"] else None,
        ends=next((one.when for one in later if _is_a_start(one)), None),
        said=f"temporary operation {period_of(told)}, with {FILTERS[told['filters']]}, allowed by {told['allowed_by']}",
    )


def _is_a_start(one: Figures) -> bool:
    return is_commanded(one) and one.stage == "final" and not one.facts["temporary"] and not one.facts["not_running"]


def never_final(held: Sequence[Measurement | Figures], place: Place) -> list[Measurement | Figures]:
    """The same, with what was sent as final out of temporary operation as preliminary, and the reason told."""
    found = periods(held)
    return [_as_it_counts(one, found, place) for one in held] if found else list(held)


def _as_it_counts(one: Measurement | Figures, found: Sequence[Period], place: Place) -> Measurement | Figures:
    if one.stage != "final" or one.kind in _STANDS:
        return one
    period = next((period for period in found if period.holds(one.when, place)), None)
    if period is None:
        return one
    reason = f"Sent as final, and read in {period.said}: never final."
    return replace(one, stage="preliminary", remarks=(*one.remarks, reason), facts={**one.facts, "not_final": reason})
