"""Broken and odd logs: a clear sentence with the line, or accepted with what was repaired said."""

import math

import numpy as np
import pytest

from commissioning.logs.convert import Converted, convert
from commissioning.logs.mapping import LogMapping
from commissioning.logs.understand import understand
from tests.logs.odd_logs import REFUSED, REPAIRED, Odd

_POINTS = [
    {"name": "SAT (°F)", "role": "supply_temperature", "unit": "degF"},
    {"name": "SF-S", "role": "supply_fan_status"},
]


def converted(odd: Odd) -> Converted:
    said = {"source": "North", "zone": "America/Chicago", "points": _POINTS} | odd.mapping
    return convert(odd.data, LogMapping.model_validate(said))


def test_there_are_forty_kinds_and_more() -> None:
    assert len({odd.says for odd in (*REFUSED, *REPAIRED)}) == len(REFUSED) + len(REPAIRED) >= 40


@pytest.mark.parametrize("odd", REFUSED, ids=lambda odd: odd.says)
def test_a_log_that_cannot_be_read_is_refused_with_its_line(odd: Odd) -> None:
    held = converted(odd)
    assert [one.code for one in held.problems] == [odd.problem], held
    assert held.problems[0].line == (odd.line or held.problems[0].line)
    assert held.problems[0].sentence.endswith(".")


@pytest.mark.parametrize("odd", REPAIRED, ids=lambda odd: odd.says)
def test_an_odd_log_is_read_and_what_was_repaired_is_said(odd: Odd) -> None:
    held = converted(odd)
    assert held.problems == ()
    repairs = {one.code: one for one in held.repairs}
    if odd.repair:
        assert repairs[odd.repair].line == (odd.line or repairs[odd.repair].line)
    first = held.series[0]
    if odd.values is not None:
        assert [None if math.isnan(value) else round(value, 9) for value in first.values] == odd.values
    if odd.minutes is not None:
        assert ((first.times_s - first.times_s[0]) / 60).tolist() == odd.minutes
    assert (np.diff(first.times_s) > 0).all()


@pytest.mark.parametrize("odd", [*REFUSED, *REPAIRED], ids=lambda odd: odd.says)
def test_looking_at_any_log_never_fails(odd: Odd) -> None:
    seen = understand(odd.data)
    assert seen.problems or seen.points
