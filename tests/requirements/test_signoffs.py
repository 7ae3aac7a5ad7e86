"""Sign-offs on a checklist: asked for by the project, of each trade with items here, void for what broke since."""

from __future__ import annotations

from typing import Any

import pytest

from commissioning import judging
from commissioning.blocks import Table
from tests.judging.builder import Result, conventions
from tests.kinds.checklist_records import (
    APPLYING,
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

ASKED = ("mechanical", "electrical")
DONE = record(*all_right())
LATER = {"name": "later", "at": NOON, "by": WREN}
LAST = {"name": "last", "at": EVENING, "by": WREN}
NEXT_DAY = {"name": "next", "at": "2026-05-05T08:00:00-05:00"}
SIGNED = record(signoffs=[signoff(trade) for trade in ASKED], **LATER)
LIFTED = [lift("ducts_sealed", on="2026-05-05")]
TABLE = [
    pytest.param([DONE], "not_due", "Yet to be signed off by: mechanical; electrical.", id="nobody has signed"),
    pytest.param(
        [DONE, record(signoffs=[signoff("mechanical")], **LATER)], "not_due", "by: electrical.", id="one has signed"
    ),
    pytest.param([DONE, SIGNED], "conforms", "", id="both have signed"),
    pytest.param([SIGNED, record(*all_right(), **LAST)], "conforms", "", id="right answers may follow"),
    pytest.param(
        [DONE, SIGNED, record(cannot("level"), name="broken", at=EVENING)],
        "not_due",
        "Not answered: 1 of",
        id="what broke is open first",
    ),
    pytest.param(
        [DONE, SIGNED, record(no("level"), **LAST), record(*yes("level"), **NEXT_DAY)],
        "recheck",
        "Halvard Electric (mechanical) again, for 1 item answered otherwise since",
        id="broken and mended since: that trade signs again",
    ),
    pytest.param(
        [record(*all_right("level"), no("level")), SIGNED, record(*yes("level"), **LAST)],
        "recheck",
        "Halvard Electric (mechanical) again",
        id="signed over a wrong answer",
    ),
    pytest.param(
        [
            DONE,
            SIGNED,
            record(no("ducts_sealed"), **LAST),
            record(lifts=LIFTED, **NEXT_DAY),
        ],
        "conforms",
        "",
        id="a hold that the lead lifted takes nothing from it",
    ),
    pytest.param(
        [record(*all_right("grounded"), no("grounded")), SIGNED, record(releases=[release("grounded")], **LAST)],
        "conforms",
        "",
        id="neither does a release",
    ),
]


def of(*records: Any, trades: tuple[str, ...] = ASKED, **changes: Any) -> Result:
    return judged(*records, conventions=conventions(signoffs_required=list(trades)), **changes)


def told(result: Result) -> str:
    absence = result.judgement("ready_for_test")["absence"]
    return absence["text"] if absence else ""


@pytest.mark.parametrize(("records", "outcome", "said"), TABLE)
def test_ready_for_test_asks_the_companies(records: list[Any], outcome: str, said: str) -> None:
    for given in (records, records[::-1]):
        result = of(*given)
        assert result.problems == []
        assert result.outcome("ready_for_test") == outcome
        assert said in told(result)


def test_without_an_agreement_nobody_signs_and_a_trade_without_items_is_not_asked() -> None:
    assert judged(DONE).outcome("ready_for_test") == "conforms"
    asked = all_right(*(item.id for item in APPLYING if item.trade == "fire_alarm"))
    assert len(asked) < len(APPLYING)
    result = of(record(*asked), trades=("fire_alarm",), where=place({"options": ["fixed_core", "outdoor_damper"]}))
    assert result.outcome("ready_for_test") == "conforms"


def test_a_new_machine_is_signed_for_again() -> None:
    swapped = place(machine={"serial": "M-2", "since": "2026-05-05"})
    new = record(*all_right(), name="new", at="2026-05-06T08:00:00-05:00", serial_seen="M-2")
    result = of(SIGNED, new, where=swapped)
    assert result.outcome("ready_for_test") == "recheck"
    assert "Yet to be signed off by: mechanical again; electrical again." in told(result)


def test_the_page_says_who_signed_and_for_which_item_it_is_void() -> None:
    result = of(DONE, SIGNED, record(no("level"), **LAST))
    blocks = judging.RULES["ready_for_test"].show(result.judgement("ready_for_test"), {}, "ip")
    rows = next(block for block in blocks if isinstance(block, Table) and block.caption == "Sign-offs").rows
    level = next(item for item in APPLYING if item.id == "level")
    who = "Tove Brandeis, Halvard Electric, 2026-05-04"
    assert rows == (
        ("mechanical", f"to be signed again: {level.text}", who),
        ("electrical", "signed", who),
    )
