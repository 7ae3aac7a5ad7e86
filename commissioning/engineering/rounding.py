"""Rounding as contracts and forms mean it: to the nearest step, a half away from zero."""

from __future__ import annotations

import math

from commissioning.engineering.guards import within

_LAST_BITS = 1e-9


def round_half_up(value: float, *, step: float = 1.0) -> float:
    """Return the multiple of a step that lies nearest, a half going away from zero.

        sign(x) floor(|x| / d + 1/2) d

    The last bits of a unit conversion do not decide a half.

    Args:
        value: x [any unit], -1e15 to 1e15.
        step: d [same unit], above 0.

    Raises:
        OutOfRange: an argument lies outside, or is not a number.

    Source: ASTM E29 calls for half to even; a half away from zero is common practice, no source.

    Example:
        >>> round_half_up(2.5), round_half_up(-2.5), round_half_up(487.4, step=5.0)
        (3.0, -3.0, 485.0)
        >>> round_half_up(-0.103, step=0.01)
        -0.1
    """
    number = within("value", value, -1e15, 1e15, "").item()
    size = within("step", step, 1e-12, 1e15, "").item()
    whole = math.floor(abs(number) / size + 0.5 + _LAST_BITS)
    inverse = round(1.0 / size)
    exact = whole / inverse if size < 1.0 and math.isclose(inverse * size, 1.0) else whole * size
    return math.copysign(exact, number) if whole else 0.0
