"""The first page: the work list for the firm, the list of its issues for a contractor, the buildings for the others."""

from dataclasses import dataclass, replace
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.utils.safestring import SafeString

from commissioning.blocks import Band, from_json
from commissioning.models import Binder
from commissioning.pages.contractor import contractors_list
from commissioning.pages.decisions import decisions_of
from commissioning.pages.render.band import band_in_table, no_band
from commissioning.pages.render.marks import outcome
from commissioning.samples.due import due_to
from commissioning.samples.results import Unit
from portfolio.dashboards import buildings, sheet, words, worklist
from portfolio.dashboards.days import today_in
from portfolio.dashboards.page import Page
from portfolio.models import Building, Project, Standing
from portfolio.models.people import Role
from portfolio.models.standing import from_text

HEADS = (
    ("unit", "Unit"),
    ("place", "Place"),
    ("next", "What is next"),
    ("who", "Who"),
    ("since", "Since"),
    ("due", "Due"),
)
_NO_BAND = {
    Standing.Code.NOT_COUNTED: "not counted",
    Standing.Code.NO_DESIGN: "no design",
    Standing.Code.NOT_MEASURED: "not measured",
}


@dataclass(frozen=True)
class Row:
    standing: Standing
    who: str
    since: str
    due: str
    is_late: bool
    picture: SafeString


@dataclass(frozen=True)
class Head:
    title: str
    address: str
    sorted: str  # as aria-sort has it, or nothing


def picture_of(standing: Standing) -> SafeString:
    if standing.band:
        block = from_json(standing.band)
        if isinstance(block, Band):
            return band_in_table(_as_accepted(block) if _is_accepted(standing, block) else block)
    return no_band(_NO_BAND.get(Standing.Code(standing.code), "no verdict yet"))


def _is_accepted(standing: Standing, block: Band) -> bool:
    return block.outcome == buildings.FAILS and from_text(standing.outcomes).get(buildings.DELIVERS) == "accepted"


def _as_accepted(block: Band) -> Band:
    """What whoever may has accepted as it is raises no alarm any more; the picture still shows how far off it is."""
    label = block.label.removesuffix(".")
    return replace(block, outcome="accepted", label=f"{label}, {words.outcome_in_words('accepted')}.")


def row_of(standing: Standing, roles: set[Role]) -> Row:
    who = worklist.mover_in_words(standing.mover, str(standing.company or ""), roles)
    today = today_in(standing.position.building.site.time_zone)
    late = standing.due is not None and standing.due < today and standing.code != Standing.Code.SIGNABLE
    return Row(standing, who, words.day(standing.since), words.day(standing.due), late, picture_of(standing))


class HomePage(Page):
    def get(self, request: HttpRequest) -> HttpResponse:
        if self.roles & {Role.LEAD, Role.TECHNICIAN}:
            return self._work(request)
        if Role.CONTRACTOR in self.roles:
            return self.show("commissioning/contractor.html", {"here": "home"} | contractors_list(self.person))
        return self._buildings()

    def _work(self, request: HttpRequest) -> HttpResponse:
        found = worklist.work_list(self.person, self.roles, request.GET)
        asked = found.asked
        projects = list(self.seen(Project.objects).order_by("name").values("pk", "name"))
        building = Building.objects.filter(pk=asked.building).first() if asked.building else None
        context: dict[str, Any] = {
            "here": "home",
            "sentence": worklist.sentence(found),
            "next_for_me": self._next_for_me(found),
            "to_verify": [] if asked.q or asked.state else due_to(self.person, lambda one: _is_in(one, asked)),
            "words": worklist.words(found),
            "projects": [
                worklist.Word(p["name"], asked.address(project=p["pk"]), 0, asked.project == str(p["pk"]))
                for p in projects
            ],
            "all_projects": asked.address(project="", building=""),
            "building": building,
            "without_building": asked.address(building=""),
            "asked": asked,
            "heads": [_head(asked, code, title) for code, title in HEADS],
            "rows": [row_of(standing, self.roles) for standing in found.page_rows],
            "total": found.total,
            "noun": words.units(found.total),
            "sheet": "/work.csv" + asked.address(),
            "pages": found.pages,
            "earlier": asked.address(page=asked.page - 1) if asked.page > 1 else "",
            "later": asked.address(page=asked.page + 1) if asked.page < found.pages else "",
        }
        return self.show("commissioning/work.html", context)

    def _next_for_me(self, found: worklist.WorkList) -> Standing | None:
        """For who works in the plant rooms: the first thing to do."""
        if Role.LEAD in self.roles:
            return None
        mine = found.rows.filter(mover="technician")
        return mine.first()

    def _buildings(self) -> HttpResponse:
        found = buildings.pictures(self.person)
        shown = buildings.requirements_shown(found)
        binders = self.seen(Binder.objects).select_related("project", "document").order_by("-asked_at")[:20]
        context = {
            "here": "home",
            "pictures": found,
            "requirements": [title for _, title in shown],
            "rows": [(p, [_cell(p, code) for code, _ in shown]) for p in found],
            "decisions": decisions_of(self.person, self.roles),
            "binders": list(binders),
        }
        return self.show("commissioning/buildings.html", context)


def _cell(picture: buildings.BuildingPicture, requirement: str) -> list[SafeString]:
    return [outcome(code, number=number) for code, number in picture.cell(requirement)]


def _is_in(one: Unit, asked: worklist.Asked) -> bool:
    building = one.position.building
    return asked.building in ("", str(building.pk)) and asked.project in ("", str(building.site.project_id))


def _head(asked: worklist.Asked, code: str, title: str) -> Head:
    upwards = asked.sort == code
    direction = "ascending" if upwards else "descending" if asked.sort == f"-{code}" else ""
    return Head(title, asked.address(sort=f"-{code}" if upwards else code), direction)


class WorkSheet(Page):
    """The same rows as CSV: all of them, not only a page."""

    def get(self, request: HttpRequest) -> HttpResponseBase:
        found = worklist.work_list(self.person, self.roles, request.GET)
        heads = ("Unit", "Kind", "Project", "Building", "Place", "Standing", "What is next", "Who", "Since", "Due",
                 "Worst port, % of design")  # fmt: skip
        rows = found.rows.select_related("position__building__site__project")
        return sheet.csv_response("work.csv", heads, (_sheet_row(standing) for standing in rows.iterator(500)))


def _sheet_row(standing: Standing) -> tuple[Any, ...]:
    position = standing.position
    measured = (standing.band or {}).get("measured")
    return (
        position.tag,
        position.get_kind_display(),
        position.building.site.project.name,
        position.building.name,
        position.location,
        standing.get_code_display(),
        standing.sentence,
        str(standing.company) if standing.company else words.MOVERS.get(standing.mover, ""),
        standing.since.isoformat() if standing.since else "",
        standing.due.isoformat() if standing.due else "",
        None if measured is None else round(measured),
    )
