"""Drift: what a controller's settings show to have changed since a reading was taken, and what it moves.

The settings that held when a reading was taken are those of the newest snapshot before it. Where that is one *as
found*, work followed it: then the snapshot as left of the reading's own session tells what held, since an as-left
session is the state in which the unit was left. A setting that was set back is no drift. Who read a snapshot need not
be who changed it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from commissioning.dossier import printing
from commissioning.dossier.figures import Figures
from commissioning.dossier.settings import printed
from commissioning.dossier.settings.catalogue import CATALOGUE, Plain
from commissioning.dossier.settings.compare import same
from commissioning.dossier.settings.words import MOMENTS, person

SIDES = {"supply": "supply", "outdoor": "supply", "return": "exhaust", "exhaust": "exhaust"}
"""By port: the side of the unit whose fan moves its air."""


class Reading(Protocol):
    @property
    def when(self) -> datetime: ...
    @property
    def session(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Drift:
    """One setting that is another now, and the first snapshot that showed it so."""

    code: str
    before: Plain
    after: Plain
    shown_by: Figures


@dataclass(frozen=True, slots=True)
class Since:
    """What is known since a reading. `held` is None where no snapshot tells what held then."""

    held: Figures | None
    drifts: tuple[Drift, ...] = ()
    values: tuple[Mapping[str, Plain], ...] = field(default=({}, {}))  # then, now

    def at(self, place: str) -> tuple[Drift, ...]:
        """Those that move the air of a port, or what the `exchanger` does."""
        moving = set(moved_by([one.code for one in self.drifts], place, self.values))
        return tuple(one for one in self.drifts if one.code in moving)


def moved_by(codes: Iterable[str], place: str, values: Sequence[Mapping[str, Plain]]) -> list[str]:
    """Those settings that move the air of a port or what the `exchanger` does, where `values` held then and now.

    >>> moved_by(["supply_speed", "frost_limit"], "return", [{"exhaust_control": "constant_speed"}, {}])
    []
    >>> moved_by(["supply_speed", "frost_limit"], "return", [{}, {"exhaust_control": "follows_supply_by_speed_ratio"}])
    ['supply_speed']
    """
    side = SIDES.get(place, place)
    moving = {"exchanger"} if place == "exchanger" else {side, "both"}
    if side in CATALOGUE.couplings and _looks_across(side, values):
        moving |= set(SIDES.values())
    return [code for code in codes if CATALOGUE.settings[code].moves in moving]


def since(snapshots: Sequence[Figures], reading: Reading) -> Since:
    """`snapshots` are those of the machine that sits there, in the order of observation, none of them *as ordered*."""
    held = _held(snapshots, reading)
    if held is None:
        return Since(None)
    place = snapshots.index(held)
    settled = [one for one in snapshots[:place] if one.facts["moment"] != "as_found"]
    later = snapshots[place + 1 :]
    then, now = _known([*settled, held]), _known([*settled, held, *later])
    drifts = tuple(
        Drift(code, then[code], now[code], _first_shown(code, later))
        for code in CATALOGUE.settings
        if code in then and not same(then[code], now[code])
    )
    return Since(held, drifts, (then, now))


def _held(snapshots: Sequence[Figures], reading: Reading) -> Figures | None:
    before = [one for one in snapshots if one.when <= reading.when]
    if before and before[-1].facts["moment"] != "as_found":
        return before[-1]
    own = (one for one in snapshots[len(before) :] if one.session == reading.session)
    left = next((one for one in own if one.facts["moment"] == "as_left"), None)
    return left or (before[-1] if before else None)


def _known(snapshots: Iterable[Figures]) -> dict[str, Plain]:
    """Of each setting what was read last; a snapshot need not name all."""
    return {code: value for one in snapshots for code, value in one.facts["values"].items()}


def _first_shown(code: str, later: Sequence[Figures]) -> Figures:
    read = [one for one in later if code in one.facts["values"]]
    first = read[-1]
    for one in reversed(read):
        if not same(one.facts["values"][code], first.facts["values"][code]):
            break
        first = one
    return first


def _looks_across(side: str, values: Iterable[Mapping[str, Plain]]) -> bool:
    setting, choices = CATALOGUE.couplings[side]
    return any(held.get(setting) in choices for held in values)


def in_words(drifts: Sequence[Drift], display: str) -> str:
    """What changed, each snapshot that showed it once."""
    by_snapshot: dict[str, list[Drift]] = {}
    for one in drifts:
        by_snapshot.setdefault(one.shown_by.envelope, []).append(one)
    told = [
        f"{', '.join(_change(one, display) for one in held)}, {_seen(held[0].shown_by)}"
        for held in by_snapshot.values()
    ]
    return f"Settings were changed since: {'; '.join(told)}. Measure again."


def _change(one: Drift, display: str) -> str:
    before, after = (printed.value(one.code, held, display) for held in (one.before, one.after))
    return f"{printed.lower_title_of(one.code)} from {before} to {after}"


def _seen(snapshot: Figures) -> str:
    moment = MOMENTS[snapshot.facts["moment"]]
    return f"seen {moment} on {printing.moment(snapshot.observed_at)} by {person(snapshot.facts['by'])}"
