"""A trend log's record: what stands beside it in the document is what it says; without that it waits."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from commissioning import blocks, judging
from commissioning.dossier.trend_logs import PICTURE_BUCKETS, TrendModel
from commissioning.dossier.trend_pictures import picture, ticks
from commissioning.dossier.trends import Logged
from tests.judging.builder import judged, position
from tests.kinds.trend_records import BEGIN_S, FILE, LATE_DAMPER, day, of_days, record, state, steady, trend

ZONE = "America/Chicago"


def plot(series: dict[str, Logged], display: str = "si") -> blocks.TimePlot:
    return picture(trend(series), ZONE, display)


def panel(shown: blocks.TimePlot, title: str) -> blocks.Panel:
    return next(one for one in shown.panels if one.title == title)


def test_what_analysis_gives_is_what_a_document_may_carry() -> None:
    found = trend(day(**LATE_DAMPER))
    assert TrendModel.model_validate(json.loads(json.dumps(found))).model_dump(exclude_unset=True) == found


def test_another_files_analysis_is_not_taken_for_this_ones() -> None:
    result = judged(record(day(), file="e" * 64), place=position(trends=[trend(day(), file=FILE)]))
    assert result.measurements[0]["facts"]["trend"] is None
    assert result.outcome("trend_expectations") == "not_due"


def test_analysis_of_no_such_shape_is_refused_by_its_field() -> None:
    with pytest.raises(judging.DocumentError, match="trends/0/results/0/outcome"):
        judged(record(day()), place=position(trends=[spoilt(trend(day()))]))


def spoilt(found: dict[str, Any]) -> dict[str, Any]:
    return {**found, "results": [{**found["results"][0], "outcome": "fine"}]}


def test_a_finding_stands_on_the_plot_where_it_happened_and_in_words() -> None:
    shown = plot(day(**LATE_DAMPER))
    (mark,) = [one for one in shown.marks if one.is_fault]
    assert mark.from_s == 7 * 3600.0  # the fan is told to run at 07:00, the damper is open 45 s later
    assert mark.words.startswith("Mon 4 May, 07:00: At 1 of 1 starts the supply fan was commanded before")
    assert "45 s" in mark.words
    assert shown.label.endswith("1 finding and 1 event marked.")


def test_a_temperature_is_drawn_in_the_readers_unit() -> None:
    series = {"supply_temperature": steady(20.0, 0.0)}
    assert panel(plot(series, "si"), "Temperature").lines[0].values[0] == 20.0
    in_ip = panel(plot(series, "ip"), "Temperature")
    assert (in_ip.unit, in_ip.lines[0].values[0]) == ("°F", 68.0)  # 20 × 1.8 + 32


def test_states_stand_on_lanes_and_hold_until_they_change() -> None:
    lanes = panel(plot(day()), "States")
    assert lanes.lanes
    command = next(one for one in lanes.lines if one.name == "supply fan command")
    assert command.steps
    assert dict(zip(command.times_s, command.values, strict=True))[7 * 3600.0] == 1.0


def test_a_picture_has_few_points_and_its_extremes_however_long_the_log() -> None:
    times = BEGIN_S + np.arange(200_000.0)
    values = 20.0 + np.random.default_rng(1).normal(0.0, 0.1, times.size)
    values[123_456], values[7] = 31.5, 11.25
    line = panel(plot({"supply_temperature": Logged(times, values)}), "Temperature").lines[0]
    assert len(line.values) <= 4 * PICTURE_BUCKETS
    drawn = [one for one in line.values if one is not None]
    assert (min(drawn), max(drawn)) == (11.25, 31.5)


def test_where_the_whole_log_is_silent_a_state_is_not_drawn_through() -> None:
    keep = np.r_[0:100, 200:288]
    temperature = steady(18.0)
    gap = Logged(temperature.times_s[keep], temperature.values[keep])
    shown = plot({"supply_fan_status": state((0.0, 1.0), (23.0, 0.0)), "supply_temperature": gap})
    status = panel(shown, "States").lines[0]
    stops = status.values.index(None)  # known to 08:20, when the last temperature before the gap was 5 min old
    assert (status.values[stops - 1], status.times_s[stops]) == (1.0, 100 * 300.0)
    assert any("nothing is logged for 8.3 h" in one.words for one in shown.marks)  # 100 steps of 5 min


def test_five_lines_of_one_quantity_take_two_panels() -> None:
    names = ("supply", "return", "exhaust", "outdoor", "room")
    shown = plot({f"{one}_temperature": steady(18.0) for one in names})
    assert [len(one.lines) for one in shown.panels] == [4, 1]


def test_the_axis_says_days_for_days_and_hours_for_hours() -> None:
    assert [one.text for one in ticks(BEGIN_S, BEGIN_S + 3 * 86400.0, ZONE)] == [
        "Mon 4 May", "Tue 5 May", "Wed 6 May", "Thu 7 May",
    ]  # fmt: skip
    assert [one.text for one in ticks(BEGIN_S + 1800.0, BEGIN_S + 3 * 3600.0, ZONE)] == ["01:00", "02:00", "03:00"]


def test_over_a_change_of_clocks_midnight_stays_midnight() -> None:
    begin = 1793422800.0  # 2026-10-31T05:00Z, midnight in Chicago; clocks go back on 1 November
    found = list(ticks(begin, begin + 73 * 3600.0, ZONE))
    assert [one.at_s / 3600.0 for one in found] == [0.0, 24.0, 49.0, 73.0]


def test_a_log_after_the_repair_closes_what_the_log_before_it_opened() -> None:
    assert of_days(day(**LATE_DAMPER)).outcome("trend_expectations") == "does_not_conform"
    assert of_days(day(**LATE_DAMPER), day()).outcome("trend_expectations") == "conforms"
    assert of_days(day(), day(**LATE_DAMPER)).outcome("trend_expectations") == "does_not_conform"


def test_a_later_log_that_cannot_tell_leaves_the_finding_open() -> None:
    at_rest = {"supply_temperature": steady(18.0)}
    assert of_days(day(**LATE_DAMPER), at_rest).outcome("trend_expectations") == "does_not_conform"


def test_what_a_gap_hides_is_inconclusive_and_closes_nothing() -> None:
    assert of_days(hidden()).outcome("trend_expectations") == "inconclusive"
    assert of_days(day(**LATE_DAMPER), hidden()).outcome("trend_expectations") == "does_not_conform"


def hidden() -> dict[str, Logged]:
    """Temperature stops from 06:40 to 07:30; damper and fan are told of inside, where a change may have been lost."""
    temperature, keep = steady(18.0), np.r_[0:80, 90:288]
    return day(
        supply_temperature=Logged(temperature.times_s[keep], temperature.values[keep]),
        outdoor_damper_open=state((0.0, 0.0), (7.2, 1.0), (19.05, 0.0)),
        supply_fan_command=state((0.0, 0.0), (7.1, 1.0), (19.0, 0.0), (23.9, 0.0)),
        supply_fan_status=state((0.0, 0.0), (7.15, 1.0), (19.01, 0.0)),
    )


def test_without_a_log_nothing_is_judged() -> None:
    assert judged(place=position()).outcome("trend_expectations") == "nothing said"


def test_the_example_of_the_document_is_one_that_waits_for_its_analysis() -> None:
    page = (Path(__file__).parents[2] / "docs" / "judging-document.md").read_text(encoding="utf-8")
    text = page.split("## Trend logs\n")[1].split("```json\n")[1].split("```")[0]
    result = judged({**record(day()), "payload": json.loads(text)})
    assert result.problems == []
    assert judging.headline(result.measurements[0], "ip") == (
        "Mon 4 May 2026, 00:00 to Sun 10 May, 23:55, 2 points; still to be analysed"
    )
