"""The weekly meeting in one sheet, as of a moment: what changed, who has what since when, what comes, what to decide.

Everything is computed from dated rows (changes of verdict, events of issues), so the same moment gives the same sheet.
Titles and priorities of issues are those of today. It is made of blocks, so that page and paper say the same.
"""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from commissioning.blocks import Block, Column, Sentence, Table
from commissioning.judging import place_of
from commissioning.models import Issue, IssueEvent, VerdictChange
from portfolio.dashboards.words import (
    count,
    day,
    listed,
    opening,
    outcome_in_words,
    requirement_in_words,
    weekday,
)
from portfolio.models import Person, Position, Project, Site

S = Issue.State
AHEAD = timedelta(days=14)


@dataclass
class Then:
    """An issue as it was at the sheet's moment."""

    issue: Issue
    state: str
    moved: datetime
    company: str
    due: date | None
    retest_on: date | None
    units: tuple[str, ...]
    new_events: list[IssueEvent] = field(default_factory=list)

    @property
    def is_open(self) -> bool:
        return self.state in Issue.LIVE

    @property
    def name(self) -> str:
        return f"{self.issue.number}. {self.issue.title}"


@dataclass(frozen=True)
class Section:
    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Sheet:
    project: Project
    as_of: datetime
    since: datetime
    zone: str
    sentence: str
    sections: tuple[Section, ...]
    title: str = "weekly meeting"

    @property
    def heading(self) -> str:
        return f"As of {weekday(self.as_of.astimezone(ZoneInfo(self.zone)).date())}, {self._clock}"

    @property
    def _clock(self) -> str:
        return f"{self.as_of.astimezone(ZoneInfo(self.zone)):%H:%M %Z}"


@dataclass(frozen=True)
class Gathered:
    """All that is read for a sheet; how many rows are shown is decided afterwards."""

    project: Project
    as_of: datetime
    since: datetime
    zone: str
    issues: list[Then]
    changes: list[VerdictChange]
    holds: dict[tuple[str, str, str], str]


def gather(person: Person, project: Project, as_of: datetime, since: datetime) -> Gathered:
    site = Site.objects.filter(project=project).order_by("name").first()
    changes, holds = _changes(person, project, as_of, since)
    issues = _issues(person, project, as_of, since)
    return Gathered(project, as_of, since, site.time_zone if site else "UTC", issues, changes, holds)


def compose(read: Gathered, *, most: int = 200) -> Sheet:
    """`most` rows in each table: what is left out is counted in its last row."""
    zone = ZoneInfo(read.zone)
    today = read.as_of.astimezone(zone).date()
    is_open = [one for one in read.issues if one.is_open]
    sections = (
        Section(f"What changed since {day(read.since.astimezone(zone).date())}", _changed(read, most)),
        Section("Who has the next move, and since when", _by_company(is_open, today)),
        Section("Open issues by company and age", _open(is_open, today, most)),
        Section("Ready for test", _ready(is_open, today, most)),
        Section("The next two weeks", _ahead(is_open, today, most)),
        Section("Decisions needed", _decisions(is_open, read.holds, today, most)),
    )
    return Sheet(read.project, read.as_of, read.since, read.zone, _sentence(is_open, read), sections)


# --- reading -----------------------------------------------------------------------------------------------------


def _issues(person: Person, project: Project, as_of: datetime, since: datetime) -> list[Then]:
    rows = Issue.objects.visible_to(person).filter(project=project, opened_at__lte=as_of).select_related("company")
    found = []
    events: dict[UUID, list[IssueEvent]] = defaultdict(list)
    for event in IssueEvent.objects.filter(issue__in=rows.values("pk"), at__lte=as_of).order_by("pk"):
        events[event.issue_id].append(event)
    for issue in rows.prefetch_related("checks__position").order_by("number"):
        found.append(_then(issue, events[issue.pk], since))
    return found


def _then(issue: Issue, events: Sequence[IssueEvent], since: datetime) -> Then:
    state, moved = str(S.DRAFT), issue.opened_at
    company = issue.company.name if issue.company else ""
    due, retest_on = issue.due, None
    for event in events:
        if event.after and event.after != state:
            state, moved = event.after, event.at
        company = str(event.detail.get("company", company))
        due = _day(event.detail.get("due")) or due
        retest_on = _day(event.detail.get("retest_on")) or (retest_on if state == S.READY else None)
    units = tuple(sorted({check.position.tag for check in issue.checks.all()}))
    new = [event for event in events if event.at > since]
    return Then(issue, state, moved, "" if state == S.DRAFT else company, due, retest_on, units, new)


def _day(text: object) -> date | None:
    try:
        return date.fromisoformat(str(text))
    except ValueError:
        return None


def _changes(
    person: Person, project: Project, as_of: datetime, since: datetime
) -> tuple[list[VerdictChange], dict[tuple[str, str, str], str]]:
    """The changes of outcome of the week, and what held at the moment by unit, requirement and port."""
    positions = Position.objects.visible_to(person).filter(building__site__project=project)
    rows = VerdictChange.objects.filter(position__in=positions.values("pk"), at__lte=as_of).order_by("pk")
    holds: dict[tuple[str, str, str], str] = {}
    for tag, requirement, port, after in rows.values_list("position__tag", "requirement", "port", "after"):
        holds[tag, requirement, port] = after
    fresh = rows.filter(at__gt=since).select_related("position__building")
    return list(fresh), holds


# --- saying ------------------------------------------------------------------------------------------------------


def _sentence(is_open: Sequence[Then], read: Gathered) -> str:
    """Three issues are open; one was settled since 29 Apr 2026. Of 20 ports judged for design airflow, 18 conform."""
    issues, holds, since = read.issues, read.holds, read.since
    number = len(is_open)
    settled = sum(1 for one in issues if one.state in (S.CLOSED, S.ACCEPTED) and one.moved > since)
    head = (
        "No issue is open" if not number else "One issue is open" if number == 1 else f"{count(number)} issues are open"
    )
    how_many = "none was" if not settled else "one was" if settled == 1 else f"{count(settled)} were"
    said = [f"{opening(head)}; {how_many} settled since {day(since.astimezone(ZoneInfo(read.zone)).date())}."]
    judged = [
        o
        for (_, r, _), o in holds.items()
        if r == "design_airflow" and o in ("conforms", "does_not_conform", "inconclusive")
    ]
    if judged:
        good = judged.count("conforms")
        said.append(f"Of {len(judged)} ports judged for design airflow, {good} conform{'s' if good == 1 else ''}.")
    return " ".join(said)


def _changed(read: Gathered, most: int) -> tuple[Block, ...]:
    acts = Counter(event.act for one in read.issues for event in one.new_events)
    said = []
    for act, one, many in (
        ("release", "was released", "were released"),
        ("answer_ready", "was declared ready", "were declared ready"),
        ("answer_not_ours", "was answered “not ours”", "were answered “not ours”"),
        ("retest_failed", "retest failed", "retests failed"),
        ("close", "was closed on evidence", "were closed on evidence"),
        ("accept", "was accepted as it is", "were accepted as they are"),
        ("reopen", "was opened again", "were opened again"),
    ):
        if acts[act]:
            said.append(f"{count(acts[act])} {one if acts[act] == 1 else many}")
    text = f"Of the issues, {listed(said)}." if said else "No issue moved."
    rows, first, units = _moves(read.changes)
    if first:
        text += f" {opening(count(first))} {'check was' if first == 1 else 'checks were'} judged for the first time"
        text += (
            f" and {'conforms' if first == 1 else 'conform'}, at {count(units)} {'unit' if units == 1 else 'units'}."
        )
    columns = ("Unit", "Building", "Requirement", "Ports", "Before", "Now")
    return Sentence(text), _table(columns, rows, most, "No verdict turned.")


def _moves(changes: Sequence[VerdictChange]) -> tuple[list[tuple[str, ...]], int, int]:
    """What turned, the failing first; what conforms at once is only counted: how many checks, at how many units."""
    latest: dict[tuple[UUID, str, str], tuple[str, VerdictChange]] = {}
    for row in changes:
        key = (row.position_id, row.requirement, row.port)
        before = (latest[key][0] if key in latest else "") or row.before  # what held before the week, or first in it
        latest[key] = (before, row)
    ports: dict[tuple[str, str, str, str, str], list[str]] = defaultdict(list)
    first: list[UUID] = []
    for (position, requirement, port), (before, row) in latest.items():
        if before in ("", "not_due", "not_judged") and row.after == "conforms":
            first.append(position)
        elif before and before != row.after:
            ports[row.position.tag, row.position.building.name, requirement, before, row.after].append(port)
    order = sorted(ports, key=lambda key: (key[4] != "does_not_conform", key[3] != "does_not_conform", key))
    rows: list[tuple[str, ...]] = [
        (
            tag,
            building,
            requirement_in_words(requirement),
            listed(sorted(place_of(port, [requirement]) or "the unit" for port in ports[key])),
            _words(key[3]),
            _words(key[4]),
        )
        for key in order
        for tag, building, requirement, *_ in [key]
    ]
    return rows, len(first), len(set(first))


def _words(outcome: str) -> str:
    return outcome_in_words(outcome) if outcome else "no longer judged"


def _who(one: Then) -> str:
    if one.state == S.RELEASED:
        return one.company or "a company"
    return {S.DRAFT: "the lead", S.NOT_OURS: "the lead", S.READY: "the firm, to retest"}.get(S(one.state), "the firm")


def _by_company(is_open: Sequence[Then], today: date) -> tuple[Block, ...]:
    """Ages in weeks: the oldest is what a meeting asks for."""
    held: dict[str, list[int]] = defaultdict(list)
    late: Counter[str] = Counter()
    for one in is_open:
        held[_who(one)].append(_age(one, today))
        late[_who(one)] += bool(one.due and one.due < today and one.state == S.RELEASED)
    rows = [
        (
            who,
            str(len(ages)),
            str(sum(1 for a in ages if a < 7)),
            str(sum(1 for a in ages if 7 <= a < 28)),
            str(sum(1 for a in ages if a >= 28)),
            str(late[who]),
        )
        for who, ages in sorted(held.items(), key=lambda item: (-len(item[1]), item[0]))
    ]
    heads = ("Who", "Open", "Under a week", "One to four weeks", "Over four weeks", "Overdue")
    columns = tuple(Column(title, align="right" if number else "left") for number, title in enumerate(heads))
    return (Table(columns, tuple(rows), empty="No issue is open."),)


def _age(one: Then, today: date) -> int:
    return (today - one.moved.date()).days


def _open(is_open: Sequence[Then], today: date, most: int) -> tuple[Block, ...]:
    rows = [
        (
            _who(one),
            one.name,
            ", ".join(one.units),
            str(one.issue.get_priority_display()),
            f"{max(_age(one, today), 0)} d",
            day(one.due),
        )
        for one in sorted(is_open, key=lambda one: (_who(one), -_age(one, today), one.issue.number))
    ]
    return (_table(("Who", "Issue", "Units", "Priority", "Since", "Due"), rows, most, "No issue is open."),)


def _ready(is_open: Sequence[Then], today: date, most: int) -> tuple[Block, ...]:
    ready = sorted(
        (one for one in is_open if one.state == S.READY), key=lambda one: (one.retest_on or date.max, one.moved)
    )
    rows = [
        (
            one.name,
            ", ".join(one.units),
            one.company,
            f"{max(_age(one, today), 0)} d",
            weekday(one.retest_on) or "not scheduled",
        )
        for one in ready
    ]
    return (
        _table(("Issue", "Units", "Declared by", "Waits since", "Retest"), rows, most, "Nothing is declared ready."),
    )


def _ahead(is_open: Sequence[Then], today: date, most: int) -> tuple[Block, ...]:
    coming: list[tuple[date, tuple[str, ...]]] = []
    for one in is_open:
        if one.retest_on and today <= one.retest_on <= today + AHEAD:
            coming.append((one.retest_on, ("retest", one.name, ", ".join(one.units), "the firm")))
        if one.state == S.RELEASED and one.due and today <= one.due <= today + AHEAD:
            coming.append((one.due, ("due", one.name, ", ".join(one.units), one.company)))
    rows = [(weekday(when), *rest) for when, rest in sorted(coming)]
    empty = "No retest is scheduled and no issue is due within two weeks."
    return (_table(("Day", "What", "Issue", "Units", "Who"), rows, most, empty),)


def _decisions(
    is_open: Sequence[Then], holds: dict[tuple[str, str, str], str], today: date, most: int
) -> tuple[Block, ...]:
    rows = [(one.name, "release it to a company, or drop it", "the lead") for one in is_open if one.state == S.DRAFT]
    rows += [
        (one.name, f"{one.company} says that it is not theirs: whose is it?", "the lead")
        for one in is_open
        if one.state == S.NOT_OURS
    ]
    rows += [
        (
            one.name,
            f"overdue by {(today - one.due).days} d: a new date, another company, or accepted as it is",
            "the meeting",
        )
        for one in is_open
        if one.state == S.RELEASED and one.due and one.due < today
    ]
    disputed = sorted({tag for (tag, _, _), outcome in holds.items() if outcome == "disputed"})
    rows += [(tag, "two finals disagree: a date for the joint retest", "the lead") for tag in disputed]
    return (_table(("What", "Decision", "Whose"), rows, most, "No decision is open."),)


def _table(heads: Sequence[str], rows: Sequence[tuple[str, ...]], most: int, empty: str) -> Table:
    shown = list(rows[:most])
    if len(rows) > most:
        left = len(rows) - most
        shown.append((f"and {left} more", *[""] * (len(heads) - 1)))
    return Table(tuple(Column(title) for title in heads), tuple(shown), empty=empty)


def asked_moment(text: str) -> datetime | None:
    """An ISO moment with its offset, or nothing."""
    try:
        found = datetime.fromisoformat(text.strip().replace(" ", "+"))
    except ValueError:
        return None
    return found if found.tzinfo is not None else None
