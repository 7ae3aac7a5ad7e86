"""A whole document with an exchanger is judged from raw text; the caution; the example of the page."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]

from commissioning import blocks, judging
from commissioning.judging.schemas import schemas
from tests.exchanger_judging import asked
from tests.exchanger_records import TOOLS, place, record
from tests.judging.builder import conventions, judged, position
from tests.stories.exchanger import STORIES


def test_the_caution_stands_before_the_test() -> None:
    measurement = next(one for one in STORIES["good"].measurements if one["kind"] == "exchanger")
    made = judging.show_measurement(measurement, "si")
    caution = next(one for one in made if isinstance(one, blocks.Caution))
    assert "Lock out" in caution.text
    assert "local codes" in caution.text


@pytest.mark.parametrize(
    ("minimum", "code"),
    [(0.7, 0), (0.9, 1)],
)
def test_a_document_with_the_envelope_as_raw_text(minimum: float, code: int) -> None:
    document = {
        "schema": "ventfolio/judge/1",
        "conventions": conventions(),
        "instruments": TOOLS,
        "positions": [
            {**position(), "design": {"exchangers": {"core": asked(minimum)}}},
        ],
        "envelopes": [json.dumps(record())],
    }
    found = judging.judge_document(document)
    assert found["problems"] == []
    assert judging.exit_code(found) == code


def test_the_example_of_the_page_is_valid_and_says_what_it_should() -> None:
    """598 Pa / (1.21 kg/m³ × 1009 J/(kg K) × 0.55) = 0.89 K = 1.60 degF of fan heat at 15 degC.

    (59.1 − 1.6 − 23.05) / (71.625 − 23.05) = 0.7092; 1000 and 980 cfm of 3.2 and 5.5 g/kg are 1.0227 of dry air.
    """
    page = (Path(__file__).parents[2] / "docs" / "judging-document.md").read_text(encoding="utf-8")
    text = page.partition("## Exchanger")[2].partition("```json")[2].partition("```")[0]
    payload = json.loads(text)
    Draft202012Validator(schemas()["payload-exchanger.json"]).validate(payload)
    given = record()
    given["payload"] = payload
    result = judged(given, place=place())
    assert result.problems == []
    one = result.judgement("exchanger_effectiveness")
    assert one["absence"]["code"] == "not_given"
    assert one["value"] == pytest.approx(0.7092 * 1.0227, abs=0.001)
