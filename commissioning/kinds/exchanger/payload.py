"""What a technician sends about an exchanger: the air on its four sides, the flows, the fans, the wheel, the seals.

Stations are told apart by role: outdoor (entering supply), supply (leaving supply), return (entering exhaust), exhaust
(leaving exhaust). Readings of one station stand in the order in which they were taken.
"""

from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator

from commissioning.dossier import quantities as q
from commissioning.dossier.envelope import Id
from commissioning.dossier.field_record import FieldRecord, Line

Role = Literal["outdoor", "supply", "return", "exhaust"]
Stream = Literal["supply", "exhaust"]
HUMIDITIES = ("wet_bulb", "relative_humidity", "dew_point", "humidity_ratio")


class Station(q.Closed):
    """Dry bulb and at most one humidity of one side, read over the test; two series may differ in length."""

    station: Role
    instrument: Id
    dry_bulb: q.TemperatureSeries
    humidity_instrument: Id | None = None  # where another one than `instrument`
    wet_bulb: q.TemperatureSeries | None = None
    relative_humidity: q.RelativeHumiditySeries | None = None
    dew_point: q.TemperatureSeries | None = None
    humidity_ratio: q.HumidityRatioSeries | None = None
    pressure: q.StationPressure | None = None

    @model_validator(mode="after")
    def _one_humidity(self) -> "Station":
        given = [name for name in HUMIDITIES if getattr(self, name) is not None]
        if len(given) > 1:
            raise ValueError("give one of wet bulb, relative humidity, dew point and humidity ratio")
        if given and given[0] in ("wet_bulb", "dew_point"):
            moist, dry = (_mean(one) for one in (getattr(self, given[0]), self.dry_bulb))
            if moist > dry + 1e-9:
                raise ValueError(f"the {given[0].replace('_', ' ')} lies above the dry bulb")
        return self


def _mean(series: q.Series) -> float:
    values = q.si_values(series)
    return sum(values) / len(values)


class StreamFan(q.Closed):
    """Where a fan stands between the two sensors of a stream, and what tells its heat.

    Heat by pressure rise and efficiency, or by the electric power and the share of it that ends in the stream.
    """

    stream: Stream
    position: Literal["before_exchanger", "after_exchanger", "none", "not_seen"]
    pressure_rise: q.Pressure | None = None
    efficiency: Annotated[q.Number, Field(ge=0.05, le=1.0)] | None = None
    power: q.Power | None = None
    share_in_stream: Annotated[q.Number, Field(ge=0.0, le=1.0)] = 1.0

    @model_validator(mode="after")
    def _one_way(self) -> "StreamFan":
        if (self.pressure_rise is None) != (self.efficiency is None):
            raise ValueError("a pressure rise and an efficiency tell the fan's heat only together")
        if self.pressure_rise is not None and self.power is not None:
            raise ValueError("give the fan's pressure rise with its efficiency, or its power, not both")
        if self.pressure_rise is not None and q.si(self.pressure_rise) < 0.0:
            raise ValueError("a fan's pressure rise is not negative")
        return self


class Flow(q.Closed):
    """An airflow read at the time of the test: by an instrument, or with its expanded uncertainty (k = 2)."""

    port: Role
    airflow: q.Airflow
    basis: Literal["actual", "standard"]
    instrument: Id | None = None
    expanded_uncertainty: q.Airflow | None = None

    @model_validator(mode="after")
    def _some_air(self) -> "Flow":
        if q.si(self.airflow) <= 0.0:
            raise ValueError("an exchanger through which no air goes has no effectiveness")
        if self.expanded_uncertainty is not None and q.si(self.expanded_uncertainty) >= q.si(self.airflow):
            raise ValueError("an airflow that is not known to its own size says nothing")
        return self


class Wheel(q.Closed):
    """The wheel's own speed, counted over marks of its rim or by a tachometer; never the motor's."""

    speed: q.SpeedSeries
    instrument: Id | None = None
    control: Literal["full_speed", "modulating", "not_seen"] = "not_seen"


class Concentrations(q.Closed):
    """Of a gas at the stations. `room_co2` is what people give off: kept, and no ground for a transfer ratio."""

    gas: Line
    kind: Literal["tracer_gas", "room_co2"]
    instrument: Id
    outdoor: q.MoleFractionSeries
    supply: q.MoleFractionSeries
    return_: Annotated[q.MoleFractionSeries, Field(alias="return")]
    exhaust: q.MoleFractionSeries | None = None
    background: q.MoleFractionSeries | None = None  # outdoors before the release


class SealPressures(q.Closed):
    """Supply side less exhaust side at the two faces, with its sign."""

    instrument: Id
    supply_minus_return: q.PressureSeries | None = None
    outdoor_minus_exhaust: q.PressureSeries | None = None

    @model_validator(mode="after")
    def _any(self) -> "SealPressures":
        if self.supply_minus_return is None and self.outdoor_minus_exhaust is None:
            raise ValueError("give the pressure at one face at least")
        return self


class AddedPower(q.Closed):
    """What the exchanger costs in electric power: to press both streams through it, and for its own drive.

    An efficiency is of the stream's fan with drive and motor; where none is given, that of the same fan in `fans`.
    """

    supply_drop: q.Pressure
    exhaust_drop: q.Pressure
    instrument: Id | None = None  # with which the drops were read
    supply_efficiency: Annotated[q.Number, Field(ge=0.05, le=1.0)] | None = None
    exhaust_efficiency: Annotated[q.Number, Field(ge=0.05, le=1.0)] | None = None
    drive: q.Power | None = None  # of the wheel's motor or the loop's pump

    @model_validator(mode="after")
    def _drops(self) -> "AddedPower":
        if min(q.si(self.supply_drop), q.si(self.exhaust_drop)) <= 0.0:
            raise ValueError("a pressure drop over the exchanger is above 0: entering less leaving side")
        return self


class ExchangerPayload(FieldRecord):
    """One exchanger of the unit, by its name in the design. What was not read is left out."""

    exchanger: Annotated[str, StringConstraints(min_length=1, max_length=200)] = "core"
    stations: Annotated[list[Station], Field(max_length=4)] = []
    duration: q.Duration | None = None  # from the first reading to the last
    pressure: q.StationPressure | None = None  # common to the stations; else from the site's elevation
    frost: Literal["none", "seen", "defrosting", "not_seen"] = "not_seen"
    coil_between: Literal["none", "off", "on", "not_seen"] = "not_seen"  # between any sensor and the exchanger
    fans: Annotated[list[StreamFan], Field(max_length=2)] = []
    flows: Annotated[list[Flow], Field(max_length=4)] = []
    wheel: Wheel | None = None
    concentrations: Concentrations | None = None
    seal_pressures: SealPressures | None = None
    added_power: AddedPower | None = None

    @model_validator(mode="after")
    def _each_once(self) -> "ExchangerPayload":
        for what, names in (
            ("station", [one.station for one in self.stations]),
            ("flow", [one.port for one in self.flows]),
            ("fan", [one.stream for one in self.fans]),
        ):
            if len(names) != len(set(names)):
                raise ValueError(f"a {what} stands twice; send a second test as an envelope of its own")
        if not (self.stations or self.wheel or self.concentrations or self.seal_pressures):
            raise ValueError("nothing was read: give stations, a wheel's speed, concentrations or seal pressures")
        return self

    def station(self, role: str) -> Station | None:
        return next((one for one in self.stations if one.station == role), None)

    def flow(self, *ports: str) -> Flow | None:
        """The flow at the first of these ports at which one was read."""
        return next((one for port in ports for one in self.flows if one.port == port), None)

    def fan(self, stream: str) -> StreamFan | None:
        return next((one for one in self.fans if one.stream == stream), None)
