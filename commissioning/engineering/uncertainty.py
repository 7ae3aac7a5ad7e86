"""Uncertainty by the GUM, in one place: inputs, the budget, and propagation by the linear form and by drawing.

`input_uncertainty` gives standard uncertainties of inputs, `budget` combines them, `monte_carlo` propagates them
through a function; `distributions` holds the normal and Student distributions. Import from here.
"""

from __future__ import annotations

from commissioning.engineering.budget import (
    COVERAGE_PROBABILITY,
    Budget,
    Component,
    Correlations,
    Coverage,
    combine,
    expanded,
)
from commissioning.engineering.distributions import normal_probability, normal_quantile, t_quantile
from commissioning.engineering.input_uncertainty import (
    TooFewReadings,
    TypeA,
    arcsine,
    certificate,
    rectangular,
    resolution,
    triangular,
    type_a,
)
from commissioning.engineering.monte_carlo import Input, MonteCarlo, monte_carlo, propagate

__all__ = [
    "COVERAGE_PROBABILITY",
    "Budget",
    "Component",
    "Correlations",
    "Coverage",
    "Input",
    "MonteCarlo",
    "TooFewReadings",
    "TypeA",
    "arcsine",
    "certificate",
    "combine",
    "expanded",
    "monte_carlo",
    "normal_probability",
    "normal_quantile",
    "propagate",
    "rectangular",
    "resolution",
    "t_quantile",
    "triangular",
    "type_a",
]
