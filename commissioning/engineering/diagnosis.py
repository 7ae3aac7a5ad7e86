"""From what changed along a fan's stream to the likely first causes, in order, each with its evidence.

Each cause of the table is tried at every size. What remains unexplained of the readings at its best size, each weighed
by its uncertainty, is its score: 0 explains all. A cause whose score is 4 or more above the best one's is excluded, as
two standard uncertainties would; so is one that leaves more than it explains. What was not read counts as nothing,
neither for nor against. Where the speed differs from its reference by more than two uncertainties, the fan laws first
take out what that alone does, so that another cause has to explain the rest; since that would be two things at once,
it is scored 4 higher.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import TypeAlias

import numpy as np

from commissioning.engineering.diagnosis_table import (
    SIGNATURES,
    THROTTLED_CURRENT,
    Cell,
    FanWheel,
    Quantity,
    Seen,
    Signature,
)
from commissioning.engineering.guards import FloatArray, within

EXCLUDED = 4.0
SIGHT = 5.0  # more than excludes, by the 1 within which scores are level
TWO_AT_ONCE = 4.0
VISIBLE = 9.0
MOST_FROM_ONE = 25.0
TABLE_IS_ROUGH = 0.1
_SIZES = 161
_Span: TypeAlias = tuple[float, float, float]  # the least and the most size, and what stops nearer to 0
_Ends: TypeAlias = tuple[FloatArray, FloatArray]
_BY_SPEED: dict[Quantity, tuple[float, float]] = {  # power of the speed, and how far that may be off
    **dict.fromkeys((Quantity.INLET_FLOW, Quantity.OUTLET_FLOW, Quantity.OUTLETS, Quantity.SPEED), (1.0, 0.0)),
    **dict.fromkeys((Quantity.INTAKE, Quantity.FILTER, Quantity.DISCHARGE, Quantity.RISE), (1.9, 0.1)),
    Quantity.CORE: (1.6, 0.3),
    Quantity.CURRENT: (2.0, 0.7),
}


@dataclass(frozen=True, slots=True)
class Change:
    """A quantity against its reference.

    Attributes:
        log_ratio: natural logarithm of now over reference [-].
        standard_uncertainty: of the logarithm, so relative, both readings in it [-].
    """

    log_ratio: float
    standard_uncertainty: float


@dataclass(frozen=True, slots=True)
class Symptoms:
    """What is known of one fan's stream, against design or against an earlier reading of the same unit.

    Attributes:
        changes: what was read, by quantity; what was not read is left out.
        judged: which of the airflows is judged.
        seen: the operating state as it was seen, and how the judged airflow was read; by name.
        wheel: which way the fan's blades lean.
        factor_ratios: factors of the neighbouring sizes over the station's factor that was used, where known [-].
    """

    changes: Mapping[Quantity, Change]
    judged: Quantity = Quantity.OUTLET_FLOW
    seen: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    wheel: FanWheel = FanWheel.NOT_KNOWN
    factor_ratios: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Cause:
    """A likely cause.

    Attributes:
        code: its name in the table.
        sentence: in plain words.
        look: what to look at to confirm it.
        score: what it leaves unexplained [-]; 0 explains all.
        size: how large it would be, as the logarithm of the airflow that it takes or adds [-].
        stands: not excluded by the readings and by what was seen.
        leaves_speed: if only such causes stand, another speed is a remedy.
        evidence_for, evidence_against: what speaks for it and against it, in words.
    """

    code: str
    sentence: str
    look: str
    score: float
    size: float
    stands: bool
    leaves_speed: bool
    evidence_for: tuple[str, ...]
    evidence_against: tuple[str, ...]


def relative_change(*, now: float, reference: float, relative_uncertainty: float) -> Change:
    """Return how a reading changed against its reference, as a logarithm.

        d = ln(now / reference)

    Args:
        now: the reading [any unit], above 0; what is read as less than a thousandth of its reference counts as that.
        reference: design, or the earlier reading [same unit], above 0.
        relative_uncertainty: relative standard uncertainty of the ratio, both readings in it [-], 0.001 to 2.

    Raises:
        OutOfRange: an argument lies outside.

    Source: definition.

    Example:
        >>> round(relative_change(now=0.8, reference=1.0, relative_uncertainty=0.03).log_ratio, 4)
        -0.2231
    """
    before = within("reference", reference, 1e-9, 1e9, "").item()
    ratio = within("reading", now, -1e9, 1e9, "").item() / before
    u = within("relative uncertainty", relative_uncertainty, 0.001, 2.0, "").item()
    return Change(math.log(min(max(ratio, 1e-3), 1e3)), u)


def diagnose(symptoms: Symptoms) -> tuple[Cause, ...]:
    """Return the likely causes, the likeliest first; those that are excluded come last, with what excludes them.

    For every cause of the table and every size s of it

        score = sum over the quantities of min((distance of d to the range s [low, high])^2 / (u^2 + (0.1 d)^2), 25)

    at the best s, plus the row's rarity, plus 4 beside a changed speed, plus 5 where what was seen speaks against it,
    less 5 (not below 0) where it speaks for it. A cause is left out unless it explains at least 9 of what is there
    without it, or was seen. Scores that differ by less than 1 are told apart by the order of diagnosis alone.

    Args:
        symptoms: what changed and what was seen.

    Source: least squares against the table of signatures; common practice, no source.

    Example:
        >>> changes = {Quantity.OUTLET_FLOW: Change(-0.25, 0.03), Quantity.FILTER: Change(0.8, 0.1),
        ...     Quantity.DISCHARGE: Change(-0.5, 0.1)}
        >>> [cause.code for cause in diagnose(Symptoms(changes)) if cause.stands]
        ['filter_loaded']
    """
    tried = [(row, _try(row, symptoms)) for row in SIGNATURES if _applies(row, symptoms.seen)]
    told = [(row, fit) for row, fit in tried if fit.gain >= VISIBLE or fit.was_seen or not row.has_sign]
    best = min((fit.score for row, fit in told if row.has_sign), default=0.0)
    told.sort(key=lambda one: (not one[0].has_sign, int(one[1].score + 1e-9)))  # stable: ties stay in the table's order
    return tuple(
        _cause(row, fit, row.has_sign and fit.explains and fit.score < best + EXCLUDED, symptoms) for row, fit in told
    )


@dataclass(frozen=True, slots=True)
class _Fit:
    score: float
    size: float
    gain: float
    was_seen: bool
    explains: bool  # more than it leaves
    changes: Mapping[Quantity, Change]


def _applies(row: Signature, seen: Mapping[str, tuple[str, ...]]) -> bool:
    return not row.needs or bool(_matching(row.needs, seen))


def _matching(wanted: Seen, seen: Mapping[str, tuple[str, ...]]) -> list[tuple[str, str]]:
    return [(name, value) for name, value in wanted if value in seen.get(name, ())]


def _try(row: Signature, symptoms: Symptoms) -> _Fit:
    changes = symptoms.changes if row.code == "speed" else _at_its_speed(symptoms.changes)
    cells = cells_of(row, symptoms)
    told = [(changes[quantity], cells[quantity]) for quantity in Quantity if quantity in changes and quantity in cells]
    sizes, (low, high) = _sizes_and_ends(row, symptoms, [cell for _, cell in told])
    scores = _misfits([change for change, _ in told], sizes, low, high)
    without = sum(_miss(change, 0.0, 0.0) for change, _ in told)
    best = int(np.argmin(scores))
    score, size = float(scores[best]), float(sizes[best])
    shown = bool(_matching(row.shown_by, symptoms.seen))
    against = bool(_matching(row.excluded_by, symptoms.seen))
    beside = TWO_AT_ONCE if row.cells and changes is not symptoms.changes else 0.0
    weighed = max(0.0, score + row.rarity + beside - SIGHT * shown) + SIGHT * against
    return _Fit(weighed, size, without - score, shown, shown or without - score > score, changes)


def _sizes_and_ends(row: Signature, symptoms: Symptoms, cells: Sequence[Cell]) -> tuple[FloatArray, _Ends]:
    """The sizes that are tried, and the ends of each cell at each of them."""
    if row.code == "wrong_factor" and symptoms.factor_ratios:
        sizes = -np.log(within("ratio of factors", np.array(symptoms.factor_ratios), 0.1, 10.0, ""))
        ends = [_ends_at(cell, sizes) for cell in cells]
    else:
        span = (row.least, row.most, row.stops_at)
        sizes = _sizes_in(span)
        ends = [_ends_in(cell, span) for cell in cells]
    return sizes, (np.array([low for low, _ in ends]), np.array([high for _, high in ends]))


@cache
def _sizes_in(span: _Span) -> FloatArray:
    """Of the table alone, so made once; and so are the ends of its cells."""
    least, most, stops_at = span
    sizes = np.linspace(least, most, _SIZES)
    return sizes[np.abs(sizes) >= stops_at - 1e-12]


@cache
def _ends_in(cell: Cell, span: _Span) -> _Ends:
    return _ends_at(cell, _sizes_in(span))


def _ends_at(cell: Cell, sizes: FloatArray) -> _Ends:
    """The ends of a cell at each size; an open end times nothing is nothing."""
    with np.errstate(invalid="ignore"):
        one, other = (np.multiply(end, sizes) for end in cell)
    one, other = (np.where(np.isnan(ends), 0.0, ends) for ends in (one, other))
    return np.minimum(one, other), np.maximum(one, other)


def cells_of(row: Signature, symptoms: Symptoms) -> dict[Quantity, Cell]:
    """Return the cells of a row for this fan and this judged airflow.

    Args:
        row: of the table.
        symptoms: with the fan's wheel and the airflow that is judged.

    Source: the table.

    Example:
        >>> row = next(one for one in SIGNATURES if one.code == "filter_loaded")
        >>> cells_of(row, Symptoms({}, wheel=FanWheel.FORWARD))[Quantity.CURRENT]
        (-1.8, -0.5)
    """
    cells = dict(row.cells)
    if row.current_is_throttled:
        low, high = THROTTLED_CURRENT[symptoms.wheel]
        cells[Quantity.CURRENT] = (low, high) if row.current_is_throttled > 0.0 else (-high, -low)
    if row.judged is not None:
        cells[symptoms.judged] = row.judged
    return cells


def _at_its_speed(changes: Mapping[Quantity, Change]) -> Mapping[Quantity, Change]:
    """What is left of the changes when the fan laws have taken out the measured change of speed."""
    speed = changes.get(Quantity.SPEED)
    if speed is None or abs(speed.log_ratio) <= 2.0 * speed.standard_uncertainty:
        return changes
    left = {}
    for quantity, change in changes.items():
        power, rough = _BY_SPEED[quantity]
        own = 0.0 if quantity is Quantity.SPEED else power * speed.standard_uncertainty
        u = math.hypot(change.standard_uncertainty, own, rough * speed.log_ratio)
        left[quantity] = Change(change.log_ratio - power * speed.log_ratio, u)
    return left


def _miss(change: Change, low: float, high: float) -> float:
    """What one quantity leaves unexplained where it is expected from low to high."""
    distance = max(low - change.log_ratio, change.log_ratio - high, 0.0)
    square = change.standard_uncertainty**2 + (TABLE_IS_ROUGH * change.log_ratio) ** 2
    return min(distance**2 / square, MOST_FROM_ONE)


def _misfits(changes: Sequence[Change], sizes: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """What is left unexplained at each size, summed over the quantities."""
    if not changes:
        return np.zeros(sizes.size)
    d = np.array([[change.log_ratio] for change in changes])
    u = np.array([[change.standard_uncertainty] for change in changes])
    distance = np.maximum(np.maximum(low - d, d - high), 0.0)
    squares = distance**2 / (u**2 + (TABLE_IS_ROUGH * d) ** 2)
    total: FloatArray = np.minimum(squares, MOST_FROM_ONE).sum(axis=0)
    return total


def _cause(row: Signature, fit: _Fit, stands: bool, symptoms: Symptoms) -> Cause:
    cells = cells_of(row, symptoms)
    pro, contra = [], []
    at_speed = "" if fit.changes is symptoms.changes else " at this speed"
    for quantity in Quantity:
        change = fit.changes.get(quantity)
        if change is None or quantity not in cells or (quantity is Quantity.SPEED and row.code != "speed"):
            continue
        low, high = sorted(end * fit.size if fit.size else 0.0 for end in cells[quantity])
        miss = _miss(change, low, high)
        words = f"{quantity.value} {_percent(change.log_ratio)}{at_speed}, with this cause {_expected(low, high)}"
        moved = abs(change.log_ratio) > 2.0 * change.standard_uncertainty
        if miss > EXCLUDED:
            contra.append(words)
        elif moved or abs(low) + abs(high) > 4.0 * change.standard_uncertainty or cells[quantity] == (0.0, 0.0):
            pro.append(words)
    pro += [_sight(one) for one in _matching(row.shown_by, symptoms.seen)]
    contra += [_sight(one) for one in _matching(row.excluded_by, symptoms.seen)]
    return Cause(
        code=row.code,
        sentence=row.sentence,
        look=row.look,
        score=fit.score,
        size=fit.size,
        stands=stands,
        leaves_speed=row.leaves_speed,
        evidence_for=tuple(pro),
        evidence_against=tuple(contra),
    )


_NAMES = {"sister": "readings of another unit", "serial": "serial", "motor": "motor", "rotation": "rotation"}


def _sight(one: tuple[str, str]) -> str:
    name, value = one
    return f"seen: {_NAMES.get(name, name.replace('_', ' '))} {value.replace('_', ' ')}"


def _percent(log_ratio: float) -> str:
    whole = round(100.0 * math.expm1(log_ratio))
    return "unchanged" if whole == 0 else f"{whole:+d} %".replace("-", "\u2212")


def _expected(low: float, high: float) -> str:
    if low == high == 0.0:
        return "unchanged"
    if math.isinf(high):
        return f"{_percent(low)} or more"
    if math.isinf(low):
        return f"{_percent(high)} or less"
    if _percent(low) == _percent(high):
        return f"about {_percent(low)}"
    return f"{_percent(low)} to {_percent(high)}"
