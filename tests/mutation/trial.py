"""One mutant against the tests of its module: a child of a warm process imports everything of ours afresh and runs."""

from __future__ import annotations

import ast
import contextlib
import doctest
import importlib
import importlib.abc
import importlib.machinery
import os
import signal
import sys
import time
import types
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = "commissioning.engineering"
TESTS = ROOT / "tests" / "engineering"
RANGES = TESTS / "test_ranges.py"
LONGEST_S = 120.0
HEAVY = ("numpy", "pint", "pytest", "hypothesis", "scipy.stats", "scipy.integrate", "scipy.optimize", "uncertainties")
ORACLES = ("CoolProp.CoolProp", "fluids", "ht", "psychrolib")

# A module that is used through another's door is tested there.
DOORS = {
    "budget": "uncertainty",
    "input_uncertainty": "uncertainty",
    "monte_carlo": "uncertainty",
    "distributions": "uncertainty",
    "traverse_quality": "traverse",
    "agreement": "airflow",
    "limits": "conformity",
    "risk": "conformity",
    "settlement": "conformity",
    "unit_table": "units",
    "motors": "fans",
    "exchanger_validity": "exchanger",
    "effectiveness_ntu": "exchanger",
    "doubt": "exchanger",
}


def warm_up() -> None:
    """What costs seconds to import and is none of ours."""
    for name in (*HEAVY, *ORACLES):
        importlib.import_module(name)
    from hypothesis import settings

    settings.register_profile("mutation", deadline=None, database=None, derandomize=True)
    settings.load_profile("mutation")
    ours = [name for name in sys.modules if name.split(".")[0] == "commissioning"]
    assert not ours, ours


def tests_of(module: str) -> list[Path]:
    """The file of the module or of the door through which it is used, and the few that import it by name."""
    wanted = {f"{PACKAGE}.{name}" for name in (module, DOORS.get(module, module))}
    skipped = ("test_docstrings", "test_method_pages", "test_purity", "test_ranges")
    files = [path for path in sorted(TESTS.glob("test_*.py")) if path.stem not in skipped]
    found = [path for path in files if _imports(path) & wanted]
    by_name = {path.stem: path for path in found}
    own = [by_name[name] for name in (f"test_{module}", f"test_{DOORS.get(module, module)}") if name in by_name]
    door = DOORS.get(module, module)
    own += [path for path in found if path.stem.startswith(f"test_{door}_") and path not in own]
    direct = [path for path in found if f"{PACKAGE}.{module}" in _imports(path)]
    own += direct if len(direct) <= 3 else []  # what everybody imports is tested in its own file
    return list(dict.fromkeys(own)) or found


@lru_cache
def _imports(path: Path) -> frozenset[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module, *(f"{node.module}.{one.name}" for one in node.names)}
        if isinstance(node, ast.Import):
            names |= {one.name for one in node.names}
    return frozenset(names)


def survives(module: str, tree: ast.Module | None, files: Sequence[Path]) -> bool | None:
    """Whether every test passes all the same; None where they never ended, which is noticed too."""
    child = os.fork()
    if child == 0:
        with contextlib.suppress(BaseException):
            os._exit(_run(module, tree, files))
        os._exit(1)
    end = time.monotonic() + LONGEST_S
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status) == 0
        time.sleep(0.02)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return None


def _run(module: str, tree: ast.Module | None, files: Sequence[Path]) -> int:
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    name = f"{PACKAGE}.{module}"
    if tree is not None:
        sys.meta_path.insert(0, _Mutated(name, tree))
    failed, _ = doctest.testmod(importlib.import_module(name))
    if failed:
        return 1
    import pytest

    options = ["-q", "-x", "-p", "no:cacheprovider", "-p", "no:django", "-p", "no:xdist", "--noconftest"]
    where = ["-c", os.devnull, "--rootdir", str(ROOT), "--import-mode=importlib"]
    told = int(pytest.main([*options, *where, *map(str, files)]))
    if told == 0 and RANGES.exists():  # of every module: what lies outside a stated range is refused
        told = int(pytest.main([*options, *where, str(RANGES), "-k", f"{module}."]))
    return 0 if told == pytest.ExitCode.NO_TESTS_COLLECTED else told


class _Mutated(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives the one module out of its changed tree; everything else comes from where it always does."""

    def __init__(self, name: str, tree: ast.Module) -> None:
        self.name, self.tree = name, tree

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: types.ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        return importlib.machinery.ModuleSpec(fullname, self) if fullname == self.name else None

    def exec_module(self, module: types.ModuleType) -> None:
        exec(compile(self.tree, f"<mutant of {self.name}>", "exec"), module.__dict__)
