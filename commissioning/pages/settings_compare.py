"""Two moments of one controller side by side, and what depends on what changed. Which two stands in the address."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse

from commissioning.blocks import Block, Sentence
from commissioning.dossier.procedures import show_tests
from commissioning.dossier.settings.side_by_side import Pair, heading
from commissioning.dossier.shows import PORTS
from commissioning.judging import place_of
from commissioning.models import CurrentVerdict, Issue
from commissioning.pages.render import render_all
from commissioning.pages.unit_paper import UnitDocument
from commissioning.verdicts import neighbours
from portfolio.dashboards.words import count, listed, requirement_in_words
from portfolio.models import Person, Position

_RULES = "settings_consistent"
_MOST_NAMED = 50


@dataclass(frozen=True)
class Choice:
    envelope: str
    words: str


class SettingsComparePage(UnitDocument):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        seen = self.unit_seen(request, pk)
        measured = seen.judged.measurements if seen.judged else []
        snapshots = [one for one in measured if one["kind"] == "settings"]
        readers = {one["facts"]["by"] for one in snapshots}
        names = {str(pk): name for pk, name in Person.objects.filter(pk__in=readers).values_list("pk", "name")}
        then, now, told = _asked(snapshots, request.GET.get("then", ""), request.GET.get("now", ""))
        context: dict[str, Any] = {
            "display": seen.display,
            "unit": seen.unit,
            "where": seen.place.where,
            "waiting": self.is_waiting(seen.unit),
            "told": told,
            "sharing": self._sharing(seen.unit),
            "choices": [Choice(one["envelope"], heading(one, names)) for one in reversed(snapshots)],
        }
        if then is not None and now is not None:
            pair = Pair(then, now, names)
            context |= self._compared(seen.unit, pair, seen.display) | {"tests": _tests(measured, pair)}
            context |= {"then": then["envelope"], "now": now["envelope"]}
        return self.show("commissioning/settings_compare.html", context)

    def _compared(self, unit: Position, pair: Pair, display: str) -> dict[str, Any]:
        verdicts = list(CurrentVerdict.objects.filter(position=unit).select_related("judgement"))
        judged: Mapping[str, Any] = next((v.judgement.result for v in verdicts if v.requirement == _RULES), {})
        firing = {one["code"] for one in judged.get("facts", {}).get("findings", ())}
        moved = pair.moved()
        changed: list[Block] = [pair.changed_table(display, firing), *_moves(moved)]
        return {
            "changed": render_all(changed),
            "once": render_all([pair.once_table(display)]) if pair.read_once else "",
            "same": render_all([pair.same_table(display)]) if pair.same else "",
            "same_count": count(len(pair.same)),
            "unread": count(pair.unread),
            "again": _again(verdicts),
            "accepted": self._accepted(unit, moved) if pair.changed else [],
        }

    def _sharing(self, unit: Position) -> list[Position]:
        """The others of the site with an address of this one, of those that one sees."""
        found = neighbours.near([unit.pk]).get(unit.pk)
        if found is None or not found.positions:
            return []
        rows = self.seen(Position.objects).filter(pk__in=found.positions).select_related("building")
        return list(rows.order_by("building__name", "tag")[:_MOST_NAMED])

    def _accepted(self, unit: Position, moved: Mapping[str, Sequence[str]]) -> list[Issue]:
        """What was accepted as it is and may not be so any longer."""
        rows = self.seen(Issue.objects).filter(state=Issue.State.ACCEPTED, checks__position=unit)
        ports = [place for place in moved if place in PORTS]
        touched = rows.filter(checks__port__in=ports) | rows.filter(checks__requirement=_RULES)
        return list(touched.distinct().order_by("number"))


def _asked(
    snapshots: Sequence[Mapping[str, Any]], then: str, now: str
) -> tuple[Mapping[str, Any] | None, Mapping[str, Any] | None, str]:
    """The two that the address names, the earlier one first; else the newest and the one before it."""
    if len(snapshots) < 2:
        return None, None, ""
    order = {one["envelope"]: number for number, one in enumerate(snapshots)}
    strange = [one for one in (then, now) if one and one not in order]
    last = order.get(now, len(snapshots) - 1)
    first = order.get(then, max(last - 1, 0))
    first, last = sorted((first, last)) if first != last else (max(last - 1, 0), max(last, 1))
    told = "A moment that the address names is none of this unit: it may have been superseded." if strange else ""
    return snapshots[first], snapshots[last], told


def _moves(moved: Mapping[str, Sequence[str]]) -> list[Block]:
    ports = [PORTS[place].lower() for place in moved if place in PORTS]
    said = []
    if ports:
        said.append(f"Final readings of {listed(ports)} from before the change have to be taken again.")
    if "exchanger" in moved:
        said.append("A test of the exchanger from before the change has to be made again.")
    return [Sentence(" ".join(said))] if said else []


def _tests(measured: Sequence[Mapping[str, Any]], pair: Pair) -> str:
    """The functional tests that were run at the unit and depend on what changed."""
    return listed(show_tests.to_run_again(measured, [one.code for one in pair.changed]))


def _again(verdicts: Sequence[CurrentVerdict]) -> list[tuple[str, str]]:
    """Where judging says re-check for a changed setting: the anchor on the unit page, and in words."""
    held = [
        one
        for one in verdicts
        if one.outcome == "recheck" and one.judgement.result["absence"]["text"].startswith("Settings were changed")
    ]
    return [
        (
            f"j-{one.requirement}-{one.port}",
            f"{requirement_in_words(one.requirement)}, {place_of(one.port, [one.requirement]) or 'the unit'}",
        )
        for one in held
    ]
