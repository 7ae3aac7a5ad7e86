"""Airflow by each method, and the kinds of airflow.

Three kinds of airflow are never mixed: *actual* (the volume that passes, at the density there), *standard* (the
same mass at a stated reference density) and mass flow. A name says which; nothing here converts silently.
"""

from __future__ import annotations

import math

import numpy as np

from commissioning.engineering.agreement import (
    BestEstimate,
    MassClosure,
    MethodsDisagree,
    mass_closure,
    normalised_difference,
    weighted_best_estimate,
)
from commissioning.engineering.guards import FloatArray, FloatOrArray, plain, within
from commissioning.engineering.traverse import DENSITY_RANGE_KG_M3

__all__ = [
    "BestEstimate",
    "MassClosure",
    "MethodsDisagree",
    "actual_airflow_m3_s",
    "airflow_from_velocity_m3_s",
    "duct_area_m2",
    "equivalent_diameter_m",
    "hood_airflow_m3_s",
    "mass_closure",
    "normalised_difference",
    "standard_airflow_m3_s",
    "station_airflow_m3_s",
    "station_mass_flow_kg_s",
    "station_standard_airflow_m3_s",
    "weighted_best_estimate",
]

AIRFLOW_RANGE_M3_S = (0.0, 2000.0)
_SIGNAL_RANGE_PA = (0.0, 10_000.0)


def duct_area_m2(
    *,
    width_m: FloatOrArray | None = None,
    height_m: FloatOrArray | None = None,
    diameter_m: FloatOrArray | None = None,
    lining_m: FloatOrArray = 0.0,
) -> FloatOrArray:
    """Return the free area of a rectangular or round duct.

        A = (a - 2 l)(b - 2 l)   or   A = pi (d - 2 l)^2 / 4

    Args:
        width_m: side a of a rectangular duct [m], 0.01 to 20.
        height_m: side b of a rectangular duct [m], 0.01 to 20.
        diameter_m: diameter d of a round duct [m], 0.01 to 20; instead of the sides.
        lining_m: thickness l of a lining on every wall [m], 0 to less than half of the shortest side.

    Raises:
        ValueError: neither or both shapes are given.
        OutOfRange: a length lies outside.

    Source: geometry.

    Example:
        >>> duct_area_m2(width_m=0.6, height_m=0.4)
        0.24
        >>> round(duct_area_m2(diameter_m=0.3), 5)
        0.07069
    """
    if diameter_m is not None and width_m is None and height_m is None:
        diameter = _free("diameter", diameter_m, lining_m)
        return plain(math.pi * diameter**2 / 4.0)
    if diameter_m is None and width_m is not None and height_m is not None:
        return plain(_free("width", width_m, lining_m) * _free("height", height_m, lining_m))
    raise ValueError("give either diameter_m, or both width_m and height_m")


def equivalent_diameter_m(*, width_m: FloatOrArray, height_m: FloatOrArray) -> FloatOrArray:
    """Return the diameter of the round duct of the same area, in which straight lengths are counted.

        D = sqrt(4 a b / pi)

    Args:
        width_m: side a [m], 0.01 to 20.
        height_m: side b [m], 0.01 to 20.

    Raises:
        OutOfRange: a side lies outside.

    Source: ASHRAE 111 (from memory); the hydraulic diameter 2 a b / (a + b) is another convention.

    Example:
        >>> round(equivalent_diameter_m(width_m=0.6, height_m=0.4), 4)
        0.5528
    """
    return plain(np.sqrt(4.0 * _free("width", width_m, 0.0) * _free("height", height_m, 0.0) / math.pi))


def airflow_from_velocity_m3_s(*, average_velocity_m_s: FloatOrArray, area_m2: FloatOrArray) -> FloatOrArray:
    """Return the actual airflow through a plane.

        q = A v

    Args:
        average_velocity_m_s: mean velocity normal to the plane v [m/s], 0 to 100.
        area_m2: free area of the plane A [m2], 1e-4 to 400.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ISO 3966.

    Example:
        >>> airflow_from_velocity_m3_s(average_velocity_m_s=5.0, area_m2=0.24)
        1.2
    """
    velocity = within("average velocity", average_velocity_m_s, 0.0, 100.0, "m/s")
    return plain(velocity * within("area", area_m2, 1e-4, 400.0, "m2"))


def hood_airflow_m3_s(*, readings_m3_s: FloatOrArray, factor: FloatOrArray = 1.0) -> FloatOrArray:
    """Return the airflow of a port as the sum of the capture-hood readings at all of its outlets.

        q = sum(F q_i)

    Repeated readings of one outlet are to be averaged before. A plain hood adds resistance and lowers the flow
    it reads; that is what the factor, or the hood's own back-pressure compensation, is for.

    Args:
        readings_m3_s: hood reading at each outlet q_i [m3/s], along the last axis; 0 to 2000.
        factor: hood factor F for that kind of outlet [-], 0.3 to 3; one, or one for each outlet.

    Raises:
        OutOfRange: an argument lies outside.

    Source: common practice, no source.

    Example:
        >>> round(hood_airflow_m3_s(readings_m3_s=np.array([0.10, 0.12]), factor=0.95), 6)
        0.209
    """
    readings = within("hood reading", readings_m3_s, *AIRFLOW_RANGE_M3_S, "m3/s")
    corrected = readings * within("hood factor", factor, 0.3, 3.0, "")
    return plain(np.sum(corrected, axis=-1) if corrected.ndim else corrected)


def station_airflow_m3_s(
    *,
    pressure_difference_pa: FloatOrArray,
    factor_m3_s_per_sqrt_pa: FloatOrArray,
    density_kg_m3: FloatOrArray,
    reference_density_kg_m3: FloatOrArray,
) -> FloatOrArray:
    """Return the actual airflow of a flow station or fan-inlet ring from its signal.

        q = K sqrt(dp) sqrt(rho_0 / rho)

    Args:
        pressure_difference_pa: signal dp [Pa], 0 to 10 000.
        factor_m3_s_per_sqrt_pa: factor K [m3/s per root of Pa], as stated for the reference density; 1e-6 to 100.
        density_kg_m3: density of the air at the station rho [kg/m3], 0.3 to 3.
        reference_density_kg_m3: density for which K is stated rho_0 [kg/m3], 0.3 to 3.

    Raises:
        OutOfRange: an argument lies outside.

    Source: Bernoulli; common practice, no source.

    Example:
        >>> q = station_airflow_m3_s(pressure_difference_pa=400.0, factor_m3_s_per_sqrt_pa=120.0 / 3600.0,
        ...     density_kg_m3=1.08, reference_density_kg_m3=1.2)
        >>> round(q * 3600.0, 1)
        2529.8
    """
    signal = _signal(pressure_difference_pa, factor_m3_s_per_sqrt_pa)
    density = _density("density", density_kg_m3)
    return plain(signal * np.sqrt(_density("reference density", reference_density_kg_m3) / density))


def station_mass_flow_kg_s(
    *,
    pressure_difference_pa: FloatOrArray,
    factor_m3_s_per_sqrt_pa: FloatOrArray,
    density_kg_m3: FloatOrArray,
    reference_density_kg_m3: FloatOrArray,
) -> FloatOrArray:
    """Return the mass flow of a flow station or fan-inlet ring from its signal.

        m = K sqrt(dp) sqrt(rho_0 rho)

    Args:
        pressure_difference_pa: signal dp [Pa], 0 to 10 000.
        factor_m3_s_per_sqrt_pa: factor K [m3/s per root of Pa], 1e-6 to 100.
        density_kg_m3: density of the air at the station rho [kg/m3], 0.3 to 3.
        reference_density_kg_m3: density for which K is stated rho_0 [kg/m3], 0.3 to 3.

    Raises:
        OutOfRange: an argument lies outside.

    Source: Bernoulli; common practice, no source.

    Example:
        >>> m = station_mass_flow_kg_s(pressure_difference_pa=400.0, factor_m3_s_per_sqrt_pa=120.0 / 3600.0,
        ...     density_kg_m3=1.08, reference_density_kg_m3=1.2)
        >>> round(m, 4)
        0.7589
    """
    signal = _signal(pressure_difference_pa, factor_m3_s_per_sqrt_pa)
    density = _density("density", density_kg_m3)
    return plain(signal * np.sqrt(_density("reference density", reference_density_kg_m3) * density))


def station_standard_airflow_m3_s(
    *,
    pressure_difference_pa: FloatOrArray,
    factor_m3_s_per_sqrt_pa: FloatOrArray,
    density_kg_m3: FloatOrArray,
    reference_density_kg_m3: FloatOrArray,
    standard_density_kg_m3: FloatOrArray,
) -> FloatOrArray:
    """Return the standard airflow of a flow station or fan-inlet ring from its signal.

        q_s = K sqrt(dp) sqrt(rho_0 rho) / rho_s

    Args:
        pressure_difference_pa: signal dp [Pa], 0 to 10 000.
        factor_m3_s_per_sqrt_pa: factor K [m3/s per root of Pa], 1e-6 to 100.
        density_kg_m3: density of the air at the station rho [kg/m3], 0.3 to 3.
        reference_density_kg_m3: density for which K is stated rho_0 [kg/m3], 0.3 to 3.
        standard_density_kg_m3: density of standard air, as agreed rho_s [kg/m3], 0.3 to 3.

    Raises:
        OutOfRange: an argument lies outside.

    Source: Bernoulli; common practice, no source.

    Example:
        >>> q = station_standard_airflow_m3_s(pressure_difference_pa=400.0,
        ...     factor_m3_s_per_sqrt_pa=120.0 / 3600.0, density_kg_m3=1.08, reference_density_kg_m3=1.2,
        ...     standard_density_kg_m3=1.2)
        >>> round(q * 3600.0, 1)
        2276.8
    """
    mass_flow = station_mass_flow_kg_s(
        pressure_difference_pa=pressure_difference_pa,
        factor_m3_s_per_sqrt_pa=factor_m3_s_per_sqrt_pa,
        density_kg_m3=density_kg_m3,
        reference_density_kg_m3=reference_density_kg_m3,
    )
    return plain(mass_flow / _density("standard density", standard_density_kg_m3))


def standard_airflow_m3_s(
    *,
    actual_airflow_m3_s: FloatOrArray,
    density_kg_m3: FloatOrArray,
    standard_density_kg_m3: FloatOrArray,
) -> FloatOrArray:
    """Return the standard airflow that carries the mass of an actual one.

        q_s = q rho / rho_s

    Args:
        actual_airflow_m3_s: actual airflow q [m3/s], 0 to 2000.
        density_kg_m3: density of the air there rho [kg/m3], 0.3 to 3.
        standard_density_kg_m3: density of standard air, as agreed rho_s [kg/m3], 0.3 to 3.

    Raises:
        OutOfRange: an argument lies outside.

    Source: conservation of mass.

    Example:
        >>> round(standard_airflow_m3_s(actual_airflow_m3_s=1.0, density_kg_m3=0.996,
        ...     standard_density_kg_m3=1.2), 6)
        0.83
    """
    airflow = within("airflow", actual_airflow_m3_s, *AIRFLOW_RANGE_M3_S, "m3/s")
    ratio = _density("density", density_kg_m3) / _density("standard density", standard_density_kg_m3)
    return plain(airflow * ratio)


def actual_airflow_m3_s(
    *,
    standard_airflow_m3_s: FloatOrArray,
    density_kg_m3: FloatOrArray,
    standard_density_kg_m3: FloatOrArray,
) -> FloatOrArray:
    """Return the actual airflow that carries the mass of a standard one.

        q = q_s rho_s / rho

    Args:
        standard_airflow_m3_s: standard airflow q_s [m3/s], 0 to 2000.
        density_kg_m3: density of the air there rho [kg/m3], 0.3 to 3.
        standard_density_kg_m3: density of standard air, as agreed rho_s [kg/m3], 0.3 to 3.

    Raises:
        OutOfRange: an argument lies outside.

    Source: conservation of mass.

    Example:
        >>> round(actual_airflow_m3_s(standard_airflow_m3_s=0.83, density_kg_m3=0.996,
        ...     standard_density_kg_m3=1.2), 6)
        1.0
    """
    airflow = within("airflow", standard_airflow_m3_s, *AIRFLOW_RANGE_M3_S, "m3/s")
    ratio = _density("standard density", standard_density_kg_m3) / _density("density", density_kg_m3)
    return plain(airflow * ratio)


def _free(name: str, length_m: FloatOrArray, lining_m: FloatOrArray) -> FloatArray:
    length = within(name, length_m, 0.01, 20.0, "m")
    most = np.nextafter(length / 2.0, 0.0)
    return length - 2.0 * within(f"lining of the {name}", lining_m, 0.0, most, "m")


def _density(name: str, density_kg_m3: FloatOrArray) -> FloatArray:
    return within(name, density_kg_m3, *DENSITY_RANGE_KG_M3, "kg/m3")


def _signal(pressure_difference_pa: FloatOrArray, factor_m3_s_per_sqrt_pa: FloatOrArray) -> FloatArray:
    difference = within("pressure difference", pressure_difference_pa, *_SIGNAL_RANGE_PA, "Pa")
    factor = within("station factor", factor_m3_s_per_sqrt_pa, 1e-6, 100.0, "m3/s per root of Pa")
    return factor * np.sqrt(difference)
