"""Ranges of validity, and the one error that says a value lies outside of one.

Every formula of this package states where it holds. A value outside is refused here, with the quantity, the
value and the range in the message, so that nothing is computed from a slipped unit or a slipped digit.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray: TypeAlias = NDArray[np.float64]
FloatOrArray: TypeAlias = float | FloatArray


class OutOfRange(ValueError):
    """A value lies outside the range for which a formula holds (or is not a number at all)."""

    def __init__(self, quantity: str, value: float, low: float, high: float, unit: str) -> None:
        self.quantity = quantity
        self.value = float(value)
        self.low = float(low)
        self.high = float(high)
        self.unit = unit
        of = f" {unit}" if unit else ""
        shown = f"{self.value:g}"
        if shown in (f"{self.low:g}", f"{self.high:g}"):
            shown = repr(self.value)
        super().__init__(f"{quantity} is {shown}{of}; it must lie in {self.low:g} to {self.high:g}{of}")

    def __reduce__(self) -> tuple[type[OutOfRange], tuple[str, float, float, float, str]]:
        return type(self), (self.quantity, self.value, self.low, self.high, self.unit)


def within(quantity: str, value: FloatOrArray, low: FloatOrArray, high: FloatOrArray, unit: str) -> FloatArray:
    """Return the value as a float array after checking that all of it lies in low to high, ends included.

    Args:
        quantity: what the value is, in words, for the message.
        value: float or array of any shape [unit].
        low, high: ends of the range [unit]; broadcast against the value.
        unit: unit of the value and of the range, for the message; '' for a ratio.

    Raises:
        OutOfRange: for the first element outside the range, and for one that is not a number.

    Source: common practice, no source.

    Example:
        >>> within("pressure", 101325.0, 20e3, 180e3, "Pa").item()
        101325.0
        >>> within("pressure", 1013.25, 20e3, 180e3, "Pa")
        Traceback (most recent call last):
        ...
        commissioning.engineering.guards.OutOfRange: pressure is 1013.25 Pa; it must lie in 20000 to 180000 Pa
    """
    if isinstance(value, float) and isinstance(low, float) and isinstance(high, float) and low <= value <= high:
        return np.array(value)  # one number, as in judging: the array comparisons below cost many times as much
    array = np.asarray(value, dtype=np.float64)
    good = (array >= low) & (array <= high)
    if good.all():
        return array
    values, lows, highs, marks = np.broadcast_arrays(array, low, high, good)
    first = int(np.argmin(marks.ravel()))
    raise OutOfRange(
        quantity,
        float(values.ravel()[first]),
        float(lows.ravel()[first]),
        float(highs.ravel()[first]),
        unit,
    )


def plain(value: ArrayLike) -> FloatOrArray:
    """Return a Python float for a single number, else a float array.

    Args:
        value: number or array, any unit, any shape.

    Source: common practice, no source.

    Example:
        >>> plain(np.float64(2.5))
        2.5
    """
    array = np.asarray(value, dtype=np.float64)
    return float(array) if array.ndim == 0 else array
