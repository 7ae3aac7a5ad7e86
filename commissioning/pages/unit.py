"""The unit page: where it stands, the band of each port, what was designed, what was measured, what follows."""

import uuid
from typing import Any

from django.http import HttpRequest, HttpResponse

from commissioning.evidence.own_checks import kind_of
from commissioning.judging import KINDS
from commissioning.models import Issue
from commissioning.pages import accepted, signature, unit_design, unit_records, unit_story
from commissioning.pages.field_page import design_of
from commissioning.pages.record_forms import FORMS
from commissioning.pages.sample import line_on_unit
from portfolio.access import may
from portfolio.dashboards.display import display_for
from portfolio.dashboards.page import Page
from portfolio.dashboards.words import MOVERS, day, listed
from portfolio.models import Installation, Job, Position, Standing, TagAlias
from portfolio.models.people import Role


class UnitPage(Page):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        rows = Position.objects.select_related("building__site__project", "system")
        unit = self.visible(rows, pk)
        site = unit.building.site
        display = display_for(request, site.project)
        standing = Standing.objects.filter(pk=unit.pk).select_related("company").first()
        found = unit_story.read(
            unit,
            display,
            show_all=request.GET.get("sessions") == "all",
            accepted=accepted.of_unit(unit, self.person),
        )
        context: dict[str, Any] = {
            "display": display,
            "unit": unit,
            "kind": kind_of(unit, design_of(unit)),
            "project": site.project,
            "spaces": listed([space.name for space in unit.spaces.order_by("name")]),
            "other_names": listed(list(TagAlias.objects.filter(position=unit).values_list("tag", flat=True))),
            "standing": standing,
            "mover": self._mover(standing),
            "waiting": Job.objects.filter(kind="judge", subject=unit.pk, due=True).exists(),
            "story": found,
            "forms": [(form.kind, KINDS[form.kind].TITLE) for form in FORMS],
            "design": unit_design.read(unit, display),
            "attention": unit_records.needing_attention(unit, site.time_zone),
            "issues": self._issues(unit),
            "signature": signature.read(unit, self.person),
            "samples": line_on_unit(unit, self.person),
            "machines": _machines(unit),
            "records": unit_records.page(unit, site.time_zone, request.GET.get("records", "1"), found.not_final),
            "answers_here": bool(may(self.person, "answer_checklist", unit))
            and not may(self.person, "submit_evidence", unit),
            "may_design": bool(may(self.person, "import_design", unit)),
            "photos": unit_records.photos(unit, site.time_zone),
            "changes": unit_records.changes(unit, site.time_zone),
        }
        return self.show("commissioning/unit.html", context)

    def _mover(self, standing: Standing | None) -> str:
        """Who has the next move, as a sentence."""
        if standing is None or not standing.mover:
            return ""
        mine = {"lead": Role.LEAD, "technician": Role.TECHNICIAN}.get(standing.mover)
        who = "you" if mine in self.roles else MOVERS[standing.mover]
        if standing.company is not None:
            who = "you" if standing.company_id in self.person.reach.companies else standing.company.name
        since = f" since {day(standing.since)}" if standing.since else ""
        due = f", due {day(standing.due)}" if standing.due else ""
        return f"The next move is with {who}{since}{due}."

    def _issues(self, unit: Position) -> list[Issue]:
        rows = self.seen(Issue.objects).filter(checks__position=unit).select_related("company").distinct()
        return list(rows.order_by("-number")[:100])


def _machines(unit: Position) -> list[dict[str, str]]:
    rows = Installation.objects.filter(position=unit).select_related("machine").order_by("-since")
    return [
        {
            "serial": row.machine.serial,
            "what": f"{row.machine.maker} {row.machine.model}".strip(),
            "since": day(row.since),
            "until": day(row.until) or "sits there now",
        }
        for row in rows
    ]
