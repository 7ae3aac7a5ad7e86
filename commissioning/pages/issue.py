"""An issue: what it is about and what holds of it now, its story, and the acts that may follow."""

import uuid
from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse

from commissioning.issues import actions
from commissioning.issues.queries import Check, checks_of, with_everything
from commissioning.issues.states import ACTS
from commissioning.judging import place_of
from commissioning.models import Issue, IssueEvent
from commissioning.pages.contractor import proof_of
from commissioning.pages.issue_forms import forms_for, wish_of
from commissioning.pages.render.marks import outcome
from commissioning.pages.words import ACTS_DONE
from portfolio.dashboards.page import Page, SeeOther
from portfolio.dashboards.words import day, moment, requirement_in_words, weekday
from portfolio.models import Person, Site

_IS_PHOTO = frozenset("0123456789abcdef")


class IssuePage(Page):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        return self.answer(self.visible(with_everything(Issue.objects.all()), pk))

    def answer(
        self,
        issue: Issue,
        *,
        typed: Mapping[str, Any] | None = None,
        fault: str = "",
        changed: list[IssueEvent] | None = None,
        status: int = 200,
    ) -> HttpResponse:
        checks = checks_of([issue])[str(issue.pk)]
        zone = _zone(issue)
        forms, refused = forms_for(self.person, issue, checks, typed=typed, fault=fault)
        events = list(issue.events.all())
        context = {
            "here": "issues",
            "issue": issue,
            "moved": day(issue.moved_at.astimezone(ZoneInfo(zone)).date()),
            "due": weekday(issue.due),
            "retest_on": weekday(issue.retest_on),
            "closes": proof_of(checks),
            "checks": [_check(check) for check in checks],
            "story": [told(event, zone) for event in events],
            "last_event": events[-1].pk if events else 0,
            "forms": forms,
            "refused": refused,
            "fault": fault,
            "changed": [told(event, zone) for event in changed or ()],
        }
        return self.show("commissioning/issue.html", context, status=status)


class IssueActsPage(IssuePage):
    """One act. What was typed stays when the act cannot be done, or when somebody else was quicker."""

    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        self.visible(Issue.objects.all(), pk)
        return SeeOther(f"/issues/{pk}")

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        issue = self.visible(with_everything(Issue.objects.all()), pk)
        version = request.POST.get("version", "")
        try:
            code, wish = wish_of(self.person, issue, request.POST, request.FILES)
            done = do(issue, code, actions.Actor(person=self.person, request=request), version_of(version), wish)
        except actions.CannotAct as fault:
            return self.answer(issue, typed=request.POST, fault=f"{fault.reason} {fault.remedy}", status=400)
        except actions.Stale:
            return self._stale(request, pk)
        messages.success(request, f"Done: {ACTS[code].words}.")
        return SeeOther(f"/issues/{done.merged_into_id or done.pk}")

    def _stale(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        issue = self.visible(with_everything(Issue.objects.all()), pk)
        seen = request.POST.get("last_event", "0")
        after = int(seen) if seen.isascii() and seen.isdigit() and len(seen) < 19 else 0
        changed = [event for event in issue.events.all() if event.pk > after]
        fault = "Somebody changed the issue while you were writing. Look at what changed, then send it again."
        return self.answer(issue, typed=request.POST, fault=fault, changed=changed, status=409)


def do(issue: Issue, code: str, actor: actions.Actor, version: int, wish: actions.Wish) -> Issue:
    """The act; a photo that came with an answer is an act of its own, and neither is kept without the other."""
    with transaction.atomic():
        done = actions.act(issue=issue, code=code, actor=actor, version=version, wish=wish)
        if wish.photo is not None and code != "add_photo":
            photo = actions.Wish(photo=wish.photo)
            done = actions.act(issue=done, code="add_photo", actor=actor, version=done.version, wish=photo)
        return done


def version_of(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else -1


def _zone(issue: Issue) -> str:
    """The zone of the first unit's site, or of the project's."""
    first = next(iter(issue.checks.all()), None)
    sites = Site.objects.filter(project=issue.project_id).order_by("name")
    site = (sites.filter(pk=first.position.building.site_id) if first else sites).first()
    return site.time_zone if site else "UTC"


def _check(check: Check) -> dict[str, Any]:
    return {
        "unit": check.position_id,
        "tag": check.tag,
        "building": check.building,
        "what": requirement_in_words(check.requirement),
        "port": place_of(check.port, [check.requirement]) or "the unit",
        "outcome": outcome(check.outcome),
    }


def told(event: IssueEvent, zone: str) -> dict[str, Any]:
    """An event of the story as it is shown."""
    who = event.person.name if event.person else event.said_by or "judging"
    if event.person is None and event.said_by:
        who = f"{event.said_by}, through a link"
    photo = str(event.detail.get("sha256", ""))
    held = sorted(event.detail.items())  # one database keeps the order of a JSON object, the other does not
    detail = [f"{name.replace('_', ' ')}: {_named(name, value)}" for name, value in held if name != "sha256"]
    return {
        "at": moment(event.at, zone),
        "who": who,
        "what": ACTS_DONE.get(event.act, event.act.replace("_", " ")),
        "text": "" if event.act == "draft" else event.text,
        "detail": "; ".join(detail),
        "photo": photo if len(photo) == 64 and set(photo) <= _IS_PHOTO else "",
    }


def _named(name: str, value: Any) -> Any:
    """A person is kept by id in a story."""
    if name != "assignee":
        return value
    return Person.objects.filter(pk=value).values_list("name", flat=True).first() or "somebody who is gone"
