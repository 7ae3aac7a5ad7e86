"""The package stands on numpy and the standard library alone; pint comes only with the first conversion."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
IMPORT_ALL = """
import importlib, pkgutil, sys
import commissioning.engineering as package
for entry in pkgutil.iter_modules(package.__path__):
    importlib.import_module(f"{package.__name__}.{entry.name}")
print(*sorted({name.partition(".")[0] for name in sys.modules}))
"""


@pytest.fixture(scope="module")
def loaded() -> set[str]:
    done = subprocess.run([sys.executable, "-c", IMPORT_ALL], cwd=ROOT, capture_output=True, text=True, check=True)
    return set(done.stdout.split())


@pytest.mark.parametrize(
    "name", ["django", "pydantic", "scipy", "pint", "portfolio", "rest_framework", "uncertainties"]
)
def test_is_not_loaded(loaded: set[str], name: str) -> None:
    assert name not in loaded


def test_numpy_is_loaded(loaded: set[str]) -> None:
    assert "numpy" in loaded


def test_inits_are_empty() -> None:
    for folder in ("commissioning", "commissioning/engineering"):
        assert (ROOT / folder / "__init__.py").read_text() == ""
