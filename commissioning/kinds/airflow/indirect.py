"""What a technician sends where the airflow follows from other readings: a rated part, a fan curve, a mixed stream."""

from typing import Annotated, Literal

import numpy as np
from pydantic import Field, model_validator

from commissioning.dossier import quantities as q
from commissioning.dossier.envelope import Id
from commissioning.dossier.field_record import Air
from commissioning.engineering.fan_curve import SPEED_RATIO_RANGE, FanCurve, fan_curve
from commissioning.engineering.pressure_drop import RatedCurve, rated_curve

Basis = Literal["actual", "standard"]


class RatedPoint(q.Closed):
    """One rated point of a part, clean and dry, or one point of a fan's curve."""

    airflow: q.Airflow
    pressure: q.Pressure


Points = Annotated[list[RatedPoint], Field(min_length=2, max_length=24)]


def _columns(points: list[RatedPoint], inch_of_water_pa: float | None) -> tuple[list[float], list[float]]:
    inch = {} if inch_of_water_pa is None else {"inch_of_water_pa": inch_of_water_pa}
    return [q.si(one.airflow) for one in points], [q.si(one.pressure, **inch) for one in points]


class PartState(q.Closed):
    """How the part was when it was read. What it cannot have is `none`; what nobody looked at is `not_seen`."""

    surface: Literal["clean", "dirty", "not_seen"] = "not_seen"
    moisture: Literal["dry", "wet", "not_seen"] = "not_seen"
    bypass: Literal["closed", "open", "none", "not_seen"] = "not_seen"
    frost: Literal["none", "frosted", "not_seen"] = "not_seen"


class PressureDrop(q.Closed):
    """Repeated readings of the drop over a core, filter or coil, and its maker's rated points."""

    method: Literal["pressure_drop"]
    part: Literal["core", "filter", "coil"]
    rated: Points
    rated_density: q.Density | None = None  # else the project's standard density
    rated_dry_bulb: q.Temperature | None = None  # else 20 °C
    readings: q.PressureSeries
    condition: PartState

    def curve(self, inch_of_water_pa: float | None = None) -> RatedCurve:
        flows, drops = _columns(self.rated, inch_of_water_pa)
        return rated_curve(airflows_m3_s=np.array(flows), pressure_drops_pa=np.array(drops))

    @model_validator(mode="after")
    def _points_make_a_curve(self) -> "PressureDrop":
        try:
            self.curve()
        except ValueError as error:
            raise ValueError(f"the rated points make no curve: {error}") from None
        return self


class FanOnItsCurve(q.Closed):
    """Fan pressure and speed, and the points of the fan's maker. All pressures are static, or all are total."""

    method: Literal["fan_curve"]
    pressures: Literal["static", "total"]
    points: Points
    curve_speed: q.Speed
    curve_density: q.Density
    speed: q.SpeedSeries
    speed_instrument: Id | None = None  # none: read off a drive or a controller
    readings: q.PressureSeries  # of the fan pressure

    def curve(self, inch_of_water_pa: float | None = None) -> FanCurve:
        flows, pressures = _columns(self.points, inch_of_water_pa)
        return fan_curve(
            airflows_m3_s=np.array(flows),
            pressures_pa=np.array(pressures),
            speed_rpm=q.si(self.curve_speed),
            density_kg_m3=q.si(self.curve_density),
        )

    @model_validator(mode="after")
    def _points_make_a_curve(self) -> "FanOnItsCurve":
        made = self.curve()
        low, high = (end * made.speed_rpm for end in SPEED_RATIO_RANGE)
        speeds = q.si_values(self.speed)
        if not all(low <= speed <= high for speed in speeds):
            raise ValueError(f"the speed lies outside {low:.0f} to {high:.0f} rpm, so the curve cannot be scaled to it")
        if min(q.si_values(self.readings)) < 0.0:
            raise ValueError("a fan pressure is not negative: are the hoses swapped?")
        return self


class StreamReading(q.Closed):
    """One of the three streams, read at one or more points."""

    temperature: q.TemperatureSeries | None = None
    relative_humidity: q.RelativeHumiditySeries | None = None
    co2: q.CarbonDioxideSeries | None = None
    instrument: Id | None = None  # else the port's: one instrument carried to all three places
    humidity_instrument: Id | None = None  # else the one of the temperature


NEEDED = {"temperature": {"temperature"}, "enthalpy": {"temperature", "relative_humidity"}, "co2": {"co2"}}


class SupplyFlow(q.Closed):
    """The supply airflow of that moment: by an instrument, or with the expanded uncertainty (k = 2) it came with."""

    readings: q.AirflowSeries
    basis: Basis
    air: Air | None = None  # of the supply air; else the common one
    instrument: Id | None = None
    expanded_uncertainty: q.Airflow | None = None

    @model_validator(mode="after")
    def _known_how_well(self) -> "SupplyFlow":
        if (self.instrument is None) == (self.expanded_uncertainty is None):
            raise ValueError("give the supply airflow's instrument, or its expanded uncertainty, one of the two")
        if max(q.si_values(self.readings)) <= 0.0:
            raise ValueError("no supply air has no outdoor part")
        return self


class OutdoorFraction(q.Closed):
    """The outdoor air as a fraction of the supply air, by what was read of three streams.

    `mixed` is read before the fan; by CO2 it may be the supply air.
    """

    method: Literal["outdoor_fraction"]
    by: Literal["temperature", "enthalpy", "co2"]
    outdoor: StreamReading
    returned: StreamReading
    mixed: StreamReading
    supply: SupplyFlow

    @property
    def streams(self) -> dict[str, StreamReading]:
        return {"mixed": self.mixed, "return": self.returned, "outdoor": self.outdoor}

    @model_validator(mode="after")
    def _what_it_takes(self) -> "OutdoorFraction":
        needed = NEEDED[self.by]
        for name, stream in self.streams.items():
            given = {one for one in ("temperature", "relative_humidity", "co2") if getattr(stream, one) is not None}
            if given != needed:
                wanted = " and ".join(one.replace("_", " ") for one in sorted(needed, reverse=True))
                raise ValueError(f"by {self.by}, the {name} air has {wanted} and nothing else")
        return self

    def instruments(self) -> list[str]:
        """Those that it names itself, beside the port's."""
        named = [one for stream in self.streams.values() for one in (stream.instrument, stream.humidity_instrument)]
        return [str(one) for one in (*named, self.supply.instrument) if one is not None]
