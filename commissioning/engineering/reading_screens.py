"""What makes a person look at a set of readings again. A screen is a prompt and proves nothing: never accuse.

Each screen has an honest explanation that is likelier than a dishonest one: a display that moves in steps of five, a
damper set until the reading matched, one reading copied down by slip. The sentence asks; it does not conclude.

First digits after Benford are NOT for airflows: they need readings over three decades or more, and airflows cluster
around their design. The screen says so and does not speak where the readings do not span that much.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from commissioning.engineering.guards import FloatArray, FloatOrArray, within

FEWEST_DIGITS = 50
LARGEST_ZERO_FIVE_SHARE = 0.30
SMALLEST_PROBABILITY = 0.01
STEPS_IN_REPEATABILITY = 5.0
DECADES_FOR_FIRST_DIGITS = 3.0
FIRST_DIGIT_DEVIATIONS = (0.006, 0.012, 0.015)  # close, acceptable, marginal
EXACT_BAND = 0.005
LARGEST_EXACT_SHARE = 0.25
FEWEST_READINGS = 10
LARGEST_REPEATED_SHARE = 0.50
SMALLEST_RATIO_SPREAD = 0.001


@dataclass(frozen=True, slots=True)
class Screen:
    """What one screen found.

    Attributes:
        code: short name, stable.
        readings: how many readings it looked at.
        value: what it measured [-].
        limit: beyond which a person is asked to look [-].
        look_again: a person should look; None where these readings cannot tell.
        sentence: what was seen or why nothing can be said, for a reader.
    """

    code: str
    readings: int
    value: float
    limit: float
    look_again: bool | None
    sentence: str


def last_digit_counts(*, readings: FloatOrArray, step: float) -> tuple[int, ...]:
    """Return how often each last digit 0 to 9 occurs.

        digit = round(reading / step) mod 10

    Args:
        readings: as they were displayed [any unit], 0 or more.
        step: smallest step that the display can show [same unit], above 0.

    Raises:
        OutOfRange: an argument lies outside.

    Source: definition.

    Example:
        >>> last_digit_counts(readings=np.array([395.0, 400.0, 412.0]), step=1.0)
        (1, 0, 1, 0, 0, 1, 0, 0, 0, 0)
    """
    values = np.atleast_1d(within("reading", readings, 0.0, 1e12, "")).ravel()
    steps = np.rint(values / within("display step", step, 1e-9, 1e9, "")).astype(np.int64)
    return tuple(int(count) for count in np.bincount(steps % 10, minlength=10))


def last_digit_chi_square(counts: Sequence[int]) -> float:
    """Return how far the last digits are from being equally frequent.

        chi^2 = sum over 0..9 of (n_i - n / 10)^2 / (n / 10)

    Args:
        counts: of the digits 0 to 9 [-], ten of them.

    Raises:
        ValueError: there are not ten counts, or all are 0.

    Source: Pearson's chi-square; last digits as the HHS Office of Research Integrity describes them (read).

    Example:
        >>> last_digit_chi_square([18, 8, 9, 7, 8, 21, 9, 7, 6, 7])
        23.8
    """
    if len(counts) != 10 or sum(counts) == 0:
        raise ValueError("give the counts of the ten digits 0 to 9, not all of them 0")
    expected = sum(counts) / 10.0
    return math.fsum((count - expected) ** 2 for count in counts) / expected


def last_digit_probability(chi_square: float) -> float:
    """Return the chance of equally likely last digits to be as uneven as this, or more (nine degrees of freedom).

        P = erfc(sqrt(x / 2)) + sqrt(2 x / pi) exp(-x / 2) (1 + x / 3 + x^2 / 15 + x^3 / 105)

    Args:
        chi_square: x [-], 0 to 1e6.

    Raises:
        OutOfRange: the argument lies outside.

    Source: chi-square distribution of nine degrees of freedom; definition, integrated by parts.

    Example:
        >>> round(last_digit_probability(23.8), 6)
        0.004629
    """
    x = within("chi-square", chi_square, 0.0, 1e6, "").item()
    series = 1.0 + x / 3.0 + x**2 / 15.0 + x**3 / 105.0
    return math.erfc(math.sqrt(x / 2.0)) + math.sqrt(2.0 * x / math.pi) * math.exp(-x / 2.0) * series


def zero_five_share(counts: Sequence[int]) -> float:
    """Return which share of the last digits is 0 or 5.

    Args:
        counts: of the digits 0 to 9 [-], ten of them.

    Raises:
        ValueError: there are not ten counts, or all are 0.

    Source: definition.

    Example:
        >>> zero_five_share([18, 8, 9, 7, 8, 21, 9, 7, 6, 7])
        0.39
    """
    if len(counts) != 10 or sum(counts) == 0:
        raise ValueError("give the counts of the ten digits 0 to 9, not all of them 0")
    return (counts[0] + counts[5]) / sum(counts)


def screen_last_digits(*, readings: FloatOrArray, step: float, repeatability: float) -> Screen:
    """Return whether the last digits of many readings are so uneven, and so round, that a person should look.

        look again: P < 0.01 and more than 30 % zeros and fives, of 50 readings or more

    A last digit is chance only where it moves by itself: the standard deviation of a repeated reading must be five
    steps or more (then the digits of one flow are even within 1.5 %).

    Args:
        readings: as they were displayed [any unit], 0 or more.
        step: smallest step that the display can show [same unit], above 0.
        repeatability: standard deviation of a repeated reading of one flow [same unit], 0 or more.

    Raises:
        OutOfRange: an argument lies outside.

    Source: the two limits as a published integrity screen has them (read); 50 readings give five to a digit.

    Example:
        >>> rounded = np.arange(300.0, 900.0, 10.0)
        >>> screen_last_digits(readings=rounded, step=1.0, repeatability=8.0).look_again
        True
    """
    counts = last_digit_counts(readings=readings, step=step)
    number, share = sum(counts), zero_five_share(counts)
    own = within("repeatability", repeatability, 0.0, 1e9, "").item()
    if number < FEWEST_DIGITS or own < STEPS_IN_REPEATABILITY * step:
        why = (
            f"{number} readings are too few for their last digits to say anything; {FEWEST_DIGITS} are needed"
            if number < FEWEST_DIGITS
            else "the last digit does not move by itself: the readings repeat within a few steps of the display"
        )
        return Screen("last_digits", number, share, LARGEST_ZERO_FIVE_SHARE, None, why)
    chance = last_digit_probability(last_digit_chi_square(counts))
    look = chance < SMALLEST_PROBABILITY and share > LARGEST_ZERO_FIVE_SHARE
    sentence = f"{share:.0%} of {number} readings end in 0 or 5, where about 20 % would by chance"
    return Screen("last_digits", number, share, LARGEST_ZERO_FIVE_SHARE, look, sentence)


def first_digit_share(digit: int) -> float:
    """Return which share of numbers that span decades begins with a digit.

        P(d) = log10(1 + 1 / d)

    Args:
        digit: d [-], 1 to 9.

    Raises:
        OutOfRange: the digit lies outside.

    Source: Benford (1938); definition.

    Example:
        >>> round(first_digit_share(1), 5)
        0.30103
    """
    return math.log10(1.0 + 1.0 / within("first digit", float(digit), 1.0, 9.0, "").item())


def first_digit_deviation(counts: Sequence[int]) -> float:
    """Return the mean absolute deviation of the shares of the first digits from those of Benford.

    Args:
        counts: of the first digits 1 to 9 [-], nine of them.

    Raises:
        ValueError: there are not nine counts, or all are 0.

    Source: Nigrini (2012) as coded in an open R package; below 0.006 close, to 0.012 acceptable, to 0.015 marginal.

    Example:
        >>> round(first_digit_deviation([31, 18, 12, 10, 8, 7, 6, 4, 4]), 6)
        0.004855
    """
    if len(counts) != 9 or sum(counts) == 0:
        raise ValueError("give the counts of the nine digits 1 to 9, not all of them 0")
    number = sum(counts)
    return math.fsum(abs(count / number - first_digit_share(d)) for d, count in enumerate(counts, start=1)) / 9.0


def screen_first_digits(*, readings: FloatOrArray) -> Screen:
    """Return whether first digits are unusual, for readings over three decades or more; not for airflows.

    Args:
        readings: values that span decades, such as meter totals [any unit], above 0.

    Raises:
        OutOfRange: a reading is not above 0.

    Source: as for `first_digit_deviation`; three decades are common practice, no source.

    Example:
        >>> screen_first_digits(readings=np.linspace(900.0, 1100.0, 60)).look_again is None
        True
    """
    values = np.atleast_1d(within("reading", readings, 1e-12, 1e12, "")).ravel()
    limit = FIRST_DIGIT_DEVIATIONS[-1]
    decades = float(np.log10(values.max() / values.min()))
    digits = np.array([int(f"{value:e}"[0]) for value in values])
    deviation = first_digit_deviation([int(count) for count in np.bincount(digits, minlength=10)[1:]])
    if values.size < FEWEST_DIGITS or decades < DECADES_FOR_FIRST_DIGITS:
        why = f"{values.size} readings over {decades:.1f} decades: first digits say nothing here, nor of any airflows"
        return Screen("first_digits", values.size, deviation, limit, None, why)
    sentence = f"the first digits of {values.size} readings deviate by {deviation:.3f} on average from what is usual"
    return Screen("first_digits", values.size, deviation, limit, deviation > limit, sentence)


def screen_exact_to_design(*, readings: FloatOrArray, designs: FloatOrArray, step: float) -> Screen:
    """Return whether more readings match their design than instruments and dampers allow.

        exact: |reading / design - 1| < 0.5 %;  look again: more than a quarter of ten readings or more

    Left out are designs so small that one step of the display is above 1 % of them: there a match is no wonder.

    Args:
        readings: [any unit], 0 or more.
        designs: of each reading [same unit], above 0.
        step: smallest step that the display can show [same unit], above 0.

    Raises:
        OutOfRange: an argument lies outside.

    Source: common practice, no source.

    Example:
        >>> screen = screen_exact_to_design(readings=np.full(12, 1000.0), designs=1000.0, step=1.0)
        >>> screen.value, screen.look_again
        (1.0, True)
    """
    found, wanted = np.broadcast_arrays(
        np.atleast_1d(within("reading", readings, 0.0, 1e12, "")), within("design", designs, 1e-12, 1e12, "")
    )
    told = within("display step", step, 1e-9, 1e9, "") <= 2.0 * EXACT_BAND * wanted
    number = int(np.count_nonzero(told))
    share = float(np.mean(np.abs(found[told] / wanted[told] - 1.0) < EXACT_BAND)) if number else 0.0
    sentence = f"{share:.0%} of {number} readings match their design within {EXACT_BAND:.1%}"
    look = share > LARGEST_EXACT_SHARE if number >= FEWEST_READINGS else None
    return Screen("exact_to_design", number, share, LARGEST_EXACT_SHARE, look, sentence)


def screen_repeats(*, readings: FloatOrArray) -> Screen:
    """Return whether one value comes so often that a reading may have been copied down.

        look again: the commonest value is above half of ten readings or more

    For readings that turbulence moves, such as the points of a traverse.

    Args:
        readings: of different points [any unit].

    Raises:
        OutOfRange: a reading is not a finite number.

    Source: common practice, no source.

    Example:
        >>> screen_repeats(readings=np.full(25, 62.0)).look_again
        True
    """
    values = np.atleast_1d(within("reading", readings, -1e12, 1e12, "")).ravel()
    share = float(np.unique(values, return_counts=True)[1].max() / values.size)
    look = share > LARGEST_REPEATED_SHARE if values.size >= FEWEST_READINGS else None
    sentence = f"one value makes {share:.0%} of {values.size} readings"
    return Screen("repeats", values.size, share, LARGEST_REPEATED_SHARE, look, sentence)


def screen_cliff(*, deviations: FloatOrArray, limit: float, width: float) -> Screen:
    """Return whether readings stop at a limit: many just inside, hardly any just outside.

        P(at least so many of n inside by a fair coin) < 0.01

    For verification readings only. As-left readings are adjusted until they pass, and must stop there.

    Args:
        deviations: of each reading from its design, over the design [-].
        limit: lower limit of the deviation [-], such as -0.10.
        width: how far to either side to look [-], above 0.

    Raises:
        OutOfRange: an argument lies outside.

    Source: sign test; common practice, no source.

    Example:
        >>> screen_cliff(deviations=np.linspace(-0.10, -0.06, 12), limit=-0.10, width=0.05).look_again
        True
    """
    values = np.atleast_1d(within("deviation", deviations, -1.0, 1e6, "")).ravel()
    edge = within("limit", limit, -1.0, 1e6, "").item()
    near = within("width", width, 1e-9, 10.0, "").item()
    inside = int(np.count_nonzero((values >= edge) & (values < edge + near)))
    number = inside + int(np.count_nonzero((values < edge) & (values >= edge - near)))
    chance = sum(math.comb(number, x) for x in range(inside, number + 1)) / 2**number
    look = chance < SMALLEST_PROBABILITY if number >= FEWEST_READINGS else None
    sentence = f"of {number} readings within {near:.0%} of the limit, {inside} lie inside"
    return Screen("cliff", number, chance, SMALLEST_PROBABILITY, look, sentence)


def screen_constant_ratio(*, readings: FloatOrArray, others: FloatOrArray) -> Screen:
    """Return whether two sets of readings go together more closely than instruments do.

        look again: standard deviation of reading / other below 0.1 % of its mean, of ten pairs or more

    Args:
        readings: [any unit], above 0.
        others: reading of the same by another method [any unit], above 0, one for each.

    Raises:
        OutOfRange: a reading is not above 0.

    Source: common practice, no source.

    Example:
        >>> flows = np.linspace(400.0, 900.0, 12)
        >>> screen_constant_ratio(readings=1.04 * flows, others=flows).look_again
        True
    """
    a: FloatArray = np.atleast_1d(within("reading", readings, 1e-12, 1e12, "")).ravel()
    ratio = a / np.atleast_1d(within("other reading", others, 1e-12, 1e12, "")).ravel()
    spread = float(np.std(ratio) / np.mean(ratio))
    look = spread < SMALLEST_RATIO_SPREAD if ratio.size >= FEWEST_READINGS else None
    sentence = f"the ratio of {ratio.size} pairs of readings varies by {spread:.2%}"
    return Screen("constant_ratio", ratio.size, spread, SMALLEST_RATIO_SPREAD, look, sentence)
