"""Limits of a quantity: one-sided, two-sided, asymmetric."""

from __future__ import annotations

import math
from dataclasses import dataclass

from commissioning.engineering.guards import within


@dataclass(frozen=True, slots=True)
class Limits:
    """What a value must lie in, ends included.

    Attributes:
        low: lower limit [unit of the value]; None for no lower limit.
        high: upper limit [unit of the value]; None for no upper limit.
    """

    low: float | None = None
    high: float | None = None

    def __post_init__(self) -> None:
        if self.low is None and self.high is None:
            raise ValueError("limits need a lower or an upper end")
        for name, end in (("lower limit", self.low), ("upper limit", self.high)):
            if end is not None:
                within(name, end, -1e300, 1e300, "")
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValueError(f"the lower limit {self.low:g} lies above the upper limit {self.high:g}")

    def margin(self, value: float) -> float:
        """Signed distance of a value to the nearest limit [unit of the value], positive inside."""
        below = math.inf if self.low is None else value - self.low
        above = math.inf if self.high is None else self.high - value
        return min(below, above)
