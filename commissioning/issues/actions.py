"""What people do to issues: one verb, one transaction, versioned, with its line in the story."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db import transaction
from django.db.models import F, Max, QuerySet
from django.http import HttpRequest
from django.utils import timezone
from rest_framework.request import Request

from commissioning import standing
from commissioning.issues.states import ACTS, Act
from commissioning.models import AnswerLink, CurrentVerdict, Issue, IssueCheck, IssueEvent
from portfolio import access, audit
from portfolio.models import Blob, Company, Membership, Person, Project
from portfolio.models.people import Role


class CannotAct(Exception):
    """The act cannot be done; says which field, why, and what to do instead."""

    def __init__(self, field: str, value: Any, reason: str, remedy: str) -> None:
        super().__init__(f"{field}: {reason} {remedy}")
        self.field, self.value, self.reason, self.remedy = field, value, reason, remedy


class Stale(Exception):
    """Somebody else changed the issue since it was read."""

    def __init__(self, issue: Issue) -> None:
        super().__init__(f"{issue} has version {issue.version} by now")
        self.issue = issue


@dataclass(frozen=True)
class Wish:
    """What the person filled in. Only what the act needs is looked at."""

    text: str = ""
    company: Company | None = None
    assignee: Person | None = None
    title: str | None = None
    priority: str | None = None
    root_cause: str | None = None
    due: date | None = None
    retest_on: date | None = None
    into: Issue | None = None
    checks: Sequence[int] = field(default=())
    photo: Blob | None = None


@dataclass(frozen=True)
class Actor:
    """A person, or a company that answers through a link."""

    person: Person | None = None
    link: AnswerLink | None = None
    said_by: str = ""
    request: Request | HttpRequest | None = None


def act(*, issue: Issue, code: str, actor: Actor, version: int, wish: Wish) -> Issue:
    """Do one act on one issue. Raises access.Forbidden, CannotAct or Stale; then nothing has changed."""
    what = ACTS.get(code)
    if what is None:
        raise CannotAct("act", code, "There is no such act.", f"Use one of {', '.join(sorted(ACTS))}.")
    _may(actor, what, issue)
    with transaction.atomic():
        Project.objects.select_for_update().get(pk=issue.project_id)
        held = Issue.objects.select_for_update().get(pk=issue.pk)
        if held.version != version:
            raise Stale(held)
        if held.state not in what.begins:
            raise CannotAct(
                "act",
                code,
                f"An issue that is {held.get_state_display()} cannot be moved so.",
                f"This act begins at: {', '.join(sorted(Issue.State(s).label for s in what.begins))}.",
            )
        _needs(what, wish)
        before = held.state
        detail = _EFFECTS[code](held, wish, actor) if code in _EFFECTS else {}
        _move(held, what)
        _tell(held, what, actor, before, wish.text, detail)
        standing.refresh(_positions_of(held))
        return held


def _may(actor: Actor, what: Act, issue: Issue) -> None:
    if actor.person is not None:
        verb = what.verb
        if what.code == "accept":
            verb = "accept_as_engineer" if is_for_the_engineer(issue) else "accept_as_is"
        access.require(actor.person, verb, issue)
        return
    link = actor.link
    if link is None or link.company_id != issue.company_id or link.project_id != issue.project_id:
        raise access.Forbidden("This link answers another company's list.")
    if what.verb not in ("answer_issue", "comment"):
        raise access.Forbidden("A link can answer and comment, nothing else.")


def is_for_the_engineer(issue: Issue) -> bool:
    """Below a ventilation minimum, or where life safety or a code is at stake, the owner alone cannot accept."""
    if issue.priority in (Issue.Priority.SAFETY, Issue.Priority.CODE):
        return True
    return issue.checks.filter(requirement="ventilation_minimum").exists()


def _needs(what: Act, wish: Wish) -> None:
    for name in what.needs:
        if not getattr(wish, name):
            raise CannotAct(name, "", f"To {what.words}, this is needed.", f"Give {name.replace('_', ' ')}.")


def _move(issue: Issue, what: Act) -> None:
    if what.ends is not None and issue.state != what.ends:
        issue.state = what.ends
        issue.moved_at = timezone.now()
    if what.ends is not None:
        issue.checks.update(live=issue.is_live)
    issue.version += 1
    issue.save()


def _tell(issue: Issue, what: Act, actor: Actor, before: str, text: str, detail: Mapping[str, Any]) -> None:
    IssueEvent.objects.create(
        issue=issue,
        at=timezone.now(),
        person=actor.person,
        said_by=actor.said_by,
        act=what.code,
        before=before,
        after=issue.state,
        text=text,
        detail=dict(detail),
    )
    audit.note(
        request=actor.request,
        person=actor.person,
        verb=f"issue.{what.code}",
        obj=issue,
        project_id=issue.project_id,
    )


def _positions_of(issue: Issue) -> list[uuid.UUID]:
    return list(issue.checks.values_list("position", flat=True).distinct())


# --- what each act changes beside the state ---------------------------------------------------------------------


def _describe(issue: Issue, wish: Wish, actor: Actor) -> dict[str, Any]:
    changed: dict[str, Any] = {}
    if wish.company is not None and wish.company != issue.company:
        issue.assignee = None  # whoever had it is of the company before
    for name in ("title", "priority", "root_cause", "due", "company", "assignee"):
        value = getattr(wish, name)
        if value is not None and value != getattr(issue, name):
            setattr(issue, name, value)
            changed[name] = str(value.pk) if name == "assignee" else str(value)
    if wish.assignee is not None and not people_of(issue).filter(pk=wish.assignee.pk).exists():
        raise CannotAct(
            "assignee",
            str(wish.assignee.pk),
            "This person is not of the company that has the issue.",
            "Choose one of the company, or give the person a part in it first.",
        )
    if wish.company is not None and not issue.project.parties.filter(pk=wish.company.pk).exists():
        raise CannotAct(
            "company", str(wish.company), "This company is not party to the project.", "Add it to the parties first."
        )
    return changed


def people_of(issue: Issue) -> QuerySet[Person]:
    """Whom the issue can be with: the contractors of the company that has it."""
    members = Membership.objects.in_force().filter(
        company=issue.company_id, company__isnull=False, role=Role.CONTRACTOR
    )
    return Person.objects.filter(pk__in=members.values("person")).order_by("name", "pk")


def _schedule(issue: Issue, wish: Wish, actor: Actor) -> dict[str, Any]:
    issue.retest_on = wish.retest_on
    return {"retest_on": str(wish.retest_on)}


def _waste(issue: Issue, wish: Wish, actor: Actor) -> dict[str, Any]:
    issue.wasted_call_outs = F("wasted_call_outs") + 1
    issue.retest_on = None
    issue.save(update_fields=["wasted_call_outs"])
    issue.refresh_from_db(fields=["wasted_call_outs"])
    return {"wasted_call_outs": issue.wasted_call_outs}


def _close(issue: Issue, wish: Wish, actor: Actor) -> dict[str, Any]:
    held = outcomes(issue)
    open_checks = {key: outcome for key, outcome in held.items() if outcome != "conforms"}
    if open_checks or not held:
        first = next(iter(open_checks.items()), None)
        raise CannotAct(
            "act",
            "close",
            "Not every check of this issue has passing evidence"
            + (f": {first[0][1]} {first[0][2]} of {first[0][0]} is {first[1].replace('_', ' ')}." if first else "."),
            "Retest, or have it accepted as is by whoever may.",
        )
    return {"checks": len(held)}


def outcomes(issue: Issue) -> dict[tuple[str, str, str], str]:
    """What holds now for each check of the issue, by (tag, requirement, port)."""
    checks = list(issue.checks.select_related("position"))
    current = {
        (v.position_id, v.requirement, v.port): v.outcome
        for v in CurrentVerdict.objects.filter(position__in={c.position_id for c in checks})
    }
    return {
        (c.position.tag, c.requirement, c.port): current.get((c.position_id, c.requirement, c.port), "not_judged")
        for c in checks
    }


def _reopen(issue: Issue, wish: Wish, actor: Actor) -> dict[str, Any]:
    for check in issue.checks.all():
        taken = (
            IssueCheck.objects.filter(
                position=check.position_id, requirement=check.requirement, port=check.port, live=True
            )
            .exclude(issue=issue)
            .select_related("issue")
            .first()
        )
        if taken is not None:
            raise CannotAct(
                "act", "reopen", f"Its check is in {taken.issue} by now.", f"Go on with {taken.issue}, or merge."
            )
    return {}


def _merge(issue: Issue, wish: Wish, actor: Actor) -> dict[str, Any]:
    target = wish.into
    assert target is not None
    if target.pk == issue.pk or target.project_id != issue.project_id or not target.is_live:
        raise CannotAct(
            "into", str(target), "An issue merges into another live issue of its project.", "Choose another."
        )
    issue.merged_into = target
    moved = issue.checks.update(issue=target)
    Issue.objects.filter(pk=target.pk).update(version=F("version") + 1)
    target.refresh_from_db()
    _tell(target, ACTS["merge"], actor, target.state, f"{issue} was merged into this one.", {"from": issue.number})
    return {"into": target.number, "checks": moved}


def _split(issue: Issue, wish: Wish, actor: Actor) -> dict[str, Any]:
    chosen = issue.checks.filter(pk__in=wish.checks)
    if not chosen or chosen.count() == issue.checks.count():
        raise CannotAct("checks", list(wish.checks), "Some, not all, of its checks can be split off.", "Choose some.")
    new = Issue.objects.create(
        project=issue.project,
        number=next_number(issue.project_id),
        title=wish.title or issue.title,
        state=issue.state,
        priority=issue.priority,
        company=issue.company,
        due=issue.due,
        opened_at=timezone.now(),
        moved_at=issue.moved_at,
    )
    chosen.update(issue=new)
    _tell(new, ACTS["split"], actor, new.state, f"Split off from {issue}.", {"from": issue.number})
    return {"into": new.number}


def _photo(issue: Issue, wish: Wish, actor: Actor) -> dict[str, Any]:
    assert wish.photo is not None
    return {"sha256": wish.photo.pk}


_EFFECTS = {
    "release": _describe,
    "hand_over": _describe,
    "describe": _describe,
    "schedule": _schedule,
    "waste_call_out": _waste,
    "close": _close,
    "reopen": _reopen,
    "merge": _merge,
    "split": _split,
    "add_photo": _photo,
}


def next_number(project_id: uuid.UUID) -> int:
    """The project's row must be locked."""
    return (Issue.objects.filter(project=project_id).aggregate(top=Max("number"))["top"] or 0) + 1
