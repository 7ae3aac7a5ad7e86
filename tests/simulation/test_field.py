"""The simulated world stands on its own: it imports nothing of the package, and its means are those of analysis."""

from __future__ import annotations

import ast
import math
from pathlib import Path

import numpy as np
import psychrolib
import pytest

from tests.simulation.field.air import Air
from tests.simulation.field.ducts import Profile, Rectangle, Round, grid
from tests.simulation.field.tools import MICROMANOMETER

HERE = Path(__file__).parent
MAY_IMPORT = {"judged.py": {"judging"}, "noticed.py": {"judging"}, "budgets.py": {"engineering"}}


def imported(path: Path) -> set[str]:
    """Rooms of the package that a file names."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        names += [one.name for one in node.names] if isinstance(node, ast.Import | ast.ImportFrom) else []
        if isinstance(node, ast.ImportFrom) and node.module == "commissioning":
            names = [f"commissioning.{one.name}" for one in node.names]
        found |= {name.split(".")[1] for name in names if name.startswith("commissioning.")}
    return found


@pytest.mark.parametrize("path", sorted(HERE.rglob("*.py")), ids=lambda path: path.name)
def test_the_world_knows_nothing_of_the_package_that_judges_it(path: Path) -> None:
    assert imported(path) == MAY_IMPORT.get(path.name, set())
    text = path.read_text(encoding="utf-8")
    if path.parent.name == "field":
        assert not {"commissioning", "importlib", "__import__", "fixtures"} & set(text.replace(".", " ").split())


def still(power: float) -> Profile:
    """A profile of walls alone."""
    return Profile((power, power), 0.0, 0.0, 0.0, 0.0, 0.2, 0.0, (0.0, 0.0), 0.0, 0.0)


def test_means_are_those_of_the_power_law() -> None:
    """Round: 98/120 for 1/7 (T2.14). Rectangle: (7/8)² (T2.18)."""
    assert Round(0.4).mean(still(1 / 7)) == pytest.approx(98.0 / 120.0, rel=1e-6)
    assert Rectangle(0.6, 0.4).mean(still(1 / 7)) == pytest.approx((7.0 / 8.0) ** 2, rel=1e-6)


def test_a_skew_moves_no_air() -> None:
    leaning = Profile((1 / 7, 1 / 7), 0.6, 1.0, 0.0, 0.0, 0.2, 0.0, (0.0, 0.0), 0.0, 0.0)
    for section in (Round(0.4), Rectangle(0.6, 0.4)):
        assert section.mean(leaning) == pytest.approx(section.mean(still(1 / 7)), rel=1e-9)


@pytest.mark.parametrize(
    ("layout", "section", "percent", "within"),
    [
        # T2.17 and T2.18; the three printed digits of log-Tchebycheff are worth 0.07 %
        ("equal_area", Round(0.4), 0.5376565, 1e-5),
        ("log_tchebycheff", Rectangle(0.5, 0.5), -0.258057, 0.07),
    ],
)
def test_grids_err_on_the_power_law_as_published(
    layout: str, section: Round | Rectangle, percent: float, within: float
) -> None:
    points = np.asarray(grid(layout, section))
    size = np.asarray([0.4, 0.4] if isinstance(section, Round) else [0.5, 0.5])
    places = 2.0 * points / size - 1.0
    seen = section.relative(still(1 / 7), places[:, 0], places[:, 1])
    assert 100.0 * (float(np.mean(seen)) / section.mean(still(1 / 7)) - 1.0) == pytest.approx(percent, abs=within)


def test_density_is_that_of_moist_air() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    ratio = psychrolib.GetHumRatioFromRelHum(28.0, 0.6, 83_000.0)
    expected = psychrolib.GetMoistAirDensity(28.0, ratio, 83_000.0)
    assert Air(28.0, 0.6, 83_000.0).density == pytest.approx(expected, rel=2e-4)


def test_one_instrument_in_ten_errs_by_more_than_its_papers_say() -> None:
    """0.6 of the limit as standard deviation: 2 (1 - Φ(1/0.6)) = 9.6 %. At 10 kPa the scale alone counts."""
    dice = np.random.default_rng(5)
    errors = [MICROMANOMETER.read(dice, np.full(1, 10_000.0))[0] / 10_000.0 - 1.0 for _ in range(4000)]
    outside = float(np.mean([abs(error) > 0.01 for error in errors]))
    expected = math.erfc(1.0 / 0.6 / math.sqrt(2.0))
    assert outside == pytest.approx(expected, abs=4.0 * math.sqrt(expected * (1.0 - expected) / 4000))
