"""After a change of machine its start, settings, checklist and airflow are due again, each in words of its own."""

from __future__ import annotations

from tests.judging.builder import all_ports, envelope, judged, port_design, position
from tests.kinds import checklist_records, settings_records, startup_records

AGAIN = "The machine was changed on 2026-06-01: "


def test_start_settings_checklist_and_airflow_are_due_again() -> None:
    place = position(machine={"serial": "M-2", "since": "2026-06-01"})
    place["design"]["equipment"] = {"unit": {"options": ["wheel"]}}
    found = judged(
        envelope(all_ports()),
        settings_records.record(),
        startup_records.record(),
        checklist_records.record(*checklist_records.yes("level")),
        place=place,
    )
    due = {
        ("design_airflow", "supply"): "measure again.",
        ("settings_consistent", ""): "read its settings again.",
        ("started", ""): "start it again.",
        ("ready_for_test", ""): "answer it for the new one.",
    }
    for (requirement, port), words in due.items():
        absence = found.judgement(requirement, port)["absence"]
        assert absence["code"] == "recheck", requirement
        assert f"{AGAIN}{words}" in absence["text"]


def test_of_the_machine_that_sits_there_nothing_is_due_again() -> None:
    place = position({"supply": port_design()}, machine={"serial": "M-1", "since": "2026-05-01"})
    found = judged(envelope({"supply": 1000.0}), settings_records.record(), place=place)
    assert found.outcome("design_airflow", "supply") == "conforms"
    assert found.outcome("settings_consistent") == "conforms"
