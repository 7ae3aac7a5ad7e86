"""What documents of one unit have in common: the unit as it is seen, its machines, whose evidence it is, the PDF."""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse

from commissioning.dossier.settings.restore import Machine, Place, Source
from commissioning.evidence.own_checks import kind_of
from commissioning.models import JudgedPosition, Record
from commissioning.pages.field_page import design_of
from portfolio.dashboards.display import display_for
from portfolio.dashboards.page import Page
from portfolio.dashboards.words import moment
from portfolio.models import Installation, Job, Person, Position


@dataclass(frozen=True)
class Seen:
    """A unit that somebody may see, with what was measured at it, as it is kept."""

    unit: Position
    display: str
    place: Place
    judged: JudgedPosition | None

    @property
    def zone(self) -> str:
        return str(self.unit.building.site.time_zone)

    @property
    def foot(self) -> str:
        """As of when, and of which inputs."""
        if self.judged is None:
            return "nothing judged yet"
        return f"judged {moment(self.judged.judged_at, self.zone)}, inputs {self.judged.inputs_hash[:16]}…"


class UnitDocument(Page):
    def unit_seen(self, request: HttpRequest, pk: uuid.UUID) -> Seen:
        unit = self.visible(Position.objects.select_related("building__site__project", "system"), pk)
        return Seen(
            unit,
            display_for(request, unit.building.site.project),
            _place(unit),
            JudgedPosition.objects.filter(pk=unit.pk).first(),
        )

    def is_waiting(self, unit: Position, kind: str = "judge") -> bool:
        return Job.objects.filter(kind=kind, subject=unit.pk, due=True).exists()


def _place(unit: Position) -> Place:
    where = ", ".join(filter(None, (kind_of(unit, design_of(unit)), unit.building.name, unit.location)))
    rows = Installation.objects.filter(position=unit).select_related("machine").order_by("since", "pk")
    machines = [
        Machine(row.machine.serial, row.since, row.until, f"{row.machine.maker} {row.machine.model}".strip())
        for row in rows
    ]
    return Place(unit.tag, where, unit.building.site.time_zone, tuple(machines))


def sources(unit: Position, envelopes: Iterable[str]) -> dict[str, Source]:
    """Who observed these records of the unit, and the hash of their bytes."""
    rows = list(
        Record.objects.filter(position=unit, submission__client_id__in=list(envelopes)).select_related("submission")
    )
    names = {one.pk: one.name for one in Person.objects.filter(pk__in={row.observed_by for row in rows})}
    return {
        str(row.submission.client_id): Source(
            names.get(row.observed_by, "somebody unknown here"), row.submission.sha256
        )
        for row in rows
    }


def as_pdf(data: bytes, name: str) -> HttpResponse:
    response = HttpResponse(data, content_type="application/pdf")
    plain = "".join(one if one.isascii() and (one.isalnum() or one in "-_.") else "-" for one in name)
    response["Content-Disposition"] = f'inline; filename="{plain}.pdf"'
    response["X-Content-Type-Options"] = "nosniff"
    return response
