"""Two results of one quantity held against each other, and what enters a box against what leaves it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from commissioning.engineering.guards import FloatOrArray, plain, within


@dataclass(frozen=True, slots=True)
class BestEstimate:
    """Two agreeing results made one.

    Attributes:
        value: weighted mean [unit of the results].
        expanded_uncertainty: of the mean, at the coverage of the two that went in [unit of the results].
        weight_a: share of the first result in the mean [-].
    """

    value: float
    expanded_uncertainty: float
    weight_a: float


@dataclass(frozen=True, slots=True)
class MassClosure:
    """What enters held against what leaves.

    Attributes:
        entering_kg_s: sum of the mass flows in [kg/s].
        leaving_kg_s: sum of the mass flows out [kg/s].
        difference_kg_s: entering minus leaving [kg/s].
        relative_difference: difference over the mean of the two sums [-].
        standard_uncertainty_kg_s: of the difference [kg/s]; None where no uncertainties were given.
        within_uncertainty: the difference is at most twice its standard uncertainty; None likewise.
    """

    entering_kg_s: float
    leaving_kg_s: float
    difference_kg_s: float
    relative_difference: float
    standard_uncertainty_kg_s: float | None
    within_uncertainty: bool | None


class MethodsDisagree(ValueError):
    """Two results differ by more than their uncertainties allow; a mean of them would mean nothing."""

    def __init__(self, normalised_difference_: float) -> None:
        self.normalised_difference = normalised_difference_
        super().__init__(
            f"the normalised difference is {normalised_difference_:.2f}, above 1: "
            "find out which is wrong; they are not averaged"
        )

    def __reduce__(self) -> tuple[type[MethodsDisagree], tuple[float]]:
        return type(self), (self.normalised_difference,)


def normalised_difference(
    *,
    a: FloatOrArray,
    expanded_uncertainty_a: FloatOrArray,
    b: FloatOrArray,
    expanded_uncertainty_b: FloatOrArray,
    correlation: FloatOrArray = 0.0,
) -> FloatOrArray:
    """Return by how much two results differ, against what their uncertainties allow; above 1 they disagree.

        E = |a - b| / sqrt(U_a^2 + U_b^2 - 2 r U_a U_b)

    Args:
        a, b: the two results [same unit].
        expanded_uncertainty_a: expanded uncertainty of the first U_a [same unit], above 0.
        expanded_uncertainty_b: expanded uncertainty of the second U_b [same unit], above 0, at the same coverage.
        correlation: correlation of the two errors r [-], -1 to below 1; 0 for two instruments.

    Raises:
        OutOfRange: an uncertainty is not above 0, or the correlation lies outside.

    Source: ISO 13528 (the E_n number; from memory), with the correlation as in the GUM (JCGM 100, 5.2.2).

    Example:
        >>> round(normalised_difference(a=1000.0, expanded_uncertainty_a=50.0, b=1080.0,
        ...     expanded_uncertainty_b=60.0), 3)
        1.024
    """
    first = within("expanded uncertainty", expanded_uncertainty_a, np.nextafter(0.0, 1.0), np.inf, "")
    second = within("expanded uncertainty", expanded_uncertainty_b, np.nextafter(0.0, 1.0), np.inf, "")
    shared = within("correlation", correlation, -1.0, 1.0 - 1e-9, "")
    allowed = np.sqrt(first**2 + second**2 - 2.0 * shared * first * second)
    return plain(np.abs(np.asarray(a, dtype=np.float64) - b) / allowed)


def shared_correlation(
    *,
    shared_standard_uncertainty: FloatOrArray,
    standard_uncertainty_1: FloatOrArray,
    standard_uncertainty_2: FloatOrArray,
) -> FloatOrArray:
    """Return the correlation of two results by what they share: one instrument, one density, one calibration.

        r = u_shared^2 / (u_1 u_2)

    Args:
        shared_standard_uncertainty: that part of each which is one and the same error, same sign [same unit],
            0 to the smaller of the two.
        standard_uncertainty_1: of the first result, the shared part included [same unit], above 0.
        standard_uncertainty_2: of the second result, the shared part included [same unit], above 0.

    Raises:
        OutOfRange: an argument lies outside.

    Source: JCGM 100:2008 (GUM), 5.2.2 and F.1.2.3.

    Example:
        >>> shared_correlation(shared_standard_uncertainty=3.0, standard_uncertainty_1=5.0, standard_uncertainty_2=6.0)
        0.3
    """
    first = within("standard uncertainty", standard_uncertainty_1, np.nextafter(0.0, 1.0), np.inf, "")
    second = within("standard uncertainty", standard_uncertainty_2, np.nextafter(0.0, 1.0), np.inf, "")
    shared = within("shared uncertainty", shared_standard_uncertainty, 0.0, plain(np.minimum(first, second)), "")
    return plain(shared**2 / (first * second))


def weighted_best_estimate(
    *, a: float, expanded_uncertainty_a: float, b: float, expanded_uncertainty_b: float, correlation: float = 0.0
) -> BestEstimate:
    """Return the weighted mean of two results, only where they agree.

        w = (U_b^2 - r U_a U_b) / (U_a^2 + U_b^2 - 2 r U_a U_b), held within 0 to 1;  x = w a + (1 - w) b
        U^2 = w^2 U_a^2 + (1 - w)^2 U_b^2 + 2 w (1 - w) r U_a U_b

    Where the correlation is so high that a weight would be negative, the better result stands alone: an estimate
    outside of the two would rest on the correlation and not on the readings.

    Args:
        a, b: the two results [same unit].
        expanded_uncertainty_a: expanded uncertainty of the first U_a [same unit], above 0.
        expanded_uncertainty_b: expanded uncertainty of the second U_b [same unit], above 0, at the same coverage.
        correlation: correlation of the two errors r [-], -1 to below 1; 0 for two instruments.

    Raises:
        MethodsDisagree: the normalised difference is above 1.
        OutOfRange: an uncertainty is not above 0, or the correlation lies outside.

    Source: least squares with a covariance (JCGM 100:2008, 5.2.2); not averaging what disagrees is common practice,
    no source.

    Example:
        >>> best = weighted_best_estimate(a=1000.0, expanded_uncertainty_a=50.0, b=1040.0,
        ...     expanded_uncertainty_b=50.0)
        >>> best.value, round(best.expanded_uncertainty, 2)
        (1020.0, 35.36)
    """
    difference = float(
        normalised_difference(
            a=a,
            expanded_uncertainty_a=expanded_uncertainty_a,
            b=b,
            expanded_uncertainty_b=expanded_uncertainty_b,
            correlation=correlation,
        )
    )
    if difference > 1.0:
        raise MethodsDisagree(difference)
    square_a, square_b = expanded_uncertainty_a**2, expanded_uncertainty_b**2
    both = correlation * expanded_uncertainty_a * expanded_uncertainty_b
    weight_a = min(max((square_b - both) / (square_a + square_b - 2.0 * both), 0.0), 1.0)
    weight_b = 1.0 - weight_a
    left = weight_a**2 * square_a + weight_b**2 * square_b + 2.0 * weight_a * weight_b * both
    return BestEstimate(
        value=weight_a * a + weight_b * b, expanded_uncertainty=max(left, 0.0) ** 0.5, weight_a=weight_a
    )


def mass_closure(
    *,
    entering_kg_s: FloatOrArray,
    leaving_kg_s: FloatOrArray,
    entering_standard_uncertainty_kg_s: FloatOrArray | None = None,
    leaving_standard_uncertainty_kg_s: FloatOrArray | None = None,
) -> MassClosure:
    """Return how far the mass that enters a unit or space differs from the mass that leaves it.

        d = sum(m_in) - sum(m_out),  relative: d / ((sum(m_in) + sum(m_out)) / 2)

    Args:
        entering_kg_s: mass flow of each stream in [kg/s], 0 or more.
        leaving_kg_s: mass flow of each stream out [kg/s], 0 or more.
        entering_standard_uncertainty_kg_s: standard uncertainty of each stream in [kg/s]; independent.
        leaving_standard_uncertainty_kg_s: standard uncertainty of each stream out [kg/s]; independent.

    Raises:
        OutOfRange: a mass flow or an uncertainty is negative, or nothing flows.

    Source: conservation of mass; twice the standard uncertainty as the limit is common practice, no source.

    Example:
        >>> closure = mass_closure(entering_kg_s=np.array([1.2, 1.0]), leaving_kg_s=np.array([1.1, 1.0]))
        >>> round(closure.difference_kg_s, 3), round(closure.relative_difference, 4)
        (0.1, 0.0465)
    """
    entering = float(np.sum(within("mass flow in", entering_kg_s, 0.0, 5000.0, "kg/s")))
    leaving = float(np.sum(within("mass flow out", leaving_kg_s, 0.0, 5000.0, "kg/s")))
    mean = within("sum of the mass flows", 0.5 * (entering + leaving), 1e-9, np.inf, "kg/s").item()
    uncertainty = None
    if entering_standard_uncertainty_kg_s is not None and leaving_standard_uncertainty_kg_s is not None:
        parts = (entering_standard_uncertainty_kg_s, leaving_standard_uncertainty_kg_s)
        uncertainty = (
            sum(float(np.sum(within("standard uncertainty", part, 0.0, 5000.0, "kg/s") ** 2)) for part in parts) ** 0.5
        )
    return MassClosure(
        entering_kg_s=entering,
        leaving_kg_s=leaving,
        difference_kg_s=entering - leaving,
        relative_difference=(entering - leaving) / mean,
        standard_uncertainty_kg_s=uncertainty,
        within_uncertainty=None if uncertainty is None else abs(entering - leaving) <= 2.0 * uncertainty,
    )
