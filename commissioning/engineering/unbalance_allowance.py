"""How much voltage unbalance a motor bears at its load: the derating of a motor, read the other way round."""

from __future__ import annotations

import numpy as np

from commissioning.engineering.guards import FloatOrArray, plain, within
from commissioning.engineering.motors import unbalance_derating

NO_DERATING = 0.01
DO_NOT_OPERATE = 0.05
_STEPS = np.linspace(NO_DERATING, DO_NOT_OPERATE, 5)
_SHARES = np.array([unbalance_derating(voltage_unbalance=float(step)) for step in _STEPS])


def allowed_voltage_unbalance(*, load_share: FloatOrArray) -> FloatOrArray:
    """Return the largest voltage unbalance at which a motor may carry its load.

        the u for which derating(u) = load; 1 % at full load and above, 5 % at 0.75 and below

    Args:
        load_share: load of the motor as a share of its rating, as its current over the nameplate's [-], 0 to 20.

    Raises:
        OutOfRange: the load lies outside.

    Source: NEMA MG 1, 14.36 and fig. 14-1 (from memory), as read off by `unbalance_derating`; straight between.

    Example:
        >>> round(allowed_voltage_unbalance(load_share=0.95), 6), allowed_voltage_unbalance(load_share=1.1)
        (0.02, 0.01)
    """
    load = within("load", load_share, 0.0, 20.0, "")
    return plain(np.interp(load, _SHARES[::-1], _STEPS[::-1]))
