"""A whole judging document with a checklist, as raw JSON, through the command and its exit code."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from commissioning import judging
from commissioning.dossier.canonical import canonical_json
from tests.judging.builder import document, position
from tests.kinds.checklist_records import NOON, all_right, cannot, no, place, record, release

PAGE = Path(__file__).parents[2] / "docs" / "judging-document.md"


def raw(*answers: dict[str, Any], **changes: Any) -> str:
    """The envelope as the exact text that a phone sends."""
    return json.dumps(record(*answers, **changes), indent=2)


HELD = raw(*all_right("grounded"), no("grounded"))


@pytest.mark.parametrize(
    ("envelopes", "code"),
    [
        pytest.param([raw(*all_right())], 0, id="all right"),
        pytest.param([HELD], 1, id="a hold"),
        pytest.param([HELD, raw(releases=[release("grounded")], name="release", at=NOON)], 0, id="released"),
        pytest.param([raw(*all_right("level"), cannot("level"))], 2, id="one cannot be answered yet"),
        pytest.param([raw(*all_right("level"), {"item": "level", "yes": "perhaps"})], 2, id="kept and not evaluated"),
    ],
)
def test_an_envelope_as_text_is_judged_and_the_exit_code_tells(
    envelopes: list[str], code: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The unit has no airflow designed: nothing but its checklist is judged."""
    unit = place()
    unit["design"]["ports"] = {}
    path = tmp_path / "document.json"
    path.write_text(json.dumps(document(*envelopes, place=unit)), encoding="utf-8")
    ended = 0
    try:
        call_command("judge", str(path))
    except SystemExit as told:
        ended = int(told.code or 0)
    result = json.loads(capsys.readouterr().out)
    judged = {one["requirement"] for one in result["positions"][0]["judgements"]}
    assert {"safety_holds", "ready_for_test"} <= judged
    assert ended == code


def test_the_order_of_arrival_does_not_enter_and_nothing_is_lost_on_the_way_back() -> None:
    release_ = raw(releases=[release("grounded")], name="release", at=NOON)
    first, second = (
        judging.judge_document(document(*pair, place=place())) for pair in ((HELD, release_), (release_, HELD))
    )
    assert canonical_json(first["positions"]) == canonical_json(second["positions"])


def test_the_payload_of_the_page_is_judged() -> None:
    """Four answers, 12.5 of 10 ft among them; the hold is released in the same record; a lift of what nobody failed."""
    texts = re.findall(r"```json\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    [payload] = [held for text in texts if "answers" in (held := json.loads(text)) and "procedure" not in held]
    given = {**record(), "payload": payload}
    result = judging.judge_document(document(given, place=position({"supply": {}}, machine=None)))
    assert result["problems"] == []
    [ready] = [one for one in result["positions"][0]["judgements"] if one["requirement"] == "ready_for_test"]
    held = {one["item"]: one["state"] for one in ready["facts"]["items"]}
    assert [held[one["item"]] for one in payload["answers"]] == ["right", "right", "lifted", "cannot"]


@pytest.mark.parametrize(
    ("equipment", "said"),
    [
        ({"options": ["sails"]}, "sails is not known"),
        ({"field_sensors": ["nose"]}, "nose is not known"),
        ({"ducted": "to_the_moon"}, "not known here"),
    ],
)
def test_equipment_that_nobody_knows_is_refused_where_it_stands(equipment: dict[str, Any], said: str) -> None:
    with pytest.raises(judging.DocumentError) as refused:
        judging.judge_document(document(place=place(equipment)))
    (problem,) = refused.value.problems
    assert problem.pointer.startswith("/positions/0/design/equipment/unit/")
    assert said.lower() in problem.reason.lower()
