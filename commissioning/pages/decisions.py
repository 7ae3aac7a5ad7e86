"""Issues that this person may accept as they are: the owner's, or the engineer's where code or safety is at stake."""

from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q

from commissioning.models import Issue, IssueCheck
from portfolio.models import Person
from portfolio.models.people import Role

MOST = 50
_OPEN = (Issue.State.RELEASED, Issue.State.READY, Issue.State.NOT_OURS)


@dataclass(frozen=True)
class Decision:
    issue: Issue
    units: str
    why: str


def decisions_of(person: Person, roles: set[Role]) -> list[Decision]:
    engineers = Q(priority__in=[Issue.Priority.SAFETY, Issue.Priority.CODE]) | Q(
        Exists(IssueCheck.objects.filter(issue=OuterRef("pk"), requirement="ventilation_minimum"))
    )
    mine = Q(pk__in=[])
    if Role.OWNER in roles:
        mine |= ~engineers
    if Role.ENGINEER in roles:
        mine |= engineers
    rows = (
        Issue.objects.visible_to(person)
        .filter(mine, state__in=_OPEN)
        .select_related("company")
        .prefetch_related("checks__position")
        .order_by("due", "number")
    )
    return [Decision(issue, _units(issue), _why(issue)) for issue in rows[:MOST]]


def _units(issue: Issue) -> str:
    return ", ".join(sorted({check.position.tag for check in issue.checks.all()}))


def _why(issue: Issue) -> str:
    if issue.state == Issue.State.NOT_OURS:
        return f"{issue.company} says that it is not theirs."
    if issue.wasted_call_outs:
        times = "once" if issue.wasted_call_outs == 1 else f"{issue.wasted_call_outs} times"
        return f"A retest failed {times}."
    if issue.state == Issue.State.READY:
        return "Declared ready; the retest is to come."
    return f"{issue.company} is at work on it."
