"""The outlets form: one number for each outlet in the order of the duct, or a table pasted from a spreadsheet."""

import re
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse

from commissioning.dossier import printing
from commissioning.dossier.outlet_readings import AIRFLOW, KIND
from commissioning.engineering import units
from commissioning.pages import outlet_grid
from commissioning.pages.field_page import RecordPage, design_of, measured_before
from commissioning.pages.field_sheet import UNITS, NotReadable, Sheet
from commissioning.pages.outlet_grid import OutletGrid, OutletLine
from portfolio.access import may
from portfolio.dashboards.page import text_of
from portfolio.models import Position

BOXES = 400  # a form can send about a thousand fields; larger units are pasted
_PORTS = ("supply", "return", "outdoor", "exhaust")


@dataclass(frozen=True, slots=True)
class Box:
    """One outlet on the phone: where it is, what it should give, what it gave, and the box for what it gives."""

    name: str
    where: str
    design: str
    before: str
    typed: str
    why: str


class OutletsPage(RecordPage):
    kind = KIND
    template = "commissioning/field_outlets.html"

    def post(self, request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
        """`act` is what the pressed button says: look only, or send. Looking keeps nothing and loses nothing."""
        if request.POST.get("act") != "look":
            return super().post(request, pk)
        unit = self._unit(pk)
        typed = {name: text_of(request.POST, name, 100_000) for name in request.POST}
        made_id, when = self._identity(typed)
        return self._show(unit, made_id, when, typed)

    def readings(self, sheet: Sheet) -> dict[str, Any]:
        grid = _pasted(sheet.typed)
        if grid.errors:
            first = grid.errors[0]
            more = f" and {len(grid.errors) - 1} more" if len(grid.errors) > 1 else ""
            raise NotReadable(
                "paste", first.value, f"Row {first.row}, column {first.column}{more}: {first.reason}", first.remedy
            )
        rows = [*_typed_rows(sheet), *(_row(line) for line in grid.lines if line.is_read)]
        if not rows:
            raise NotReadable("outlets", "", "No outlet has a reading.", "Fill in at least one, or paste a table.")
        _once(rows)
        return {
            "unit": _unit_of(sheet, grid),
            "basis": sheet.text("basis") or "actual",
            "method": sheet.text("method") or "hood",
            "back_pressure": sheet.text("back_pressure") or "not_known",
            "instrument": sheet.instrument(),
            "factors": _factors(sheet),
            "outlets": rows,
        }

    def asked(self, unit: Position, display: str, typed: Mapping[str, str]) -> dict[str, Any]:
        design = design_of(unit).get("outlets", {})
        grid = _pasted(typed)
        names = sorted(design, key=lambda name: _order(name, design[name]))
        before = _before(unit)
        boxes = [_box(name, design[name], before.get(name), display, typed) for name in names[:BOXES]]
        devices = sorted({one["device"] for one in design.values() if one.get("device")})
        return {
            "may_design": bool(may(self.person, "import_design", unit)),
            "boxes": boxes,
            "more": len(names) - len(boxes),
            "factors": [(f"factor-{device}", device, typed.get(f"factor-{device}", "")) for device in devices],
            "grid": grid,
            "preview": [_previewed(line, design.get(line.name, {}), grid, display) for line in grid.lines],
            "not_read": sum(not line.is_read for line in grid.lines),
            "grid_unit": units.unit(grid.reading_unit or UNITS["airflow"][display]).label,
        }


def _pasted(typed: Mapping[str, str]) -> OutletGrid:
    text = typed.get("paste", "")
    return outlet_grid.read(text) if text.strip() else OutletGrid()


def _unit_of(sheet: Sheet, grid: OutletGrid) -> str:
    """One unit for the whole record: the table's, where its heading says one."""
    asked = sheet.unit("airflow")
    if grid.reading_unit and grid.reading_unit != asked and any(True for _ in _typed_rows(sheet)):
        raise NotReadable(
            "paste",
            grid.reading_unit,
            f"The table is in {grid.reading_unit} and the boxes are in {asked}.",
            "Send them as two records, or paste all.",
        )
    return grid.reading_unit or asked


def _typed_rows(sheet: Sheet) -> list[dict[str, Any]]:
    rows = []
    for field in sheet.typed:
        if field.startswith("reading-") and (value := sheet.number(field)) is not None:
            rows.append({"name": field.removeprefix("reading-"), "readings": [value]})
        elif field.startswith("why-") and sheet.text(field):
            rows.append(_not_read(field, sheet.text(field)))
    return rows


def _not_read(field: str, told: str) -> dict[str, Any]:
    state = outlet_grid.state_of(told)
    if not state:
        raise NotReadable(field, told, "It does not say what hinders.", "Begin with closed, blocked or no access.")
    return {"name": field.removeprefix("why-"), "state": state, "reason": told[:200]}


def _row(line: OutletLine) -> dict[str, Any]:
    row: dict[str, Any] = {"name": line.name}
    row |= {name: getattr(line, name) for name in ("port", "room", "branch", "device") if getattr(line, name)}
    if line.readings:
        row["readings"] = list(line.readings)
    else:
        row |= {"state": line.state, "reason": line.reason}
    if line.factor is not None:
        row["factor"] = line.factor
    if line.setting:
        row["setting"] = line.setting
    return row


def _once(rows: Sequence[Mapping[str, Any]]) -> None:
    seen: set[str] = set()
    for row in rows:
        if row["name"] in seen:
            raise NotReadable(
                f"reading-{row['name']}",
                row["name"],
                "This outlet was typed and pasted, or has a reading and a reason.",
                "Leave one of them out.",
            )
        seen.add(row["name"])


def _factors(sheet: Sheet) -> list[dict[str, Any]]:
    """By type of device; `factor` is for every type that has none."""
    found = []
    for field in sorted(sheet.typed):
        if field == "factor" or field.startswith("factor-"):
            value = sheet.number(field)
            if value is not None:
                found.append({"device": field.removeprefix("factor").removeprefix("-"), "factor": value})
    return found


def _order(name: str, design: Mapping[str, Any]) -> tuple[Any, ...]:
    """Port, branch, then the numbers on the drawing as people count: D2 before D10."""
    port = design.get("port") or ""
    return (
        _PORTS.index(port) if port in _PORTS else len(_PORTS),
        _counted(design.get("branch") or ""),
        _counted(name),
    )


def _counted(text: str) -> list[tuple[int, str]]:
    return [
        (int(part), "") if part.isdigit() else (-1, part.casefold()) for part in re.findall(r"[0-9]+|[^0-9]+", text)
    ]


def _before(unit: Position) -> dict[str, float]:
    """The latest airflow of each outlet, SI."""
    return {
        figure["at"]: figure["value"]
        for record in measured_before(unit, KIND)
        for figure in record["figures"]
        if figure["name"] == AIRFLOW
    }


def _box(name: str, design: Mapping[str, Any], before: float | None, display: str, typed: Mapping[str, str]) -> Box:
    where = [design.get(part) for part in ("room", "device")]
    return Box(
        name=name,
        where=", ".join(part for part in (design.get("port"), design.get("branch"), *where) if part),
        design=_flow(design.get("airflow"), display) or "not given",
        before="none" if before is None else printing.airflow(before, display),
        typed=typed.get(f"reading-{name}", ""),
        why=typed.get(f"why-{name}", ""),
    )


def _flow(given: Mapping[str, Any] | None, display: str) -> str:
    return "" if given is None else printing.airflow(float(units.to_si(given["value"], given["unit"])), display)


def _previewed(line: OutletLine, design: Mapping[str, Any], grid: OutletGrid, display: str) -> dict[str, Any]:
    """A row as understood, beside what was designed."""
    mean = sum(line.readings) / len(line.readings) if line.readings else None
    airflow = design.get("airflow")
    share = ""
    if mean is not None and airflow and airflow["value"]:
        unit = grid.reading_unit or UNITS["airflow"][display]
        read = float(units.to_si(mean * (line.factor or 1.0), unit))
        share = printing.percent(read / float(units.to_si(airflow["value"], airflow["unit"])))
    return {
        "line": line,
        "readings": ", ".join(f"{value:g}" for value in line.readings),
        "designed": _flow(airflow, display) or "not given",
        "share": share,
    }
