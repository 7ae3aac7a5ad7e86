"""Capture hoods: the factor that brings their readings to a traverse, and what to doubt in a reading."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from commissioning.engineering.doubt import Doubt
from commissioning.engineering.guards import FloatOrArray, plain, within

USUAL_HOOD_FACTORS = (0.90, 1.10)
LARGEST_CHANGE_OF_FLOW = 0.25


def hood_factor(*, traverse_m3_s: FloatOrArray, readings_m3_s: FloatOrArray) -> FloatOrArray:
    """Return the factor by which a hood's readings on a branch come to the traverse of that branch.

        F = q_traverse / sum(q_hood)

    It holds for that kind of outlet, that hood skirt and about that flow, with the dampers as they stood.
    Between 0.90 and 1.10 it is usual; outside, look for the reason before using it.

    Args:
        traverse_m3_s: traverse of the branch [m3/s], above 0.
        readings_m3_s: hood reading of every outlet of the branch [m3/s], along the last axis.

    Raises:
        OutOfRange: a flow is not above 0.

    Source: common practice, no source.

    Example:
        >>> round(hood_factor(traverse_m3_s=0.812, readings_m3_s=np.array([0.40, 0.47])), 4)
        0.9333
    """
    readings = np.atleast_1d(within("hood reading", readings_m3_s, 0.0, 2000.0, "m3/s"))
    total = within("sum of the hood readings", plain(np.sum(readings, axis=-1)), 1e-6, 2000.0, "m3/s")
    return plain(within("traverse", traverse_m3_s, 1e-6, 2000.0, "m3/s") / total)


def hood_doubts(
    *,
    factor: float,
    back_pressure_compensated: bool | None,
    airflow_m3_s: float,
    factor_airflow_m3_s: float | None = None,
    near_branch: bool | None = None,
) -> tuple[Doubt, ...]:
    """Return every reason not to take a hood's reading as it stands; none means that it may be.

        usual: 0.90 <= F <= 1.10;  same flow: |q / q_F - 1| <= 0.25

    Args:
        factor: hood factor F in use [-], 0.3 to 3; 1 where none was derived.
        back_pressure_compensated: the hood takes its own back pressure out (flaps, or a fan of its own); None if
            not recorded.
        airflow_m3_s: reading q [m3/s], 0 to 2000.
        factor_airflow_m3_s: reading at which the factor was derived q_F [m3/s]; None if there was none.
        near_branch: the outlet hangs close to a branch or elbow; None if not recorded.

    Raises:
        OutOfRange: an argument lies outside.

    Source: plain hoods read low near a branch and powered ones far better (a national laboratory's field-test page,
    read); the limits are common practice, no source.

    Example:
        >>> [doubt.code for doubt in hood_doubts(factor=1.0, back_pressure_compensated=False, airflow_m3_s=0.1)]
        ['back_pressure']
    """
    return tuple(
        _doubts(
            within("hood factor", factor, 0.3, 3.0, "").item(),
            back_pressure_compensated,
            within("hood reading", airflow_m3_s, 0.0, 2000.0, "m3/s").item(),
            None
            if factor_airflow_m3_s is None
            else within("hood reading of the factor", factor_airflow_m3_s, 1e-6, 2000.0, "m3/s").item(),
            near_branch,
        )
    )


def _doubts(
    factor: float, compensated: bool | None, flow: float, factor_flow: float | None, near_branch: bool | None
) -> Iterator[Doubt]:
    low, high = USUAL_HOOD_FACTORS
    if not low <= factor <= high:
        yield Doubt(
            "factor_unusual", f"a hood factor of {factor:.2f} is outside {low:.2f} to {high:.2f}: find the reason first"
        )
    if compensated is None:
        yield Doubt("back_pressure_not_recorded", "whether the hood takes its back pressure out was not recorded")
    elif not compensated and factor_flow is None:
        yield Doubt(
            "back_pressure",
            "the hood chokes the outlet while it reads, most where the duct pressure is low; "
            "derive a factor by a traverse of the branch",
        )
    if factor_flow is not None and abs(flow / factor_flow - 1.0) > LARGEST_CHANGE_OF_FLOW:
        yield Doubt(
            "factor_from_other_flow", f"the factor was derived at {factor_flow / max(flow, 1e-6):.1f} times this flow"
        )
    if near_branch and not compensated:
        yield Doubt("near_branch", "close to a branch or elbow a plain hood reads low")
