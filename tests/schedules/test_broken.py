"""Broken schedules: one clear error each, at its cell where it has one, and nothing to apply."""

import tracemalloc

import pytest

from fixtures.schedules.broken import BROKEN, NOT_KEPT
from fixtures.schedules.make import BROKEN_FILES
from portfolio.schedules.reading import read_pasted, read_workbook
from portfolio.schedules.understanding import Understanding, understand

# name: code of the first error, row, column, a part of the reason
EXPECTED = {
    "unpacks-to-gigabytes.xlsx": ("unpacks_too_large", 0, "", "more than 100 MB"),
    "packed-too-tight.xlsx": ("packed_too_tight", 0, "", "at most 100 times"),
    "far-corner.xlsx": ("too_large", 1048576, "XFD", "reaches to XFD1048576"),
    "entities.xlsx": ("entity_bomb", 0, "", "document type or entities"),
    "formula-without-value.xlsx": ("formula_without_value", 3, "C", "never stored"),
    "unit-unknown.csv": ("unit_unknown", 1, "B", "in which unit"),
    "tag-twice.xlsx": ("tag_twice", 5, "A", "500 cfm in TWICE!B3 and 550 cfm in TWICE!B5"),
    "typical-without-list.xlsx": ("tags_missing", 3, "A", "12 tags are expected"),
    "decimals-mixed.csv": ("decimal_mixed", 3, "C", "'1,250.5' in decimals-mixed!B2, '0,6' in decimals-mixed!C3"),
    "no-header.xlsx": ("no_header", 1, "A", "names the columns"),
    "values-without-tag.xlsx": ("no_tag", 4, "A", "600, 550"),
    "old-workbook.xls": ("old_workbook", 0, "", "old .xls kind"),
    "protected.xlsx": ("protected", 0, "", "password"),
    "garbage.bin": ("not_text", 0, "", "neither a workbook nor readable text"),
    "cut-off.xlsx": ("damaged", 0, "", "cut off or damaged"),
    "unclosed-quote.csv": ("unclosed_quote", 2, "", "line 2"),
    "other-document.zip": ("not_a_workbook", 0, "", "no .xlsx workbook"),
}


def understood(name: str, data: bytes) -> Understanding:
    return understand(read_workbook(name, data))


def csv(text: str) -> Understanding:
    return understood("small.csv", text.encode())


@pytest.mark.parametrize("name", sorted(BROKEN))
def test_refused_with_a_clear_error_and_no_row(name: str) -> None:
    held = understood(name, BROKEN[name]())
    code, row, column, part = EXPECTED[name]
    first = held.errors[0]
    assert (first.code, first.row, first.column) == (code, row, column)
    assert part in first.reason
    assert first.remedy
    assert held.rows_to_apply == ()
    assert not held.may_apply


@pytest.mark.parametrize("name", sorted(set(BROKEN) - NOT_KEPT))
def test_the_committed_file_is_what_the_script_writes(name: str) -> None:
    assert (BROKEN_FILES / name).read_bytes() == BROKEN[name]()


@pytest.mark.parametrize(
    "name", ["unpacks-to-gigabytes.xlsx", "far-corner.xlsx", "entities.xlsx", "packed-too-tight.xlsx"]
)
def test_a_hostile_file_takes_no_memory(name: str) -> None:
    data = BROKEN[name]()
    tracemalloc.start()
    try:
        read_workbook(name, data)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 20_000_000


@pytest.mark.parametrize(
    ("text", "code", "column"),
    [
        ("TAG,SUPPLY CFM\nERV-1,VARIES\n", "not_a_number", "B"),
        ("TAG,SUPPLY CFM\nERV-1,500 furlongs\n", "unknown_unit", "B"),
        ("TAG,SUPPLY CFM\nERV-1,500 Pa\n", "unknown_unit", "B"),
        ("TAG,SUPPLY CFM\nERV-1,-500\n", "negative", "B"),
        ("TAG,SUPPLY CFM\nERV-1,500\nERV-2,DITTO\n", "ditto", "B"),
        ("TAG,SUPPLY CFM\nERV-1,SEE NOTE 9\n", "note_missing", "B"),
        ("TAG,SUPPLY CFM\nERV-6 thru 1,500\n", "tag_unreadable", "A"),
        ("TAG,SUPPLY CFM\nERV-1 thru 99999,500\n", "tag_unreadable", "A"),
        ("TAG,QTY,SUPPLY CFM\nERV-1 thru 3,4,500\n", "tags_missing", "B"),
        ("TAG,CFM\nERV-1,500\n", "port_not_said", "B"),
        ("TAG,SUPPLY CFM,SUPPLY AIR (CFM)\nERV-1,500,600\n", "column_twice", "C"),
        ("TAG,SUPPLY CFM,SUPPLY MIN CFM\nERV-1,500/200,300\n", "contradiction", "C"),
        ("TAG,SUPPLY MIN CFM\nERV-1,500/200\n", "not_a_number", "B"),
        ("TAG,SUPPLY SCFM,EXHAUST ACFM\nERV-1,500,300\n", "air_basis_contradicts", "C"),
        ("TAG,SUPPLY CFM,V/PH/HZ\nERV-1,500,LOW\n", "not_electrical", "C"),
        ('TAG,SUPPLY CFM,EXHAUST CFM\nERV-1,"1,20",0.5\n', "decimal_mixed", "B"),
        ("TYPE,SUPPLY CFM\nERV-A,500\n", "type_without_tags", "A"),
        ("TAG,SUPPLY CFM\n", "no_rows", ""),
    ],
)
def test_small_schedules_with_one_thing_wrong(text: str, code: str, column: str) -> None:
    held = csv(text)
    assert [(error.code, error.column) for error in held.errors][:1] == [(code, column)]
    assert held.rows_to_apply == ()


def test_a_type_that_nobody_describes() -> None:
    held = csv("TYPE,SUPPLY SCFM\nERV-A,500\n\n\nTAG,TYPE\nERV-1,ERV-A\nERV-2,ERV-C\n")
    assert [(error.code, error.row, error.value) for error in held.errors] == [("type_unknown", 7, "ERV-C")]


def test_fewer_tags_than_the_type_says() -> None:
    held = csv("MARK,SUPPLY SCFM\nERV-A (TYP. OF 3),500\n\n\nTAG,TYPE\nERV-1,ERV-A\nERV-2,ERV-A\n")
    assert [(error.code, error.row) for error in held.errors] == [("tags_missing", 2)]
    assert "it stands for 3 units, and 2 tags name it" in held.errors[0].reason


@pytest.mark.parametrize("text", ["", "   \n\t\n", "\0\0\0"])
def test_nothing_pasted(text: str) -> None:
    assert [error.code for error in understand(read_pasted(text)).errors] in (["empty"], ["not_text"])


@pytest.mark.parametrize(("name", "data"), [("a.csv", b""), ("b.xlsx", b"\n\n"), ("c.pdf", b"%PDF-1.7 ...")])
def test_empty_and_other_files(name: str, data: bytes) -> None:
    held = understood(name, data)
    assert held.errors[0].code in ("empty", "pdf")


def test_a_cut_file_is_refused_wherever_it_is_cut() -> None:
    whole = BROKEN["tag-twice.xlsx"]()
    for share in range(1, 20):
        held = understood("cut.xlsx", whole[: len(whole) * share // 20])
        assert held.rows == ()
        assert [error.code for error in held.errors] == ["damaged"]


def test_a_flipped_byte_never_raises() -> None:
    whole = bytearray(BROKEN["tag-twice.xlsx"]())
    for place in range(0, len(whole), 37):
        damaged = bytes(whole[:place]) + bytes([whole[place] ^ 0x55]) + bytes(whole[place + 1 :])
        assert understood("flipped.xlsx", damaged) is not None
