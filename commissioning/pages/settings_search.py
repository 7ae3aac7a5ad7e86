"""Units found by what their controllers are set to. What is asked lies in the address: a link is a saved search."""

import uuid
from collections import Counter
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.db.models import Count, F
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase

from commissioning.dossier.settings import printed
from commissioning.dossier.settings.catalogue import CATALOGUE
from commissioning.dossier.settings.words import MOMENTS
from commissioning.engineering import units
from commissioning.models.settings import SettingsNowQuerySet
from commissioning.verdicts import settings_search
from commissioning.verdicts.settings_now import in_columns
from commissioning.verdicts.settings_search import IN_WORDS, NotAsked, Question, question
from portfolio.dashboards.display import chosen
from portfolio.dashboards.page import Page
from portfolio.dashboards.sheet import csv_response
from portfolio.dashboards.words import count, moment, opening
from portfolio.dashboards.worklist import Word
from portfolio.door.problems import Problem
from portfolio.models import Project

PAGE_SIZE = 100
_UNITS = ("cfm", "L/s", "m3/h", "in_wc", "Pa", "degF", "degC", "%", "ppm", "s", "min", "h")
_HEADS = (("unit", "Unit"), ("value", "Value"), ("when", "Read"))
_COLUMNS = ("Unit", "Project", "Building", "Place", "Setting", "Value", "Unit of the value", "Moment", "Read")
_SORTS = {
    "unit": ("position__tag",),
    "value": ("number", "word", "position__tag"),
    "when": ("observed_at", "position__tag"),
}


@dataclass(frozen=True)
class Asked:
    """What the address asks for, as it stands there."""

    setting: str = ""
    how: str = ""
    value: str = ""
    unit: str = ""
    moment: str = ""
    project: str = ""
    sort: str = "unit"
    page: int = 1

    @classmethod
    def of(cls, request: HttpRequest) -> "Asked":
        def sent(name: str) -> str:
            return request.GET.get(name, "").replace("\0", "").strip()[:200]

        page, sort, project = sent("page"), sent("sort"), sent("project")
        return cls(
            setting=sent("setting"),
            how=sent("is"),
            value=sent("value"),
            unit=sent("unit"),
            moment=sent("moment") if sent("moment") in MOMENTS else "",
            project=project if _is_id(project) else "",
            sort=sort if sort.lstrip("-") in _SORTS else "unit",
            page=int(page) if page.isascii() and page.isdigit() and 0 < len(page) < 6 and int(page) else 1,
        )

    def question(self, display: str) -> Question:
        return question(self.setting, self.how or "read", self.value, self.unit, display=display)

    def address(self, **changes: Any) -> str:
        """The same search with some of it changed; another choice begins at its first page."""
        held = {
            "setting": self.setting,
            "is": self.how,
            "value": self.value,
            "unit": self.unit,
            "moment": self.moment,
            "project": self.project,
            "sort": self.sort if self.sort != "unit" else "",
            "page": 1,
        } | changes
        return f"?{urlencode({key: one for key, one in held.items() if one and (key, one) != ('page', 1)})}"


class SettingsSearchPage(Page):
    def get(self, request: HttpRequest) -> HttpResponse:
        asked = Asked.of(request)
        display = chosen(request) or "ip"
        context = {"here": "home", **_form(asked)}
        if not asked.setting:
            return self.show("commissioning/settings_search.html", context)
        try:
            wanted = asked.question(display)
        except NotAsked as no:
            told = {"fault": str(no), "wrong": no.name}
            return self.show("commissioning/settings_search.html", context | told, status=400)
        return self.show("commissioning/settings_search.html", context | self._found(asked, wanted, display))

    def _found(self, asked: Asked, wanted: Question, display: str) -> dict[str, Any]:
        rows = _in_project(settings_search.found(self.person, wanted), asked)
        by_moment = Counter(dict(rows.order_by().values_list("moment").annotate(n=Count("pk"))))
        chosen_rows = rows.filter(moment=asked.moment) if asked.moment else rows
        total = by_moment[asked.moment] if asked.moment else by_moment.total()
        pages = max(1, -(-total // PAGE_SIZE))
        page = min(asked.page, pages)
        words = {"Is": self._words(asked, wanted)} | _moments(asked, by_moment) | self._projects(asked)
        return {
            "sentence": _sentence(total, wanted, display),
            "words": {head: held for head, held in words.items() if held},
            "heads": [_head(asked, code, title) for code, title in _HEADS],
            "rows": [_row(one, wanted, display) for one in _page_of(rows, chosen_rows, asked, page)],
            "total": total,
            "sheet": f"/settings.csv{asked.address()}",
            "pages": pages,
            "page": page,
            "earlier": asked.address(page=page - 1) if page > 1 else "",
            "later": asked.address(page=page + 1) if page < pages else "",
        }

    def _words(self, asked: Asked, wanted: Question) -> list[Word]:
        """Of a choice or a yes or no: each word with how many units have it."""
        setting = wanted.setting
        if setting.kind not in ("choice", "yes_no"):
            return []
        counts = settings_search.counted(_in_project(settings_search.seen(self.person), asked), setting)
        chosen_word = in_columns(wanted.value)[1] if wanted.how == "equal" and wanted.value is not None else ""
        found = []
        for word in ("yes", "no") if setting.kind == "yes_no" else setting.choices:
            address = asked.address(**{"is": "equal", "value": word, "unit": ""})
            found.append(Word(printed.words(word), address, counts[word], word == chosen_word))
        unread = asked.address(**{"is": "not_read", "value": "", "unit": ""})
        return [*found, Word("not read", unread, counts[""], wanted.how == "not_read")]

    def _projects(self, asked: Asked) -> dict[str, list[Word]]:
        projects = list(self.seen(Project.objects).order_by("name").values_list("pk", "name")[:50])
        if len(projects) < 2:
            return {}
        words = [Word(name, asked.address(project=pk), 0, asked.project == str(pk)) for pk, name in projects]
        return {"Project": [Word("all", asked.address(project=""), 0, not asked.project), *words]}


class SettingsSheet(Page):
    """The same units as CSV: all of them, not only a page. A number has its unit in a column of its own."""

    def get(self, request: HttpRequest) -> HttpResponseBase:
        asked = Asked.of(request)
        display = chosen(request) or "ip"
        try:
            wanted = asked.question(display)
        except NotAsked as no:
            raise Problem(400, "not_a_question", "This cannot be asked", str(no)) from no
        rows = _in_project(settings_search.found(self.person, wanted), asked)
        if asked.moment:
            rows = rows.filter(moment=asked.moment)
        rows = rows.order_by(*_order(asked)).select_related("position__building__site__project")
        return csv_response("settings.csv", _COLUMNS, (_sheet_row(one, wanted, display) for one in rows.iterator(500)))


def _in_project(rows: SettingsNowQuerySet, asked: Asked) -> SettingsNowQuerySet:
    return rows.filter(position__building__site__project=uuid.UUID(asked.project)) if asked.project else rows


def _is_id(text: str) -> bool:
    try:
        uuid.UUID(text)
    except ValueError:
        return False
    return True


def _form(asked: Asked) -> dict[str, Any]:
    groups = [
        (title, [(one.code, one.title) for one in CATALOGUE.settings.values() if one.group == group])
        for group, title in CATALOGUE.groups.items()
    ]
    return {
        "asked": asked,
        "groups": groups,
        "hows": list(IN_WORDS.items()),
        "how": asked.how or "below",
        "unit_words": [(code, units.unit(code).label) for code in _UNITS],
        "kept": {name: held for name in ("moment", "project") if (held := getattr(asked, name))},
    }


def _moments(asked: Asked, counts: Counter[str]) -> dict[str, list[Word]]:
    if len(counts) < 2 and not asked.moment:
        return {}
    words = [Word("any", asked.address(moment=""), counts.total(), not asked.moment)]
    words += [
        Word(said, asked.address(moment=code), counts[code], asked.moment == code)
        for code, said in MOMENTS.items()
        if counts[code] or asked.moment == code
    ]
    return {"Moment": words}


def _order(asked: Asked) -> list[Any]:
    names = _SORTS[asked.sort.lstrip("-")]
    return [*(F(name).desc() if asked.sort.startswith("-") else F(name).asc() for name in names), "pk"]


def _page_of(every: SettingsNowQuerySet, rows: SettingsNowQuerySet, asked: Asked, page: int) -> list[Any]:
    """Sorted by ids alone; what is shown of a row is read for one page only."""
    start = (page - 1) * PAGE_SIZE
    ids = list(rows.order_by(*_order(asked)).values_list("pk", flat=True)[start : start + PAGE_SIZE])
    shown = every.select_related("position__building__site").in_bulk(ids)
    return [shown[pk] for pk in ids]


def _row(row: Any, wanted: Question, display: str) -> dict[str, str]:
    position = row.position
    held = settings_search.held(row, wanted.setting)
    return {
        "unit": str(position.pk),
        "tag": position.tag,
        "place": ", ".join(filter(None, (position.building.name, position.location))),
        "value": printed.value(wanted.setting.code, held, display),
        "moment": MOMENTS[row.moment],
        "when": moment(row.observed_at, position.building.site.time_zone),
    }


def _sheet_row(row: Any, wanted: Question, display: str) -> tuple[Any, ...]:
    building = row.position.building
    value, unit = printed.in_cells(wanted.setting.code, settings_search.held(row, wanted.setting), display)
    read = row.observed_at.astimezone(ZoneInfo(building.site.time_zone)).isoformat(timespec="minutes")
    return (
        row.position.tag,
        building.site.project.name,
        building.name,
        row.position.location,
        wanted.setting.title,
        value,
        unit,
        MOMENTS[row.moment],
        read,
    )


def _sentence(total: int, wanted: Question, display: str) -> str:
    """
    >>> _sentence(2, question("supply_minimum_airflow", "below", "300", "cfm"), "ip")
    'Two units fit “Supply minimum airflow below 300 cfm”.'
    """
    noun = "unit fits" if total == 1 else "units fit"
    return f"{opening(count(total))} {noun} “{wanted.words(display)}”."


def _head(asked: Asked, code: str, title: str) -> dict[str, str]:
    upwards = asked.sort == code
    direction = "ascending" if upwards else "descending" if asked.sort == f"-{code}" else ""
    return {"title": title, "address": asked.address(sort=f"-{code}" if upwards else code), "sorted": direction}
