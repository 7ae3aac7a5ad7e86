"""The restore sheet: which snapshot, of which machine, cautions before it, never a password, and one page on paper."""

from __future__ import annotations

import re
from datetime import date
from io import BytesIO
from typing import Any

import pikepdf
import pytest

from commissioning.binders import pages
from commissioning.binders.render.alone import Heading, on_one_page
from commissioning.blocks import Block, Caution, Sentence, Table, to_json
from commissioning.dossier.settings import show_restore
from commissioning.dossier.settings.catalogue import CATALOGUE, Setting
from commissioning.dossier.settings.restore import Machine, Place, Source, chosen
from tests.judging.shown import CODE, texts
from tests.kinds.settings_records import judged, q, record, values

FOUND, LEFT, LATER = (f"2026-05-{day}T10:00:00-05:00" for day in ("03", "04", "20"))
FORMER = Machine("M-1", date(2026, 3, 1), None, "Aldermoor AV-12")
PHOTO = "ab" * 32
HASH = "0123456789abcdef" * 4


def place(*machines: Machine) -> Place:
    where = "Energy recovery ventilator, Sorrel Hall, Roof, bay 3"
    return Place("ERV-1", where, "America/Chicago", machines or (FORMER,))


def sheet(*records: dict[str, Any], at: Place | None = None, display: str = "ip") -> show_restore.Sheet:
    found = chosen(judged(*records).measurements)
    sources = {found.snapshot["envelope"]: Source("Idris Fenwarden", HASH)} if found else {}
    return show_restore.sheet(at or place(), found, sources, display)


def said(made: show_restore.Sheet) -> str:
    return " | ".join(text for block in (*made.head, *made.body) for text in texts(to_json(block)))


def table(made: show_restore.Sheet, caption: str) -> Table:
    return next(one for one in made.body if isinstance(one, Table) and one.caption.startswith(caption))


def cautions(blocks: tuple[Block, ...]) -> list[str]:
    return [one.hazard for one in blocks if isinstance(one, Caution)]


# --- what is set -----------------------------------------------------------------------------------------------------
def test_the_newest_as_left_is_restored_in_the_units_of_the_project_with_its_reader_and_its_hash() -> None:
    old = record(values(frost_limit=q(1.0, "degC")), name="old", at=FOUND)
    made = sheet(old, record(at=LEFT))
    assert made.head[0] == Sentence("ERV-1 as left on Monday 4 May 2026, 10:00 (UTC−05:00): 42 settings.", "lead")
    # −2 °C is 32 − 2 × 1.8 = 28.4 °F
    assert ("Frost limit", "28.4 °F") in table(made, "Heating, cooling").rows
    assert ("Frost limit", "−2 °C") in table(sheet(record(at=LEFT), display="si"), "Heating, cooling").rows
    assert "Read by Idris Fenwarden, measured by us, in session AL-1, on the machine of serial M-1" in said(made)
    assert " ".join([HASH[:16]] * 4) in said(made)


def test_its_groups_are_those_of_the_catalogue_in_its_order() -> None:
    groups = [one.caption for one in sheet(whole()).body if isinstance(one, Table)]
    assert groups == list(CATALOGUE.groups.values())


def test_what_was_left_on_the_former_machine_is_restored_with_a_caution_that_names_both() -> None:
    swapped = place(Machine("M-1", date(2026, 3, 1), date(2026, 6, 1)), Machine("M-2", date(2026, 6, 1)))
    made = sheet(record(at=LEFT), at=swapped)
    assert cautions(made.head) == ["Another machine", "A fan that starts"]
    assert "They were read on M-1; M-2 sits here since 1 June 2026." in said(made)
    assert cautions(sheet(record(at=LEFT)).head) == ["A fan that starts"]


def test_a_serial_of_another_unit_is_a_caution() -> None:
    assert cautions(sheet(record(at=LEFT, serial_seen="M-7")).head) == ["Perhaps another unit", "A fan that starts"]


def test_only_what_can_start_a_fan_has_the_caution() -> None:
    assert cautions(sheet(record({"frost_limit": q(2.0, "degC")}, at=LEFT)).head) == []
    (caution,) = [one for one in sheet(record({"enabling": "local"}, at=LEFT)).head if isinstance(one, Caution)]
    assert caution.text.startswith("What is set under Enabling can start a fan at once.")
    assert "Nothing here says that it is safe to start or to energise." in caution.text


def test_without_settings_as_left_those_as_found_are_told_for_what_they_are() -> None:
    made = sheet(record(moment="as_found", at=FOUND))
    assert "No settings as left are on record for ERV-1. These are as found" in said(made)
    assert sheet() == show_restore.Sheet((Sentence(show_restore.NOTHING, "lead"),))
    assert sheet(record(moment="follow_up", at=FOUND)).body == ()


# --- before and after ------------------------------------------------------------------------------------------------
def test_what_changed_before_and_after_stands_on_it() -> None:
    found = record(values(exhaust_ratio=q(50.0, "%")), name="found", moment="as_found", at=FOUND)
    later = record(values(frost_limit=q(-5.0, "degC")), name="later", moment="follow_up", at=LATER)
    made = sheet(found, record(at=LEFT), later)
    assert table(made, "Changed since as found, 3 May 2026").rows == (("Exhaust to supply ratio", "50 %", "90 %"),)
    # −5 °C is 32 − 5 × 1.8 = 23 °F
    assert table(made, "Read otherwise at the follow-up, 20 May 2026").rows == (("Frost limit", "28.4 °F", "23 °F"),)
    assert "one setting was otherwise than as left" in said(made)
    assert "was the same" in said(sheet(record(at=LEFT), record(name="later", moment="follow_up", at=LATER)))


# --- what never stands on it -----------------------------------------------------------------------------------------
def test_a_caption_in_which_a_password_stands_is_left_out() -> None:
    made = record(at=LEFT)
    made["photos"] = [
        {"sha256": PHOTO, "caption": "to get in: pin 4711"},
        {"sha256": "cd" * 32, "caption": "setpoints"},
    ]
    text = said(sheet(made))
    assert "4711" not in text
    assert show_restore.NO_SECRETS in text
    assert table(sheet(made), "Photos").rows[1] == ("setpoints", "cdcdcdcdcdcdcdcd…")


# --- on paper -------------------------------------------------------------------------------------------------------
def _most(one: Setting, *, least: bool = False) -> Any:
    """The longest that a setting can be; `least`: another value, so that everything changed."""
    if one.kind == "quantity":
        return q(one.least if least else one.most, one.unit)
    if one.kind in ("number", "whole"):
        return int(one.least if least else one.most)
    if one.kind == "choice":
        return min(one.choices, key=len) if least else max(one.choices, key=len)
    return not least if one.kind == "yes_no" else ("short" if least else "America/Argentina/ComodRivadavia " * 6)


def whole(*, least: bool = False, **changes: Any) -> dict[str, Any]:
    given = {code: _most(one, least=least) for code, one in CATALOGUE.settings.items()}
    return record(given, **{"at": LEFT, **changes})


@pytest.mark.parametrize("display", ["ip", "si"])
def test_all_settings_of_the_catalogue_at_their_longest_fit_on_one_page(display: str) -> None:
    found = whole(least=True, name="found", moment="as_found", at=FOUND)
    left = whole(controller="A family of controllers " * 8)
    left["photos"] = [{"sha256": f"{n:064x}", "caption": "A page of the controller " * 8} for n in range(20)]
    later = whole(least=True, name="later", moment="follow_up", at=LATER)
    swapped = place(Machine("M-1", date(2026, 3, 1), date(2026, 6, 1)), Machine("M-2", date(2026, 6, 1)))
    made = sheet(found, left, later, at=swapped, display=display)
    assert len(CATALOGUE.settings) >= 100
    pdf = on_one_page(Heading("Restore sheet", "ERV-1", swapped.where, "judged"), made.head, made.body, display)
    with pikepdf.open(BytesIO(pdf)) as opened:
        assert len(opened.pages) == 1
    text = re.sub(r"\s", "", "".join(pages.read(pdf).pages))
    for one in CATALOGUE.settings.values():
        assert re.sub(r"\s", "", one.title) in text
    assert "page1of1" in text


def test_what_is_short_is_printed_in_the_type_of_the_binder() -> None:
    made = sheet(record(at=LEFT))
    pdf = on_one_page(Heading("Restore sheet", "ERV-1", "Roof", ""), made.head, made.body, "ip")
    with pikepdf.open(BytesIO(pdf)) as opened:
        (scaled,) = [one for one in pikepdf.parse_content_stream(opened.pages[0]) if str(one.operator) == "cm"][:1]
    assert [float(one) for one in scaled.operands] == [1, 0, 0, 1, 0, 0]


def test_it_reads_like_the_trade() -> None:
    assert not [text for text in said(sheet(whole())).split(" | ") if CODE.search(text) or "None" in text]
