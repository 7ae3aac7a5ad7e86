"""Quantities at the door: a number with its unit, from the closed table, within what can be. SI behind it."""

import re
from datetime import date
from functools import lru_cache
from typing import Annotated, Any

import numpy as np
from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from commissioning.engineering import units


class Closed(BaseModel):
    """Base of every payload: what is not named is refused, booleans are no numbers, nothing changes afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def _written_as_a_day(given: Any) -> Any:
    """Pydantic takes seconds since 1970, and a moment at midnight, for a date as well."""
    if isinstance(given, date) or (isinstance(given, str) and _DAY.fullmatch(given)):
        return given
    raise PydanticCustomError("date_type", "no day")


Day = Annotated[date, Field(strict=False), BeforeValidator(_written_as_a_day)]
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]


class Quantity(Closed):
    """`{"value": 1200, "unit": "cfm"}`"""

    value: Number
    unit: str


class Series(Closed):
    """`{"values": [0.21, 0.24], "unit": "in_wc"}`"""

    values: Annotated[list[Number], Field(min_length=1, max_length=400)]
    unit: str


@lru_cache(maxsize=1024)
def _bounds(quantity: str, low: float, high: float, unit: str) -> tuple[float, float]:
    """The ends of a range in a unit, widened by the last bits of the conversion."""
    try:
        units.to_si(1.0, unit, quantity=quantity)
    except (units.UnknownUnit, units.WrongQuantity) as error:
        raise ValueError(f"{error}") from None
    least, most = float(units.from_si(low, unit)), float(units.from_si(high, unit))
    return least - 1e-9 * abs(least), most + 1e-9 * abs(most)


def check(quantity: str, low: float, high: float, values: list[float], unit: str) -> None:
    least, most = _bounds(quantity, low, high, unit)
    for given in values:
        if not least <= given <= most:
            raise ValueError(f"{given:g} {unit} lies outside {least:.4g} to {most:.4g} {unit}")


def check_unit(unit: str) -> None:
    try:
        units.unit(unit)
    except units.UnknownUnit as error:
        raise ValueError(f"{error}") from None


def check_promise(given: Quantity) -> None:
    """What a maker says of an instrument: no budget is worked out from what no instrument can be."""
    check_unit(given.unit)
    if not 0.0 <= given.value <= 1e6:
        raise ValueError(f"{given.value:g} {given.unit} lies outside 0 to 1e+06 {given.unit}")


def _quantity(quantity: str, low: float, high: float) -> Any:
    def fits(given: Quantity) -> Quantity:
        check(quantity, low, high, [given.value], given.unit)
        return given

    extra: Any = {"x-quantity": quantity, "x-units": list(units.codes_of(quantity))}
    return Annotated[Quantity, AfterValidator(fits), Field(json_schema_extra=extra)]


def _series(quantity: str, low: float, high: float) -> Any:
    def fits(given: Series) -> Series:
        check(quantity, low, high, given.values, given.unit)
        return given

    extra: Any = {"x-quantity": quantity, "x-units": list(units.codes_of(quantity))}
    return Annotated[Series, AfterValidator(fits), Field(json_schema_extra=extra)]


# One line per quantity that a payload may hold: what it is, and the least and most in SI that can be meant.
Airflow = _quantity("airflow", 0.0, 500.0)
AirflowSeries = _series("airflow", 0.0, 500.0)
Pressure = _quantity("pressure", -10_000.0, 10_000.0)
PressureSeries = _series("pressure", -5_000.0, 10_000.0)
VelocityPressure = _quantity("pressure", 0.0, 5_000.0)
Setpoint = _quantity("pressure", 1.0, 5_000.0)
StationPressure = _quantity("pressure", 50_000.0, 110_000.0)
VelocitySeries = _series("velocity", -60.0, 60.0)
WindSpeed = _quantity("velocity", 0.0, 60.0)
Temperature = _quantity("temperature", -50.0, 80.0)
TemperatureSeries = _series("temperature", -50.0, 80.0)
RelativeHumidity = _quantity("ratio", 0.0, 1.05)
RelativeHumiditySeries = _series("ratio", 0.0, 1.05)
HumidityRatio = _quantity("humidity ratio", 0.0, 0.1)
HumidityRatioSeries = _series("humidity ratio", 0.0, 0.1)
Length = _quantity("length", 0.02, 20.0)
Area = _quantity("area", 0.0, 1e6)
StationFactor = _quantity("station factor", 1e-6, 100.0)
Density = _quantity("density", 0.5, 2.0)
AirflowPerPerson = _quantity("airflow", 0.0, 0.1)
AirflowPerArea = _quantity("airflow per area", 0.0, 0.01)
MoleFraction = _quantity("mole fraction", 0.0, 0.02)
MoleFractionSeries = _series("mole fraction", 0.0, 0.2)
CarbonDioxideSeries = _series("mole fraction", 0.0, 0.02)
Speed = _quantity("rotational speed", 0.0, 20_000.0)
SpeedSeries = _series("rotational speed", 0.0, 20_000.0)
Share = _quantity("ratio", 0.0, 1.5)
CurrentSeries = _series("current", 0.0, 5_000.0)
VoltageSeries = _series("voltage", 0.0, 15_000.0)
Current = _quantity("current", 0.0, 5_000.0)
Voltage = _quantity("voltage", 0.0, 15_000.0)
Duration = _quantity("time", 0.0, 86_400.0)
Elevation = _quantity("length", -430.0, 6_000.0)
Power = _quantity("power", 0.0, 5_000_000.0)
Frequency = _quantity("frequency", 0.0, 400.0)
SpecificFanPower = _quantity("specific fan power", 0.0, 50_000.0)


def si(given: Any, *, inch_of_water_pa: float = units.INCH_OF_WATER_4C_PA) -> float:
    """The SI value of a `Quantity` or of `{"value", "unit"}`."""
    value, unit = (given["value"], given["unit"]) if isinstance(given, dict) else (given.value, given.unit)
    return float(units.to_si(float(value), unit, inch_of_water_pa=inch_of_water_pa))


def si_values(given: Series, *, inch_of_water_pa: float = units.INCH_OF_WATER_4C_PA) -> list[float]:
    held = np.asarray(units.to_si(np.asarray(given.values), given.unit, inch_of_water_pa=inch_of_water_pa))
    return np.atleast_1d(held).tolist()  # type: ignore[no-any-return]
