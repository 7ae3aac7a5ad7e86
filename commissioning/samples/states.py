"""What was read of one and the same state of a unit: the finals of an as-left session and every repeat of it.

A verification touches nothing, so that it reads what the newest as-left session before it had left behind. The same
sorting as in `dossier.view`, but of every state that a unit was ever in, not of the last one alone.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from commissioning.dossier.balance import measurement_of
from commissioning.dossier.results import Measurement
from commissioning.dossier.view import agreement_of
from commissioning.models import JudgedPosition
from portfolio.models import bulk


@dataclass(frozen=True)
class State:
    """A unit as an as-left session left it: that session's finals, and the repeats before the next one began."""

    session: str
    finals: tuple[Measurement, ...]
    repeats: tuple[Measurement, ...]

    @property
    def readings(self) -> tuple[Measurement, ...]:
        return self.finals + self.repeats


@dataclass(frozen=True)
class Difference:
    """A repeat that differed from the final it repeated by more than both uncertainties."""

    port: str
    when: datetime
    session: str
    normalised_difference: float


def measured(positions: Collection[UUID]) -> dict[UUID, list[Measurement]]:
    """The airflows that are kept of each position, in one query."""
    rows = JudgedPosition.objects.filter(bulk.among("pk", positions)).values_list("pk", "measurements")
    return {pk: _airflows(kept) for pk, kept in rows}


def _airflows(kept: Iterable[Mapping[str, Any]]) -> list[Measurement]:
    found = [one for data in kept if (one := measurement_of(data)) is not None]
    return sorted(found, key=lambda one: one.when)


def states_of(measurements: Sequence[Measurement]) -> list[State]:
    """In the order in which the sessions began."""
    began: dict[str, datetime] = {}
    for one in measurements:
        if one.purpose == "as_left":
            began.setdefault(one.session, one.when)
    order = sorted(began, key=lambda session: (began[session], session))
    finals: dict[str, list[Measurement]] = {session: [] for session in order}
    repeats: dict[str, list[Measurement]] = {session: [] for session in order}
    for one in measurements:
        if one.stage != "final":
            continue
        if one.purpose == "as_left":
            finals[one.session].append(one)
            continue
        before = [session for session in order if began[session] <= one.when]
        if one.purpose == "verification" and before:
            repeats[before[-1]].append(one)
    return [State(session, tuple(finals[session]), tuple(repeats[session])) for session in order]


def is_sound(one: Measurement) -> bool:
    """Whether the operating state, the method and the calibration let the reading be compared."""
    return not one.faults and not one.doubts and one.calibration != "failed"


def differences(measurements: Sequence[Measurement], since: datetime) -> Iterator[Difference]:
    """Repeats since a moment that differed from the final that stood then, corrected in the meantime or not."""
    for state in states_of(measurements):
        for repeat in state.repeats:
            stood = [
                one
                for one in state.finals
                if (one.port, one.mode) == (repeat.port, repeat.mode) and one.when <= repeat.when
            ]
            if repeat.when < since or not stood or not is_sound(repeat) or not is_sound(stood[-1]):
                continue
            size = agreement_of(stood[-1], repeat).normalised_difference
            if size > 1.0:
                yield Difference(repeat.port, repeat.when, repeat.session, size)
