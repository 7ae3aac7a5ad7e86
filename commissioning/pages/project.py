"""Projects and buildings: what they hold, and the ways on from there."""

import uuid
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.utils.safestring import SafeString

from commissioning.models import Binder, Issue
from commissioning.pages.home import picture_of
from commissioning.pages.render.band import scale_of_stack
from commissioning.pages.render.marks import outcome
from commissioning.samples.population import part_of
from portfolio.access import may
from portfolio.dashboards import buildings
from portfolio.dashboards.page import Page
from portfolio.dashboards.words import MOVERS, requirement_in_words
from portfolio.models import Building, Company, DesignRevision, Project, Standing


class ProjectsPage(Page):
    def get(self, request: HttpRequest) -> HttpResponse:
        rows = self.seen(Project.objects).select_related("owner", "firm").order_by("name")
        return self.show("commissioning/projects.html", {"here": "projects", "projects": list(rows)})


class ProjectPage(Page):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        project = self.visible(Project.objects.select_related("owner", "firm"), pk)
        issues = self.seen(Issue.objects).filter(project=project, state__in=Issue.LIVE)
        counted = dict(issues.order_by().values_list("company").annotate(n=Count("pk", distinct=True)))
        companies = self.seen(Company.objects).filter(projects=project).order_by("name")
        context: dict[str, Any] = {
            "here": "projects",
            "project": project,
            "pictures": buildings.pictures(self.person, Building.objects.filter(site__project=project)),
            "companies": [(company, counted.get(company.pk, 0)) for company in companies],
            "issues": sum(counted.values()),
            "revisions": list(DesignRevision.objects.filter(project=project).order_by("-number")[:20]),
            "binders": list(
                self.seen(Binder.objects).filter(project=project).select_related("project").order_by("-asked_at")[:20]
            ),
            "may_import": bool(may(self.person, "import_design", project)),
            "may_keep_checks": bool(may(self.person, "keep_checks", project.firm)),
            "may_keep_procedures": bool(may(self.person, "keep_procedures", project.firm)),
            "may_bind": bool(may(self.person, "build_binder", project)),
            "sees_visits": bool(may(self.person, "submit_evidence", part_of(self.person, project))),
            "sees_samples": bool(may(self.person, "see_samples", part_of(self.person, project))),
        }
        return self.show("commissioning/project.html", context)


@dataclass(frozen=True)
class UnitLine:
    standing: Standing
    who: str
    picture: SafeString


class BuildingPage(Page):
    """A building's picture: every unit's band on one scale."""

    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        building = self.visible(Building.objects.select_related("site__project"), pk)
        (picture,) = buildings.pictures(self.person, Building.objects.filter(pk=building.pk))
        rows = Standing.objects.filter(building=building).select_related("position__building", "company")
        lines = [
            UnitLine(one, str(one.company) if one.company else MOVERS.get(one.mover, ""), picture_of(one))
            for one in rows.order_by("tag")[:2000]
        ]
        context = {
            "here": "projects",
            "building": building,
            "picture": picture,
            "lines": lines,
            "scale": scale_of_stack(),
            "requirements": [
                (requirement_in_words(code), [outcome(o, number=n) for o, n in picture.cell(code)])
                for code, _ in buildings.requirements_shown([picture])
            ],
            "issues": list(
                self.seen(Issue.objects)
                .filter(Q(checks__position__building=building), state__in=Issue.LIVE)
                .select_related("company")
                .distinct()
                .order_by("number")[:200]
            ),
            "may_bind": bool(may(self.person, "build_binder", building)),
        }
        return self.show("commissioning/building.html", context)
