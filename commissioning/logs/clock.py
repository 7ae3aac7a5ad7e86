"""From the local clock to UTC: hours that occur twice or not at all are told apart by the order of the samples.

Only what the order cannot tell is left to the mapping's choice, and said.
"""

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import numpy.typing as npt
import polars as pl

from commissioning.logs.mapping import LogMapping
from commissioning.logs.moments import NONE
from commissioning.logs.problems import CannotRead, Remark

_HOUR_US = 3_600_000_000
_BEFORE_US = 3 * _HOUR_US
_DAY_US = 24 * _HOUR_US

Us = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Placed:
    """Microseconds of UTC, `NONE` where a moment was left out."""

    us: Us
    remarks: tuple[Remark, ...]


def to_utc(local: Us, lines: npt.NDArray[np.int64], mapping: LogMapping) -> Placed:
    """Moments of one sequence, in the file's order, none missing."""
    if not len(local):
        return Placed(local, ())
    back = _runs_backwards(local)
    if back:
        local, lines = local[::-1], lines[::-1]
    first, second = (_zoned(local, mapping.zone, which) for which in ("earliest", "latest"))
    remarks: list[Remark] = []
    us = first.copy()
    missing = first == NONE
    if missing.any():
        us[missing] = _missing(local[missing], lines[missing], mapping, remarks)
    double = (first != second) & ~missing
    if double.any():
        _double(local, us, second, double, lines, mapping, remarks)
    return Placed(us[::-1] if back else us, tuple(remarks))


def _runs_backwards(local: Us) -> bool:
    steps = np.diff(local)
    return bool(np.count_nonzero(steps < 0) > np.count_nonzero(steps > 0))


def _zoned(local: Us, zone: str, which: str) -> Us:
    naive = pl.Series(local).cast(pl.Datetime("us"))
    placed = naive.dt.replace_time_zone(zone, ambiguous=which, non_existent="null")  # type: ignore[arg-type]
    return placed.dt.timestamp("us").fill_null(NONE).to_numpy()


def _missing(local: Us, lines: npt.NDArray[np.int64], mapping: LogMapping, remarks: list[Remark]) -> Us:
    line, count, day = int(lines.min()), len(local), _day(local[0])
    if mapping.missing_hour == "refuse":
        raise CannotRead("missing_hour", f"On {day} this local time does not exist: clocks go forward.", line=line)
    if mapping.missing_hour == "drop":
        told = f"On {day} clocks go forward; samples of the hour that does not exist were left out."
        remarks.append(Remark("missing_hour", line, told, count))
        return np.full(count, NONE, np.int64)
    told = (
        f"On {day} clocks go forward, and there are samples in the hour that does not exist; they were read as if the "
        "clock had not been put on. If the logger never changes its clock, choose a zone without daylight saving."
    )
    remarks.append(Remark("missing_hour", line, told, count))
    return _zoned(local - _BEFORE_US, mapping.zone, "earliest") + _BEFORE_US


def _double(
    local: Us,
    us: Us,
    second: Us,
    double: npt.NDArray[np.bool_],
    lines: npt.NDArray[np.int64],
    mapping: LogMapping,
    remarks: list[Remark],
) -> None:
    """Fill `us` where a local time occurs twice, day by day."""
    places = np.flatnonzero(double)
    for day in np.unique(local[places] // _DAY_US):
        at = places[local[places] // _DAY_US == day]
        late = _second_pass(local, us, second, at)
        line, told = int(lines[at].min()), _day(local[at[0]])
        if late is None:
            if mapping.repeated_hour == "refuse":
                raise CannotRead("repeated_hour", f"On {told} this local time occurs twice. Say which.", line=line)
            late = np.full(len(at), mapping.repeated_hour == "second")
            what = f"On {told} clocks go back; the samples do not tell which of the two hours they are of, and were "
            what += f"read as the {mapping.repeated_hour}."
            remarks.append(Remark("repeated_hour", line, what, len(at)))
        else:
            what = f"On {told} clocks go back; the two hours were told apart by the order of the samples."
            remarks.append(Remark("repeated_hour_by_order", line, what, len(at)))
        us[at[late]] = second[at[late]]


def _second_pass(local: Us, first: Us, second: Us, at: Us) -> npt.NDArray[np.bool_] | None:
    """Which of the samples are of the second hour; None where nothing tells."""
    times = local[at]
    steps = np.diff(times)
    falls = np.flatnonzero(steps < 0)
    if len(falls) == 1:
        return np.asarray(np.arange(len(at)) > falls[0], np.bool_)
    values, counts = np.unique(times, return_counts=True)
    if not len(falls) and len(values) > 1 and (counts == 2).all():
        return np.asarray(np.arange(len(at)) % 2 == 1, np.bool_)
    if len(falls) or not (at[0] > 0 and at[-1] + 1 < len(local)):
        return None
    return _by_step(local, first, second, at)


def _by_step(local: Us, first: Us, second: Us, at: Us) -> npt.NDArray[np.bool_] | None:
    """Samples about as far from their neighbours as all are: only one of the hours fits so."""
    step = float(np.median(np.abs(np.diff(local))))
    before, after = first[at[0]] - first[at[0] - 1], first[at[-1] + 1] - second[at[-1]]
    fits_first, fits_second = 0 < before <= 1.5 * step, 0 < after <= 1.5 * step
    if fits_first == fits_second or step <= 0:
        return None
    return np.full(len(at), bool(fits_second))


def _day(us: np.int64) -> str:
    return datetime.fromtimestamp(int(us) // 1_000_000, UTC).date().isoformat()
