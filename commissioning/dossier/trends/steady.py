"""Figures of a log while something holds: averages with their doubt, and claims over means of ten minutes.

Means of blocks are claimed, not samples: the scatter of a sensor crosses a limit that the air does not.
"""

import math
from collections.abc import Callable

import numpy as np

from commissioning.dossier.trends.logged import Log
from commissioning.engineering.guards import FloatArray
from commissioning.engineering.signals import Signal, level_at
from commissioning.engineering.temporal import Claim
from commissioning.engineering.trend_lines import Average, at_steps, block_average, holds_at

BLOCK_S = 600.0
AVERAGED_S = 1800.0
KNOWN_SHARE = 0.8
COVERAGE = 2.0

Work = Callable[..., FloatArray]


def average(
    log: Log, roles: tuple[str, ...], work: Work, condition: Claim, block_s: float = AVERAGED_S
) -> Average | None:
    """What `work` makes of the roles' levels, averaged while the condition holds; None where it never does."""
    times, levels = at_steps(signals=[log.signal(role) for role in roles], step_s=log.step_s(*roles))
    if times.size < 2:
        return None
    values = np.where(holds_at(claim=condition, at_s=times), work(*levels), np.nan)
    return block_average(times_s=times, values=values, block_s=block_s)


def by_blocks(log: Log, roles: tuple[str, ...], margin: Work, condition: Claim) -> tuple[Claim, float]:
    """The claim that the mean margin of each ten minutes is 0 or more, and for how long that is asked [s].

    Nothing is asked of ten minutes in any part of which the condition does not hold.
    """
    times, levels = at_steps(signals=[log.signal(role) for role in roles], step_s=log.step_s(*roles))
    values = margin(*levels)
    may = level_at(signal=Signal(condition.times_s, condition.most), at_s=times) >= 0.0
    held = holds_at(claim=condition, at_s=times)
    block = np.floor((times - times[0]) / BLOCK_S).astype(int)
    count = np.bincount(block).astype(float)
    known = np.isfinite(values) & held
    share = np.bincount(block, weights=known) / count
    with np.errstate(invalid="ignore", divide="ignore"):
        means = np.bincount(block, weights=np.where(known, values, 0.0)) / np.bincount(block, weights=known)
    exempt = np.bincount(block, weights=~may) > 0.0
    told = share >= KNOWN_SHARE
    least = np.where(exempt, math.inf, np.where(told, means, -math.inf))
    most = np.where(exempt | ~told, math.inf, means)
    edges = times[0] + BLOCK_S * np.arange(count.size + 1)
    return Claim(edges, least, most), float((told & ~exempt).sum() * BLOCK_S)
