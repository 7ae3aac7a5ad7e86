"""Every public function says what it computes and from which source, and shows it by an example that runs."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
from collections.abc import Callable, Iterator
from types import ModuleType
from typing import Any

import pytest

import commissioning.engineering as package

MODULES = sorted(entry.name for entry in pkgutil.iter_modules(package.__path__))


def load(name: str) -> ModuleType:
    return importlib.import_module(f"{package.__name__}.{name}")


def public_functions() -> Iterator[tuple[str, Callable[..., Any]]]:
    for name in MODULES:
        module = load(name)
        for member, value in vars(module).items():
            if inspect.isfunction(value) and value.__module__ == module.__name__ and not member.startswith("_"):
                yield f"{name}.{member}", value


FUNCTIONS = dict(public_functions())


@pytest.mark.parametrize("name", MODULES)
def test_examples_run(name: str) -> None:
    results = doctest.testmod(load(name))
    assert results.failed == 0


@pytest.mark.parametrize("name", FUNCTIONS)
def test_states_source_and_example(name: str) -> None:
    text = inspect.getdoc(FUNCTIONS[name]) or ""
    assert "Source: " in text
    assert ">>> " in text


@pytest.mark.parametrize("name", FUNCTIONS)
def test_names_each_argument(name: str) -> None:
    text = inspect.getdoc(FUNCTIONS[name]) or ""
    for argument in inspect.signature(FUNCTIONS[name]).parameters:
        assert argument in text, f"{argument} is not explained"


@pytest.mark.parametrize("name", MODULES)
def test_module_says_what_it_holds(name: str) -> None:
    assert load(name).__doc__


def test_the_package_is_looked_at() -> None:
    assert {"guards.within", "units.to_si"} <= set(FUNCTIONS)
