"""How many units to repeat, which ones, and what their result allows to say about those that were not repeated.

The units of a list are few and are not put back, so everything is hypergeometric and exact, in whole numbers. The
draw is an ordering of the units by a hash of a seed and their id: anyone who has the list and the seed can draw
again, in any language, and a larger sample holds the smaller one.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from commissioning.engineering.guards import OutOfRange

LARGEST_POPULATION = 10_000
_BINARY = 1e-12  # 1 - 0.9 is a little below 0.1 in binary


@dataclass(frozen=True, slots=True)
class SamplePlan:
    """How many units to repeat.

    Attributes:
        population: units that the result is to speak for.
        sample: units to repeat.
        accept: failures among them with which the population is still accepted.
        defective: fewest defective units that the plan is to find.
        acceptance_probability: chance that a population with just so many passes all the same [-].
    """

    population: int
    sample: int
    accept: int
    defective: int
    acceptance_probability: float


@dataclass(frozen=True, slots=True)
class OperatingPoint:
    """One point of a plan's operating characteristic.

    Attributes:
        defective: defective units in the population.
        acceptance_probability: chance that such a population is accepted [-].
    """

    defective: int
    acceptance_probability: float


@dataclass(frozen=True, slots=True)
class SampleResult:
    """What the result of a sample allows to say.

    Attributes:
        population: units that it speaks for.
        sample: units repeated.
        failures: defective units among them.
        not_repeated: units that nobody looked at.
        confidence: confidence of the bound [-]; 1 where every unit was repeated.
        most_defective: most defective units in the population, failures included, that the result leaves open.
        most_defective_unseen: most of them among the units that were not repeated.
        most_defective_share: most defective units over the population [-].
        accepted: the failures are not more than the plan accepts.
    """

    population: int
    sample: int
    failures: int
    not_repeated: int
    confidence: float
    most_defective: int
    most_defective_unseen: int
    most_defective_share: float
    accepted: bool


@dataclass(frozen=True, slots=True)
class StratumDraw:
    """The units to repeat of one stratum, in the order in which they were drawn.

    Attributes:
        stratum: name of the kind of unit.
        units: ids of all its units, in the order of the draw; the first `sample` of them are to be repeated.
        sample: how many to repeat.
        whole: every unit is taken, by rule and not by the plan.
        plan: the plan by which it was drawn; None where the stratum is taken whole.
    """

    stratum: str
    units: tuple[str, ...]
    sample: int
    whole: bool
    plan: SamplePlan | None

    @property
    def drawn(self) -> tuple[str, ...]:
        """The units to repeat."""
        return self.units[: self.sample]


def acceptance_probability(*, population: int, defective: int, sample: int, accept: int = 0) -> float:
    """Return the chance that a population passes a sample: that at most the accepted number of failures shows up.

        P = sum over x = 0..c of C(D, x) C(N - D, n - x) / C(N, n)

    Args:
        population: N, units in all [-], 1 to 10 000.
        defective: D, defective units among them [-], 0 to N.
        sample: n, units repeated [-], 0 to N.
        accept: c, failures that are accepted [-], 0 to N.

    Raises:
        OutOfRange: a number lies outside.

    Source: hypergeometric distribution; definition.

    Example:
        >>> round(acceptance_probability(population=50, defective=5, sample=10), 6)
        0.310563
    """
    total = _count("population", population, 1, LARGEST_POPULATION)
    bad = _count("defective units", defective, 0, total)
    drawn = _count("sample", sample, 0, total)
    allowed = _count("accepted failures", accept, 0, total)
    good = total - bad
    ways = sum(math.comb(bad, x) * math.comb(good, drawn - x) for x in range(min(allowed, bad, drawn) + 1))
    return ways / math.comb(total, drawn)


def operating_characteristic(
    *, population: int, sample: int, accept: int = 0, defectives: Iterable[int] | None = None
) -> tuple[OperatingPoint, ...]:
    """Return how likely a plan accepts populations with few and with many defective units.

    Args:
        population: N [-], 1 to 10 000.
        sample: n, units repeated [-], 0 to N.
        accept: c, failures that are accepted [-], 0 to N.
        defectives: numbers of defective units to look at [-], each 0 to N; all of them by default.

    Raises:
        OutOfRange: a number lies outside.

    Source: hypergeometric distribution; definition.

    Example:
        >>> [round(point.acceptance_probability, 3)
        ...     for point in operating_characteristic(population=20, sample=5, defectives=[0, 1, 5, 16])]
        [1.0, 0.75, 0.194, 0.0]
    """
    wanted = range(population + 1) if defectives is None else defectives
    return tuple(
        OperatingPoint(bad, acceptance_probability(population=population, defective=bad, sample=sample, accept=accept))
        for bad in wanted
    )


def sample_plan(*, population: int, confidence: float, largest_defective_share: float, accept: int = 0) -> SamplePlan:
    """Return the smallest sample that, passed, shows the defective share to be below a limit.

        smallest n with P(X <= c | D) <= 1 - confidence,  D = the fewest units that reach the share of N

    Args:
        population: N [-], 1 to 10 000.
        confidence: chance of not passing a population that reaches the share [-], 0.5 to 0.9999.
        largest_defective_share: share of defective units that must be found [-], above 0 to 1.
        accept: c, failures that are accepted [-], 0 or more, fewer than D.

    Raises:
        OutOfRange: a number lies outside, or so many failures are accepted that no sample could show it.

    Source: hypergeometric distribution; definition.

    Example:
        >>> sample_plan(population=60, confidence=0.95, largest_defective_share=0.10).sample
        23
    """
    total = _count("population", population, 1, LARGEST_POPULATION)
    chance = 1.0 - _share("confidence", confidence, 0.5, 0.9999) + _BINARY
    bad = _units_that_reach(largest_defective_share, total)
    allowed = _count("accepted failures", accept, 0, bad - 1)

    def missed(number: int) -> float:
        return acceptance_probability(population=total, defective=bad, sample=number, accept=allowed)

    low, high = 0, total
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if missed(middle) <= chance else (middle, high)
    return SamplePlan(total, high, allowed, bad, missed(high))


def least_excluded_defective(*, population: int, sample: int, failures: int, confidence: float) -> int:
    """Return the fewest defective units that a sample's result excludes; the population holds fewer.

        smallest D with P(X <= x | D) <= 1 - confidence

    One less is the exact upper bound (Clopper and Pearson's, for a population that is not put back).

    Args:
        population: N [-], 1 to 10 000.
        sample: n, units repeated [-], 0 to N.
        failures: x, defective ones among them [-], 0 to n.
        confidence: confidence of the bound [-], 0.5 to 0.9999.

    Raises:
        OutOfRange: a number lies outside.

    Source: Clopper and Pearson (1934), on the hypergeometric distribution (from memory).

    Example:
        >>> least_excluded_defective(population=60, sample=15, failures=0, confidence=0.95)
        10
    """
    total = _count("population", population, 1, LARGEST_POPULATION)
    drawn = _count("sample", sample, 0, total)
    found = _count("failures", failures, 0, drawn)
    chance = 1.0 - _share("confidence", confidence, 0.5, 0.9999) + _BINARY
    low, high = found, total - (drawn - found) + 1
    while high - low > 1:
        middle = (low + high) // 2
        passes = acceptance_probability(population=total, defective=middle, sample=drawn, accept=found)
        low, high = (low, middle) if passes <= chance else (middle, high)
    return high


def sample_result(*, population: int, sample: int, failures: int, confidence: float, accept: int = 0) -> SampleResult:
    """Return what a sample allows to say about all of its units, the ones that nobody looked at included.

    The bound holds for one sample drawn by chance, with its size settled beforehand. After an enlargement the joint
    sample is put in as if it had been drawn at once. That the first failures caused the enlargement is not counted:
    at 0.95, doubling once, the bound of usual plans is then wrong in up to some 6 of 100 cases instead of 5.

    Args:
        population: N [-], 1 to 10 000.
        sample: n, units repeated [-], 0 to N.
        failures: x, defective ones among them [-], 0 to n.
        confidence: confidence of the bound [-], 0.5 to 0.9999.
        accept: c, failures that the plan accepts [-], 0 to N.

    Raises:
        OutOfRange: a number lies outside.

    Source: as for `least_excluded_defective`.

    Example:
        >>> said = sample_result(population=60, sample=23, failures=0, confidence=0.95)
        >>> said.most_defective, said.not_repeated, said.accepted
        (5, 37, True)
    """
    most = least_excluded_defective(population=population, sample=sample, failures=failures, confidence=confidence) - 1
    return SampleResult(
        population=population,
        sample=sample,
        failures=failures,
        not_repeated=population - sample,
        confidence=1.0 if sample == population else confidence,
        most_defective=most,
        most_defective_unseen=most - failures,
        most_defective_share=most / population,
        accepted=failures <= _count("accepted failures", accept, 0, population),
    )


def enlarged_sample(*, population: int, first_sample: int, enlargements: int) -> int:
    """Return how many units are to be repeated in all after a failing sample: twice as many, then every unit.

    Args:
        population: N [-], 1 to 10 000.
        first_sample: n of the plan [-], 0 to N.
        enlargements: how many times a failing sample was enlarged [-], 0 or more.

    Raises:
        OutOfRange: a number lies outside.

    Source: common practice, no source.

    Example:
        >>> [enlarged_sample(population=60, first_sample=23, enlargements=step) for step in range(3)]
        [23, 46, 60]
    """
    total = _count("population", population, 1, LARGEST_POPULATION)
    first = _count("first sample", first_sample, 0, total)
    steps = _count("enlargements", enlargements, 0, 100)
    return (first, min(2 * first, total), total)[min(steps, 2)]


def draw_order(*, seed: str, units: Iterable[str]) -> tuple[str, ...]:
    """Return the units in the order in which they are drawn: a sample of n is the first n.

        ascending by the hexadecimal SHA-256 of the UTF-8 bytes of the seed followed by the unit's id

    The seed is to be fixed and written down before the list is known to have anything wrong, and by whom; a seed
    tried again until the draw pleases is no draw.

    Args:
        seed: text that was agreed on; not empty.
        units: id of every unit, each once, in any order.

    Raises:
        ValueError: the seed is empty, or an id comes twice.

    Source: FIPS 180-4 for the hash; ordering by it is our own convention.

    Example:
        >>> draw_order(seed="2026-05-04 A", units=["ERV-1", "ERV-2", "ERV-3"])
        ('ERV-3', 'ERV-1', 'ERV-2')
    """
    if not seed:
        raise ValueError("a draw needs a seed")
    ids = list(units)
    if len(set(ids)) != len(ids):
        raise ValueError(f"an id comes twice: {sorted(unit for unit in set(ids) if ids.count(unit) > 1)}")
    return tuple(sorted(ids, key=lambda unit: hashlib.sha256((seed + unit).encode()).hexdigest()))


def draw_by_strata(
    *,
    seed: str,
    strata: Mapping[str, Collection[str]],
    whole: Collection[str] = (),
    confidence: float,
    largest_defective_share: float,
    accept: int = 0,
) -> tuple[StratumDraw, ...]:
    """Return the units to repeat, stratum by stratum: like units by a plan of their own, central ones all of them.

    A stratum is a kind of unit that is built, installed and set alike; the result of its sample speaks for it alone.
    Taken whole are the strata that are named so (plant that serves everything), those with one unit only, and those
    too small to leave room for accepted failures.

    Args:
        seed: text that was agreed on; not empty.
        strata: ids of the units of each stratum; no id in two.
        whole: names of the strata of which every unit is repeated.
        confidence: as in `sample_plan` [-], 0.5 to 0.9999.
        largest_defective_share: as in `sample_plan` [-], above 0 to 1.
        accept: as in `sample_plan` [-], 0 or more.

    Raises:
        ValueError: the seed is empty, a stratum is, an id comes twice, or a name in `whole` is no stratum.
        OutOfRange: a number lies outside.

    Source: stratified sampling; taking central and single units whole is common practice, no source.

    Example:
        >>> draws = draw_by_strata(seed="2026-05-04 A", strata={"DOAS": ["DOAS-1"],
        ...     "ERV": [f"ERV-{n}" for n in range(1, 61)]}, confidence=0.95, largest_defective_share=0.10)
        >>> [(draw.stratum, draw.sample, draw.whole) for draw in draws]
        [('DOAS', 1, True), ('ERV', 23, False)]
    """
    unknown = sorted(set(whole) - set(strata))
    if unknown:
        raise ValueError(f"no such stratum: {unknown}")
    empty = sorted(name for name, units in strata.items() if not units)
    if empty:
        raise ValueError(f"a stratum without units: {empty}")
    draw_order(seed=seed, units=[unit for units in strata.values() for unit in units])
    draws = []
    for name, units in strata.items():
        order = draw_order(seed=seed, units=units)
        if name in whole or len(order) == 1 or _units_that_reach(largest_defective_share, len(order)) <= accept:
            draws.append(StratumDraw(name, order, len(order), True, None))
            continue
        plan = sample_plan(
            population=len(order),
            confidence=confidence,
            largest_defective_share=largest_defective_share,
            accept=accept,
        )
        draws.append(StratumDraw(name, order, plan.sample, False, plan))
    return tuple(draws)


def _units_that_reach(share: float, population: int) -> int:
    """The fewest units whose part of the population is at least a share; the allowance is for the binary fraction."""
    return math.ceil(_share("largest defective share", share, 1e-9, 1.0) * population - 1e-9)


def _count(name: str, value: int, low: int, high: int) -> int:
    if isinstance(value, bool) or int(value) != value or not low <= value <= high:
        raise OutOfRange(name, value, low, high, "")
    return int(value)


def _share(name: str, value: float, low: float, high: float) -> float:
    if not low <= value <= high:
        raise OutOfRange(name, value, low, high, "")
    return float(value)
