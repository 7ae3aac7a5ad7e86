"""A measured value against limits, with its uncertainty, by an agreed decision rule; three verdicts.

The default of the trade is simple acceptance on the contract's limits, with the uncertainty printed beside it.
Guarded rules are for where they were agreed before testing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from commissioning.engineering.distributions import normal_probability
from commissioning.engineering.guards import FloatOrArray, plain, within
from commissioning.engineering.limits import Limits
from commissioning.engineering.risk import false_acceptance_risk
from commissioning.engineering.settlement import Remedy, Settlement, what_would_settle

__all__ = [
    "Assessment",
    "DecisionRule",
    "Limits",
    "Remedy",
    "Settlement",
    "Verdict",
    "assess",
    "conformance_probability",
    "false_acceptance_risk",
    "relative_deviation",
    "what_would_settle",
]

# A value that is on the limit but for the last bits of a unit conversion is on the limit.
_ON_THE_LIMIT = 1e-9


class DecisionRule(StrEnum):
    """How uncertainty enters the decision."""

    SIMPLE = "simple"
    GUARDED_ACCEPTANCE = "guarded_acceptance"
    GUARDED_REJECTION = "guarded_rejection"


class Verdict(StrEnum):
    """The three outcomes of a decision."""

    CONFORMS = "conforms"
    DOES_NOT_CONFORM = "does_not_conform"
    INCONCLUSIVE = "inconclusive"


@dataclass(frozen=True, slots=True)
class Assessment:
    """One value judged.

    Attributes:
        verdict: the outcome under the rule.
        conformance_probability: probability that the true value lies within the limits [-].
        acceptance_low: lower end of the values that conform under the rule [unit of the value]; None if open.
        acceptance_high: upper end of them [unit of the value]; None if open. Below `acceptance_low` where the
            guard leaves nothing between: then no value can conform under this rule with this uncertainty.
        rejection_low: below this a value does not conform [unit of the value]; None if open.
        rejection_high: above this a value does not conform [unit of the value]; None if open.
        margin: signed distance to the nearest limit [unit of the value], positive inside.
        inside_uncertainty: the nearest limit is no further away than the expanded uncertainty.
    """

    verdict: Verdict
    conformance_probability: float
    acceptance_low: float | None
    acceptance_high: float | None
    rejection_low: float | None
    rejection_high: float | None
    margin: float
    inside_uncertainty: bool


def conformance_probability(*, value: FloatOrArray, standard_uncertainty: FloatOrArray, limits: Limits) -> FloatOrArray:
    """Return the probability that the true value lies within limits, for a normal error.

        p_c = Phi((T_U - y) / u) - Phi((T_L - y) / u)

    Args:
        value: measured value y [any unit].
        standard_uncertainty: u [same unit], above 0.
        limits: T_L and T_U [same unit].

    Raises:
        OutOfRange: the uncertainty is not above 0.

    Source: JCGM 106:2012, 7.4.

    Example:
        >>> round(conformance_probability(value=13.6, standard_uncertainty=1.8, limits=Limits(12.5, 16.3)), 3)
        0.663
    """
    uncertainty = within("standard uncertainty", standard_uncertainty, 1e-300, math.inf, "")
    measured = within("value", value, -1e300, 1e300, "")
    above = 1.0 if limits.high is None else normal_probability(plain((limits.high - measured) / uncertainty))
    below = 0.0 if limits.low is None else normal_probability(plain((limits.low - measured) / uncertainty))
    return plain(above - below)


def assess(
    *,
    value: float,
    standard_uncertainty: float,
    expanded_uncertainty: float,
    limits: Limits,
    rule: DecisionRule | str = DecisionRule.SIMPLE,
    guard_multiplier: float = 1.0,
) -> Assessment:
    """Judge a measured value against limits under a decision rule.

        simple:              conforms within the limits, else does not
        guarded acceptance:  conforms within the limits drawn in by w, does not conform outside the limits,
                             inconclusive between
        guarded rejection:   conforms within the limits, does not conform outside the limits moved out by w,
                             inconclusive between
        w = r U

    A value on an end counts as inside it. An uncertainty of zero is allowed: the probability is then 0 or 1.

    Args:
        value: measured value [any unit].
        standard_uncertainty: u [same unit], 0 or more.
        expanded_uncertainty: U [same unit], at least u.
        limits: the contract's limits [same unit].
        rule: the decision rule, agreed before testing.
        guard_multiplier: r, the guard band in expanded uncertainties [-], 0 to 5.

    Raises:
        OutOfRange: an argument lies outside, or is not a number.
        ValueError: no such rule.

    Source: JCGM 106:2012 (ISO/IEC Guide 98-4), 8.2 and 8.3.

    Example:
        >>> limits = Limits(900.0, 1100.0)
        >>> simple = assess(value=940.0, standard_uncertainty=28.2, expanded_uncertainty=56.4, limits=limits)
        >>> simple.verdict.value, round(simple.conformance_probability, 3), simple.margin
        ('conforms', 0.922, 40.0)
        >>> assess(value=940.0, standard_uncertainty=28.2, expanded_uncertainty=56.4, limits=limits,
        ...     rule="guarded_acceptance").verdict.value
        'inconclusive'
    """
    measured = within("value", value, -1e300, 1e300, "").item()
    uncertainty = within("standard uncertainty", standard_uncertainty, 0.0, 1e300, "").item()
    wide = within("expanded uncertainty", expanded_uncertainty, uncertainty, 1e300, "").item()
    decision = DecisionRule(rule)
    multiplier = within("guard multiplier", guard_multiplier, 0.0, 5.0, "").item()
    guard = 0.0 if decision is DecisionRule.SIMPLE else multiplier * wide
    inward = guard if decision is DecisionRule.GUARDED_ACCEPTANCE else 0.0
    outward = guard if decision is DecisionRule.GUARDED_REJECTION else 0.0
    accept = _moved(limits, inward)
    reject = _moved(limits, -outward)
    if _lies_in(measured, *accept):
        verdict = Verdict.CONFORMS
    elif _lies_in(measured, *reject):
        verdict = Verdict.INCONCLUSIVE
    else:
        verdict = Verdict.DOES_NOT_CONFORM
    if uncertainty > 0.0:
        probability = float(conformance_probability(value=measured, standard_uncertainty=uncertainty, limits=limits))
    else:
        probability = float(_lies_in(measured, limits.low, limits.high))
    margin = limits.margin(measured)
    return Assessment(
        verdict=verdict,
        conformance_probability=probability,
        acceptance_low=accept[0],
        acceptance_high=accept[1],
        rejection_low=reject[0],
        rejection_high=reject[1],
        margin=margin,
        inside_uncertainty=abs(margin) <= wide,
    )


def relative_deviation(*, measured: FloatOrArray, required: FloatOrArray) -> FloatOrArray:
    """Return by what share a measured value lies above (positive) or below what is required.

        d = (measured - required) / required

    Args:
        measured: the measured value [any unit].
        required: design or required value [same unit], above 0.

    Raises:
        OutOfRange: the required value is not above 0.

    Source: common practice, no source.

    Example:
        >>> round(relative_deviation(measured=2730.0, required=3000.0), 4)
        -0.09
    """
    base = within("required value", required, 1e-300, 1e300, "")
    return plain((within("measured value", measured, -1e300, 1e300, "") - base) / base)


def _moved(limits: Limits, inward: float) -> tuple[float | None, float | None]:
    low = None if limits.low is None else limits.low + inward
    high = None if limits.high is None else limits.high - inward
    return low, high


def _lies_in(value: float, low: float | None, high: float | None) -> bool:
    def slack(end: float) -> float:
        return _ON_THE_LIMIT * max(abs(end), abs(value))

    return (low is None or value >= low - slack(low)) and (high is None or value <= high + slack(high))
