"""What is read in temporary operation is never final; the page says why, with who allowed it."""

from __future__ import annotations

from typing import Any

import pytest

from commissioning import blocks, judging
from tests.judging.builder import Result, all_ports, envelope, position
from tests.judging.shown import texts
from tests.kinds import checklist_records, settings_records
from tests.kinds.startup_records import fan, judged, record

PERIOD = {"since": "2026-05-04", "until": "2026-05-20", "filters": "construction", "allowed_by": "Ysolde Marr"}
WHY = (
    "There are only preliminary readings. Sent as final, and read in temporary operation from 2026-05-04 to "
    "2026-05-20, with construction filters, allowed by Ysolde Marr: never final."
)


def told(at: str = "2026-05-04T08:00:00-05:00", name: str = "temporary", **changes: Any) -> dict[str, Any]:
    return record(name, at=at, dampers=[], fans=[], temporary_operation={**PERIOD, **changes})


def air(day: str, hour: str = "10", **changes: Any) -> dict[str, Any]:
    return envelope(all_ports(), at=f"2026-05-{day}T{hour}:15:00-05:00", **changes)


def whole(*envelopes: Any, **changes: Any) -> Result:
    return judged(*envelopes, place=position(**changes))


@pytest.mark.parametrize(
    ("day", "outcome"), [("03", "conforms"), ("04", "not_due"), ("20", "not_due"), ("21", "conforms")]
)
def test_a_final_inside_its_days_is_none(day: str, outcome: str) -> None:
    assert whole(told(), air(day)).outcome("design_airflow", "supply") == outcome


def test_the_reason_is_told_and_the_reading_stays_in_sight_as_preliminary() -> None:
    result = whole(told(), air("10"))
    assert result.judgement("design_airflow", "supply")["absence"] == {"code": "not_due", "text": WHY}
    one = result.measurement("supply")
    assert one["stage"] == "preliminary"
    shown = " ".join(text for block in judging.show_measurement(one, "ip") for text in texts(blocks.to_json(block)))
    assert "allowed by Ysolde Marr: never final" in shown


def test_it_is_worked_out_and_not_sent_whichever_record_came_first() -> None:
    late = told(at="2026-06-01T08:00:00-05:00")
    assert whole(air("10"), late).outcome("design_airflow", "supply") == "not_due"


def test_without_an_end_it_lasts_until_a_start_that_is_none_of_it() -> None:
    still = told(until=None)
    assert whole(still, air("30")).outcome("design_airflow", "supply") == "not_due"
    started = record("started", at="2026-05-15T10:15:00-05:00")
    assert whole(still, started, air("15")).outcome("design_airflow", "supply") == "conforms"
    assert whole(still, started, air("15", "08")).outcome("design_airflow", "supply") == "not_due"
    dead = [fan(air={"seen": "still"})]
    stands = record("stands", at="2026-05-15T09:00:00-05:00", fans=dead, not_running={"cause": "no_power"})
    assert whole(still, stands, air("16")).outcome("design_airflow", "supply") == "not_due"


def test_the_newest_record_says_when_it_ended() -> None:
    ended = told(at="2026-05-12T08:00:00-05:00", name="ended", until="2026-05-11")
    assert whole(told(until=None), ended, air("13")).outcome("design_airflow", "supply") == "conforms"
    assert whole(told(until=None), ended, air("10")).outcome("design_airflow", "supply") == "not_due"


def test_another_machine_ends_it() -> None:
    swapped = {"machine": {"serial": "M-2", "since": "2026-05-10"}}
    assert (
        whole(told(until=None), air("12", serial_seen="M-2"), **swapped).outcome("design_airflow", "supply")
        == "conforms"
    )


def test_the_start_itself_is_none_and_answers_and_settings_stand() -> None:
    first = record(temporary_operation=PERIOD)
    answered = checklist_records.record(*checklist_records.yes("level"), at="2026-05-10T08:00:00-05:00")
    result = whole(first, answered, settings_records.record(at="2026-05-10T09:00:00-05:00"))
    assert result.outcome("started") == result.outcome("fan_proven", "supply") == "not_due"
    assert "allowed by Ysolde Marr: never final" in result.judgement("started")["absence"]["text"]
    stages = {one["kind"]: one["stage"] for one in result.measurements}
    assert stages == {"startup": "preliminary", "checklist": "final", "settings": "final"}


def test_what_only_tells_of_temporary_operation_takes_the_place_of_no_start() -> None:
    start = record("start", at="2026-05-25T09:00:00-05:00")
    late = told(at="2026-06-01T08:00:00-05:00")
    assert whole(start, late).outcome("start_sequence") == "conforms"
    assert whole(late).judgement("started")["absence"]["text"].startswith("Runs: No fan was commanded yet.")
