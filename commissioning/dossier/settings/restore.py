"""Which snapshot a controller is set by after a swap or a reset, and what has to be known of it before that is done.

From what was measured, as it is kept. The newest as left counts whatever machine it was read on: a new machine is set
by what the former one was left with, and the sheet says so.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from commissioning.dossier.settings.compare import Change, changes, in_both

KIND = "settings"
_SET_BY = ("as_left", "as_found")
Snapshot = Mapping[str, Any]


@dataclass(frozen=True)
class Machine:
    """What sat or sits here, from day to day."""

    serial: str
    since: date
    until: date | None = None
    model: str = ""


@dataclass(frozen=True)
class Place:
    """What a sheet says of the unit beside its settings."""

    tag: str
    where: str
    time_zone: str
    machines: tuple[Machine, ...] = ()

    @property
    def machine_now(self) -> Machine | None:
        return next((one for one in self.machines if one.until is None), None)

    def machine_at(self, moment: str) -> Machine | None:
        day = datetime.fromisoformat(moment).astimezone(ZoneInfo(self.time_zone)).date()
        held = [one for one in self.machines if one.since <= day and (one.until is None or day <= one.until)]
        return max(held, key=lambda one: one.since, default=None)


@dataclass(frozen=True)
class Source:
    """Who sent a record, and the hash of its bytes."""

    by: str
    sha256: str


@dataclass(frozen=True)
class Restore:
    """The snapshot to set by, the one before it, and the newest follow-up after it."""

    snapshot: Snapshot
    before: Snapshot | None = None
    later: Snapshot | None = None

    @property
    def changed(self) -> tuple[Change, ...]:
        return () if self.before is None else _between(self.before, self.snapshot)

    @property
    def drifted(self) -> tuple[Change, ...]:
        return () if self.later is None else _between(self.snapshot, self.later)


def chosen(measurements: Iterable[Mapping[str, Any]]) -> Restore | None:
    """The newest snapshot as left, else as found; None where there is neither."""
    held = sorted((one for one in measurements if one["kind"] == KIND), key=_when)
    for moment in _SET_BY:
        of_moment = [one for one in held if one["facts"]["moment"] == moment]
        if of_moment:
            at = held.index(of_moment[-1])
            followed = [one for one in held[at + 1 :] if one["facts"]["moment"] == "follow_up"]
            return Restore(held[at], held[at - 1] if at else None, followed[-1] if followed else None)
    return None


def _when(snapshot: Snapshot) -> tuple[datetime, str]:
    return datetime.fromisoformat(snapshot["observed_at"]), snapshot["envelope"]


def _between(before: Snapshot, after: Snapshot) -> tuple[Change, ...]:
    """What was read at one of the moments only is no change."""
    return in_both(changes(before["facts"]["values"], after["facts"]["values"]))
