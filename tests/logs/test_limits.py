"""A log that is too much for the server is refused before it fills the memory."""

import io
import zipfile

import openpyxl
import pytest

from commissioning.logs import convert as converting
from commissioning.logs import read, text
from commissioning.logs.guess import _RULES, guess_role
from commissioning.logs.mapping import LogMapping
from commissioning.logs.roles import roles
from tests.logs.odd_logs import GOOD, rows

MAPPING = LogMapping.model_validate(
    {
        **{"source": "North", "zone": "America/Chicago"},
        "points": [{"name": "SAT (°F)", "role": "supply_temperature", "unit": "degF"}],
    }
)


def test_more_samples_than_are_taken_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(converting, "MOST_SAMPLES", 2)
    [problem] = converting.convert(rows(*GOOD), MAPPING).problems
    assert (problem.code, problem.sentence) == (
        "too_many_samples",
        "There are more than 2 samples. Export a shorter period, or map fewer points.",
    )


@pytest.mark.parametrize("module", [read, text])
def test_a_larger_file_than_is_taken_is_refused_unread(monkeypatch: pytest.MonkeyPatch, module: object) -> None:
    monkeypatch.setattr(read, "MOST_BYTES", 10 if module is read else 1000)
    monkeypatch.setattr(text, "MOST_BYTES", 10)
    assert converting.convert(rows(*GOOD), MAPPING).problems[0].code == "too_large"


def test_a_cell_at_the_far_corner_of_a_sheet_fills_no_memory() -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for line in (["Timestamp", "SAT (°F)"], ["2026-03-13 14:00", 68], ["2026-03-13 14:05", 50]):
        sheet.append(line)
    sheet["XFD20"] = "far"
    out = io.BytesIO()
    book.save(out)
    [problem] = converting.convert(out.getvalue(), MAPPING).problems
    assert (problem.code, problem.line) == ("too_many_columns", 20)


def test_every_role_that_a_name_hints_at_is_one() -> None:
    assert {role for role, _ in _RULES} <= set(roles())
    assert guess_role("AHU-2 Room CO2 (ppm)") == "room_co2"


def test_a_workbook_that_declares_entities_is_refused() -> None:
    book, out = openpyxl.Workbook(), io.BytesIO()
    book.save(out)
    bomb = io.BytesIO()
    with zipfile.ZipFile(out) as before, zipfile.ZipFile(bomb, "w") as after:
        for name in before.namelist():
            part = before.read(name)  # written without a declaration
            if name == "xl/worksheets/sheet1.xml":
                part = b'<!DOCTYPE x [<!ENTITY a "aaaaaaaa"><!ENTITY b "&a;&a;">]>' + part
            after.writestr(name, part)
    assert converting.convert(bomb.getvalue(), MAPPING).problems[0].code == "entity_bomb"
