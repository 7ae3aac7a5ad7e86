"""The state of moist air from what a technician reads, its density and its viscosity, in perfect-gas form.

Humidity ratio, enthalpy and specific volume are per kilogram of dry air; density is of the moist air. Against
the real-gas tables the volume agrees within 0.1 % at normal conditions.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from commissioning.engineering.guards import FloatOrArray, plain, within
from commissioning.engineering.humidity import (
    DRY_BULB_RANGE_C,
    PRESSURE_RANGE_PA,
    dew_point_c,
    humidity_ratio_from_dew_point,
    humidity_ratio_from_relative_humidity,
    humidity_ratio_from_vapour_pressure,
    humidity_ratio_from_wet_bulb,
    relative_humidity_from_humidity_ratio,
    saturation_pressure_pa,
    wet_bulb_c,
)

__all__ = [
    "MoistAir",
    "dew_point_c",
    "dry_air_density_kg_m3",
    "humidity_ratio_from_dew_point",
    "humidity_ratio_from_relative_humidity",
    "humidity_ratio_from_vapour_pressure",
    "humidity_ratio_from_wet_bulb",
    "moist_air",
    "moist_air_density_kg_m3",
    "moist_air_enthalpy_j_kg",
    "moist_air_heat_capacity_j_kg_k",
    "pressure_at_elevation_pa",
    "relative_humidity_from_humidity_ratio",
    "saturation_pressure_pa",
    "specific_volume_m3_kg",
    "viscosity_pa_s",
    "wet_bulb_c",
]

DRY_AIR_GAS_CONSTANT_J_KG_K = 287.042
_KELVIN = 273.15


@dataclass(frozen=True, slots=True)
class MoistAir:
    """One state of moist air, or an array of states.

    Attributes:
        dry_bulb_c: dry-bulb temperature [degC].
        humidity_ratio: mass of water vapour per mass of dry air [kg/kg].
        pressure_pa: absolute pressure [Pa].
        density_kg_m3: mass of dry air and vapour per volume [kg/m3].
        relative_humidity: vapour pressure over saturation pressure [-].
        enthalpy_j_kg: enthalpy per mass of dry air, zero for dry air at 0 degC [J/kg].
        wet_bulb_c: thermodynamic wet-bulb temperature [degC], where it was given; see `wet_bulb_c`.
    """

    dry_bulb_c: FloatOrArray
    humidity_ratio: FloatOrArray
    pressure_pa: FloatOrArray
    density_kg_m3: FloatOrArray
    relative_humidity: FloatOrArray
    enthalpy_j_kg: FloatOrArray
    wet_bulb_c: FloatOrArray | None = None


def moist_air(
    *,
    dry_bulb_c: FloatOrArray,
    pressure_pa: FloatOrArray | None = None,
    elevation_m: FloatOrArray | None = None,
    relative_humidity: FloatOrArray | None = None,
    wet_bulb_c: FloatOrArray | None = None,
    dew_point_c: FloatOrArray | None = None,
    humidity_ratio: FloatOrArray | None = None,
) -> MoistAir:
    """Return the state of moist air from dry bulb, pressure or elevation, and exactly one reading of humidity.

    A wet bulb below 0 degC is that of an iced wick, a dew point below 0.01 degC a frost point.

    Args:
        dry_bulb_c: dry-bulb temperature [degC], -100 to 200.
        pressure_pa: absolute pressure as measured there, not "sea-level corrected" [Pa], 20 000 to 180 000; or
        elevation_m: where it was not: height above sea level, for `pressure_at_elevation_pa` [m], -5000 to 11 000.
        relative_humidity: relative humidity as a ratio, not in per cent [-], 0 to 1.
        wet_bulb_c: thermodynamic wet bulb [degC], not above the dry bulb.
        dew_point_c: dew point, or frost point below 0.01 degC [degC], not above the dry bulb.
        humidity_ratio: humidity ratio [kg/kg], not above that of saturation.

    Raises:
        ValueError: none, or more than one, of the four readings of humidity is given, or of pressure and elevation.
        OutOfRange: a reading lies outside its range.

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, perfect-gas relations.

    Example:
        >>> state = moist_air(dry_bulb_c=25.0, pressure_pa=101325.0, relative_humidity=0.5)
        >>> round(state.humidity_ratio, 5), round(state.density_kg_m3, 4), round(state.enthalpy_j_kg)
        (0.00988, 1.177, 50322)
    """
    readings = (relative_humidity, wet_bulb_c, dew_point_c, humidity_ratio)
    given = sum(reading is not None for reading in readings)
    if given != 1:
        raise ValueError(
            f"give exactly one of relative_humidity, wet_bulb_c, dew_point_c and humidity_ratio; {given} were given"
        )
    if elevation_m is not None and pressure_pa is None:
        pressure_pa = pressure_at_elevation_pa(elevation_m=elevation_m)
    elif pressure_pa is None or elevation_m is not None:
        raise ValueError("give either pressure_pa, as measured, or elevation_m")
    if relative_humidity is not None:
        ratio = humidity_ratio_from_relative_humidity(
            dry_bulb_c=dry_bulb_c, relative_humidity=relative_humidity, pressure_pa=pressure_pa
        )
    elif wet_bulb_c is not None:
        ratio = humidity_ratio_from_wet_bulb(dry_bulb_c=dry_bulb_c, wet_bulb_c=wet_bulb_c, pressure_pa=pressure_pa)
    elif dew_point_c is not None:
        within("dew point", dew_point_c, DRY_BULB_RANGE_C[0], dry_bulb_c, "degC")
        ratio = humidity_ratio_from_dew_point(dew_point_c=dew_point_c, pressure_pa=pressure_pa)
    else:
        assert humidity_ratio is not None
        ratio = humidity_ratio
    relative = relative_humidity_from_humidity_ratio(
        dry_bulb_c=dry_bulb_c, humidity_ratio=ratio, pressure_pa=pressure_pa
    )
    return MoistAir(
        dry_bulb_c=plain(dry_bulb_c),
        humidity_ratio=plain(ratio),
        pressure_pa=plain(pressure_pa),
        density_kg_m3=moist_air_density_kg_m3(dry_bulb_c=dry_bulb_c, humidity_ratio=ratio, pressure_pa=pressure_pa),
        relative_humidity=relative,
        enthalpy_j_kg=moist_air_enthalpy_j_kg(dry_bulb_c=dry_bulb_c, humidity_ratio=ratio),
        wet_bulb_c=None if wet_bulb_c is None else plain(wet_bulb_c),
    )


def pressure_at_elevation_pa(*, elevation_m: FloatOrArray) -> FloatOrArray:
    """Return the pressure of the standard atmosphere, for where the barometer was not read.

        p = 101 325 (1 - 2.25577e-5 Z)^5.2559

    Weather moves the true pressure by about +-2 %; a measured one is always better, and a weather report's
    "sea-level" pressure is not one.

    Args:
        elevation_m: height above sea level Z [m], -5000 to 11 000.

    Raises:
        OutOfRange: the elevation lies outside.

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 3.

    Example:
        >>> round(pressure_at_elevation_pa(elevation_m=500.0))
        95461
    """
    elevation = within("elevation", elevation_m, -5000.0, 11_000.0, "m")
    return plain(101_325.0 * (1.0 - 2.25577e-5 * elevation) ** 5.2559)


def specific_volume_m3_kg(
    *, dry_bulb_c: FloatOrArray, humidity_ratio: FloatOrArray, pressure_pa: FloatOrArray
) -> FloatOrArray:
    """Return the volume of moist air per kilogram of dry air.

        v = 287.042 (t + 273.15) (1 + 1.607858 W) / p

    Args:
        dry_bulb_c: dry-bulb temperature t [degC], -100 to 200.
        humidity_ratio: humidity ratio W [kg/kg], 0 to 1.
        pressure_pa: absolute pressure p [Pa], 20 000 to 180 000.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 26.

    Example:
        >>> round(specific_volume_m3_kg(dry_bulb_c=40.0, humidity_ratio=0.0064008, pressure_pa=101325.0), 4)
        0.8962
    """
    dry_bulb = within("dry bulb", dry_bulb_c, *DRY_BULB_RANGE_C, "degC")
    ratio = within("humidity ratio", humidity_ratio, 0.0, 1.0, "kg/kg")
    pressure = within("pressure", pressure_pa, *PRESSURE_RANGE_PA, "Pa")
    return plain(DRY_AIR_GAS_CONSTANT_J_KG_K * (dry_bulb + _KELVIN) * (1.0 + 1.607858 * ratio) / pressure)


def moist_air_density_kg_m3(
    *, dry_bulb_c: FloatOrArray, humidity_ratio: FloatOrArray, pressure_pa: FloatOrArray
) -> FloatOrArray:
    """Return the density of moist air, vapour included.

        rho = (1 + W) / v

    Args:
        dry_bulb_c: dry-bulb temperature [degC], -100 to 200.
        humidity_ratio: humidity ratio W [kg/kg], 0 to 1.
        pressure_pa: absolute pressure [Pa], 20 000 to 180 000.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 9b.

    Example:
        >>> round(moist_air_density_kg_m3(dry_bulb_c=30.0, humidity_ratio=0.02, pressure_pa=95461.0), 5)
        1.08412
    """
    volume = specific_volume_m3_kg(dry_bulb_c=dry_bulb_c, humidity_ratio=humidity_ratio, pressure_pa=pressure_pa)
    return plain((1.0 + np.asarray(humidity_ratio, dtype=np.float64)) / volume)


def dry_air_density_kg_m3(
    *, dry_bulb_c: FloatOrArray, humidity_ratio: FloatOrArray, pressure_pa: FloatOrArray
) -> FloatOrArray:
    """Return the mass of dry air in a cubic metre of moist air, for flows of dry air through an exchanger.

        rho_da = 1 / v

    Args:
        dry_bulb_c: dry-bulb temperature [degC], -100 to 200.
        humidity_ratio: humidity ratio [kg/kg], 0 to 1.
        pressure_pa: absolute pressure [Pa], 20 000 to 180 000.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 26.

    Example:
        >>> round(dry_air_density_kg_m3(dry_bulb_c=20.0, humidity_ratio=0.0, pressure_pa=101325.0), 4)
        1.2042
    """
    volume = specific_volume_m3_kg(dry_bulb_c=dry_bulb_c, humidity_ratio=humidity_ratio, pressure_pa=pressure_pa)
    return plain(1.0 / np.asarray(volume))


def moist_air_enthalpy_j_kg(*, dry_bulb_c: FloatOrArray, humidity_ratio: FloatOrArray) -> FloatOrArray:
    """Return the enthalpy of moist air per kilogram of dry air, zero for dry air at 0 degC.

        h = 1006 t + W (2 501 000 + 1860 t)

    Args:
        dry_bulb_c: dry-bulb temperature t [degC], -100 to 200.
        humidity_ratio: humidity ratio W [kg/kg], 0 to 1.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 30.

    Example:
        >>> moist_air_enthalpy_j_kg(dry_bulb_c=30.0, humidity_ratio=0.02)
        81316.0
    """
    dry_bulb = within("dry bulb", dry_bulb_c, *DRY_BULB_RANGE_C, "degC")
    ratio = within("humidity ratio", humidity_ratio, 0.0, 1.0, "kg/kg")
    return plain(1006.0 * dry_bulb + ratio * (2_501_000.0 + 1860.0 * dry_bulb))


def moist_air_heat_capacity_j_kg_k(*, humidity_ratio: FloatOrArray) -> FloatOrArray:
    """Return the heat capacity of moist air per kilogram of dry air at constant humidity ratio.

        c_p = 1006 + 1860 W

    Args:
        humidity_ratio: humidity ratio W [kg/kg], 0 to 1.

    Raises:
        OutOfRange: the humidity ratio lies outside.

    Source: the derivative of ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 30.

    Example:
        >>> moist_air_heat_capacity_j_kg_k(humidity_ratio=0.01)
        1024.6
    """
    return plain(1006.0 + 1860.0 * within("humidity ratio", humidity_ratio, 0.0, 1.0, "kg/kg"))


def viscosity_pa_s(*, temperature_c: FloatOrArray) -> FloatOrArray:
    """Return the dynamic viscosity of dry air by Sutherland's law, within 1 %; humidity is left out.

        mu = 1.458e-6 T^1.5 / (T + 110.4)

    Args:
        temperature_c: temperature [degC], -100 to 200.

    Raises:
        OutOfRange: the temperature lies outside.

    Source: U.S. Standard Atmosphere 1976, eq. 51 (from memory).

    Example:
        >>> round(viscosity_pa_s(temperature_c=20.0) * 1e6, 2)
        18.13
    """
    kelvin = within("temperature", temperature_c, *DRY_BULB_RANGE_C, "degC") + _KELVIN
    return plain(1.458e-6 * kelvin**1.5 / (kelvin + 110.4))
