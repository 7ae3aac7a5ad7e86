"""Pressure drops at another airflow, what a fan adds, and how hard the wind presses: a static-pressure profile's terms.

A tap reads the static pressure against the air outside the duct, negative on a fan's inlet side.
"""

from __future__ import annotations

from commissioning.engineering.guards import FloatOrArray, plain, within


def expected_pressure_drop_pa(
    *, design_pressure_drop_pa: FloatOrArray, airflow_ratio: FloatOrArray, exponent: FloatOrArray
) -> FloatOrArray:
    """Return the pressure drop to be expected at another airflow than the design's.

        dp = dp_d (q / q_d)^n

    Args:
        design_pressure_drop_pa: dp_d [Pa], 0 to 10 000; of a clean and dry part.
        airflow_ratio: q/q_d, measured over design [-], 0 to 3.
        exponent: n [-], 1 laminar to 2 turbulent; 2 for a system of ducts.

    Raises:
        OutOfRange: an argument lies outside.

    Source: power law between the laminar and turbulent limits; common practice, no source.

    Example:
        >>> expected_pressure_drop_pa(design_pressure_drop_pa=200.0, airflow_ratio=0.9, exponent=2.0)
        162.0
    """
    drop = within("design pressure drop", design_pressure_drop_pa, 0.0, 10_000.0, "Pa")
    ratio = within("ratio of airflows", airflow_ratio, 0.0, 3.0, "")
    return plain(drop * ratio ** within("exponent", exponent, 1.0, 2.0, ""))


def fan_total_rise_pa(
    *,
    outlet_static_pa: FloatOrArray,
    outlet_velocity_pressure_pa: FloatOrArray,
    inlet_static_pa: FloatOrArray,
    inlet_velocity_pressure_pa: FloatOrArray,
) -> FloatOrArray:
    """Return what a fan adds to the total pressure of the air.

        p_tF = (p_s2 + p_v2) - (p_s1 + p_v1)

    Args:
        outlet_static_pa: p_s2 [Pa], -10 000 to 10 000.
        outlet_velocity_pressure_pa: p_v2 [Pa], 0 to 5000.
        inlet_static_pa: p_s1 [Pa], -10 000 to 10 000.
        inlet_velocity_pressure_pa: p_v1 [Pa], 0 to 5000.

    Raises:
        OutOfRange: an argument lies outside.

    Source: AMCA 203, fan total pressure (from memory).

    Example:
        >>> fan_total_rise_pa(outlet_static_pa=150.0, outlet_velocity_pressure_pa=40.0, inlet_static_pa=-250.0,
        ...     inlet_velocity_pressure_pa=15.0)
        425.0
    """
    outlet = within("outlet static pressure", outlet_static_pa, -10_000.0, 10_000.0, "Pa") + within(
        "outlet velocity pressure", outlet_velocity_pressure_pa, 0.0, 5000.0, "Pa"
    )
    inlet = within("inlet static pressure", inlet_static_pa, -10_000.0, 10_000.0, "Pa") + within(
        "inlet velocity pressure", inlet_velocity_pressure_pa, 0.0, 5000.0, "Pa"
    )
    return plain(outlet - inlet)


def wind_pressure_pa(*, wind_m_s: FloatOrArray, density_kg_m3: FloatOrArray = 1.2) -> FloatOrArray:
    """Return the pressure of wind brought to rest: the scale of what wind does to a pressure against outdoors.

        p = rho v^2 / 2

    Args:
        wind_m_s: v [m/s], 0 to 60.
        density_kg_m3: rho [kg/m3], 0.3 to 3.

    Raises:
        OutOfRange: an argument lies outside.

    Source: Bernoulli's equation.

    Example:
        >>> round(wind_pressure_pa(wind_m_s=3.0), 2)
        5.4
    """
    density = within("density", density_kg_m3, 0.3, 3.0, "kg/m3")
    return plain(0.5 * density * within("wind speed", wind_m_s, 0.0, 60.0, "m/s") ** 2)
