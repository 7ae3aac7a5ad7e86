"""What the airflow form adds to a record: readings by port, each by its method, fan speeds, CO2.

A port's method is chosen, or follows from where its readings were typed: three boxes and a list for an airflow, a list
of points for a traverse, a list of signals for a station. Lists are numbers with spaces or line ends between them.
"""

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from commissioning.pages.field_sheet import NotReadable, Sheet

PORTS = ("supply", "return", "outdoor", "exhaust")
FANS = ("supply", "exhaust")
READINGS = 3
METHODS = {"direct": "read directly", "hood": "capture hood", "traverse": "traverse", "station": "flow station"}
BACK_PRESSURES = {"compensated": "compensated", "not_compensated": "not compensated", "not_known": "not known"}
READS = {"velocity_pressure": "velocity pressures", "velocity": "velocities"}
LAYOUTS = {
    "log_tchebycheff": "log-Tchebycheff",
    "log_linear": "log-linear",
    "equal_area": "centres of equal areas",
    "other": "another",
}
STATION_UNITS = ("cfm/in_wc^0.5", "m3/h/Pa^0.5", "L/s/Pa^0.5", "m3/s/Pa^0.5")
DENSITIES = {"ip": "lb/ft3", "si": "kg/m3"}
_BETWEEN = re.compile(r"[\s;]+")


def readings(sheet: Sheet) -> dict[str, Any]:
    ports = [port for name in PORTS if (port := _port(sheet, name)) is not None]
    if not ports:
        raise NotReadable("supply-1", "", "No port has a reading.", "Fill in at least one.")
    fans = [fan for name in FANS if (fan := _fan(sheet, name)) is not None]
    seen = _carbon_dioxide(sheet)
    return {"ports": ports, "fans": fans} | ({"co2": seen} if seen else {})


def listed(sheet: Sheet, name: str) -> list[float]:
    """The numbers of a list. A decimal comma is one; what stands between numbers is a space or the end of a line.

    >>> listed(Sheet("", "", "", "", "ip", {"a": "0,21 0.24\\n0.25"}), "a")
    [0.21, 0.24, 0.25]
    """
    found: list[float] = []
    for part in filter(None, _BETWEEN.split(sheet.text(name))):
        try:
            found += replace(sheet, typed={name: part}).numbers(name)
        except NotReadable as fault:
            raise NotReadable(name, part, f"“{part}” is no number.", fault.remedy) from None
    return found


def _port(sheet: Sheet, port: str) -> dict[str, Any] | None:
    typed = {
        "airflow": [*sheet.numbers(*(f"{port}-{n}" for n in range(1, READINGS + 1))), *listed(sheet, f"more-{port}")],
        "traverse": listed(sheet, f"points-{port}"),
        "station": listed(sheet, f"signals-{port}"),
    }
    filled = [name for name, values in typed.items() if values]
    if not filled:
        return None
    method = _method(sheet, port, filled)
    values = typed[method if method in typed else "airflow"]
    made = _MADE[method](sheet, port, values)
    named = f"instrument-{port}"
    return {"port": port, "instrument": sheet.text(named) or sheet.instrument(), "method": {"method": method, **made}}


def _method(sheet: Sheet, port: str, filled: list[str]) -> str:
    if len(filled) > 1:
        raise NotReadable(
            f"how-{port}",
            ", ".join(filled),
            f"The {port} air has readings by two methods.",
            "Send one of them, then a second record of the same session with the other: they are compared.",
        )
    chosen = sheet.text(f"how-{port}") or (filled[0] if filled[0] != "airflow" else sheet.text("method") or "direct")
    if (chosen if chosen in ("traverse", "station") else "airflow") != filled[0]:
        raise NotReadable(
            f"how-{port}",
            chosen,
            f"The {port} air is by {METHODS.get(chosen, chosen)}, and its readings stand elsewhere.",
            "Type them under that method, or choose the method that was used.",
        )
    return chosen


def _airflow(sheet: Sheet, port: str, values: list[float]) -> dict[str, Any]:
    basis = sheet.text("basis") or "actual"
    return {"basis": basis, "readings": {"values": values, "unit": sheet.unit("airflow")}}


def _hood(sheet: Sheet, port: str, values: list[float]) -> dict[str, Any]:
    made = _airflow(sheet, port, values)
    made["factor"] = sheet.number("factor") or 1.0
    made["back_pressure"] = sheet.text("back_pressure") or "not_known"
    derived_at = sheet.quantity("factor_airflow", sheet.unit("airflow"))
    return made | ({"factor_airflow": derived_at} if derived_at else {})


def _traverse(sheet: Sheet, port: str, values: list[float]) -> dict[str, Any]:
    reads = sheet.text(f"reads-{port}") or "velocity_pressure"
    plane = _plane(sheet, port)
    usual = "log_linear" if plane["shape"] == "round" else "log_tchebycheff"
    unit = sheet.unit("pressure" if reads == "velocity_pressure" else "velocity")
    made: dict[str, Any] = {
        "reads": reads,
        "plane": plane,
        "layout": sheet.text(f"layout-{port}") or usual,
        "readings": {"values": values, "unit": unit},
        "straight_upstream_diameters": sheet.number(f"upstream-{port}"),
        "straight_downstream_diameters": sheet.number(f"downstream-{port}"),
    }
    coefficient = sheet.number(f"probe-{port}")
    return made if coefficient is None else {**made, "probe_coefficient": coefficient}


def _plane(sheet: Sheet, port: str) -> dict[str, Any]:
    width, height, diameter = (
        sheet.quantity(f"{side}-{port}", sheet.unit("length")) for side in ("width", "height", "diameter")
    )
    if diameter is not None and width is None and height is None:
        return {"shape": "round", "diameter": diameter}
    if diameter is None and width is not None and height is not None:
        return {"shape": "rectangular", "width": width, "height": height}
    raise NotReadable(
        f"width-{port}",
        "",
        f"The size of the duct of the {port} air is not clear.",
        "Give width and height of a rectangular duct, or the diameter of a round one, inside.",
    )


def _station(sheet: Sheet, port: str, values: list[float]) -> dict[str, Any]:
    unit = sheet.text(f"k-unit-{port}") or STATION_UNITS[0]
    return {
        "factor": _needed(sheet, f"k-{port}", unit, "The station's factor K is missing.", "Read it on its plate."),
        "other_factors": [{"value": value, "unit": unit} for value in listed(sheet, f"other-k-{port}")],
        "reference_density": _needed(
            sheet,
            f"reference-{port}",
            DENSITIES[sheet.display],
            "The density for which K holds is missing.",
            "It stands with K, usually 0.075 lb/ft³ or 1.2 kg/m³.",
        ),
        "readings": {"values": values, "unit": sheet.unit("pressure")},
    }


def _needed(sheet: Sheet, name: str, unit: str, reason: str, remedy: str) -> dict[str, Any]:
    found = sheet.quantity(name, unit)
    if found is None:
        raise NotReadable(name, "", reason, remedy)
    return found


_MADE: dict[str, Callable[[Sheet, str, list[float]], dict[str, Any]]] = {
    "direct": _airflow,
    "hood": _hood,
    "traverse": _traverse,
    "station": _station,
}


def _fan(sheet: Sheet, fan: str) -> dict[str, Any] | None:
    speed = sheet.quantity(f"speed-{fan}", "rpm")
    if speed is None:
        return None
    control = sheet.text(f"control-{fan}") or "not_seen"
    return {"fan": fan, "control": control, "speed": speed}


def _carbon_dioxide(sheet: Sheet) -> dict[str, Any] | None:
    values = listed(sheet, "co2")
    if not values:
        return None
    made: dict[str, Any] = {
        "readings": {"values": values, "unit": "ppm"},
        "instrument": sheet.instrument("co2-instrument"),
    }
    shown = sheet.quantity("co2-controller", "ppm")
    return made | ({"controller": shown} if shown else {})
