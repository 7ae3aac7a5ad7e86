"""The outlets form: typed one by one or pasted as a table, looked at first, and the same evidence as any device's."""

from __future__ import annotations

import json
import time

import pytest
from django.test import Client

from commissioning.models import CurrentVerdict, Submission
from commissioning.pages import outlet_grid
from portfolio.jobs import runner
from portfolio.models import DesignEntry, DesignRevision
from tests import envelopes
from tests.cast import Cast

pytestmark = pytest.mark.django_db(transaction=True)

OUTLETS = {
    name: {
        "port": "supply",
        "branch": "B1",
        "room": "112",
        "device": "square",
        "airflow": {"value": 200, "unit": "cfm"},
        "basis": "standard",
    }
    for name in ("D10", "D2", "D1")
}
PASTE = "Outlet\tRoom\tDesign (cfm)\tReading 1 (cfm)\tReading 2 (cfm)\nD1\t112\t200\t195\t197\nD2\t112\t200\t205\t203\n"


@pytest.fixture
def page(cast: Cast) -> tuple[Cast, Client, str]:
    revision = DesignRevision.objects.create(
        project=cast.things["project"], number=1, dated="2026-01-05", source="design",
        applied_by=cast.person("own", "lead"),
    )  # fmt: skip
    design = envelopes.design({"supply": 600.0}) | {"outlets": OUTLETS}
    DesignEntry.objects.create(revision=revision, position=cast.things["position"], fields=design)
    client = Client()
    client.force_login(cast.person("own", "technician"))
    return cast, client, f"/units/{cast.things['position'].pk}/record/outlets"


def filled(cast: Cast, **rest: str) -> dict[str, str]:
    return {
        "id": "0b9c63a8-5d55-4f5e-8f8b-3d7a2f7c3333",
        "observed_at": "2026-05-04T10:15:00-06:00",
        "display": "ip",
        "instrument": str(cast.things["instrument"].pk),
        "basis": "standard",
        "back_pressure": "compensated",
        "filters": "clean",
        "stage": "final",
        "session": "AL-1",
        **rest,
    }


def sent() -> dict[str, object]:
    held: dict[str, object] = json.loads(bytes(Submission.objects.get().raw))["payload"]
    return held


def test_the_outlets_stand_in_the_order_in_which_people_count_with_their_design(page: tuple[Cast, Client, str]) -> None:
    _, client, url = page
    text = client.get(url).content.decode()
    places = [
        text.index(f"<strong>{name}</strong> supply, B1, 112, square: design 200") for name in ("D1", "D2", "D10")
    ]
    assert places == sorted(places)
    assert 'name="reading-D10" inputmode="decimal"' in text
    assert "secure the ladder" in text
    assert "Hood factor for square" in text


def test_what_is_typed_is_judged_and_stands_beside_the_next_reading(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    typed = {"reading-D1": "201", "reading-D2": "198,5", "why-D10": "no access: locked", "factor-square": "1.01"}
    assert client.post(url, filled(cast, **typed)).status_code == 303
    assert sent()["outlets"] == [
        {"name": "D1", "readings": [201.0]},
        {"name": "D2", "readings": [198.5]},
        {"name": "D10", "state": "no_access", "reason": "no access: locked"},
    ]
    assert sent()["factors"] == [{"device": "square", "factor": 1.01}]
    runner.drain()
    held = CurrentVerdict.objects.get(position=cast.things["position"], requirement="outlet_airflow", port="supply")
    assert held.outcome == "conforms"
    assert held.judgement.result["provisional"]
    text = client.get(url).content.decode()
    assert "design 200, before 205" in text  # 201 · 1.01 = 203.01, printed to 5 cfm
    unit = client.get(f"/units/{cast.things['position'].pk}").content.decode()
    assert "Outlet airflow" in unit


def test_looking_at_a_pasted_table_shows_it_and_sends_nothing(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    answer = client.post(url, filled(cast, paste=PASTE, note="two by two", act="look"))
    text = answer.content.decode()
    assert answer.status_code == 200
    assert "As read, readings in cfm; nothing is sent yet" in text
    assert "195, 197" in text
    assert "98 %" in text  # 196 of 200
    assert "two by two" in text
    assert not Submission.objects.exists()
    assert client.post(url, filled(cast, paste=PASTE, act="send")).status_code == 303
    assert [row["readings"] for row in sent()["outlets"]] == [[195.0, 197.0], [205.0, 203.0]]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"reading-D1": "12x"}, "reading D1: This is no number."),
        ({}, "No outlet has a reading."),
        ({"reading-D1": "200", "instrument": ""}, "The instrument is not named."),
        ({"reading-D1": "200", "why-D1": "closed by hand"}, "typed and pasted, or has a reading and a reason"),
        ({"why-D1": "later"}, "Begin with closed, blocked or no access."),
        ({"reading-D1": "200", "paste": PASTE}, "This outlet was typed and pasted"),
        ({"reading-D10": "90", "paste": PASTE.replace("cfm", "L/s")}, "The table is in L/s and the boxes are in cfm."),
    ],
)
def test_a_bad_field_is_named_and_nothing_typed_is_lost(
    page: tuple[Cast, Client, str], typed: dict[str, str], said: str
) -> None:
    cast, client, url = page
    answer = client.post(url, filled(cast, note="vane bent", **typed))
    text = answer.content.decode()
    assert answer.status_code == 400
    assert said in text
    assert "vane bent" in text
    assert not Submission.objects.exists()


def test_every_bad_cell_is_named_and_nothing_of_the_table_is_taken(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    bad = PASTE.replace("195", "19o").replace("D2", "D1")
    answer = client.post(url, filled(cast, paste=bad))
    text = answer.content.decode()
    assert answer.status_code == 400
    assert "Row 2, column D (Reading 1 (cfm)) and 1 more: This is no airflow." in text
    for part in ("19o", "Write a number of 0 or more", "This outlet stands in row 2 too.", "Say each outlet once."):
        assert part in text
    assert not Submission.objects.exists()


def test_sent_twice_it_is_kept_once(page: tuple[Cast, Client, str]) -> None:
    cast, client, url = page
    for _ in range(2):
        assert client.post(url, filled(cast, paste=PASTE)).status_code == 303
    assert Submission.objects.count() == 1


def test_four_hundred_outlets_are_one_form(page: tuple[Cast, Client, str]) -> None:
    """Two fields for each outlet; Django takes a thousand."""
    cast, client, url = page
    entry = DesignEntry.objects.get()
    entry.fields["outlets"] = {f"D{n}": OUTLETS["D1"] for n in range(410)}
    entry.save()
    text = client.get(url).content.decode()
    assert text.count("data-onward") == 400
    assert "10 more outlets are not listed here" in text
    typed = {f"reading-D{n}": "200" for n in range(400)} | {f"why-D{n}": "" for n in range(400)}
    assert client.post(url, filled(cast, **typed)).status_code == 303
    assert len(sent()["outlets"]) == 400  # type: ignore[arg-type]


# --- the table by itself ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("header", "cells"),
    [
        ("Tag\tSpace\tBranch duct\tType\tRequired\tMeasured", "D1\t112\tB1\tsquare\t200\t195"),
        ("Measured cfm\tDesign cfm\tNo.\tRoom no.\tDuct\tDiffuser", "195\t200\tD1\t112\tB1\tsquare"),
        ("", "D1\t112\tB1\tsquare\t200\t195"),
    ],
)
def test_headings_have_many_names_any_order_or_are_missing(header: str, cells: str) -> None:
    (line,) = outlet_grid.read("\n".join(part for part in (header, cells) if part)).lines
    assert (line.name, line.room, line.branch, line.device) == ("D1", "112", "B1", "square")
    assert (line.design, line.readings) == (200.0, (195.0,))


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("Outlet\tReading\nD1\t195,5\nD2\t1.250,5", ((195.5,), (1250.5,))),
        ("Outlet\tReading\nD1\t195.5\nD2\t1,250.5", ((195.5,), (1250.5,))),
        ("Outlet;Reading\nD1;195,5\nD2;80", ((195.5,), (80.0,))),
        ("Outlet\tReading 1\tReading 2\nD1\t195\t197\nD2\t\t80", ((195.0, 197.0), (80.0,))),
    ],
)
def test_numbers_are_read_as_the_table_writes_them(text: str, readings: tuple[tuple[float, ...], ...]) -> None:
    grid = outlet_grid.read(text)
    assert not grid.errors
    assert tuple(line.readings for line in grid.lines) == readings


@pytest.mark.parametrize(
    ("text", "row", "column", "value", "reason"),
    [
        ("Outlet\tReading\nD1\t-5", 2, "B (Reading)", "-5", "This is no airflow."),
        ("Outlet\tReading\nD1\t1,5\nD2\t1.5", 3, "B (Reading)", "1.5", "decimal points and decimal commas"),
        ("Outlet\tReading\nD1\t1.200", 2, "B (Reading)", "1.200", "can be read in two ways"),
        ("Outlet\tReading\n\t90", 2, "B", "90", "names no outlet"),
        ("Outlet\tPort\tReading\nD1\tattic\t90", 2, "B (Port)", "attic", "no port of a unit"),
        ("Outlet\tReading\tWhy\nD1\t\tlater", 2, "C (Why)", "later", "closed, blocked or out of reach"),
        ("Outlet\tRoom\tSpace\tReading\nD1\t1\t2\t90", 1, "C (Space)", "Space", "Two columns are the room."),
        ("Outlet\tReading cfm\tReading L/s\nD1\t90\t42", 1, "C (Reading L/s)", "Reading L/s", "two units"),
    ],
)
def test_a_fault_has_row_column_value_reason_and_remedy(
    text: str, row: int, column: str, value: str, reason: str
) -> None:
    grid = outlet_grid.read(text)
    assert grid.lines == ()
    fault = next(one for one in grid.errors if reason in one.reason)
    assert (fault.row, fault.column, fault.value) == (row, column, value)
    assert fault.remedy


def test_what_was_not_read_says_why_and_an_empty_row_is_just_not_read() -> None:
    text = "Outlet\tReading\tReason\nD1\tblocked\tby a shelf\nD2\t\tno access: locked\nD3\t\t\nD4\t90\t"
    states = [(line.name, line.is_read, line.state, line.reason) for line in outlet_grid.read(text).lines]
    assert states == [
        ("D1", True, "blocked", "by a shelf"),
        ("D2", True, "no_access", "no access: locked"),
        ("D3", False, "read", ""),
        ("D4", True, "read", ""),
    ]


def test_a_large_table_is_read_at_once() -> None:
    rows = "\n".join(f"D{n}\t{n // 4}\tB{n // 20}\tsquare\t200\t{190 + n % 20}\t{191 + n % 20}" for n in range(500))
    began = time.process_time()
    assert len(outlet_grid.read(rows).lines) == 500
    assert time.process_time() - began < 1.0
