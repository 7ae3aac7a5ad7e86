"""What judging does to issues: opens and withdraws drafts, counts a failed retest, says when evidence passes.

Computed from what holds now, never from a change alone: a second run finds nothing to do and a lost one is made good.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import F, Max
from django.utils import timezone

from commissioning.issues import call_outs
from commissioning.issues.actions import next_number
from commissioning.judging import RULES, failing, place_of
from commissioning.models import CurrentVerdict, Issue, IssueCheck, IssueEvent, Submission
from portfolio.models import Position, Project

_ORDER = [Issue.Priority.SAFETY, Issue.Priority.CODE, Issue.Priority.PERFORMANCE, Issue.Priority.PAPER]
FAILS = "does_not_conform"


@dataclass(frozen=True)
class Key:
    position: UUID
    requirement: str
    port: str


def follow(positions: Collection[UUID]) -> None:
    """Bring the issues of these positions in line with what holds. Runs inside the effect's transaction."""
    held = _outcomes(positions)
    checks = list(IssueCheck.objects.filter(position__in=positions, live=True).select_related("issue"))
    covered = {Key(c.position_id, c.requirement, c.port) for c in checks}
    uncovered = [key for key, outcome in held.items() if outcome == FAILS and key not in covered]
    if uncovered:
        accepted = _accepted({key.position for key in uncovered})
        uncovered = [key for key in uncovered if key not in accepted]
    if uncovered:
        _open(uncovered, {(c.position_id, c.port): c.issue for c in checks if c.issue.state == Issue.State.DRAFT})
    _settle_all({c.issue for c in checks}, held)
    call_outs.count(checks)


def _outcomes(positions: Collection[UUID]) -> dict[Key, str]:
    rows = CurrentVerdict.objects.filter(position__in=positions)
    return {
        Key(position, requirement, port): outcome
        for position, requirement, port, outcome in rows.values_list("position", "requirement", "port", "outcome")
    }


def _accepted(positions: Collection[UUID]) -> set[Key]:
    """Accepted as is stays accepted: the same failing check is not opened a second time."""
    rows = IssueCheck.objects.filter(position__in=positions, issue__state=Issue.State.ACCEPTED)
    return {Key(*row) for row in rows.values_list("position", "requirement", "port")}


def _open(keys: Iterable[Key], drafts: dict[tuple[UUID, str], Issue]) -> None:
    by_port: dict[tuple[UUID, str], list[Key]] = defaultdict(list)
    for key in sorted(keys, key=lambda k: (str(k.position), k.port, k.requirement)):
        by_port[key.position, key.port].append(key)
    places = {p.pk: p for p in Position.objects.filter(pk__in=[k[0] for k in by_port]).select_related("building__site")}
    for project in sorted({places[position].building.site.project_id for position, _ in by_port}):
        Project.objects.select_for_update().get(pk=project)
    for (position_id, port), group in by_port.items():
        position = places[position_id]
        issue = drafts.get((position_id, port)) or _new(position, port, group)
        IssueCheck.objects.bulk_create(
            IssueCheck(issue=issue, position=position, requirement=key.requirement, port=key.port) for key in group
        )


def _new(position: Position, port: str, group: list[Key]) -> Issue:
    now = timezone.now()
    priorities = [Issue.Priority(RULES[key.requirement].PRIORITY) for key in group]
    issue = Issue.objects.create(
        project_id=position.building.site.project_id,
        number=next_number(position.building.site.project_id),
        title=_title(position, port, group),
        priority=min(priorities, key=_ORDER.index),
        opened_at=now,
        moved_at=now,
    )
    IssueEvent.objects.create(issue=issue, at=now, act="draft", after=issue.state, text="Found by judging.")
    return issue


def _title(position: Position, port: str, group: list[Key]) -> str:
    requirements = [key.requirement for key in group]
    where = place_of(port, requirements)
    return f"{position.tag}{f' {where}' if where else ''}: {failing(requirements)}"


def _settle_all(issues: Collection[Issue], held: dict[Key, str]) -> None:
    """An issue may have checks at other positions than those that were judged: their outcomes are looked up too."""
    by_issue: dict[UUID, list[IssueCheck]] = defaultdict(list)
    for check in IssueCheck.objects.filter(issue__in=issues):
        by_issue[check.issue_id].append(check)
    known = {key.position for key in held}
    elsewhere = {c.position_id for checks in by_issue.values() for c in checks} - known
    if elsewhere:
        held = held | _outcomes(elsewhere)
    for issue in issues:
        _settle(issue, by_issue[issue.pk], held)


def _settle(issue: Issue, checks: list[IssueCheck], held: dict[Key, str]) -> None:
    """What the evidence says of an issue that exists already."""
    outcomes = [held.get(Key(c.position_id, c.requirement, c.port), "") for c in checks]
    if issue.state == Issue.State.DRAFT:
        _trim(issue, checks, outcomes)
        return
    passes = all(outcome == "conforms" for outcome in outcomes)
    if issue.state in (Issue.State.RELEASED, Issue.State.READY) and passes and not _told(issue, "evidence_passes"):
        _say(issue, "evidence_passes", "Every check has passing evidence: it can be closed.", None)
    elif issue.state == Issue.State.READY and FAILS in outcomes:
        retested = _retested_at([c for c, outcome in zip(checks, outcomes, strict=True) if outcome == FAILS])
        if retested is not None and retested > issue.moved_at:
            Issue.objects.filter(pk=issue.pk).update(wasted_call_outs=F("wasted_call_outs") + 1, retest_on=None)
            _say(issue, "retest_failed", "The retest fails: the call-out was wasted.", Issue.State.RELEASED)


def _retested_at(failing: list[IssueCheck]) -> datetime | None:
    """When the newest evidence that one of these verdicts rests on was received, by the server's clock.

    Other records of the same unit are no retest: they say nothing of what failed.
    """
    keys = {Key(c.position_id, c.requirement, c.port) for c in failing}
    positions = {key.position for key in keys}
    verdicts = CurrentVerdict.objects.filter(position__in=positions).select_related("judgement")
    rests_on = {
        envelope
        for one in verdicts
        if Key(one.position_id, one.requirement, one.port) in keys
        for envelope in one.judgement.result["rests_on"]
    }
    rows = Submission.objects.filter(client_id__in=rests_on, record__position__in=positions)
    newest: datetime | None = rows.aggregate(newest=Max("received_at"))["newest"]
    return newest


def _trim(issue: Issue, checks: list[IssueCheck], outcomes: list[str]) -> None:
    """A draft is about what fails now, whatever failed on the way; with nothing left it is withdrawn."""
    healed = [check.pk for check, outcome in zip(checks, outcomes, strict=True) if outcome != FAILS]
    if len(healed) == len(checks):
        _say(issue, "withdrawn", "No check fails any longer; it was never released.", Issue.State.DROPPED)
    elif healed:
        IssueCheck.objects.filter(pk__in=healed).delete()


def _told(issue: Issue, act: str) -> bool:
    last = issue.events.exclude(act__in=["comment", "add_photo", "describe"]).order_by("-pk").first()
    return last is not None and last.act == act


def _say(issue: Issue, act: str, text: str, state: str | None) -> None:
    now = timezone.now()
    IssueEvent.objects.create(issue=issue, at=now, act=act, before=issue.state, after=state or issue.state, text=text)
    change = {"version": F("version") + 1}
    if state is not None:
        Issue.objects.filter(pk=issue.pk).update(state=state, moved_at=now, **change)
        IssueCheck.objects.filter(issue=issue).update(live=state in Issue.LIVE)
    else:
        Issue.objects.filter(pk=issue.pk).update(**change)
