"""Checklists: nothing answered, all in order, holds open, released and lifted, in conflict, of another machine."""

from __future__ import annotations

from tests.judging.builder import Result, conventions
from tests.kinds.checklist_records import (
    EVENING,
    NOON,
    WREN,
    all_right,
    cannot,
    judged,
    lift,
    no,
    place,
    record,
    release,
    signoff,
    yes,
)

WRONG = record(
    *all_right("grounded", "ducts_sealed", "level", "filters_fitted", "switches_in_auto"),
    no("grounded", note="no jumper across the isolators", photos=["ab" * 32]),
    no("ducts_sealed"),
    cannot("level", "no_access", company="Orme Scaffolding"),
    {"item": "filters_fitted", "choice": "construction"},
)
LIFTED = record(
    releases=[release("grounded", by="licensed_person", licence="E-2214", note="jumper fitted")],
    lifts=[lift("ducts_sealed"), lift("filters_fitted")],
    name="lifted",
    at=NOON,
)
OTHER = record(*yes("grounded", "level"), cannot("doors_tight", "controls_not_ready"), by=WREN, name="other", at=NOON)
SIGNED_BY = conventions(signoffs_required=["mechanical", "electrical", "controls"])
SWAPPED = place(machine={"serial": "M-2", "since": "2026-05-05"})

STORIES: dict[str, Result] = {
    "nothing answered": judged(),
    "all right": judged(record(*all_right())),
    "holds": judged(WRONG),
    "released and lifted": judged(record(*all_right("grounded"), no("grounded")), LIFTED),
    "two people": judged(WRONG, OTHER),
    "signed off, and broken since": judged(
        record(*all_right(), signoffs=[signoff("mechanical"), signoff("controls", note="points checked")]),
        record(no("isolators_free"), cannot("switches_in_auto"), by=WREN, name="other", at=NOON),
        record(*yes("isolators_free", "switches_in_auto"), by=WREN, name="mended", at=EVENING),
        conventions=SIGNED_BY,
    ),
    "signed off by all who are asked": judged(
        record(*all_right(), signoffs=[signoff(trade) for trade in SIGNED_BY["signoffs_required"]]),
        conventions=SIGNED_BY,
    ),
    "no equipment in the design": judged(record(*yes("level"), no("wheel_seals")), where=place({})),
    "another machine": judged(WRONG, where=SWAPPED),
    "not counted": judged(WRONG, where=place(scope="deferred")),
}
