"""A whole judging document with controller settings, as raw JSON, through the command and its exit code."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from commissioning import judging
from tests.judging.builder import document, position
from tests.kinds.settings_records import record, values

PAGE = Path(__file__).parents[2] / "docs" / "judging-document.md"
PLACE = position({"supply": {}})


def ended(path: Path, given: dict[str, Any]) -> int:
    path.write_text(json.dumps(given), encoding="utf-8")
    try:
        call_command("judge", str(path))
    except SystemExit as told:
        return int(told.code or 0)
    return 0


@pytest.mark.parametrize(
    ("changes", "outcome"),
    [({}, "conforms"), ({"local_switch": "off"}, "does_not_conform"), ({"daylight_saving": False}, "conforms")],
)
def test_an_envelope_as_text_is_judged_and_the_exit_code_tells(
    changes: dict[str, Any], outcome: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    raw = json.dumps(record(values(**changes)), indent=2)
    code = ended(tmp_path / "document.json", document(raw, place=PLACE))
    result = json.loads(capsys.readouterr().out)
    [verdict] = [
        one["verdict"] for one in result["positions"][0]["judgements"] if one["requirement"] == "settings_consistent"
    ]
    assert verdict == outcome
    assert (code == 1) is (outcome == "does_not_conform")


def test_the_payload_of_the_page_is_judged() -> None:
    """0.8 of 30 % is 24 %, under the exhaust fan's 25 %. The clock is 4 min 10 s fast: no finding."""
    texts = re.findall(r"```json\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    [payload] = [held for text in texts if "moment" in (held := json.loads(text))]
    result = judging.judge_document(document({**record(), "payload": payload}, place=PLACE))
    assert result["problems"] == []
    [found] = [one for one in result["positions"][0]["judgements"] if one["requirement"] == "settings_consistent"]
    assert found["verdict"] == "does_not_conform"
    assert [one["code"] for one in found["facts"]["findings"]] == ["N40"]
    assert result["positions"][0]["measurements"][0]["figures"][0]["value"] == 250.0
