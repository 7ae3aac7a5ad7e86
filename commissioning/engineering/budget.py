"""The uncertainty budget by the GUM: components, their correlations, what they make together, and coverage.

One instrument read at many points is one error and not many: components of the same `group` are fully
correlated and add with their signs before anything is squared. Everything else is independent unless a
correlation is given.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from commissioning.engineering.distributions import t_quantile
from commissioning.engineering.guards import FloatArray, within

Correlations: TypeAlias = FloatArray | Mapping[tuple[str, str], float]
COVERAGE_PROBABILITY = 0.95
K2_FROM_DEGREES_OF_FREEDOM = 50.0


@dataclass(frozen=True, slots=True)
class Component:
    """One contribution to an uncertainty.

    Attributes:
        name: what it is; unique in a budget.
        standard_uncertainty: u(x_i) [unit of the input], 0 or more.
        sensitivity: c_i, the change of the result per change of the input [unit of result / unit of input].
        degrees_of_freedom: nu_i [-]; infinite where the uncertainty itself is taken as known.
        kind: 'A' by statistics of readings, 'B' by any other knowledge.
        source: where the number comes from, for the reader.
        group: name of what is shared (an instrument, a calibration); components of a group are fully correlated.
    """

    name: str
    standard_uncertainty: float
    sensitivity: float = 1.0
    degrees_of_freedom: float = math.inf
    kind: Literal["A", "B"] = "B"
    source: str = ""
    group: str | None = None

    @property
    def contribution(self) -> float:
        """Signed contribution c_i u(x_i) to the result [unit of the result]."""
        return self.sensitivity * self.standard_uncertainty


@dataclass(frozen=True, slots=True)
class Coverage:
    """An expanded uncertainty and how it was made.

    Attributes:
        coverage_factor: k [-].
        expanded_uncertainty: U = k u [unit of the result].
        coverage_probability: share of the values that the interval is meant to hold [-].
        degrees_of_freedom: nu after truncation [-].
    """

    coverage_factor: float
    expanded_uncertainty: float
    coverage_probability: float
    degrees_of_freedom: float


@dataclass(frozen=True, slots=True)
class Budget:
    """A combined uncertainty with what it is made of.

    Attributes:
        components: what went in, in that order.
        standard_uncertainty: u_c [unit of the result].
        effective_degrees_of_freedom: nu_eff by Welch-Satterthwaite, truncated down [-]; infinite if all are.
        coverage_factor: k [-].
        expanded_uncertainty: U = k u_c [unit of the result].
        coverage_probability: share of the values that U is meant to hold [-].
        shares: part of the variance by component name [-]; they sum to 1, and a cancelling one is negative.
    """

    components: tuple[Component, ...]
    standard_uncertainty: float
    effective_degrees_of_freedom: float
    coverage_factor: float
    expanded_uncertainty: float
    coverage_probability: float
    shares: Mapping[str, float]

    @property
    def dominant(self) -> str | None:
        """Name of the component with the largest share; None where the uncertainty is zero."""
        return max(self.shares, key=lambda name: self.shares[name]) if self.standard_uncertainty else None


def combine(
    components: Sequence[Component],
    correlations: Correlations | None = None,
    *,
    coverage_probability: float = COVERAGE_PROBABILITY,
) -> Budget:
    """Combine components into a standard and an expanded uncertainty.

        u_c^2 = sum_i sum_j c_i u_i r_ij c_j u_j
        nu_eff = u_c^4 / sum_g (u_g^4 / nu_g),  u_g = |sum of c_i u_i in the group|, nu_g the least in the group

    nu_eff is truncated to the next lower whole number. With correlations other than those of groups the formula
    for nu_eff is only an approximation.

    Args:
        components: the contributions; at least one, with unique names.
        correlations: coefficients r_ij [-] beyond those of the groups: by pair of names, or a whole symmetric
            matrix in the order of the components, which then replaces the groups.
        coverage_probability: share that the expanded uncertainty is to hold [-], above 0 and below 1.

    Raises:
        ValueError: no component, a name twice, a name unknown, or no valid correlation matrix.
        OutOfRange: an uncertainty is negative, or a number of degrees of freedom below 1.

    Source: JCGM 100:2008 (GUM), 5.2.2 eq. (16), G.4.1 eq. (G.2b).

    Example:
        >>> budget = combine([Component("scale", 0.3, group="gauge"), Component("zero", 0.4)])
        >>> round(budget.standard_uncertainty, 3), budget.coverage_factor, round(budget.shares["zero"], 2)
        (0.5, 2.0, 0.64)
        >>> twice = combine([Component("first", 1.0, group="gauge"), Component("second", 1.0, group="gauge")])
        >>> twice.standard_uncertainty
        2.0
    """
    _check(components)
    covariances = _by_groups(components) if correlations is None else _by_matrix(components, correlations)
    variance = max(math.fsum(covariances), 0.0)
    combined = math.sqrt(variance)
    freedom = _effective_degrees_of_freedom(components, combined)
    coverage = expanded(
        standard_uncertainty=combined, degrees_of_freedom=freedom, coverage_probability=coverage_probability
    )
    shares = [covariance / variance if variance > 0.0 else 0.0 for covariance in covariances]
    return Budget(
        components=tuple(components),
        standard_uncertainty=combined,
        effective_degrees_of_freedom=coverage.degrees_of_freedom,
        coverage_factor=coverage.coverage_factor,
        expanded_uncertainty=coverage.expanded_uncertainty,
        coverage_probability=coverage_probability,
        shares={component.name: share for component, share in zip(components, shares, strict=True)},
    )


def expanded(
    *,
    standard_uncertainty: float,
    degrees_of_freedom: float = math.inf,
    coverage_probability: float = COVERAGE_PROBABILITY,
) -> Coverage:
    """Return the coverage factor and the expanded uncertainty.

        U = k u;  k = t_p(nu), and k = 2 for p = 0.95 from nu = 50 on (it then holds 95.0 to 95.4 %)

    Args:
        standard_uncertainty: u [unit of the result], 0 or more.
        degrees_of_freedom: nu [-], 1 or more; truncated down to a whole number.
        coverage_probability: p [-], above 0 and below 1.

    Raises:
        OutOfRange: an argument lies outside.

    Source: JCGM 100:2008 (GUM), 6.3.3 and G.6.4.

    Example:
        >>> expanded(standard_uncertainty=1.5).expanded_uncertainty
        3.0
        >>> round(expanded(standard_uncertainty=1.0, degrees_of_freedom=4.7).coverage_factor, 3)
        2.776
    """
    uncertainty = within("standard uncertainty", standard_uncertainty, 0.0, math.inf, "").item()
    freedom = within("degrees of freedom", degrees_of_freedom, 1.0, math.inf, "").item()
    if math.isfinite(freedom):
        freedom = float(math.floor(freedom + 1e-9))
    if coverage_probability == COVERAGE_PROBABILITY and freedom >= K2_FROM_DEGREES_OF_FREEDOM:
        factor = 2.0
    else:
        factor = t_quantile(coverage_probability, freedom)
    return Coverage(factor, factor * uncertainty, coverage_probability, freedom)


def _check(components: Sequence[Component]) -> None:
    if not components:
        raise ValueError("a budget needs at least one component")
    names = [component.name for component in components]
    if len(set(names)) != len(names):
        twice = sorted({name for name in names if names.count(name) > 1})
        raise ValueError(f"component names must be unique; twice: {', '.join(twice)}")
    for component in components:
        if (
            0.0 <= component.standard_uncertainty <= 1e300
            and -1e300 <= component.sensitivity <= 1e300
            and component.degrees_of_freedom >= 1.0
        ):
            continue
        within(f"standard uncertainty of {component.name}", component.standard_uncertainty, 0.0, 1e300, "")
        within(f"sensitivity of {component.name}", component.sensitivity, -1e300, 1e300, "")
        within(f"degrees of freedom of {component.name}", component.degrees_of_freedom, 1.0, math.inf, "")


def _by_groups(components: Sequence[Component]) -> list[float]:
    """Each component's part of the variance where only the groups correlate: its own times the sum of its group."""
    sums: dict[str, float] = {}
    for component in components:
        if component.group is not None:
            sums[component.group] = sums.get(component.group, 0.0) + component.contribution
    return [
        component.contribution * (component.contribution if component.group is None else sums[component.group])
        for component in components
    ]


def _by_matrix(components: Sequence[Component], correlations: Correlations) -> list[float]:
    contributions = np.array([component.contribution for component in components])
    parts = contributions * (_correlation_matrix(components, correlations) @ contributions)
    return [float(part) for part in parts]


def _correlation_matrix(components: Sequence[Component], correlations: Correlations) -> FloatArray:
    number = len(components)
    matrix = np.eye(number)
    for i, one in enumerate(components):
        for j, other in enumerate(components):
            if one.group is not None and one.group == other.group:
                matrix[i, j] = 1.0
    if isinstance(correlations, np.ndarray):
        matrix = np.asarray(correlations, dtype=np.float64)
    else:
        index = {component.name: i for i, component in enumerate(components)}
        for (first, second), coefficient in correlations.items():
            if first not in index or second not in index or first == second:
                raise ValueError(f"no such pair of components: {first!r} and {second!r}")
            i, j = index[first], index[second]
            matrix[i, j] = matrix[j, i] = coefficient
    if matrix.shape != (number, number) or not np.allclose(matrix, matrix.T) or not np.all(matrix.diagonal() == 1.0):
        raise ValueError("correlations must be a symmetric matrix with ones on its diagonal, one row a component")
    if float(np.min(np.linalg.eigvalsh(matrix))) < -1e-9:
        raise ValueError("these correlations cannot all hold at once (the matrix is not positive semi-definite)")
    return matrix


def _effective_degrees_of_freedom(components: Sequence[Component], combined: float) -> float:
    if all(component.degrees_of_freedom == math.inf for component in components):
        return math.inf
    groups: dict[str, list[Component]] = {}
    for position, component in enumerate(components):
        groups.setdefault(f"group {component.group}" if component.group else f"alone {position}", []).append(component)
    below = sum(
        sum(member.contribution for member in members) ** 4 / min(member.degrees_of_freedom for member in members)
        for members in groups.values()
    )
    if below == 0.0 or combined == 0.0:
        return math.inf
    return max(combined**4 / below, 1.0)
