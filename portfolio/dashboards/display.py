"""Inch-pound or SI, as the reader chose it; until then as the project's conventions have it."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views import View

from portfolio.models import Project, ProjectConventions

CHOICES = ("ip", "si")


def chosen(request: HttpRequest) -> str | None:
    held = request.session.get("display") if hasattr(request, "session") else None
    return held if held in CHOICES else None


def display_for(request: HttpRequest, project: Project) -> str:
    """The reader's choice, else the project's newest conventions."""
    held = chosen(request)
    if held is not None:
        return held
    agreed = ProjectConventions.objects.filter(project=project).order_by("-version").values_list("agreed", flat=True)
    newest: dict[str, Any] = agreed.first() or {}
    return "ip" if newest.get("display") == "ip" else "si"


def back_to(request: HttpRequest, default: str = "/") -> str:
    """Where a form came from, if that is a page of ours."""
    where = request.POST.get("next", "")
    return where if url_has_allowed_host_and_scheme(where, None) and where.startswith("/") else default


class DisplayPage(View):
    """Keeps the choice in the session; who has no account may choose too."""

    def post(self, request: HttpRequest) -> HttpResponse:
        wanted = request.POST.get("display")
        if wanted in CHOICES:
            request.session["display"] = wanted
        return HttpResponse(status=303, headers={"Location": back_to(request)})
