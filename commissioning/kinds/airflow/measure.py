"""From an airflow payload to measurements: one per port, on the basis on which the port was designed."""

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, cast

from commissioning.dossier.air import Density, density_of
from commissioning.dossier.envelope import Envelope
from commissioning.dossier.given import Conventions, Instrument, Place
from commissioning.dossier.instrument_error import of_instrument, of_repeats
from commissioning.dossier.quantities import si, si_values
from commissioning.dossier.results import Measurement, Share
from commissioning.dossier.state import faults_of, seen_in, unseen_of
from commissioning.engineering import uncertainty
from commissioning.engineering.airflow import actual_airflow_m3_s, standard_airflow_m3_s
from commissioning.engineering.uncertainty import Component
from commissioning.kinds.airflow import methods, methods_fraction, methods_pressure
from commissioning.kinds.airflow import uncertainty_terms as terms
from commissioning.kinds.airflow.methods import Reading, Setting
from commissioning.kinds.airflow.payload import AirflowPayload, CarbonDioxide, FanReading, PortReading

VERSION = 4
METHODS: Mapping[type, Callable[[Any, Setting], Reading]] = {
    **methods.METHODS,
    **methods_pressure.METHODS,
    **methods_fraction.METHODS,
}
WORST_FIRST = ("failed", "none", "lapsed", "in_date", "not_applicable")
AS_GOOD_AS_INFINITE = 1e6  # degrees of freedom: what scatters by the last bits alone tells nothing


def instruments(payload: AirflowPayload) -> frozenset[str]:
    of_co2 = {str(payload.co2.instrument)} if payload.co2 else set()
    return frozenset(name for one in payload.ports for name in one.instruments()) | of_co2


def measure(
    envelope: Envelope, place: Place, conventions: Conventions, tools: Mapping[str, Instrument]
) -> list[Measurement]:
    payload = cast(AirflowPayload, envelope.payload)
    unit = {
        "state": seen_in(payload.state),
        "faults": faults_of(payload.state),
        "unseen": unseen_of(payload.state),
        "fans": tuple(_fan(fan) for fan in payload.fans),
        "static_pressures": tuple(
            (one.at, si(one.pressure, inch_of_water_pa=conventions.inch_of_water_pa))
            for one in payload.static_pressures
        ),
    }
    seen = _carbon_dioxide(payload.co2, tools, conventions) if payload.co2 else {}
    return [_port(envelope, payload, reading, place, conventions, tools, unit, seen) for reading in payload.ports]


def _port(
    envelope: Envelope,
    payload: AirflowPayload,
    given: PortReading,
    place: Place,
    conventions: Conventions,
    tools: Mapping[str, Instrument],
    unit: Mapping[str, Any],
    seen: Mapping[str, Any],
) -> Measurement:
    air = given.air or payload.air
    density = density_of(air, place.elevation_m, conventions.inch_of_water_pa)
    setting = Setting(
        instrument=tools.get(str(given.instrument)) if given.instrument is not None else None,
        density_kg_m3=density.density_kg_m3,
        inch_of_water_pa=conventions.inch_of_water_pa,
        standard_density_kg_m3=conventions.standard_density_kg_m3,
        elevation_m=place.elevation_m,
        air=air,
        common_air=payload.air,
        port_instrument=str(given.instrument) if given.instrument is not None else None,
        tools=tools,
    )
    reading = METHODS[type(given.method)](given.method, setting)
    basis, assumed = basis_of(place, given.port, conventions)
    actual, flow, scale = _flows(reading, density, basis, conventions)
    components = _components(reading, density, basis, flow, scale, payload.grade)
    budget = uncertainty.combine(components, coverage_probability=conventions.coverage_probability)
    calibration, certificate = _calibration(envelope, given, tools, place)
    freedom = budget.effective_degrees_of_freedom
    return Measurement(
        envelope=str(envelope.id),
        kind=envelope.kind,
        port=given.port,
        airflow_m3_s=flow,
        standard_uncertainty_m3_s=budget.standard_uncertainty,
        expanded_uncertainty_m3_s=budget.expanded_uncertainty,
        coverage_factor=budget.coverage_factor,
        degrees_of_freedom=freedom if freedom < AS_GOOD_AS_INFINITE else None,
        budget=tuple(
            Share(c.name, abs(c.contribution), c.kind, c.source, budget.shares[c.name]) for c in budget.components
        ),
        basis=basis,
        basis_assumed=assumed,
        actual_airflow_m3_s=actual,
        density_kg_m3=density.density_kg_m3,
        standard_density_kg_m3=conventions.standard_density_kg_m3,
        method=given.method.method,
        equation=reading.equation,
        readings=reading.readings,
        inputs=(*reading.inputs, ("density", f"{density.density_kg_m3:.6g} kg/m³, {density.source}")),
        grade=payload.grade,
        stage=payload.stage,
        session=payload.session.id,
        purpose=payload.session.purpose,
        mode=payload.state.mode,
        observed_at=envelope.observed_at.isoformat(),
        instrument=str(given.instrument) if given.instrument else None,
        calibration=calibration,
        certificate=certificate,
        serial_seen=payload.serial_seen,
        remarks=_remarks(reading, density, given, setting.instrument),
        instruments=given.instruments(),
        doubts=reading.doubts,
        facts={**reading.facts, **_errors(components), **seen},
        **unit,
    )


def basis_of(place: Place, port: str, conventions: Conventions) -> tuple[str, bool]:
    """The basis on which the port was designed; where the schedule does not state it, what the project agreed on."""
    design = place.ports.get(port)
    if design is None or design.basis == "not_stated":
        return conventions.basis_when_not_stated, True
    return design.basis, False


def _flows(reading: Reading, density: Density, basis: str, conventions: Conventions) -> tuple[float, float, float]:
    """The actual flow, the flow on the design's basis, and that over the flow that was read."""
    state = {
        "density_kg_m3": density.density_kg_m3,
        "standard_density_kg_m3": conventions.standard_density_kg_m3,
    }
    if reading.basis == "actual":
        actual = reading.flow_m3_s
        standard = float(standard_airflow_m3_s(actual_airflow_m3_s=actual, **state))
        per_read = float(standard_airflow_m3_s(actual_airflow_m3_s=1.0, **state))
    else:
        standard = reading.flow_m3_s
        actual = float(actual_airflow_m3_s(standard_airflow_m3_s=standard, **state))
        per_read = float(actual_airflow_m3_s(standard_airflow_m3_s=1.0, **state))
    flow = standard if basis == "standard" else actual
    return actual, flow, 1.0 if reading.basis == basis else per_read


def _components(
    reading: Reading, density: Density, basis: str, flow: float, scale: float, grade: str
) -> list[Component]:
    """The method's components carried to the design's basis, and the density's own."""
    parts = [replace(one, sensitivity=one.sensitivity * scale) for one in reading.components]
    if reading.basis == "actual":
        power = reading.density_power + (1.0 if basis == "standard" else 0.0)
    else:
        power = 0.0 if basis == "standard" else -1.0
    if power:
        size = density.relative_standard_uncertainty * flow
        parts.append(Component("density", size, power, source=density.source))
    if grade == "controller":
        parts.append(Component("read off the controller", terms.READ_OFF_CONTROLLER * flow, source=terms.METHOD_SOURCE))
    return parts


def _errors(components: list[Component]) -> dict[str, dict[str, float]]:
    """What each instrument's own error does to the airflow, with its sign: another method may share the instrument."""
    tools = dict.fromkeys(one.group for one in components if one.group)
    sums = {tool: math.fsum(one.contribution for one in components if one.group == tool) for tool in tools}
    return {"instrument_errors_m3_s": sums} if sums else {}


def _calibration(
    envelope: Envelope, given: PortReading, tools: Mapping[str, Instrument], place: Place
) -> tuple[str, str]:
    """The worst of the instruments that the airflow rests on."""
    day = place.day(envelope.observed_at)
    found = [tools[name].standing_on(day) if name in tools else ("none", "") for name in given.instruments()]
    return min(found or [("not_applicable", "")], key=lambda one: WORST_FIRST.index(one[0]))


def _carbon_dioxide(given: CarbonDioxide, tools: Mapping[str, Instrument], conventions: Conventions) -> dict[str, Any]:
    """CO2 of the visit, with its standard uncertainty, and what the controller showed."""
    values = si_values(given.readings)
    tool = tools.get(str(given.instrument))
    parts = [
        *of_instrument(tool, values, [1.0 / len(values)] * len(values), "mole fraction"),
        of_repeats(values, 1.0),
    ]
    budget = uncertainty.combine(parts, coverage_probability=conventions.coverage_probability)
    return {
        "co2": {
            "value": sum(values) / len(values),
            "standard_uncertainty": budget.standard_uncertainty,
            "controller": si(given.controller) if given.controller else None,
            "instrument": str(given.instrument),
        }
    }


def _remarks(reading: Reading, density: Density, given: PortReading, tool: Instrument | None) -> tuple[str, ...]:
    remarks = [*reading.remarks]
    if density.remark:
        remarks.append(density.remark)
    if given.instrument is not None and tool is None:
        remarks.append("The instrument is not in the firm's list: its own error is not in the uncertainty.")
    return tuple(remarks)


def _fan(fan: FanReading) -> dict[str, Any]:
    """Fan readings in SI, as the remedy needs them."""
    return {
        "fan": fan.fan,
        "control": fan.control,
        "speed_rpm": si(fan.speed) if fan.speed else None,
        "current_a": [float(v) for v in fan.current.values] if fan.current else None,
    }
