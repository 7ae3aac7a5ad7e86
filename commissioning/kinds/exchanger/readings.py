"""What was read, each as one input of the arithmetic: its mean in SI, and what is known of its error.

The error of an instrument is common to everything that was read with it, so it is kept apart from what is new at each
reading, and put in where all sensitivities are known (`components`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot

import numpy as np

from commissioning.dossier.given import Instrument
from commissioning.dossier.instrument_error import COMMON_PRACTICE, of_instrument, stated
from commissioning.engineering import uncertainty, units
from commissioning.engineering.input_uncertainty import FEW_READINGS
from commissioning.engineering.uncertainty import Component

# Standard uncertainty of what no paper tells, and standard deviation of one reading. Common practice, no source.
UNKNOWN = {"temperature": 0.3, "ratio": 0.03, "humidity ratio": 0.0005, "mole fraction": 20e-6, "pressure": 2.0}
USUAL_SCATTER = {"temperature": 0.2, "ratio": 0.01, "humidity ratio": 0.0001, "mole fraction": 5e-6, "pressure": 1.0}
RELATIVE_UNKNOWN = {"airflow": 0.05, "rotational speed": 0.01}
RELATIVE_SCATTER = {"airflow": 0.015, "rotational speed": 0.005}


_LABELS = {"t": "dry bulb", "h": "humidity", "q": "airflow", "p": "seal pressure", "C": "gas", "drop": "pressure drop"}


@dataclass(frozen=True, slots=True)
class Reading:
    """One input. `own` are the parts of its error that it shares with nothing, in its own unit."""

    name: str
    value: float
    quantity: str
    tool: Instrument | None = None
    own: tuple[Component, ...] = ()

    @property
    def label(self) -> str:
        return label_of(self.name)

    @property
    def step(self) -> float:
        """About its standard uncertainty: the step with which the sensitivities are taken."""
        common = of_instrument(self.tool, [self.value], [1.0], self.quantity)
        return hypot(*(one.contribution for one in (*common, *self.own)))


def label_of(name: str) -> str:
    """
    >>> label_of("t supply"), label_of("wheel speed")
    ('dry bulb supply', 'wheel speed')
    """
    kind, _, rest = name.partition(" ")
    return f"{_LABELS[kind]} {rest}".strip() if kind in _LABELS else name


def read(name: str, values: Sequence[float], quantity: str, tool: Instrument | None) -> Reading:
    """Repeated readings of one thing with one instrument."""
    mean = float(np.mean(values))
    own = [_scatter(name, values, quantity, mean)]
    if not speaks(tool, quantity):
        size = UNKNOWN.get(quantity) or RELATIVE_UNKNOWN[quantity] * abs(mean)
        own.append(Component(f"{label_of(name)}, accuracy not stated", size, source=COMMON_PRACTICE))
    return Reading(name, mean, quantity, tool, tuple(own))


def assumed(name: str, value: float, quantity: str, standard_uncertainty: float, source: str) -> Reading:
    """What was not read with an instrument: a value with its standard uncertainty."""
    return Reading(name, value, quantity, None, (Component(label_of(name), standard_uncertainty, source=source),))


def speaks(tool: Instrument | None, quantity: str) -> bool:
    """Whether an instrument's papers state an accuracy for what was read."""
    if tool is None:
        return False
    return tool.relative > 0.0 or stated(tool.absolute, quantity, inch_of_water_pa=units.INCH_OF_WATER_4C_PA) > 0.0


def _scatter(name: str, values: Sequence[float], quantity: str, mean: float) -> Component:
    usual = USUAL_SCATTER.get(quantity) or RELATIVE_SCATTER[quantity] * max(abs(mean), 1e-9)
    few = len(values) < FEW_READINGS
    if few and (len(values) == 1 or float(np.std(values, ddof=1)) <= usual):
        size = usual / len(values) ** 0.5
        return Component(f"{label_of(name)}, {_counted(values)}", size, source=f"usual scatter; {COMMON_PRACTICE}")
    own = uncertainty.type_a(list(values))
    return Component(
        f"{label_of(name)}, scatter",
        own.standard_uncertainty,
        degrees_of_freedom=own.degrees_of_freedom,
        kind="A",
        source=_counted(values),
    )


def _counted(values: Sequence[float]) -> str:
    return "single reading" if len(values) == 1 else f"{len(values)} readings"


def components(readings: Sequence[Reading], slopes: Mapping[str, float], inch_of_water_pa: float) -> list[Component]:
    """The error of a result: its inputs' own parts, and each instrument once for all that it read."""
    found = [
        Component(
            part.name, part.standard_uncertainty, slopes[one.name], part.degrees_of_freedom, part.kind, part.source
        )
        for one in readings
        for part in one.own
    ]
    shared: dict[tuple[str, str], list[Reading]] = {}
    for one in readings:
        if one.tool is not None:
            shared.setdefault((one.tool.id, one.quantity), []).append(one)
    for (_, quantity), group in shared.items():
        tool = group[0].tool
        found += of_instrument(
            tool,
            [one.value for one in group],
            [slopes[one.name] for one in group],
            quantity,
            inch_of_water_pa=inch_of_water_pa,
            name=f"{tool.name if tool else ''}: {', '.join(one.label for one in group)}",
        )
    return _telling(found)


def _telling(found: list[Component]) -> list[Component]:
    """Without what adds nothing, unless that is all there is."""
    least = 1e-9 * max((abs(one.contribution) for one in found), default=0.0)
    return [one for one in found if abs(one.contribution) > least] or found[:1]
