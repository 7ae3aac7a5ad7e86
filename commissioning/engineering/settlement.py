"""What would settle an inconclusive verdict: more readings, a better instrument, or another plane or method."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from commissioning.engineering.guards import within

MOST_READINGS = 100


class Remedy(StrEnum):
    """What to do about an uncertainty that hides the answer."""

    SETTLED = "settled"
    MORE_READINGS = "more_readings"
    BETTER_INSTRUMENT = "better_instrument"
    ANOTHER_PLANE_OR_METHOD = "another_plane_or_method"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Settlement:
    """What would settle a verdict, if the value stays where it is.

    Attributes:
        remedy: the least effort that would do.
        needed_standard_uncertainty: largest standard uncertainty that settles it [unit of the value].
        readings_needed: readings in all [-], for `more_readings`.
        needed_instrument_uncertainty: largest standard uncertainty of the instrument [unit of the value], for
            `better_instrument`.
        sentence: the same for a reader.
    """

    remedy: Remedy
    needed_standard_uncertainty: float
    readings_needed: int | None
    needed_instrument_uncertainty: float | None
    sentence: str


def what_would_settle(
    *,
    distance: float,
    guard_multiplier: float = 1.0,
    coverage_factor: float = 2.0,
    reading_standard_deviation: float,
    readings: int,
    instrument_standard_uncertainty: float,
    other_standard_uncertainty: float,
) -> Settlement:
    """Return what would settle a verdict, if the measured value stays where it is.

    The uncertainty has a part that more readings shrink, s / sqrt(n), a part of the instrument and the rest (the
    plane, the method). It must come down to

        u <= d / (r k)

    First more readings are tried, then a better instrument, then neither can do.

    Args:
        distance: from the value to the limit that hides it d [unit of the value], the sign does not matter.
        guard_multiplier: r of the decision rule [-], above 0 to 5.
        coverage_factor: k of the expanded uncertainty [-], 1 to 20.
        reading_standard_deviation: of a single reading s [unit of the value], 0 or more.
        readings: number of readings n made [-], 1 or more.
        instrument_standard_uncertainty: what readings of the same instrument share [unit of the value].
        other_standard_uncertainty: what neither readings nor instrument change [unit of the value].

    Raises:
        OutOfRange: an argument lies outside.

    Source: JCGM 106:2012, 8.3 (guard band); the order of the remedies is common practice, no source.

    Example:
        >>> found = what_would_settle(distance=10.0, reading_standard_deviation=12.0, readings=4,
        ...     instrument_standard_uncertainty=2.0, other_standard_uncertainty=3.0)
        >>> found.remedy.value, found.readings_needed
        ('more_readings', 12)
        >>> what_would_settle(distance=5.0, reading_standard_deviation=12.0, readings=4,
        ...     instrument_standard_uncertainty=2.0, other_standard_uncertainty=3.0).remedy.value
        'another_plane_or_method'
    """
    factor = (
        within("guard multiplier", guard_multiplier, 1e-6, 5.0, "").item()
        * within("coverage factor", coverage_factor, 1.0, 20.0, "").item()
    )
    needed = abs(within("distance", distance, -1e300, 1e300, "").item()) / factor
    spread = within("standard deviation of a reading", reading_standard_deviation, 0.0, 1e300, "").item()
    number = int(within("number of readings", readings, 1.0, 1e6, ""))
    instrument = within("instrument uncertainty", instrument_standard_uncertainty, 0.0, 1e300, "").item()
    other = within("other uncertainty", other_standard_uncertainty, 0.0, 1e300, "").item()
    mean_spread = spread / math.sqrt(number)
    if needed == 0.0:
        return _settlement(Remedy.NOTHING, needed)
    if math.hypot(mean_spread, instrument, other) <= needed:
        return _settlement(Remedy.SETTLED, needed)
    left_for_spread = needed**2 - instrument**2 - other**2
    if left_for_spread > 0.0:
        wanted = math.ceil(spread**2 / left_for_spread - 1e-9)
        if wanted <= MOST_READINGS:
            return _settlement(Remedy.MORE_READINGS, needed, readings=wanted)
    left_for_instrument = needed**2 - mean_spread**2 - other**2
    if left_for_instrument > 0.0:
        return _settlement(Remedy.BETTER_INSTRUMENT, needed, instrument=math.sqrt(left_for_instrument))
    return _settlement(Remedy.ANOTHER_PLANE_OR_METHOD, needed)


def _settlement(
    remedy: Remedy, needed: float, *, readings: int | None = None, instrument: float | None = None
) -> Settlement:
    sentences = {
        Remedy.SETTLED: "The uncertainty is small enough already.",
        Remedy.MORE_READINGS: f"{readings} readings in all would settle it, if the mean stays where it is.",
        Remedy.BETTER_INSTRUMENT: (
            "More readings alone will not settle it; an instrument with a standard uncertainty of at most "
            f"{instrument or 0.0:.2g} would."
        ),
        Remedy.ANOTHER_PLANE_OR_METHOD: (
            "No number of readings and no better instrument will settle it: measure in another plane or by "
            "another method."
        ),
        Remedy.NOTHING: "The value lies on the limit itself: no measurement can settle it.",
    }
    return Settlement(remedy, needed, readings, instrument, sentences[remedy])
