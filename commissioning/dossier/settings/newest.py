"""Which settings record says what a controller is set to: for lists and searches, not for a verdict."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo


def newest(
    measurements: Sequence[Mapping[str, Any]], *, machine_since: date | None = None, time_zone: str = "UTC"
) -> Mapping[str, Any] | None:
    """The newest record as left, else the newest of any moment but as ordered, of the machine that sits there now.

    `measurements` are in the order of observation, as judging gives them.
    """
    zone = ZoneInfo(time_zone)
    held = [
        one
        for one in measurements
        if one["kind"] == "settings" and (machine_since is None or _day(one, zone) >= machine_since)
    ]
    read = [one for one in held if one["facts"]["moment"] != "as_ordered"] or held
    left = [one for one in read if one["facts"]["moment"] == "as_left"]
    return next(reversed(left or read), None)


def _day(one: Mapping[str, Any], zone: ZoneInfo) -> date:
    return datetime.fromisoformat(one["observed_at"]).astimezone(zone).date()
