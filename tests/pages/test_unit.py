"""The unit page: where it stands, bands, design with its sources, sessions, verdicts with their working, history."""

import re
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from portfolio.models import DesignEntry, DesignRevision, Installation, Machine, Position
from tests.pages.conftest import Browser
from tests.pages.reading import text, titles
from tests.pages.world import World

pytestmark = pytest.mark.django_db


def page(firm: World, browser: Browser, tag: str, who: str = "lead", query: str = "") -> str:
    response = browser(who).get(f"/units/{firm.units[tag].pk}{query}")
    assert response.status_code == 200
    return text(response)


def test_it_says_where_the_unit_stands_and_who_has_the_next_move(firm: World, browser: Browser) -> None:
    said = page(firm, browser, "ERV-3")
    number = firm.issue_of("ERV-3", "outdoor").number
    assert f"Garrowby Mechanical has issue {number}. The next move is with Garrowby Mechanical since" in said
    assert ", due 14 May 2026." in said
    assert "The next move is with you since" in page(firm, browser, "ERV-3", "contractor")
    assert "The next move is with you" in page(firm, browser, "ERV-5", "technician")


def test_each_port_has_its_band(firm: World, browser: Browser) -> None:
    response = browser("lead").get(f"/units/{firm.units['ERV-3'].pk}")
    assert next(one for one in titles(response) if one.startswith("Outdoor air")) == (
        "Outdoor air measured at 80 % of design, ±4.1 %; allowed −10 % to +10 %; "
        "the ventilation minimum is at 85 %: does not conform."
    )
    assert "790 ± 41 cfm against 1,000 cfm designed, −21 %." in text(response)


def test_the_reader_chooses_the_units_of_measure(firm: World, browser: Browser) -> None:
    client = browser("lead")
    path = f"/units/{firm.units['ERV-3'].pk}"
    assert client.post("/display", {"display": "si", "next": path})["Location"] == path
    said = text(client.get(path))
    # 1,000 cfm are 471.95 L/s: a contract's number keeps four digits in other units
    assert re.search(r"37[25] ± 19 L/s against 471\.9 L/s designed", said)
    assert " cfm against" not in said


def test_the_design_names_the_revision_that_each_field_comes_from(firm: World, browser: Browser) -> None:
    answer = DesignRevision.objects.create(
        project=firm.project, number=2, dated=date(2026, 3, 2), source="answer", partial=True,
        applied_by=firm.people["lead"],
    )  # fmt: skip
    fields = {"ports": {"outdoor": {"minimum": {"value": 780, "unit": "cfm"}}}, "fans": {}}
    DesignEntry.objects.create(revision=answer, position=firm.units["ERV-3"], fields=fields)
    said = page(firm, browser, "ERV-3")
    assert "780 cfm Revision 2, answer to a question, 2026-03-02" in said
    assert "1,000 cfm Revision 1, design, 2026-01-05" in said
    assert "Named by Revision 2, answer to a question, 2026-03-02; Revision 1, design, 2026-01-05." in said


def test_sessions_stand_newest_first_and_finals_before_preliminary(firm: World, browser: Browser) -> None:
    firm.measured("ERV-3", session="AL-2", at="2026-05-12T09:00:00-06:00")
    firm.judged()
    response = browser("lead").get(f"/units/{firm.units['ERV-3'].pk}")
    sessions = response.context["story"].sessions
    assert [(s.title, s.stands, s.when) for s in sessions] == [
        ("Session AL-2, as left", True, "12 May 2026, 09:00 MDT"),
        ("Session AL-1, as left", False, "4 May 2026, 10:15 MDT"),
    ]
    assert [line.said for line in sessions[1].lines[:2]] == ["790 ± 41 cfm, final", "950 ± 48 cfm, final"]
    assert sessions[1].lines[-1].said.endswith("preliminary")
    assert "Hood 3 FH-300" in sessions[0].lines[0].aside


def test_the_working_opens_in_place_down_to_the_readings(firm: World, browser: Browser) -> None:
    body = browser("lead").get(f"/units/{firm.units['ERV-3'].pk}").content.decode()
    said = page(firm, browser, "ERV-3")
    assert "limits −10 % to +10 %; 23 05 93, 3.4; simple acceptance; rule version 3" in said
    assert "Deviation d = (q - q_d) / q_d" in said
    assert "788.42, 790.00, 791.58 cfm" in said
    assert body.count('<details class="judged"') == 8 + 11  # two records of four ports; eleven judgements
    anchors = set(body.split('id="m-')[1:])
    assert len(anchors) == 8


def test_why_there_is_no_verdict_is_said(firm: World, browser: Browser) -> None:
    assert "Nothing is measured yet." in page(firm, browser, "ERV-5")


def test_a_record_that_needs_attention_tells_its_problem(firm: World, browser: Browser) -> None:
    firm.measured("ERV-6", unit="furlongs", name="odd unit")
    firm.judged()
    said = page(firm, browser, "ERV-6")
    assert "Needs attention" in said
    assert "furlongs" in said
    assert "record it again in its place" in said
    assert "a corrected record has to supersede" in page(firm, browser, "ERV-6", "owner")


def test_what_was_superseded_stays_in_sight(firm: World, browser: Browser) -> None:
    wrong = firm.measured("ERV-8", {"supply": 500}, name="typo")
    firm.measured("ERV-8", name="mended", supersedes=[{"id": wrong, "reason": "a digit was lost"}])
    firm.judged()
    said = page(firm, browser, "ERV-8")
    assert "superseded: a digit was lost" in said
    assert said.count("airflow, final, session AL-1") == 2


def test_machines_are_told_from_date_to_date(firm: World, browser: Browser) -> None:
    unit = firm.units["ERV-1"]
    Installation.objects.filter(position=unit).update(until=date(2026, 5, 20))
    new = Machine.objects.create(project=firm.project, serial="SN-1001", maker="Aldermoor", model="AV-14")
    Installation.objects.create(position=unit, machine=new, since=date(2026, 5, 20))
    said = page(firm, browser, "ERV-1")
    assert "SN-1001 Aldermoor AV-14 20 May 2026 sits there now" in said
    assert "SN-ERV-1 Aldermoor AV-12 12 Jan 2026 20 May 2026" in said


def test_issues_of_the_unit_are_those_that_one_sees(firm: World, browser: Browser) -> None:
    assert "mass balance not met : draft" in page(firm, browser, "ERV-7")
    assert "mass balance not met" not in page(firm, browser, "ERV-7", "owner")


def test_history_is_paged_so_that_years_stay_quick(firm: World, browser: Browser) -> None:
    few = _queries(firm, browser, "ERV-6")
    for number in range(60):
        at = f"{date(2026, 6, 1) + timedelta(days=number)}T09:00:00-06:00"
        firm.measured("ERV-6", session=f"AL-{number + 2}", at=at)
    firm.judged()
    assert _queries(firm, browser, "ERV-6") <= few + 1
    response = browser("lead").get(f"/units/{firm.units['ERV-6'].pk}?records=2")
    assert (response.context["records"].number, response.context["records"].pages) == (2, 3)
    assert len(response.context["story"].sessions) == 3
    assert "Show 58 earlier sessions" in text(response)
    whole = browser("lead").get(f"/units/{firm.units['ERV-6'].pk}?sessions=all")
    assert len(whole.context["story"].sessions) == 61


def test_what_a_verdict_rests_on_is_found_even_where_its_session_is_not_shown(firm: World, browser: Browser) -> None:
    standing = f"#m-{firm.measured('ERV-1', session='AL-9', at='2026-06-01T09:00:00-06:00')}-supply"
    for day in (2, 3, 4):
        at = f"2026-06-0{day}T09:00:00-06:00"
        firm.measured("ERV-1", session=f"V-{day}", purpose="verification", at=at)
    firm.judged()
    address = f"/units/{firm.units['ERV-1'].pk}"
    for query in ("", "?sessions=all"):
        shown = browser("lead").get(address + query).content.decode()
        links = set(re.findall(r'<a href="([^"]*#m-[^"]*)"', shown))
        assert f"{'' if query else '?sessions=all'}{standing}" in links
        assert {one for one in links if one.startswith("#") and f'id="{one[1:]}"' not in shown} == set()


def _queries(firm: World, browser: Browser, tag: str) -> int:
    client = browser("lead")
    with CaptureQueriesContext(connection) as seen:
        client.get(f"/units/{firm.units[tag].pk}")
    return len(seen)


def test_a_building_is_one_picture_on_one_scale(firm: World, browser: Browser) -> None:
    response = browser("owner").get(f"/buildings/{firm.buildings['Sorrel Hall'].pk}")
    said = text(response)
    assert said.startswith("Ostrander Vale schools, North campus Sorrel Hall Three of five units in Sorrel Hall")
    assert len([one for one in titles(response) if "measured at" in one]) == 4
    assert "Scale from 30 per cent below to 30 per cent above design" in titles(response)


@pytest.mark.parametrize("path", ["/units/{}", "/units/{}?records=2"])
def test_a_stranger_finds_nothing(firm: World, browser: Browser, path: str) -> None:
    response = browser("stranger").get(path.format(firm.units["ERV-3"].pk))
    assert response.status_code == 404
    assert "There is no such thing, or it is not yours to see." in text(response)
    assert "ERV-3" not in response.content.decode()


def test_names_that_look_like_markup_are_text(firm: World, browser: Browser) -> None:
    evil = "<script>alert(1)</script>"
    Position.objects.filter(pk=firm.units["ERV-5"].pk).update(tag=evil, location='"><img src=x>', scope_reason=evil)
    for who, path in (("lead", "/"), ("lead", f"/units/{firm.units['ERV-5'].pk}"), ("lead", "/?q=%3Cscript%3E")):
        body = browser(who).get(path).content.decode()
        assert "<script" not in body
        assert "<img" not in body
