"""A unit's trend log from its record to its page: analysed by a job, judged, drawn by windows, told row by row."""

import json
from datetime import UTC, datetime
from typing import Any

import pytest

from commissioning.dossier import analyse_log
from commissioning.models import CurrentVerdict, JudgedPosition, TrendAnalysis
from commissioning.pages.trend import cell
from commissioning.verdicts import keep, trend_analyses
from portfolio.jobs import queue
from tests.kinds.trend_records import BEGIN_S, HOUR, LATE_DAMPER, day
from tests.pages import trend_world, world
from tests.pages.conftest import Browser
from tests.pages.reading import text
from tests.pages.world import World

FILE = "5" * 64
IN_CHILD = trend_analyses.in_child


@pytest.fixture
def firm(db: None, monkeypatch: pytest.MonkeyPatch) -> World:
    """The analysis runs in this process; one test lets it have its own."""
    monkeypatch.setattr(trend_analyses, "in_child", lambda _claim, order: analyse_log.answer(order))
    made = world.found()
    made.unit("ERV-1", "Sorrel Hall", "Roof, bay 1")
    trend_world.send(made, "ERV-1", day(**LATE_DAMPER), file=FILE)
    made.judged()
    return made


def address(firm: World, rest: str = "/1") -> str:
    return f"/units/{firm.units['ERV-1'].pk}/trends{rest}"


def verdict(firm: World) -> str:
    unit = firm.units["ERV-1"]
    return str(CurrentVerdict.objects.get(position=unit, requirement="trend_expectations").outcome)


def series(browser: Browser, firm: World, **asked: Any) -> dict[str, Any]:
    response = browser("technician").get(address(firm, "/1/series.json"), asked)
    assert response.status_code == 200
    found: dict[str, Any] = json.loads(response.content)
    return found


def test_an_analysis_that_was_burnt_is_made_again_in_a_process_of_its_own_and_says_the_same(
    firm: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert verdict(firm) == "does_not_conform"
    assert not queue.waiting("analyse").exists()
    monkeypatch.setattr(trend_analyses, "in_child", IN_CHILD)
    unit = firm.units["ERV-1"].pk
    before = JudgedPosition.objects.get(pk=unit).inputs_hash, TrendAnalysis.objects.get().found
    keep.burn([unit])
    queue.want("judge", [unit])
    firm.judged()
    assert (JudgedPosition.objects.get(pk=unit).inputs_hash, TrendAnalysis.objects.get().found) == before
    assert verdict(firm) == "does_not_conform"


def test_the_page_tells_the_finding_in_words_with_its_picture_and_its_samples(firm: World, browser: Browser) -> None:
    page = browser("lead").get(address(firm))
    told = text(page)
    assert "1 expectation does not hold" in told
    assert "Mon 4 May, 07:00: At 1 of 1 starts the supply fan was commanded before" in told
    assert "The end switch and what the fan's start waits for" in told
    assert b'class="trend"' in page.content
    assert b"<script>" not in page.content
    assert f'href="{address(firm, "")}"' in browser("lead").get(f"/units/{firm.units['ERV-1'].pk}").content.decode()
    assert "Log 1 : Mon 4 May 2026, 00:00" in text(browser("lead").get(address(firm, "")))


def test_a_window_is_drawn_from_its_own_samples(firm: World, browser: Browser) -> None:
    begin, end = BEGIN_S + 6 * HOUR, BEGIN_S + 8 * HOUR
    found = series(browser, firm, **{"from": begin, "to": end, "pixels": 400})
    assert (found["from_s"], found["end_s"], found["whole_to_s"] > end) == (begin, 2 * HOUR, True)
    states = next(one for one in found["panels"] if one["lanes"])
    command = next(one for one in states["lines"] if one["name"] == "supply fan command")
    assert HOUR in command["times_s"]  # it comes on at 07:00, an hour after the window begins
    assert [one["words"] for one in found["marks"] if one["is_fault"]]
    later = series(browser, firm, **{"from": BEGIN_S + 10 * HOUR, "to": BEGIN_S + 11 * HOUR})
    assert later["marks"] == []


def test_a_window_that_cannot_be_is_the_whole_log(firm: World, browser: Browser) -> None:
    for window in ({"from": "yesterday"}, {"from": "1e999", "to": "nan"}, {"from": "5", "to": "4"}):
        found = series(browser, firm, **window)
        assert found["from_s"] == found["whole_from_s"] == BEGIN_S


def test_a_window_of_the_sites_clock_is_drawn_without_a_script(firm: World, browser: Browser) -> None:
    page = text(browser("owner").get(address(firm), {"from": "2026-05-04T06:00", "to": "2026-05-04T08:00"}))
    assert "Mon 4 May 2026, 06:00 to Mon 4 May, 08:00" in page


def test_samples_are_sorted_paged_and_counted(firm: World, browser: Browser) -> None:
    asked = {"point": "supply_temperature", "sort": "-value", "page": "3"}
    page = text(browser("technician").get(address(firm), asked))
    assert "288 samples" in page
    assert "page 3 of 3" in page
    first = text(browser("technician").get(address(firm), {**asked, "page": "1"}))
    assert "65.2" in first  # 18.0 + 0.5 °C at the crest of its swing: 65.3 °F
    assert 'aria-sort="descending"' in browser("technician").get(address(firm), asked).content.decode()


def test_all_samples_of_a_window_go_out_as_csv_in_the_sites_time(firm: World, browser: Browser) -> None:
    asked = {"point": "supply_fan_command", "from": "2026-05-04T06:00", "to": "2026-05-04T20:00"}
    response = browser("lead").get(address(firm, "/1/samples.csv"), asked)
    lines = b"".join(response.streaming_content).decode("utf-8-sig").splitlines()  # type: ignore[attr-defined]
    assert lines == ["time,supply fan command", "2026-05-04 07:00:00 -0500,1", "2026-05-04 19:00:00 -0500,0"]
    assert datetime.fromtimestamp(BEGIN_S + 7 * HOUR, UTC).hour == 12  # 07:00 in Chicago in May


def test_who_does_not_see_the_unit_finds_nothing_of_its_logs(firm: World, browser: Browser) -> None:
    for rest in ("", "/1", "/1/series.json", "/1/samples.csv"):
        assert browser("stranger").get(address(firm, rest)).status_code == 404
    assert browser("lead").get(address(firm, "/2")).status_code == 404


@pytest.mark.parametrize(
    ("word", "told"),
    [
        ("-3.5", "-3.5"),
        ("-1e-05", "-1e-05"),
        ("-2+3+cmd|' /C calc'!A0", "'-2+3+cmd|' /C calc'!A0"),
        (" =1+1", "' =1+1"),
        ("+5", "'+5"),
        ('=A1,"x"', '"\'=A1,""x"""'),
        ("Occupied", "Occupied"),
    ],
)
def test_a_word_of_a_log_is_no_formula_in_a_spreadsheet(word: str, told: str) -> None:
    assert cell(word) == told
