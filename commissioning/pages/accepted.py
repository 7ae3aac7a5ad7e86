"""What of a unit was accepted as it is, by whom and when: for its page, beside the verdict that stays what it is."""

from collections.abc import Mapping
from zoneinfo import ZoneInfo

from commissioning.models import Issue, IssueCheck, IssueEvent
from portfolio.dashboards.words import day
from portfolio.models import Person, Position

Accepted = Mapping[tuple[str, str], str]  # by requirement and port


def of_unit(unit: Position, person: Person) -> Accepted:
    """Who accepted is told to whoever sees the issue; that it is accepted shows on every list anyway."""
    rows = IssueCheck.objects.filter(position=unit, issue__state=Issue.State.ACCEPTED)
    checks = list(rows.select_related("issue").order_by("pk"))
    if not checks:
        return {}
    issues = {one.issue_id for one in checks}
    seen = set(Issue.objects.visible_to(person).filter(pk__in=issues).values_list("pk", flat=True))
    events = IssueEvent.objects.filter(issue__in=seen, after=Issue.State.ACCEPTED).select_related("person")
    last = {event.issue_id: event for event in events.order_by("pk")}
    zone = ZoneInfo(unit.building.site.time_zone)
    return {(one.requirement, one.port): _words(one.issue, last.get(one.issue_id), zone) for one in checks}


def _words(issue: Issue, event: IssueEvent | None, zone: ZoneInfo) -> str:
    if event is None:
        return "accepted as is"
    who = event.said_by or (event.person.name if event.person else "")
    by = f" by {who}" if who else ""
    return f"accepted as is{by} on {day(event.at.astimezone(zone).date())}, issue {issue.number}"
