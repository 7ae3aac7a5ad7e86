"""The screens of engineering.reading_screens over what one instrument read: prompts for a person, never a finding.

Airflows have no first-digit screen: they cluster around their design and do not span decades.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from uuid import UUID

import numpy as np

from commissioning.dossier.given import PortDesign
from commissioning.dossier.instrument_error import stated
from commissioning.dossier.results import Measurement
from commissioning.engineering import units
from commissioning.engineering.reading_screens import (
    Screen,
    screen_cliff,
    screen_constant_ratio,
    screen_exact_to_design,
    screen_last_digits,
    screen_repeats,
)
from commissioning.samples.comparisons import Compared

CLIFF_WIDTH = 0.05  # relative; common practice, no source
_TRADE_STEP_M3_S = float(units.to_si(5.0, "cfm"))  # where an instrument's papers state no step of its display
_BY_HAND = frozenset({"measured", "witnessed", "transcribed"})

Designs = Mapping[UUID, Mapping[str, PortDesign]]


def prompts_of(one: Compared, designs: Designs, resolution: Mapping[str, object] | None) -> list[Screen]:
    """Every screen that has anything to look at. `look_again` is None where too few readings could tell."""
    finals = [(position, final) for position, final in one.finals if final.grade in _BY_HAND]
    found: list[Screen | None] = [
        _exact_to_design(finals, designs, resolution),
        _cliff(finals, designs),
        _last_digits([final for _, final in finals], resolution),
        _repeats([final for _, final in finals]),
        _constant_ratio(one),
    ]
    return [screen for screen in found if screen is not None]


def _exact_to_design(
    finals: Sequence[tuple[UUID, Measurement]], designs: Designs, resolution: Mapping[str, object] | None
) -> Screen | None:
    held = [(final.airflow_m3_s, design) for final, design in _designed(finals, designs) if final.airflow_m3_s >= 0.0]
    if not held:
        return None
    step = stated(resolution, "airflow", inch_of_water_pa=0.0) or _TRADE_STEP_M3_S
    readings, wanted = (np.array(column) for column in zip(*held, strict=True))
    return screen_exact_to_design(readings=readings, designs=wanted, step=step)


def _cliff(finals: Sequence[tuple[UUID, Measurement]], designs: Designs) -> Screen | None:
    """Verification readings only: as-left ones are adjusted until they pass, and must stop at the limit."""
    by_limit: dict[float, list[float]] = {}
    for position, final in finals:
        design = designs.get(position, {}).get(final.port)
        if final.purpose != "verification" or design is None or not design.airflow_m3_s or design.tolerance is None:
            continue
        if design.tolerance.low is not None:
            by_limit.setdefault(design.tolerance.low, []).append(final.airflow_m3_s / design.airflow_m3_s - 1.0)
    if not by_limit:
        return None
    limit, deviations = max(by_limit.items(), key=lambda item: (len(item[1]), item[0]))
    return screen_cliff(deviations=np.array(deviations), limit=limit, width=CLIFF_WIDTH)


def _last_digits(finals: Sequence[Measurement], resolution: Mapping[str, object] | None) -> Screen | None:
    """Repeated readings of one flow in the unit of the display; a traverse reads another velocity at each point."""
    if resolution is None:
        return None
    step, unit = float(str(resolution["value"])), str(resolution["unit"])
    series = [held for final in finals if final.method != "traverse" and (held := readings_of(final, unit))]
    repeated = [held for held in series if len(held) > 1]
    if step <= 0.0 or not repeated or min(min(held) for held in series) < 0.0:
        return None
    freedom = sum(len(held) - 1 for held in repeated)
    scatter = math.sqrt(math.fsum(float(np.var(held)) * len(held) for held in repeated) / freedom)
    every = np.array([value for held in series for value in held])
    return screen_last_digits(readings=every, step=step, repeatability=scatter)


def _repeats(finals: Sequence[Measurement]) -> Screen | None:
    """Of the traverse whose commonest reading makes the largest part of it."""
    series = [held for final in finals if final.method == "traverse" and (held := readings_of(final))]
    screens = [screen_repeats(readings=np.array(held)) for held in series]
    return max(screens, key=lambda one: (one.look_again is not None, one.value), default=None)


def _constant_ratio(one: Compared) -> Screen | None:
    if not one.pairs:
        return None
    readings = np.array([pair.reading.airflow_m3_s for pair in one.pairs])
    others = np.array([pair.other.airflow_m3_s for pair in one.pairs])
    return screen_constant_ratio(readings=readings, others=others)


def _designed(finals: Sequence[tuple[UUID, Measurement]], designs: Designs) -> Iterator[tuple[Measurement, float]]:
    for position, final in finals:
        design = designs.get(position, {}).get(final.port)
        if design is not None and design.airflow_m3_s:
            yield final, design.airflow_m3_s


def readings_of(one: Measurement, unit: str | None = None) -> list[float]:
    """The readings as they were displayed, which a measurement keeps as text; nothing where the unit is another.

    >>> from types import SimpleNamespace
    >>> readings_of(SimpleNamespace(inputs=(("readings", "998, 1000, 1002 cfm"),)), "cfm")
    [998.0, 1000.0, 1002.0]
    """
    text = dict(one.inputs).get("readings", "")
    values, _, code = text.rpartition(" ")
    if not values or (unit is not None and code != unit):
        return []
    return [float(value) for value in values.split(", ")]
