"""Refusals as pages: what, why, and where to go on. Under /api/ they stay problem documents."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from portfolio.access import Forbidden
from portfolio.door import problems
from portfolio.door.problems import Problem
from portfolio.models import Person

_WORDS = {
    400: "The request could not be read",
    403: "This is not yours to do",
    404: "There is no such page",
    413: "This is too large",
    429: "Too many tries",
    500: "A fault of ours",
}


def refuse(request: HttpRequest, refused: Exception) -> HttpResponse:
    if isinstance(refused, Http404):
        return show(
            request, 404, "There is no such thing, or it is not yours to see. Perhaps its address was cut short."
        )
    if isinstance(refused, Forbidden):
        return show(request, 403, refused.reason)
    if isinstance(refused, Problem):
        return show(request, refused.status, refused.detail or refused.title, headers=refused.headers)
    raise refused


def show(request: HttpRequest, status: int, reason: str, *, headers: Any = None) -> HttpResponse:
    context: dict[str, Any] = {"status": status, "title": _WORDS.get(status, "This did not work"), "reason": reason}
    context["request_id"] = request.META.get("ventfolio.request_id", "")
    user = getattr(request, "user", None)
    context["person"] = user if isinstance(user, Person) else None
    response = render(request, "portfolio/fault.html", context, status=status)
    for name, value in (headers or {}).items():
        response[name] = value
    return response


def _is_for_people(request: HttpRequest) -> bool:
    return not request.path.startswith("/api/")


def page_not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return refuse(request, Http404()) if _is_for_people(request) else problems.page_not_found(request, exception)


def permission_denied(request: HttpRequest, exception: Exception) -> HttpResponse:
    if not _is_for_people(request):
        return problems.permission_denied(request, exception)
    reason = exception.reason if isinstance(exception, Forbidden) else "You may not do this."
    return show(request, 403, reason)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    if not _is_for_people(request):
        return problems.csrf_failure(request, reason)
    return show(request, 403, "The page was open too long. Go back, load it again and repeat what you did.")
