"""A trend log's samples for its page: the window and the point that the address asks for, reduced or row by row."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

import numpy as np
from django.http import QueryDict

from commissioning.dossier.printing import minus
from commissioning.dossier.trend_logs import in_window, series_of
from commissioning.dossier.trend_pictures import unit_of
from commissioning.dossier.trends.logged import Log
from commissioning.engineering import units
from commissioning.logs.reduce import Floats
from commissioning.logs.roles import roles
from commissioning.logs.store import open_log

PAGE_SIZE = 100
SORTS = ("time", "value")
SHORTEST_S = 1.0
PIXELS = (100, 2000)


@dataclass(frozen=True)
class Asked:
    """What the address asks for; without a window, or with one that cannot be, the whole log."""

    from_s: float
    to_s: float
    is_part: bool
    point: str
    sort: str
    page: int
    zone: str

    @classmethod
    def of(cls, sent: QueryDict, facts: Mapping[str, Any], whole: tuple[float, float]) -> "Asked":
        begin, end = (moment(sent.get(name, ""), facts["zone"]) for name in ("from", "to"))
        low = whole[0] if begin is None else min(max(begin, whole[0]), whole[1])
        high = whole[1] if end is None else min(max(end, whole[0]), whole[1])
        is_part = high - low >= SHORTEST_S and (low, high) != whole
        names = [one["role"] for one in facts["points"]]
        sort, page = sent.get("sort", ""), sent.get("page", "")
        return cls(
            low if is_part else whole[0],
            high if is_part else whole[1],
            is_part,
            sent.get("point", "") if sent.get("point", "") in names else names[0],
            sort if sort.lstrip("-") in SORTS else "time",
            int(page) if page.isascii() and page.isdigit() and 0 < len(page) < 7 and int(page) else 1,
            facts["zone"],
        )

    def address(self, **changes: Any) -> str:
        one = replace(self, **{"page": 1, **changes})
        held: dict[str, Any] = {"point": one.point}
        if one.is_part:
            held |= {"from": local(one.from_s, one.zone), "to": local(one.to_s, one.zone)}
        if one.sort != "time":
            held["sort"] = one.sort
        if one.page > 1:
            held["page"] = one.page
        return "?" + urlencode(held)


def moment(text: str, zone: str) -> float | None:
    """Seconds of the epoch, or a moment of the site's clock as a form sends it; None where it is neither."""
    try:
        at_s = float(text)
    except ValueError:
        pass
    else:
        return at_s if math.isfinite(at_s) else None
    try:
        at = datetime.fromisoformat(text[:40])
        return (at if at.tzinfo else at.replace(tzinfo=ZoneInfo(zone))).timestamp()
    except (ValueError, OverflowError, OSError):
        return None


def local(at_s: float, zone: str) -> str:
    """As a field for a moment wants it.

    >>> local(1777903200.0, "America/Denver")
    '2026-05-04T08:00:00'
    """
    return f"{datetime.fromtimestamp(at_s, ZoneInfo(zone)):%Y-%m-%dT%H:%M:%S}"


def in_sight(trend: Mapping[str, Any], parquet: Path, facts: Mapping[str, Any], asked: Asked, pixels: int) -> Any:
    """What a document carries of the log, with its lines drawn anew for this window: two values for a pixel."""
    series = series_of(open_log(parquet), facts["points"])
    lines = in_window(series, Log(series, facts["zone"]), asked.from_s, asked.to_s, max(pixels // 2, 1))
    return {**trend, "from_s": asked.from_s, "to_s": asked.to_s, "lines": list(lines)}


@dataclass(frozen=True)
class Samples:
    """The samples of one point in a window, sorted as asked."""

    times_s: Floats
    values: Floats
    role: str
    words: Mapping[float, str]
    zone: str

    def __len__(self) -> int:
        return self.times_s.size

    def rows(self, display: str, start: int = 0, stop: int | None = None) -> Iterator[tuple[str, str]]:
        code, zone = unit_of(self.role, display), ZoneInfo(self.zone)
        for at_s, value in zip(self.times_s[start:stop].tolist(), self.values[start:stop].tolist(), strict=True):
            at = datetime.fromtimestamp(at_s, zone)
            yield f"{at:%Y-%m-%d %H:%M:%S} {at:%z}", self._said(value, code)

    def _said(self, value: float, code: str) -> str:
        if math.isnan(value):
            return ""
        if code:
            return f"{float(units.from_si(value, code)):.6g}"
        return self.words.get(value, f"{value:g}")


def samples(parquet: Path, facts: Mapping[str, Any], asked: Asked) -> Samples:
    point = next(one for one in facts["points"] if one["role"] == asked.point)
    times, values = open_log(parquet).series(point["name"])
    first, last = np.searchsorted(times, asked.from_s, "left"), np.searchsorted(times, asked.to_s, "right")
    times, values = times[first:last], values[first:last]
    if asked.sort != "time":
        order = np.argsort(times if "time" in asked.sort else values, kind="stable")
        order = order[::-1] if asked.sort.startswith("-") else order
        times, values = times[order], values[order]
    return Samples(times, values, asked.point, {number: word for word, number in point["words"].items()}, facts["zone"])


def label_of(role: str, display: str) -> str:
    code = unit_of(role, display)
    return f"{roles()[role].title}, {units.unit(code).label}" if code else roles()[role].title


def printed(text: str) -> str:
    return minus(text)
