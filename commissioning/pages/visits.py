"""The plan of two weeks as a page and its paper show it: a sentence, then a table for each day, crews apart."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from commissioning.blocks import Block, Column, Sentence, Table
from commissioning.visits.stops import AHEAD, Stop
from portfolio.dashboards.words import count, opening, weekday
from portfolio.dashboards.words import units as units_word

NOT_SAID = (
    "What is done under the site's permits or by licensed persons alone is theirs to say. Nothing here says that a "
    "unit is safe to enter, to start or to energise."
)


def sentence(held: Sequence[Stop], today: date) -> str:
    planned = [one for one in held if one.day and one.day <= today + AHEAD]
    if not held:
        return "Nothing is due: no unit is waiting for a test, a retest or a verification."
    are = "is" if len(held) == 1 else "are"
    soon = count(len(planned)) if planned else "none"
    return opening(f"{count(len(held))} {units_word(len(held))} {are} to be visited; {soon} within two weeks.")


def days(held: Sequence[Stop], today: date) -> list[tuple[str, tuple[Block, ...]]]:
    """A section for each day with a visit, one for what was missed, one for what has no day; crews apart."""
    by_day: dict[date, list[Stop]] = defaultdict(list)
    for one in held:
        if one.day is not None:
            by_day[one.day].append(one)
    late = [one for day, stops in sorted(by_day.items()) if day < today for one in stops]
    sections = [("Planned for a day that is past", (_table(late),))] if late else []
    sections += [(weekday(day), (_table(by_day[day]),)) for day in sorted(by_day) if day >= today]
    rest = [one for one in held if one.day is None]
    sections += [("Without a day", (_table(rest),))] if rest else []
    return [*sections, ("What holds at every visit", (Sentence(NOT_SAID),))] if sections else []


def _table(held: Sequence[Stop]) -> Table:
    """By crew and then by site, so that one journey serves what lies together."""
    ordered = sorted(held, key=lambda one: (one.person is None, one.person.name if one.person else "", one.place))
    rows = tuple(
        (
            one.person.name if one.person else "nobody yet",
            one.unit.building.site.name,
            one.unit.building.name,
            one.unit.tag,
            one.what,
            one.needs,
        )
        for one in ordered
    )
    titles = ("Crew", "Site", "Building", "Unit", "What for", "What it needs")
    return Table(tuple(Column(title) for title in titles), rows)


def typed(one: Stop) -> Mapping[str, Any]:
    """A unit as the form offers it: its id with the version of its plan that was seen."""
    day = f", {weekday(one.day)}" if one.day else ""
    who = f", {one.person.name}" if one.person else ""
    return {"value": f"{one.unit.pk}:{one.version}", "words": f"{one.unit.tag}, {one.unit.building.name}{day}{who}"}
