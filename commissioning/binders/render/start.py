"""The start in a unit's sheet: what is missing, and for each kind of record what is asked of it and who recorded it.

The records and judgements themselves stand in the same sheet: here is their order as a start, not a second copy.
"""

from collections.abc import Mapping
from typing import Any

from commissioning.binders.render import ink, words
from commissioning.binders.render.blocks import Surroundings, draw
from commissioning.binders.render.content import Content
from commissioning.binders.render.sheet import Sheet
from commissioning.dossier.given import COUNTED
from commissioning.judging import start_report


def start_of(sheet: Sheet, content: Content, unit: Mapping[str, Any], around: Surroundings) -> None:
    """Nothing where nothing of the start is recorded."""
    given = _given(content, unit)
    if not given.has_begun:
        return
    sheet.heading("Start", keep=90.0)
    draw(sheet, start_report.summary(given, content.display), around)
    sheet.paragraph(start_report.NOT_SAID, ink.ASIDE)


def _given(content: Content, unit: Mapping[str, Any]) -> start_report.Given:
    position = unit["position"]
    judgements = content.judgements(position)
    accepted = {(one["requirement"], one["port"]) for one in judgements if content.outcome(position, one) == "accepted"}
    is_counted = unit["scope"] in COUNTED
    return start_report.Given(
        identity=(),
        judgements=judgements,
        measurements=content.measurements(position),
        evidence=tuple(
            start_report.Evidence(
                one["id"], one["kind"], one["observed_at"], one["observed_by"] or one["sent_by"], one["sha256"]
            )
            for one in content.evidence_of.get(position, ())
        ),
        issues=tuple(
            start_report.OpenIssue(
                one["number"], one["title"], one["state_in_words"], one["company"] or "", words.day(one["due"])
            )
            for one in content.issues_of.get(position, ())
            if one["is_open"]
        ),
        accepted=frozenset(accepted),
        not_counted="" if is_counted else unit["scope_in_words"].lower(),
    )
