"""Importing a design schedule: hand it in, look at the dry run, say what was meant, and only then apply."""

import uuid
from datetime import date
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse

from commissioning.engineering import units
from portfolio import audit
from portfolio.api.imports import MOST_BYTES, choose, heading_of
from portfolio.dashboards.days import Days
from portfolio.dashboards.page import Page, SeeOther, text_of
from portfolio.dashboards.words import count, day, opening
from portfolio.dashboards.words import units as units_in_words
from portfolio.models import Building, DesignImport, DesignRevision, Project
from portfolio.schedules import importing
from portfolio.schedules.understanding.meanings import MEANINGS

ROWS_SHOWN = 500
_UNIT_CODES = sorted({code for kind in ("airflow", "pressure", "power", "rotational speed", "current", "voltage")
                      for code in units.codes_of(kind)})  # fmt: skip
_BASES = (("", "as found in the schedule"), ("standard", "standard air"), ("actual", "actual air"),
          ("not stated", "not stated: as the project agreed"))  # fmt: skip


class ImportPage(Page):
    """Hand a schedule in, as a file or as cells copied from a sheet."""

    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        return self.answer(self.visible(Project.objects, pk, verb="import_design"))

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        project = self.visible(Project.objects, pk, verb="import_design")
        file, pasted = request.FILES.get("file"), request.POST.get("pasted", "")
        if file is not None and file.size:
            if file.size > MOST_BYTES:
                fault = f"A schedule has at most {MOST_BYTES // 1024**2} MB."
                return self.answer(project, fault=fault, status=413)
            name, data = str(file.name), file.read()
        elif pasted.strip():
            name, data = importing.PASTED, pasted.encode()
        else:
            return self.answer(project, fault="Choose a file, or paste the cells.", status=400)
        taken = importing.take(project=project, person=self.person, file_name=name, data=data)
        audit.note(request=request, person=self.person, verb="read_schedule", obj=taken, project_id=project.pk)
        return SeeOther(f"/imports/{taken.pk}")

    def answer(self, project: Project, *, fault: str = "", status: int = 200) -> HttpResponse:
        rows = self.seen(DesignImport.objects).filter(project=project).select_related("revision", "made_by")
        days = Days({project.pk})
        earlier = [
            (
                one.pk,
                one.file_name,
                day(days.day(one.made_at, project.pk)),
                f"revision {one.revision.number}" if one.revision else "not applied",
            )
            for one in rows.order_by("-made_at")[:20]
        ]
        context = {"here": "projects", "project": project, "fault": fault, "earlier": earlier}
        return self.show("commissioning/import.html", context, status=status)


class DryRunPage(Page):
    """What was understood and what would change. The form says what was meant; the dry run is made anew."""

    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        return self.answer(self.find(pk))

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        taken = self.find(pk)
        told = importing.told(importing.dry_run(taken, heading_of(taken)))
        try:
            choose(taken, self._choices(request, taken, told))
        except ValueError as fault:
            return self.answer(taken, fault=str(fault), status=400)
        return SeeOther(f"/imports/{pk}")

    def find(self, pk: uuid.UUID) -> DesignImport:
        return self.visible(DesignImport.objects.select_related("project", "revision"), pk, verb="import_design")

    def _choices(self, request: HttpRequest, taken: DesignImport, told: dict[str, Any]) -> dict[str, Any]:
        form = request.POST
        values: dict[str, Any] = {
            "columns": _columns(form, told),
            "skip": [
                {"sheet": t["sheet"], "table": t["table"]} for n, t in enumerate(told["tables"]) if f"skip-{n}" in form
            ],
            "tags_of": _tags_of(text_of(form, "tags_of")),
            "source": s if (s := form.get("source", "")) in DesignRevision.Source.values else "design",
            "title": text_of(form, "title", 200),
            "partial": "partial" in form,
        }
        for name, allowed in (("air_basis", [code for code, _ in _BASES]), ("decimal", ["", "point", "comma"])):
            if form.get(name, "") in allowed:
                values[name] = form.get(name, "")
        dated = text_of(form, "dated", 10)
        if dated:
            try:
                values["dated"] = date.fromisoformat(dated)
            except ValueError:
                raise ValueError("The date is no date: write it as year-month-day.") from None
        building = text_of(form, "building", 36)
        values["building"] = str(self._building(taken, building).pk) if building else ""
        return values

    def _building(self, taken: DesignImport, pk: str) -> Building:
        try:
            wanted = uuid.UUID(pk)
        except ValueError:
            raise ValueError("There is no such building.") from None
        found = self.seen(Building.objects).filter(site__project=taken.project_id, pk=wanted).first()
        if found is None:
            raise ValueError("There is no such building.")
        return found

    def answer(self, taken: DesignImport, *, fault: str = "", status: int = 200) -> HttpResponse:
        heading = heading_of(taken)
        told = importing.told(importing.dry_run(taken, heading))
        held = taken.choices
        context: dict[str, Any] = {
            "here": "projects",
            "taken": taken,
            "project": taken.project,
            "told": told,
            "sentence": _sentence(told, taken),
            "fault": fault,
            "groups": _groups(told),
            "tables": list(enumerate(told["tables"])),
            "changing": [one for one in told["units"] if one["action"] != "same"][:ROWS_SHOWN],
            "same": sum(1 for one in told["units"] if one["action"] == "same"),
            "errors": told["errors"][:ROWS_SHOWN],
            "heading": heading,
            "sources": DesignRevision.Source.choices,
            "bases": _BASES,
            "basis": held.get("air_basis", ""),
            "unit_codes": _UNIT_CODES,
            "tags_of": "\n".join(f"{text} = {', '.join(tags)}" for text, tags in held.get("tags_of", {}).items()),
            "buildings": list(self.seen(Building.objects).filter(site__project=taken.project_id).order_by("name")),
        }
        return self.show("commissioning/dry_run.html", context, status=status)


class ApplyPage(DryRunPage):
    def get(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        self.find(pk)
        return SeeOther(f"/imports/{pk}")

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        taken = self.find(pk)
        try:
            with transaction.atomic():
                revision, done = importing.apply(taken, heading_of(taken), self.person)
                if revision is not None:
                    audit.note(
                        request=request,
                        person=self.person,
                        verb="apply_schedule",
                        obj=revision,
                        project_id=taken.project_id,
                    )
        except importing.CannotApply as refused:
            number = len(refused.obstacles)
            fault = (
                f"Nothing was applied: {count(number)} {'error stands' if number == 1 else 'errors stand'} in the way."
            )
            return self.answer(taken, fault=fault, status=400)
        if revision is None:
            messages.info(request, "Nothing changes: all of it is in the design already.")
        else:
            changed = len(done.changing)
            said = (
                f"{revision} is applied: {count(changed)} {units_in_words(changed)} changed, and judged anew right now."
            )
            messages.success(request, said)
        return SeeOther(f"/projects/{taken.project_id}")


def _columns(form: Any, told: dict[str, Any]) -> list[dict[str, Any]]:
    """Only what differs from what was recognised, and what was chosen before."""
    chosen = []
    for number, column in enumerate(told["columns"]):
        meaning = form.get(f"meaning-{number}", column["meaning"])
        unit = form.get(f"unit-{number}", column["unit"])
        if meaning not in MEANINGS and meaning not in ("", "ignore"):
            raise ValueError(f"Column {column['column']}: there is no such meaning.")
        if unit and unit not in _UNIT_CODES and unit != column["unit"]:
            raise ValueError(f"Column {column['column']}: there is no such unit.")
        if column["how"] == "chosen" or (meaning, unit) != (column["meaning"], column["unit"]):
            place = {name: column[name] for name in ("sheet", "table", "column")}
            chosen.append(place | {"meaning": meaning, "unit": unit})
    return chosen


def _options(held: str) -> list[tuple[str, str, bool]]:
    options = [("", "not understood", not held), ("ignore", "leave it out", held == "ignore")]
    return options + [(m.code, m.label, m.code == held) for m in MEANINGS.values() if m.code != "ignore"]


def _groups(told: dict[str, Any]) -> list[dict[str, Any]]:
    """The columns table by table; a table in which something was not understood lies open."""
    held: dict[tuple[str, int], list[dict[str, Any]]] = {}
    for number, column in enumerate(told["columns"]):
        shown = column | {"number": number, "meanings": _options(column["meaning"])}
        held.setdefault((column["sheet"], column["table"]), []).append(shown)
    groups = []
    for (sheet, table), columns in held.items():
        unknown = sum(1 for column in columns if column["how"] == "not understood")
        title = f"{sheet}, table {table}"
        groups.append({"title": title, "columns": columns, "unknown": unknown, "open": bool(unknown) or len(held) == 1})
    return groups


def _tags_of(text: str) -> dict[str, list[str]]:
    """
    >>> _tags_of("ERV-A = ERV-1, ERV-2")
    {'ERV-A': ['ERV-1', 'ERV-2']}
    """
    found = {}
    for line in text.splitlines():
        name, equals, tags = line.partition("=")
        if name.strip() and equals:
            found[name.strip()] = [tag.strip()[:60] for tag in tags.split(",") if tag.strip()]
    return found


def _sentence(told: dict[str, Any], taken: DesignImport) -> str:
    """What stands in the way, or what applying it would do."""
    if taken.revision is not None:
        return f"This schedule was applied as revision {taken.revision.number}."
    errors, questions = len(told["errors"]), len(told["questions"])
    if errors or questions:
        parts = [
            f"{count(number)} {word if number == 1 else word + 's'}"
            for number, word in ((errors, "error"), (questions, "question"))
            if number
        ]
        stand, they = ("stands", "it does") if errors + questions == 1 else ("stand", "they do")
        return f"{opening(' and '.join(parts))} {stand} in the way; nothing is applied while {they}."
    new = sum(1 for one in told["units"] if one["action"] == "new")
    changed = sum(1 for one in told["units"] if one["action"] == "changed")
    if not new and not changed:
        return (
            "Applying it changes nothing: all of it is in the design already." if told["units"] else "No row was found."
        )
    said = []
    if new:
        said.append(f"makes {count(new)} {units_in_words(new)}")
    if changed:
        said.append(f"changes {count(changed)}")
    same = len(told["units"]) - new - changed
    stay = "stays as it is" if same == 1 else "stay as they are"
    return f"Applying it {' and '.join(said)}{f'; {count(same)} {stay}' if same else ''}."
