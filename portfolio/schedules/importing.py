"""Reading a schedule as a dry run, and applying it as a revision: all of it or nothing."""

from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import Max
from django.utils.module_loading import import_string

from portfolio.blobs.store import keep, open_blob
from portfolio.jobs import queue
from portfolio.models import DesignEntry, DesignImport, DesignRevision, Firm, Person, Position, Project
from portfolio.schedules import plan as planning
from portfolio.schedules.reading import Grid, read_pasted, read_workbook
from portfolio.schedules.understanding import Choices, Understanding, understand
from portfolio.schedules.understanding.equipment import OwnWord
from portfolio.schedules.understanding.result import ColumnChoice

PASTED = "pasted.txt"


class CannotApply(Exception):
    """Nothing was applied; `obstacles` say why, each with its cell."""

    def __init__(self, obstacles: list[planning.Obstacle]) -> None:
        super().__init__(f"{len(obstacles)} errors stand in the way")
        self.obstacles = obstacles


@dataclass(frozen=True)
class DryRun:
    """What was understood and what would be done."""

    understanding: Understanding
    plan: planning.Plan
    obstacles: list[planning.Obstacle]

    @property
    def may_apply(self) -> bool:
        return not self.obstacles and not self.understanding.questions and bool(self.understanding.rows)


def take(*, project: Project, person: Person, file_name: str, data: bytes) -> DesignImport:
    """Keep the file as it came. Reading it is repeated at each look: it is a function of its bytes and the choices."""
    media_type = "text/plain" if file_name == PASTED else "application/octet-stream"
    blob = keep(data, media_type)
    return DesignImport.objects.create(project=project, blob=blob, file_name=file_name[:255], made_by=person)


def dry_run(taken: DesignImport, heading: planning.Heading) -> DryRun:
    own = own_words(taken.project_id)
    understanding = _understood(taken, own)
    plan = planning.make(taken.project, understanding.rows, heading, _next_number(taken.project_id), own)
    errors = [
        planning.Obstacle(e.sheet, e.row or 0, e.column or "", e.value or "", e.reason, e.remedy, e.code)
        for e in understanding.errors
    ]
    return DryRun(understanding, plan, [*errors, *plan.obstacles])


def apply(
    taken: DesignImport, heading: planning.Heading, person: Person
) -> tuple[DesignRevision | None, planning.Plan]:
    """Make the revision and want a judging for exactly the units that change; None when nothing changes."""
    with transaction.atomic():
        hold_words(taken.project_id)
        Project.objects.select_for_update().get(pk=taken.project_id)
        seen = dry_run(taken, heading)
        if not seen.may_apply:
            raise CannotApply(seen.obstacles or [_open_question(seen.understanding)])
        if not seen.plan.changing:
            return None, seen.plan
        revision = DesignRevision.objects.create(
            project=taken.project,
            number=_next_number(taken.project_id),
            dated=heading.dated,
            source=heading.source,
            title=heading.title,
            partial=heading.partial,
            blob=taken.blob,
            applied_by=person,
        )
        _carry_out(seen.plan, revision)
        taken.revision = revision
        taken.save(update_fields=["revision"])
        queue.want("judge", [step.position.pk for step in seen.plan.changing if step.position is not None])
        return revision, seen.plan


def _carry_out(plan: planning.Plan, revision: DesignRevision) -> None:
    new = []
    for step in plan.changing:
        if step.position is None:
            assert step.building_id is not None
            step.position = Position(
                building_id=step.building_id,
                tag=step.tag,
                kind=step.kind,
                location=step.location[:200],
                scope=step.scope or Position.Scope.IN_SCOPE,
                scope_reason=f"{revision}" if step.scope else "",
            )
            new.append(step.position)
        elif step.scope is not None and step.scope != step.position.scope:
            step.position.scope, step.position.scope_reason = step.scope, str(revision)
            step.position.save(update_fields=["scope", "scope_reason"])
    Position.objects.bulk_create(new)
    DesignEntry.objects.bulk_create(
        DesignEntry(revision=revision, position=step.position, fields=step.fields)
        for step in plan.changing
        if any(step.fields.values())
    )


def _open_question(understanding: Understanding) -> planning.Obstacle:
    if understanding.questions:
        first = understanding.questions[0]
        return planning.Obstacle("", 0, "", "", first.text, f"Answer one of {', '.join(first.answers)}.", first.code)
    return planning.Obstacle("", 0, "", "", "There is no row to apply.", "Look at what was understood.", "no_rows")


def own_words(project_id: UUID) -> tuple[OwnWord, ...]:
    """What the project's firm has beside the catalogue, told by the room above."""
    found: tuple[OwnWord, ...] = import_string(settings.EQUIPMENT_WORDS)(project_id)
    return found


def hold_words(project_id: UUID) -> None:
    """Until the transaction ends the firm keeps no other version of its own words: what a design names stays there."""
    Firm.objects.select_for_update(of=("self",), no_key=True).get(projects=project_id)


def _next_number(project_id: UUID) -> int:
    top = DesignRevision.objects.filter(project=project_id).aggregate(top=Max("number"))["top"]
    return int(top or 0) + 1


def _understood(taken: DesignImport, own: tuple[OwnWord, ...]) -> Understanding:
    tags = frozenset(Position.objects.filter(building__site__project=taken.project_id).values_list("tag", flat=True))
    return understand(
        _grids(taken.blob_id, taken.file_name), choices=choices_of(taken.choices), known_tags=tags, own=own
    )


@lru_cache(maxsize=4)
def _grids(sha256: str, file_name: str) -> tuple[Grid, ...]:
    with open_blob(sha256) as file:
        data = file.read()
    if file_name == PASTED:
        return read_pasted(data.decode("utf-8", "replace"))
    return read_workbook(file_name, data)


def choices_of(data: dict[str, Any]) -> Choices:
    """A person's choices, as kept with the import."""
    return Choices(
        columns=tuple(ColumnChoice(**one) for one in data.get("columns", [])),
        air_basis=data.get("air_basis", ""),
        decimal=data.get("decimal", ""),
        skip=tuple((one["sheet"], one["table"]) for one in data.get("skip", [])),
        tags_of={text: tuple(tags) for text, tags in data.get("tags_of", {}).items()},
    )


def told(seen: DryRun) -> dict[str, Any]:
    """The dry run as JSON, for API and page."""
    held = seen.understanding
    return {
        "may_apply": seen.may_apply,
        "errors": [asdict(one) for one in seen.obstacles],
        "questions": [asdict(one) for one in held.questions],
        "remarks": [asdict(one) for one in held.remarks],
        "columns": [asdict(one) for one in held.columns],
        "tables": [
            {
                "sheet": t.sheet,
                "table": t.number,
                "title": t.title,
                "header_row": t.header_row,
                "rows": t.rows,
                "air_basis": t.air_basis.code if t.air_basis else None,
                "skipped": t.skipped,
            }
            for t in held.tables
        ],
        "decimal": held.decimal,
        "units": [
            {
                "tag": step.tag,
                "building": step.building,
                "kind": step.kind,
                "action": step.action,
                "position": str(step.position.pk) if step.position else None,
                "changes": [asdict(change) for change in step.changes],
            }
            for step in seen.plan.steps
        ],
        "not_named": seen.plan.not_named,
    }
