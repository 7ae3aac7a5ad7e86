"""A building's trend logs: what came in, of which units, what was found, and what waits for somebody."""

import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse

from commissioning.dossier.trend_pictures import span
from commissioning.evidence.trends.sending import id_of
from commissioning.kinds.trend.show import found_in_words
from commissioning.models import LogMappingVersion, Record, TrendAnalysis, TrendUpload
from portfolio.access import may
from portfolio.dashboards.page import Page
from portfolio.dashboards.words import moment
from portfolio.models import Building, Position

PAGE_SIZE = 50
_STATES = TrendUpload.State


@dataclass(frozen=True)
class UnitLine:
    """A unit that the log covers; `address` is its page of the log, empty where it has none yet."""

    tag: str
    address: str
    found: str


@dataclass(frozen=True)
class Line:
    upload: TrendUpload
    came: str
    period: str
    units: Sequence[UnitLine]

    @property
    def source(self) -> str:
        return self.upload.mapping.source if self.upload.mapping else ""


class BuildingTrendsPage(Page):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        building = self.visible(Building.objects.select_related("site__project"), pk)
        units = {one.tag: one for one in self.seen(Position.objects).filter(building=building).order_by("tag")}
        rows = self.seen(TrendUpload.objects).filter(position__building=building)
        total, waiting = rows.count(), rows.exclude(state=_STATES.ACCEPTED).count()
        pages = max(1, -(-total // PAGE_SIZE))
        page = _page(request.GET.get("page", ""), pages)
        shown = rows.select_related("mapping", "position").defer("seen", "mapping__document").order_by("-made_at", "pk")
        context = {
            "here": "projects",
            "building": building,
            "lines": self._lines(list(shown[(page - 1) * PAGE_SIZE : page * PAGE_SIZE]), units, building),
            "total": total,
            "waiting": waiting,
            "page": page,
            "pages": pages,
            "units": list(units.values()) if may(self.person, "submit_evidence", building) else [],
        }
        return self.show("commissioning/building_trends.html", context)

    def _lines(self, uploads: Sequence[TrendUpload], units: Mapping[str, Position], building: Building) -> list[Line]:
        zone = building.site.time_zone
        numbers, results = self._numbers(units.values()), self._results(uploads)
        mappings = LogMappingVersion.objects.filter(pk__in={one.mapping_id for one in uploads if one.mapping_id})
        zones: dict[uuid.UUID | None, str] = dict(mappings.values_list("pk", "document__zone"))
        found = []
        for upload in uploads:
            points = upload.result.get("points", [])
            tags = sorted({point["tag"] or upload.position.tag for point in points} or {upload.position.tag})
            lines = [_unit(upload, units[tag], numbers, results) for tag in tags if tag in units]
            found.append(
                Line(upload, moment(upload.made_at, zone), _period(points, zones.get(upload.mapping_id, zone)), lines)
            )
        return found

    def _numbers(self, units: Iterable[Position]) -> dict[uuid.UUID, int]:
        """By the id of its record, which number a log has among those of its unit."""
        rows = Record.objects.filter(kind="trend", position__in=[one.pk for one in units]).order_by("pk")
        held: dict[uuid.UUID, list[uuid.UUID]] = defaultdict(list)
        for unit, id in rows.values_list("position", "submission__client_id"):
            held[unit].append(id)
        return {id: number for ids in held.values() for number, id in enumerate(ids, 1)}

    def _results(self, uploads: Iterable[TrendUpload]) -> dict[tuple[uuid.UUID, str, str], Any]:
        rows = self.seen(TrendAnalysis.objects).filter(file__in={one.sha256 for one in uploads})
        return {
            (unit, file, mapping): results
            for unit, file, mapping, results in rows.values_list("position", "file", "mapping", "found__results")
        }


def _unit(
    upload: TrendUpload,
    unit: Position,
    numbers: Mapping[uuid.UUID, int],
    results: Mapping[tuple[uuid.UUID, str, str], Any],
) -> UnitLine:
    number = numbers.get(id_of(upload, unit)) if upload.mapping else None
    if upload.mapping is None or number is None:
        return UnitLine(unit.tag, "", "")
    held = results.get((unit.pk, upload.sha256, upload.mapping.sha256))
    return UnitLine(
        unit.tag, f"/units/{unit.pk}/trends/{number}", found_in_words(None if held is None else {"results": held})
    )


def _period(points: Sequence[Mapping[str, Any]], zone: str) -> str:
    if not points:
        return ""
    return span(min(one["first_s"] for one in points), max(one["last_s"] for one in points), zone)


def _page(sent: str, pages: int) -> int:
    wanted = int(sent) if sent.isascii() and sent.isdigit() and len(sent) < 7 else 1
    return min(max(wanted, 1), pages)
