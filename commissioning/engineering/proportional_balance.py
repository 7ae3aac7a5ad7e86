"""Proportional balancing of a branch: from the key outlet on, each outlet once, with what it is to read.

Prediction assumes that the branch as a whole keeps its airflow while one outlet is throttled, and that what this one
gives up goes to the others in proportion to what they have. So outlets that are in proportion stay in proportion, and
each move is made once. The next reading refines it. Branches of a system are balanced against one another likewise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from commissioning.engineering.guards import within
from commissioning.engineering.outlets import Outlet, checked, key_outlet


@dataclass(frozen=True, slots=True)
class Move:
    """One step of proportional balancing.

    Attributes:
        name: the outlet to throttle.
        before_m3_s: what it is predicted to read when its turn comes [m3/s].
        target_m3_s: what its reading should come to [m3/s].
        ratio: of it and of the key outlet to design after the move [-].
        key_m3_s: what the key outlet is predicted to read after the move [m3/s].
        gain: by which the readings of all other outlets are multiplied [-].
    """

    name: str
    before_m3_s: float
    target_m3_s: float
    ratio: float
    key_m3_s: float
    gain: float


def balancing_moves(outlets: Sequence[Outlet], *, tolerance: float = 0.02) -> tuple[Move, ...]:
    """Return the moves that bring a branch into proportion, in order, each predicted from the one before.

    The key outlet, with the least ratio of measured to design, stays open. From the next lowest ratio on, each outlet
    whose ratio lies above the key outlet's by more than the tolerance is throttled to the ratio r that the key outlet
    will then have; the other outlets gain by g:

        r = r_k Q / (Q - q_i + r_k q_i,design),  g = (Q - r q_i,design) / (Q - q_i)

    Where the key outlet moves no air, there is nothing to bring the others down to, and no move.

    Args:
        outlets: the branch as measured.
        tolerance: of an outlet's ratio over the key outlet's, above 1, that is left alone [-], 0.001 to 0.5.

    Raises:
        ValueError: there is no outlet, or a name appears twice.
        OutOfRange: a design airflow is not above 0, a measured one is negative, or the tolerance lies outside.

    Source: the proportional method is common practice, no source; the prediction is ours.

    Example:
        >>> (move,) = balancing_moves([Outlet("D1", 0.10, 0.12), Outlet("D2", 0.10, 0.08)])
        >>> move.name, round(move.target_m3_s, 4), round(move.ratio, 4), round(move.gain, 4)
        ('D1', 0.1, 1.0, 1.25)
    """
    held = checked(outlets)
    left_alone = 1.0 + within("tolerance", tolerance, 0.001, 0.5, "").item()
    key = key_outlet(held)
    if key.ratio <= 0.0:
        return ()
    total = math.fsum(outlet.measured_m3_s for outlet in held)
    gained = 1.0  # by all that were not moved yet, and by those that were, since they were moved
    moves = []
    for outlet in sorted(held, key=lambda one: (one.ratio, one.name)):
        if outlet.name == key.name or outlet.ratio <= left_alone * key.ratio:
            continue
        before, least = outlet.measured_m3_s * gained, key.ratio * gained
        others = total - before
        ratio = least * total / (others + least * outlet.design_m3_s)
        target = ratio * outlet.design_m3_s
        gain = (total - target) / others
        gained *= gain
        moves.append(Move(outlet.name, before, target, ratio, ratio * key.design_m3_s, gain))
    return tuple(moves)
