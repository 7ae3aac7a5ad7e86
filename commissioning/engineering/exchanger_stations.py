"""The air at an exchanger from the air at the sensors: a fan between the two warms it, and adds no moisture."""

from __future__ import annotations

import numpy as np

from commissioning.engineering.guards import FloatOrArray, plain, within
from commissioning.engineering.moist_air import moist_air_heat_capacity_j_kg_k

_RISE_RANGE_K = (-1.0, 20.0)  # below zero only by the uncertainty of a small one


def fan_rise_from_power_k(
    *, power_w: FloatOrArray, share_in_stream: FloatOrArray, mass_flow_kg_s: FloatOrArray, humidity_ratio: FloatOrArray
) -> FloatOrArray:
    """Return by how much a fan warms its stream, from the electric power that it draws.

        dT = s P / (m (1006 + 1860 W))

    Args:
        power_w: electric power of the motor, with its drive if that stands in the stream too, P [W], 0 to 500 000.
        share_in_stream: s, 1 where the motor stands in the stream, its efficiency where it stands outside [-], 0 to 1.
        mass_flow_kg_s: dry-air mass flow of the stream m [kg/s], above 0.
        humidity_ratio: W of the stream [kg/kg], 0 to 1.

    Raises:
        OutOfRange: an argument lies outside.

    Source: energy balance of the stream.

    Example:
        >>> round(fan_rise_from_power_k(power_w=1500.0, share_in_stream=1.0, mass_flow_kg_s=1.2,
        ...     humidity_ratio=0.0), 3)
        1.243
    """
    power = within("fan power", power_w, 0.0, 500_000.0, "W")
    share = within("share in the stream", share_in_stream, 0.0, 1.0, "")
    flow = within("mass flow", mass_flow_kg_s, 1e-6, 5000.0, "kg/s")
    return plain(share * power / (flow * moist_air_heat_capacity_j_kg_k(humidity_ratio=humidity_ratio)))


def temperature_at_exchanger_c(*, dry_bulb_c: FloatOrArray, fan_rise_k: FloatOrArray, entering: bool) -> FloatOrArray:
    """Return the temperature at the exchanger's face where a fan stands between it and the sensor.

        entering: t = t_read + dT;  leaving: t = t_read - dT

    Args:
        dry_bulb_c: as read t_read [degC], -60 to 100.
        fan_rise_k: of the fan between sensor and exchanger dT, 0 where there is none [K].
        entering: the air goes from the sensor to the exchanger.

    Raises:
        OutOfRange: an argument lies outside.

    Source: energy balance of the stream.

    Example:
        >>> temperature_at_exchanger_c(dry_bulb_c=18.2, fan_rise_k=1.2, entering=False)
        17.0
    """
    read = within("dry bulb", dry_bulb_c, -60.0, 100.0, "degC")
    rise = within("fan temperature rise", fan_rise_k, *_RISE_RANGE_K, "K")
    return plain(np.add(read, rise) if entering else np.subtract(read, rise))


def dry_air_mass_flow_kg_s(
    *,
    airflow_m3_s: FloatOrArray,
    density_kg_m3: FloatOrArray,
    humidity_ratio: FloatOrArray,
) -> FloatOrArray:
    """Return the dry-air mass flow of an airflow: actual with the density at its plane, standard with the standard one.

        m = q rho / (1 + W)

    Args:
        airflow_m3_s: q [m3/s], 0 to 2000.
        density_kg_m3: rho of the moist air, or the standard density for a standard airflow [kg/m3], 0.3 to 3.
        humidity_ratio: W at the plane [kg/kg], 0 to 1.

    Raises:
        OutOfRange: an argument lies outside.

    Source: conservation of mass.

    Example:
        >>> round(dry_air_mass_flow_kg_s(airflow_m3_s=1.0, density_kg_m3=1.2, humidity_ratio=0.01), 4)
        1.1881
    """
    flow = within("airflow", airflow_m3_s, 0.0, 2000.0, "m3/s")
    density = within("density", density_kg_m3, 0.3, 3.0, "kg/m3")
    return plain(flow * density / (1.0 + within("humidity ratio", humidity_ratio, 0.0, 1.0, "kg/kg")))
