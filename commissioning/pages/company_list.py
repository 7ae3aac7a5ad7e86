"""A company's list: fetched as a spreadsheet, sent back filled in with a dry run, answered through a link."""

import uuid
from typing import Any

from django.contrib import messages
from django.core import signing
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse

from commissioning.issues import exchange, links
from commissioning.issues.actions import Actor, CannotAct
from commissioning.issues.queries import with_everything
from commissioning.models import Issue
from commissioning.pages.contractor import items_of
from portfolio import audit
from portfolio.access import Denied, may
from portfolio.dashboards.days import Days, local_day
from portfolio.dashboards.page import Page, SeeOther
from portfolio.dashboards.words import day, moment
from portfolio.models import Company, Project

_SALT = "a list that came back"
_GOOD_FOR_S = 3600


class CompanyListPage(Page):
    def get(self, request: HttpRequest, project_id: uuid.UUID, company_id: uuid.UUID) -> HttpResponse:
        return self.answer(*self.find(project_id, company_id))

    def post(self, request: HttpRequest, project_id: uuid.UUID, company_id: uuid.UUID) -> HttpResponse:
        """The dry run of a list that came back, or with its signed reading: apply it."""
        project, company = self.find(project_id, company_id)
        issues = issues_of(self, project, company)
        if "reading" in request.POST:
            return self._apply(request, project, company, issues)
        file = request.FILES.get("list")
        if file is None or not file.size:
            return self.answer(project, company, fault="Choose the file first.", status=400)
        if file.size > exchange.MOST_BYTES:
            fault = f"A list has at most {exchange.MOST_BYTES // 1024**2} MB."
            return self.answer(project, company, fault=fault, status=413)
        reading = exchange.read(file.read(), issues)
        signed = signing.dumps(reading.to_json()["answers"], salt=_SALT, compress=True)
        return self.answer(project, company, reading=reading, signed=signed, issues=issues)

    def _apply(self, request: HttpRequest, project: Project, company: Company, issues: list[Issue]) -> HttpResponse:
        try:
            held = signing.loads(request.POST["reading"], salt=_SALT, max_age=_GOOD_FOR_S)
        except signing.BadSignature:
            return self.answer(project, company, fault="The dry run is too old. Send the file again.", status=400)
        reading = exchange.Reading(tuple(exchange.Answer(**one) for one in held), ())
        try:
            with transaction.atomic():
                done = exchange.apply(reading, issues, Actor(person=self.person, request=request))
        except CannotAct as fault:
            said = f"Nothing was taken over. {fault.field}: {fault.reason} {fault.remedy}"
            return self.answer(project, company, fault=said, status=400)
        except KeyError:
            return self.answer(project, company, fault="The list has changed. Send the file again.", status=400)
        messages.success(request, f"{len(done)} answers were taken over.")
        return SeeOther(f"/projects/{project.pk}/companies/{company.pk}/list")

    def find(self, project_id: uuid.UUID, company_id: uuid.UUID) -> tuple[Project, Company]:
        project = self.visible(Project.objects, project_id)
        company = self.seen(Company.objects).filter(pk=company_id, projects=project).first()
        if company is None:
            raise Http404
        return project, company

    def answer(
        self,
        project: Project,
        company: Company,
        *,
        reading: exchange.Reading | None = None,
        signed: str = "",
        issues: list[Issue] | None = None,
        fault: str = "",
        link: str = "",
        status: int = 200,
    ) -> HttpResponse:
        held = issues_of(self, project, company) if issues is None else issues
        refused = next((a for i in held if isinstance(a := may(self.person, "answer_issue", i), Denied)), None)
        releases = may(self.person, "release_issue", project)
        context: dict[str, Any] = {
            "here": "issues",
            "project": project,
            "company": company,
            "items": items_of([i for i in held if i.is_live]),
            "reading": reading,
            "signed": signed,
            "fault": fault,
            "refused": refused.reason if refused is not None else "",
            "link": link,
            "may_link": bool(releases),
            "days": links.DAYS,
            "links": self._links(project, company) if releases else [],
        }
        return self.show("commissioning/company_list.html", context, status=status)

    def _links(self, project: Project, company: Company) -> list[tuple[str, str]]:
        rows = project.answer_links.filter(company=company).select_related("made_by").order_by("-made_at")[:10]
        zone = Days({project.pk}).zone(project.pk)
        return [
            (
                f"made {day(local_day(row.made_at, zone))} by {row.made_by}",
                "revoked" if row.revoked_at else f"until {moment(row.expires_at, zone)}",
            )
            for row in rows
        ]


class MakeLinkPage(CompanyListPage):
    """A new link for this list. Its address is shown this once."""

    def get(self, request: HttpRequest, project_id: uuid.UUID, company_id: uuid.UUID) -> HttpResponse:
        self.find(project_id, company_id)
        return SeeOther(f"/projects/{project_id}/companies/{company_id}/list")

    def post(self, request: HttpRequest, project_id: uuid.UUID, company_id: uuid.UUID) -> HttpResponse:
        project, company = self.find(project_id, company_id)
        self.require("release_issue", project)
        with transaction.atomic():
            link, secret = links.make(project=project, company=company, person=self.person)
            audit.note(request=request, person=self.person, verb="make_answer_link", obj=link, project_id=project.pk)
        return self.answer(project, company, link=request.build_absolute_uri(f"/answer/{secret}"))


def issues_of(page: Page, project: Project, company: Company) -> list[Issue]:
    rows = page.seen(Issue.objects).filter(project=project, company=company)
    return list(with_everything(rows.exclude(state__in=["draft", "dropped", "merged"])).order_by("number"))
