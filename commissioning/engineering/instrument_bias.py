"""Whether one instrument reads apart from others over many units: a prompt to check a calibration, no accusation.

One pair of readings that differ says little; the same difference on many units says that something common to them
is off. It may be this instrument, the other one, or a habit of either method: both are to be checked.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.distributions import t_quantile
from commissioning.engineering.guards import FloatArray, within

FEWEST_PAIRS = 3
MOST_UNITS = 10_000
COVERAGE_PROBABILITY = 0.95
POWER = 0.80


@dataclass(frozen=True, slots=True)
class ReadingPair:
    """One quantity of one unit, read with the instrument and by another method or with another instrument.

    Attributes:
        reading: with the instrument [any unit], above 0.
        other: by the other [same unit], above 0.
        reading_standard_uncertainty: of the reading, by what differs from unit to unit (repeatability, plane,
            outlet); the instrument's own calibration, common to all units, is left out [same unit].
        other_standard_uncertainty: of the other, likewise [same unit].
    """

    reading: float
    other: float
    reading_standard_uncertainty: float
    other_standard_uncertainty: float


@dataclass(frozen=True, slots=True)
class InstrumentBias:
    """The mean difference of an instrument from others, and whether it can be told from none.

    Attributes:
        pairs: number of units.
        mean_relative_difference: weighted geometric mean of reading over other, less 1 [-].
        standard_uncertainty: of the mean ratio, relative; the larger of what uncertainties and spread say [-].
        degrees_of_freedom: one less than the pairs [-].
        coverage_probability: of the interval [-].
        low: lower end of the interval [-].
        high: upper end of the interval [-].
        spread: weighted standard deviation of the relative difference of a single unit [-].
        consistency: spread over what the uncertainties allow [-]; well above 1, the uncertainties are too small.
        distinguishable: the interval does not hold zero.
    """

    pairs: int
    mean_relative_difference: float
    standard_uncertainty: float
    degrees_of_freedom: float
    coverage_probability: float
    low: float
    high: float
    spread: float
    consistency: float
    distinguishable: bool

    @property
    def prompt(self) -> str:
        """What a person is asked to look at; '' where nothing is."""
        if not self.distinguishable:
            return ""
        side = "above" if self.mean_relative_difference > 0.0 else "below"
        return (
            f"On {self.pairs} units this instrument read {abs(self.mean_relative_difference):.1%} {side} the other "
            f"({self.low:+.1%} to {self.high:+.1%}): a check of the calibration of both, and of how each was used, "
            "is worth its time."
        )


def instrument_bias(
    pairs: Sequence[ReadingPair], *, coverage_probability: float = COVERAGE_PROBABILITY
) -> InstrumentBias:
    """Return the mean relative difference of an instrument from others over several units, with its interval.

        d_i = ln(a_i / b_i),  u_i^2 = (u_a / a_i)^2 + (u_b / b_i)^2,  w_i = 1 / u_i^2
        d = sum(w d_i) / sum(w),  u^2 = max(1, chi^2 / (n - 1)) / sum(w),  chi^2 = sum(w (d_i - d)^2)
        mean relative difference: exp(d) - 1,  interval: exp(d +- t(n - 1) u) - 1

    By logarithms neither of the two is the measure of the other: turned round, the answer is the inverse ratio.

    Where many instruments are looked at, one in twenty is told apart by chance: widen the coverage accordingly
    (0.05 over their number).

    Args:
        pairs: one for each unit, three or more, of different units.
        coverage_probability: of the interval [-], 0.5 to 0.9999.

    Raises:
        OutOfRange: a number lies outside, or there are fewer than three pairs.

    Source: weighted mean with the larger of internal and external error, as particle and metrology tables do
    (Birge 1932; from memory); Student's t as in JCGM 100:2008 (GUM), annex G.

    Example:
        >>> bias = instrument_bias([ReadingPair(1.05 * q, q, 0.01 * q, 0.02 * q) for q in (0.4, 0.5, 0.6, 0.9)])
        >>> round(bias.mean_relative_difference, 3), bias.distinguishable
        (0.05, True)
    """
    number = len(pairs)
    within("number of pairs", float(number), FEWEST_PAIRS, math.inf, "")
    coverage = within("coverage probability", coverage_probability, 0.5, 0.9999, "").item()
    a, b, u_a, u_b = (
        np.array([getattr(pair, name) for pair in pairs], dtype=np.float64) for name in ReadingPair.__dataclass_fields__
    )
    within("reading", a, 1e-12, 1e12, "")
    within("other reading", b, 1e-12, 1e12, "")
    difference = np.log(a / b)
    spread_of_each = np.hypot(_relative(u_a, a), _relative(u_b, b))
    weight = within("uncertainty of a pair", spread_of_each, 1e-9, 10.0, "") ** -2.0
    mean = float(np.sum(weight * difference) / np.sum(weight))
    chi_square = float(np.sum(weight * (difference - mean) ** 2)) / (number - 1)
    uncertainty = math.sqrt(max(1.0, chi_square) / float(np.sum(weight)))
    half = t_quantile(coverage, number - 1.0) * uncertainty
    return InstrumentBias(
        pairs=number,
        mean_relative_difference=math.expm1(mean),
        standard_uncertainty=uncertainty,
        degrees_of_freedom=number - 1.0,
        coverage_probability=coverage,
        low=math.expm1(mean - half),
        high=math.expm1(mean + half),
        spread=math.sqrt(chi_square * number / float(np.sum(weight))),
        consistency=math.sqrt(chi_square),
        distinguishable=abs(mean) > half,
    )


def units_to_tell(
    *,
    relative_difference: float,
    spread: float,
    coverage_probability: float = COVERAGE_PROBABILITY,
    power: float = POWER,
) -> int:
    """Return on how many units both must be read until a difference of a size is told from none.

        smallest n >= 3 with  n >= ((t_p(n - 1) + t_(2 power - 1)(n - 1)) s / d)^2

    Args:
        relative_difference: d that is worth finding [-], above 0; the sign does not matter.
        spread: s, standard deviation of the relative difference of a single unit [-], above 0.
        coverage_probability: p of the interval [-], 0.5 to 0.9999.
        power: chance of telling a difference that is there [-], 0.5 to 0.99.

    Raises:
        OutOfRange: a number lies outside, or more than 10 000 units would be needed.

    Source: size of a sample for Student's t; textbook approximation, held against the non-central t distribution.

    Example:
        >>> units_to_tell(relative_difference=0.03, spread=0.04)
        16
    """
    size = within("relative difference", abs(relative_difference), 1e-9, 10.0, "").item()
    each = within("spread", spread, 1e-9, 10.0, "").item()
    coverage = within("coverage probability", coverage_probability, 0.5, 0.9999, "").item()
    inside = 2.0 * within("power", power, 0.5, 0.99, "").item() - 1.0

    def needed(freedom: float) -> float:
        beyond = t_quantile(inside, freedom) if inside > 1e-12 else 0.0
        return ((t_quantile(coverage, freedom) + beyond) * each / size) ** 2

    number = max(FEWEST_PAIRS, math.ceil(needed(math.inf)))
    within("units needed", float(number), FEWEST_PAIRS, MOST_UNITS, "")
    while number < needed(number - 1.0):
        number += 1
    return number


def _relative(uncertainty: FloatArray, value: FloatArray) -> FloatArray:
    return within("standard uncertainty", uncertainty, 0.0, 1e12, "") / value
