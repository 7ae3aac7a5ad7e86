"""Standard uncertainties of inputs: from repeated readings (type A), and from other knowledge (type B)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.guards import FloatOrArray, plain, within

FEW_READINGS = 4


@dataclass(frozen=True, slots=True)
class TypeA:
    """The mean of repeated readings and its uncertainty.

    Attributes:
        mean: arithmetic mean [unit of the readings].
        standard_deviation: of a single reading, the one used [unit of the readings].
        standard_uncertainty: of the mean [unit of the readings].
        degrees_of_freedom: of the standard deviation used [-].
        readings: number of readings.
        pooled: the standard deviation was a pooled or prior one.
    """

    mean: float
    standard_deviation: float
    standard_uncertainty: float
    degrees_of_freedom: float
    readings: int
    pooled: bool


class TooFewReadings(ValueError):
    """One reading has no spread, and no pooled standard deviation was given."""


def type_a(
    values: FloatOrArray | Sequence[float],
    pooled_standard_deviation: float | None = None,
    pooled_degrees_of_freedom: float = math.inf,
) -> TypeA:
    """Return the mean of repeated readings and its standard uncertainty.

        u = s / sqrt(n),  s^2 = sum((x_i - mean)^2) / (n - 1),  nu = n - 1

    With fewer than four readings a pooled or prior standard deviation takes the place of s, if there is one.
    Without it, two or three readings keep their own s, and the few degrees of freedom widen the coverage.

    Args:
        values: the readings [any unit], at least one.
        pooled_standard_deviation: of a single reading, known from many like it [unit of the readings].
        pooled_degrees_of_freedom: of that standard deviation [-].

    Raises:
        TooFewReadings: no reading, or a single one without a pooled standard deviation.
        OutOfRange: a reading is not a finite number, or the pooled standard deviation is negative.

    Source: JCGM 100:2008 (GUM), 4.2; pooling for few readings 4.2.4 and H.3.6 (from memory).

    Example:
        >>> result = type_a([10.0, 11.0, 12.0, 11.0])
        >>> result.mean, round(result.standard_uncertainty, 4), result.degrees_of_freedom
        (11.0, 0.4082, 3.0)
        >>> type_a([10.0], pooled_standard_deviation=0.5).standard_uncertainty
        0.5
    """
    readings = within("reading", np.atleast_1d(np.asarray(values, dtype=np.float64)), -1e300, 1e300, "").ravel()
    number = readings.size
    pooled = pooled_standard_deviation is not None and number < FEW_READINGS
    if number < 1 or (number < 2 and not pooled):
        raise TooFewReadings("a single reading has no spread: give more readings, or a pooled standard deviation")
    if pooled and pooled_standard_deviation is not None:
        deviation = within("pooled standard deviation", pooled_standard_deviation, 0.0, math.inf, "").item()
        freedom = pooled_degrees_of_freedom
    else:
        deviation, freedom = float(np.std(readings, ddof=1)), float(number - 1)
    return TypeA(
        mean=float(np.mean(readings)),
        standard_deviation=deviation,
        standard_uncertainty=deviation / math.sqrt(number),
        degrees_of_freedom=freedom,
        readings=number,
        pooled=pooled,
    )


def rectangular(half_width: FloatOrArray) -> FloatOrArray:
    """Return the standard uncertainty of a value known to lie anywhere within plus and minus a half-width.

        u = a / sqrt(3)

    Args:
        half_width: a [unit of the value], 0 or more.

    Raises:
        OutOfRange: the half-width is negative.

    Source: JCGM 100:2008 (GUM), 4.3.7.

    Example:
        >>> round(rectangular(4.0), 4)
        2.3094
    """
    return plain(within("half-width", half_width, 0.0, np.inf, "") / math.sqrt(3.0))


def triangular(half_width: FloatOrArray) -> FloatOrArray:
    """Return the standard uncertainty of a value within plus and minus a half-width, likeliest in the middle.

        u = a / sqrt(6)

    Args:
        half_width: a [unit of the value], 0 or more.

    Raises:
        OutOfRange: the half-width is negative.

    Source: JCGM 100:2008 (GUM), 4.3.9.

    Example:
        >>> round(triangular(4.0), 4)
        1.633
    """
    return plain(within("half-width", half_width, 0.0, np.inf, "") / math.sqrt(6.0))


def arcsine(half_width: FloatOrArray) -> FloatOrArray:
    """Return the standard uncertainty of a value that swings like a sine between plus and minus a half-width.

        u = a / sqrt(2)

    Args:
        half_width: a [unit of the value], 0 or more.

    Raises:
        OutOfRange: the half-width is negative.

    Source: JCGM 100:2008 (GUM), H.1.3.4.

    Example:
        >>> round(arcsine(0.5), 4)
        0.3536
    """
    return plain(within("half-width", half_width, 0.0, np.inf, "") / math.sqrt(2.0))


def certificate(expanded_uncertainty: FloatOrArray, coverage_factor: FloatOrArray = 2.0) -> FloatOrArray:
    """Return the standard uncertainty from a certificate's expanded uncertainty.

        u = U / k

    Args:
        expanded_uncertainty: U [unit of the value], 0 or more.
        coverage_factor: k of the certificate [-], 1 to 10.

    Raises:
        OutOfRange: an argument lies outside.

    Source: JCGM 100:2008 (GUM), 4.3.3.

    Example:
        >>> certificate(0.5, 2.0)
        0.25
    """
    uncertainty = within("expanded uncertainty", expanded_uncertainty, 0.0, np.inf, "")
    return plain(uncertainty / within("coverage factor", coverage_factor, 1.0, 10.0, ""))


def resolution(step: FloatOrArray) -> FloatOrArray:
    """Return the standard uncertainty by the smallest step of a display.

        u = d / sqrt(12)

    Args:
        step: d [unit of the value], 0 or more.

    Raises:
        OutOfRange: the step is negative.

    Source: JCGM 100:2008 (GUM), F.2.2.1.

    Example:
        >>> round(resolution(1.0), 4)
        0.2887
    """
    return plain(within("display step", step, 0.0, np.inf, "") / math.sqrt(12.0))
