"""One point's samples, in order, in SI; and what its steps say of how it was logged."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Point:
    """`code` is its name in the file; `unit` that of the file, the values being in SI; `words` stand for numbers.

    `by_change`: logged at a change of value, else about every `interval_s`. `longest_gap_s` is the longest time
    between two samples.
    """

    code: str
    role: str
    tag: str
    unit: str
    by_change: bool
    interval_s: float
    longest_gap_s: float
    samples: int
    without_value: int
    first_s: float
    last_s: float
    words: Mapping[str, float] = field(default_factory=dict)


def sampling_of(times_s: Floats, values: Floats) -> tuple[bool, float, float]:
    """Whether it was logged by change, its usual interval [s] and the longest time between two samples [s].

    Steps that are mostly alike are an interval; else values that mostly differ from the one before are changes.

    >>> sampling_of(np.array([0.0, 300.0, 600.0, 900.0]), np.zeros(4))
    (False, 300.0, 300.0)
    >>> sampling_of(np.array([0.0, 7.0, 600.0, 4000.0]), np.array([0.0, 1.0, 0.0, 1.0]))
    (True, 0.0, 3400.0)
    """
    if len(times_s) < 3:
        longest = float(np.diff(times_s).max()) if len(times_s) == 2 else 0.0
        return True, 0.0, longest
    steps = np.diff(times_s)
    middle, longest = float(np.median(steps)), float(steps.max())
    alike = np.abs(steps - middle) <= max(0.1 * middle, 2.0)
    if middle > 0 and np.count_nonzero(alike) >= 0.6 * len(steps):
        return False, middle, longest
    changes = np.count_nonzero(np.diff(values) != 0)
    return bool(changes >= 0.5 * len(steps)), 0.0 if changes >= 0.5 * len(steps) else middle, longest
