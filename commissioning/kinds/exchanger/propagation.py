"""A result of the model with its sensitivities to every reading, all of one call, and its uncertainty from them."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

import numpy as np

from commissioning.engineering.budget import Component, combine
from commissioning.engineering.guards import FloatArray
from commissioning.kinds.exchanger.model import Air, Model
from commissioning.kinds.exchanger.readings import Reading, components

Result: TypeAlias = Callable[[Air], FloatArray]


@dataclass(frozen=True)
class Propagation:
    """The model at its readings, and one standard uncertainty to either side of each of them."""

    model: Model
    inch_of_water_pa: float

    @cached_property
    def readings(self) -> Sequence[Reading]:
        return tuple(self.model.inputs.readings.values())

    @cached_property
    def _steps(self) -> FloatArray:
        return np.array([max(one.step, 1e-12) for one in self.readings])

    @cached_property
    def air(self) -> Air:
        """First the readings themselves, then each with its step up, then each with its step down."""
        number = len(self.readings)
        moved = np.tile(np.array([one.value for one in self.readings])[:, None], (1, 1 + 2 * number))
        index = np.arange(number)
        moved[index, 1 + index] += self._steps
        moved[index, 1 + number + index] -= self._steps
        return self.model({one.name: row for one, row in zip(self.readings, moved, strict=True)})

    def has(self, *keys: str) -> bool:
        return all(key in self.air for key in keys)

    def value(self, result: Result) -> float:
        return float(np.broadcast_to(result(self.air), (1 + 2 * len(self.readings),))[0])

    def slopes(self, result: Result) -> Mapping[str, float]:
        """c_i = (f(x_i + u_i) - f(x_i - u_i)) / (2 u_i): JCGM 100:2008, 5.1.3 note 2."""
        number = len(self.readings)
        found = np.broadcast_to(np.asarray(result(self.air)), (1 + 2 * number,))
        slopes = (found[1 : 1 + number] - found[1 + number :]) / (2.0 * self._steps)
        return {one.name: float(slope) for one, slope in zip(self.readings, slopes, strict=True)}

    def components(self, result: Result) -> list[Component]:
        return components(self.readings, self.slopes(result), self.inch_of_water_pa)

    def standard_uncertainty(self, result: Result) -> float:
        parts = self.components(result)
        return combine(parts).standard_uncertainty if parts else 0.0

    def lacking(self, key: str, roles: Sequence[str]) -> str:
        """Why a result cannot be made of these stations; empty where it can."""
        missing = [role for role in roles if not self.has(f"t {role}")]
        if missing:
            return f"the {_listed(missing)} air was not read"
        dry = [role for role in roles if role in self.model.inputs.assumed_humidity]
        if key != "t" and dry:
            return f"no humidity of the {_listed(dry)} air was read"
        return ""

    def is_blurred(self, key: str, one: str, other: str, times: float) -> bool:
        """Whether two stations differ by less than so many standard uncertainties."""

        def difference(air: Air) -> FloatArray:
            return air[f"{key} {one}"] - air[f"{key} {other}"]

        return abs(self.value(difference)) <= times * self.standard_uncertainty(difference)


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
