"""The examples in the docstrings of the words of judging, of blocks, and of what requirements share."""

import doctest
import importlib
import pkgutil

import pytest

import commissioning.dossier

MODULES = [
    "commissioning.blocks",
    "commissioning.judging.show",
    "commissioning.judging.start_report",
    *(f"commissioning.dossier.{m.name}" for m in pkgutil.iter_modules(commissioning.dossier.__path__)),
]


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_hold(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_there_are_examples_at_all() -> None:
    attempted = sum(doctest.testmod(importlib.import_module(name)).attempted for name in MODULES)
    assert attempted > 10
