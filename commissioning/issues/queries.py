"""Reads for pages, API and lists; each a fixed number of queries."""

from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet

from commissioning.models import CurrentVerdict, Issue, IssueCheck, IssueEvent


@dataclass(frozen=True)
class Check:
    """A check of an issue with what holds of it now."""

    pk: int
    position_id: str
    tag: str
    building: str
    requirement: str
    port: str
    outcome: str


def with_everything(issues: QuerySet[Issue]) -> QuerySet[Issue]:
    checks = IssueCheck.objects.select_related("position__building").order_by("position__tag", "port", "requirement")
    events = IssueEvent.objects.select_related("person").order_by("pk")
    return issues.select_related("project", "company", "assignee", "merged_into").prefetch_related(
        Prefetch("checks", checks), Prefetch("events", events)
    )


def checks_of(issues: "list[Issue]") -> dict[str, list[Check]]:
    """The checks of each issue (by its id as text) and their outcomes, in two queries for all of them."""
    rows = [check for issue in issues for check in issue.checks.all()]
    verdicts = {
        (v.position_id, v.requirement, v.port): v.outcome
        for v in CurrentVerdict.objects.filter(position__in={row.position_id for row in rows})
    }
    found: dict[str, list[Check]] = {str(issue.pk): [] for issue in issues}
    for row in rows:
        found[str(row.issue_id)].append(
            Check(
                pk=row.pk,
                position_id=str(row.position_id),
                tag=row.position.tag,
                building=row.position.building.name,
                requirement=row.requirement,
                port=row.port,
                outcome=verdicts.get((row.position_id, row.requirement, row.port), "not_judged"),
            )
        )
    return found
