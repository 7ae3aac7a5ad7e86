"""What a person may say after a dry run, what the remarks look at, and that all of it can be stored."""

import json
from pathlib import Path

import pytest

from fixtures.schedules.books import BOOKS
from fixtures.schedules.broken import BROKEN
from portfolio.schedules.reading import read_workbook
from portfolio.schedules.understanding import (
    Choices,
    ColumnChoice,
    Understanding,
    choices_from,
    to_json,
    understand,
    understanding_from,
)

SCENARIO = Path(__file__).parents[2] / "fixtures" / "scenario"


def csv(text: str, choices: Choices | None = None, known: frozenset[str] = frozenset()) -> Understanding:
    return understand(read_workbook("s.csv", text.encode()), choices=choices, known_tags=known)


def codes(held: Understanding) -> list[str]:
    return [remark.code for remark in held.remarks]


def flow(held: Understanding, port: str, place: int = 0) -> tuple[float, str]:
    airflow = held.rows[place].ports[port].airflow
    assert airflow is not None
    return airflow.value, airflow.unit


def test_the_unit_of_a_column_is_chosen() -> None:
    choice = ColumnChoice("unit-unknown", 1, "B", unit="L/s")
    held = understand(read_workbook("unit-unknown.csv", BROKEN["unit-unknown.csv"]()), choices=Choices((choice,)))
    assert held.may_apply
    assert flow(held, "supply") == (500.0, "L/s")
    column = next(column for column in held.columns if column.column == "B")
    assert (column.how, column.unit) == ("chosen", "L/s")


def test_the_meaning_of_a_column_is_chosen_and_its_unit_found_in_the_heading() -> None:
    text = "TAG,SUPPLY SCFM,OCC AIRFLOW (CFM)\nERV-1,500,450\n"
    choice = ColumnChoice("s", 1, "C", meaning="outdoor.airflow")
    assert "outdoor" not in csv(text).rows[0].ports
    held = csv(text, Choices((choice,)))
    assert held.errors[0].code == "unit_unknown"
    held = csv(text, Choices((ColumnChoice("s", 1, "C", meaning="outdoor.airflow", unit="cfm"),)))
    assert flow(held, "outdoor") == (450.0, "cfm")


def test_a_side_that_is_not_said_is_chosen() -> None:
    text = "TAG,SCFM\nERV-1,500\n"
    assert csv(text).errors[0].code == "port_not_said"
    held = csv(text, Choices((ColumnChoice("s", 1, "B", meaning="supply.airflow"),)))
    assert held.may_apply
    assert flow(held, "supply") == (500.0, "cfm")


def test_a_column_is_left_out() -> None:
    text = "TAG,SUPPLY SCFM,EXHAUST CFM\nERV-1,500,VARIES\n"
    held = csv(text, Choices((ColumnChoice("s", 1, "C", meaning="ignore"),)))
    assert held.may_apply
    assert list(held.rows[0].ports) == ["supply"]


def test_the_air_basis_is_chosen_where_the_schedule_does_not_say() -> None:
    held = csv("TAG,SUPPLY CFM\nERV-1,500\n", Choices(air_basis="actual"))
    assert held.rows[0].air_basis is not None
    assert held.rows[0].air_basis.code == "actual"
    assert csv("TAG,SUPPLY CFM\nERV-1,500\n", Choices(air_basis="not stated")).may_apply


def test_what_a_table_states_plainly_is_not_turned_by_an_answer_for_another() -> None:
    held = csv("TAG,SUPPLY SCFM\nERV-1,500\n", Choices(air_basis="actual"))
    assert held.rows[0].air_basis is not None
    assert held.rows[0].air_basis.code == "standard"


def test_a_contradiction_is_settled_by_a_person() -> None:
    held = csv("TAG,SUPPLY SCFM,EXHAUST ACFM\nERV-1,500,300\n", Choices(air_basis="actual"))
    assert held.may_apply, held.errors
    assert {row.air_basis.code for row in held.rows if row.air_basis} == {"actual"}


def test_the_decimal_style_is_asked_and_chosen() -> None:
    text = "TAG;SUPPLY SCFM\nERV-1;1,200\n"
    held = csv(text)
    assert [question.code for question in held.questions] == ["decimal"]
    assert held.questions[0].at == ("s!B2",)
    assert flow(csv(text, Choices(decimal="comma")), "supply") == (1.2, "cfm")
    assert flow(csv(text, Choices(decimal="point")), "supply") == (1200.0, "cfm")


def test_a_table_is_skipped_with_its_errors() -> None:
    text = "TAG,SUPPLY SCFM\nERV-1,500\n\n\nTAG,SUPPLY SCFM\nERV-2,VARIES\n"
    assert csv(text).errors
    held = csv(text, Choices(skip=(("s", 2),)))
    assert held.may_apply
    assert [(table.number, table.skipped, table.rows) for table in held.tables] == [(1, False, 1), (2, True, 0)]


def test_tags_are_given_for_a_typical_row() -> None:
    text = "TAG,SUPPLY SCFM\nERV-A (TYP. OF 3),500\n"
    held = csv(text, Choices(tags_of={"ERV-A (TYP. OF 3)": ("ERV-1 thru 3",)}))
    assert [row.tag for row in held.rows_to_apply] == ["ERV-1", "ERV-2", "ERV-3"]
    assert flow(held, "supply", 2) == (500.0, "cfm")
    held = csv(text, Choices(tags_of={"ERV-A": ("ERV-1", "ERV-2")}))
    assert [error.code for error in held.errors] == ["tags_missing"]


@pytest.mark.parametrize(
    "choices",
    [
        Choices((ColumnChoice("s", 1, "Z", unit="cfm"),)),
        Choices((ColumnChoice("other", 1, "B", unit="cfm"),)),
        Choices((ColumnChoice("s", 1, "B", unit="Pa"),)),
        Choices((ColumnChoice("s", 1, "B", meaning="supply.wind"),)),
        Choices(skip=(("s", 9),)),
    ],
)
def test_a_choice_that_does_not_fit_is_an_error(choices: Choices) -> None:
    held = csv("TAG,SUPPLY SCFM\nERV-1,500\n", choices)
    assert [error.code for error in held.errors] == ["choice_does_not_fit"]
    assert held.rows_to_apply == ()


def test_known_tags_are_kept_and_near_ones_remarked_on() -> None:
    held = csv("TAG,SUPPLY SCFM\nERV 01,500\nERV-2,500\n", known=frozenset({"ERV-1", "ERV-2"}))
    assert [row.tag for row in held.rows] == ["ERV 01", "ERV-2"]
    assert [(remark.code, remark.row) for remark in held.remarks] == [("close_to_known", 2)]


def test_one_tag_in_two_buildings_is_two_units() -> None:
    held = csv("TAG,BUILDING,SUPPLY SCFM\nERV-1,ASH HALL,500\nERV-1,ELM HALL,600\n")
    assert held.errors == ()
    assert [flow(held, "supply", place) for place in (0, 1)] == [(500.0, "cfm"), (600.0, "cfm")]


def test_remarks_on_implausible_values() -> None:
    rows = "".join(f"ERV-{number},50{number},50{number},300,0.7\n" for number in range(1, 7))
    head = "TAG,SUPPLY SCFM,OA CFM,OA MIN CFM,SENS EFF %\n"
    assert codes(csv(head + rows.replace("0.7", "70"))) == []
    assert codes(csv(head + rows)) == ["unlikely_rating"] * 6
    plain = rows.replace("0.7", "70")
    assert codes(csv(head + plain + "ERV-7,5200,5200,300,70\n")) == ["far_from_neighbours"] * 2
    assert codes(csv(head + plain + "ERV-7,500,500,600,70\n")) == ["minimum_above_maximum"]
    assert codes(csv(head + plain + "ERV-7,500,300,200,70\n")) == ["supply_far_from_sources"]
    ahu = "TAG,SUPPLY SCFM,OA CFM,RA CFM\n"
    assert codes(csv(ahu + "AHU-1,6000,1500,4500\n")) == []
    assert codes(csv(ahu + "AHU-1,6000,1500,2500\n")) == ["supply_far_from_sources"]


def test_a_cell_in_another_unit_than_its_column() -> None:
    held = csv("TAG,SUPPLY SCFM\nERV-1,250 L/s\n")
    assert flow(held, "supply") == (250.0, "L/s")
    assert codes(held) == ["read_with_care"]


@pytest.mark.parametrize("name", sorted({**BOOKS, **BROKEN}))
def test_stored_and_read_again_it_is_the_same(name: str) -> None:
    held = understand(read_workbook(name, {**BOOKS, **BROKEN}[name]()))
    assert understanding_from(json.loads(json.dumps(to_json(held)))) == held


def test_choices_are_stored() -> None:
    choices = Choices(
        columns=(ColumnChoice("s", 1, "B", meaning="supply.airflow", unit="L/s"),),
        air_basis="actual",
        decimal="comma",
        skip=(("s", 2), ("t", 1)),
        tags_of={"ERV-A": ("ERV-1", "ERV-2")},
    )
    assert choices_from(json.loads(json.dumps(to_json(choices)))) == choices
    assert choices_from({}) == Choices()


@pytest.mark.parametrize("name", ["ostrander-schedule-r1.xlsx", "pellworth-schedule-r1.xlsx"])
def test_the_scenario_is_understood_without_an_error(name: str) -> None:
    held = understand(read_workbook(name, (SCENARIO / name).read_bytes()))
    assert held.errors == ()
    assert len(held.rows) > 10
    assert all(row.ports and row.kind and row.building for row in held.rows)
    assert all(column.how == "recognised" for column in held.columns)
