"""The outdoor airflow as a fraction of the supply airflow: f by temperature, enthalpy or CO2, times the supply.

The fraction is by mass, so it is the standard airflow of the supply that it is taken of. What one instrument reads in
all three streams shares its error, with the signs of the equation: an offset of it cancels.
"""

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from commissioning.dossier.air import Density, density_of
from commissioning.dossier.given import Instrument
from commissioning.dossier.instrument_error import of_instrument, of_repeats, papers_fit
from commissioning.dossier.quantities import Series, si, si_values
from commissioning.engineering import outdoor_fraction
from commissioning.engineering.airflow import standard_airflow_m3_s
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.mixed_air import FEWEST_MIXED_READINGS
from commissioning.engineering.moist_air import moist_air, pressure_at_elevation_pa
from commissioning.engineering.uncertainty import Component
from commissioning.kinds.airflow import uncertainty_terms as terms
from commissioning.kinds.airflow.indirect import OutdoorFraction, StreamReading
from commissioning.kinds.airflow.methods import Reading, Setting, listed

_UNITS = {"temperature": ("K", 1.0), "enthalpy": ("kJ/kg", 1e-3), "co2": ("ppm", 1e6)}
_EQUATIONS = {
    "temperature": "f = (t_M - t_R) / (t_O - t_R)",
    "enthalpy": "f = (h_M - h_R) / (h_O - h_R)",
    "co2": "f = (C_R - C_S) / (C_R - C_O)",
}
_QUANTITY = {"temperature": "temperature", "relative_humidity": "ratio", "co2": "mole fraction"}
_STEP = {"temperature": 1e-3, "relative_humidity": 1e-5, "co2": 1e-9}
_LEAST = {"temperature": 0.1, "enthalpy": 100.0, "co2": 1e-6}  # of the difference; below it there is no fraction


@dataclass(frozen=True, slots=True)
class _Stream:
    """One stream: what was read, its mean x on which the fraction rests, and the slope of x by each reading."""

    name: str
    read: Mapping[str, Series]
    value: float
    slopes: Mapping[str, float]


def of_outdoor_fraction(method: OutdoorFraction, setting: Setting) -> Reading:
    """q = f q_s: f by mass of the standard airflow of the supply."""
    streams = {name: _stream(name, one, method.by, setting) for name, one in method.streams.items()}
    mixed, returned, outdoor = (streams[name].value for name in ("mixed", "return", "outdoor"))
    difference = outdoor - returned
    if abs(difference) < _LEAST[method.by]:
        what = f"{method.by} difference of outdoor and return air"
        raise OutOfRange(what, abs(difference), _LEAST[method.by], math.inf, "")
    fraction = (mixed - returned) / difference
    by_stream = {"mixed": 1.0 / difference, "return": (fraction - 1.0) / difference, "outdoor": -fraction / difference}
    of_fraction = [
        part
        for name, stream in streams.items()
        for part in _parts(stream, method.streams[name], by_stream[name], setting)
    ]
    spread = math.sqrt(_variance(of_fraction))
    supply, supply_parts, supply_inputs = _supply(method, setting)
    parts = [
        *(replace(one, sensitivity=one.sensitivity * supply) for one in of_fraction),
        *(replace(one, sensitivity=one.sensitivity * fraction) for one in supply_parts),
    ]
    unit, scale = _UNITS[method.by]
    return Reading(
        flow_m3_s=max(fraction, 0.0) * supply,
        basis="standard",
        density_power=0.0,
        components=tuple(parts),
        equation=f"q = f q_s, {_EQUATIONS[method.by]}, by mass",
        inputs=(
            *(
                (f"{name} air, {what.replace('_', ' ')}", listed(series))
                for name, stream in streams.items()
                for what, series in stream.read.items()
            ),
            ("outdoor less return air", f"{difference * scale:.4g} {unit}"),
            ("fraction f", f"{fraction:.4f}, u(f) = {spread:.4f}"),
            *supply_inputs,
        ),
        remarks=tuple(_remarks(method, setting)),
        readings=len(next(iter(streams["mixed"].read.values())).values),
        doubts=tuple(_doubts(method, fraction, spread)),
        facts={"outdoor_fraction": fraction, "fraction_standard_uncertainty": spread},
    )


def _stream(name: str, given: StreamReading, by: str, setting: Setting) -> _Stream:
    read = {what: series for what in _QUANTITY if (series := getattr(given, what)) is not None}
    means = {what: float(np.mean(si_values(series))) for what, series in read.items()}
    x = _enthalpy_of(setting) if by == "enthalpy" else lambda one: next(iter(one.values()))
    slopes = {
        what: (x({**means, what: mean + _STEP[what]}) - x({**means, what: mean - _STEP[what]})) / (2.0 * _STEP[what])
        for what, mean in means.items()
    }
    return _Stream(name, read, x(means), slopes)


def _enthalpy_of(setting: Setting) -> Callable[[Mapping[str, float]], float]:
    """Per mass of dry air, at the pressure of the record or of the site's elevation."""
    air = setting.air
    if air is not None and air.pressure is not None:
        pressure = si(air.pressure, inch_of_water_pa=setting.inch_of_water_pa)
    else:
        pressure = float(pressure_at_elevation_pa(elevation_m=setting.elevation_m))

    def enthalpy(read: Mapping[str, float]) -> float:
        share = min(max(read["relative_humidity"], 0.0), 1.0)
        state = moist_air(dry_bulb_c=read["temperature"], relative_humidity=share, pressure_pa=pressure)
        return float(state.enthalpy_j_kg)

    return enthalpy


def _parts(stream: _Stream, given: StreamReading, slope: float, setting: Setting) -> Iterator[Component]:
    """Components of the fraction by one stream. Each keeps its sign, for instruments that are carried about."""
    for what, series in stream.read.items():
        tool = _tool(given, what, setting)
        values = si_values(series)
        each = slope * stream.slopes[what]
        label = f"{stream.name} air, {what.replace('_', ' ')}"
        for part in of_instrument(
            tool,
            values,
            [abs(each) / len(values)] * len(values),
            _QUANTITY[what],
            inch_of_water_pa=setting.inch_of_water_pa,
            name=label,
        ):
            yield replace(part, sensitivity=math.copysign(1.0, each))
        if len(values) > 1:
            scatter = float(np.std(values, ddof=1)) / math.sqrt(len(values))
            yield Component(
                f"spread, {label}",
                scatter,
                abs(each),
                float(len(values) - 1),
                "A",
                f"{len(values)} readings over the plane",
            )


def _tool(given: StreamReading, what: str, setting: Setting) -> Instrument | None:
    named = given.instrument or setting.port_instrument
    if what == "relative_humidity" and given.humidity_instrument is not None:
        named = given.humidity_instrument
    return setting.tools.get(str(named))


def _variance(parts: list[Component]) -> float:
    alone = math.fsum(one.contribution**2 for one in parts if one.group is None)
    groups = {one.group for one in parts if one.group is not None}
    return alone + math.fsum(math.fsum(one.contribution for one in parts if one.group == name) ** 2 for name in groups)


def _supply(method: OutdoorFraction, setting: Setting) -> tuple[float, list[Component], tuple[tuple[str, str], ...]]:
    """The standard airflow of the supply, its components, and what went in."""
    given = method.supply
    values = si_values(given.readings)
    read = float(np.mean(values))
    density = density_of(given.air or setting.common_air, setting.elevation_m, setting.inch_of_water_pa)
    scale = _to_standard(given.basis, density, setting)
    tool = setting.tools.get(str(given.instrument)) if given.instrument else None
    if given.expanded_uncertainty is not None:
        size = si(given.expanded_uncertainty) / 2.0
        parts = [Component("supply airflow", size, scale, source="expanded uncertainty as given, k = 2")]
    else:
        slopes = [scale / len(values)] * len(values)
        parts = [
            *of_instrument(tool, values, slopes, "airflow", name="instrument, supply airflow"),
            of_repeats(values, scale, name="repeatability of the supply airflow"),
            Component("method of the supply airflow", terms.METHOD["direct"] * read, scale, source=terms.METHOD_SOURCE),
        ]
    if given.basis == "actual":
        size = density.relative_standard_uncertainty * read
        parts.append(Component("density of the supply air", size, scale, source=density.source))
    inputs = (
        ("supply airflow q_s", f"{listed(given.readings)}, {given.basis} air"),
        ("standard supply airflow", f"{read * scale:.6g} m³/s"),
    )
    return read * scale, parts, inputs


def _to_standard(basis: str, density: Density, setting: Setting) -> float:
    if basis == "standard":
        return 1.0
    return float(
        standard_airflow_m3_s(
            actual_airflow_m3_s=1.0,
            density_kg_m3=density.density_kg_m3,
            standard_density_kg_m3=setting.standard_density_kg_m3,
        )
    )


def _doubts(method: OutdoorFraction, fraction: float, spread: float) -> Iterator[str]:
    if not 0.0 < fraction <= 1.0:
        yield f"a fraction of {fraction:.2f} cannot be: one of the three readings is wrong, or the fan's heat is in it"
        return
    if not outdoor_fraction.judge_outdoor_fraction(fraction=fraction, standard_uncertainty=spread).usable:
        yield (
            f"the fraction is known to ±{200.0 * spread / fraction:.0f} % of itself only, where "
            f"{100.0 * outdoor_fraction.LARGEST_RELATIVE_UNCERTAINTY:.0f} % is the most: wait for a greater difference "
            "between outdoor and return air, or measure the outdoor air itself"
        )
    if method.by != "co2" and _mixed_points(method) < 2:
        yield "one reading in a mixing box tells nothing of its layers: read a grid of nine points or more"


def _mixed_points(method: OutdoorFraction) -> int:
    return len(method.mixed.temperature.values) if method.mixed.temperature is not None else 0


def _remarks(method: OutdoorFraction, setting: Setting) -> Iterator[str]:
    if method.by == "co2":
        yield "The CO2 fraction takes people who stay as they are, and 200 to 300 ppm between return and outdoor air."
    elif _mixed_points(method) < FEWEST_MIXED_READINGS:
        yield f"Mixed air lies in layers: {FEWEST_MIXED_READINGS} points or more over the plane are usual."
    told: list[Any] = [
        papers_fit(_tool(stream, what, setting), _QUANTITY[what])
        for stream in method.streams.values()
        for what in _QUANTITY
        if getattr(stream, what) is not None
    ]
    yield from dict.fromkeys(remark for remarks in told for remark in remarks)
    if any(_tool(stream, "temperature", setting) is None for stream in method.streams.values()):
        yield "An instrument of the streams is not in the firm's list: its own error is not in the uncertainty."


METHODS: dict[type, Callable[[Any, Setting], Reading]] = {OutdoorFraction: of_outdoor_fraction}
