"""One instrument against the others over many units: pairs of readings of one untouched state, and what they say.

A pair is two sound finals of one port in one mode, with no instrument in common. A unit counts once, with the mean of
its ports: what differs from unit to unit is common to them.
"""

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from uuid import UUID

from commissioning.dossier.results import Measurement
from commissioning.engineering.guards import OutOfRange
from commissioning.engineering.instrument_bias import (
    COVERAGE_PROBABILITY,
    FEWEST_PAIRS,
    InstrumentBias,
    ReadingPair,
    instrument_bias,
    units_to_tell,
)
from commissioning.samples.states import is_sound, states_of

LEAST_WORTH_FINDING = 0.03  # relative; common practice, no source. An instrument's own accuracy, where it is larger
_LEAST_AIRFLOW_M3_S = 1e-6
_LEAST_RELATIVE = 1e-6


@dataclass(frozen=True)
class Pair:
    """One port of one unit, read with the instrument and by another."""

    position: UUID
    port: str
    reading: Measurement
    other: Measurement

    @property
    def relative_difference(self) -> float:
        return self.reading.airflow_m3_s / self.other.airflow_m3_s - 1.0


@dataclass
class Compared:
    """An instrument that was used for finals, with all its pairs and what they come to."""

    instrument: str
    finals: list[tuple[UUID, Measurement]] = field(default_factory=list)
    pairs: list[Pair] = field(default_factory=list)
    bias: InstrumentBias | None = None
    worth_finding: float = LEAST_WORTH_FINDING
    units_needed: int | None = None  # in all, to tell a difference that is worth finding

    @property
    def units(self) -> int:
        return len({pair.position for pair in self.pairs})


def compare(readings: Mapping[UUID, Sequence[Measurement]], accuracies: Mapping[str, float]) -> dict[str, Compared]:
    """By instrument. Where several are looked at, each interval is the wider, so that chance tells none apart."""
    found: dict[str, Compared] = {}
    for position in sorted(readings):
        finals = [one for one in readings[position] if one.stage == "final"]
        for one in finals:
            for tool in tools_of(one):
                found.setdefault(tool, Compared(tool)).finals.append((position, one))
        for a, b in _pairs(finals):
            for reading, other in ((a, b), (b, a)):
                for tool in tools_of(reading):
                    found[tool].pairs.append(Pair(position, reading.port, reading, other))
    looked_at = sum(compared.units >= FEWEST_PAIRS for compared in found.values())
    coverage = min(0.9999, 1.0 - (1.0 - COVERAGE_PROBABILITY) / max(1, looked_at))
    for compared in found.values():
        compared.worth_finding = max(LEAST_WORTH_FINDING, accuracies.get(compared.instrument, 0.0))
        if compared.units >= FEWEST_PAIRS:
            compared.bias = instrument_bias(_by_unit(compared.pairs), coverage_probability=coverage)
            compared.units_needed = _needed(compared.bias, compared.worth_finding)
    return found


def tools_of(one: Measurement) -> tuple[str, ...]:
    return tuple(one.instruments) or ((one.instrument,) if one.instrument else ())


def _pairs(finals: Sequence[Measurement]) -> Iterator[tuple[Measurement, Measurement]]:
    """Of each state, port and mode the last reading by each set of instruments, two by two."""
    for state in states_of(finals):
        last: dict[tuple[str, str], dict[tuple[tuple[str, ...], str], Measurement]] = {}
        for one in state.readings:
            if is_sound(one) and one.airflow_m3_s > _LEAST_AIRFLOW_M3_S:
                by = (tools_of(one), one.method if not tools_of(one) else "")
                last.setdefault((one.port, one.mode), {})[by] = one
        for held in last.values():
            for a, b in combinations(held.values(), 2):
                if not set(tools_of(a)) & set(tools_of(b)):
                    yield a, b


def _by_unit(pairs: Collection[Pair]) -> list[ReadingPair]:
    """A unit's ratio is the geometric mean over its ports; what its readings do not share is added in squares."""
    units: dict[UUID, list[Pair]] = {}
    for pair in pairs:
        units.setdefault(pair.position, []).append(pair)
    made = []
    for held in units.values():
        number = len(held)
        ratio = math.exp(math.fsum(math.log1p(one.relative_difference) for one in held) / number)
        own = math.sqrt(math.fsum(_own_relative(one.reading) ** 2 for one in held)) / number
        other = math.sqrt(math.fsum(_own_relative(one.other) ** 2 for one in held)) / number
        made.append(ReadingPair(ratio, 1.0, ratio * max(own, _LEAST_RELATIVE), max(other, _LEAST_RELATIVE)))
    return made


def _own_relative(one: Measurement) -> float:
    """Relative standard uncertainty without what the instrument's own error adds: that is the same on every unit."""
    shared = math.fsum(size**2 for size in one.facts.get("instrument_errors_m3_s", {}).values())
    return math.sqrt(max(0.0, one.standard_uncertainty_m3_s**2 - shared)) / one.airflow_m3_s


def _needed(bias: InstrumentBias, worth_finding: float) -> int | None:
    """None where more units would be needed than any project has."""
    each = bias.standard_uncertainty * math.sqrt(bias.pairs)  # of one unit: the larger of what is stated and seen
    try:
        return units_to_tell(
            relative_difference=worth_finding, spread=each, coverage_probability=bias.coverage_probability
        )
    except OutOfRange:
        return None
