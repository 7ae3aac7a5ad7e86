"""The sizes of what no reading tells: method, plane, grid. All are relative, k = 1.

Common practice, no source, unless a line says otherwise. They were set so that a good method comes to about ±5 %
(k = 2), the usual figure for a good traverse (ASHRAE 111, from memory), and then held against simulated field records
with a known truth (docs/coverage.md): where fewer than 94 % of the intervals held it, the term was widened, and the
reason stands beside it.
"""

import math

from commissioning.dossier.instrument_error import COMMON_PRACTICE

# A ring's maker states ±5 % in his own laboratory (two public sheets), k = 2 by our reading; the site adds fittings
# and swirl, and the flow breathes slower than repeated readings show. With 0.015 three intervals in four held.
METHOD = {"hood": 0.025, "station": 0.03, "direct": 0.02, "reported": 0.05}
METHOD_SOURCE = COMMON_PRACTICE
SOURCES = {"station": "makers' laboratory ±5 % and the site; own simulation, docs/coverage.md"}
BACK_PRESSURE = (
    0.04  # a plain hood without a factor of its own: it chokes the outlet, most where the duct pressure is low
)
DUCT_AREA = 0.01
TAPE_M = 0.00635 / math.sqrt(12.0)  # of a side: a tape read to a quarter of an inch, or to 5 mm
READ_OFF_CONTROLLER = 0.03
POWER_LAW = 7.0  # v ~ y^(1/7), the usual turbulent profile


def duct_area(*sides_m: float) -> float:
    """Of the free area: two sides of a rectangle, or one diameter, whose error counts twice."""
    tape = math.hypot(*(TAPE_M / side for side in sides_m))
    return max(DUCT_AREA, 2.0 * tape if len(sides_m) == 1 else tape)


def grid_error(points: int, *, is_round: bool) -> float:
    """By how much the mean over centres of equal cells reads high where the air slows towards the walls.

    It is arithmetic on a 1/7 power law: 4 × 4 cells 3.5 %, 8 × 8 cells 1.5 %, two diameters of 10 points 0.5 %. A
    log-Tchebycheff or log-linear grid is laid out against this, and has none.
    """
    if is_round:
        rings = max(points // 4, 1)  # two diameters
        gaps = [1.0 - math.sqrt((2 * ring - 1) / (2 * rings)) for ring in range(1, rings + 1)]
        true = 2 * POWER_LAW**2 / ((POWER_LAW + 1) * (2 * POWER_LAW + 1))
        return _mean_speed(gaps) / true - 1.0
    cells = max(math.isqrt(points), 1)
    gaps = [1.0 - abs((2 * cell + 1) / cells - 1.0) for cell in range(cells)]
    one_side = _mean_speed(gaps) / (POWER_LAW / (POWER_LAW + 1))
    return one_side * one_side - 1.0


def _mean_speed(gaps: list[float]) -> float:
    """Of points at these distances from the wall, in half sides or radii, over the speed in the middle."""
    return math.fsum(math.pow(gap, 1 / POWER_LAW) for gap in gaps) / len(gaps)
