"""The airflow form: a usual unit recorded on a phone, in the order of the work."""

from collections.abc import Mapping
from typing import Any

from commissioning.dossier import printing
from commissioning.engineering import units
from commissioning.pages import field_form
from commissioning.pages.field_page import RecordPage, design_of, measured_before
from commissioning.pages.field_sheet import Sheet
from portfolio.models import Position


class FieldPage(RecordPage):
    kind = "airflow"
    template = "commissioning/field_airflow.html"

    def readings(self, sheet: Sheet) -> dict[str, Any]:
        return field_form.readings(sheet)

    def asked(self, unit: Position, display: str, typed: Mapping[str, str]) -> dict[str, Any]:
        design = design_of(unit)["ports"]
        fans = [(fan, typed.get(f"speed-{fan}", ""), typed.get(f"control-{fan}", "")) for fan in field_form.FANS]
        return {
            "ports": _ports(unit, design, display, typed),
            "fans": fans,
            "asks_co2": any(port.get("co2_reset") for port in design.values()) or bool(typed.get("co2")),
            "co2": {name: typed.get(f"co2-{name}", "") for name in ("instrument", "controller")},
            "methods": field_form.METHODS.items(),
            "back_pressures": field_form.BACK_PRESSURES.items(),
            "reads": field_form.READS.items(),
            "layouts": field_form.LAYOUTS.items(),
            "station_units": [(code, units.unit(code).label) for code in field_form.STATION_UNITS],
            "density_unit": units.unit(field_form.DENSITIES[display]).label,
        }


_TRAVERSE = ("points", "reads", "width", "height", "diameter", "layout", "upstream", "downstream", "probe")
_STATION = ("signals", "k", "k-unit", "reference", "other-k")
_ELSE = ("how", "instrument", "more")


def _ports(unit: Position, design: Mapping[str, Any], display: str, typed: Mapping[str, str]) -> list[dict[str, Any]]:
    """Each port with its design and the reading before, beside the boxes for the new ones."""
    before = {one["port"]: one["airflow_m3_s"] for one in measured_before(unit, "airflow")}
    shown = []
    for port in field_form.PORTS:
        airflow = design.get(port, {}).get("airflow")
        if design and port not in design and port not in before:
            continue
        designed = float(units.to_si(airflow["value"], airflow["unit"])) if airflow else None
        held = {name.replace("-", "_"): typed.get(f"{name}-{port}", "") for name in (*_TRAVERSE, *_STATION, *_ELSE)}
        shown.append(
            {
                "name": port,
                "design": printing.airflow(designed, display) if designed is not None else "not given",
                "before": printing.airflow(before[port], display) if port in before else "none",
                "boxes": [(f"{port}-{n}", typed.get(f"{port}-{n}", "")) for n in range(1, field_form.READINGS + 1)],
                "held": held,
                "is_traverse": held["how"] == "traverse" or _any_typed(typed, port, _TRAVERSE),
                "is_station": held["how"] == "station" or _any_typed(typed, port, ("signals", "k", "reference")),
                "is_other": bool(held["how"] or held["instrument"] or held["more"]),
            }
        )
    return shown


def _any_typed(typed: Mapping[str, str], port: str, names: tuple[str, ...]) -> bool:
    choices = ("reads", "layout", "k-unit")
    return any(typed.get(f"{name}-{port}") for name in names if name not in choices)
