"""Air-to-air energy recovery: effectiveness at unequal flows, leakage, closure of energy, and validity of a test.

Stations are told apart by role and not by number: outdoor (entering supply), supply (leaving supply), return
(entering exhaust), exhaust (leaving exhaust). All temperatures are at the exchanger: take a fan's rise off first
where a fan stands between the exchanger and the sensor.
"""

from __future__ import annotations

import numpy as np

from commissioning.engineering.effectiveness_ntu import (
    Exchanger,
    effectiveness_at_flows,
    effectiveness_between_points,
    effectiveness_between_ratings,
    effectiveness_from_ntu,
    ntu_from_effectiveness,
    rotary_effectiveness,
)
from commissioning.engineering.exchanger_validity import Doubt, exchanger_doubts, humidity_doubts
from commissioning.engineering.guards import FloatArray, FloatOrArray, plain, within

__all__ = [
    "Doubt",
    "Exchanger",
    "defrost_time_fraction",
    "effectiveness",
    "effectiveness_at_flows",
    "effectiveness_between_points",
    "effectiveness_between_ratings",
    "effectiveness_from_ntu",
    "energy_closure",
    "exchanger_doubts",
    "exhaust_air_transfer_ratio",
    "gross_airflow_for_net_m3_s",
    "humidity_doubts",
    "leakage_corrected_effectiveness",
    "leaving_supply",
    "net_effectiveness",
    "net_outdoor_airflow_m3_s",
    "ntu_from_effectiveness",
    "outdoor_air_correction_factor",
    "recovery_efficiency_ratio",
    "rotary_effectiveness",
    "temperature_ratio",
]


def effectiveness(
    *,
    supply_mass_flow_kg_s: FloatOrArray,
    exhaust_mass_flow_kg_s: FloatOrArray,
    outdoor: FloatOrArray,
    supply: FloatOrArray,
    return_: FloatOrArray,
) -> FloatOrArray:
    """Return the effectiveness of an exchanger: sensible, latent or total, by what is put in.

        eps = m_s (x_1 - x_2) / (min(m_s, m_e) (x_1 - x_3))

    Sensible with dry-bulb temperatures [degC], latent with humidity ratios [kg/kg], total with enthalpies [J/kg].
    The total one is not the mean of the other two.

    Args:
        supply_mass_flow_kg_s: dry-air mass flow of the supply stream m_s [kg/s], above 0.
        exhaust_mass_flow_kg_s: dry-air mass flow of the exhaust stream m_e [kg/s], above 0.
        outdoor: x_1, entering supply [degC, kg/kg or J/kg].
        supply: x_2, leaving supply [same unit].
        return_: x_3, entering exhaust [same unit], different from x_1.

    Raises:
        OutOfRange: a mass flow is not above 0, or the two entering streams are alike.

    Source: ASHRAE 84 (from memory).

    Example:
        >>> round(effectiveness(supply_mass_flow_kg_s=1.2, exhaust_mass_flow_kg_s=1.0, outdoor=-5.0, supply=12.5,
        ...     return_=22.0), 4)
        0.7778
    """
    m_supply, m_exhaust = _mass_flow("supply", supply_mass_flow_kg_s), _mass_flow("exhaust", exhaust_mass_flow_kg_s)
    change = np.asarray(outdoor, dtype=np.float64) - supply
    return plain(m_supply * change / (np.minimum(m_supply, m_exhaust) * _span(outdoor, return_)))


def temperature_ratio(*, outdoor: FloatOrArray, supply: FloatOrArray, return_: FloatOrArray) -> FloatOrArray:
    """Return the temperature ratio of the supply side; an effectiveness only where both flows are equal.

        eta = (x_2 - x_1) / (x_3 - x_1)

    With humidity ratios it is the humidity ratio of EN 308, with enthalpies the enthalpy recovery ratio.

    Args:
        outdoor: x_1, entering supply [degC, kg/kg or J/kg].
        supply: x_2, leaving supply [same unit].
        return_: x_3, entering exhaust [same unit], different from x_1.

    Raises:
        OutOfRange: the two entering streams are alike.

    Source: EN 308 (from memory); enthalpy recovery ratio as in California Title 24, glossary.

    Example:
        >>> round(temperature_ratio(outdoor=-5.0, supply=12.5, return_=22.0), 4)
        0.6481
    """
    return plain((np.asarray(outdoor, dtype=np.float64) - supply) / _span(outdoor, return_))


def leaving_supply(
    *,
    effectiveness: FloatOrArray,
    supply_mass_flow_kg_s: FloatOrArray,
    exhaust_mass_flow_kg_s: FloatOrArray,
    outdoor: FloatOrArray,
    return_: FloatOrArray,
) -> FloatOrArray:
    """Return what leaves on the supply side for an effectiveness: the inverse of `effectiveness`.

        x_2 = x_1 - eps min(m_s, m_e) (x_1 - x_3) / m_s

    Args:
        effectiveness: eps [-], 0 to 1.
        supply_mass_flow_kg_s: m_s [kg/s], above 0.
        exhaust_mass_flow_kg_s: m_e [kg/s], above 0.
        outdoor: x_1 [degC, kg/kg or J/kg].
        return_: x_3 [same unit].

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE 84 (from memory).

    Example:
        >>> leaving_supply(effectiveness=0.7, supply_mass_flow_kg_s=1.0, exhaust_mass_flow_kg_s=1.0,
        ...     outdoor=35.0, return_=25.0)
        28.0
    """
    share = within("effectiveness", effectiveness, 0.0, 1.0, "")
    m_supply, m_exhaust = _mass_flow("supply", supply_mass_flow_kg_s), _mass_flow("exhaust", exhaust_mass_flow_kg_s)
    start = np.asarray(outdoor, dtype=np.float64)
    return plain(start - share * np.minimum(m_supply, m_exhaust) / m_supply * (start - return_))


def energy_closure(
    *,
    supply_mass_flow_kg_s: FloatOrArray,
    exhaust_mass_flow_kg_s: FloatOrArray,
    outdoor: FloatOrArray,
    supply: FloatOrArray,
    return_: FloatOrArray,
    exhaust: FloatOrArray,
) -> FloatOrArray:
    """Return by what share the exhaust stream gives more (positive) or less than the supply stream takes.

        d = (m_e (x_3 - x_4) - m_s (x_2 - x_1)) / (m_s (x_2 - x_1))

    Within 10 % is usual, 10 to 20 % asks for a look, above 20 % a test says nothing; the limits widen with the
    uncertainty of d.

    Args:
        supply_mass_flow_kg_s: m_s [kg/s], above 0.
        exhaust_mass_flow_kg_s: m_e [kg/s], above 0.
        outdoor: x_1 [degC or J/kg].
        supply: x_2 [same unit], different from x_1.
        return_: x_3 [same unit].
        exhaust: x_4 [same unit].

    Raises:
        OutOfRange: a mass flow is not above 0, or the supply stream does not change.

    Source: conservation of energy; the limits are common practice, no source.

    Example:
        >>> round(energy_closure(supply_mass_flow_kg_s=1.2, exhaust_mass_flow_kg_s=1.0, outdoor=-5.0, supply=12.5,
        ...     return_=22.0, exhaust=1.6), 5)
        -0.02857
    """
    taken = _mass_flow("supply", supply_mass_flow_kg_s) * _span(supply, outdoor)
    given = _mass_flow("exhaust", exhaust_mass_flow_kg_s) * (np.asarray(return_, dtype=np.float64) - exhaust)
    return plain((given - taken) / taken)


def exhaust_air_transfer_ratio(
    *, outdoor_tracer: FloatOrArray, supply_tracer: FloatOrArray, return_tracer: FloatOrArray
) -> FloatOrArray:
    """Return the share of the supply air that is return air carried over (EATR), by a tracer gas alone.

        EATR = (C_2 - C_1) / (C_3 - C_1)

    It holds for the pressures and the purge setting of the test. The CO2 of the rooms is no tracer for it.

    Args:
        outdoor_tracer: C_1, entering supply [any unit of concentration], 0 or more.
        supply_tracer: C_2, leaving supply [same unit], 0 or more.
        return_tracer: C_3, entering exhaust, where the tracer is released [same unit], different from C_1.

    Raises:
        OutOfRange: a concentration is negative, or entering streams are alike.

    Source: ASHRAE 84 (definition from memory).

    Example:
        >>> exhaust_air_transfer_ratio(outdoor_tracer=0.5, supply_tracer=3.5, return_tracer=100.5)
        0.03
    """
    first, second, third = (
        within("tracer concentration", value, 0.0, 1e12, "") for value in (outdoor_tracer, supply_tracer, return_tracer)
    )
    return plain((second - first) / _span(plain(third), plain(first)))


def outdoor_air_correction_factor(
    *, outdoor_mass_flow_kg_s: FloatOrArray, supply_mass_flow_kg_s: FloatOrArray
) -> FloatOrArray:
    """Return the outdoor air correction factor (OACF): above 1 outdoor air leaks to exhaust, below 1 exhaust in.

        OACF = m_1 / m_2

    Args:
        outdoor_mass_flow_kg_s: entering supply m_1 [kg/s], above 0.
        supply_mass_flow_kg_s: leaving supply m_2 [kg/s], above 0.

    Raises:
        OutOfRange: a mass flow is not above 0.

    Source: ASHRAE 84 (definition from memory).

    Example:
        >>> outdoor_air_correction_factor(outdoor_mass_flow_kg_s=1.224, supply_mass_flow_kg_s=1.2)
        1.02
    """
    return plain(_mass_flow("outdoor", outdoor_mass_flow_kg_s) / _mass_flow("supply", supply_mass_flow_kg_s))


def net_outdoor_airflow_m3_s(*, supply_airflow_m3_s: FloatOrArray, transfer_ratio: FloatOrArray) -> FloatOrArray:
    """Return the outdoor air that is in a gross supply airflow.

        q_net = q_2 (1 - EATR)

    Args:
        supply_airflow_m3_s: leaving supply q_2, actual or standard [m3/s]; the result is of the same kind.
        transfer_ratio: EATR [-], 0 to 0.5.

    Raises:
        OutOfRange: an argument lies outside.

    Source: an open simulation compliance manual, net = (1 - EATR) gross.

    Example:
        >>> net_outdoor_airflow_m3_s(supply_airflow_m3_s=1.0, transfer_ratio=0.03)
        0.97
    """
    gross = within("supply airflow", supply_airflow_m3_s, 0.0, 2000.0, "m3/s")
    return plain(gross * (1.0 - within("exhaust air transfer ratio", transfer_ratio, 0.0, 0.5, "")))


def gross_airflow_for_net_m3_s(*, net_airflow_m3_s: FloatOrArray, transfer_ratio: FloatOrArray) -> FloatOrArray:
    """Return the gross supply airflow that a net outdoor airflow asks for.

        q_2 = q_net / (1 - EATR)

    Args:
        net_airflow_m3_s: required q_net [m3/s]; the result is of the same kind.
        transfer_ratio: EATR [-], 0 to 0.5.

    Raises:
        OutOfRange: an argument lies outside.

    Source: as for `net_outdoor_airflow_m3_s`.

    Example:
        >>> round(gross_airflow_for_net_m3_s(net_airflow_m3_s=5.0, transfer_ratio=0.05), 3)
        5.263
    """
    net = within("net airflow", net_airflow_m3_s, 0.0, 2000.0, "m3/s")
    return plain(net / (1.0 - within("exhaust air transfer ratio", transfer_ratio, 0.0, 0.5, "")))


def leakage_corrected_effectiveness(*, apparent_ratio: FloatOrArray, transfer_ratio: FloatOrArray) -> FloatOrArray:
    """Return what the exchanger alone does, without the warmth of carried-over return air, at equal flows.

        x_2 = EATR x_3 + (1 - EATR) x_2,net,  eps = (r - EATR) / (1 - EATR)

    Args:
        apparent_ratio: r by `temperature_ratio` [-], EATR to 1.
        transfer_ratio: EATR [-], 0 to 0.5.

    Raises:
        OutOfRange: an argument lies outside.

    Source: algebra of the mixture.

    Example:
        >>> round(leakage_corrected_effectiveness(apparent_ratio=0.78, transfer_ratio=0.05), 4)
        0.7684
    """
    carried = within("exhaust air transfer ratio", transfer_ratio, 0.0, 0.5, "")
    ratio = within("apparent ratio", apparent_ratio, plain(carried), 1.0, "")
    return plain((ratio - carried) / (1.0 - carried))


def net_effectiveness(
    *,
    effectiveness: FloatOrArray,
    supply_mass_flow_kg_s: FloatOrArray,
    exhaust_mass_flow_kg_s: FloatOrArray,
    transfer_ratio: FloatOrArray,
) -> FloatOrArray:
    """Return an effectiveness without what carried-over return air adds to it, at any flows.

        eps_net = (eps - EATR m_s / min(m_s, m_e)) / (1 - EATR)

    Args:
        effectiveness: eps by `effectiveness`, with the leaving supply air as it was read [-], -5 to 5.
        supply_mass_flow_kg_s: leaving supply m_s [kg/s], above 0.
        exhaust_mass_flow_kg_s: entering exhaust m_e [kg/s], above 0.
        transfer_ratio: EATR [-], -0.1 to 0.5; below zero only by the uncertainty of a small one.

    Raises:
        OutOfRange: an argument lies outside.

    Source: AHRI 1060, net effectiveness (from memory); algebra of the mixture.

    Example:
        >>> round(net_effectiveness(effectiveness=0.78, supply_mass_flow_kg_s=1.0, exhaust_mass_flow_kg_s=1.0,
        ...     transfer_ratio=0.05), 4)
        0.7684
    """
    carried = within("exhaust air transfer ratio", transfer_ratio, -0.1, 0.5, "")
    m_supply, m_exhaust = _mass_flow("supply", supply_mass_flow_kg_s), _mass_flow("exhaust", exhaust_mass_flow_kg_s)
    found = within("effectiveness", effectiveness, -5.0, 5.0, "")
    return plain((found - carried * m_supply / np.minimum(m_supply, m_exhaust)) / (1.0 - carried))


def recovery_efficiency_ratio(*, recovered_w: FloatOrArray, added_power_w: FloatOrArray) -> FloatOrArray:
    """Return the energy recovered per electric energy that the exchanger costs (RER).

        RER = Q_net / P,  in W/W; one W/W is 3.412 Btu/(W h)

    Args:
        recovered_w: net total recovery Q_net [W], 0 or more.
        added_power_w: fan power by the exchanger's pressure drop, and its drive P [W], above 0.

    Raises:
        OutOfRange: an argument lies outside.

    Source: AHRI Guideline V (definition from memory).

    Example:
        >>> recovery_efficiency_ratio(recovered_w=13_000.0, added_power_w=1000.0)
        13.0
    """
    recovered = within("recovered power", recovered_w, 0.0, 1e9, "W")
    return plain(recovered / within("added power", added_power_w, 1e-3, 1e8, "W"))


def defrost_time_fraction(
    *,
    outdoor_temperature_c: FloatOrArray,
    threshold_temperature_c: FloatOrArray,
    initial_fraction: FloatOrArray,
    rate_per_k: FloatOrArray,
) -> FloatOrArray:
    """Return the share of the time that an exchanger spends defrosting.

        X = X_0 + r (t_th - t_O) below the threshold, 0 above it; within 0 to 1

    Args:
        outdoor_temperature_c: t_O [degC], -60 to 60.
        threshold_temperature_c: t_th below which frost forms [degC], -40 to 10.
        initial_fraction: X_0 at the threshold [-], 0 to 1.
        rate_per_k: r [1/K], 0 to 1.

    Raises:
        OutOfRange: an argument lies outside.

    Source: EnergyPlus Engineering Reference, frost control.

    Example:
        >>> round(defrost_time_fraction(outdoor_temperature_c=-20.0, threshold_temperature_c=-12.2,
        ...     initial_fraction=0.083, rate_per_k=0.012), 4)
        0.1766
    """
    outdoor = within("outdoor temperature", outdoor_temperature_c, -60.0, 60.0, "degC")
    threshold = within("threshold temperature", threshold_temperature_c, -40.0, 10.0, "degC")
    first = within("initial fraction", initial_fraction, 0.0, 1.0, "")
    fraction = first + within("rate", rate_per_k, 0.0, 1.0, "1/K") * (threshold - outdoor)
    return plain(np.where(outdoor < threshold, np.minimum(fraction, 1.0), 0.0))


def _mass_flow(name: str, mass_flow_kg_s: FloatOrArray) -> FloatArray:
    return within(f"{name} mass flow", mass_flow_kg_s, 1e-6, 5000.0, "kg/s")


def _span(one: FloatOrArray, other: FloatOrArray) -> FloatArray:
    difference = np.asarray(one, dtype=np.float64) - other
    within("difference of the two streams", plain(np.abs(difference)), 1e-12, 1e12, "")
    return difference
