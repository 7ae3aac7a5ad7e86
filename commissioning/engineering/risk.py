"""The risk of a wrong decision over all the units that a rule is applied to."""

from __future__ import annotations

import math

import numpy as np

from commissioning.engineering.distributions import normal_probability
from commissioning.engineering.guards import within
from commissioning.engineering.limits import Limits

_REACH = 9.0
_STEPS = 20_001


def false_acceptance_risk(
    *,
    limits: Limits,
    process_mean: float,
    process_standard_deviation: float,
    standard_uncertainty: float,
    acceptance: Limits | None = None,
) -> float:
    """Return the probability that a unit is accepted although its true value lies outside the limits.

        R = integral over x outside T of  f(x) P(y in A | x) dx,  y ~ N(x, u^2),  f = N(mean, s^2)

    Args:
        limits: T, the limits for the true value [any unit].
        process_mean: mean of the true values of such units [same unit].
        process_standard_deviation: their standard deviation s [same unit], above 0.
        standard_uncertainty: u of the measurement [same unit], above 0.
        acceptance: A, the values that are accepted [same unit]; None for the limits themselves.

    Raises:
        OutOfRange: a standard deviation is not above 0.

    Source: JCGM 106:2012, 9.5 (global consumer's risk).

    Example:
        >>> risk = false_acceptance_risk(limits=Limits(-1.96, 1.96), process_mean=0.0,
        ...     process_standard_deviation=1.0, standard_uncertainty=0.25)
        >>> round(100.0 * risk, 2)
        0.87
    """
    spread = within("standard deviation of the units", process_standard_deviation, 1e-300, 1e300, "").item()
    uncertainty = within("standard uncertainty", standard_uncertainty, 1e-300, 1e300, "").item()
    accepted = acceptance or limits

    def tail(start: float, stop: float) -> float:
        if not start < stop:
            return 0.0
        x = np.linspace(start, stop, _STEPS)
        density = np.exp(-0.5 * ((x - process_mean) / spread) ** 2) / (spread * math.sqrt(2.0 * math.pi))
        high = math.inf if accepted.high is None else accepted.high
        low = -math.inf if accepted.low is None else accepted.low
        chance = np.asarray(normal_probability((high - x) / uncertainty)) - np.asarray(
            normal_probability((low - x) / uncertainty)
        )
        return float(np.trapezoid(density * np.maximum(chance, 0.0), x))

    farthest = _REACH * spread
    below = 0.0 if limits.low is None else tail(process_mean - farthest, min(limits.low, process_mean + farthest))
    above = 0.0 if limits.high is None else tail(max(limits.high, process_mean - farthest), process_mean + farthest)
    return below + above
