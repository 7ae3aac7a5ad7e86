"""Answering one company's list through a link, without an account. Nothing else is to be seen here.

The secret in the address is all the authority there is: no cookie is asked for, so no other site can borrow one, and
the form needs no token against that. The address is kept from other sites (no-referrer) and from caches.
"""

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.decorators import method_decorator
from django.views import View
from django.views.decorators.csrf import csrf_exempt

from commissioning.issues import links
from commissioning.issues.actions import Actor, CannotAct, Stale, Wish
from commissioning.issues.queries import with_everything
from commissioning.models import AnswerLink, Issue
from commissioning.pages.contractor import items_of
from commissioning.pages.issue import do, version_of
from commissioning.pages.issue_forms import photo_of
from portfolio.access import Forbidden
from portfolio.dashboards.days import Days
from portfolio.dashboards.page import SeeOther, text_of
from portfolio.dashboards.words import count, day, opening
from portfolio.door.limits import count_link_try
from portfolio.door.problems import Problem

_ACTS = {"ready": "answer_ready", "not_ours": "answer_not_ours"}


@method_decorator(csrf_exempt, name="dispatch")
class AnswerPage(View):
    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        response = super().dispatch(request, *args, **kwargs)
        response.headers["Referrer-Policy"] = "no-referrer"
        response.headers["Cache-Control"] = "no-store"
        response.headers["X-Robots-Tag"] = "noindex"
        return response

    def get(self, request: HttpRequest, secret: str) -> HttpResponse:
        link = links.find(secret)
        return _gone(request, secret) if link is None else _list(request, link)

    def post(self, request: HttpRequest, secret: str) -> HttpResponse:
        link = links.find(secret)
        if link is None:
            return _gone(request, secret)
        try:
            count_link_try(request, secret, known=True)
        except Problem as many:
            return _later(many, _list(request, link, fault=f"{many.title}. {many.detail}", status=429))
        number = text_of(request.POST, "issue", 10)
        rows = with_everything(links.issues_of(link))
        issue = rows.filter(number=int(number)).first() if number.isascii() and number.isdigit() else None
        if issue is None:
            return _list(request, link, fault="No issue of this list has that number.", status=400)
        try:
            self._answer(request, link, issue)
        except CannotAct as fault:
            return _list(request, link, typed=request.POST, fault=f"{fault.reason} {fault.remedy}", status=400)
        except Stale:
            late = f"Issue {issue.number} was changed meanwhile. Look at it again, then send your answer."
            return _list(request, link, typed=request.POST, fault=late, status=409)
        except Forbidden as refused:
            return _list(request, link, fault=refused.reason, status=403)
        return SeeOther(f"/answer/{secret}?answered={issue.number}")

    def _answer(self, request: HttpRequest, link: AnswerLink, issue: Issue) -> None:
        code = _ACTS.get(request.POST.get("answer", ""))
        who, text = text_of(request.POST, "name", 200), text_of(request.POST, "text")
        if code is None:
            raise CannotAct("answer", "", "An answer is one of two.", "Choose ready or not ours.")
        if not who:
            raise CannotAct("name", "", "An answer names who gives it.", "Write your name.")
        wish = Wish(text=text, photo=photo_of(request.FILES.get("photo")))
        do(
            issue,
            code,
            Actor(link=link, said_by=who, request=request),
            version_of(request.POST.get("version", "")),
            wish,
        )


def _later(many: Problem, answer: HttpResponse) -> HttpResponse:
    answer["Retry-After"] = many.headers["Retry-After"]
    return answer


def _gone(request: HttpRequest, secret: str) -> HttpResponse:
    """The same for a link that never was, that was revoked and that has expired."""
    try:
        count_link_try(request, secret, known=False)
    except Problem as many:
        told = {"reason": f"{many.title}. {many.detail}"}
        return _later(many, render(request, "commissioning/answer_gone.html", told, status=429))
    reason = "This link is not valid, or not any longer. Ask the commissioning firm for a new one."
    return render(request, "commissioning/answer_gone.html", {"reason": reason}, status=404)


def _list(
    request: HttpRequest,
    link: AnswerLink,
    *,
    typed: Mapping[str, Any] | None = None,
    fault: str = "",
    status: int = 200,
) -> HttpResponse:
    issues = list(with_everything(links.issues_of(link)).order_by("due", "number"))
    waiting = [i for i in issues if i.state == Issue.State.RELEASED]
    number = len(waiting)
    head = "One issue awaits" if number == 1 else f"{opening(count(number))} issues await"
    context = {
        "link": link,
        "sentence": f"{head} the answer of {link.company}.",
        "until": day(Days({link.project_id}).day(link.expires_at, link.project_id)),
        "items": items_of(waiting),
        "answered": [i for i in issues if i.state in (Issue.State.READY, Issue.State.NOT_OURS)],
        "typed": typed or {},
        "typed_number": str(typed.get("issue", "")) if typed else "",
        "fault": fault,
        "done": request.GET.get("answered", "")[:10] if request.method == "GET" else "",
    }
    return render(request, "commissioning/answer.html", context, status=status)
