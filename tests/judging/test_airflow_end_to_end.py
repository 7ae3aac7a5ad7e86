"""Airflow by indirect methods through the command: the envelope as exact text, and the exit code that tells."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from tests.judging.builder import cfm, document, envelope, instrument, named, port_design, position, reading
from tests.kinds.indirect_records import GAUGE, air_of_density, pressure_drop

DESIGN = cfm(0.780776 / 0.0004719474432)  # what 100 Pa over the rated part give: see tests/kinds/test_airflow_indirect
PLACE = position({"supply": {**port_design(), "airflow": DESIGN}})


def told(tmp_path: Path, capsys: pytest.CaptureFixture[str], **changes: Any) -> tuple[int, dict[str, Any]]:
    record = envelope([reading("supply", pressure_drop(100.0, **changes), named("gauge"))], air=air_of_density(1.2))
    given = document(json.dumps(record, indent=2), place=PLACE, instruments=[instrument(), GAUGE])
    path = tmp_path / "document.json"
    path.write_text(json.dumps(given), encoding="utf-8")
    ended = 0
    try:
        call_command("judge", str(path))
    except SystemExit as code:
        ended = int(code.code or 0)
    return ended, json.loads(capsys.readouterr().out)


@pytest.mark.parametrize(
    ("changes", "code", "outcome"),
    [
        ({}, 0, "conforms"),
        ({"readings": {"values": [60.0], "unit": "Pa"}}, 1, "does_not_conform"),
        ({"condition": {"moisture": "wet"}}, 2, None),
    ],
)
def test_the_exit_code_tells(
    changes: dict[str, Any], code: int, outcome: str | None, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ended, result = told(tmp_path, capsys, **changes)
    found = {one["requirement"]: one for one in result["positions"][0]["judgements"] if one["port"] == "supply"}
    assert found["design_airflow"]["verdict"] == outcome
    assert ended == code
    assert result["problems"] == []


def test_what_cannot_be_read_is_a_problem_with_its_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ended, result = told(tmp_path, capsys, part="roof")
    assert ended == 2
    assert result["problems"][0]["field"].endswith("/part")
    assert result["problems"][0]["value"] == "roof"
