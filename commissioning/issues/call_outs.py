"""Call-outs that a functional test's record says were wasted, counted at the issue that the record names.

One visit is counted once, by the name of its run, however many units and procedures it was to serve. What was counted
stays: the issue's story is not changed by a later correction of the record.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import F
from django.utils import timezone

from commissioning import standing
from commissioning.models import Issue, IssueCheck, IssueEvent, JudgedPosition

REQUIREMENT, KIND, ACT = "functional_tests", "test_run", "waste_call_out"


@dataclass(frozen=True)
class Wasted:
    """The issue's number in its project, the visit, and what was said of it."""

    issue: int
    run: str
    text: str


def count(checks: Collection[IssueCheck]) -> None:
    """`checks` are the live ones of what was judged. Without a functional test among them nothing is read."""
    positions = {one.position_id for one in checks if one.requirement == REQUIREMENT}
    if not positions:
        return
    rows = JudgedPosition.objects.filter(pk__in=positions).values_list("pk", "measurements")
    told = {pk: list(_wasted(held)) for pk, held in rows}
    live = Issue.objects.filter(pk__in={one.issue_id for one in checks}, state__in=Issue.LIVE - {Issue.State.DRAFT})
    for issue in live.select_for_update().order_by("pk"):  # an act of the same moment waits, or we see its state
        mine = {one.position_id for one in checks if one.issue_id == issue.pk}
        for one in sorted({w for pk in mine for w in told.get(pk, []) if w.issue == issue.number}, key=_by_run):
            _count_once(issue, one)


def _wasted(measurements: Collection[Mapping[str, Any]]) -> Iterator[Wasted]:
    for one in measurements:
        if one["kind"] != KIND or one["facts"]["outcome"] != "wasted":
            continue
        named, told = one["facts"]["retest_of"], one["facts"]["wasted"]
        if named and named["issue"]:
            yield Wasted(named["issue"], one["facts"]["run"], f"By {told['company']}: {told['cause']}")


def _by_run(one: Wasted) -> tuple[str, str]:
    return one.run, one.text


def _count_once(issue: Issue, one: Wasted) -> None:
    if issue.events.filter(act=ACT, detail__run=one.run).exists():
        return
    before = issue.state
    after = Issue.State.RELEASED if before == Issue.State.READY else before
    now = timezone.now()
    change: dict[str, Any] = {"wasted_call_outs": F("wasted_call_outs") + 1, "version": F("version") + 1}
    if after != before:
        change |= {"state": after, "moved_at": now, "retest_on": None}
    Issue.objects.filter(pk=issue.pk).update(**change)
    issue.state = after  # the next visit of the same judging begins from here
    IssueEvent.objects.create(
        issue=issue, at=now, act=ACT, before=before, after=after, text=one.text, detail={"run": one.run}
    )
    if after != before:  # its other units stand otherwise too, and are not judged now
        standing.refresh(set(issue.checks.values_list("position", flat=True)))
