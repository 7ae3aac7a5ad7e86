"""What goes over between the streams: the transfer ratio by tracer gas, and the pressures at the seals."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from commissioning.dossier.figures import Figure, measured
from commissioning.dossier.given import Conventions, Instrument
from commissioning.dossier.instrument_error import COMMON_PRACTICE
from commissioning.dossier.quantities import si_values
from commissioning.engineering.exchanger import exhaust_air_transfer_ratio
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.uncertainty import Component, Input, propagate
from commissioning.kinds.exchanger.payload import Concentrations, SealPressures
from commissioning.kinds.exchanger.performance import Work
from commissioning.kinds.exchanger.readings import Reading, components, read

ROOM_CO2 = (
    "the CO2 of the rooms is no tracer gas: people give it off at a changing rate, and its difference to outdoor air "
    "is small against the sensors' errors; a gas released into the return air is needed"
)
MIXING = 0.05  # of the ratio, k = 1: the gas is not even over the return duct, nor the analyser over its range
_FACES = {"supply": "supply_minus_return", "outdoor": "outdoor_minus_exhaust"}


def transfer_ratio(
    given: Concentrations, conventions: Conventions, tools: Mapping[str, Instrument], work: Work
) -> None:
    """EATR; from room CO2 a figure of another name that nothing is judged by."""
    tool = tools.get(str(given.instrument))
    series = {"outdoor": given.outdoor, "supply": given.supply, "return": given.return_}
    readings = [read(f"C {role}", si_values(one), "mole fraction", tool) for role, one in series.items()]
    by_tracer = given.kind == "tracer_gas"
    name = "transfer_ratio" if by_tracer else "transfer_ratio_by_room_co2"
    try:
        value, slopes = _propagated(readings)
    except OutOfRange as error:
        work.not_computed[name] = str(error)
        return
    mixing = Component("mixing of the gas and linearity of the analyser", MIXING * abs(value), source=COMMON_PRACTICE)
    parts = [*components(readings, slopes, conventions.inch_of_water_pa), mixing]
    work.figures.append(
        measured(
            name,
            value,
            "1",
            parts,
            coverage_probability=conventions.coverage_probability,
            equation="EATR = (C₂ − C₁) / (C₃ − C₁)",
            source="ASHRAE 84 (definition from memory)",
            inputs=(
                ("gas", given.gas),
                *((f"{role} air", f"{1e6 * one.value:.6g} ppm") for role, one in zip(series, readings, strict=True)),
            ),
            doubts=() if by_tracer else (ROOM_CO2,),
        )
    )


def _propagated(readings: list[Reading]) -> tuple[float, dict[str, float]]:
    def ratio(**read_: float) -> Any:
        return exhaust_air_transfer_ratio(
            outdoor_tracer=max(read_["C_outdoor"], 0.0),
            supply_tracer=max(read_["C_supply"], 0.0),
            return_tracer=max(read_["C_return"], 0.0),
        )

    names = {one.name: one.name.replace(" ", "_") for one in readings}
    value, budget = propagate(ratio, {names[one.name]: Input(one.value, one.step) for one in readings})
    return value, {one.name: part.sensitivity for one, part in zip(readings, budget.components, strict=True)}


def drawn_in_again(given: Concentrations | None) -> float:
    """By how much the outdoor air carries more than before the release: exhaust air that is drawn in again."""
    if given is None or given.background is None:
        return 0.0
    return float(np.mean(si_values(given.outdoor)) - np.mean(si_values(given.background)))


def seal_pressures(given: SealPressures, conventions: Conventions, tools: Mapping[str, Instrument], work: Work) -> None:
    tool = tools.get(str(given.instrument))
    inch = conventions.inch_of_water_pa
    for face, field in _FACES.items():
        series = getattr(given, field)
        if series is None:
            continue
        one = read(f"p {face}", si_values(series, inch_of_water_pa=inch), "pressure", tool)
        work.figures.append(
            measured(
                "seal_pressure",
                one.value,
                "Pa",
                components([one], {one.name: 1.0}, inch),
                coverage_probability=conventions.coverage_probability,
                at=face,
                equation="mean of p_supply side − p_exhaust side",
                source="definition",
                inputs=(("read", ", ".join(f"{value:g}" for value in series.values) + f" {series.unit}"),),
            )
        )


def wheel_speed(
    values: list[float], tool: Instrument | None, conventions: Conventions, told: tuple[tuple[str, str], ...]
) -> Figure:
    one = read("wheel speed", values, "rotational speed", tool)
    return measured(
        "wheel_speed",
        one.value,
        "rpm",
        components([one], {one.name: 1.0}, conventions.inch_of_water_pa),
        coverage_probability=conventions.coverage_probability,
        equation="n = mean(readings)",
        source="counted or read at the wheel",
        inputs=told,
    )
