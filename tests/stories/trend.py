"""Trend logs: as expected, a damper late, after its repair, still to be analysed, another machine, not counted."""

from __future__ import annotations

from tests.judging.builder import Result, judged, position
from tests.kinds.trend_records import LATE_DAMPER, day, of_days, record, steady

GAP = {"supply_temperature": steady(18.0)}
REPAIR = {"code": "clock_back", "line": 4711, "count": 12, "sentence": "The hour from 01:00 occurs twice."}

STORIES: dict[str, Result] = {
    "as expected": of_days(day()),
    "damper late": of_days(day(**LATE_DAMPER)),
    "after the repair": of_days(day(**LATE_DAMPER), day()),
    "one point alone": of_days(GAP),
    "still to be analysed": judged(record(day(), repairs=[REPAIR]), place=position()),
    "another machine": of_days(day(), machine={"serial": "M-2", "since": "2026-05-09"}),
    "not counted": of_days(day(), scope="deferred"),
}
