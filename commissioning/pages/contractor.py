"""A contractor's page: which issues are theirs, by when, and what proof closes them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from commissioning.issues.queries import Check, checks_of, with_everything
from commissioning.models import Issue
from portfolio.dashboards.days import Days
from portfolio.dashboards.words import count, day, listed, opening, requirement_in_words, weekday
from portfolio.models import Person

MOST = 500


@dataclass(frozen=True)
class Item:
    issue: Issue
    units: str
    places: str
    due: str
    is_late: bool
    closes: str


@dataclass(frozen=True)
class Place:
    building: str
    items: list[Item]


def proof_of(checks: Sequence[Check]) -> str:
    """What closes an issue, in words: the final readings that have to be within their limits at the retest."""
    failing = [check for check in checks if check.outcome != "conforms"] or list(checks)
    ports: dict[str, dict[str, set[str]]] = {}
    for check in failing:
        ports.setdefault(check.requirement, {}).setdefault(check.tag, set()).add(check.port)
    parts = [
        f"{requirement_in_words(code).lower()} met at {listed([_where(tag, at) for tag, at in sorted(tags.items())])}"
        for code, tags in sorted(ports.items())
    ]
    return (
        opening(f"{'; '.join(parts)}, by final readings at the retest.") if parts else "The firm says what closes it."
    )


def _where(tag: str, ports: set[str]) -> str:
    """
    >>> _where("ERV-3", {"supply", "outdoor"}), _where("ERV-3", {""})
    ('outdoor and supply air of ERV-3', 'ERV-3')
    """
    named = sorted(port for port in ports if port)
    return f"{listed(named)} air of {tag}" if named else tag


def items_of(issues: list[Issue]) -> list[Item]:
    found, days = checks_of(issues), Days({issue.project_id for issue in issues})
    return [_item(issue, found[str(issue.pk)], days.today(issue.project_id)) for issue in issues]


def _item(issue: Issue, checks: Sequence[Check], today: date) -> Item:
    return Item(
        issue=issue,
        units=listed(sorted({check.tag for check in checks})),
        places=listed(sorted({check.building for check in checks})),
        due=weekday(issue.due),
        is_late=issue.due is not None and issue.due < today,
        closes=proof_of(checks),
    )


def by_building(items: Sequence[Item]) -> list[Place]:
    places: dict[str, list[Item]] = {}
    for item in items:
        places.setdefault(item.places or "No building", []).append(item)
    return [Place(name, held) for name, held in sorted(places.items())]


def sentence(issues: Sequence[Issue], days: Days) -> str:
    """Six issues are yours; two are due before Thu 4 Jun 2026."""
    number = len(issues)
    if not number:
        return "No issue is yours at present."
    head = "One issue is yours" if number == 1 else f"{opening(count(number))} issues are yours"
    late = sum(1 for i in issues if i.due and i.due < days.today(i.project_id))
    if late:
        which = "it is" if number == 1 else f"{count(late)} {'is' if late == 1 else 'are'}"
        return f"{head}; {which} overdue."
    soon = sorted(i.due for i in issues if i.due and i.due <= days.today(i.project_id) + timedelta(days=14))
    if not soon:
        return f"{head}; {'it is not' if number == 1 else 'none is'} due within two weeks."
    first = sum(1 for d in soon if d == soon[0])
    which = "it is" if number == 1 else f"{count(first)} {'is' if first == 1 else 'are'}"
    return f"{head}; {which} due on {weekday(soon[0])}."


def contractors_list(person: Person) -> dict[str, Any]:
    rows = with_everything(Issue.objects.visible_to(person)).exclude(state__in=["merged"]).order_by("due", "number")
    issues = list(rows[:MOST])
    days = Days({issue.project_id for issue in issues})
    mine = [i for i in issues if i.state == Issue.State.RELEASED]
    awaiting = [i for i in issues if i.state in (Issue.State.READY, Issue.State.NOT_OURS)]
    done = [i for i in issues if not i.is_live]
    lists = {(i.project, i.company) for i in issues if i.company_id in person.reach.companies}
    return {
        "sentence": sentence(mine, days),
        "places": by_building(items_of(mine)),
        "awaiting": items_of(awaiting),
        "done": [(i, day(days.day(i.moved_at, i.project_id))) for i in done[:50]],
        "lists": sorted(lists, key=lambda pair: (pair[0].name, str(pair[1]))),
    }
