"""The outdoor fraction of a mixed stream by temperature, enthalpy or CO2, and how far it can be trusted.

The fraction is by mass. The formula knows nothing of fan heat: read the mixed air before the fan, or take the
fan's rise off. A stratified mixing box is usually worse than its sensors: see `mixed_air`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.guards import FloatArray, FloatOrArray, plain, within

LARGEST_RELATIVE_UNCERTAINTY = 0.25


@dataclass(frozen=True, slots=True)
class OutdoorFraction:
    """An outdoor fraction and how far it can be trusted.

    Attributes:
        fraction: share of outdoor air in the mixed stream, by mass [-].
        standard_uncertainty: of the fraction, by the sensors alone [-].
        usable: the expanded uncertainty (k = 2) is at most a quarter of the fraction.
    """

    fraction: float
    standard_uncertainty: float
    usable: bool


@dataclass(frozen=True, slots=True)
class OutdoorAirflow:
    """Outdoor airflow as a fraction of the supply airflow.

    Attributes:
        airflow_m3_s: standard airflow of outdoor air [m3/s].
        standard_uncertainty_m3_s: of it [m3/s].
    """

    airflow_m3_s: float
    standard_uncertainty_m3_s: float


def outdoor_airflow(
    *,
    fraction: float,
    fraction_standard_uncertainty: float,
    supply_airflow_m3_s: float,
    supply_standard_uncertainty_m3_s: float,
) -> OutdoorAirflow:
    """Return the outdoor airflow from a fraction and the supply airflow, measured independently.

        q = f q_s,  u(q)^2 = (q_s u(f))^2 + (f u(q_s))^2

    Args:
        fraction: f, by mass [-], -1 to 2.
        fraction_standard_uncertainty: u(f) [-], 0 or more.
        supply_airflow_m3_s: standard airflow of the supply q_s, for the fraction is by mass [m3/s], 0 to 2000.
        supply_standard_uncertainty_m3_s: u(q_s) [m3/s], 0 or more.

    Raises:
        OutOfRange: an argument lies outside.

    Source: JCGM 100:2008 (GUM), 5.1.2.

    Example:
        >>> found = outdoor_airflow(fraction=0.25, fraction_standard_uncertainty=0.02, supply_airflow_m3_s=4.0,
        ...     supply_standard_uncertainty_m3_s=0.08)
        >>> found.airflow_m3_s, round(found.standard_uncertainty_m3_s, 4)
        (1.0, 0.0825)
    """
    share = within("fraction", fraction, -1.0, 2.0, "").item()
    u_share = within("uncertainty of the fraction", fraction_standard_uncertainty, 0.0, 1e6, "").item()
    supply = within("supply airflow", supply_airflow_m3_s, 0.0, 2000.0, "m3/s").item()
    u_supply = within("uncertainty of the supply", supply_standard_uncertainty_m3_s, 0.0, 2000.0, "m3/s").item()
    return OutdoorAirflow(share * supply, math.hypot(supply * u_share, share * u_supply))


def outdoor_fraction_by_temperature(
    *, outdoor_temperature_c: FloatOrArray, return_temperature_c: FloatOrArray, mixed_temperature_c: FloatOrArray
) -> FloatOrArray:
    """Return the outdoor fraction of a mixed stream from three temperatures.

        f = (t_M - t_R) / (t_O - t_R)

    A result a little below 0 or above 1 is returned as it is: it is a sign of the sensors' errors.

    Args:
        outdoor_temperature_c: t_O [degC], -60 to 60.
        return_temperature_c: t_R [degC], -60 to 60, different from t_O.
        mixed_temperature_c: t_M, before the fan [degC], -60 to 60.

    Raises:
        OutOfRange: a temperature lies outside, or outdoor and return air are equal.

    Source: energy balance, read on a public page.

    Example:
        >>> outdoor_fraction_by_temperature(outdoor_temperature_c=0.0, return_temperature_c=20.0,
        ...     mixed_temperature_c=15.0)
        0.25
    """
    outdoor, returned, mixed = (
        within(f"{name} temperature", value, -60.0, 60.0, "degC")
        for name, value in (
            ("outdoor", outdoor_temperature_c),
            ("return", return_temperature_c),
            ("mixed", mixed_temperature_c),
        )
    )
    return plain((mixed - returned) / _difference("temperature", outdoor, returned, 0.1, "K"))


def outdoor_fraction_by_enthalpy(
    *, outdoor_enthalpy_j_kg: FloatOrArray, return_enthalpy_j_kg: FloatOrArray, mixed_enthalpy_j_kg: FloatOrArray
) -> FloatOrArray:
    """Return the outdoor fraction of a mixed stream from three enthalpies.

        f = (h_M - h_R) / (h_O - h_R)

    Args:
        outdoor_enthalpy_j_kg: h_O, per mass of dry air [J/kg], -1e5 to 5e5.
        return_enthalpy_j_kg: h_R [J/kg], -1e5 to 5e5, different from h_O.
        mixed_enthalpy_j_kg: h_M, before the fan [J/kg], -1e5 to 5e5.

    Raises:
        OutOfRange: an enthalpy lies outside, or outdoor and return air are equal.

    Source: energy balance.

    Example:
        >>> outdoor_fraction_by_enthalpy(outdoor_enthalpy_j_kg=80e3, return_enthalpy_j_kg=48e3,
        ...     mixed_enthalpy_j_kg=56e3)
        0.25
    """
    outdoor, returned, mixed = (
        within(f"{name} enthalpy", value, -1e5, 5e5, "J/kg")
        for name, value in (
            ("outdoor", outdoor_enthalpy_j_kg),
            ("return", return_enthalpy_j_kg),
            ("mixed", mixed_enthalpy_j_kg),
        )
    )
    return plain((mixed - returned) / _difference("enthalpy", outdoor, returned, 100.0, "J/kg"))


def outdoor_fraction_by_co2(
    *, outdoor_co2: FloatOrArray, return_co2: FloatOrArray, supply_co2: FloatOrArray
) -> FloatOrArray:
    """Return the outdoor fraction of a supply stream from three CO2 mole fractions, by one analyser.

        f = (C_R - C_S) / (C_R - C_O)

    Needs steady occupancy, and 200 to 300 ppm between return and outdoor air to be of use.

    Args:
        outdoor_co2: C_O [mol/mol], 0 to 0.02.
        return_co2: C_R [mol/mol], 0 to 0.02, different from C_O.
        supply_co2: C_S [mol/mol], 0 to 0.02.

    Raises:
        OutOfRange: a mole fraction lies outside, or outdoor and return air are equal.

    Source: mass balance of the tracer, read on a public page; the least difference from memory.

    Example:
        >>> round(outdoor_fraction_by_co2(outdoor_co2=420e-6, return_co2=950e-6, supply_co2=800e-6), 4)
        0.283
    """
    outdoor, returned, supply = (
        within(f"{name} CO2", value, 0.0, 0.02, "mol/mol")
        for name, value in (("outdoor", outdoor_co2), ("return", return_co2), ("supply", supply_co2))
    )
    return plain((supply - returned) / _difference("CO2", outdoor, returned, 1e-6, "mol/mol"))


def outdoor_fraction_uncertainty(
    *,
    fraction: FloatOrArray,
    difference: FloatOrArray,
    mixed_standard_uncertainty: FloatOrArray,
    return_standard_uncertainty: FloatOrArray,
    outdoor_standard_uncertainty: FloatOrArray,
) -> FloatOrArray:
    """Return the standard uncertainty of an outdoor fraction by independent sensors.

        u(f) = sqrt(u_M^2 + (1 - f)^2 u_R^2 + f^2 u_O^2) / |x_O - x_R|

    One instrument carried to all three places has an offset that cancels: leave it out of the three.

    Args:
        fraction: f [-], -1 to 2.
        difference: x_O - x_R, of temperature, enthalpy or CO2 [its unit]; not 0.
        mixed_standard_uncertainty: u_M [same unit], 0 or more; of the supply air by CO2.
        return_standard_uncertainty: u_R [same unit], 0 or more.
        outdoor_standard_uncertainty: u_O [same unit], 0 or more.

    Raises:
        OutOfRange: an argument lies outside.

    Source: JCGM 100:2008 (GUM), 5.1.2, applied to the fraction.

    Example:
        >>> round(outdoor_fraction_uncertainty(fraction=0.25, difference=-20.0, mixed_standard_uncertainty=0.5,
        ...     return_standard_uncertainty=0.5, outdoor_standard_uncertainty=0.5), 5)
        0.03187
    """
    f = within("fraction", fraction, -1.0, 2.0, "")
    size = within("difference", plain(np.abs(difference)), 1e-12, 1e9, "")
    return plain(
        _spread(f, mixed_standard_uncertainty, return_standard_uncertainty, outdoor_standard_uncertainty) / size
    )


def judge_outdoor_fraction(*, fraction: float, standard_uncertainty: float) -> OutdoorFraction:
    """Return an outdoor fraction with whether it may be used.

        usable: 2 u(f) <= 0.25 f

    Args:
        fraction: f [-], -1 to 2.
        standard_uncertainty: u(f) [-], 0 or more.

    Raises:
        OutOfRange: an argument lies outside.

    Source: common practice, no source.

    Example:
        >>> judge_outdoor_fraction(fraction=0.4, standard_uncertainty=0.0925).usable
        False
    """
    share = within("fraction", fraction, -1.0, 2.0, "").item()
    uncertainty = within("standard uncertainty", standard_uncertainty, 0.0, 1e6, "").item()
    return OutdoorFraction(share, uncertainty, 2.0 * uncertainty <= LARGEST_RELATIVE_UNCERTAINTY * share)


def least_difference(
    *,
    fraction: FloatOrArray,
    largest_expanded_uncertainty: FloatOrArray,
    mixed_standard_uncertainty: FloatOrArray,
    return_standard_uncertainty: FloatOrArray,
    outdoor_standard_uncertainty: FloatOrArray,
) -> FloatOrArray:
    """Return the least difference between outdoor and return air that keeps the uncertainty small enough (k = 2).

        |x_O - x_R| >= 2 sqrt(u_M^2 + (1 - f)^2 u_R^2 + f^2 u_O^2) / U

    Args:
        fraction: expected f [-], 0 to 1.
        largest_expanded_uncertainty: U that may remain [-], above 0.
        mixed_standard_uncertainty: u_M [unit of the readings], 0 or more.
        return_standard_uncertainty: u_R [unit of the readings], 0 or more.
        outdoor_standard_uncertainty: u_O [unit of the readings], 0 or more.

    Raises:
        OutOfRange: an argument lies outside.

    Source: JCGM 100:2008 (GUM), 5.1.2, solved for the difference.

    Example:
        >>> round(least_difference(fraction=0.25, largest_expanded_uncertainty=0.05,
        ...     mixed_standard_uncertainty=0.5, return_standard_uncertainty=0.5,
        ...     outdoor_standard_uncertainty=0.5), 2)
        25.5
    """
    f = within("fraction", fraction, 0.0, 1.0, "")
    largest = within("expanded uncertainty", largest_expanded_uncertainty, 1e-6, 1.0, "")
    spread = _spread(f, mixed_standard_uncertainty, return_standard_uncertainty, outdoor_standard_uncertainty)
    return plain(2.0 * spread / largest)


def _spread(f: FloatArray, mixed: FloatOrArray, returned: FloatOrArray, outdoor: FloatOrArray) -> FloatArray:
    u_mixed, u_returned, u_outdoor = (
        within("standard uncertainty", value, 0.0, 1e9, "") for value in (mixed, returned, outdoor)
    )
    return np.asarray(np.sqrt(u_mixed**2 + ((1.0 - f) * u_returned) ** 2 + (f * u_outdoor) ** 2))


def _difference(name: str, outdoor: FloatArray, returned: FloatArray, least: float, unit: str) -> FloatArray:
    difference = outdoor - returned
    within(f"{name} difference of outdoor and return air", plain(np.abs(difference)), least, np.inf, unit)
    return difference
