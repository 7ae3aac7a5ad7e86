"""Pressure and leakage of a building, and the offset between what is supplied and what is exhausted.

Flows may all conform and the offset still reverse: its sign and size are a criterion of their own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.budget import COVERAGE_PROBABILITY, Component, combine
from commissioning.engineering.conformity import Assessment, DecisionRule, assess
from commissioning.engineering.guards import FloatOrArray, plain, within
from commissioning.engineering.limits import Limits

DISCHARGE_COEFFICIENT = 0.65


@dataclass(frozen=True, slots=True)
class Stream:
    """One airflow into or out of a space, as mass flow or as standard airflow, the same for all.

    Attributes:
        name: which stream; unique among those of a space.
        airflow_m3_s: airflow, 0 or more [m3/s].
        standard_uncertainty_m3_s: of that airflow [m3/s].
        instrument: what it was measured with; None if none or unknown.
        shared_uncertainty_m3_s: the part of it that streams of one instrument have in common, in proportion; None for
            all of it [m3/s].
    """

    name: str
    airflow_m3_s: float
    standard_uncertainty_m3_s: float
    instrument: str | None = None
    shared_uncertainty_m3_s: float | None = None


@dataclass(frozen=True, slots=True)
class Offset:
    """What is supplied less what is exhausted, judged.

    Attributes:
        offset_m3_s: positive where more is supplied [m3/s].
        relative_offset: over the supply [-].
        standard_uncertainty_m3_s: of the offset [m3/s].
        expanded_uncertainty_m3_s: of the offset [m3/s].
        sign_is_certain: zero lies outside the expanded uncertainty.
        assessment: against the required offset; None where none is required.
    """

    offset_m3_s: float
    relative_offset: float
    standard_uncertainty_m3_s: float
    expanded_uncertainty_m3_s: float
    sign_is_certain: bool
    assessment: Assessment | None


def leakage_airflow_m3_s(
    *,
    area_m2: FloatOrArray,
    pressure_difference_pa: FloatOrArray,
    density_kg_m3: FloatOrArray = 1.2,
    discharge_coefficient: FloatOrArray = DISCHARGE_COEFFICIENT,
) -> FloatOrArray:
    """Return the airflow through a gap or opening under a pressure difference.

        q = C_d A sqrt(2 dp / rho);  0.839 A sqrt(dp) for C_d 0.65 and 1.2 kg/m3

    Args:
        area_m2: A [m2], 0 to 1000.
        pressure_difference_pa: dp [Pa], -1000 to 1000; the airflow takes its sign.
        density_kg_m3: rho [kg/m3], 0.3 to 3.
        discharge_coefficient: C_d [-], 0.3 to 1.

    Raises:
        OutOfRange: an argument lies outside.

    Source: NFPA 92 (coefficients from memory).

    Example:
        >>> round(leakage_airflow_m3_s(area_m2=0.15, pressure_difference_pa=5.0), 4)
        0.2815
    """
    area = within("area", area_m2, 0.0, 1000.0, "m2")
    difference = within("pressure difference", pressure_difference_pa, -1000.0, 1000.0, "Pa")
    density = within("density", density_kg_m3, 0.3, 3.0, "kg/m3")
    coefficient = within("discharge coefficient", discharge_coefficient, 0.3, 1.0, "")
    return plain(coefficient * area * np.sign(difference) * np.sqrt(2.0 * np.abs(difference) / density))


def envelope_leakage_m3_s(
    *, coefficient: FloatOrArray, exponent: FloatOrArray, pressure_difference_pa: FloatOrArray
) -> FloatOrArray:
    """Return the leakage of an envelope under a pressure difference.

        q = C dp^n

    Args:
        coefficient: C [m3/(s Pa^n)], 0 to 1000.
        exponent: n [-], 0.5 to 1; about 0.65.
        pressure_difference_pa: dp [Pa], 0 to 1000.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASTM E779 (form).

    Example:
        >>> round(envelope_leakage_m3_s(coefficient=0.05, exponent=0.65, pressure_difference_pa=5.0), 4)
        0.1423
    """
    factor = within("leakage coefficient", coefficient, 0.0, 1000.0, "m3/(s Pa^n)")
    difference = within("pressure difference", pressure_difference_pa, 0.0, 1000.0, "Pa")
    return plain(factor * difference ** within("exponent", exponent, 0.5, 1.0, ""))


def effective_leakage_area_m2(
    *,
    coefficient: FloatOrArray,
    exponent: FloatOrArray,
    reference_pressure_pa: FloatOrArray = 4.0,
    density_kg_m3: FloatOrArray = 1.2,
) -> FloatOrArray:
    """Return the area of the sharp hole that leaks as an envelope does at a reference pressure.

        A = C dp^(n - 0.5) sqrt(rho / 2)

    Args:
        coefficient: C [m3/(s Pa^n)], 0 to 1000.
        exponent: n [-], 0.5 to 1.
        reference_pressure_pa: dp [Pa], 1 to 100; 4 by default.
        density_kg_m3: rho [kg/m3], 0.3 to 3.

    Raises:
        OutOfRange: an argument lies outside.

    Source: ASTM E779 (form).

    Example:
        >>> round(effective_leakage_area_m2(coefficient=0.05, exponent=0.65), 5)
        0.04768
    """
    factor = within("leakage coefficient", coefficient, 0.0, 1000.0, "m3/(s Pa^n)")
    n = within("exponent", exponent, 0.5, 1.0, "")
    pressure = within("reference pressure", reference_pressure_pa, 1.0, 100.0, "Pa")
    density = within("density", density_kg_m3, 0.3, 3.0, "kg/m3")
    return plain(factor * pressure ** (n - 0.5) * np.sqrt(density / 2.0))


def supply_exhaust_offset(
    *,
    supplied: tuple[Stream, ...],
    exhausted: tuple[Stream, ...],
    required: Limits | None = None,
    rule: DecisionRule | str = DecisionRule.SIMPLE,
    guard_multiplier: float = 1.0,
    coverage_probability: float = COVERAGE_PROBABILITY,
) -> Offset:
    """Return what is supplied to a space or building less what is exhausted, and judge its sign and size.

        d = sum(q_supplied) - sum(q_exhausted)

    Streams measured with one instrument share its error, which partly cancels in the difference. The rest of each
    stream's uncertainty is its own:  u_own^2 = u^2 - u_shared^2.

    Args:
        supplied: streams in; at least one.
        exhausted: streams out, make-up and transfer air included.
        required: limits of the offset [m3/s]; negative where more must be exhausted; None where none is required.
        rule: decision rule.
        guard_multiplier: of a guarded rule [-], 0 to 5.
        coverage_probability: share that the expanded uncertainty is to hold [-], above 0 and below 1.

    Raises:
        ValueError: nothing is supplied, or a name appears twice.
        OutOfRange: an airflow or an uncertainty is negative, or a shared part is larger than the whole.

    Source: conservation of mass; JCGM 100:2008 (GUM), 5.2.

    Example:
        >>> offset = supply_exhaust_offset(supplied=(Stream("SA", 5.2, 0.13, "probe"),),
        ...     exhausted=(Stream("EA", 4.9, 0.1225, "probe"),), required=Limits(low=0.1))
        >>> round(offset.relative_offset, 4), offset.sign_is_certain, offset.assessment.verdict.value
        (0.0577, True, 'conforms')
    """
    if not supplied:
        raise ValueError("an offset needs at least one supplied stream")
    signed = [*((stream, 1.0) for stream in supplied), *((stream, -1.0) for stream in exhausted)]
    for stream, _ in signed:
        within(f"airflow of {stream.name}", stream.airflow_m3_s, 0.0, 2000.0, "m3/s")
    parts = [part for stream, sign in signed for part in _components(stream, sign)]
    budget = combine(parts, coverage_probability=coverage_probability)
    supply = math.fsum(stream.airflow_m3_s for stream in supplied)
    offset = math.fsum(sign * stream.airflow_m3_s for stream, sign in signed)
    assessment = None
    if required is not None:
        assessment = assess(
            value=offset,
            standard_uncertainty=budget.standard_uncertainty,
            expanded_uncertainty=budget.expanded_uncertainty,
            limits=required,
            rule=rule,
            guard_multiplier=guard_multiplier,
        )
    return Offset(
        offset_m3_s=offset,
        relative_offset=offset / within("supply", supply, 1e-9, 1e6, "m3/s").item(),
        standard_uncertainty_m3_s=budget.standard_uncertainty,
        expanded_uncertainty_m3_s=budget.expanded_uncertainty,
        sign_is_certain=abs(offset) > budget.expanded_uncertainty,
        assessment=assessment,
    )


def _components(stream: Stream, sign: float) -> list[Component]:
    whole = stream.standard_uncertainty_m3_s
    if stream.shared_uncertainty_m3_s is None or stream.instrument is None:
        return [Component(stream.name, whole, sign, group=stream.instrument)]
    name = f"shared uncertainty of {stream.name}"
    shared = within(name, stream.shared_uncertainty_m3_s, 0.0, whole * (1.0 + 1e-9), "m3/s").item()
    own = math.sqrt(max(whole**2 - shared**2, 0.0))
    return [
        Component(stream.name, shared, sign, group=stream.instrument),
        Component(f"{stream.name}, its own", own, sign),
    ]


def worst_case_offset_m3_s(
    *,
    supply_airflow_m3_s: FloatOrArray,
    supply_low_tolerance: FloatOrArray,
    exhaust_airflow_m3_s: FloatOrArray,
    exhaust_high_tolerance: FloatOrArray,
) -> FloatOrArray:
    """Return the least offset that the tolerances allow, as a note on the design alone.

        d = q_s (1 - a) - q_e (1 + b)

    Args:
        supply_airflow_m3_s: design q_s [m3/s], 0 to 2000.
        supply_low_tolerance: a, share by which the supply may be low [-], 0 to 1.
        exhaust_airflow_m3_s: design q_e [m3/s], 0 to 2000.
        exhaust_high_tolerance: b, share by which the exhaust may be high [-], 0 to 1.

    Raises:
        OutOfRange: an argument lies outside.

    Source: common practice, no source.

    Example:
        >>> round(worst_case_offset_m3_s(supply_airflow_m3_s=1.0, supply_low_tolerance=0.1,
        ...     exhaust_airflow_m3_s=0.9, exhaust_high_tolerance=0.1), 3)
        -0.09
    """
    supply = within("supply airflow", supply_airflow_m3_s, 0.0, 2000.0, "m3/s")
    exhaust = within("exhaust airflow", exhaust_airflow_m3_s, 0.0, 2000.0, "m3/s")
    low = within("supply tolerance", supply_low_tolerance, 0.0, 1.0, "")
    high = within("exhaust tolerance", exhaust_high_tolerance, 0.0, 1.0, "")
    return plain(supply * (1.0 - low) - exhaust * (1.0 + high))
