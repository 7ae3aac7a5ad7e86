"""Fan power against the limit of an energy code with its credits; for information unless the contract says more.

The limit's constants are defined in horsepower and cfm and converted here. The editions from 2019 on have electric
power budgets instead, which are not covered.
"""

from __future__ import annotations

from enum import Enum

from commissioning.engineering.guards import FloatOrArray, plain, within
from commissioning.engineering.units import from_si, to_si

_CREDIT_DIVISOR = 4131.0


class FanSystem(Enum):
    """Kind of fan system, with its limit of shaft power per airflow [bhp/cfm]."""

    CONSTANT_VOLUME = 0.00094
    VARIABLE_VOLUME = 0.0013


def pressure_credit_w(*, pressure_pa: FloatOrArray, airflow_m3_s: FloatOrArray) -> FloatOrArray:
    """Return the shaft power that a device in the air stream adds to the limit.

        A = PD q / 4131 [bhp, in. w.g., cfm]

    Args:
        pressure_pa: pressure drop allowed for the device PD [Pa], 0 to 2000.
        airflow_m3_s: design airflow through it q [m3/s], 0 to 2000.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE 90.1-2010 to 2016, table 6.5.3.1-2 (constant read in a public thread).

    Example:
        >>> round(pressure_credit_w(pressure_pa=204.3, airflow_m3_s=0.9439))
        296
    """
    pressure = from_si(plain(within("pressure drop", pressure_pa, 0.0, 2000.0, "Pa")), "in_wc")
    airflow = from_si(plain(within("airflow", airflow_m3_s, 0.0, 2000.0, "m3/s")), "cfm")
    return to_si(plain(pressure * airflow / _CREDIT_DIVISOR), "hp")


def wheel_credit_pressure_pa(*, effectiveness: FloatOrArray) -> FloatOrArray:
    """Return the pressure drop allowed in each stream for an energy recovery device other than a coil loop.

        PD = 2.2 eps - 0.5 [in. w.g.]

    Args:
        effectiveness: enthalpy recovery ratio at design eps [-], 0.25 to 1.

    Raises:
        OutOfRange: the effectiveness lies outside.

    Source: ASHRAE 90.1-2010 to 2016, table 6.5.3.1-2 (read in a public thread).

    Example:
        >>> round(wheel_credit_pressure_pa(effectiveness=0.60), 1)
        204.3
    """
    return to_si(plain(2.2 * within("effectiveness", effectiveness, 0.25, 1.0, "") - 0.5), "in_wc")


def fan_power_limit_w(*, airflow_m3_s: FloatOrArray, system: FanSystem, credits_w: FloatOrArray = 0.0) -> FloatOrArray:
    """Return the limit of shaft power of all the fans of a system at design.

        bhp = 0.00094 q + A (constant volume),  bhp = 0.0013 q + A (variable volume)  [bhp, cfm]

    Args:
        airflow_m3_s: design supply airflow q [m3/s], 0 to 2000.
        system: constant or variable volume.
        credits_w: sum of the credits A [W], 0 to 1e8.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASHRAE 90.1-2010 to 2016, table 6.5.3.1-1 (constants read in a public thread).

    Example:
        >>> round(fan_power_limit_w(airflow_m3_s=5.0, system=FanSystem.CONSTANT_VOLUME))
        7426
    """
    airflow = from_si(plain(within("airflow", airflow_m3_s, 0.0, 2000.0, "m3/s")), "cfm")
    basic = to_si(plain(system.value * airflow), "hp")
    return plain(basic + within("credits", credits_w, 0.0, 1e8, "W"))
