"""What a start's record amounts to: times in seconds since the start command, and what cannot be meant."""

from __future__ import annotations

import doctest
import json
import sys
from pathlib import Path
from typing import Any, get_args

import pytest
from pydantic import BaseModel

from commissioning import blocks, judging
from commissioning.dossier.startup import words
from commissioning.kinds import startup
from commissioning.kinds.startup import payload
from tests.judging.shown import check, texts
from tests.kinds.startup_records import damper, facts, fan, judged, loss, record, s

START = "2026-05-04T10:00:00-05:00"
TEMPORARY: dict[str, Any] = {"since": "2026-05-04", "filters": "construction", "allowed_by": "Ysolde Marr"}


def test_times_are_seconds_since_the_start_command_however_they_were_sent() -> None:
    by_clock = record(
        start_command=START,
        dampers=[damper(proven="2026-05-04T10:00:42-05:00")],
        fans=[fan(commanded="2026-05-04T15:00:45Z", air={"seen": "moves", "by": "pressure_rise", "at": s(55.0)})],
    )
    by_watch = record(fans=[fan(commanded={"value": 0.75, "unit": "min"})])
    for sent in (by_clock, by_watch):
        held = facts(judged(sent))
        assert held["dampers"]["outdoor"]["proven_s"] == 42.0
        assert held["fans"]["supply"]["commanded_s"] == 45.0
        assert held["fans"]["supply"]["air"] == {"seen": "moves", "by": "pressure_rise", "at_s": 55.0}


def test_what_is_left_out_was_not_seen_and_a_damper_is_commanded_with_the_start() -> None:
    held = facts(judged(record(permissives={}, dampers=[{"damper": "exhaust"}], fans=[{"fan": "supply"}])))
    assert set(held["permissives"].values()) == {"not_seen"}
    assert held["dampers"]["exhaust"] == {
        "opening": "not_seen",
        "proof": "none",
        "commanded_s": 0.0,
        "proven_s": None,
        "closed_s": None,
    }
    assert held["fans"]["supply"]["air"]["seen"] == held["fans"]["supply"]["rotation"] == "not_seen"


BAD: list[tuple[dict[str, Any], str, str]] = [
    ({"permissives": {}, "dampers": [], "fans": []}, "/payload", "nothing was seen or done in it"),
    *(
        (
            {"temporary_operation": TEMPORARY | {"since": no_day}},
            "/payload/temporary_operation/since",
            "This is no date",
        )
        for no_day in (1777852800, "1777852800", "2026-05-04T00:00:00Z", "4 May 2026")
    ),
    ({"permissives": {"enable": "yes"}}, "/payload/permissives/enable", "This word is not known here"),
    ({"dampers": [damper(), damper()]}, "/payload", "a damper stands twice"),
    ({"fans": [fan(), fan()]}, "/payload", "a fan stands twice"),
    ({"dampers": [damper(proof="none")]}, "/payload/dampers/0", "say by what"),
    ({"dampers": [damper(proven={"value": 42.0, "unit": "Pa"})]}, "/payload/dampers/0/proven", "Pa"),
    ({"fans": [fan(commanded=START)]}, "/payload", "give the moment of `start_command` too"),
    ({"start_command": START, "fans": [fan(commanded="2026-05-04T09:59:00-05:00")]}, "/payload", "day after the start"),
    ({"fans": [fan(air={"seen": "moves"})]}, "/payload/fans/0/air", "by what it was seen"),
    ({"fans": [fan(air={"seen": "still", "at": s(50.0)})]}, "/payload/fans/0/air", "not that it moves"),
    ({"fans": [fan(current={"seen": "none", "at": s(50.0)})]}, "/payload/fans/0/current", "not that it flows"),
    ({"fans": [fan(rotation_by=None)]}, "/payload/fans/0", "how its rotation was seen"),
    ({"fans": [fan(command="off")]}, "/payload/fans/0", "not to be commanded"),
    ({"fans": [fan(lost=[loss(30.0)])]}, "/payload", "before its command"),
    ({"fans": [fan(lost=[loss(100.0, alarm=90.0)])]}, "/payload", "before proof was lost"),
    ({"fans": [fan(settled={})]}, "/payload/fans/0/settled", "what was read after settling"),
    ({"limits": {"fan_proof": s(30.0)}}, "/payload/limits/source", "missing"),
    ({"not_running": {"cause": "no_power"}}, "/payload", "every fan in it moves air"),
    ({"fans": [], "not_running": {"cause": "other"}}, "/payload/not_running", "say in the note which"),
    ({"fans": [], "not_running": {"cause": "other", "note": "locked"}}, "/payload/not_running", "who unblocks it"),
    (
        {
            "temporary_operation": {
                "since": "2026-05-04",
                "until": "2026-05-01",
                "filters": "none",
                "allowed_by": "Ysolde",
            }
        },
        "/payload/temporary_operation",
        "before it began",
    ),
]


@pytest.mark.parametrize(("changes", "where", "told"), BAD)
def test_what_cannot_be_meant_is_told_by_field_with_its_reason(changes: dict[str, Any], where: str, told: str) -> None:
    result = judged(record(**changes))
    assert [one["field"] for one in result.problems] == [where]
    assert told.lower() in result.problems[0]["reason"].lower()
    assert result.problems[0]["remedy"]
    assert result.measurements == []


@pytest.mark.parametrize(
    ("given", "trade", "company"),
    [
        ({"cause": "no_power"}, "electrical", ""),
        ({"cause": "no_power", "trade": "general", "company": "Orme Site "}, "general", "Orme Site"),
        ({"cause": "other", "note": "no key to the roof", "company": "Orme Site"}, "", "Orme Site"),
    ],
)
def test_a_unit_that_does_not_run_names_who_unblocks_it(given: dict[str, Any], trade: str, company: str) -> None:
    stop = facts(judged(record(fans=[], not_running=given)))["not_running"]
    assert (stop["trade"], stop["company"]) == (trade, company)


def test_the_page_opens_with_the_caution_and_tells_temporary_operation_with_who_allowed_it() -> None:
    (one,) = judged(record(temporary_operation={**TEMPORARY, "hours_run": 12.5})).measurements
    shown = judging.show_measurement(one, "ip")
    assert shown[0] == words.CAUTION
    text = " ".join(text for block in shown for text in texts(blocks.to_json(block)))
    assert "from 2026-05-04 on; 12.5 h run, with construction filters; allowed by Ysolde Marr" in text
    check("start", shown)


def test_every_word_that_can_be_sent_has_words_that_are_read() -> None:
    fields: dict[type[BaseModel], dict[str, Any]] = {
        payload.NotRunning: {"cause": words.CAUSES},
        payload.DamperStart: {"damper": words.DAMPERS, "opening": words.OPENINGS, "proof": words.PROOFS},
        payload.FanStart: {"rotation": words.ROTATIONS, "electrical": words.ELECTRICAL},
        payload.Current: {"seen": words.CURRENTS},
        payload.AirProof: {"seen": words.AIR},
        payload.TemporaryOperation: {"filters": words.FILTERS},
    }
    for model, held in fields.items():
        for name, told in held.items():
            assert set(get_args(model.model_fields[name].annotation)) == set(told)
    assert set(payload.Permissives.model_fields) == set(words.PERMISSIVES)
    assert set(get_args(payload.Permissive)) == set(words.SEEN)
    by = payload.AirProof.model_fields["by"], payload.FanStart.model_fields["rotation_by"]
    for field, told in zip(by, (words.AIR_BY, words.ROTATION_BY), strict=True):
        assert set(get_args(get_args(field.annotation)[0])) == set(told)


def test_the_example_of_the_document_is_one_that_conforms_where_its_motor_was_read() -> None:
    page = (Path(__file__).parents[2] / "docs" / "judging-document.md").read_text(encoding="utf-8")
    text = page.split("## Start\n")[1].split("```json\n")[1].split("```")[0]
    sent = {**record(), "payload": {**json.loads(text), "serial_seen": "M-1"}}
    result = judged(sent)
    assert result.problems == []
    assert result.outcome("start_sequence") == result.outcome("fan_proven", "supply") == "conforms"
    parts = {one["part"]: one["state"] for one in result.judgement("started")["facts"]["parts"]}
    assert [part for part, state in parts.items() if state == "open"] == [
        "Electrical readings, supply fan",
        "Settings as left",
    ]


def test_the_examples_in_the_docstrings_hold() -> None:
    assert startup.CODE == "startup"
    for name in ("commissioning.kinds.startup.show", "commissioning.dossier.startup.words"):
        assert doctest.testmod(sys.modules[name]).failed == 0
