"""A whole judging document with electrical readings, as raw JSON, through the command and its exit code."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from commissioning import judging
from tests.judging.builder import document, instrument, named, position
from tests.kinds.electrical_records import TOOLS, amps, fan, nameplate, q, record, rpm, volts
from tests.stories.electrical import STORIES

PAGE = Path(__file__).parents[2] / "docs" / "judging-document.md"
DESIGN = {"supply": {"motor": "three_phase", "nameplate_current": q(10.0, "A"), "voltage": q(460.0, "V")}}
GOOD = fan(
    voltage=volts(461.0, 460.0, 459.0),
    current=amps(9.2, 9.1, 9.3),
    speed=rpm(1180.0),
    overload={"protection": "relay", "setting": q(11.0, "A")},
)
PLACE = position({"supply": {}}, fans=DESIGN)


def raw(**changes: Any) -> str:
    """The envelope as the exact text that a phone sends."""
    return json.dumps(record({**GOOD, **changes}), indent=2)


@pytest.mark.parametrize(
    ("changes", "code", "outcome"),
    [
        ({}, 0, {"conforms"}),
        ({"rotation": "reversed"}, 1, {"conforms", "does_not_conform"}),
        ({"current": amps(11.2, 11.1, 11.3)}, 1, {"conforms", "does_not_conform"}),
        ({"rotation": "not_seen"}, 2, {"conforms", None}),
    ],
)
def test_an_envelope_as_text_is_judged_and_the_exit_code_tells(
    changes: dict[str, Any], code: int, outcome: set[str | None], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "document.json"
    given = document(raw(**changes), place=PLACE, instruments=TOOLS)
    path.write_text(json.dumps(given), encoding="utf-8")
    ended = 0
    try:
        call_command("judge", str(path))
    except SystemExit as told:
        ended = int(told.code or 0)
    result = json.loads(capsys.readouterr().out)
    motors = [
        one["verdict"]
        for one in result["positions"][0]["judgements"]
        if one["port"] == "supply" and one["requirement"] not in ("design_airflow", "calibration_in_date")
    ]
    assert len(motors) == 6
    assert set(motors) == outcome
    assert ended == code


def test_the_order_of_arrival_and_the_clock_do_not_enter() -> None:
    one, two = raw(), json.dumps(record(fan("exhaust", rotation="reversed"), name="other"))
    first = judging.judge_document(document(one, two, place=PLACE, instruments=TOOLS))
    second = judging.judge_document(document(two, one, place=PLACE, instruments=list(reversed(TOOLS))))
    assert json.dumps(first["positions"], sort_keys=True) == json.dumps(second["positions"], sort_keys=True)


def test_the_payload_of_the_page_is_judged() -> None:
    """462, 463 and 459 V: mean 461.33, worst 2.33 away, 0.51 %. 1.95 of 2.1 A: 93 %. 2.3 of 2.1 A: 110 %."""
    texts = re.findall(r"```json\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    [payload] = [held for text in texts if (held := json.loads(text)).get("fans", [{}])[0].get("read_at")]
    tool = {**instrument(), "id": payload["fans"][0]["voltage"]["instrument"]}
    envelope = {**record(fan(), name="page"), "payload": payload}
    result = judging.judge_document(
        document(envelope, place=position({"exhaust": {}}, fans={"exhaust": {}}), instruments=[tool])
    )
    assert result["problems"] == []
    found = {
        one["requirement"]: (one["verdict"], one["value"])
        for one in result["positions"][0]["judgements"]
        if one["port"] == "exhaust"
    }
    assert found["voltage_unbalance"] == ("conforms", pytest.approx(7.0 / 3.0 / (1384.0 / 3.0)))
    assert found["motor_current"] == ("conforms", pytest.approx(1.95 / 2.1))
    assert found["overload_setting"] == ("conforms", pytest.approx(2.3 / 2.1))
    assert found["fan_rotation"][0] == found["current_unbalance"][0] == found["motor_voltage"][0] == "conforms"
    assert named("page") == result["positions"][0]["measurements"][0]["envelope"]


def test_a_design_that_contradicts_itself_is_refused_by_name() -> None:
    wrong = {"supply": {**DESIGN["supply"], "overload_low": q(12.0, "A"), "overload_high": q(11.0, "A")}}
    credit = {"device": "wheel", "airflow": q(2000.0, "cfm")}
    bare = {"supply": {"power_limit": {"system": "constant_volume", "credits": [credit]}}}
    for fans, said in ((wrong, "overload setting"), (bare, "either its pressure drop or the effectiveness")):
        with pytest.raises(judging.DocumentError) as refused:
            judging.judge_document(document(raw(), place=position(fans=fans), instruments=TOOLS))
        [problem] = refused.value.problems
        assert problem.pointer.startswith("/positions/0/design/fans/supply")
        assert said in problem.reason
        assert problem.remedy


def test_a_nameplate_of_nothing_is_refused() -> None:
    told = judging.judge_document(
        document(raw(nameplate=nameplate("three_phase", 0.001)), place=PLACE, instruments=TOOLS)
    )
    [problem] = told["problems"]
    assert problem["field"] == "/payload/fans/0/nameplate"
    assert "on no motor" in problem["reason"]


def test_a_cause_of_one_fan_is_one_issue() -> None:
    """Never one judgement per leg: six of a three-phase motor, all at the fan."""
    failing = [one for one in STORIES["all wrong"].judgements if one["verdict"] == "does_not_conform"]
    assert sorted(one["requirement"] for one in failing) == [
        "current_unbalance",
        "fan_rotation",
        "motor_current",
        "motor_voltage",
        "overload_setting",
        "voltage_unbalance",
    ]
    assert {one["port"] for one in failing} == {"supply"}
