"""Every argument that states a range refuses what lies outside of it, and what is no number at all.

The call is that of the function's own example; one argument at a time is replaced. What the docstring says in the form
`[unit], low to high`, `0 or more` or `above 0` is what must be refused, so text and code cannot drift apart.
"""

from __future__ import annotations

import doctest
import importlib
import inspect
import math
import re
from collections.abc import Callable, Iterator
from typing import Any, TypeAlias

import numpy as np
import pytest

from tests.engineering.method_pages import entries, modules, public, section

NUMBER = r"-?\d+(?:[ \d]*\d)?(?:\.\d+)?(?:e-?\d+)?"
BETWEEN = re.compile(rf"(?<![\w.])({NUMBER}) to ({NUMBER})(?!\w|\.\d| \d)")
UNIT = re.compile(r"\[[^\]]*\]")


def example_call(function: Callable[..., Any]) -> dict[str, Any]:
    """The keywords of the first call in the function's own example."""
    module = importlib.import_module(function.__module__)
    found: list[dict[str, Any]] = []

    def recorder(*positional: Any, **keywords: Any) -> Any:
        names = list(inspect.signature(function).parameters)
        found.append({**dict(zip(names, positional, strict=False)), **keywords})
        return function(*positional, **keywords)

    scope = {**vars(module), function.__name__: recorder}
    test = doctest.DocTestParser().get_doctest(inspect.getdoc(function) or "", scope, function.__name__, None, 0)
    doctest.DocTestRunner(verbose=False).run(test, out=lambda text: None)
    return found[0] if found else {}


def is_number(value: Any) -> bool:
    return (isinstance(value, float | int) and not isinstance(value, bool)) or (
        isinstance(value, np.ndarray) and value.dtype == np.float64
    )


def replaced(value: Any, bad: float) -> Any:
    if not isinstance(value, np.ndarray):
        return bad
    spoiled = value.copy()
    spoiled.flat[0] = bad
    return spoiled


Case: TypeAlias = tuple[Callable[..., Any], dict[str, Any], str, str]


def cases() -> Iterator[tuple[str, Case]]:
    """A label; the function, the call of its example, an argument that is a number there, and what is said of it."""
    for module in modules():
        for name, function in public(module, inspect.isfunction):
            call = example_call(function)
            told = {one: text for names, text in entries(section(inspect.getdoc(function) or "", "Args"))
                    for one in names.split(", ")}  # fmt: skip
            for argument, parameter in inspect.signature(function).parameters.items():
                value = call.get(argument, parameter.default)
                if call and is_number(value) and UNIT.search(told.get(argument, "")):
                    label = f"{module.__name__.rpartition('.')[2]}.{name}-{argument}"
                    yield label, (function, {**call, argument: value}, argument, told[argument])


CASES: dict[str, Case] = dict(cases())

# No range is stated for these, so what is no number goes through and comes out as none, or as the worst verdict.
GOES_THROUGH = {
    *(f"agreement.{name}-{side}" for name in ("normalised_difference", "weighted_best_estimate") for side in "ab"),
    "distributions.normal_probability-z",
    "exchanger.effectiveness-supply",
    *(f"exchanger.energy_closure-{name}" for name in ("return_", "exhaust")),
    *(f"exchanger.leaving_supply-{name}" for name in ("outdoor", "return_")),
    "exchanger.temperature_ratio-supply",
    *(f"exchanger_validity.exchanger_doubts-{name}" for name in ("temperature_drift_k", "duration_s")),
    "exchanger_validity.humidity_doubts-difference",
    *(f"fan_curve.root_between-{name}" for name in ("low", "high")),
    "input_uncertainty.type_a-pooled_degrees_of_freedom",
    "first_order.fit-outputs",
    "loop_response.hunting-errors",
    "loop_response.step_answer-values",
    "risk.false_acceptance_risk-process_mean",
    "signals.level_at-at_s",
    "signals.sampled-values",
    "trend_lines.block_average-values",
    "trend_lines.holds_at-at_s",
    *(f"trend_lines.straight_line-{name}" for name in ("x", "y")),
    *(f"units.{way}-{name}" for way in ("from_si", "to_si") for name in ("value", "inch_of_water_pa")),
}
# What the words after the numbers say is not a range of the number alone.
NOT_A_PLAIN_RANGE = {
    "diagnosis.relative_change-now",  # what is far too small counts as a thousandth, and zero may be read
    "humidity.humidity_ratio_from_vapour_pressure-vapour_pressure_pa",  # 0.9 of the total pressure
    "instrument_bias.units_to_tell-relative_difference",  # the sign does not matter
    "stations.orifice_mass_flow_kg_s-orifice_diameter_m",  # the range is that of d/D
}


def outside(text: str, value: Any) -> list[float]:
    """Values just beyond the range that the text states right after the unit."""
    said = UNIT.sub("", text, count=1)
    first = re.split(r";|\. ", said, maxsplit=1)[0]
    between = BETWEEN.search(first)
    if between:
        low, high = (float(end.replace(" ", "")) for end in between.groups())
        step = 1e-6 * max(abs(low), abs(high), 1e-3)
        return [low - step, high + step] if not isinstance(value, int) else [low - 1, high + 1]
    if re.search(r"\b0 or more\b", first):
        return [-1e-9]
    if re.search(r"\babove 0\b", first):
        return [0.0, -1.0]
    return []


@pytest.mark.parametrize("label", sorted(set(CASES) - GOES_THROUGH))
def test_what_is_no_number_is_refused(label: str) -> None:
    function, call, argument, _ = CASES[label]
    with pytest.raises(ValueError, match=r"\S"):
        function(**{**call, argument: replaced(call[argument], math.nan)})


RANGED = {
    label: beyond
    for label, (_, call, argument, text) in CASES.items()
    if label not in NOT_A_PLAIN_RANGE and (beyond := outside(text, call[argument]))
}


@pytest.mark.parametrize("label", RANGED)
def test_what_lies_outside_the_stated_range_is_refused(label: str) -> None:
    function, call, argument, _ = CASES[label]
    for bad in RANGED[label]:
        with pytest.raises(ValueError, match=r"\S"):
            function(**{**call, argument: replaced(call[argument], bad)})


def test_the_whole_package_is_looked_at() -> None:
    assert len(CASES) > 300
    assert len(RANGED) > 200
    assert set(CASES) >= NOT_A_PLAIN_RANGE | GOES_THROUGH


@pytest.mark.parametrize("label", sorted(GOES_THROUGH))
def test_no_range_is_stated_for_what_goes_through(label: str) -> None:
    function, call, argument, _ = CASES[label]
    function(**{**call, argument: replaced(call[argument], math.nan)})
    assert label not in RANGED
