"""The density of the air at a plane, from what was read of it, and how well it is known."""

from dataclasses import dataclass
from functools import lru_cache

from commissioning.dossier.field_record import Air
from commissioning.dossier.quantities import si
from commissioning.engineering.moist_air import moist_air, pressure_at_elevation_pa

# How well a density is known, relative and k = 1. Common practice, no source.
MEASURED = 0.003  # 0.5 K and 2 hPa
BY_ELEVATION = 0.010  # weather moves the pressure by about 1 %
ASSUMED = 0.030  # no air condition given: 20 °C ± 10 K, 50 %
ASSUMED_DRY_BULB_C = 20.0
ASSUMED_RELATIVE_HUMIDITY = 0.5


@dataclass(frozen=True, slots=True)
class Density:
    density_kg_m3: float
    relative_standard_uncertainty: float
    source: str
    remark: str = ""


@lru_cache(maxsize=256)  # the ports of one record share their air, and so do records of one plant room
def density_of(air: Air | None, elevation_m: float, inch_of_water_pa: float) -> Density:
    """From dry bulb, humidity and pressure; what is missing is assumed, said, and widens the uncertainty."""
    pressure = float(pressure_at_elevation_pa(elevation_m=elevation_m))
    source, relative = "pressure from the site's elevation", BY_ELEVATION
    if air is None:
        state = moist_air(
            dry_bulb_c=ASSUMED_DRY_BULB_C,
            pressure_pa=pressure,
            relative_humidity=ASSUMED_RELATIVE_HUMIDITY,
        )
        remark = "No air condition was given: 20 °C, 50 % at the site's elevation is assumed."
        return Density(float(state.density_kg_m3), ASSUMED, "assumed", remark)
    if air.pressure is not None:
        pressure = si(air.pressure, inch_of_water_pa=inch_of_water_pa)
        source, relative = "measured air condition", MEASURED
    humidity = {
        "wet_bulb_c": air.wet_bulb,
        "relative_humidity": air.relative_humidity,
        "dew_point_c": air.dew_point,
        "humidity_ratio": air.humidity_ratio,
    }
    given = {name: si(value) for name, value in humidity.items() if value is not None}
    remark = ""
    if not given:
        given = {"relative_humidity": ASSUMED_RELATIVE_HUMIDITY}
        remark = "No humidity was given: 50 % is assumed."
    if "relative_humidity" in given:
        given["relative_humidity"] = min(1.0, given["relative_humidity"])
    state = moist_air(dry_bulb_c=si(air.dry_bulb), pressure_pa=pressure, **given)
    return Density(float(state.density_kg_m3), relative, source, remark)
