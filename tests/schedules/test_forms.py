"""Each form in which schedules come: exact values, units and cells, whole rows at a time."""

from dataclasses import fields
from typing import Any

import pytest

from fixtures.schedules.books import BOOKS
from fixtures.schedules.make import GOOD_FILES
from portfolio.schedules.reading import read_pasted, read_workbook
from portfolio.schedules.understanding import DesignRow, Understanding, understand
from portfolio.schedules.understanding.result import Quantity, Written


def understood(name: str) -> Understanding:
    return understand(read_workbook(name, (GOOD_FILES / name).read_bytes()))


def row(held: Understanding, tag: str) -> DesignRow:
    return next(one for one in held.rows if one.tag == tag)


def flat(one: DesignRow) -> dict[str, Any]:
    """All that a row gives: path -> (value, unit, cell) or (text, cell)."""
    groups: dict[str, Any] = {**one.ports, **{f"fan.{name}": fan for name, fan in one.fans.items()}}
    groups |= {name: part for name in ("exchanger", "electrical") if (part := getattr(one, name)) is not None}
    found: dict[str, Any] = {}
    for group, part in groups.items():
        for field in fields(part):
            _put(found, f"{group}.{field.name}", getattr(part, field.name))
    for name in ("type", "location", "serves", "building", "manufacturer", "model", "remarks"):
        _put(found, name, getattr(one, name))
    return found


def _put(found: dict[str, Any], path: str, value: Quantity | Written | None) -> None:
    if isinstance(value, Quantity):
        found[path] = (value.value, value.unit, f"{value.at.column}{value.at.row}")
    elif value is not None:
        found[path] = (value.text, f"{value.at.column}{value.at.row}")


def codes(held: Understanding) -> list[str]:
    return [remark.code for remark in held.remarks]


@pytest.mark.parametrize("name", sorted(BOOKS))
def test_the_committed_file_is_what_the_script_writes(name: str) -> None:
    assert (GOOD_FILES / name).read_bytes() == BOOKS[name]()


@pytest.mark.parametrize("name", sorted(BOOKS))
def test_no_form_has_an_error(name: str) -> None:
    held = understood(name)
    assert held.errors == ()
    assert held.rows


def test_title_rows_above_and_units_in_the_header() -> None:
    held = understood("units-in-header.xlsx")
    assert held.may_apply
    assert [one.tag for one in held.rows_to_apply] == ["ERV-1", "ERV-2"]
    first = row(held, "ERV-1")
    assert flat(first) == {
        "supply.airflow": (1200.0, "cfm", "D5"),
        "supply.static_pressure": (0.75, "in_wc", "H5"),
        "outdoor.airflow": (1200.0, "cfm", "E5"),
        "return.airflow": (1100.0, "cfm", "F5"),
        "exhaust.airflow": (1100.0, "cfm", "G5"),
        "exhaust.static_pressure": (0.5, "in_wc", "I5"),
        "building": ("ASH HALL", "B5"),
        "serves": ("ROOMS 101-112", "C5"),
        "remarks": ("CURB BY G.C.", "J5"),
    }
    assert first.kind == "erv"
    assert first.ports["supply"].airflow is not None
    assert first.ports["supply"].airflow.text == "1,200"
    assert first.air_basis is not None
    assert (first.air_basis.code, str(first.air_basis.at)) == ("standard", "M-501!A2")
    assert held.tables[0].title == "DELACOURT & VANE ENGINEERS / ENERGY RECOVERY UNIT SCHEDULE - STANDARD AIR"
    assert codes(held) == ["thousands_comma"]


def test_two_row_header_with_merged_groups() -> None:
    held = understood("two-rows-merged.xlsx")
    third = row(held, "ERV-3")
    assert flat(third) == {
        "supply.airflow": (2400.0, "cfm", "C4"),
        "supply.minimum": (1500.0, "cfm", "D4"),
        "supply.static_pressure": (1.0, "in_wc", "F4"),
        "outdoor.airflow": (2400.0, "cfm", "E4"),
        "exhaust.airflow": (2200.0, "cfm", "I4"),
        "exhaust.static_pressure": (0.8, "in_wc", "J4"),
        "fan.supply.motor_power": (1.5, "hp", "G4"),
        "fan.supply.speed": (1725.0, "rpm", "H4"),
        "fan.exhaust.motor_power": (0.75, "hp", "K4"),
        "electrical.volts": (460.0, "V", "L4"),
        "electrical.phases": (3.0, "1", "L4"),
        "electrical.hertz": (60.0, "Hz", "L4"),
        "electrical.minimum_circuit_amps": (6.2, "A", "M4"),
        "location": ("ROOF", "B4"),
    }
    assert [(note.number, note.text) for note in third.notes] == [
        ("1", "ALL AIRFLOWS IN ACTUAL CFM AT 5,280 FT ELEVATION."),
        ("2", "PROVIDE VIBRATION ISOLATORS."),
    ]
    assert third.air_basis is not None
    assert third.air_basis.elevation is not None
    assert (third.air_basis.code, third.air_basis.elevation.value, third.air_basis.elevation.unit) == (
        "actual", 5280.0, "ft"
    )  # fmt: skip
    fourth = flat(row(held, "ERV-4"))
    assert fourth["fan.exhaust.motor_power"] == (0.33, "hp", "K5")
    assert fourth["electrical.volts"] == (208.0, "V", "L5")
    assert "read_with_care" in codes(held)


def test_units_in_the_row_below_in_si() -> None:
    held = understood("units-row.xlsx")
    assert flat(row(held, "HRV-02")) == {
        "supply.airflow": (185.5, "L/s", "C6"),
        "supply.static_pressure": (120.0, "Pa", "E6"),
        "return.airflow": (180.0, "L/s", "D6"),
        "exhaust.static_pressure": (100.0, "Pa", "F6"),
        "fan.supply.motor_power": (0.25, "kW", "G6"),
        "fan.exhaust.motor_power": (180.0, "W", "H6"),
        "exchanger.sensible_winter": (76.5, "%", "I6"),
        "serves": ("Level 2", "B6"),
    }
    basis = row(held, "HRV-02").air_basis
    assert basis is not None
    assert basis.density is not None
    assert (basis.code, basis.density.value, basis.density.unit) == ("standard", 1.2, "kg/m3")


def test_three_row_header() -> None:
    held = understood("three-rows.xlsx")
    assert flat(row(held, "DOAS-1")) == {
        "supply.airflow": (4000.0, "cfm", "B5"),
        "supply.static_pressure": (1.25, "in_wc", "C5"),
        "exhaust.airflow": (3600.0, "cfm", "G5"),
        "exhaust.static_pressure": (0.9, "in_wc", "H5"),
        "fan.supply.motor_power": (5.0, "hp", "D5"),
        "fan.supply.amps": (6.6, "A", "E5"),
        "fan.supply.motor_speed": (1760.0, "rpm", "F5"),
        "fan.exhaust.motor_power": (3.0, "hp", "I5"),
        "fan.exhaust.motor_type": ("ECM", "J5"),
    }
    assert held.rows[0].air_basis is not None
    assert held.rows[0].air_basis.code == "standard"


def test_several_tables_one_below_the_other_and_side_by_side() -> None:
    held = understood("several-tables.xlsx")
    assert [(table.number, table.header_row, table.first_row, table.last_row) for table in held.tables] == [
        (1, 2, 3, 3), (2, 6, 7, 8), (3, 11, 12, 12), (4, 17, 18, 19), (5, 17, 18, 18),
    ]  # fmt: skip
    assert flat(row(held, "EF-2")) == {
        "exhaust.airflow": (1250.0, "cfm", "B8"),
        "exhaust.static_pressure": (0.5, "in_wc", "C8"),
        "fan.exhaust.motor_power": (0.5, "hp", "D8"),
        "fan.exhaust.speed": (890.0, "rpm", "E8"),
        "fan.exhaust.volts": (208.0, "V", "G8"),
        "fan.exhaust.phases": (3.0, "1", "H8"),
        "fan.exhaust.drive": ("BELT", "F8"),
        "building": ("BIRCH ANNEX", "A5"),
    }
    assert flat(row(held, "MAU-1")) == {
        "supply.airflow": (1400.0, "cfm", "B12"),
        "supply.static_pressure": (0.5, "in_wc", "C12"),
        "fan.supply.motor_power": (1.0, "hp", "D12"),
    }
    assert flat(row(held, "ERV-9")) == {"supply.airflow": (320.0, "cfm", "B19")}
    assert flat(row(held, "EF-8")) == {"exhaust.airflow": (150.0, "cfm", "E18")}
    assert {one.kind for one in held.rows} == {"erv", "exhaust_fan", "makeup_fan"}
    assert all(one.air_basis is not None and one.air_basis.code == "standard" for one in held.rows)


def test_runs_and_lists_of_tags() -> None:
    held = understood("runs-of-tags.xlsx")
    assert [one.tag for one in held.rows] == [
        "ERV-1", "ERV-2", "ERV-3", "ERV-4", "ERV-5", "ERV-6", "ERV-7", "ERV-8", "ERV-10",
        "ERV-2-01", "ERV-2-02", "ERV-2-03", "ERV-A", "ERV-B", "ERV-11",
    ]  # fmt: skip
    assert flat(row(held, "ERV-5"))["supply.airflow"] == (600.0, "cfm", "C4")
    assert row(held, "ERV-5").tag_at.text == "ERV-4 TO ERV-6"


def test_types_on_one_sheet_and_tags_on_another() -> None:
    held = understood("types-and-tags.xlsx")
    assert held.may_apply
    second = row(held, "ERV-102")
    assert flat(second) == {
        "supply.airflow": (140.0, "L/s", "B3"),
        "supply.static_pressure": (150.0, "Pa", "D3"),
        "exhaust.airflow": (130.0, "L/s", "C3"),
        "type": ("ERV-A", "B2"),
        "location": ("CEILING", "C2"),
        "building": ("CEDAR HOUSE", "D2"),
    }
    assert second.type_at is not None
    assert str(second.type_at.at) == "Types!A3"
    assert str(second.tag_at.at) == "Units!A2"
    assert flat(row(held, "ERV-105"))["supply.airflow"] == (250.0, "L/s", "E4")
    assert codes(held) == ["own_value"]


def test_footnotes_and_cells_that_give_no_number() -> None:
    held = understood("footnotes.xlsx")
    first, second, third = (row(held, f"AHU-{number}") for number in (1, 2, 3))
    assert flat(first) == {
        "supply.airflow": (6000.0, "cfm", "B3"),
        "return.airflow": (4500.0, "cfm", "D3"),
        "fan.supply.motor_power": (7.5, "hp", "E3"),
    }
    assert {path: (why.text, why.at.column) for path, why in first.not_given.items()} == {
        "outdoor.airflow": ("SEE NOTE 3", "C")
    }
    assert sorted(note.number for note in first.notes) == ["*", "1", "2", "3", "4"]
    assert next(note.text for note in first.notes if note.number == "3") == "OUTDOOR AIR BY CO2 CONTROL, SEE SEQUENCE."
    assert {path: why.text for path, why in second.not_given.items()} == {
        "outdoor.airflow": "-", "return.airflow": "N/A", "fan.supply.motor_power": "BY OTHERS"
    }  # fmt: skip
    assert second.scope == ()
    assert {path: why.why for path, why in third.not_given.items()} == {
        "outdoor.airflow": "left for later", "return.airflow": "written as not given"
    }  # fmt: skip
    assert flat(third)["fan.supply.motors"] == (2.0, "1", "E5")
    assert flat(third)["fan.supply.motor_power"] == (3.0, "hp", "E5")


def test_maximum_and_minimum_in_one_cell() -> None:
    held = understood("max-and-min.xlsx")
    assert flat(row(held, "ERV-1")) == {
        "outdoor.airflow": (1200.0, "cfm", "B3"),
        "outdoor.minimum": (400.0, "cfm", "B3"),
        "exhaust.airflow": (1100.0, "cfm", "C3"),
        "exhaust.minimum": (350.0, "cfm", "C3"),
        "supply.airflow": (1200.0, "cfm", "D3"),
        "supply.minimum": (400.0, "cfm", "D3"),
        "return.airflow": (1100.0, "cfm", "E3"),
        "return.minimum": (350.0, "cfm", "E3"),
    }
    assert flat(row(held, "ERV-2"))["return.airflow"] == (750.0, "cfm", "E4")
    said = [remark for remark in held.remarks if remark.code == "pair_by_form"]
    assert [(remark.column, remark.row) for remark in said] == [("D", 3)]


def test_a_tag_met_again_completes_or_repeats() -> None:
    held = understood("tags-repeated.xlsx")
    assert [one.tag for one in held.rows] == ["ERV-1", "ERV-2"]
    assert flat(row(held, "ERV-1")) == {
        "supply.airflow": (1000.0, "cfm", "B3"),
        "exhaust.airflow": (900.0, "cfm", "C3"),
        "fan.supply.amps": (3.4, "A", "B9"),
        "fan.exhaust.amps": (2.9, "A", "C9"),
        "remarks": ("NEW CURB; VERIFY", "D3"),
    }
    assert codes(held).count("tag_repeated") == 2


def test_words_of_scope() -> None:
    held = understood("scope-words.xlsx")
    assert {one.tag: [word.code for word in one.scope] for one in held.rows} == {
        "EF-1": [], "EF-2": ["deleted"], "EF-3": ["existing"], "EF-4": ["deferred"], "EF-5": ["by_others"],
        "EF-6": ["existing"], "EF-7": ["added"],
    }  # fmt: skip
    assert flat(row(held, "EF-2")) == {}
    assert str(row(held, "EF-7").scope[0].at) == "SCOPE!A10"


def test_sections_blank_rows_totals_and_hidden_rows() -> None:
    held = understood("sections-and-hidden.xlsx")
    assert [(one.tag, one.building.text if one.building else "") for one in held.rows] == [
        ("ERV-1", "BUILDING A"), ("ERV-2", "BUILDING A"), ("ERV-3", "BUILDING B"), ("ERV-4", "BUILDING B")
    ]  # fmt: skip
    assert flat(row(held, "ERV-1"))["remarks"] == ("COORDINATE WITH CEILING", "E4")
    assert codes(held) == ["total_left_out", "hidden_rows"]


def test_figures_whose_unit_is_in_their_format() -> None:
    held = understood("number-formats.xlsx")
    assert flat(row(held, "ERV-07")) == {
        "supply.airflow": (1200.0, "cfm", "B3"),
        "supply.static_pressure": (0.75, "in_wc", "E3"),
        "exchanger.sensible": (72.0, "%", "C3"),
        "exchanger.eatr": (5.0, "%", "D3"),
    }
    assert flat(row(held, "ERV-12"))["exchanger.sensible"] == (68.5, "%", "C4")


def test_air_basis_is_found_or_asked_for() -> None:
    held = understood("air-bases.xlsx")
    found = {one.tag: one.air_basis.code if one.air_basis else None for one in held.rows}
    assert found == {"ERV-1": "standard", "ERV-2": "actual", "ERV-3": None}
    assert [(question.code, question.at) for question in held.questions] == [("air_basis", ("S3, table 1",))]
    assert not held.may_apply
    assert held.rows_to_apply == ()


def test_unknown_columns_are_listed_and_kept() -> None:
    held = understood("unknown-columns.xlsx")
    assert {column.column: (column.how, column.sample) for column in held.columns if not column.meaning} == {
        "D": ("not understood", "13"), "E": ("not understood", "10"), "F": ("not understood", "5"),
        "G": ("not understood", "800"), "H": ("not understood", "extra"),
    }  # fmt: skip
    assert flat(held.rows[0]) == {"supply.airflow": (1000.0, "cfm", "B4")}
    assert {name: one.text for name, one in held.rows[0].other.items()} == {
        "FILTER / MERV": "13", "PREHEAT COIL / EAT °F": "10", "PREHEAT COIL / KW": "5", "OCC AIRFLOW": "800",
        "column H": "extra",
    }  # fmt: skip
    assert codes(held) == ["second_unit"]


def test_decimal_commas_in_code_page_1252() -> None:
    held = understood("decimal-commas.csv")
    assert held.decimal == "comma"
    assert flat(row(held, "HRV-1")) == {
        "supply.airflow": (1250.0, "m3/h", "B3"),
        "supply.static_pressure": (150.0, "Pa", "D3"),
        "exhaust.airflow": (1187.5, "m3/h", "C3"),
        "location": ("Dachgeschoß", "E3"),
    }


def test_quoted_commas_and_groups_that_are_not_merged() -> None:
    held = understood("commas-quoted.csv")
    assert flat(row(held, "ERV-1")) == {
        "supply.airflow": (1200.0, "cfm", "C4"),
        "supply.static_pressure": (0.75, "in_wc", "D4"),
        "exhaust.airflow": (1100.0, "cfm", "E4"),
        "exhaust.static_pressure": (0.5, "in_wc", "F4"),
        "serves": ("EAST, LEVEL 1", "B4"),
        "remarks": ('SAYS "QUIET"', "G4"),
    }
    assert flat(row(held, "ERV-2"))["exhaust.static_pressure"] == (0.45, "in_wc", "F5")


def test_tabs_in_utf_16() -> None:
    held = understood("tabs-utf16.txt")
    assert flat(row(held, "ERV-1")) == {
        "supply.airflow": (1000.0, "cfm", "B2"),
        "exhaust.airflow": (950.0, "cfm", "C2"),
    }
    assert held.rows[0].air_basis is not None
    assert held.rows[0].air_basis.code == "actual"


def test_pasted_cells_with_an_inch_mark_and_a_line_break() -> None:
    text = 'MARK\tSUPPLY AIR CFM\tSUPPLY ESP\tREMARKS\nERV-1\t1,250\t0.75"\t"TWO\nLINES"\nNOTE: SCFM\t\t\t\n'
    held = understand(read_pasted(text))
    assert held.errors == ()
    assert flat(row(held, "ERV-1")) == {
        "supply.airflow": (1250.0, "cfm", "B2"),
        "supply.static_pressure": (0.75, "in_wc", "C2"),
        "remarks": ("TWO\nLINES", "D2"),
    }


def test_pasted_cells_with_a_quote_that_nobody_closes() -> None:
    held = understand(read_pasted('MARK\tSUPPLY AIR SCFM\tREMARKS\nERV-1\t500\t"QUIET\nERV-2\t600\t\n'))
    assert held.errors == ()
    assert [one.tag for one in held.rows] == ["ERV-1", "ERV-2"]
