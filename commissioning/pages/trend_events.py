"""What happened, while a log ran, at the units that it covers and its reader may see."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from uuid import UUID

from commissioning.blocks import Mark
from commissioning.dossier.trend_events import KINDS, Event, events, inside
from commissioning.models import JudgedPosition, Record, TrendAnalysis
from commissioning.pages.unit_paper import Seen
from portfolio.models import Person

_RECORDED_LATER = timedelta(days=2)  # a start or a test is recorded when it is over


@dataclass(frozen=True)
class Happened:
    """An event with the unit at which it was; `mark` names it where it is another one than the log's page is of."""

    unit: UUID
    tag: str
    event: Event
    mark: Mark


def happened(
    person: Person, seen: Seen, log: tuple[str, str], zone: str, window: tuple[float, float]
) -> list[Happened]:
    """`log` is the hash of its file and of its mapping: the same for each unit that it covers."""
    found = [
        Happened(unit, tag, event, event.mark(zone, "" if unit == seen.unit.pk else tag))
        for unit, tag, held in [*_here(seen), *_elsewhere(person, seen, log, window)]
        for event in inside(events(held, seen.display), *window)
    ]
    return sorted(found, key=lambda one: (one.event, one.tag))


_Unit = tuple[UUID, str, list[dict[str, object]]]


def _here(seen: Seen) -> Iterator[_Unit]:
    if seen.judged is not None:
        yield seen.unit.pk, seen.unit.tag, seen.judged.measurements


def _elsewhere(person: Person, seen: Seen, log: tuple[str, str], window: tuple[float, float]) -> Iterator[_Unit]:
    """Only what is known of units with a record of that time is read: one log may cover many."""
    begin, end = (datetime.fromtimestamp(at_s, UTC) for at_s in window)
    covered = TrendAnalysis.objects.visible_to(person).filter(file=log[0], mapping=log[1])
    recorded = Record.objects.filter(
        kind__in=KINDS,
        observed_at__gte=begin,
        observed_at__lte=end + _RECORDED_LATER,
        position__in=covered.values("position"),
    ).exclude(position=seen.unit)
    rows = JudgedPosition.objects.filter(position__in=recorded.values("position")).order_by("position__tag")
    yield from rows.values_list("position", "position__tag", "measurements")
