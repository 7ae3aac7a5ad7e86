"""From an exchanger's record to figures: effectiveness, closure, flows, transfer, seals, speed of the wheel."""

from collections.abc import Mapping
from typing import Any, cast

from commissioning.dossier.envelope import Envelope
from commissioning.dossier.exchanger_design import ExchangerDesign, exchanger
from commissioning.dossier.figures import Figure, Figures, figures_of
from commissioning.dossier.given import Conventions, Instrument, Place
from commissioning.dossier.quantities import si_values
from commissioning.kinds.exchanger import leakage, net
from commissioning.kinds.exchanger.doubts import Doubts
from commissioning.kinds.exchanger.inputs import Inputs, carried_over, cost, inputs_of
from commissioning.kinds.exchanger.model import Model, model_of
from commissioning.kinds.exchanger.payload import HUMIDITIES, ExchangerPayload, Station
from commissioning.kinds.exchanger.performance import Bench, Work, performance, stream_flows
from commissioning.kinds.exchanger.propagation import Propagation

VERSION = 4


def instruments(payload: ExchangerPayload) -> frozenset[str]:
    return frozenset(_named(payload))


def _named(payload: ExchangerPayload) -> tuple[str, ...]:
    """In the order in which the record names them."""
    given = [tool for one in payload.stations for tool in (one.instrument, one.humidity_instrument)]
    given += [one.instrument for one in payload.flows]
    given += [
        one.instrument
        for one in (payload.wheel, payload.concentrations, payload.seal_pressures, payload.added_power)
        if one
    ]
    return tuple(dict.fromkeys(str(one) for one in given if one is not None))


def measure(
    envelope: Envelope, place: Place, conventions: Conventions, tools: Mapping[str, Instrument]
) -> list[Figures]:
    payload = cast(ExchangerPayload, envelope.payload)
    design = exchanger(place, payload.exchanger)
    inputs = inputs_of(payload, place, conventions, tools)
    gas = Work()
    if payload.concentrations is not None:
        leakage.transfer_ratio(payload.concentrations, conventions, tools, gas)
    why_no_cost = _ask_further(inputs, payload, conventions, tools, gas)
    wheel = _wheel(payload, conventions, tools)
    work, closure = Work(), None
    model = model_of(payload, inputs, conventions.standard_density_kg_m3, conventions.inch_of_water_pa)
    if payload.stations:
        spread = Propagation(model, conventions.inch_of_water_pa)
        doubts = Doubts(payload, spread, _at_speed(payload, design, wheel))
        bench = Bench(spread, conventions.coverage_probability, work)
        performance(bench, doubts)
        streams = stream_flows(spread)
        net.net_of_leakage(bench, streams)
        net.recovered_for_power(bench, streams, why_no_cost)
        closure = doubts.deciding_closure
    if wheel is not None:
        work.figures.append(wheel)
    work.figures += gas.figures
    work.not_computed |= gas.not_computed
    if payload.seal_pressures is not None:
        leakage.seal_pressures(payload.seal_pressures, conventions, tools, work)
    found = figures_of(
        envelope,
        place,
        work.figures,
        method="exchanger",
        tools=[(name, tools.get(name)) for name in _named(payload)],
        remarks=[*inputs.remarks, *_remarks(payload, design)],
        facts=_facts(payload, model, inputs, work) | {"closure": closure.name if closure else None},
    )
    return [found]


def _ask_further(
    inputs: Inputs, payload: ExchangerPayload, conventions: Conventions, tools: Mapping[str, Instrument], gas: Work
) -> str:
    """What is carried over and what the exchanger costs, as inputs; the reason where the cost is not known."""
    for one in gas.figures:
        if one.name == "transfer_ratio":
            inputs.add(carried_over(one))
    found, why_not = cost(payload, tools, conventions.inch_of_water_pa)
    for reading in found:
        inputs.add(reading)
    return why_not


def _wheel(payload: ExchangerPayload, conventions: Conventions, tools: Mapping[str, Instrument]) -> Figure | None:
    if payload.wheel is None:
        return None
    given = payload.wheel.speed
    told = (
        ("read", _listed(given)),
        ("control", payload.wheel.control.replace("_", " ")),
    )
    tool = tools.get(str(payload.wheel.instrument)) if payload.wheel.instrument else None
    return leakage.wheel_speed(si_values(given), tool, conventions, told)


def _at_speed(payload: ExchangerPayload, design: ExchangerDesign, wheel: Figure | None) -> bool | None:
    """Whether the wheel turned as designed: True where there is none, None where nobody can say."""
    has_wheel = design.kind == "wheel" or wheel is not None or payload.state.wheel in ("running", "stopped")
    if not has_wheel or (design.kind not in (None, "wheel")):
        return True
    if wheel is None or payload.state.wheel == "stopped":
        return False if payload.state.wheel == "stopped" else None
    if design.wheel_speed_rpm is None:
        return wheel.value > 0.0
    limits = design.wheel_speed_tolerance
    off = wheel.value / design.wheel_speed_rpm - 1.0
    return (limits.low is None or off >= limits.low - 1e-9) and (limits.high is None or off <= limits.high + 1e-9)


def _remarks(payload: ExchangerPayload, design: ExchangerDesign) -> list[str]:
    remarks = []
    if payload.wheel is not None and design.wheel_speed_rpm is None:
        remarks.append("No revision gives the wheel's speed: whether it turned as submitted is not known.")
    if payload.added_power is not None and payload.added_power.drive is None and design.kind in ("wheel", "run_around"):
        what = "motor of the wheel" if design.kind == "wheel" else "pump of the loop"
        remarks.append(f"The power of the {what} is not given: the recovery efficiency ratio is without it.")
    if (again := leakage.drawn_in_again(payload.concentrations)) > 0.0:
        remarks.append(
            f"During the test the outdoor air carried {1e6 * again:.2g} ppm more of the gas than before the release: "
            "exhaust air is drawn in again."
        )
    if payload.flow("supply") is None and payload.flow("outdoor") is not None:
        remarks.append("The supply stream's flow was read at the outdoor air: leakage in the unit is not in it.")
    if payload.flow("return") is None and payload.flow("exhaust") is not None:
        remarks.append("The exhaust stream's flow was read at the exhaust air: leakage in the unit is not in it.")
    return remarks


def _facts(payload: ExchangerPayload, model: Model, inputs: Inputs, work: Work) -> dict[str, Any]:
    air = model({name: one.value for name, one in inputs.readings.items()})
    return {
        "exchanger": payload.exchanger,
        "not_computed": work.not_computed,
        "season": _season(air),
        "frost": payload.frost,
        "coil_between": payload.coil_between,
        "stations": {
            one.station: {
                "read": _listed(one.dry_bulb),
                "humidity_read": _humidity_read(one),
                "read_c": inputs.readings[f"t {one.station}"].value,
                "temperature_c": float(air[f"t {one.station}"]),
                "humidity_ratio": None if one.station in inputs.assumed_humidity else float(air[f"w {one.station}"]),
                "fan_rise_k": _rise(model, one.station),
            }
            for one in payload.stations
        },
        "gas": None if payload.concentrations is None else payload.concentrations.gas,
    }


def _listed(series: Any) -> str:
    return ", ".join(f"{value:g}" for value in series.values) + f" {series.unit}"


def _humidity_read(station: Station) -> str:
    name = next((one for one in HUMIDITIES if getattr(station, one) is not None), None)
    return "not read" if name is None else f"{name.replace('_', ' ')} {_listed(getattr(station, name))}"


def _rise(model: Model, role: str) -> float:
    stream = model.fan_at.get(role)
    return 0.0 if stream is None else model.inputs.readings[f"fan heat {stream}"].value


def _season(air: Mapping[str, Any]) -> str | None:
    """Which way the heat goes: rated points are given by season."""
    if "t outdoor" not in air or "t return" not in air:
        return None
    return "heating" if float(air["t outdoor"]) < float(air["t return"]) else "cooling"
