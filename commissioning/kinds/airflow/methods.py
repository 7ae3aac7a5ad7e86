"""Each method from its readings to a flow with the parts of its uncertainty.

A `Reading` is a flow as the method gives it (actual or standard) with the components that belong to the method. The
components are in the unit of the flow; those of one instrument share its group: one instrument at many points is one
error, not many.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias

import numpy as np

from commissioning.dossier import printing
from commissioning.dossier.field_record import Air
from commissioning.dossier.given import Instrument
from commissioning.dossier.instrument_error import of_instrument, of_repeats, papers_fit, stated
from commissioning.dossier.quantities import si, si_values
from commissioning.engineering import airflow, traverse, uncertainty
from commissioning.engineering.hoods import hood_doubts
from commissioning.engineering.traverse_quality import traverse_quality
from commissioning.engineering.uncertainty import Component
from commissioning.kinds.airflow import payload as p
from commissioning.kinds.airflow import uncertainty_terms as terms

Floats: TypeAlias = np.ndarray[Any, np.dtype[np.float64]]


@dataclass(frozen=True, slots=True)
class Reading:
    flow_m3_s: float
    basis: str  # of `flow_m3_s`: actual or standard
    density_power: float  # how the actual flow goes with density: -0.5 for a pressure signal, 0 for a velocity
    components: tuple[Component, ...]
    equation: str
    inputs: tuple[tuple[str, str], ...]
    remarks: tuple[str, ...] = ()
    readings: int = 1
    doubts: tuple[str, ...] = ()  # why it bears no verdict
    facts: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Setting:
    """What a method needs beside its readings."""

    instrument: Instrument | None
    density_kg_m3: float
    inch_of_water_pa: float
    standard_density_kg_m3: float = 1.2
    elevation_m: float = 0.0
    air: Air | None = None  # at the plane
    common_air: Air | None = None  # of the record
    port_instrument: str | None = None  # its id, known or not
    tools: Mapping[str, Instrument] = field(default_factory=dict)


def _instrument(
    setting: Setting, values: Sequence[float], slopes: Sequence[float] | Floats, quantity: str
) -> list[Component]:
    return of_instrument(setting.instrument, values, slopes, quantity, inch_of_water_pa=setting.inch_of_water_pa)


def _method(name: str, flow: float) -> Component:
    source = terms.SOURCES.get(name, terms.METHOD_SOURCE)
    return Component("method", terms.METHOD[name] * flow, source=f"{name}: {source}")


def listed(series: Any) -> str:
    return printing.minus(", ".join(f"{value:g}" for value in series.values)) + f" {series.unit}"


def of_traverse(method: p.Traverse, setting: Setting) -> Reading:
    """q = A · mean(v), v = C √(2 Δp/ρ): velocities averaged, negative readings zero but in the divisor."""
    values = si_values(method.readings, inch_of_water_pa=setting.inch_of_water_pa)
    area = _area(method.plane)
    is_pressure = method.reads == "velocity_pressure"
    quantity = "pressure" if is_pressure else "velocity"
    read = np.asarray(values, dtype=np.float64)
    if is_pressure:
        speeds = np.atleast_1d(
            traverse.velocity_m_s(
                velocity_pressure_pa=read,
                density_kg_m3=setting.density_kg_m3,
                probe_coefficient=method.probe_coefficient,
            )
        )
        slopes = np.where(read > 0, speeds / (2 * np.maximum(read, 1e-9)), 0.0) * area / len(values)
    else:
        speeds = np.maximum(read, 0.0) * method.probe_coefficient
        slopes = np.where(read > 0, 1.0, 0.0) * method.probe_coefficient * area / len(values)
    speed = float(np.mean(speeds))
    flow = float(airflow.airflow_from_velocity_m3_s(average_velocity_m_s=speed, area_m2=area))
    tool = setting.instrument
    step = (
        stated(tool.resolution, quantity, inch_of_water_pa=setting.inch_of_water_pa)
        if is_pressure and tool is not None
        else 0.0
    )
    quality = traverse_quality(
        velocity_pressures_pa=read if is_pressure else None,
        velocities_m_s=None if is_pressure else read,
        resolution_pa=step or None,
        straight_upstream_diameters=method.straight_upstream_diameters,
        straight_downstream_diameters=method.straight_downstream_diameters,
    )
    parts = [
        *_instrument(setting, values, slopes, quantity),
        Component(
            "method",
            quality.relative_standard_uncertainty * flow,
            source=f"traverse plane of {len(values)} points: {terms.METHOD_SOURCE}",
        ),
        Component("duct area", terms.duct_area(*_sides(method.plane)) * flow, source=_AREA_SOURCE),
        *_grid(method, len(values), flow),
    ]
    formula = "q = A · mean(C √(2 Δp/ρ))" if is_pressure else "q = A · mean(C v)"
    return Reading(
        flow_m3_s=flow,
        basis="actual",
        density_power=-0.5 if is_pressure else 0.0,
        components=tuple(parts),
        equation=f"{formula}; velocities are averaged, never pressures (ISO 3966)",
        inputs=(
            ("readings", listed(method.readings)),
            ("plane", _plane(method.plane)),
            ("free area", f"{area:.6g} m²"),
            ("probe coefficient", f"{method.probe_coefficient:g}"),
            ("mean velocity", f"{speed:.6g} m/s"),
            ("layout", method.layout.replace("_", "-")),
        ),
        remarks=(
            *(remark.sentence[0].upper() + remark.sentence[1:] + "." for remark in quality.remarks),
            *papers_fit(setting.instrument, quantity),
            *((_OTHER_GRID,) if method.layout == "other" else ()),
        ),
        readings=len(values),
    )


_AREA_SOURCE = "1 %, or a tape read to a quarter of an inch: common practice, no source"
_OTHER_GRID = "The points follow none of the named grids: they are taken for the centres of equal cells."
_HOOD_OF_1 = (
    "The hood's factor is 1: the uncertainty holds for a hood that makes up for its own back pressure; "
    "a plain one reads low, by up to a tenth."
)
_COMPENSATED = {"compensated": True, "not_compensated": False, "not_known": None}


def _grid(method: p.Traverse, points: int, flow: float) -> list[Component]:
    """Centres of equal cells miss the slow air at the walls. How slow it is nobody knows, so nothing is taken off."""
    if method.layout not in ("equal_area", "other"):
        return []
    error = terms.grid_error(points, is_round=isinstance(method.plane, p.Round))
    source = f"{points} centres of equal cells on a 1/7 power law: +{error:.1%}, rectangular; docs/coverage.md"
    return [Component("grid", float(uncertainty.rectangular(abs(error))) * flow, source=source)]


def _sides(plane: p.Rectangular | p.Round) -> tuple[float, ...]:
    return (si(plane.diameter),) if isinstance(plane, p.Round) else (si(plane.width), si(plane.height))


def _area(plane: p.Rectangular | p.Round) -> float:
    if isinstance(plane, p.Round):
        return float(airflow.duct_area_m2(diameter_m=si(plane.diameter)))
    return float(airflow.duct_area_m2(width_m=si(plane.width), height_m=si(plane.height)))


def _plane(plane: p.Rectangular | p.Round) -> str:
    if isinstance(plane, p.Round):
        return f"round, {plane.diameter.value:g} {plane.diameter.unit}"
    return f"{plane.width.value:g} {plane.width.unit} × {plane.height.value:g} {plane.height.unit}"


def of_hood(method: p.Hood, setting: Setting) -> Reading:
    values = si_values(method.readings)
    flow = float(airflow.hood_airflow_m3_s(readings_m3_s=np.asarray([np.mean(values)]), factor=method.factor))
    slopes = [method.factor / len(values)] * len(values)
    parts = [
        *_instrument(setting, values, slopes, "airflow"),
        of_repeats(values, method.factor),
        _method("hood", flow),
    ]
    if method.back_pressure == "not_compensated" and method.factor_airflow is None:
        parts.append(Component("hood back pressure", terms.BACK_PRESSURE * flow, source=terms.METHOD_SOURCE))
    inputs = (
        ("readings", listed(method.readings)),
        ("hood factor", f"{method.factor:g}"),
        ("hood back pressure", method.back_pressure.replace("_", " ")),
    )
    remarks = (*papers_fit(setting.instrument, "airflow"), *_hood_remarks(method, float(np.mean(values))))
    equation = "q = F · mean(readings)"
    return Reading(flow, method.basis, 0.0, tuple(parts), equation, inputs, remarks, len(values))


def _hood_remarks(method: p.Hood, reading_m3_s: float) -> tuple[str, ...]:
    compensated = _COMPENSATED[method.back_pressure]
    doubts = hood_doubts(
        factor=method.factor,
        back_pressure_compensated=compensated,
        airflow_m3_s=reading_m3_s,
        factor_airflow_m3_s=si(method.factor_airflow) if method.factor_airflow else None,
        near_branch=method.near_branch,
    )
    told = [doubt.sentence for doubt in doubts if doubt.code != "back_pressure_not_recorded"]
    of_1 = (_HOOD_OF_1,) if method.factor == 1.0 and compensated is None else ()
    return (*of_1, *(f"{sentence[:1].upper()}{sentence[1:]}." for sentence in told))


def of_station(method: p.Station, setting: Setting) -> Reading:
    """q = K √Δp √(ρ₀/ρ). The signal falls with the square of the flow, so its error weighs half, relatively."""
    values = si_values(method.readings, inch_of_water_pa=setting.inch_of_water_pa)
    factor = si(method.factor, inch_of_water_pa=setting.inch_of_water_pa)
    signals = np.maximum(np.asarray(values), 0.0)
    flows = np.atleast_1d(
        airflow.station_airflow_m3_s(
            pressure_difference_pa=signals,
            factor_m3_s_per_sqrt_pa=factor,
            density_kg_m3=setting.density_kg_m3,
            reference_density_kg_m3=si(method.reference_density),
        )
    )
    flow = float(np.mean(flows))
    slopes = np.where(signals > 0, flows / (2 * np.maximum(signals, 1e-9)), 0.0) / len(values)
    parts = [
        *_instrument(setting, values, list(slopes), "pressure"),
        of_repeats([float(f) for f in flows], 1.0),
        _method("station", flow),
    ]
    inputs = (
        ("readings", listed(method.readings)),
        ("K", f"{method.factor.value:g} {method.factor.unit}"),
        ("reference density", f"{method.reference_density.value:g} {method.reference_density.unit}"),
    )
    remarks = papers_fit(setting.instrument, "pressure")
    others = [
        {"k": si(one, inch_of_water_pa=setting.inch_of_water_pa), "said": f"{one.value:g} {one.unit}"}
        for one in method.other_factors
    ]
    facts = {"station_factor": factor, "other_factors": others} if others else {}
    equation = "q = mean(K √Δp) √(ρ₀/ρ)"
    return Reading(flow, "actual", -0.5, tuple(parts), equation, inputs, remarks, len(values), facts=facts)


def of_direct(method: p.Direct, setting: Setting) -> Reading:
    values = si_values(method.readings)
    flow = float(np.mean(values))
    parts = [
        *_instrument(setting, values, [1.0 / len(values)] * len(values), "airflow"),
        of_repeats(values, 1.0),
        _method("direct", flow),
    ]
    inputs = (("readings", listed(method.readings)),)
    return Reading(
        flow,
        method.basis,
        0.0,
        tuple(parts),
        "q = mean(readings)",
        inputs,
        papers_fit(setting.instrument, "airflow"),
        len(values),
    )


def of_reported(method: p.Reported, setting: Setting) -> Reading:
    flow = si(method.airflow)
    inputs = (
        ("reported", f"{method.airflow.value:g} {method.airflow.unit}"),
        ("report", f"{method.report}, {method.by}"),
    )
    parts = (_method("reported", flow),)
    return Reading(flow, method.basis, 0.0, parts, "q as reported by another firm", inputs)


METHODS: dict[type, Callable[[Any, Setting], Reading]] = {
    p.Traverse: of_traverse,
    p.Hood: of_hood,
    p.Station: of_station,
    p.Direct: of_direct,
    p.Reported: of_reported,
}
