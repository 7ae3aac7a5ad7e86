"""The start report of a unit as a page and on paper: what is missing, then what was recorded, by whom and when."""

import uuid
from collections.abc import Iterable
from typing import Any

from django.http import HttpRequest, HttpResponse

from commissioning.binders.render.alone import Heading, on_pages
from commissioning.judging import start_report
from commissioning.models import CurrentVerdict, Issue, IssueCheck, RecordPhoto
from commissioning.pages.people import with_names
from commissioning.pages.render import render_all
from commissioning.pages.unit_paper import Seen, UnitDocument, as_pdf, sources
from portfolio.dashboards.words import day, listed
from portfolio.models import DesignEntry, Position

TITLE = "Start report"


class _Report(UnitDocument):
    def made(self, seen: Seen) -> tuple[start_report.Section, ...]:
        unit = seen.unit
        measurements = seen.judged.measurements if seen.judged else []
        verdicts = CurrentVerdict.objects.filter(position=unit).select_related("judgement").order_by("pk")
        given = start_report.Given(
            identity=_identity(seen),
            judgements=with_names([one.judgement.result for one in verdicts]),
            measurements=measurements,
            evidence=_evidence(unit, measurements),
            issues=self._issues(unit),
            accepted=_accepted(unit),
            not_counted="" if unit.is_counted else unit.get_scope_display().lower(),
        )
        return start_report.sections(given, seen.display)

    def _issues(self, unit: Position) -> tuple[start_report.OpenIssue, ...]:
        rows = self.seen(Issue.objects).filter(checks__position=unit, state__in=Issue.LIVE).select_related("company")
        return tuple(
            start_report.OpenIssue(
                one.number,
                one.title,
                one.get_state_display(),
                one.company.name if one.company else "no company yet",
                day(one.due),
            )
            for one in rows.distinct().order_by("number")
        )


class StartPage(_Report):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        seen = self.unit_seen(request, pk)
        first, *rest = self.made(seen)
        context = {
            "display": seen.display,
            "unit": seen.unit,
            "where": seen.place.where,
            "title": TITLE,
            "waiting": self.is_waiting(seen.unit),
            "paper": f"/units/{seen.unit.pk}/start.pdf",
            "on_paper": "As PDF",
            "head": render_all(first.blocks),
            "sections": [(one.title, render_all(one.blocks)) for one in rest],
        }
        return self.show("commissioning/unit_document.html", context)


class StartPaper(_Report):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        seen = self.unit_seen(request, pk)
        heading = Heading(TITLE, seen.unit.tag, seen.place.where, seen.foot)
        parts = [(one.title, one.blocks) for one in self.made(seen)]
        return as_pdf(on_pages(heading, parts, seen.display), f"start-{seen.unit.tag}")


def _identity(seen: Seen) -> tuple[tuple[str, str], ...]:
    unit, now = seen.unit, seen.place.machine_now
    entries = DesignEntry.objects.filter(position=unit).select_related("revision")
    revisions = {one.revision.number: one.revision for one in entries}
    machine = f"serial {now.serial}, {now.model or 'no model on record'}, since {day(now.since)}" if now else ""
    rows = [
        ("Tag", unit.tag),
        ("Place", seen.place.where),
        ("Serves", listed([one.name for one in unit.spaces.order_by("name")])),
        ("Machine", machine or "no serial on record"),
        ("Design", "; ".join(str(revisions[number]) for number in sorted(revisions)) or "no revision names it"),
    ]
    return tuple(row for row in rows if row[1])


def _evidence(unit: Position, measurements: Iterable[dict[str, Any]]) -> tuple[start_report.Evidence, ...]:
    """What stands of the start, oldest first; what was superseded is on the unit page."""
    kinds = {part.kind for part in start_report.PARTS}
    held = {one["envelope"]: one for one in measurements if one["kind"] in kinds}
    of = sources(unit, held)
    photos: dict[str, list[tuple[str, str]]] = {}
    rows = RecordPhoto.objects.filter(record__position=unit, record__kind__in=kinds).order_by("pk")
    for photo in rows.select_related("record__submission"):
        photos.setdefault(str(photo.record.submission.client_id), []).append((photo.sha256, photo.caption))
    return tuple(
        start_report.Evidence(id, one["kind"], one["observed_at"], of[id].by, of[id].sha256, tuple(photos.get(id, ())))
        for id, one in sorted(held.items(), key=lambda item: item[1]["observed_at"])
        if id in of
    )


def _accepted(unit: Position) -> frozenset[tuple[str, str]]:
    checks = IssueCheck.objects.filter(position=unit, issue__state=Issue.State.ACCEPTED)
    return frozenset(checks.values_list("requirement", "port"))
