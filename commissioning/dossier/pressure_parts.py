"""What judging pressures needs beside the figures: the design's pressures by name, the record that has them, the words.

A static-pressure profile, the setpoints and the spaces of one unit may come in several records: each requirement takes
the newest final that has what it asks for.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from commissioning.dossier import parts, printing
from commissioning.dossier.figures import Figure, Figures
from commissioning.dossier.given import Place, Tolerance
from commissioning.dossier.quantities import si
from commissioning.dossier.results import Absence
from commissioning.dossier.view import View
from commissioning.engineering import units

KIND = "pressure"
DESIGN_NAMES = {
    "external_static": "external",
    "filter_drop": "filter_drop",
    "core_drop": "core_drop",
    "coil_drop": "coil_drop",
    "controlled_static": "controlled_static",
}
PORTS_OF_STREAM = {"supply": ("supply", "outdoor"), "exhaust": ("exhaust", "return")}
WORDS = {
    "external_static": "external static pressure",
    "filter_drop": "filter drop",
    "core_drop": "core drop",
    "coil_drop": "coil drop",
    "fan_static_rise": "static rise of the fan",
    "fan_total_rise": "total rise of the fan",
    "controlled_static": "duct static pressure",
    "space_pressure": "pressure",
    "static_pressure": "static pressure",
}


@dataclass(frozen=True, slots=True)
class PressureDesign:
    """A pressure of the design. What no revision gives is None."""

    pressure_pa: float | None
    tolerance: Tolerance | None
    final_pa: float | None  # at which a filter is changed
    airflow_m3_s: float | None  # for which the pressure holds, where it is not the stream's design airflow
    exponent: float | None
    source: str

    @property
    def is_criterion(self) -> bool:
        return (self.tolerance is not None and self.pressure_pa is not None) or self.final_pa is not None


NOTHING = PressureDesign(None, None, None, None, None, "")


def design_of(place: Place, name: str, stream: str, *, inch_of_water_pa: float) -> PressureDesign:
    """The design of a figure of a stream: by name and stream, else by name, else the port's static pressure."""
    held = place.parts("pressures")
    key = DESIGN_NAMES.get(name, name)
    given = held.get(f"{key}_{stream}") or held.get(key)
    if given is None and name == "external_static":
        port = place.parts("ports").get(stream) or {}
        if not port.get("static_pressure"):
            return NOTHING
        source = (port.get("sources") or {}).get("static_pressure", "")
        return replace(
            NOTHING, pressure_pa=si(port["static_pressure"], inch_of_water_pa=inch_of_water_pa), source=source
        )
    if given is None:
        return NOTHING

    def pa(field: str) -> float | None:
        return si(given[field], inch_of_water_pa=inch_of_water_pa) if given.get(field) else None

    return PressureDesign(
        pressure_pa=pa("pressure"),
        tolerance=Tolerance.from_json(given["tolerance"]) if given.get("tolerance") else None,
        final_pa=pa("final"),
        airflow_m3_s=si(given["airflow"]) if given.get("airflow") else None,
        exponent=given.get("exponent"),
        source=(given.get("sources") or {}).get("pressure", ""),
    )


def has_stream(place: Place, stream: str) -> bool:
    """Whether the unit has this stream, by the ports of its design; a pressure may be designed for both at once."""
    return not place.ports or any(port in place.ports for port in PORTS_OF_STREAM[stream])


def holds(view: View, wanted: Callable[[Figure], bool]) -> bool:
    """Whether any record of pressures has a figure of this sort."""
    return any(wanted(figure) for one in view.records if one.kind == KIND for figure in one.figures)


def newest(view: View, wanted: Callable[[Figure], bool], *, mode: str | None = None) -> Figures | Absence:
    """The final that stands among the records with such a figure, in one mode of operation if one is asked for."""
    having = [one for one in view.records if one.kind == KIND and any(wanted(figure) for figure in one.figures)]
    in_mode = [one for one in having if mode is None or one.mode == mode]
    if having and not in_mode:
        seen = ", ".join(sorted({one.mode.replace("_", " ") for one in having}))
        asked = (mode or "").replace("_", " ")
        return (
            view.not_counted()
            if not view.place.is_counted
            else Absence("not_judged", f"Taken in mode {seen}; this asks for {asked}.")
        )
    return replace(view, records=in_mode).record(KIND)


def open_parts(rows: Sequence[Mapping[str, Any]], missing: Sequence[str], not_given: str) -> Absence | None:
    """Why there is no verdict on these pressures, unless one of them fails: what is still to be read comes first."""
    if missing:
        return Absence("not_due", f"Not read yet: {', '.join(missing)}.")
    unjudged = [f"{row['name']}: {row['why']}" for row in parts.blocked(rows, ("not_judged",))]
    if unjudged:
        return Absence("not_judged", "; ".join(unjudged) + ".")
    return None if any(row["verdict"] for row in rows) else Absence("not_given", not_given)


def unit(display: str) -> str:
    return units.unit("in_wc" if display == "ip" else "Pa").label


def number(pressure_pa: float, display: str) -> str:
    """To a hundredth of an inch of water or to a pascal; small ones to a thousandth or a tenth.

    >>> number(124.5, "ip"), number(124.5, "si"), number(-7.47, "ip"), number(4.96, "si"), number(0.0, "si")
    ('0.50', '124', '−0.030', '5.0', '0.0')
    """
    small = abs(pressure_pa) < 24.9
    value = float(units.from_si(pressure_pa, "in_wc")) if display == "ip" else pressure_pa
    digits = (3 if small else 2) if display == "ip" else (1 if small else 0)
    text = f"{value:,.{digits}f}"
    return text.lstrip("-") if float(text.replace(",", "")) == 0.0 else text.replace("-", printing.MINUS)


def spread(pressure_pa: float, display: str) -> str:
    """An uncertainty, to two digits.

    >>> spread(1.04, "si"), spread(24.9089, "ip")
    ('1.0', '0.10')
    """
    return printing.two_digits(float(units.from_si(pressure_pa, "in_wc")) if display == "ip" else pressure_pa)


def printed(value_pa: float, expanded_pa: float | None, display: str) -> str:
    """
    >>> printed(124.5, 4.0, "si"), printed(124.5, None, "ip")
    ('124 ± 4.0 Pa', '0.50 in. w.c.')
    """
    wide = "" if expanded_pa is None else f" ± {spread(expanded_pa, display)}"
    return f"{number(value_pa, display)}{wide} {unit(display)}"


def of_json(figure: dict[str, Any], display: str) -> str:
    return printed(figure["value"], figure["expanded_uncertainty"], display)
