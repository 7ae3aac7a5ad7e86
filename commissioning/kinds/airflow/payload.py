"""What a technician sends about the airflow of a unit: one or more ports, each by a stated method."""

from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator

from commissioning.dossier import quantities as q
from commissioning.dossier.envelope import Id
from commissioning.dossier.field_record import Air, FieldRecord
from commissioning.kinds.airflow.indirect import Basis, FanOnItsCurve, OutdoorFraction, PressureDrop

Port = Literal["supply", "return", "outdoor", "exhaust"]


class Rectangular(q.Closed):
    shape: Literal["rectangular"]
    width: q.Length
    height: q.Length


class Round(q.Closed):
    shape: Literal["round"]
    diameter: q.Length


Diameters = Annotated[q.Number, Field(ge=0, le=200)]


class Traverse(q.Closed):
    """Readings over a plane. Velocities are averaged, never pressures."""

    method: Literal["traverse"]
    reads: Literal["velocity_pressure", "velocity"]
    plane: Annotated[Rectangular | Round, Field(discriminator="shape")]
    layout: Literal["log_tchebycheff", "log_linear", "equal_area", "other"]
    readings: q.Series
    probe_coefficient: Annotated[q.Number, Field(ge=0.5, le=1.2)] = 1.0
    straight_upstream_diameters: Diameters | None = None
    straight_downstream_diameters: Diameters | None = None

    @model_validator(mode="after")
    def _readings_fit(self) -> "Traverse":
        if self.reads == "velocity_pressure":
            q.check("pressure", -5_000.0, 10_000.0, self.readings.values, self.readings.unit)
        else:
            q.check("velocity", -60.0, 60.0, self.readings.values, self.readings.unit)
        return self


class Hood(q.Closed):
    """Repeated readings of a capture hood at one port.

    Its back pressure: taken out by flaps or a fan of its own, or not. A factor from a traverse stands for that too,
    at the same kind of outlet and near the reading (`factor_airflow`) at which it was derived.
    """

    method: Literal["hood"]
    readings: q.AirflowSeries
    factor: Annotated[q.Number, Field(ge=0.3, le=3.0)] = 1.0
    factor_airflow: q.Airflow | None = None
    back_pressure: Literal["compensated", "not_compensated", "not_known"] = "not_known"
    near_branch: bool | None = None
    basis: Basis

    @model_validator(mode="after")
    def _factor_was_derived_on_air(self) -> "Hood":
        if self.factor_airflow is not None and q.si(self.factor_airflow) <= 0.0:
            raise ValueError("the reading at which the factor was derived lies above 0")
        return self


class Station(q.Closed):
    """Repeated readings of a flow station or fan-inlet ring with its factor K.

    `other_factors` are those of the maker's other sizes: a wrong one is a common mistake, and is asked about.
    """

    method: Literal["station"]
    factor: q.StationFactor
    other_factors: Annotated[list[q.StationFactor], Field(max_length=20)] = []
    reference_density: q.Density
    readings: q.PressureSeries


class Direct(q.Closed):
    """Repeated readings of the airflow itself."""

    method: Literal["direct"]
    readings: q.AirflowSeries
    basis: Basis


class Reported(q.Closed):
    """A value out of somebody else's report."""

    method: Literal["reported"]
    airflow: q.Airflow
    basis: Basis
    report: Annotated[str, StringConstraints(min_length=1, max_length=200)]
    by: Annotated[str, StringConstraints(min_length=1, max_length=200)]


Method = Annotated[
    Traverse | Hood | Station | Direct | Reported | PressureDrop | FanOnItsCurve | OutdoorFraction,
    Field(discriminator="method"),
]


class PortReading(q.Closed):
    port: Port
    air: Air | None = None
    instrument: Id | None = None
    method: Method

    @model_validator(mode="after")
    def _instrument_is_named(self) -> "PortReading":
        if self.instrument is None and not isinstance(self.method, Reported):
            raise ValueError("name the instrument; only a reported value has none")
        if isinstance(self.method, OutdoorFraction) and self.port != "outdoor":
            raise ValueError("an outdoor fraction gives the airflow of the outdoor air, and of no other port")
        return self

    def instruments(self) -> tuple[str, ...]:
        """Every instrument that it rests on, that of the port first."""
        method = self.method
        named = [str(self.instrument)] if self.instrument else []
        if isinstance(method, OutdoorFraction):
            named += method.instruments()
        elif isinstance(method, FanOnItsCurve) and method.speed_instrument is not None:
            named.append(str(method.speed_instrument))
        return tuple(dict.fromkeys(named))


class FanReading(q.Closed):
    fan: Literal["supply", "exhaust"]
    control: Literal["constant_speed", "constant_airflow", "pressure", "follows", "not_seen"] = "not_seen"
    speed: q.Speed | None = None
    command: q.Share | None = None
    current: q.CurrentSeries | None = None
    voltage: q.VoltageSeries | None = None
    power: q.Power | None = None


class StaticPressure(q.Closed):
    at: Annotated[str, StringConstraints(pattern=r"^[a-z_]{2,40}$")]
    pressure: q.Pressure


class CarbonDioxide(q.Closed):
    """CO2 where the controller reads it, by an instrument of ours, and what the controller shows at that moment."""

    readings: q.CarbonDioxideSeries
    instrument: Id
    controller: q.MoleFraction | None = None


class AirflowPayload(FieldRecord):
    """Four totals of a small unit are simply four entries in `ports`."""

    co2: CarbonDioxide | None = None
    ports: Annotated[list[PortReading], Field(min_length=1, max_length=8)]
    fans: Annotated[list[FanReading], Field(max_length=4)] = []
    static_pressures: Annotated[list[StaticPressure], Field(max_length=40)] = []

    @model_validator(mode="after")
    def _each_port_once(self) -> "AirflowPayload":
        ports = [one.port for one in self.ports]
        if len(ports) != len(set(ports)):
            raise ValueError("a port stands twice; send the second method as an envelope of its own")
        return self
