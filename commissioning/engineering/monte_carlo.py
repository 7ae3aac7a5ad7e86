"""Propagation through any function: the linear form of the GUM by small steps, and by Monte Carlo as its check."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

import numpy as np

from commissioning.engineering.budget import COVERAGE_PROBABILITY, Budget, Component, Correlations, combine
from commissioning.engineering.guards import FloatArray, within

Function: TypeAlias = Callable[..., Any]
Shape: TypeAlias = Literal["normal", "rectangular", "triangular", "arcsine"]


@dataclass(frozen=True, slots=True)
class Input:
    """One input of a function, with what is known of its error.

    Attributes:
        value: best estimate [unit of the input].
        standard_uncertainty: u(x) [unit of the input], 0 or more.
        shape: distribution of the error; a 'normal' one with few degrees of freedom is drawn as Student's.
        degrees_of_freedom: of the uncertainty [-].
        kind: 'A' by statistics of readings, 'B' by any other knowledge.
        source: where the number comes from, for the reader.
        group: name of what is shared; inputs of a group have one and the same error, scaled.
    """

    value: float
    standard_uncertainty: float
    shape: Shape = "normal"
    degrees_of_freedom: float = math.inf
    kind: Literal["A", "B"] = "B"
    source: str = ""
    group: str | None = None


@dataclass(frozen=True, slots=True)
class MonteCarlo:
    """What the trials of a function gave.

    Attributes:
        mean: of the trials [unit of the result].
        standard_uncertainty: standard deviation of the trials [unit of the result].
        low, high: ends of the interval that leaves equal shares outside on both sides [unit of the result].
        coverage_probability: share of the trials in the interval [-].
        trials: number of trials.
    """

    mean: float
    standard_uncertainty: float
    low: float
    high: float
    coverage_probability: float
    trials: int


def propagate(
    function: Function,
    inputs: Mapping[str, Input],
    correlations: Correlations | None = None,
    *,
    coverage_probability: float = COVERAGE_PROBABILITY,
) -> tuple[float, Budget]:
    """Return a function's value at its inputs, and the budget of its uncertainty in linear form.

        c_i = (f(x_i + u_i) - f(x_i - u_i)) / (2 u_i)

    Args:
        function: takes the inputs as keywords, returns a number.
        inputs: value and uncertainty of each input, by the function's keyword.
        correlations: as for `combine`.
        coverage_probability: share that the expanded uncertainty is to hold [-].

    Raises:
        ValueError: no input, or an invalid correlation.
        OutOfRange: whatever the function refuses, one standard uncertainty around the inputs included.

    Source: JCGM 100:2008 (GUM), 5.1.3 note 2 (sensitivities by steps of one standard uncertainty).

    Example:
        >>> value, budget = propagate(lambda a, b: a * b, {"a": Input(2.0, 0.1), "b": Input(3.0, 0.2)})
        >>> value, round(budget.standard_uncertainty, 4)
        (6.0, 0.5)
    """
    values = {name: entry.value for name, entry in inputs.items()}
    components = [
        Component(
            name=name,
            standard_uncertainty=entry.standard_uncertainty,
            sensitivity=_sensitivity(function, values, name, entry.standard_uncertainty),
            degrees_of_freedom=entry.degrees_of_freedom,
            kind=entry.kind,
            source=entry.source,
            group=entry.group,
        )
        for name, entry in inputs.items()
    ]
    budget = combine(components, correlations, coverage_probability=coverage_probability)
    return float(function(**values)), budget


def monte_carlo(
    function: Function,
    inputs: Mapping[str, Input],
    *,
    trials: int = 200_000,
    seed: int = 0,
    coverage_probability: float = COVERAGE_PROBABILITY,
) -> MonteCarlo:
    """Draw the inputs many times, put each draw through the function, and read off what comes out.

    The check of the linear form: the two should agree where the function is nearly straight over the inputs'
    uncertainties. The same seed gives the same answer.

    Args:
        function: takes arrays of the inputs as keywords, returns an array.
        inputs: value and uncertainty of each input, by the function's keyword.
        trials: number of draws [-], 1000 to 10 000 000.
        seed: of the random numbers.
        coverage_probability: share of the trials that the interval holds [-], above 0 and below 1.

    Raises:
        ValueError: inputs of one group differ in shape or degrees of freedom.
        OutOfRange: the number of trials or the probability lies outside, or whatever the function refuses.

    Source: JCGM 101:2008, 5 to 7; Student's distribution for few degrees of freedom 6.4.9.

    Example:
        >>> drawn = monte_carlo(lambda a, b: a + b, {"a": Input(1.0, 3.0), "b": Input(2.0, 4.0)})
        >>> round(drawn.mean, 1), round(drawn.standard_uncertainty, 1)
        (3.0, 5.0)
    """
    number = int(within("number of trials", trials, 1000, 10_000_000, ""))
    share = within("coverage probability", coverage_probability, 1e-6, 1.0 - 1e-6, "").item()
    generator = np.random.default_rng(seed)
    errors: dict[str, FloatArray] = {}
    forms: dict[str, tuple[str, float]] = {}
    draws: dict[str, FloatArray] = {}
    for name, entry in inputs.items():
        within(f"standard uncertainty of {name}", entry.standard_uncertainty, 0.0, 1e300, "")
        key = f"group {entry.group}" if entry.group is not None else f"alone {name}"
        form = (entry.shape, entry.degrees_of_freedom)
        if forms.setdefault(key, form) != form:
            raise ValueError(f"inputs of group {entry.group!r} must have one shape and degrees of freedom")
        if key not in errors:
            errors[key] = _errors(generator, entry, number)
        draws[name] = entry.value + entry.standard_uncertainty * errors[key]
    results = np.broadcast_to(np.asarray(function(**draws), dtype=np.float64), (number,))
    low, high = np.quantile(results, [0.5 * (1.0 - share), 0.5 * (1.0 + share)])
    return MonteCarlo(
        mean=float(np.mean(results)),
        standard_uncertainty=float(np.std(results, ddof=1)),
        low=float(low),
        high=float(high),
        coverage_probability=share,
        trials=number,
    )


def _sensitivity(function: Function, values: Mapping[str, float], name: str, step: float) -> float:
    if step <= 0.0:
        return 0.0
    up, down = (float(function(**{**values, name: values[name] + sign * step})) for sign in (1.0, -1.0))
    return (up - down) / (2.0 * step)


def _errors(generator: np.random.Generator, entry: Input, number: int) -> FloatArray:
    """Errors of one input in its standard uncertainties."""
    if entry.shape == "rectangular":
        return generator.uniform(-math.sqrt(3.0), math.sqrt(3.0), number)
    if entry.shape == "triangular":
        return generator.triangular(-math.sqrt(6.0), 0.0, math.sqrt(6.0), number)
    if entry.shape == "arcsine":
        return math.sqrt(2.0) * np.sin(generator.uniform(0.0, 2.0 * math.pi, number))
    if math.isfinite(entry.degrees_of_freedom):
        return generator.standard_t(entry.degrees_of_freedom, number)
    return generator.standard_normal(number)
