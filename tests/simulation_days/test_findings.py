"""A few of the days of docs/trend-findings.md, run again over a morning."""

from __future__ import annotations

import re
from functools import lru_cache

import pytest

from fixtures.simulation_days.faults import FAULTS, Planted
from fixtures.simulation_days.world import drawn
from tests.simulation_days import score
from tests.simulation_days.__main__ import DAYS, HEALTHY, PAGE

FEW = {"damper_sticks": 2, "starts_late": 2, "fan_first": 2}  # what shows of a morning, and how large
BY_CODE = {fault.code: fault for fault in FAULTS}
MORNING = (5.0, 9.5)


@lru_cache
def one_morning() -> tuple[dict[int, list[str]], dict[str, score.Row]]:
    """Two healthy days and one of each of a few faults, in one run: stepping through a day costs most."""
    days: list[Planted] = [(drawn(seed), ()) for seed in (0, 1)]
    faulty = [BY_CODE[code].plant(drawn(score.FIRST_FAULTY), size) for code, size in FEW.items()]
    said = list(score.analysed([*days, *faulty], MORNING))
    healthy = {seed: [one["code"] for one in said[seed]["findings"]] for seed in (0, 1)}
    rows = {}
    for code, one in zip(FEW, said[2:], strict=True):
        codes = {finding["code"] for finding in one["findings"]}
        fault = BY_CODE[code]
        rows[code] = score.Row(len(codes & set(fault.shows)), sorted(codes - set(fault.shows) - set(fault.also)))
    return healthy, rows


def test_nothing_is_found_on_a_healthy_day() -> None:
    healthy, _ = one_morning()
    assert healthy == {0: [], 1: []}


@pytest.mark.parametrize("code", FEW)
def test_a_planted_fault_is_found_and_nothing_beside_it(code: str) -> None:
    row = one_morning()[1][code]
    assert row.found
    assert row.false == []


def test_the_page_tells_of_these_days_and_faults() -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert f"({HEALTHY} healthy days, {DAYS} days a fault and size)" in text.replace("\n", " ")
    rows = re.findall(r"^\| ([^|]+) \| ([^|]+): (\S+) \| ([^|]+): (\S+) \| ([^|]+): (\S+) \|", text, re.MULTILINE)
    assert [row[0] for row in rows] == [fault.title for fault in FAULTS]
    for row, fault in zip(rows, FAULTS, strict=True):
        assert row[1::2] == fault.sizes
        if fault.code in FEW:
            assert row[2 * (FEW[fault.code] + 1)] == f"{DAYS}", fault.code
    assert re.search(rf"^\| {HEALTHY} \| 0 \| 0 \|", text, re.MULTILINE)
