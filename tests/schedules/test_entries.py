"""A row of a schedule as an entry of a revision: only what it names."""

import pytest

from commissioning.catalogue.units import VOCABULARY
from portfolio.schedules.entries import cells_of, fields_of
from portfolio.schedules.reading import read_pasted
from portfolio.schedules.understanding import Choices, Understanding, understand
from portfolio.schedules.understanding.equipment import OPTIONS, SENSORS, WORDS, codes_in

HEADER = "TAG\tSUPPLY CFM\tSUPPLY FAN RPM\tSUPPLY MOTOR TYPE\tSUPPLY VFD\n"


def entry(text: str, *, partial: bool = False, basis: str = "standard") -> dict[str, object]:
    held = understand(read_pasted(HEADER + text), choices=Choices(air_basis=basis))
    assert held.rows, held.errors
    return fields_of(held.rows[0], partial=partial)


@pytest.mark.parametrize(
    ("said", "drive"), [("YES", True), ("VFD", True), ("NO", False), ("N/A", False), ("INTEGRAL", True)]
)
def test_a_drive_is_what_its_column_says_whatever_the_motor(said: str, drive: bool) -> None:
    fans = entry(f"ERV-1\t900\t1180\tECM\t{said}\n")["fans"]
    assert fans["supply"].get("drive", False) is drive  # type: ignore[index]
    assert fans["supply"]["motor"] == "electronically_commutated"  # type: ignore[index]


def test_a_partial_schedule_that_does_not_state_its_air_changes_no_basis() -> None:
    whole = entry("ERV-1\t900\t\t\t\n", basis="not stated")
    part = entry("ERV-1\t900\t\t\t\n", basis="not stated", partial=True)
    assert whole["ports"]["supply"]["basis"] == "not_stated"  # type: ignore[index]
    assert "basis" not in part["ports"]["supply"]  # type: ignore[index]


def test_what_is_expressly_left_open_is_not_given_in_a_whole_schedule_and_untouched_in_a_part() -> None:
    assert entry("ERV-1\tN/A\t1180\t\t\n")["ports"] in ({}, {"supply": {"airflow": None}})
    assert entry("ERV-1\tN/A\t1180\t\t\n", partial=True)["ports"] == {}


EQUIPPED = "TAG\tUNIT KIND\tSUPPLY CFM\tSUPPLY DRIVE\tOptions\tField sensors\n"


def equipped(row: str, *, partial: bool = False) -> tuple[Understanding, dict[str, object]]:
    held = understand(read_pasted(EQUIPPED + row + "\n"), choices=Choices(air_basis="standard"))
    assert held.rows, held.errors
    return held, fields_of(held.rows[0], partial=partial).get("equipment", {}).get("unit", {})


def test_options_and_field_sensors_of_a_schedule_become_the_equipment_that_chooses_the_checks() -> None:
    held, unit = equipped(
        "U-1\tHeat recovery ventilator\t900\tBELT\tBypass; electric preheat, hinged doors\tSAT/RAT; CO2"
    )
    assert held.rows[0].kind == "hrv"
    assert unit == {
        "options": ["bypass", "electric_heater", "belt_drive"],
        "field_sensors": ["supply_temperature", "return_temperature", "co2"],
    }
    assert [(one.column, one.text) for one in held.remarks if one.code == "word_unknown"] == [
        ("E", "'hinged doors' decides no check here; it is left out")
    ]
    assert cells_of(held.rows[0])["unit options"].endswith("E2")


@pytest.mark.parametrize(
    ("options", "partial", "fields"),
    [
        ("NONE", False, {"options": []}),
        ("N/A", False, {"options": None}),
        ("N/A", True, {}),
        ("hinged doors", False, {}),
    ],
)
def test_none_is_said_and_a_dash_or_an_unknown_word_says_nothing(
    options: str, partial: bool, fields: dict[str, object]
) -> None:
    assert equipped(f"U-1\tERV\t900\tDIRECT\t{options}\t", partial=partial)[1] == fields


def test_every_option_and_sensor_of_the_catalogue_is_read_by_its_code_and_by_its_words() -> None:
    for field, held in ((OPTIONS, VOCABULARY.options), (SENSORS, VOCABULARY.sensors)):
        assert set(WORDS[field].values()) == set(held)
        for code, said in held.items():
            assert codes_in(field, code) == codes_in(field, said) == ((code,), ())
