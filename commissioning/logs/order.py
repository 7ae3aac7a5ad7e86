"""Samples of one point put in order, one for each moment."""

import numpy as np
import numpy.typing as npt

from commissioning.logs.mapping import LogMapping
from commissioning.logs.problems import CannotRead, Remark
from commissioning.logs.series import Floats


def in_order(
    times_s: Floats,
    values: Floats,
    lines: npt.NDArray[np.int64],
    name: str,
    mapping: LogMapping,
    repairs: list[Remark],
) -> tuple[Floats, Floats]:
    """Rising times. What stood out of order is sorted; of two samples at one moment the mapping says which counts."""
    steps = np.diff(times_s)
    falls = np.flatnonzero(steps < 0)
    if len(falls):
        if len(falls) == np.count_nonzero(steps):
            repairs.append(Remark("newest_first", 0, "The log runs from the newest sample to the oldest.", 1))
        else:
            line = int(lines[falls[0] + 1])
            told = f"Samples of {name} stand out of order; they were sorted by time."
            repairs.append(Remark("out_of_order", line, told, len(falls), name))
        ordered = np.argsort(times_s, kind="stable")
        times_s, values, lines = times_s[ordered], values[ordered], lines[ordered]
    same = np.flatnonzero(np.diff(times_s) == 0)
    return _once(times_s, values, lines, same, name, mapping, repairs) if len(same) else (times_s, values)


def _once(
    times_s: Floats,
    values: Floats,
    lines: npt.NDArray[np.int64],
    same: npt.NDArray[np.int64],
    name: str,
    mapping: LogMapping,
    repairs: list[Remark],
) -> tuple[Floats, Floats]:
    differ = same[~((values[same] == values[same + 1]) | (np.isnan(values[same]) & np.isnan(values[same + 1])))]
    if len(differ):
        line = int(lines[differ[0] + 1])
        if mapping.duplicates == "refuse":
            raise CannotRead("two_values", f"{name} has two values at one moment.", line=line, point=name)
        told = f"{name} has different values at one moment; the {mapping.duplicates} counts."
        repairs.append(Remark("two_values", line, told, len(differ), name))
    if len(same) > len(differ):
        rest = np.setdiff1d(same, differ)
        told = f"Samples of {name} stand twice; one of each was kept."
        repairs.append(Remark("duplicate", int(lines[rest[0] + 1]), told, len(rest), name))
    keep = np.ones(len(times_s), bool)
    keep[same if mapping.duplicates == "last" else same + 1] = False
    return times_s[keep], values[keep]
