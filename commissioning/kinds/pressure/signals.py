"""What one or two readings of pressure make of a figure, and what is uncertain about it.

A manometer's scale error goes with the reading and is one for all that it reads. Its absolute part, once the zero was
set, differs from place to place; without that, the zero itself is off, which is common to both ends of a difference
and cancels there. What has no source says *common practice, no source*.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from commissioning.dossier.given import Instrument
from commissioning.dossier.instrument_error import COMMON_PRACTICE, SHAPES, of_repeats, stated
from commissioning.engineering import uncertainty
from commissioning.engineering.uncertainty import Component

TAP = 0.02  # relative, k = 1: a static tap in a duct that is never quite still
ZERO_PA = 2.0  # half-width of a zero that nobody set
READ_OFF_CONTROLLER = 0.05  # relative, k = 1: a sensor and its scaling that nobody checked
SPACE_PA = 0.5  # k = 1: the pressure of a space is seldom known better than to 1 Pa (k = 2)
WIND_SHARE = 0.3  # of the wind's stagnation pressure, as a half-width, at a shielded tap


@dataclass(frozen=True, slots=True)
class Signal:
    """Readings at one place in Pa, with how the figure goes with them (+1 or -1)."""

    label: str
    values: tuple[float, ...]
    slope: float
    tool_id: str
    tool: Instrument | None
    zeroed: bool
    text: str

    @property
    def mean(self) -> float:
        return float(np.mean(self.values))


def value_of(signals: Sequence[Signal]) -> float:
    return sum(one.slope * one.mean for one in signals)


def components(
    signals: Sequence[Signal], *, inch_of_water_pa: float, off_controller: bool = False, in_duct: bool = True
) -> list[Component]:
    """The budget of a figure made of these readings, in Pa."""
    found = [part for one in signals for part in _own(one, inch_of_water_pa)]
    for tool_id in sorted({one.tool_id for one in signals}):
        found += _shared([one for one in signals if one.tool_id == tool_id])
    if in_duct:
        found += [
            Component(f"tap, {one.label}", TAP * abs(one.mean), one.slope, source=COMMON_PRACTICE) for one in signals
        ]
    if off_controller:
        size = READ_OFF_CONTROLLER * abs(value_of(signals))
        found.append(Component("read off the controller", size, source=COMMON_PRACTICE))
    return found


def _own(one: Signal, inch_of_water_pa: float) -> list[Component]:
    """What is new at each place: scatter, resolution, and the absolute part of the accuracy."""
    found = [of_repeats(one.values, one.slope, name=f"repeatability, {one.label}")]
    tool = one.tool
    if tool is None:
        return found
    half = stated(tool.absolute, "pressure", inch_of_water_pa=inch_of_water_pa)
    if half > 0.0:
        name, source = f"{tool.name} {tool.serial}, {one.label}", f"absolute part of the accuracy, {SHAPES[tool.shape]}"
        found.append(Component(name, _standard(tool, half), one.slope, source=source))
    step = stated(tool.resolution, "pressure", inch_of_water_pa=inch_of_water_pa)
    if step > 0.0:
        size = float(uncertainty.resolution(step)) / len(one.values) ** 0.5
        source = f"smallest step of {tool.name}"
        found.append(Component(f"resolution, {one.label}", size, one.slope, source=source))
    return found


def _shared(signals: Sequence[Signal]) -> list[Component]:
    """What one instrument has in common at all that it read: its scale, and its zero where nobody set it."""
    tool = signals[0].tool
    found = []
    if tool is not None:
        size = _standard(tool, tool.relative) * abs(value_of(signals))
        source = f"{tool.relative:.1%} of the reading, {tool.shape}; one error at all places"
        found.append(Component(f"scale of {tool.name} {tool.serial}", size, source=source, group=tool.id))
    slope = sum(one.slope for one in signals if not one.zeroed)
    if slope:
        size = float(uncertainty.rectangular(ZERO_PA))
        name = f"zero not set{f', {tool.name} {tool.serial}' if tool else ''}"
        found.append(Component(name, size, slope, source=f"±{ZERO_PA:g} Pa; {COMMON_PRACTICE}"))
    return found


def _standard(tool: Instrument, half: float) -> float:
    shape = uncertainty.certificate if tool.shape == "normal_k2" else uncertainty.rectangular
    return float(shape(half))
