"""A trend log in a unit's sheet of the binder: its plot as vectors, its finding in words, and it verifies."""

from io import BytesIO
from typing import Any

import pikepdf
import pytest

from commissioning.binders import pages
from commissioning.binders.render import render
from commissioning.binders.verify import verify
from commissioning.dossier.canonical import canonical_json
from tests.binders import examples
from tests.judging import builder
from tests.kinds.trend_records import FILE, LATE_DAMPER, day, record, trend


def logged(units: int, project: str) -> dict[str, Any]:
    series = day(**LATE_DAMPER)
    given = builder.document(record(series), place=builder.position(trends=[trend(series)]))
    return {**given, "envelopes": [canonical_json(one).decode() for one in given["envelopes"]]}


def test_the_plot_and_what_it_shows_stand_in_the_units_sheet(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(examples, "many", logged)
    made = render(examples.as_bytes(examples.frozen(1, issues=0))).pdf
    told = " ".join(" ".join(pages.read(made).pages).split())
    assert "Mon 4 May 2026, 00:00 to Mon 4 May, 23:55" in told
    assert "1 Mon 4 May, 07:00: At 1 of 1 starts the supply fan was commanded before" in told
    assert "1: supply fan command 2: supply fan status 3: outdoor air damper open end switch" in told
    assert FILE in told.replace(" ", "")  # the raw file by its hash
    with pikepdf.open(BytesIO(made)) as opened:
        kinds = {str(one.get("/Subtype")) for one in opened.objects if isinstance(one, pikepdf.Stream)}
    assert "/Image" not in kinds  # lines, not a picture of them
    assert verify(made).differences == []


def test_a_binder_whose_analysis_was_altered_does_not_verify(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(examples, "many", logged)
    held = examples.frozen(1, issues=0)
    (analysis,) = held["judging"]["positions"][0]["trends"]
    analysis["results"][0] |= {"outcome": "holds", "marks": [], "look": ""}
    assert verify(render(examples.as_bytes(held)).pdf).differences != []
