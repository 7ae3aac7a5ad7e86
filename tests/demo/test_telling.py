"""The demo says what is missing or false, and ends before it begins where it cannot be played."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from commissioning.management.commands import demo
from fixtures.demo import telling
from fixtures.demo.client import Answer, told
from fixtures.demo.notes import Notes
from fixtures.scenario.faults import BAD, FAULTS, TRAPS, Find
from fixtures.scenario.score import score

PLANTED = {find for fault in FAULTS for find in fault.finds}
HELD = {find for trap in TRAPS for find in trap.sees}


def said(ever: set[Find], at_the_end: set[Find]) -> str:
    return "\n".join(telling.scored(score(ever, at_the_end), []))


def test_a_missed_find_is_named() -> None:
    lost = FAULTS[0].finds[0]
    assert "MISSED F01: linden/ERV-3 design airflow at supply: does not conform" in said(PLANTED - {lost}, HELD)
    assert "MISSED" not in said(PLANTED, HELD)


def test_a_false_find_is_named() -> None:
    find = ("linden/ERV-5", "design_airflow", "supply", BAD)
    assert "FALSE: linden/ERV-5 design airflow at supply: does not conform" in said(PLANTED | {find}, HELD)
    assert "FALSE" not in said(PLANTED, HELD)


def test_a_trap_is_named() -> None:
    assert "TRAPPED T04: " in said(PLANTED, HELD - set(TRAPS[3].sees))
    assert "TRAPPED" not in said(PLANTED, HELD)


def test_what_cannot_apply_and_is_judged_all_the_same_is_named() -> None:
    trap = next(trap for trap in TRAPS if trap.never)
    too_much = (trap.unit, *trap.never[0], "not_given")
    assert f"TRAPPED {trap.key}: nothing may be said, and at the end it is said that" in said(
        PLANTED, HELD | {too_much}
    )


def test_a_refusal_is_told_with_its_fields() -> None:
    body = b'{"title": "The request has faults", "detail": "", "errors": [{"pointer": "/due", "detail": "No date."}]}'
    lines = told("POST", "/api/v1/x", Answer(400, {}, body))
    assert lines.startswith("POST /api/v1/x was answered with 400: The request has faults.")
    assert "/due: No date." in lines
    assert told("GET", "/x", Answer(502, {}, b"<html>")) == "GET /x was answered with 502: <html>"


def test_notes_of_another_firm_are_not_used(tmp_path: Path) -> None:
    notes = Notes.read(tmp_path / "notes.json")
    notes.of_firm("one")
    notes.seen.add(FAULTS[0].finds[0])
    notes.write()
    assert Notes.read(notes.path).seen == {FAULTS[0].finds[0]}
    for firm, kept in (("one", 1), ("another", 0)):
        held = Notes.read(notes.path)
        held.of_firm(firm)
        assert len(held.seen) == kept


def test_a_clock_before_the_story_ends_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    class Early(datetime):
        @classmethod
        def now(cls, tz: object = None) -> "Early":
            return cls(2026, 5, 1, tzinfo=UTC)

    monkeypatch.setattr(demo, "datetime", Early)
    with pytest.raises(CommandError, match=r"plays until 05 June 2026; this machine's clock is before that"):
        call_command("demo")
