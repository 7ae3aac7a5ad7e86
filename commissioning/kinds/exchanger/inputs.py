"""From the payload to the inputs of the arithmetic, with a remark for each that had to be assumed."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from commissioning.dossier.air import BY_ELEVATION
from commissioning.dossier.figures import Figure
from commissioning.dossier.given import Conventions, Instrument, Place
from commissioning.dossier.instrument_error import COMMON_PRACTICE
from commissioning.dossier.quantities import si, si_values
from commissioning.engineering.moist_air import pressure_at_elevation_pa
from commissioning.engineering.uncertainty import Component
from commissioning.kinds.exchanger.payload import HUMIDITIES, ExchangerPayload, Flow, Station
from commissioning.kinds.exchanger.readings import RELATIVE_UNKNOWN, Reading, assumed, read, speaks

ASSUMED_RELATIVE_HUMIDITY = (0.5, 0.2)
FLOW_METHOD = 0.02  # relative, k = 1, beside the instrument's own error; common practice, no source
FAN_HEAT = 0.15  # of a fan's temperature rise, relative, k = 1; common practice, no source
FAN_EFFICIENCY = 0.10  # relative, k = 1, of a fan with drive and motor at its point; common practice, no source
DRIVE_POWER = 0.05  # relative, k = 1; common practice, no source
BAROMETER_PA = 200.0  # k = 1; common practice, no source
_QUANTITY = {
    "wet_bulb": "temperature",
    "dew_point": "temperature",
    "relative_humidity": "ratio",
    "humidity_ratio": "humidity ratio",
}


@dataclass
class Inputs:
    """The readings by name: `t outdoor` (dry bulb), `h outdoor` (its humidity), `q supply` (airflow), `pressure`."""

    readings: dict[str, Reading] = field(default_factory=dict)
    pressures_pa: dict[str, float] = field(default_factory=dict)  # by station
    humidity: dict[str, str] = field(default_factory=dict)  # by station: which of the four was read, or assumed
    assumed_humidity: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    def add(self, one: Reading) -> None:
        self.readings[one.name] = one


def inputs_of(
    payload: ExchangerPayload, place: Place, conventions: Conventions, tools: Mapping[str, Instrument]
) -> Inputs:
    found = Inputs()
    _pressures(found, payload, place, conventions)
    for station in payload.stations:
        _station(found, station, tools)
    for flow in payload.flows:
        _flow(found, flow, tools)
    return found


def _pressures(found: Inputs, payload: ExchangerPayload, place: Place, conventions: Conventions) -> None:
    """One barometer for all: its error is common, and enters as a shift of all pressures."""
    given = payload.pressure or (payload.air.pressure if payload.air else None)
    inch = conventions.inch_of_water_pa
    common = (
        si(given, inch_of_water_pa=inch) if given else float(pressure_at_elevation_pa(elevation_m=place.elevation_m))
    )
    for one in payload.stations:
        found.pressures_pa[one.station] = si(one.pressure, inch_of_water_pa=inch) if one.pressure else common
    if given or (payload.stations and all(one.pressure for one in payload.stations)):
        shift, source = BAROMETER_PA, f"barometer; {COMMON_PRACTICE}"
    else:
        shift, source = BY_ELEVATION * common, "pressure from the site's elevation"
    found.add(assumed("pressure", 0.0, "pressure", shift, source))


def _station(found: Inputs, station: Station, tools: Mapping[str, Instrument]) -> None:
    role, tool = station.station, tools.get(str(station.instrument))
    found.add(read(f"t {role}", si_values(station.dry_bulb), "temperature", tool))
    if not speaks(tool, "temperature"):
        found.remarks.append(f"No accuracy of the dry bulb at the {role} air is on file: ±0.6 K (k = 2) is assumed.")
    given = next((name for name in HUMIDITIES if getattr(station, name) is not None), None)
    if given is None:
        found.humidity[role] = "relative_humidity"
        found.assumed_humidity.append(role)
        value, spread = ASSUMED_RELATIVE_HUMIDITY
        found.add(assumed(f"h {role}", value, "ratio", spread, f"no humidity was read; {COMMON_PRACTICE}"))
        return
    meter = tools.get(str(station.humidity_instrument or station.instrument))
    values = si_values(getattr(station, given))
    if given == "relative_humidity":
        values = [min(1.0, value) for value in values]
    found.humidity[role] = given
    found.add(read(f"h {role}", values, _QUANTITY[given], meter))
    if not speaks(meter, _QUANTITY[given]):
        found.remarks.append(
            f"No accuracy of the {given.replace('_', ' ')} at the {role} air is on file: a usual one is assumed."
        )


def _flow(found: Inputs, flow: Flow, tools: Mapping[str, Instrument]) -> None:
    name, value = f"q {flow.port}", si(flow.airflow)
    if flow.expanded_uncertainty is not None:
        size = si(flow.expanded_uncertainty) / 2.0
        found.add(assumed(name, value, "airflow", size, "as stated with the reading, k = 2"))
        return
    tool = tools.get(str(flow.instrument)) if flow.instrument else None
    if not speaks(tool, "airflow"):
        size = RELATIVE_UNKNOWN["airflow"] * value
        found.add(assumed(name, value, "airflow", size, f"no uncertainty was stated; {COMMON_PRACTICE}"))
        found.remarks.append(f"No uncertainty of the {flow.port} airflow is known: ±10 % (k = 2) is assumed.")
        return
    method = Component(f"airflow {flow.port}, method", FLOW_METHOD * value, source=COMMON_PRACTICE)
    found.add(Reading(name, value, "airflow", tool, (method,)))


def fan_heat(rise_k: float, stream: str) -> Reading:
    return assumed(f"fan heat {stream}", rise_k, "temperature difference", FAN_HEAT * rise_k, COMMON_PRACTICE)


def carried_over(ratio: Figure) -> Reading:
    """The transfer ratio as an input of what is net of it. None is less than none: a negative one takes nothing off."""
    return assumed(
        "EATR", max(ratio.value, 0.0), "ratio", ratio.standard_uncertainty or 0.0, "tracer gas, as worked out below"
    )


def cost(
    payload: ExchangerPayload, tools: Mapping[str, Instrument], inch_of_water_pa: float
) -> tuple[list[Reading], str]:
    """What the exchanger's electric power is worked out from; else why it cannot be."""
    given = payload.added_power
    if given is None:
        return [], "its pressure drops, and the efficiency of the fans that overcome them, are not given"
    tool, found = tools.get(str(given.instrument)), []
    for stream, drop, own in (
        ("supply", given.supply_drop, given.supply_efficiency),
        ("exhaust", given.exhaust_drop, given.exhaust_efficiency),
    ):
        fan = payload.fan(stream)
        efficiency = own if own is not None or fan is None else fan.efficiency
        if efficiency is None:
            return [], f"the efficiency of the {stream} fan is not given"
        found.append(read(f"drop {stream}", [si(drop, inch_of_water_pa=inch_of_water_pa)], "pressure", tool))
        found.append(assumed(f"efficiency {stream}", efficiency, "ratio", FAN_EFFICIENCY * efficiency, COMMON_PRACTICE))
    power = 0.0 if given.drive is None else si(given.drive)
    found.append(assumed("drive", power, "power", DRIVE_POWER * power, COMMON_PRACTICE))
    return found, ""
