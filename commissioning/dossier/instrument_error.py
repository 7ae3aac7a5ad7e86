"""What an instrument's papers and repeated readings say of a value: components of uncertainty, the same for all kinds.

The error of one instrument is common to all that was read with it: one instrument at many points is one error, not
many. So its components share the instrument's group, and are added before they are squared.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from commissioning.dossier.given import Instrument
from commissioning.dossier.quantities import si
from commissioning.engineering import uncertainty, units
from commissioning.engineering.uncertainty import Component

SHAPES = {"rectangular": "rectangular", "normal_k2": "normal, k = 2"}
COMMON_PRACTICE = "common practice, no source"
SINGLE_READING = 0.015  # relative, k = 1, of a value that was read once
REPEATABILITY_PRIOR = 0.01  # standard deviation of one reading, where two or three cannot tell their own


def stated(given: Mapping[str, Any] | None, quantity: str, *, inch_of_water_pa: float) -> float:
    """What an instrument's papers state, where they state it for what was read; else nothing."""
    if given is None or not _speaks_of(given, quantity):
        return 0.0
    value = si(given, inch_of_water_pa=inch_of_water_pa)
    if (
        units.quantity_of(given["unit"]) == "temperature"
    ):  # a difference: its unit counts without the offset of its scale
        value -= si({"value": 0.0, "unit": given["unit"]})
    return value


def _speaks_of(given: Mapping[str, Any], quantity: str) -> bool:
    told = units.quantity_of(given["unit"])
    return told == quantity or (told, quantity) == ("temperature difference", "temperature")


def papers_fit(tool: Instrument | None, quantity: str) -> tuple[str, ...]:
    """A remark where accuracy or resolution are stated for another quantity than was read."""
    told = [] if tool is None else [one for one in (tool.absolute, tool.resolution) if one is not None]
    if tool is None or all(_speaks_of(one, quantity) for one in told):
        return ()
    return (f"The papers of {tool.name} {tool.serial} do not speak of {quantity}: only its relative error is counted.",)


def of_instrument(
    tool: Instrument | None,
    values: Sequence[float],
    slopes: Sequence[float] | np.ndarray[Any, np.dtype[np.float64]],
    quantity: str,
    *,
    inch_of_water_pa: float = units.INCH_OF_WATER_4C_PA,
    name: str = "instrument",
) -> list[Component]:
    """The instrument's own error, common to all readings, and its resolution, new at each. `slopes` are ∂y/∂x.

    `values` are the readings in SI; the components come in the unit of y. Where the slopes differ in sign, the
    common error cancels as far as they do.
    """
    if tool is None:
        return []
    half = tool.relative * np.abs(np.asarray(values, dtype=np.float64))
    half = half + stated(tool.absolute, quantity, inch_of_water_pa=inch_of_water_pa)
    shape = uncertainty.certificate if tool.shape == "normal_k2" else uncertainty.rectangular
    widths = np.asarray(shape(half), dtype=np.float64)
    found = [
        Component(
            name,
            abs(float(np.dot(slopes, widths))),
            source=f"{tool.name} {tool.serial}: ±({tool.relative:.1%} + absolute part), {SHAPES[tool.shape]}",
            group=tool.id,
        )
    ]
    step = stated(tool.resolution, quantity, inch_of_water_pa=inch_of_water_pa)
    if step > 0.0:
        each = float(uncertainty.resolution(step))
        size = float(np.linalg.norm(slopes)) * each
        label = "resolution" if name == "instrument" else f"resolution, {name}"
        found.append(Component(label, size, source=f"smallest step of {tool.name}"))
    return found


def of_repeats(values: Sequence[float], slope: float, *, name: str = "repeatability") -> Component:
    """Scatter of repeated readings carried to the result by one slope; of a single reading, what is usual."""
    mean = float(np.mean(values))
    if len(values) == 1:
        label = "single reading" if name == "repeatability" else f"single reading, {name}"
        return Component(label, SINGLE_READING * abs(mean * slope), source=f"one reading only; {COMMON_PRACTICE}")
    usual = max(REPEATABILITY_PRIOR * abs(mean), 1e-12)
    is_usual = float(np.std(values, ddof=1)) <= usual  # readings that scatter more than is usual speak for themselves
    scatter = uncertainty.type_a(list(values), pooled_standard_deviation=usual if is_usual else None)
    return Component(
        name,
        float(scatter.standard_uncertainty) * abs(slope),
        degrees_of_freedom=float(scatter.degrees_of_freedom),
        kind="A",
        source=f"{len(values)} readings",
    )
