"""What an exchanger should do at other flows: effectiveness by number of transfer units, per kind of exchanger."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum

import numpy as np

from commissioning.engineering.guards import FloatArray, FloatOrArray, OutOfRange, plain, within

NTU_RANGE = (0.0, 20.0)
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(160)


class Exchanger(StrEnum):
    """Kind of exchanger, by how its streams pass each other."""

    COUNTERFLOW = "counterflow"
    PARALLEL = "parallel"
    CROSSFLOW_UNMIXED = "crossflow_unmixed"
    CROSSFLOW_MAX_MIXED = "crossflow_max_mixed"
    CROSSFLOW_MIN_MIXED = "crossflow_min_mixed"
    CROSSFLOW_APPROXIMATE = "crossflow_approximate"


def effectiveness_from_ntu(*, ntu: FloatOrArray, capacity_ratio: FloatOrArray, kind: Exchanger | str) -> FloatOrArray:
    """Return the effectiveness of an exchanger from its number of transfer units.

        counterflow:    (1 - exp(-N (1 - C))) / (1 - C exp(-N (1 - C))),  N / (1 + N) at C = 1
        parallel:       (1 - exp(-N (1 + C))) / (1 + C)
        crossflow, both unmixed: integral form of Mason's series
        crossflow, larger stream mixed:  (1 - exp(-C (1 - exp(-N)))) / C
        crossflow, smaller stream mixed: 1 - exp(-(1 - exp(-C N)) / C)
        crossflow, approximate:  1 - exp((exp(-C N^0.78) - 1) N^0.22 / C), up to 1.6 % low

    Args:
        ntu: number of transfer units N = UA / C_min [-], 0 to 20.
        capacity_ratio: C = C_min / C_max [-], 0 to 1.
        kind: how the streams pass each other.

    Raises:
        OutOfRange: an argument lies outside.
        ValueError: no such kind.

    Source: Kays and London, Compact Heat Exchangers (from memory); checked against an open library.

    Example:
        >>> round(effectiveness_from_ntu(ntu=5.0, capacity_ratio=0.7, kind="counterflow"), 6)
        0.92067
    """
    n, c = np.broadcast_arrays(
        within("number of transfer units", ntu, *NTU_RANGE, ""),
        within("capacity ratio", capacity_ratio, 0.0, 1.0, ""),
    )
    alone = -np.expm1(-n)
    small = c < 1e-9
    return plain(np.where(small, alone, _FORMS[Exchanger(kind)](n, np.where(small, 1.0, c))))


def ntu_from_effectiveness(*, effectiveness: float, capacity_ratio: float, kind: Exchanger | str) -> float:
    """Return the number of transfer units that gives an effectiveness: the inverse by bisection.

        eps(N, C) = eps

    Args:
        effectiveness: eps [-], 0 to below what the kind can reach at N = 20.
        capacity_ratio: C = C_min / C_max [-], 0 to 1.
        kind: how the streams pass each other.

    Raises:
        OutOfRange: an argument lies outside, or the kind cannot reach that effectiveness.

    Source: as for `effectiveness_from_ntu`.

    Example:
        >>> round(ntu_from_effectiveness(effectiveness=0.75, capacity_ratio=1.0, kind="counterflow"), 6)
        3.0
    """
    low, high = NTU_RANGE

    def reached(ntu: float) -> float:
        return float(effectiveness_from_ntu(ntu=ntu, capacity_ratio=capacity_ratio, kind=kind))

    most = reached(high)
    if not 0.0 <= effectiveness <= most:
        raise OutOfRange("effectiveness", effectiveness, 0.0, most, "")
    for _ in range(100):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if reached(middle) < effectiveness else (low, middle)
    return 0.5 * (low + high)


def rotary_effectiveness(*, counterflow_effectiveness: FloatOrArray, matrix_ratio: FloatOrArray) -> FloatOrArray:
    """Return the effectiveness of a wheel from that of a counterflow exchanger of the same transfer units.

        eps = eps_cf (1 - 1 / (9 Cr*^1.93))

    A wheel at half its speed barely shows here, so the speed is judged on its own.

    Args:
        counterflow_effectiveness: eps_cf [-], 0 to 0.9.
        matrix_ratio: Cr*, heat capacity rate of the turning matrix over C_min [-], 0.4 to 100.

    Raises:
        OutOfRange: an argument lies outside.

    Source: Kays and London, Compact Heat Exchangers (from memory).

    Example:
        >>> round(rotary_effectiveness(counterflow_effectiveness=0.75, matrix_ratio=5.0), 4)
        0.7463
    """
    ideal = within("counterflow effectiveness", counterflow_effectiveness, 0.0, 0.9, "")
    ratio = within("matrix ratio", matrix_ratio, 0.4, 100.0, "")
    return plain(ideal * (1.0 - 1.0 / (9.0 * ratio**1.93)))


def effectiveness_at_flows(
    *,
    rated_effectiveness: float,
    rated_mass_flow_kg_s: float,
    supply_mass_flow_kg_s: float,
    exhaust_mass_flow_kg_s: float,
    kind: Exchanger | str,
    rated_exhaust_mass_flow_kg_s: float | None = None,
) -> float:
    """Return the sensible effectiveness to expect at measured, unequal flows, from one rating point.

    The conductance UA is taken from the rating point and held:

        N_r = ntu(eps_r, C_r),  N = N_r min(m_r) / min(m_s, m_e),  eps = eps(N, min / max)

    Args:
        rated_effectiveness: eps_r at the rating point [-].
        rated_mass_flow_kg_s: m_r of the supply stream at the rating point [kg/s], above 0.
        supply_mass_flow_kg_s: measured m_s [kg/s], 0.3 to 1.3 of the rated one.
        exhaust_mass_flow_kg_s: measured m_e [kg/s], 0.3 to 1.3 of the rated one.
        kind: how the streams pass each other; for a wheel, counterflow is near enough.
        rated_exhaust_mass_flow_kg_s: m_r of the exhaust stream [kg/s], where the rating point is not balanced.

    Raises:
        OutOfRange: a flow lies outside, or the kind cannot reach the rated effectiveness.

    Source: as for `effectiveness_from_ntu`; the constant conductance is an assumption, common practice, no source.

    Example:
        >>> round(effectiveness_at_flows(rated_effectiveness=0.75, rated_mass_flow_kg_s=1.0,
        ...     supply_mass_flow_kg_s=1.0, exhaust_mass_flow_kg_s=0.8, kind="counterflow"), 4)
        0.8481
    """
    rated = within("rated mass flow", rated_mass_flow_kg_s, 1e-6, 5000.0, "kg/s").item()
    other = rated if rated_exhaust_mass_flow_kg_s is None else rated_exhaust_mass_flow_kg_s
    rated_exhaust = within("rated exhaust mass flow", other, 1e-6, 5000.0, "kg/s").item()
    supply = within("supply mass flow", supply_mass_flow_kg_s, 0.3 * rated, 1.3 * rated, "kg/s").item()
    exhaust = within(
        "exhaust mass flow", exhaust_mass_flow_kg_s, 0.3 * rated_exhaust, 1.3 * rated_exhaust, "kg/s"
    ).item()
    least, most = min(rated, rated_exhaust), max(rated, rated_exhaust)
    rated_ntu = ntu_from_effectiveness(effectiveness=rated_effectiveness, capacity_ratio=least / most, kind=kind)
    smaller, larger = min(supply, exhaust), max(supply, exhaust)
    ntu = min(rated_ntu * least / smaller, NTU_RANGE[1])
    return float(effectiveness_from_ntu(ntu=ntu, capacity_ratio=smaller / larger, kind=kind))


def effectiveness_between_points(
    *,
    lower_effectiveness: FloatOrArray,
    lower_airflow_m3_s: FloatOrArray,
    upper_effectiveness: FloatOrArray,
    upper_airflow_m3_s: FloatOrArray,
    supply_airflow_m3_s: FloatOrArray,
    exhaust_airflow_m3_s: FloatOrArray,
) -> FloatOrArray:
    """Return an effectiveness at measured flows, straight through two rating points.

        q = (q_s + q_e) / 2,  eps = eps_a + (eps_b - eps_a) (q - q_a) / (q_b - q_a)

    Args:
        lower_effectiveness: eps_a at the smaller rated flow [-], 0 to 1.
        lower_airflow_m3_s: q_a, mean of both streams [m3/s], above 0.
        upper_effectiveness: eps_b at the larger rated flow [-], 0 to 1.
        upper_airflow_m3_s: q_b, mean of both streams [m3/s], at least 1.05 q_a.
        supply_airflow_m3_s: q_s [m3/s], on the basis of the rating; 0 to 2000.
        exhaust_airflow_m3_s: q_e [m3/s], likewise; at most twice, at least half of q_s.

    Raises:
        OutOfRange: a flow lies outside; q must come to 0.5 to 1.3 of q_b.

    Source: EnergyPlus Engineering Reference, air-to-air heat recovery, there with the points at 75 and 100 %.

    Example:
        >>> round(effectiveness_between_points(lower_effectiveness=0.80, lower_airflow_m3_s=0.5,
        ...     upper_effectiveness=0.70, upper_airflow_m3_s=1.0, supply_airflow_m3_s=0.8,
        ...     exhaust_airflow_m3_s=0.7), 3)
        0.75
    """
    supply = within("supply airflow", supply_airflow_m3_s, 1e-6, 2000.0, "m3/s")
    exhaust = within("exhaust airflow", exhaust_airflow_m3_s, 0.5 * supply, 2.0 * supply, "m3/s")
    first = within("smaller rated airflow", lower_airflow_m3_s, 1e-6, 2000.0, "m3/s")
    second = within("larger rated airflow", upper_airflow_m3_s, 1.05 * first, 4000.0, "m3/s")
    ratio = within("flow ratio", plain((supply + exhaust) / (2.0 * second)), 0.5, 1.3, "")
    low = within("effectiveness at the smaller flow", lower_effectiveness, 0.0, 1.0, "")
    full = within("effectiveness at the larger flow", upper_effectiveness, 0.0, 1.0, "")
    start = first / second
    return plain(low + (full - low) * (ratio - start) / (1.0 - start))


def effectiveness_between_ratings(
    *,
    effectiveness_75: FloatOrArray,
    effectiveness_100: FloatOrArray,
    supply_airflow_m3_s: FloatOrArray,
    exhaust_airflow_m3_s: FloatOrArray,
    nominal_airflow_m3_s: FloatOrArray,
) -> FloatOrArray:
    """Return an effectiveness at measured flows, straight through the rating points at 75 and 100 % flow.

        r = (q_s + q_e) / (2 q_n),  eps = eps_75 + (eps_100 - eps_75) (r - 0.75) / 0.25

    Args:
        effectiveness_75: at 75 % flow [-], 0 to 1.
        effectiveness_100: at 100 % flow [-], 0 to 1.
        supply_airflow_m3_s: q_s [m3/s], on the basis of the rating; 0 to 2000.
        exhaust_airflow_m3_s: q_e [m3/s], likewise; at most twice, at least half of q_s.
        nominal_airflow_m3_s: q_n [m3/s], above 0; r must come to 0.5 to 1.3.

    Raises:
        OutOfRange: a flow ratio lies outside.

    Source: EnergyPlus Engineering Reference, air-to-air heat recovery.

    Example:
        >>> effectiveness_between_ratings(effectiveness_75=0.81, effectiveness_100=0.76,
        ...     supply_airflow_m3_s=0.9, exhaust_airflow_m3_s=0.9, nominal_airflow_m3_s=1.0)
        0.78
    """
    nominal = within("nominal airflow", nominal_airflow_m3_s, 1e-6, 2000.0, "m3/s")
    return effectiveness_between_points(
        lower_effectiveness=effectiveness_75,
        lower_airflow_m3_s=plain(0.75 * nominal),
        upper_effectiveness=effectiveness_100,
        upper_airflow_m3_s=plain(nominal),
        supply_airflow_m3_s=supply_airflow_m3_s,
        exhaust_airflow_m3_s=exhaust_airflow_m3_s,
    )


def _counterflow(n: FloatArray, c: FloatArray) -> FloatArray:
    equal = np.isclose(c, 1.0, rtol=0.0, atol=1e-9)
    other = np.where(equal, 0.5, c)
    power = np.exp(-n * (1.0 - other))
    return np.where(equal, n / (1.0 + n), (1.0 - power) / (1.0 - other * power))


def _parallel(n: FloatArray, c: FloatArray) -> FloatArray:
    return np.asarray(-np.expm1(-n * (1.0 + c)) / (1.0 + c))


def _crossflow_unmixed(n: FloatArray, c: FloatArray) -> FloatArray:
    """Integral of the local temperatures by Gauss-Legendre.

    Two ends are reached otherwise, where the closed form loses its digits: below N = 0.001 all kinds are alike to
    N^3, and below C = 0.001 the effectiveness is straight in C.
    """
    safe = np.maximum(n, 1e-3)[..., None]
    held = np.maximum(c, 1e-3)
    ratio = held[..., None]
    top = 2.0 * safe * np.sqrt(ratio)
    v = 0.5 * top * (_NODES + 1.0)
    share = v**2 / (4.0 * ratio * safe)
    integrand = (1.0 + safe - share) * np.exp(-share - ratio * safe) * v * np.i0(v)
    integral = np.sum(integrand * _WEIGHTS * 0.5 * top, axis=-1)
    exact = 1.0 / held - integral / (2.0 * (held * safe[..., 0]) ** 2)
    alone = -np.expm1(-n)
    result: FloatArray = np.where(n < 1e-3, _parallel(n, c), alone + (exact - alone) * c / held)
    return result


def _max_mixed(n: FloatArray, c: FloatArray) -> FloatArray:
    return np.asarray(-np.expm1(c * np.expm1(-n)) / c)


def _min_mixed(n: FloatArray, c: FloatArray) -> FloatArray:
    return np.asarray(-np.expm1(np.expm1(-c * n) / c))


def _approximate(n: FloatArray, c: FloatArray) -> FloatArray:
    return np.asarray(-np.expm1(np.expm1(-c * n**0.78) * n**0.22 / c))


_FORMS: dict[Exchanger, Callable[[FloatArray, FloatArray], FloatArray]] = {
    Exchanger.COUNTERFLOW: _counterflow,
    Exchanger.PARALLEL: _parallel,
    Exchanger.CROSSFLOW_UNMIXED: _crossflow_unmixed,
    Exchanger.CROSSFLOW_MAX_MIXED: _max_mixed,
    Exchanger.CROSSFLOW_MIN_MIXED: _min_mixed,
    Exchanger.CROSSFLOW_APPROXIMATE: _approximate,
}
