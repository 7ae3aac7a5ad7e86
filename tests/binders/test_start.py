"""A unit's start in its sheet of the binder: what is missing first, told once, and the binder verifies with it."""

from typing import Any

import pytest

from commissioning.binders import pages
from commissioning.binders.render import render
from commissioning.binders.verify import verify
from commissioning.dossier.canonical import canonical_json
from tests.binders import examples
from tests.judging import builder
from tests.kinds import electrical_records, settings_records, startup_records

EARLIER = "2026-05-01T08:00:00-05:00"


def two_units(units: int, project: str) -> dict[str, Any]:
    """At the first one the settings were read as left, and nothing else of its start; at the other nothing."""
    given = builder.document(settings_records.record(name="left"), place=builder.position())
    other = builder.position(id=builder.named("other"), tag="ERV-2")
    raws = [canonical_json(one).decode() for one in given["envelopes"]]
    return {**given, "positions": [*given["positions"], other], "envelopes": raws}


def test_it_stands_in_the_sheet_of_the_unit_that_was_started_and_in_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(examples, "many", two_units)
    held = examples.frozen(2, issues=0)
    made = render(examples.as_bytes(held)).pdf
    told = [page for page in pages.read(made).pages if "Not complete: no checklist is recorded; " in page]
    (sheet,) = (" ".join(page.split()) for page in told)
    assert "ERV-1" in sheet
    assert "As left, 42 settings, supply fan holds airflow reset on CO2" in sheet
    assert f"Noor Whitlock, SHA-256 {held['manifest'][0]['sha256'][:16]}…" in sheet
    assert verify(made).differences == []


def in_temporary_operation(units: int, project: str) -> dict[str, Any]:
    """Its motors and its airflow were read, sent as final, while it ran for the site's convenience."""
    period = {"since": "2026-05-01", "filters": "construction", "allowed_by": "Ysolde Marr"}
    told = startup_records.record("temporary", at=EARLIER, dampers=[], fans=[], temporary_operation=period)
    read = electrical_records.record(electrical_records.fan(), name="read")
    air = builder.envelope(builder.all_ports(), name="air")
    given = builder.document(told, read, air, place=builder.position(), instruments=electrical_records.TOOLS)
    return {**given, "envelopes": [canonical_json(one).decode() for one in given["envelopes"]]}


def test_what_was_sent_as_final_in_temporary_operation_says_how_it_counts_and_a_fan_is_no_air(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(examples, "many", in_temporary_operation)
    held = examples.frozen(1, issues=0)
    made = pages.read(render(examples.as_bytes(held)).pdf).pages
    said = [" ".join(page.split()) for page in made]
    (listed,) = (page for page in said if "What was superseded is kept beside what supersedes it" in page)
    assert listed.count("sent as final, counted as preliminary: temporary operation, session") == 2
    sheet = next(page for page in said if "What is asked, and what follows" in page)
    assert "Rotation of the fan Supply fan" in sheet
    assert "Rotation of the fan Supply air" not in sheet
