"""The words and numbers of an exchanger's test as the trade prints them, for its record and for what is judged."""

from collections.abc import Mapping
from typing import Any

from commissioning.dossier import printing
from commissioning.dossier.figures import Figure
from commissioning.engineering import units

CAUTION = (
    "A wheel and its belt turn behind the panels, and fans start by themselves. Lock out as the site and local codes "
    "ask before a panel is opened; count the wheel's turns through a window or from outside. Use the site's permit for "
    "work on a roof, and a tracer gas only as its safety sheet and the building's operator allow."
)
WORDS = {
    "sensible_effectiveness": "sensible effectiveness",
    "latent_effectiveness": "latent effectiveness",
    "total_effectiveness": "total effectiveness",
    "net_effectiveness": "effectiveness net of return air carried over",
    "net_sensible_effectiveness": "sensible effectiveness net of return air carried over",
    "net_latent_effectiveness": "latent effectiveness net of return air carried over",
    "net_total_effectiveness": "total effectiveness net of return air carried over",
    "recovery_efficiency_ratio": "recovery efficiency ratio (RER)",
    "temperature_ratio": "temperature ratio",
    "sensible_closure": "closure of sensible heat",
    "total_closure": "closure of enthalpy",
    "mass_flow": "dry-air mass flow",
    "standard_airflow": "standard airflow",
    "outdoor_air_correction_factor": "outdoor air correction factor (OACF)",
    "transfer_ratio": "exhaust air transfer ratio (EATR)",
    "transfer_ratio_by_room_co2": "transfer by the CO2 of the rooms",
    "seal_pressure": "supply side less exhaust side",
    "wheel_speed": "speed of the wheel",
}
FACES = {"supply": "the face of supply and return air", "outdoor": "the face of outdoor and exhaust air"}
_SEALS = {
    (
        "supply",
        True,
    ): "what passes the seals goes from supply to return air and is lost; no return air gets into the supply",
    ("supply", False): "return air passes the seals into the supply air",
    ("outdoor", True): "what passes the seals goes from outdoor to exhaust air and never reaches the rooms",
    ("outdoor", False): "exhaust air passes the seals into the outdoor air, and with it into the supply",
}


_RECOVERY = {"si": (1.0, "W/W"), "ip": (3600.0 / 1055.05585262, "Btu/(W·h)")}  # of one W/W


def number(figure: Mapping[str, Any], value: float, display: str) -> str:
    """A value of a figure, or its uncertainty, with its unit."""
    name = figure["name"]
    if name == "mass_flow":
        return f"{value:.3f} kg/s"
    if name == "standard_airflow":
        return f"{printing.airflow(value, display)} {printing.airflow_unit(display)}"
    if name == "outdoor_air_correction_factor":
        return f"{value:.3f}"
    if name == "recovery_efficiency_ratio":
        scale, unit = _RECOVERY[display]
        return printing.minus(f"{scale * value:.1f} {unit}")
    if name == "wheel_speed":
        return f"{value:.3g} rpm"
    if name == "seal_pressure":
        if display == "ip":
            return f"{float(units.from_si(value, 'in_wc')):+.3f} in. w.c.".replace("-", printing.MINUS)
        return f"{value:+.0f} Pa".replace("-", printing.MINUS)
    if name in ("transfer_ratio", "transfer_ratio_by_room_co2"):
        return f"{100.0 * value:.1f} %".replace("-", printing.MINUS)
    return printing.percent(value, signed=name.endswith("closure"))


def with_uncertainty(figure: Mapping[str, Any], display: str) -> str:
    """
    >>> with_uncertainty({"name": "sensible_effectiveness", "value": 0.7778, "expanded_uncertainty": 0.0516}, "si")
    '78 % ± 5.2 %'
    """
    wide, name = figure["expanded_uncertainty"], figure["name"]
    shown = number(figure, figure["value"], display)
    if wide is None:
        return shown
    if name == "standard_airflow":
        value, unit = shown.rsplit(" ", 1)
        return f"{value} ± {printing.airflow_uncertainty(wide, display)} {unit}"
    if name == "recovery_efficiency_ratio":
        value, unit = shown.split(" ", 1)
        return f"{value} ± {printing.two_digits(_RECOVERY[display][0] * wide)} {unit}"
    if name == "seal_pressure" and display == "ip":
        return f"{shown} ± {printing.two_digits(float(units.from_si(wide, 'in_wc')))}"
    if figure.get("unit", "1") != "1" or name == "outdoor_air_correction_factor":
        return f"{shown} ± {printing.two_digits(wide)}"
    return f"{shown} ± {printing.percent_uncertainty(wide)}"


def seal_meaning(face: str, value_pa: float, expanded_pa: float) -> str:
    """
    >>> seal_meaning("supply", -12.0, 3.0)
    'return air passes the seals into the supply air'
    """
    if abs(value_pa) <= expanded_pa:
        return "it does not differ from nothing by more than its uncertainty: which way the seals leak is not known"
    return _SEALS[face, value_pa > 0.0]


def temperature(value_c: float, display: str) -> str:
    return printing.minus(f"{float(units.from_si(value_c, 'degF')) if display == 'ip' else value_c:.1f}")


def temperature_difference(value_k: float, display: str) -> str:
    return printing.minus(f"{1.8 * value_k if display == 'ip' else value_k:.1f}")


def humidity(ratio: float | None, display: str) -> str:
    if ratio is None:
        return "not read"
    return f"{7000.0 * ratio:.1f}" if display == "ip" else f"{1000.0 * ratio:.2f}"


def of_figure(figure: Figure) -> str:
    """Of a ratio, which prints alike in all units."""
    told = {"name": figure.name, "value": figure.value, "unit": figure.unit}
    return with_uncertainty({**told, "expanded_uncertainty": figure.expanded_uncertainty}, "si")
