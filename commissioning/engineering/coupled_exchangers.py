"""Exchangers coupled by a third fluid: two coils joined by a pumped liquid, and heat pipes by their rows."""

from __future__ import annotations

import numpy as np

from commissioning.engineering.effectiveness_ntu import Exchanger, effectiveness_from_ntu, ntu_from_effectiveness
from commissioning.engineering.guards import FloatArray, FloatOrArray, OutOfRange, plain, within

ROWS_RANGE = (1.0, 40.0)
_MOST_NTU = 20.0


def coupled_effectiveness(
    *,
    supply_coil_effectiveness: FloatOrArray,
    exhaust_coil_effectiveness: FloatOrArray,
    supply_capacity_w_k: FloatOrArray,
    exhaust_capacity_w_k: FloatOrArray,
    loop_capacity_w_k: FloatOrArray,
) -> FloatOrArray:
    """Return the overall effectiveness of two coils that a liquid couples, from that of each coil by itself.

        1 / (eps C_min) = 1 / (eps_s min(C_s, C_L)) + 1 / (eps_e min(C_e, C_L)) - 1 / C_L,  C_min = min(C_s, C_e)

    Args:
        supply_coil_effectiveness: eps_s, of the smaller of its two capacity rates [-], above 0 to 1.
        exhaust_coil_effectiveness: eps_e, likewise [-], above 0 to 1.
        supply_capacity_w_k: capacity rate of the supply air C_s [W/K], above 0.
        exhaust_capacity_w_k: capacity rate of the exhaust air C_e [W/K], above 0.
        loop_capacity_w_k: capacity rate of the liquid, mass flow by specific heat C_L [W/K], above 0.

    Raises:
        OutOfRange: an argument lies outside.

    Source: Kays and London, Compact Heat Exchangers, liquid-coupled exchangers (from memory); it is the balance of the
        loop, what both coils span less what the liquid spans between them.

    Example:
        >>> round(coupled_effectiveness(supply_coil_effectiveness=0.75, exhaust_coil_effectiveness=0.75,
        ...     supply_capacity_w_k=1000.0, exhaust_capacity_w_k=1000.0, loop_capacity_w_k=1000.0), 6)
        0.6
    """
    eps_s = within("supply coil effectiveness", supply_coil_effectiveness, 1e-9, 1.0, "")
    eps_e = within("exhaust coil effectiveness", exhaust_coil_effectiveness, 1e-9, 1.0, "")
    c_s, c_e = _rate("supply capacity rate", supply_capacity_w_k), _rate("exhaust capacity rate", exhaust_capacity_w_k)
    c_l = _rate("loop capacity rate", loop_capacity_w_k)
    spans = 1.0 / (eps_s * np.minimum(c_s, c_l)) + 1.0 / (eps_e * np.minimum(c_e, c_l)) - 1.0 / c_l
    return plain(1.0 / (np.minimum(c_s, c_e) * spans))


def run_around_effectiveness(
    *,
    supply_conductance_w_k: FloatOrArray,
    exhaust_conductance_w_k: FloatOrArray,
    supply_capacity_w_k: FloatOrArray,
    exhaust_capacity_w_k: FloatOrArray,
    loop_capacity_w_k: FloatOrArray,
) -> FloatOrArray:
    """Return the overall effectiveness of a run-around loop whose two coils are each in counterflow with the liquid.

        eps_i = eps_cf(UA_i / min(C_i, C_L), min / max) for each coil, then as for `coupled_effectiveness`

    Too much liquid costs as too little does: the best flow is that of `optimum_loop_capacity_w_k`.

    Args:
        supply_conductance_w_k: UA_s of the coil in the supply air [W/K], up to 20 of its smaller capacity rate.
        exhaust_conductance_w_k: UA_e of the coil in the exhaust air [W/K], likewise.
        supply_capacity_w_k: capacity rate of the supply air C_s [W/K], above 0.
        exhaust_capacity_w_k: capacity rate of the exhaust air C_e [W/K], above 0.
        loop_capacity_w_k: capacity rate of the liquid C_L [W/K], above 0.

    Raises:
        OutOfRange: an argument lies outside.

    Source: Kays and London, Compact Heat Exchangers (from memory); checked against a direct solution of the two coils.

    Example:
        >>> round(run_around_effectiveness(supply_conductance_w_k=3000.0, exhaust_conductance_w_k=3000.0,
        ...     supply_capacity_w_k=1000.0, exhaust_capacity_w_k=1000.0, loop_capacity_w_k=2000.0), 4)
        0.5595
    """
    rates = {
        "supply": (_rate("supply capacity rate", supply_capacity_w_k), supply_conductance_w_k),
        "exhaust": (_rate("exhaust capacity rate", exhaust_capacity_w_k), exhaust_conductance_w_k),
    }
    liquid = _rate("loop capacity rate", loop_capacity_w_k)
    coils = [
        effectiveness_from_ntu(
            ntu=plain(_rate(f"{name} conductance", conductance) / np.minimum(rate, liquid)),
            capacity_ratio=plain(np.minimum(rate, liquid) / np.maximum(rate, liquid)),
            kind=Exchanger.COUNTERFLOW,
        )
        for name, (rate, conductance) in rates.items()
    ]
    return coupled_effectiveness(
        supply_coil_effectiveness=coils[0],
        exhaust_coil_effectiveness=coils[1],
        supply_capacity_w_k=supply_capacity_w_k,
        exhaust_capacity_w_k=exhaust_capacity_w_k,
        loop_capacity_w_k=loop_capacity_w_k,
    )


def optimum_loop_capacity_w_k(
    *,
    supply_conductance_w_k: FloatOrArray,
    exhaust_conductance_w_k: FloatOrArray,
    supply_capacity_w_k: FloatOrArray,
    exhaust_capacity_w_k: FloatOrArray,
) -> FloatOrArray:
    """Return the capacity rate of the liquid at which a run-around loop of counterflow coils recovers most.

        1 / C_L = (UA_s / C_s + UA_e / C_e) / (UA_s + UA_e)

    There the liquid runs as the wall of a counterflow exchanger of UA = 1 / (1 / UA_s + 1 / UA_e) would, and the loop
    does what that exchanger does. Coils and flows alike: C_L = C.

    Args:
        supply_conductance_w_k: UA_s of the coil in the supply air [W/K], above 0.
        exhaust_conductance_w_k: UA_e of the coil in the exhaust air [W/K], above 0.
        supply_capacity_w_k: capacity rate of the supply air C_s [W/K], above 0.
        exhaust_capacity_w_k: capacity rate of the exhaust air C_e [W/K], above 0.

    Raises:
        OutOfRange: an argument lies outside.

    Source: Kays and London; Holmberg, ASME J. Heat Transfer 97, 1975 (both from memory); derived here from the profile
        of the wall, and checked against a numerical search.

    Example:
        >>> round(optimum_loop_capacity_w_k(supply_conductance_w_k=3000.0, exhaust_conductance_w_k=3000.0,
        ...     supply_capacity_w_k=1200.0, exhaust_capacity_w_k=800.0), 6)
        960.0
    """
    ua_s, ua_e = (
        _rate("supply conductance", supply_conductance_w_k),
        _rate("exhaust conductance", exhaust_conductance_w_k),
    )
    c_s, c_e = _rate("supply capacity rate", supply_capacity_w_k), _rate("exhaust capacity rate", exhaust_capacity_w_k)
    return plain((ua_s + ua_e) / (ua_s / c_s + ua_e / c_e))


def heat_pipe_effectiveness(*, ntu: FloatOrArray, capacity_ratio: FloatOrArray, rows: int) -> FloatOrArray:
    """Return the effectiveness of a heat pipe exchanger: its rows as stages in counterflow, each at one temperature.

    The working fluid of a row boils and condenses at one temperature, as a loop of endless capacity would:

        1 / e = 1 / (1 - exp(-2 N / n)) + C / (1 - exp(-2 C N / n)),  e of one row, halves of a pipe alike
        eps = (Z^n - 1) / (Z^n - C),  Z = (1 - C e) / (1 - e);  n e / (1 + (n - 1) e) at C = 1

    With many rows it comes to counterflow. Pipes within the power and tilt that they are made for.

    Args:
        ntu: of the whole, both halves of the pipes in series, N = UA / C_min [-], above 0 to 20.
        capacity_ratio: C = C_min / C_max [-], 0 to 1.
        rows: n, rows of pipes one behind the other in the direction of the air, 1 to 40.

    Raises:
        OutOfRange: an argument lies outside.

    Source: Kays and London, Compact Heat Exchangers, stages in counterflow (from memory); the row is the limit of
        `coupled_effectiveness` for an endless C_L.

    Example:
        >>> round(heat_pipe_effectiveness(ntu=1.5, capacity_ratio=1.0, rows=6), 4)
        0.5951
    """
    count = int(within("rows of heat pipes", float(rows), *ROWS_RANGE, "").item())
    n, c = np.broadcast_arrays(
        within("number of transfer units", ntu, 1e-6, _MOST_NTU, ""),
        within("capacity ratio", capacity_ratio, 0.0, 1.0, ""),
    )
    step = 2.0 * n / count
    small = c * step < 1e-9  # C / (1 - exp(-C x)) is 1 / x there
    warm = np.where(small, 1.0 / step, np.where(small, 1.0, c) / -np.expm1(-np.where(small, 1.0, c * step)))
    row = 1.0 / (-1.0 / np.expm1(-step) + warm)
    return plain(_in_counterflow(row, c, count))


def run_around_at_flows(
    *,
    rated_effectiveness: float,
    rated_mass_flow_kg_s: float,
    supply_mass_flow_kg_s: float,
    exhaust_mass_flow_kg_s: float,
    rated_exhaust_mass_flow_kg_s: float | None = None,
) -> float:
    """Return the sensible effectiveness of a run-around loop to expect at measured flows, from one rating point.

    Two like coils in counterflow, the liquid at its best flow for the rating point; both conductances and the liquid
    are held, and put into `run_around_effectiveness`:

        UA = UA_cf(eps_r),  UA_s = UA_e = 2 UA,  1 / C_L = (1 / C_s,r + 1 / C_e,r) / 2

    Args:
        rated_effectiveness: eps_r at the rating point [-], above 0.
        rated_mass_flow_kg_s: m_r of the supply stream at the rating point [kg/s], above 0.
        supply_mass_flow_kg_s: measured m_s [kg/s], 0.3 to 1.3 of the rated one.
        exhaust_mass_flow_kg_s: measured m_e [kg/s], 0.3 to 1.3 of the rated one.
        rated_exhaust_mass_flow_kg_s: m_r of the exhaust stream [kg/s], where the rating point is not balanced.

    Raises:
        OutOfRange: a flow lies outside, or a loop cannot reach the rated effectiveness.

    Source: as for `run_around_effectiveness`; that coils are alike, the liquid at its best and all of it held is an
        assumption, common practice, no source.

    Example:
        >>> round(run_around_at_flows(rated_effectiveness=0.6, rated_mass_flow_kg_s=1.0,
        ...     supply_mass_flow_kg_s=0.7, exhaust_mass_flow_kg_s=0.7), 4)
        0.6539
    """
    rated, now = _flows(
        rated_mass_flow_kg_s, rated_exhaust_mass_flow_kg_s, supply_mass_flow_kg_s, exhaust_mass_flow_kg_s
    )
    least = min(rated)
    units = ntu_from_effectiveness(
        effectiveness=rated_effectiveness, capacity_ratio=least / max(rated), kind=Exchanger.COUNTERFLOW
    )
    coil = 2.0 * units * least  # capacity rates are mass flows here: the specific heat of the air cancels
    return float(
        run_around_effectiveness(
            supply_conductance_w_k=coil,
            exhaust_conductance_w_k=coil,
            supply_capacity_w_k=now[0],
            exhaust_capacity_w_k=now[1],
            loop_capacity_w_k=optimum_loop_capacity_w_k(
                supply_conductance_w_k=coil,
                exhaust_conductance_w_k=coil,
                supply_capacity_w_k=rated[0],
                exhaust_capacity_w_k=rated[1],
            ),
        )
    )


def heat_pipe_at_flows(
    *,
    rated_effectiveness: float,
    rated_mass_flow_kg_s: float,
    supply_mass_flow_kg_s: float,
    exhaust_mass_flow_kg_s: float,
    rows: int,
    rated_exhaust_mass_flow_kg_s: float | None = None,
) -> float:
    """Return the sensible effectiveness of a heat pipe exchanger to expect at measured flows, from one rating point.

    The conductance of the rating point is held, and found there by bisection of `heat_pipe_effectiveness`:

        eps(N_r, C_r, n) = eps_r,  N = N_r min(m_r) / min(m_s, m_e),  eps = eps(N, min / max, n)

    Args:
        rated_effectiveness: eps_r at the rating point [-], above 0.
        rated_mass_flow_kg_s: m_r of the supply stream at the rating point [kg/s], above 0.
        supply_mass_flow_kg_s: measured m_s [kg/s], 0.3 to 1.3 of the rated one.
        exhaust_mass_flow_kg_s: measured m_e [kg/s], 0.3 to 1.3 of the rated one.
        rows: n, rows of pipes one behind the other in the direction of the air, 1 to 40.
        rated_exhaust_mass_flow_kg_s: m_r of the exhaust stream [kg/s], where the rating point is not balanced.

    Raises:
        OutOfRange: a flow lies outside, or so many rows cannot reach the rated effectiveness.

    Source: as for `heat_pipe_effectiveness`; the constant conductance is an assumption, common practice, no source.

    Example:
        >>> round(heat_pipe_at_flows(rated_effectiveness=0.5951, rated_mass_flow_kg_s=1.0,
        ...     supply_mass_flow_kg_s=1.0, exhaust_mass_flow_kg_s=1.0, rows=6), 4)
        0.5951
    """
    rated, now = _flows(
        rated_mass_flow_kg_s, rated_exhaust_mass_flow_kg_s, supply_mass_flow_kg_s, exhaust_mass_flow_kg_s
    )

    def reached(ntu: float, flows: tuple[float, float]) -> float:
        return float(heat_pipe_effectiveness(ntu=ntu, capacity_ratio=min(flows) / max(flows), rows=rows))

    low, high = 1e-6, _MOST_NTU
    least, most = reached(low, rated), reached(high, rated)
    if not least <= rated_effectiveness <= most:
        raise OutOfRange("effectiveness", rated_effectiveness, least, most, "")
    for _ in range(100):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if reached(middle, rated) < rated_effectiveness else (low, middle)
    return reached(min(0.5 * (low + high) * min(rated) / min(now), _MOST_NTU), now)


def _in_counterflow(stage: FloatArray, c: FloatArray, count: int) -> FloatArray:
    """Like stages one behind the other, the streams against each other."""
    equal = np.isclose(c, 1.0, rtol=0.0, atol=1e-9)
    other = np.where(equal, 0.5, c)
    z = ((1.0 - other * stage) / (1.0 - stage)) ** count
    return np.where(equal, count * stage / (1.0 + (count - 1.0) * stage), (z - 1.0) / (z - other))


def _flows(
    rated_supply: float, rated_exhaust: float | None, supply: float, exhaust: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """The rated and the measured flows, supply first, the measured ones near enough to the rated ones."""
    first = within("rated mass flow", rated_supply, 1e-6, 5000.0, "kg/s").item()
    second = within("rated exhaust mass flow", first if rated_exhaust is None else rated_exhaust, 1e-6, 5000.0, "kg/s")
    rated = (first, second.item())
    return rated, (
        within("supply mass flow", supply, 0.3 * rated[0], 1.3 * rated[0], "kg/s").item(),
        within("exhaust mass flow", exhaust, 0.3 * rated[1], 1.3 * rated[1], "kg/s").item(),
    )


def _rate(name: str, value: FloatOrArray) -> FloatArray:
    return within(name, value, 1e-6, 1e9, "W/K")
