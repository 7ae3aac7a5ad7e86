"""The meeting's sheet as a page and as a PDF, frozen at the moment that its address names."""

import uuid
from datetime import datetime, timedelta
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from commissioning.pages.meeting import asked_moment, compose, gather
from commissioning.pages.meeting_pdf import MOST_PAGES, pages_of
from commissioning.pages.render import render_all
from portfolio.dashboards.display import display_for
from portfolio.dashboards.page import Page
from portfolio.models import Project

_ROWS = (14, 10, 8, 6, 4, 3, 2, 1)  # fewer and fewer rows, until it fits on two pages


def moments(request: HttpRequest) -> tuple[datetime, datetime]:
    """As of when, and since when: a week before, if nothing else is asked. Nothing lies in the future."""
    now = timezone.now()
    as_of = min(asked_moment(request.GET.get("as_of", "")) or now, now)
    since = asked_moment(request.GET.get("since", ""))
    return as_of, since if since is not None and since < as_of else as_of - timedelta(days=7)


class MeetingPage(Page):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        project = self.visible(Project.objects, pk)
        as_of, since = moments(request)
        made = compose(gather(self.person, project, as_of, since))
        frozen = urlencode({"as_of": as_of.isoformat(), "since": since.isoformat()})
        week = [
            (
                f"{days} days",
                urlencode({"as_of": as_of.isoformat(), "since": (as_of - timedelta(days=days)).isoformat()}),
            )
            for days in (7, 14, 28)
        ]
        context = {
            "here": "projects",
            "sheet": made,
            "project": project,
            "sections": [(section.title, render_all(section.blocks)) for section in made.sections],
            "frozen": frozen,
            "is_frozen": "as_of" in request.GET,
            "weeks": week,
        }
        return self.show("commissioning/meeting.html", context)


class MeetingPaper(Page):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        project = self.visible(Project.objects, pk)
        as_of, since = moments(request)
        display = display_for(request, project)
        read, data = gather(self.person, project, as_of, since), b""
        for most in _ROWS:
            data, pages = pages_of(compose(read, most=most), display)
            if pages <= MOST_PAGES:
                break
        response = HttpResponse(data, content_type="application/pdf")
        response["Content-Disposition"] = f'inline; filename="meeting-{as_of:%Y-%m-%d}.pdf"'
        response["X-Content-Type-Options"] = "nosniff"
        return response
