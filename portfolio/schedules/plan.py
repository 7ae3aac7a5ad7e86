"""What applying a schedule would do: which positions it makes, which it changes and how, and what stands in the way.

Read only. The same plan is shown as the dry run and carried out by `apply`.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from uuid import UUID

from portfolio.models import Building, DesignEntry, DesignRevision, Position, Project, TagAlias
from portfolio.models.design import fold, order_of
from portfolio.schedules.entries import cells_of, fields_of
from portfolio.schedules.understanding.equipment import OwnWord
from portfolio.schedules.understanding.result import DesignRow, Written


@dataclass(frozen=True)
class Heading:
    """What the person says of the revision as a whole."""

    dated: date
    source: str = "design"
    title: str = ""
    partial: bool = False
    building: UUID | None = None  # where units go whose row names no building


@dataclass(frozen=True)
class Change:
    field: str
    before: str
    after: str
    cell: str = ""


@dataclass
class Step:
    """What happens to one unit."""

    tag: str
    action: str  # new, changed, same
    building: str = ""
    building_id: UUID | None = None
    position: Position | None = None
    kind: str = "other"
    location: str = ""
    fields: dict[str, Any] = field(default_factory=dict)
    scope: str | None = None
    changes: list[Change] = field(default_factory=list)


@dataclass(frozen=True)
class Obstacle:
    sheet: str
    row: int
    column: str
    value: str
    reason: str
    remedy: str
    code: str


@dataclass
class Plan:
    steps: list[Step] = field(default_factory=list)
    obstacles: list[Obstacle] = field(default_factory=list)
    not_named: list[str] = field(default_factory=list)  # they stay as they are

    @property
    def changing(self) -> list[Step]:
        return [step for step in self.steps if step.action != "same"]


def make(
    project: Project, rows: tuple[DesignRow, ...], heading: Heading, number: int, own: tuple[OwnWord, ...] = ()
) -> Plan:
    """`own`: options and field sensors that the firm has beside those of the catalogue."""
    buildings = {b.name.casefold(): b for b in Building.objects.filter(site__project=project)}
    positions = _positions(project)
    entries = _entries(project)
    order = order_of(DesignRevision(dated=heading.dated, source=heading.source, number=number, project=project))
    plan = Plan()
    named = set()
    for row in rows:
        placed = _place(row, heading, buildings, positions)
        if isinstance(placed, Obstacle):
            plan.obstacles.append(placed)
            continue
        building, position = placed
        named.add(position.pk if position else None)
        step = Step(
            tag=row.tag,
            action="new",
            building=building.name,
            building_id=building.pk,
            position=position,
            kind=row.kind or "other",
            location=row.location.text if row.location else "",
            fields=fields_of(row, partial=heading.partial, own=own),
            scope=row.scope[0].code if row.scope else None,
        )
        _compare(step, entries.get(position.pk, []) if position else [], order, cells_of(row))
        plan.steps.append(step)
        plan.obstacles += _of_other_kinds(row, step, entries.get(position.pk, []) if position else [], own)
    if not heading.partial:
        plan.not_named = sorted(
            p.tag for held in positions.values() for p in held if p.pk not in named and p.is_counted
        )
    return plan


def _of_other_kinds(
    row: DesignRow, step: Step, entries: list[tuple[Any, ...]], own: tuple[OwnWord, ...]
) -> Iterator[Obstacle]:
    """What the row says that the unit has and a unit of its kind may not have."""
    held = fold(entries).get("equipment", {}).get("unit", {})
    kinds = {step.position.kind if step.position else step.kind, held.get("own_kind")}
    named = step.fields.get("equipment", {}).get("unit", {})
    for one in own:
        name = one.field.partition(".")[2]
        if one.kinds and one.code in (named.get(name) or ()) and not kinds & set(one.kinds):
            written: Written = getattr(row.equipment, name)
            at = written.at
            reason = f"{row.tag} is of a kind that may not have {one.title}."
            remedy = "Take it out of the cell, or let the firm's own checks allow it for this kind."
            yield Obstacle(at.sheet, at.row, at.column, written.text, reason, remedy, "not_of_this_kind")


def _positions(project: Project) -> dict[str, list[Position]]:
    """By tag, and by every name that a tag had."""
    held: dict[str, list[Position]] = {}
    rows = Position.objects.filter(building__site__project=project).select_related("building")
    by_pk = {p.pk: p for p in rows}
    for position in by_pk.values():
        held.setdefault(position.tag.casefold(), []).append(position)
    for alias in TagAlias.objects.filter(position__in=by_pk):
        held.setdefault(alias.tag.casefold(), []).append(by_pk[alias.position_id])
    return held


def _entries(project: Project) -> dict[UUID, list[tuple[Any, ...]]]:
    held: dict[UUID, list[tuple[Any, ...]]] = {}
    for entry in DesignEntry.objects.filter(revision__project=project).select_related("revision"):
        item = (order_of(entry.revision), str(entry.revision), entry.fields)
        held.setdefault(entry.position_id, []).append(item)
    return held


def _place(
    row: DesignRow, heading: Heading, buildings: dict[str, Building], positions: dict[str, list[Position]]
) -> tuple[Building, Position | None] | Obstacle:
    """The building and, if it is there already, the position of a row."""
    candidates = positions.get(row.tag.casefold(), [])
    if row.building is not None:
        building = _named(row.building.text, buildings)
        if building is None:
            known = ", ".join(sorted(b.name for b in buildings.values())) or "none yet"
            return _obstacle(
                row, row.building.text, "No building has this name.", f"Buildings are: {known}.", "unknown_building"
            )
        return building, next((p for p in candidates if p.building_id == building.pk), None)
    if len(candidates) == 1:
        return candidates[0].building, candidates[0]
    if len(candidates) > 1:
        return _obstacle(row, row.tag, "Several buildings have this tag.", "Name the building.", "ambiguous_tag")
    building = next((b for b in buildings.values() if b.pk == heading.building), None)
    if building is None:
        return _obstacle(
            row, row.tag, "The row names no building, and the tag is new.", "Choose a building.", "building_missing"
        )
    return building, None


def _named(text: str, buildings: dict[str, Building]) -> Building | None:
    """The building of exactly that name, or the only one whose name stands in the text, as in a table's title."""
    wanted = " ".join(text.casefold().split())
    if wanted in buildings:
        return buildings[wanted]
    inside = [b for name, b in buildings.items() if name in wanted]
    return inside[0] if len(inside) == 1 else None


def _obstacle(row: DesignRow, value: str, reason: str, remedy: str, code: str) -> Obstacle:
    at = row.tag_at.at
    return Obstacle(at.sheet, at.row, at.column, value, reason, remedy, code)


def _compare(step: Step, entries: list[tuple[Any, ...]], order: tuple[Any, ...], cells: dict[str, str]) -> None:
    """The design that holds before and after, field by field."""
    before, after = fold(entries), fold([*entries, (order, "this schedule", step.fields)])
    for group in ("ports", "fans", "equipment"):
        for name, values in after.get(group, {}).items():
            held = before.get(group, {}).get(name, {})
            for key, value in values.items():
                if key != "sources" and (key not in held or held[key] != value):
                    label = f"{name} fan {key}" if group == "fans" else f"{name} {key}"
                    step.changes.append(Change(label, _words(held.get(key)), _words(value), cells.get(label, "")))
    position = step.position
    if position is not None and step.scope is not None and step.scope != position.scope:
        step.changes.append(Change("scope", position.scope, step.scope))
    if position is not None:
        step.action = "changed" if step.changes else "same"


def _words(value: Any) -> str:
    if value is None:
        return "not given"
    if isinstance(value, dict) and "unit" in value:
        return f"{value['value']:g} {value['unit']}"
    if isinstance(value, list):
        return "; ".join(str(one).replace("_", " ") for one in value) or "none"
    return str(value)
