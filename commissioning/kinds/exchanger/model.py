"""The arithmetic of the test: from the readings to the air at the exchanger's faces and the flows through it.

It takes arrays as well as numbers, so that a result and all its sensitivities come of one call.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from commissioning.dossier.quantities import si
from commissioning.engineering.exchanger_stations import (
    dry_air_mass_flow_kg_s,
    fan_rise_from_power_k,
    temperature_at_exchanger_c,
)
from commissioning.engineering.fans import air_power_w, fan_temperature_rise_k
from commissioning.engineering.guards import FloatArray, FloatOrArray, OutOfRange
from commissioning.engineering.humidity import (
    humidity_ratio_from_dew_point,
    humidity_ratio_from_relative_humidity,
    humidity_ratio_from_vapour_pressure,
    humidity_ratio_from_wet_bulb,
    relative_humidity_from_humidity_ratio,
    saturation_pressure_pa,
    wet_bulb_c,
)
from commissioning.engineering.moist_air import (
    moist_air_density_kg_m3,
    moist_air_enthalpy_j_kg,
    moist_air_heat_capacity_j_kg_k,
)
from commissioning.kinds.exchanger.inputs import Inputs, fan_heat
from commissioning.kinds.exchanger.payload import ExchangerPayload, StreamFan

Values: TypeAlias = Mapping[str, FloatOrArray]
Air: TypeAlias = dict[str, FloatArray]
STREAM_OF = {"outdoor": "supply", "supply": "supply", "return": "exhaust", "exhaust": "exhaust"}
FACE_OF_FAN = {  # the station between which and the exchanger a fan stands
    ("supply", "before_exchanger"): "outdoor",
    ("supply", "after_exchanger"): "supply",
    ("exhaust", "before_exchanger"): "return",
    ("exhaust", "after_exchanger"): "exhaust",
}
_LEAST_AIRFLOW_M3_S = 1e-5  # below it only by a step of the uncertainty of a tiny one
_OTHER = {"outdoor": "supply", "supply": "outdoor", "return": "exhaust", "exhaust": "return"}
ENTERING = frozenset({"outdoor", "return"})


@dataclass(frozen=True)
class Model:
    """The air at the faces and the dry-air flows, as functions of the readings."""

    payload: ExchangerPayload
    inputs: Inputs
    standard_density_kg_m3: float
    fan_at: Mapping[str, str]  # by station: the stream whose fan's heat lies between its sensor and the exchanger

    def told_of_flow(self, port: str) -> tuple[tuple[str, str], ...]:
        flow = self.payload.flow(port)
        if flow is None:
            return ()
        return (("airflow", f"{flow.airflow.value:g} {flow.airflow.unit}, {flow.basis} air"),)

    def __call__(self, values: Values) -> Air:
        """`t`, `w` and `h` by station, `m` by port of a flow: °C, kg/kg, J/kg, kg/s of dry air.

        Where they are known, `EATR` and `P`, the power that the exchanger costs, in W.
        """
        air: Air = {}
        for role in self.inputs.humidity:
            try:
                self._station(role, values, air)
            except OutOfRange as error:
                raise ValueError(f"{role} air: {error}") from None
        for flow in self.payload.flows:
            near = next((role for role in (flow.port, _OTHER[flow.port]) if f"w {role}" in air), None)
            if near is None:
                continue  # no air was read in that stream: its flow cannot be made a mass flow
            actual = flow.basis == "actual"
            density = air[f"rho {near}"] if actual else np.asarray(self.standard_density_kg_m3)
            mass = dry_air_mass_flow_kg_s(
                airflow_m3_s=np.maximum(values[f"q {flow.port}"], _LEAST_AIRFLOW_M3_S),
                density_kg_m3=density,
                humidity_ratio=air[f"w {near}"],
            )
            air[f"m {flow.port}"] = np.asarray(mass)
            moist = np.asarray(mass) * (1.0 + air[f"w {near}"])
            air[f"standard {flow.port}"] = moist / self.standard_density_kg_m3
            air[f"actual {flow.port}"] = moist / air[f"rho {near}"]
        if "EATR" in values:
            air["EATR"] = np.asarray(values["EATR"], dtype=np.float64)
        if "drive" in values:
            self._added_power(values, air)
        return air

    def _added_power(self, values: Values, air: Air) -> None:
        """P: to press both streams through the exchanger, and to drive it; only with the flows of both."""
        ends = {"supply": ("supply", "outdoor"), "exhaust": ("return", "exhaust")}
        total = np.asarray(values["drive"], dtype=np.float64)
        for stream, ports in ends.items():
            flow = next((air[f"actual {port}"] for port in ports if f"actual {port}" in air), None)
            if flow is None:
                return
            drop = np.maximum(values[f"drop {stream}"], 0.0)
            total = total + air_power_w(airflow_m3_s=flow, pressure_pa=drop) / values[f"efficiency {stream}"]
        air["P"] = total

    def _station(self, role: str, values: Values, air: Air) -> None:
        read = np.asarray(values[f"t {role}"], dtype=np.float64)
        pressure = self.inputs.pressures_pa[role] + np.asarray(values["pressure"], dtype=np.float64)
        humidity = np.asarray(values[f"h {role}"], dtype=np.float64)
        ratio = _RATIO[self.inputs.humidity[role]](read, humidity, pressure)
        stream = self.fan_at.get(role)
        rise = 0.0 if stream is None else values[f"fan heat {stream}"]
        face = temperature_at_exchanger_c(dry_bulb_c=read, fan_rise_k=rise, entering=role in ENTERING)
        density = moist_air_density_kg_m3(dry_bulb_c=read, humidity_ratio=ratio, pressure_pa=pressure)
        air[f"t {role}"], air[f"w {role}"] = np.asarray(face), np.asarray(ratio)
        air[f"h {role}"] = np.asarray(moist_air_enthalpy_j_kg(dry_bulb_c=face, humidity_ratio=ratio))
        air[f"rho {role}"] = np.asarray(density)


def model_of(
    payload: ExchangerPayload, inputs: Inputs, standard_density_kg_m3: float, inch_of_water_pa: float
) -> Model:
    """With the heat of the fans that stand between sensors and exchanger added to the inputs."""
    plain = Model(payload, inputs, standard_density_kg_m3, {})
    air = plain({name: one.value for name, one in inputs.readings.items()})
    fan_at: dict[str, str] = {}
    for fan in payload.fans:
        face = FACE_OF_FAN.get((fan.stream, fan.position))
        rise = None if face is None else _rise(fan, face, air, inch_of_water_pa)
        if face is not None and rise is not None:
            inputs.add(fan_heat(rise, fan.stream))
            fan_at[face] = fan.stream
    return Model(payload, inputs, standard_density_kg_m3, fan_at)


def _rise(fan: StreamFan, face: str, air: Air, inch_of_water_pa: float) -> float | None:
    """The fan's temperature rise, or None where nothing tells it."""
    near = next((role for role in (face, _OTHER[face]) if f"w {role}" in air), None)
    if near is None:
        return None
    if fan.pressure_rise is not None and fan.efficiency is not None:
        heat = float(np.asarray(moist_air_heat_capacity_j_kg_k(humidity_ratio=air[f"w {near}"])))
        rise = fan_temperature_rise_k(
            pressure_pa=si(fan.pressure_rise, inch_of_water_pa=inch_of_water_pa),
            efficiency=fan.efficiency,
            density_kg_m3=float(air[f"rho {near}"]),
            heat_capacity_j_kg_k=heat,
        )
        return float(rise)
    flow = next((air[key] for key in _flows_of(fan.stream) if key in air), None)
    if fan.power is None or flow is None:
        return None
    return float(
        fan_rise_from_power_k(
            power_w=si(fan.power),
            share_in_stream=fan.share_in_stream,
            mass_flow_kg_s=float(flow),
            humidity_ratio=float(air[f"w {near}"]),
        )
    )


def _flows_of(stream: str) -> tuple[str, str]:
    return ("m supply", "m outdoor") if stream == "supply" else ("m return", "m exhaust")


def _by_relative_humidity(t: FloatArray, share: FloatArray, pressure: FloatArray) -> FloatOrArray:
    """Above saturation by an uncertainty the relation simply goes on: cutting it off would halve a sensitivity."""
    if np.all(share <= 1.0) and np.all(share >= 0.0):
        return humidity_ratio_from_relative_humidity(dry_bulb_c=t, relative_humidity=share, pressure_pa=pressure)
    vapour = np.maximum(share, 0.0) * saturation_pressure_pa(temperature_c=t)
    return humidity_ratio_from_vapour_pressure(vapour_pressure_pa=vapour, pressure_pa=pressure)


def _by_wet_bulb(t: FloatArray, wet: FloatArray, pressure: FloatArray) -> FloatOrArray:
    """What was read is refused where it cannot be; the steps around it are held to what can."""
    if wet.ndim:
        driest = wet_bulb_c(dry_bulb_c=t, humidity_ratio=np.zeros_like(wet), pressure_pa=pressure)
        wet = np.clip(wet, driest, t)
    return humidity_ratio_from_wet_bulb(dry_bulb_c=t, wet_bulb_c=np.minimum(wet, t), pressure_pa=pressure)


def _by_dew_point(t: FloatArray, dew: FloatArray, pressure: FloatArray) -> FloatOrArray:
    return humidity_ratio_from_dew_point(dew_point_c=dew, pressure_pa=pressure)


def _by_ratio(t: FloatArray, ratio: FloatArray, pressure: FloatArray) -> FloatOrArray:
    if not ratio.ndim:  # what was read, and no step around it
        relative_humidity_from_humidity_ratio(dry_bulb_c=t, humidity_ratio=ratio, pressure_pa=pressure)
    return np.maximum(ratio, 0.0)


_RATIO: Mapping[str, Callable[[FloatArray, FloatArray, FloatArray], FloatOrArray]] = {
    "relative_humidity": _by_relative_humidity,
    "wet_bulb": _by_wet_bulb,
    "dew_point": _by_dew_point,
    "humidity_ratio": _by_ratio,
}
