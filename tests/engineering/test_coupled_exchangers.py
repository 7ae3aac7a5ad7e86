"""Run-around loops and heat pipes against a direct solution of their balances, and against their limits.

The oracle knows no effectiveness: it carries the temperatures through each coil by the matrix exponential of its two
differential equations (scipy), and closes the loop, or the rows, by a set of linear equations.
"""

from __future__ import annotations

import ht.hx
import numpy as np
import pytest
from scipy.linalg import expm
from scipy.optimize import minimize_scalar

from commissioning.engineering.coupled_exchangers import (
    coupled_effectiveness,
    heat_pipe_at_flows,
    heat_pipe_effectiveness,
    optimum_loop_capacity_w_k,
    run_around_at_flows,
    run_around_effectiveness,
)
from commissioning.engineering.guards import OutOfRange

DRAW = np.random.default_rng(7)
LOOPS = DRAW.uniform([500.0, 500.0, 600.0, 600.0, 300.0], [4000.0, 4000.0, 3000.0, 3000.0, 9000.0], (25, 5))


def loop(ua_s: float, ua_e: float, c_s: float, c_e: float, c_l: float) -> float:
    """Outdoor air enters at 0, return air at 1. Unknowns: air in, liquid at x = 0, air out, liquid at x = 1; per coil.

    The air goes along x, the liquid against it: C dT/dx = UA (T_l - T), C_l dT_l/dx = UA (T_l - T).
    """
    through = [expm(np.array([[-ua / c, ua / c], [-ua / c_l, ua / c_l]])) for ua, c in ((ua_s, c_s), (ua_e, c_e))]
    left, right = np.zeros((8, 8)), np.zeros(8)
    for coil, matrix in enumerate(through):
        first = 4 * coil
        left[2 * coil : 2 * coil + 2, first : first + 2] = matrix
        left[2 * coil : 2 * coil + 2, first + 2 : first + 4] = -np.eye(2)
    left[4, 0], left[5, 4], right[5] = 1.0, 1.0, 1.0
    left[6, [1, 7]] = 1.0, -1.0  # the liquid leaves the supply coil at x = 0 and enters the exhaust coil at x = 1
    left[7, [5, 3]] = 1.0, -1.0
    return float(c_s * np.linalg.solve(left, right)[2] / min(c_s, c_e))


def rows_of_pipes(ntu: float, ratio: float, rows: int) -> float:
    """The smaller stream enters at 0, the other at 1 at the far end; each row's pipes are at one temperature."""
    kept = np.exp(-2.0 * ntu / rows), np.exp(-2.0 * ntu * ratio / rows)
    size = 3 * rows  # temperatures of the pipes, of the smaller stream after each row, of the other after each row
    left, right = np.zeros((size, size)), np.zeros(size)
    for row in range(rows):
        pipe, cold, warm = row, rows + row, 2 * rows + row
        for at, keeps, own, before in (
            (cold, kept[0], cold, cold - 1 if row else None),
            (warm, kept[1], warm, warm + 1 if row < rows - 1 else None),
        ):
            left[at, own], left[at, pipe] = 1.0, keeps - 1.0
            if before is None:
                right[at] = keeps if own == warm else 0.0
            else:
                left[at, before] = -keeps
        left[pipe, cold] += ratio  # C_min (t_out - t_in) = C_max (T_in - T_out), over C_max
        left[pipe, warm] += 1.0
        if row:
            left[pipe, cold - 1] -= ratio
        if row < rows - 1:
            left[pipe, warm + 1] -= 1.0
        else:
            right[pipe] = 1.0
    return float(np.linalg.solve(left, right)[2 * rows - 1])


def run_around(ua_s: float, ua_e: float, c_s: float, c_e: float, c_l: float) -> float:
    return float(
        run_around_effectiveness(
            supply_conductance_w_k=ua_s,
            exhaust_conductance_w_k=ua_e,
            supply_capacity_w_k=c_s,
            exhaust_capacity_w_k=c_e,
            loop_capacity_w_k=c_l,
        )
    )


def best_liquid(ua_s: float, ua_e: float, c_s: float, c_e: float) -> float:
    return float(
        optimum_loop_capacity_w_k(
            supply_conductance_w_k=ua_s,
            exhaust_conductance_w_k=ua_e,
            supply_capacity_w_k=c_s,
            exhaust_capacity_w_k=c_e,
        )
    )


@pytest.mark.parametrize("case", LOOPS.tolist())
def test_a_loop_is_what_its_two_coils_and_its_liquid_balance_to(case: list[float]) -> None:
    ua_s, ua_e, c_s, c_e, c_l = case
    assert run_around(ua_s, ua_e, c_s, c_e, c_l) == pytest.approx(loop(ua_s, ua_e, c_s, c_e, c_l), rel=1e-7)


@pytest.mark.parametrize("case", LOOPS.tolist())
def test_at_its_best_liquid_a_loop_is_one_counterflow_exchanger(case: list[float]) -> None:
    """ht gives the counterflow exchanger of UA = 1 / (1 / UA_s + 1 / UA_e)."""
    ua_s, ua_e, c_s, c_e, _ = case
    least, most = min(c_s, c_e), max(c_s, c_e)
    ntu = 1.0 / (1.0 / ua_s + 1.0 / ua_e) / least
    oracle = ht.hx.effectiveness_from_NTU(ntu, least / most, "counterflow")  # type: ignore[no-untyped-call]
    assert run_around(ua_s, ua_e, c_s, c_e, best_liquid(ua_s, ua_e, c_s, c_e)) == pytest.approx(oracle, abs=1e-7)


@pytest.mark.parametrize("case", [(3000.0, 2000.0, 1200.0, 800.0), (900.0, 2500.0, 700.0, 1500.0)])
def test_no_other_liquid_does_better(case: tuple[float, float, float, float]) -> None:
    """A search of scipy in the direct solution finds the same liquid."""
    found = minimize_scalar(
        lambda c_l: -loop(*case, c_l), bounds=(200.0, 5000.0), method="bounded", options={"maxiter": 25}
    )
    assert best_liquid(*case) == pytest.approx(found.x, rel=1e-3)
    assert run_around(*case, best_liquid(*case)) == pytest.approx(-found.fun, abs=1e-7)


def test_limits_of_a_loop() -> None:
    """Like coils and flows: best at C_L = C, with NTU / (2 + NTU) of a coil's NTU.

    Coils of 19 transfer units: nearly all of what can pass. Endless liquid: each coil does 1 - exp(-NTU), and the two
    stand in series. Cr to 0 likewise.
    """
    assert best_liquid(3000.0, 3000.0, 1000.0, 1000.0) == pytest.approx(1000.0)
    assert run_around(3000.0, 3000.0, 1000.0, 1000.0, 1000.0) == pytest.approx(3.0 / 5.0)
    alone = 1.0 - np.exp(-3.0)
    assert run_around(3000.0, 3000.0, 1000.0, 1000.0, 1e8) == pytest.approx(alone / 2.0, abs=1e-4)
    assert run_around(19_000.0, 19_000.0, 1000.0, 2000.0, 1500.0) == pytest.approx(1.0, abs=1e-2)
    one_sided = run_around(3000.0, 1e8, 1000.0, 1e8, 1e8)
    assert one_sided == pytest.approx(alone, abs=1e-4)


def test_coils_of_any_make_are_coupled_by_what_each_does() -> None:
    """By hand: 1 / 0.6 of 800 and 1 / 0.5 of 1000 less 1 / 1500 are 0.0034167 K/W; of C_min = 800: 0.36585."""
    found = coupled_effectiveness(
        supply_coil_effectiveness=0.6,
        exhaust_coil_effectiveness=0.5,
        supply_capacity_w_k=800.0,
        exhaust_capacity_w_k=1000.0,
        loop_capacity_w_k=1500.0,
    )
    assert found == pytest.approx(0.36585, abs=1e-5)


@pytest.mark.parametrize("rows", [1, 2, 5, 12])
@pytest.mark.parametrize("ratio", [0.05, 0.6, 0.95, 1.0])
@pytest.mark.parametrize("ntu", [0.2, 1.5, 5.0])
def test_heat_pipes_are_what_their_rows_balance_to(ntu: float, ratio: float, rows: int) -> None:
    found = heat_pipe_effectiveness(ntu=ntu, capacity_ratio=ratio, rows=rows)
    assert found == pytest.approx(rows_of_pipes(ntu, ratio, rows), rel=1e-6)


def test_limits_of_heat_pipes() -> None:
    """One row, equal flows: half of what one half of a pipe does. Many rows: counterflow. C = 0: 1 - exp(-2 N) halves
    are in series with a pipe that gives all, so at most 1 - exp(-N) in many rows."""
    one = heat_pipe_effectiveness(ntu=2.0, capacity_ratio=1.0, rows=1)
    assert one == pytest.approx((1.0 - np.exp(-4.0)) / 2.0)
    for ratio in (0.0, 0.6, 1.0):
        oracle = ht.hx.effectiveness_from_NTU(2.0, ratio, "counterflow")  # type: ignore[no-untyped-call]
        found = heat_pipe_effectiveness(ntu=2.0, capacity_ratio=ratio, rows=40)
        assert found == pytest.approx(oracle, abs=1e-3)
        assert found <= oracle
    steps = [float(heat_pipe_effectiveness(ntu=2.0, capacity_ratio=0.8, rows=rows)) for rows in (1, 2, 4, 8)]
    assert steps == sorted(steps)


def test_a_loop_at_other_flows() -> None:
    """Rated 0.6 balanced: each coil has 3 C, the liquid C; carried by the direct solution."""
    for supply, exhaust in ((1.0, 1.0), (0.7, 0.7), (1.2, 0.8), (0.5, 1.0)):
        found = run_around_at_flows(
            rated_effectiveness=0.6,
            rated_mass_flow_kg_s=1.0,
            supply_mass_flow_kg_s=supply,
            exhaust_mass_flow_kg_s=exhaust,
        )
        assert found == pytest.approx(loop(3.0, 3.0, supply, exhaust, 1.0), abs=1e-7)


def test_heat_pipes_at_other_flows() -> None:
    """Rated as six rows of N = 1.5 do by the direct solution; carried by it too, at 1.5 / 0.8 transfer units."""
    rated = rows_of_pipes(1.5, 1.0, 6)
    found = heat_pipe_at_flows(
        rated_effectiveness=rated,
        rated_mass_flow_kg_s=1.0,
        supply_mass_flow_kg_s=1.0,
        exhaust_mass_flow_kg_s=0.8,
        rows=6,
    )
    assert found == pytest.approx(rows_of_pipes(1.5 / 0.8, 0.8, 6), abs=1e-7)


def test_what_no_loop_and_no_rows_reach_is_refused() -> None:
    flows = {"rated_mass_flow_kg_s": 1.0, "supply_mass_flow_kg_s": 1.0, "exhaust_mass_flow_kg_s": 1.0}
    with pytest.raises(OutOfRange, match=r"effectiveness is 0\.55"):
        heat_pipe_at_flows(rated_effectiveness=0.55, rows=1, **flows)
    with pytest.raises(OutOfRange, match=r"effectiveness is 0\.99"):
        run_around_at_flows(rated_effectiveness=0.99, **flows)
    with pytest.raises(OutOfRange, match=r"exhaust mass flow is 1\.4"):
        run_around_at_flows(rated_effectiveness=0.5, **{**flows, "exhaust_mass_flow_kg_s": 1.4})
    with pytest.raises(OutOfRange, match="rows of heat pipes is 0"):
        heat_pipe_effectiveness(ntu=1.0, capacity_ratio=1.0, rows=0)
