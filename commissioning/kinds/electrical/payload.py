"""What a qualified person sends about the motors of a unit: per fan, what was read and what was seen."""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from commissioning.dossier import quantities as q
from commissioning.dossier.envelope import Id
from commissioning.dossier.field_record import FieldRecord
from commissioning.dossier.motor import LEAST_CURRENT_A, LEAST_POWER_W, LEAST_VOLTAGE_V

Fraction = Annotated[q.Number, Field(ge=0.0, le=1.0)]
ServiceFactor = Annotated[q.Number, Field(ge=1.0, le=1.5)]
TemperatureRise = Annotated[q.Number, Field(ge=10.0, le=150.0)]
_LEAST = {"current": LEAST_CURRENT_A, "voltage": LEAST_VOLTAGE_V, "power": LEAST_POWER_W, "speed": 1.0}


def _one_or_three(values: list[float], what: str) -> None:
    if len(values) not in (1, 3):
        raise ValueError(f"a motor has one or three {what}, not {len(values)}")


class VoltageReading(q.Closed):
    """Three readings go round: first to second, second to third, third to first; or each line to neutral."""

    instrument: Id | None = None
    between: Literal["lines", "line_and_neutral"]
    readings: q.VoltageSeries

    @model_validator(mode="after")
    def _phases(self) -> "VoltageReading":
        _one_or_three(self.readings.values, "voltages")
        return self


class CurrentReading(q.Closed):
    """The legs, in the order of the voltages."""

    instrument: Id | None = None
    readings: q.CurrentSeries

    @model_validator(mode="after")
    def _phases(self) -> "CurrentReading":
        _one_or_three(self.readings.values, "legs")
        return self


class PowerReading(q.Closed):
    """All phases together, by a power meter."""

    instrument: Id | None = None
    power: q.Power


class PowerFactorReading(q.Closed):
    instrument: Id | None = None
    values: Annotated[list[Fraction], Field(min_length=1, max_length=3)]

    @model_validator(mode="after")
    def _phases(self) -> "PowerFactorReading":
        _one_or_three(self.values, "power factors")
        return self


class SpeedReading(q.Closed):
    instrument: Id | None = None
    of: Literal["fan", "motor"]
    by: Literal["tachometer", "strobe", "drive_display", "controller"]
    speed: q.Speed

    @model_validator(mode="after")
    def _instrument_is_named(self) -> "SpeedReading":
        if self.instrument is None and self.by in ("tachometer", "strobe"):
            raise ValueError(f"name the {self.by}")
        return self


class DriveDisplay(q.Closed):
    """What the drive shows of its own output. A clamp on its input reads something else."""

    frequency: q.Frequency | None = None
    current: q.Current | None = None
    power: q.Power | None = None

    @model_validator(mode="after")
    def _something(self) -> "DriveDisplay":
        if self.frequency is None and self.current is None and self.power is None:
            raise ValueError("say what the drive shows: its frequency, current or power")
        return self


class Overload(q.Closed):
    """Where the motor's overload protection sits, and what it is set to."""

    protection: Literal["relay", "drive", "in_the_motor", "none", "not_seen"]
    setting: q.Current | None = None
    dial_low: q.Current | None = None
    dial_high: q.Current | None = None

    @model_validator(mode="after")
    def _can_be_set(self) -> "Overload":
        if self.setting is not None and self.protection not in ("relay", "drive"):
            raise ValueError("only the overload protection of a relay or a drive has a setting")
        held = (self.setting, self.dial_low, self.dial_high)
        if any(one is not None and q.si(one) < LEAST_CURRENT_A for one in held):
            raise ValueError(f"an overload setting lies above {LEAST_CURRENT_A:g} A")
        low, high = self.dial_low, self.dial_high
        if low is not None and high is not None and q.si(low) > q.si(high):
            raise ValueError("the lower end of the dial lies above its upper end")
        return self


class Nameplate(q.Closed):
    """The motor's nameplate as somebody saw it, at the voltage that is connected."""

    motor: Literal["single_phase", "three_phase", "electronically_commutated"] | None = None
    phases: Literal[1, 3] | None = None
    current: q.Current | None = None
    voltage: q.Voltage | None = None
    power: q.Power | None = None
    speed: q.Speed | None = None
    service_factor: ServiceFactor | None = None
    temperature_rise_k: TemperatureRise | None = None

    @model_validator(mode="after")
    def _phases_fit(self) -> "Nameplate":
        if (self.motor, self.phases) in (("single_phase", 3), ("three_phase", 1)):
            raise ValueError("the kind of the motor and its phases contradict one another")
        for name, least in _LEAST.items():
            given = getattr(self, name)
            if given is not None and q.si(given) < least:
                raise ValueError(f"a nameplate's {name} is {given.value:g} {given.unit} on no motor")
        return self


class FanElectrical(q.Closed):
    """`read_at`: where the meter was. A motor without a drive is read at `motor`."""

    fan: Literal["supply", "exhaust"]
    read_at: Literal["motor", "drive_input", "drive_output"] = "motor"
    voltage: VoltageReading | None = None
    current: CurrentReading | None = None
    power: PowerReading | None = None
    power_factor: PowerFactorReading | None = None
    frequency: q.Frequency | None = None  # of the mains
    drive: DriveDisplay | None = None
    speed: SpeedReading | None = None
    rotation: Literal["correct", "reversed", "not_seen"] = "not_seen"
    overload: Overload | None = None
    nameplate: Nameplate | None = None

    @property
    def metered(self) -> "tuple[VoltageReading | CurrentReading | PowerReading | PowerFactorReading, ...]":
        held = (self.voltage, self.current, self.power, self.power_factor)
        return tuple(one for one in held if one is not None)

    @model_validator(mode="after")
    def _side_of_the_drive(self) -> "FanElectrical":
        if self.drive is not None and self.read_at == "motor" and self.metered:
            raise ValueError("there is a drive: say whether the meter was on its input or its output")
        nothing = not self.metered and not (self.drive or self.speed or self.overload or self.nameplate)
        if nothing and self.rotation == "not_seen":
            raise ValueError("nothing was read or seen of this fan; leave it out")
        return self


class ElectricalPayload(FieldRecord):
    fans: Annotated[list[FanElectrical], Field(min_length=1, max_length=2)]

    @model_validator(mode="after")
    def _fans_fit(self) -> "ElectricalPayload":
        names = [one.fan for one in self.fans]
        if len(names) != len(set(names)):
            raise ValueError("a fan stands twice; send the second reading as an envelope of its own")
        if self.grade in ("measured", "witnessed"):
            for fan in self.fans:
                if any(one.instrument is None for one in fan.metered):
                    raise ValueError(f"name the meter that read the {fan.fan} fan's motor")
        return self
