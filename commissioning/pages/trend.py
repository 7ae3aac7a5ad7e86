"""A unit's trend logs: each as one page, with its picture, its findings in words, and its samples as a table."""

import re
import uuid
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase

from commissioning.blocks import to_json
from commissioning.dossier.trend_pictures import moment, picture, span
from commissioning.evidence.trends.kept import kept_log
from commissioning.kinds import trend as kind
from commissioning.kinds.trend.show import points, seconds_of, told
from commissioning.models import Record
from commissioning.pages import trend_window
from commissioning.pages.render import render, render_all
from commissioning.pages.trend_events import Happened, happened
from commissioning.pages.trend_window import PAGE_SIZE, PIXELS, Asked
from commissioning.pages.unit_paper import Seen, UnitDocument
from portfolio.dashboards.sheet import safe
from portfolio.door.problems import Problem

STATIC_PIXELS = 360
MOST_ROWS_OUT = 1_000_000
_CHUNK = 5_000


@dataclass(frozen=True)
class Log:
    """One log of a unit as judging measured it; `parquet` is None where its samples are not kept here."""

    number: int
    measurement: Mapping[str, Any]

    @property
    def facts(self) -> Mapping[str, Any]:
        facts: Mapping[str, Any] = self.measurement["facts"]
        return facts

    @property
    def whole(self) -> tuple[float, float]:
        trend = self.facts["trend"]
        if trend is not None:
            return trend["from_s"], trend["to_s"]
        return seconds_of(self.facts["first"]), seconds_of(self.facts["last"])

    def parquet(self) -> Path | None:
        return kept_log(self.facts["sha256"], self.facts["mapping"]["sha256"])


class TrendDocument(UnitDocument):
    def logs(self, seen: Seen) -> list[Log]:
        """In the order in which they came; one that was superseded is none, and its number stays free."""
        ids = Record.objects.filter(position=seen.unit, kind="trend").order_by("pk")
        numbers = {str(id): n for n, id in enumerate(ids.values_list("submission__client_id", flat=True), 1)}
        held = seen.judged.measurements if seen.judged else []
        logs = [Log(numbers[one["envelope"]], one) for one in held if one["envelope"] in numbers]
        return sorted(logs, key=lambda one: one.number)

    def happened(self, seen: Seen, log: Log, asked: Asked) -> list[Happened]:
        named = log.facts["sha256"], log.facts["mapping"]["sha256"]
        return happened(self.person, seen, named, log.facts["zone"], (asked.from_s, asked.to_s))

    def log(self, seen: Seen, number: int) -> Log:
        found = next((one for one in self.logs(seen) if one.number == number), None)
        if found is None:
            raise Http404
        return found


class TrendsPage(TrendDocument):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        seen = self.unit_seen(request, pk)
        logs = [
            (one.number, kind.headline(one.measurement, seen.display), one.facts["file"]) for one in self.logs(seen)
        ]
        context = {
            "display": seen.display,
            "unit": seen.unit,
            "where": seen.place.where,
            "waiting": self.is_waiting(seen.unit),
            "logs": logs[::-1],
        }
        return self.show("commissioning/trends.html", context)


class TrendPage(TrendDocument):
    def get(self, request: HttpRequest, pk: uuid.UUID, number: int) -> HttpResponse:
        seen = self.unit_seen(request, pk)
        log = self.log(seen, number)
        asked = Asked.of(request.GET, log.facts, log.whole)
        parquet, trend = log.parquet(), log.facts["trend"]
        events = self.happened(seen, log, asked)
        context = {
            "display": seen.display,
            "unit": seen.unit,
            "where": seen.place.where,
            "number": number,
            "waiting": self.is_waiting(seen.unit) or trend is None,
            "headline": kind.headline(log.measurement, seen.display),
            "file": log.facts["file"],
            "asked": asked,
            "period": span(asked.from_s, asked.to_s, log.facts["zone"]),
            "from": trend_window.local(asked.from_s, asked.zone),
            "to": trend_window.local(asked.to_s, asked.zone),
            "kept": parquet is not None,
            "again": parquet is None and self.is_waiting(seen.unit, "analyse"),
            "picture": self._picture(log, asked, parquet, seen.display, events),
            "events": [(moment(one.event.from_s, asked.zone), one) for one in events],
            "expectations": render_all(told(trend, seen.display)) if trend else "",
            "points": render_all([points(log.facts)]),
            **(self._table(log, asked, parquet, seen.display) if parquet else {}),
        }
        return self.show("commissioning/trend.html", context)

    def _picture(self, log: Log, asked: Asked, parquet: Path | None, display: str, events: Iterable[Happened]) -> Any:
        trend = log.facts["trend"]
        if trend is None:
            return ""
        if asked.is_part and parquet is not None:
            trend = trend_window.in_sight(trend, parquet, log.facts, asked, STATIC_PIXELS)
        return render(picture(trend, log.facts["zone"], display, events=[one.mark for one in events]))

    def _table(self, log: Log, asked: Asked, parquet: Path, display: str) -> dict[str, Any]:
        held = trend_window.samples(parquet, log.facts, asked)
        pages = max(1, -(-len(held) // PAGE_SIZE))
        page = min(asked.page, pages)
        start = (page - 1) * PAGE_SIZE
        return {
            "rows": [(at, trend_window.printed(value)) for at, value in held.rows(display, start, start + PAGE_SIZE)],
            "total": len(held),
            "page": page,
            "pages": pages,
            "earlier": asked.address(page=page - 1, sort=asked.sort) if page > 1 else "",
            "later": asked.address(page=page + 1, sort=asked.sort) if page < pages else "",
            "heads": [
                _head(asked, "time", f"Time in {asked.zone}"),
                _head(asked, "value", trend_window.label_of(asked.point, display)),
            ],
            "choices": [(one["role"], trend_window.label_of(one["role"], display)) for one in log.facts["points"]],
            "sheet": f"/units/{self.kwargs['pk']}/trends/{log.number}/samples.csv{asked.address()}",
        }


class TrendSeries(TrendDocument):
    """The plot of a window as data, for the page's own script: drawn from at most two values for a pixel."""

    def get(self, request: HttpRequest, pk: uuid.UUID, number: int) -> HttpResponse:
        seen = self.unit_seen(request, pk)
        log = self.log(seen, number)
        parquet, trend = log.parquet(), log.facts["trend"]
        if parquet is None or trend is None:
            raise Http404
        asked = Asked.of(request.GET, log.facts, log.whole)
        pixels = _pixels(request.GET.get("pixels", ""))
        shown = trend_window.in_sight(trend, parquet, log.facts, asked, pixels)
        events = [one.mark for one in self.happened(seen, log, asked)]
        drawn = to_json(picture(shown, log.facts["zone"], seen.display, events=events))
        whole = log.whole
        return JsonResponse(
            {
                **drawn,
                "from_s": asked.from_s,
                "zone": log.facts["zone"],
                "whole_from_s": whole[0],
                "whole_to_s": whole[1],
            }
        )


class TrendSamples(TrendDocument):
    """The samples of one point in a window as CSV: all of them, not only a page."""

    def get(self, request: HttpRequest, pk: uuid.UUID, number: int) -> HttpResponseBase:
        seen = self.unit_seen(request, pk)
        log = self.log(seen, number)
        parquet = log.parquet()
        if parquet is None:
            raise Http404
        asked = Asked.of(request.GET, log.facts, log.whole)
        held = trend_window.samples(parquet, log.facts, asked)
        if len(held) > MOST_ROWS_OUT:
            remedy = f"Choose a window with at most {MOST_ROWS_OUT:,} samples."
            raise Problem(400, "too_many_samples", "Too many samples", f"The window holds {len(held):,}. {remedy}")
        head = f"time,{cell(trend_window.label_of(asked.point, seen.display))}\r\n"
        response = StreamingHttpResponse(_lines(head, held, seen.display), content_type="text/csv; charset=utf-8")
        name = (
            f"{''.join(one for one in seen.unit.tag if one.isascii() and (one.isalnum() or one in '-_'))}-{asked.point}"
        )
        response["Content-Disposition"] = f'attachment; filename="{name}.csv"'
        return response


_NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?(e[-+]?[0-9]+)?")


def _pixels(sent: str) -> int:
    wide = int(sent) if sent.isascii() and sent.isdigit() and len(sent) < 6 else 800
    return min(max(wide, PIXELS[0]), PIXELS[1])


def _lines(head: str, held: trend_window.Samples, display: str) -> Iterator[str]:
    yield "\ufeff" + head
    for start in range(0, len(held), _CHUNK):
        rows = held.rows(display, start, start + _CHUNK)
        yield "".join(f"{at},{cell(value)}\r\n" for at, value in rows)


def cell(text: str) -> str:
    """A word of the file may hold anything: quoted, and never read as a formula by a spreadsheet."""
    text = text if _NUMBER.fullmatch(text) else safe(text)
    return '"' + text.replace('"', '""') + '"' if any(one in text for one in ',"\r\n') else text


def _head(asked: Asked, code: str, title: str) -> dict[str, str]:
    upwards = asked.sort == code
    direction = "ascending" if upwards else "descending" if asked.sort == f"-{code}" else ""
    return {"title": title, "address": asked.address(sort=f"-{code}" if upwards else code), "sorted": direction}
