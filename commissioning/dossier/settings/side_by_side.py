"""Two moments of a controller side by side: what changed, what was read at one of them only, and what is the same."""

from collections.abc import Collection, Mapping
from typing import Any

from commissioning.blocks import Column, Table
from commissioning.dossier import printing
from commissioning.dossier.settings import printed
from commissioning.dossier.settings.catalogue import CATALOGUE, Plain
from commissioning.dossier.settings.compare import Change, changes, in_both
from commissioning.dossier.settings.drift import moved_by
from commissioning.dossier.settings.show_drift import rules_on
from commissioning.dossier.settings.words import MOMENTS, person
from commissioning.dossier.shows import PORTS

PLACES = ("supply", "return", "outdoor", "exhaust", "exchanger")


class Pair:
    """Two snapshots as judging keeps them, each a measurement's plain JSON; `names` are of people, by their ids."""

    def __init__(self, then: Mapping[str, Any], now: Mapping[str, Any], names: Mapping[str, str]) -> None:
        self.then, self.now, self.names = then, now, names
        self.before: Mapping[str, Plain] = then["facts"]["values"]
        self.after: Mapping[str, Plain] = now["facts"]["values"]
        found = changes(self.before, self.after)
        self.changed = in_both(found)
        self.read_once = tuple(one for one in found if one not in self.changed)
        differing = {one.code for one in found}
        self.same = [code for code in CATALOGUE.settings if code in self.before and code not in differing]

    @property
    def unread(self) -> int:
        """How many settings of the catalogue were read at neither."""
        return len(CATALOGUE.settings) - len(self.changed) - len(self.read_once) - len(self.same)

    def moved(self) -> dict[str, list[str]]:
        """By port, and of the exchanger: the changed settings that move it."""
        codes = [one.code for one in self.changed]
        found = {place: moved_by(codes, place, (self.before, self.after)) for place in PLACES}
        return {place: held for place, held in found.items() if held}

    def changed_table(self, display: str, firing: Collection[str]) -> Table:
        moved = self.moved()
        rows = tuple(
            (*self._row(one, display), _listed(one.code, moved), _rules(one.code, firing)) for one in self.changed
        )
        columns = (*self._columns(), Column("What it moves"), Column("Rules that look at it"))
        return Table(columns, rows, "What changed", empty="No setting that was read at both differs.")

    def once_table(self, display: str) -> Table:
        rows = tuple(self._row(one, display) for one in self.read_once)
        return Table(self._columns(), rows, "Read at one of the two only: whether these changed is not known")

    def same_table(self, display: str) -> Table:
        rows = tuple((printed.title_of(code), printed.value(code, self.before[code], display)) for code in self.same)
        return Table((Column("Setting"), Column("At both")), rows, "The same at both")

    def _columns(self) -> tuple[Column, ...]:
        return Column("Setting"), *(Column(heading(one, self.names)) for one in (self.then, self.now))

    def _row(self, one: Change, display: str) -> tuple[str, str, str]:
        before, after = (printed.value(one.code, held, display) for held in (one.before, one.after))
        return printed.title_of(one.code), before, after


def heading(snapshot: Mapping[str, Any], names: Mapping[str, str]) -> str:
    """The moment, when it was read, and by whom."""
    facts = snapshot["facts"]
    said = f"{MOMENTS[facts['moment']]}, {printing.moment(snapshot['observed_at'])}"
    by = f", read by {names.get(facts['by']) or person(facts['by'])}"
    return f"{said[:1].upper()}{said[1:]}{by}"


def _listed(code: str, moved: Mapping[str, list[str]]) -> str:
    names = [PORTS.get(place, "the exchanger").lower() for place, codes in moved.items() if code in codes]
    return ", ".join(names) or "no air"


def _rules(code: str, firing: Collection[str]) -> str:
    return ", ".join(f"{rule} (fires)" if rule in firing else rule for rule in rules_on(code)) or "none"
