"""What the mutator changes, and what it leaves alone. What the tests notice stands in docs/mutation.md."""

from __future__ import annotations

import ast

import pytest

from tests.mutation import trial
from tests.mutation.mutants import mutants

SOURCE = '''
"""Adds 1 + 1."""
import math
A_RANGE = (0.5, 1.2)

def flow(speed: float, area: float = 2.0) -> float:
    """v * 2."""
    within("speed", speed, 0.0, 100.0, "m/s")
    if speed < 1.0:
        raise ValueError(f"{speed + 1} is slow")
    return call(a=math.sqrt(speed), b=-area)
'''


def changes() -> set[tuple[str, str]]:
    return {(one.was, one.now) for one in mutants("example", SOURCE)}


@pytest.mark.parametrize(
    ("was", "now"),
    [
        ("speed < 1.0", "speed <= 1.0"),
        ("1.0", "2.0"),
        ("1.0", "1.01"),
        ("2.0", "2.02"),
        ("within('speed', speed, 0.0, 100.0, 'm/s')", "np.asarray(speed, dtype=float)"),
        ("math.sqrt(speed)", "speed"),
        ("-area", "area"),
        ("call(a=math.sqrt(speed), b=-area)", "call(a=-area, b=math.sqrt(speed))"),
    ],
)
def test_a_small_fault_is_made(was: str, now: str) -> None:
    assert (was, now) in changes()


def test_a_condition_is_turned_round() -> None:
    assert any(now.startswith("if not speed < 1.0") for _, now in changes())


@pytest.mark.parametrize("kept", ["100.0", "0.5", "1.2", "speed + 1", "'m/s'"])
def test_texts_and_the_ends_of_a_guard_are_left_alone(kept: str) -> None:
    assert kept not in {was for was, _ in changes()}


def test_each_mutant_is_the_whole_module_with_one_change() -> None:
    made = mutants("example", SOURCE)
    texts = {ast.unparse(one.tree) for one in made}
    assert len(texts) == len(made)
    assert ast.unparse(ast.parse(SOURCE)) not in texts


def test_every_module_has_tests_to_notice() -> None:
    folder = trial.ROOT / "commissioning" / "engineering"
    modules = [path.stem for path in folder.glob("*.py") if path.stem not in ("__init__", "uncertainty")]
    assert len(modules) > 20
    assert [name for name in modules if not trial.tests_of(name)] == []
