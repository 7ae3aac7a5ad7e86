"""Airflow that follows from a pressure: over a rated part, or on a fan's curve. Each says when it bears no verdict."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from commissioning.dossier.instrument_error import of_instrument, of_repeats, papers_fit, stated
from commissioning.dossier.quantities import si, si_values
from commissioning.engineering import fan_curve, pressure_drop
from commissioning.engineering.fan_curve import FanCurve
from commissioning.engineering.moist_air import viscosity_pa_s
from commissioning.engineering.uncertainty import Component
from commissioning.kinds.airflow.indirect import FanOnItsCurve, PartState, PressureDrop
from commissioning.kinds.airflow.methods import Reading, Setting, listed

RATED_DRY_BULB_C = 20.0
SPEED_NOT_MEASURED = 0.01  # relative, k = 1: a drive's frequency less the slip of its motor; common practice
CURVE_SOURCE = "5 % of the airflow for the curve itself (k = 1): common practice, no source"
PART_SOURCE = "±10 % for rated points and part (k = 2): common practice, no source"
_SMALL = 1e-3


def of_pressure_drop(method: PressureDrop, setting: Setting) -> Reading:
    """Δp = A (µ/µ_r) q + B (ρ/ρ_r) q², solved for q."""
    values = si_values(method.readings, inch_of_water_pa=setting.inch_of_water_pa)
    curve = method.curve(setting.inch_of_water_pa)
    rated_density = si(method.rated_density) if method.rated_density else setting.standard_density_kg_m3
    dry_bulb = si(setting.air.dry_bulb) if setting.air else RATED_DRY_BULB_C
    rated_dry_bulb = si(method.rated_dry_bulb) if method.rated_dry_bulb else RATED_DRY_BULB_C
    thicker = float(viscosity_pa_s(temperature_c=dry_bulb)) / float(viscosity_pa_s(temperature_c=rated_dry_bulb))

    def flow_at(drop_pa: float, density_kg_m3: float = setting.density_kg_m3) -> float:
        return float(
            pressure_drop.rated_curve_airflow_m3_s(
                curve=curve,
                pressure_drop_pa=max(drop_pa, 0.0),
                density_ratio=density_kg_m3 / rated_density,
                viscosity_ratio=thicker,
            )
        )

    flows = [flow_at(drop) for drop in values]
    flow = sum(flows) / len(flows)
    slopes = [_slope(flow_at, max(drop, 1e-6)) / len(values) for drop in values]
    mean = sum(values) / len(values)
    tool = setting.instrument
    step = stated(tool.resolution, "pressure", inch_of_water_pa=setting.inch_of_water_pa) if tool is not None else 0.0
    doubts = pressure_drop.pressure_drop_doubts(
        curve=curve,
        airflow_m3_s=flow,
        pressure_drop_pa=max(mean, 0.0),
        resolution_pa=step or None,
        **_known(method.condition),
    )
    parts = [
        *of_instrument(tool, values, slopes, "pressure", inch_of_water_pa=setting.inch_of_water_pa),
        of_repeats(flows, 1.0),
        Component("rated curve", pressure_drop.RELATIVE_EXPANDED_UNCERTAINTY / 2.0 * flow, source=PART_SOURCE),
    ]
    rated = "; ".join(
        f"{one.airflow.value:g} {one.airflow.unit} at {one.pressure.value:g} {one.pressure.unit}"
        for one in method.rated
    )
    return Reading(
        flow_m3_s=flow,
        basis="actual",
        density_power=_power(lambda density: flow_at(mean, density), setting.density_kg_m3),
        components=tuple(parts),
        equation="Δp = A (µ/µ_r) q + B (ρ/ρ_r) q²; Darcy and Forchheimer",
        inputs=(
            (f"drop over the {method.part}", listed(method.readings)),
            ("rated points, clean and dry", rated),
            ("A and B through them", f"{curve.viscous:.6g} Pa/(m³/s), {curve.inertial:.6g} Pa/(m³/s)²"),
            ("rated air", f"{rated_density:.4g} kg/m³, {rated_dry_bulb:.1f} °C"),
            *((name, word.replace("_", " ")) for name, word in method.condition.model_dump().items()),
        ),
        remarks=papers_fit(tool, "pressure"),
        readings=len(values),
        doubts=tuple(doubt.sentence for doubt in doubts),
    )


def _known(state: PartState) -> dict[str, bool | None]:
    """The part's state as the engineering asks for it: None where nobody looked; what cannot be is good."""
    return {
        "clean": {"clean": True, "dirty": False}.get(state.surface),
        "dry": {"dry": True, "wet": False}.get(state.moisture),
        "bypass_closed": {"closed": True, "none": True, "open": False}.get(state.bypass),
        "frosted": {"none": False, "frosted": True}.get(state.frost),
    }


def of_fan_curve(method: FanOnItsCurve, setting: Setting) -> Reading:
    """q = n f⁻¹(p / (g n²)). A pressure off the falling part of the curve tells no airflow: then the end is shown."""
    pressures = si_values(method.readings, inch_of_water_pa=setting.inch_of_water_pa)
    speeds = si_values(method.speed)
    curve = method.curve(setting.inch_of_water_pa)
    pressure, speed = (sum(values) / len(values) for values in (pressures, speeds))

    def flow_at(pressure_pa: float, speed_rpm: float, density_kg_m3: float) -> float:
        low, high = _ends(curve, speed_rpm, density_kg_m3)
        found = fan_curve.fan_curve_airflow(
            curve=curve,
            pressure_pa=min(max(pressure_pa, low), high),
            speed_rpm=speed_rpm,
            density_kg_m3=density_kg_m3,
        )
        return found.airflow_m3_s

    density = setting.density_kg_m3
    flow = flow_at(pressure, speed, density)
    per_pascal = _slope(lambda one: flow_at(one, speed, density), pressure)
    per_rpm = _slope(lambda one: flow_at(pressure, one, density), speed)
    speed_tool = setting.tools.get(str(method.speed_instrument)) if method.speed_instrument else None
    parts = [
        *(_opposed(one) for one in _of_series(setting, pressures, per_pascal)),
        of_repeats(pressures, per_pascal, name="repeatability of the pressure"),
        *of_instrument(
            speed_tool, speeds, [per_rpm / len(speeds)] * len(speeds), "rotational speed", name="instrument, speed"
        ),
        Component("fan curve", fan_curve.CURVE_UNCERTAINTY * flow, source=CURVE_SOURCE),
    ]
    if speed_tool is None:
        source = "speed not measured by a known instrument; common practice, no source"
        parts.append(Component("speed", SPEED_NOT_MEASURED * speed, per_rpm, source=source))
    points = "; ".join(
        f"{one.airflow.value:g} {one.airflow.unit} at {one.pressure.value:g} {one.pressure.unit}"
        for one in method.points
    )
    note = fan_curve.SYSTEM_EFFECT_NOTE
    return Reading(
        flow_m3_s=flow,
        basis="actual",
        density_power=_power(lambda one: flow_at(pressure, speed, one), density),
        components=tuple(parts),
        equation="q = n f⁻¹(p / (g n²)), n = N/N₀, g = ρ/ρ₀; the fan laws",
        inputs=(
            (f"fan {method.pressures} pressure", listed(method.readings)),
            ("speed", listed(method.speed)),
            ("n and g", f"{speed / curve.speed_rpm:.4f}, {density / curve.density_kg_m3:.4f}"),
            (
                f"points at {method.curve_speed.value:g} {method.curve_speed.unit} and "
                f"{method.curve_density.value:g} {method.curve_density.unit}",
                points,
            ),
        ),
        remarks=(*papers_fit(setting.instrument, "pressure"), f"{note[:1].upper()}{note[1:]}."),
        readings=len(pressures),
        doubts=tuple(_fan_doubts(curve, pressure, speed, density)),
    )


def _fan_doubts(curve: FanCurve, pressure_pa: float, speed_rpm: float, density_kg_m3: float) -> Iterator[str]:
    low, high = _ends(curve, speed_rpm, density_kg_m3)
    if pressure_pa > high:
        yield (
            f"the fan pressure of {pressure_pa:.0f} Pa lies above the peak of the curve at this speed, {high:.0f} Pa: "
            "the fan stalls, or the reading or the curve is another fan's; the airflow shown is that of the peak"
        )
    elif pressure_pa < low:
        yield (
            f"the fan pressure of {pressure_pa:.0f} Pa lies below the last point of the curve at this speed, "
            f"{low:.0f} Pa; the airflow shown is that of the last point"
        )


def _ends(curve: FanCurve, speed_rpm: float, density_kg_m3: float) -> tuple[float, float]:
    n, g = (float(one) for one in fan_curve.scale(curve, speed_rpm, density_kg_m3))
    return curve.pressures_pa[-1] * g * n**2, curve.pressures_pa[curve.first] * g * n**2


def _of_series(setting: Setting, pressures: list[float], per_pascal: float) -> list[Component]:
    slopes = [per_pascal / len(pressures)] * len(pressures)
    return of_instrument(setting.instrument, pressures, slopes, "pressure", inch_of_water_pa=setting.inch_of_water_pa)


def _opposed(part: Component) -> Component:
    """A gauge that reads high makes the airflow low: what it shares with another method has the other sign."""
    return replace(part, sensitivity=-part.sensitivity)


def _slope(function: Callable[[float], float], at: float) -> float:
    step = _SMALL * max(abs(at), _SMALL)
    return (function(at + step) - function(at - step)) / (2.0 * step)


def _power(flow_at: Callable[[float], float], density_kg_m3: float) -> float:
    """d ln q / d ln ρ: how the airflow goes with the density."""
    low, high = (max(flow_at(density_kg_m3 * (1.0 + step)), 1e-12) for step in (-_SMALL, _SMALL))
    return float(np.log(high / low) / np.log((1.0 + _SMALL) / (1.0 - _SMALL)))


METHODS: dict[type, Callable[[Any, Setting], Reading]] = {PressureDrop: of_pressure_drop, FanOnItsCurve: of_fan_curve}
