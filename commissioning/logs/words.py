"""What is said of a log's values: sentences with their lines."""

import numpy as np
import numpy.typing as npt

from commissioning.logs.mapping import MappedPoint
from commissioning.logs.problems import Remark
from commissioning.logs.roles import STATE, roles
from commissioning.logs.values import Values

_MOST_UNREAD = 0.2
_SAID = {
    "no_value": "{name} was logged without a value; these moments are kept as unknown.",
    "marked_bad": "Values of {name} are marked as not good; they are kept as unknown.",
    "marked": "Values of {name} carry a mark that they are good; it was left out.",
    "thousands": "Values of {name} have signs that part thousands; they were read as one number.",
    "unit_in_value": "Values of {name} have their unit beside them; it was read as the unit.",
}


def of_values(held: Values, mapped: MappedPoint, lines: npt.NDArray[np.int64]) -> tuple[list[Remark], list[Remark]]:
    """Problems and repairs of one point's values."""
    repairs = [
        Remark(code, int(lines[at]), _SAID[code].format(name=mapped.name), count, mapped.name)
        for code, (at, count) in held.notes.items()
    ]
    if not held.unread:
        return [], repairs
    text, (at, _) = min(held.unread.items(), key=lambda item: item[1][0])
    count = sum(number for _, number in held.unread.values())
    line, shown = int(lines[at]), text[:60]
    role = roles()[mapped.role]
    if role.quantity == STATE:
        told = f"{mapped.name} says {shown!r}; state in the mapping whether that is 0 or 1."
        return [Remark("unknown_word", line, told, count, mapped.name)], repairs
    kept = int(np.count_nonzero(held.is_kept))
    if count > _MOST_UNREAD * kept:
        told = f"{mapped.name} says {shown!r}, which is no number in {mapped.unit}; {count:,} of {kept:,} are like it."
        return [Remark("not_a_number", line, told, count, mapped.name)], repairs
    told = f"{mapped.name} says {shown!r}, which is no number; such moments are kept as unknown."
    return [], [*repairs, Remark("not_a_number", line, told, count, mapped.name)]


def without_moment(text: str, line: int, count: int) -> Remark:
    if text:
        return Remark("no_moment", line, f"{text[:60]!r} is no moment; such rows were left out.", count)
    return Remark("no_moment", line, "There is no moment; such rows were left out.", count)
