"""Airflow from a station's signal: an orifice plate, and the factor of a station that may be another size's.

The airflow of a station or fan-inlet ring with a factor K is in `airflow`; through a core, filter or coil, in
`pressure_drop`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from commissioning.engineering.agreement import normalised_difference
from commissioning.engineering.guards import within


@dataclass(frozen=True, slots=True)
class NeighbouringFactor:
    """Another size's factor that would bring two methods together.

    Attributes:
        factor: K of that size [the unit of the factors].
        airflow_m3_s: the station's airflow with it [m3/s].
        normalised_difference: of that from the other method's [-].
    """

    factor: float
    airflow_m3_s: float
    normalised_difference: float


def orifice_mass_flow_kg_s(
    *,
    pipe_diameter_m: float,
    orifice_diameter_m: float,
    upstream_pressure_pa: float,
    downstream_pressure_pa: float,
    density_kg_m3: float,
    viscosity_pa_s: float,
    isentropic_exponent: float = 1.4,
) -> float:
    """Return the mass flow through an orifice plate with taps one diameter before and half a diameter after.

        m = C E eps (pi d^2 / 4) sqrt(2 rho (p1 - p2)),  E = 1 / sqrt(1 - beta^4)

    C by the Reader-Harris/Gallagher equation, in turns with the Reynolds number; eps the expansibility.

    Args:
        pipe_diameter_m: D [m], 0.05 to 1.
        orifice_diameter_m: d [m], at least 0.0125, and beta = d/D within 0.10 to 0.75.
        upstream_pressure_pa: absolute p1 [Pa], above p2.
        downstream_pressure_pa: absolute p2 [Pa], at least 0.75 of p1.
        density_kg_m3: rho before the plate [kg/m3], 0.1 to 2000.
        viscosity_pa_s: mu [Pa s], 1e-6 to 1.
        isentropic_exponent: kappa of the gas [-], 1 to 2; 1.4 for air.

    Raises:
        OutOfRange: an argument lies outside, or the Reynolds number in the pipe is below 5000, or below
            16 000 beta^2 for a beta above 0.56.

    Source: ISO 5167-2:2003, 5.3.2 (from memory); checked against an open library.

    Example:
        >>> m = orifice_mass_flow_kg_s(pipe_diameter_m=0.30, orifice_diameter_m=0.18,
        ...     upstream_pressure_pa=101575.0, downstream_pressure_pa=101325.0, density_kg_m3=1.2,
        ...     viscosity_pa_s=18.1e-6)
        >>> round(m, 4)
        0.4086
    """
    pipe = within("pipe diameter", pipe_diameter_m, 0.05, 1.0, "m").item()
    orifice = within("orifice diameter", orifice_diameter_m, 0.0125, 0.75 * pipe, "m").item()
    beta = within("ratio of diameters", orifice / pipe, 0.10, 0.75, "").item()
    before = within("upstream pressure", upstream_pressure_pa, 1e3, 1e8, "Pa").item()
    after = within("downstream pressure", downstream_pressure_pa, 0.75 * before, before, "Pa").item()
    density = within("density", density_kg_m3, 0.1, 2000.0, "kg/m3").item()
    viscosity = within("viscosity", viscosity_pa_s, 1e-6, 1.0, "Pa s").item()
    kappa = within("isentropic exponent", isentropic_exponent, 1.0, 2.0, "").item()
    shrink = 1.0 - (after / before) ** (1.0 / kappa)
    expansibility: float = 1.0 - (0.351 + 0.256 * beta**4 + 0.93 * beta**8) * shrink
    ideal: float = math.pi * orifice**2 / 4.0 * math.sqrt(2.0 * density * (before - after) / (1.0 - beta**4))
    mass_flow: float = 0.6 * expansibility * ideal
    reynolds = 0.0
    for _ in range(50):
        reynolds = max(4.0 * mass_flow / (math.pi * pipe * viscosity), 1.0)
        mass_flow = _discharge_coefficient(beta, reynolds, pipe) * expansibility * ideal
    within("Reynolds number", reynolds, 5000.0 if beta <= 0.56 else 16_000.0 * beta**2, math.inf, "")
    return mass_flow


def _discharge_coefficient(beta: float, reynolds: float, pipe_m: float) -> float:
    before, after = 1.0, 0.47
    a = (19_000.0 * beta / reynolds) ** 0.8
    dam = 2.0 * after / (1.0 - beta)
    tap = (0.043 + 0.080 * math.exp(-10.0 * before) - 0.123 * math.exp(-7.0 * before)) * (1.0 - 0.11 * a)
    coefficient: float = (
        0.5961
        + 0.0261 * beta**2
        - 0.216 * beta**8
        + 0.000521 * (1e6 * beta / reynolds) ** 0.7
        + (0.0188 + 0.0063 * a) * beta**3.5 * (1e6 / reynolds) ** 0.3
        + tap * beta**4 / (1.0 - beta**4)
        - 0.031 * (dam - 0.8 * dam**1.1) * beta**1.3
    )
    if pipe_m < 0.07112:
        coefficient += 0.011 * (0.75 - beta) * (2.8 - pipe_m / 0.0254)
    return coefficient


def neighbouring_factors(
    *,
    used_factor: float,
    factors: Sequence[float],
    airflow_m3_s: float,
    expanded_uncertainty_m3_s: float,
    other_airflow_m3_s: float,
    other_expanded_uncertainty_m3_s: float,
) -> tuple[NeighbouringFactor, ...]:
    """Return which other sizes' factors would explain why a station and another method disagree, nearest first.

    A wrong size's factor is a common mistake. Nothing is offered where the two agree, and nothing is where no size
    of the list brings them together: then the factor is not what is wrong. What is offered is a question for the
    nameplate, not a correction.

        q_i = q K_i / K_used,  U_i = U K_i / K_used;  offered: |q_i - q_other| / sqrt(U_i^2 + U_other^2) <= 1

    Args:
        used_factor: K that was used [any unit of a station factor], above 0.
        factors: K of the maker's sizes [same unit], above 0; the used one may be among them.
        airflow_m3_s: the station's airflow with K_used q [m3/s], above 0.
        expanded_uncertainty_m3_s: U of it [m3/s], above 0.
        other_airflow_m3_s: airflow by the other method q_other [m3/s], above 0.
        other_expanded_uncertainty_m3_s: U_other of that, at the same coverage [m3/s], above 0.

    Raises:
        OutOfRange: an argument is not above 0.

    Source: normalised difference as in ISO 13528 (from memory); common practice, no source.

    Example:
        >>> offered = neighbouring_factors(used_factor=120.0, factors=[95.0, 120.0, 154.0], airflow_m3_s=1.0,
        ...     expanded_uncertainty_m3_s=0.05, other_airflow_m3_s=1.27, other_expanded_uncertainty_m3_s=0.06)
        >>> [(entry.factor, round(entry.normalised_difference, 2)) for entry in offered]
        [(154.0, 0.15)]
    """
    used = within("station factor", used_factor, 1e-9, 1e9, "").item()
    flow = within("airflow", airflow_m3_s, 1e-9, 2000.0, "m3/s").item()
    wanted = within("other airflow", other_airflow_m3_s, 1e-9, 2000.0, "m3/s").item()

    def with_factor(factor: float) -> NeighbouringFactor:
        ratio = within("station factor", factor, 1e-9, 1e9, "").item() / used
        difference = normalised_difference(
            a=flow * ratio,
            expanded_uncertainty_a=expanded_uncertainty_m3_s * ratio,
            b=wanted,
            expanded_uncertainty_b=other_expanded_uncertainty_m3_s,
        )
        return NeighbouringFactor(float(factor), flow * ratio, float(difference))

    if with_factor(used).normalised_difference <= 1.0:
        return ()
    offered = [with_factor(factor) for factor in dict.fromkeys(factors)]
    return tuple(
        sorted(
            (entry for entry in offered if entry.normalised_difference <= 1.0),
            key=lambda entry: (entry.normalised_difference, entry.factor),
        )
    )
