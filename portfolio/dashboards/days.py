"""Days as they are at the site. A list that goes over a project's sites has the zone of the first of them by name."""

from collections.abc import Collection
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.utils import timezone

from portfolio.models import Site


def local_day(moment: datetime, zone: str) -> date:
    """
    >>> local_day(datetime.fromisoformat("2026-05-05T03:00:00+00:00"), "America/Denver")
    datetime.date(2026, 5, 4)
    """
    return moment.astimezone(ZoneInfo(zone)).date()


def today_in(zone: str) -> date:
    return local_day(timezone.now(), zone)


class Days:
    """Of some projects, with one query."""

    def __init__(self, projects: Collection[UUID]) -> None:
        rows = Site.objects.filter(project__in=projects).order_by("-name", "-pk")
        self._zones = dict(rows.values_list("project", "time_zone"))  # the first by name stays

    def zone(self, project: UUID) -> str:
        return self._zones.get(project, "UTC")

    def day(self, moment: datetime, project: UUID) -> date:
        return local_day(moment, self.zone(project))

    def today(self, project: UUID) -> date:
        return today_in(self.zone(project))
