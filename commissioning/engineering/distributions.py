"""The normal and Student distributions, in the standard library alone.

Light enough to load anywhere the package runs; the tests hold them against scipy.
"""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from commissioning.engineering.guards import FloatOrArray, plain, within

_STANDARD_NORMAL = NormalDist()
_erf = np.frompyfunc(math.erf, 1, 1)


def normal_probability(z: FloatOrArray) -> FloatOrArray:
    """Return the probability that a standard normal variable lies below z.

        Phi(z) = (1 + erf(z / sqrt 2)) / 2

    Args:
        z: deviation in standard deviations [-]; a number or an array.

    Source: JCGM 106:2012, 7.2.

    Example:
        >>> round(normal_probability(-2.0), 5)
        0.02275
    """
    if isinstance(z, float | int):
        return 0.5 * math.erfc(-z / math.sqrt(2.0))
    return plain(0.5 * (1.0 + np.asarray(_erf(np.asarray(z) / math.sqrt(2.0)), dtype=np.float64)))


def normal_quantile(p: float) -> float:
    """Return the deviation below which a standard normal variable lies with a probability.

        z = Phi^-1(p)

    Args:
        p: probability [-], above 0 and below 1.

    Raises:
        OutOfRange: the probability is not between 0 and 1.

    Source: definition; computed by the standard library.

    Example:
        >>> round(normal_quantile(0.95), 4)
        1.6449
    """
    return _STANDARD_NORMAL.inv_cdf(within("probability", p, 1e-300, 1.0 - 1e-16, "").item())


@lru_cache(maxsize=4096)
def t_quantile(p: float, nu: float) -> float:
    """Return the factor t_p(nu) within whose plus and minus a share p of Student's distribution lies.

        P(-t < T < t) = p,  P(|T| > t) = I_x(nu/2, 1/2),  x = nu / (nu + t^2)

    Args:
        p: coverage probability, both sides [-], above 0 and below 1.
        nu: degrees of freedom [-], 1 or more, whole or not; infinite gives the normal distribution.

    Raises:
        OutOfRange: an argument lies outside.

    Source: JCGM 100:2008 (GUM), annex G, table G.2 as `t_p(nu)`.

    Example:
        >>> round(t_quantile(0.95, 4.0), 3), round(t_quantile(0.95, math.inf), 3)
        (2.776, 1.96)
    """
    coverage = within("coverage probability", p, 1e-12, 1.0 - 1e-12, "").item()
    freedom = within("degrees of freedom", nu, 1.0, math.inf, "").item()
    normal = normal_quantile(0.5 + 0.5 * coverage)
    if freedom > 1e7:
        return normal
    low, high = 0.0, normal
    while _outside(high, freedom) > 1.0 - coverage:
        low, high = high, 2.0 * high
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        low, high = (middle, high) if _outside(middle, freedom) > 1.0 - coverage else (low, middle)
    return 0.5 * (low + high)


def _outside(t: float, nu: float) -> float:
    """The probability that |T| is above t."""
    return _incomplete_beta(0.5 * nu, 0.5, nu / (nu + t * t))


def _incomplete_beta(a: float, b: float, x: float) -> float:
    """The regularised incomplete beta function by its continued fraction, on the side where that converges."""
    if x <= 0.0 or x >= 1.0:
        return float(x >= 1.0)
    log_front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    front = math.exp(log_front)
    if x < (a + 1.0) / (a + b + 2.0):
        return front * _beta_fraction(a, b, x) / a
    return 1.0 - front * _beta_fraction(b, a, 1.0 - x) / b


def _beta_fraction(a: float, b: float, x: float) -> float:
    """Lentz's evaluation of the continued fraction of the incomplete beta function."""
    tiny = 1e-300
    c, d = 1.0, 1.0 / _away_from_zero(1.0 - (a + b) * x / (a + 1.0), tiny)
    value = d
    for m in range(1, 500):
        even = m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0))
        for term in (even, odd):
            d = 1.0 / _away_from_zero(1.0 + term * d, tiny)
            c = _away_from_zero(1.0 + term / c, tiny)
            value *= d * c
        if abs(d * c - 1.0) < 1e-15:
            break
    return value


def _away_from_zero(value: float, tiny: float) -> float:
    return value if abs(value) > tiny else tiny
