"""Units found by what their controllers are set to: found, hidden, not to be asked; and the table behind it."""

import csv
import doctest
import json
from datetime import UTC, date, datetime
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from commissioning.dossier.settings.newest import newest
from commissioning.evidence.accept import Kept, Sender, accept
from commissioning.models import SettingsNow, SettingValue
from commissioning.verdicts import settings_now, settings_search
from commissioning.verdicts.settings_now import in_columns
from commissioning.verdicts.settings_search import NotAsked, found, question
from portfolio.jobs import runner
from portfolio.models import Position
from tests.cast import Cast
from tests.kinds.settings_records import q, record, values
from tests.pages.reading import text

AT = datetime(2026, 5, 4, 15, 0, tzinfo=UTC)
CFM = 0.3048**3 / 60.0  # m3/s in a cubic foot per minute, both by definition


def kept(position: Position, **held: Any) -> SettingsNow:
    row = SettingsNow.objects.create(position=position, moment="as_left", observed_at=AT, envelope=position.pk)
    for code, (number, word) in ((code, in_columns(value)) for code, value in held.items()):
        SettingValue.objects.create(settings=row, code=code, number=number, word=word)
    return row


@pytest.fixture
def three(cast: Cast) -> Cast:
    """250 cfm by a schedule on the stage; 470 cfm by the network near it; one of the other firm."""
    kept(
        cast.things["position"],
        supply_minimum_airflow=250 * CFM,
        enabling="schedule",
        frost_limit=2.0,
        option_dampers=True,
        device_instance=30021.0,
    )
    kept(cast.things["near_position"], supply_minimum_airflow=470 * CFM, enabling="network", option_dampers=False)
    kept(cast.things["foreign_position"], supply_minimum_airflow=100 * CFM, enabling="schedule")
    return cast


# What is asked


@pytest.mark.parametrize(
    ("asked", "name", "why"),
    [
        (("suply_minimum_airflow", "below", "300"), "setting", "No setting has this name"),
        (("frost_limit", "about", "2"), "is", "no such comparison"),
        (("enabling", "below", "schedule"), "is", "is no number"),
        (("frost_limit", "below", ""), "value", "nothing to compare"),
        (("frost_limit", "below", "cold"), "value", "no number"),
        (("frost_limit", "below", "nan", "degC"), "value", "lies outside"),
        (("frost_limit", "below", "9999", "degC"), "value", "lies outside"),
        (("frost_limit", "below", "2"), "unit", "unit is missing"),
        (("frost_limit", "below", "2", "cfm"), "unit", "no unit of temperature"),
        (("occupied_days", "equal", "2.5"), "value", "whole number"),
        (("enabling", "equal", "magic"), "value", "never this"),
        (("option_dampers", "equal", "2"), "value", "never this"),
    ],
)
def test_what_cannot_be_asked_says_why(asked: tuple[str, ...], name: str, why: str) -> None:
    with pytest.raises(NotAsked) as fault:
        question(*asked)
    assert (fault.value.name, why in fault.value.reason, bool(fault.value.remedy)) == (name, True, True)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("asked", "units"),
    [
        (("supply_minimum_airflow", "below", "300", "cfm"), ["position"]),
        (("supply_minimum_airflow", "above", "300", "cfm"), ["near_position"]),
        (("supply_minimum_airflow", "equal", "118", "L/s"), ["position"]),  # 250 cfm are 117.99 L/s
        (("supply_minimum_airflow", "other", "118", "L/s"), ["near_position"]),
        (("supply_minimum_airflow", "read"), ["position", "near_position"]),
        (("frost_limit", "not_read"), ["near_position"]),
        (("frost_limit", "below", "36", "degF"), ["position"]),
        (("enabling", "other", "schedule"), ["near_position"]),
        (("enabling", "equal", "Schedule"), ["position"]),
        (("option_dampers", "equal", "yes"), ["position"]),
        (("option_dampers", "other", "yes"), ["near_position"]),
        (("device_instance", "equal", "30021"), ["position"]),
        (("device_instance", "equal", "30022"), []),
    ],
)
def test_a_search_finds_and_hides(three: Cast, asked: tuple[str, ...], units: list[str]) -> None:
    """Never the unit of the other firm, of which nothing may be seen."""
    rows = found(three.person("own", "lead"), question(*asked))
    assert {row.pk for row in rows} == {three.things[name].pk for name in units}


@pytest.mark.django_db
def test_who_sees_one_building_finds_its_units_only(three: Cast) -> None:
    rows = found(three.person("near", "technician"), question("supply_minimum_airflow", "read"))
    assert [row.pk for row in rows] == [three.things["near_position"].pk]


@pytest.mark.parametrize("module", [settings_search, settings_now])
def test_the_examples_hold(module: Any) -> None:
    told = doctest.testmod(module)
    assert told.attempted
    assert told.failed == 0


# By API


@pytest.mark.django_db
def test_the_api_gives_value_moment_and_date(three: Cast) -> None:
    given = three.actor("own", "lead").call(
        "GET", "settings-search?setting=supply_minimum_airflow&is=below&value=300&unit=cfm"
    )
    [one] = given.json()["results"]
    assert one["value"] == {"value": pytest.approx(250 * CFM), "unit": "m3/s"}
    assert (one["moment"], one["observed_at"][:10]) == ("as_left", "2026-05-04")
    assert (one["position"], one["setting"]) == (str(three.things["position"].pk), "supply_minimum_airflow")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("query", "pointer"),
    [
        ("", "?setting"),
        ("setting=frost_limit&is=below", "?value"),
        ("setting=frost_limit&is=read&colour=red", "?colour"),
    ],
)
def test_the_api_says_what_cannot_be_asked(three: Cast, query: str, pointer: str) -> None:
    given = three.actor("own", "lead").call("GET", f"settings-search?{query}")
    assert given.status_code == 400
    assert [one["pointer"] for one in given.json()["errors"]] == [pointer]


# On the page


def ask(three: Cast, query: str) -> Any:
    client = Client()
    client.force_login(three.person("own", "lead"))
    return client.get(f"/settings?{query}")


@pytest.mark.django_db
def test_the_page_tells_the_question_and_the_units(three: Cast) -> None:
    said = text(ask(three, "setting=supply_minimum_airflow&is=below&value=300&unit=cfm"))
    assert "One unit fits “Supply minimum airflow below 300 cfm”." in said
    assert "250 cfm" in said
    assert "as left" in said
    assert three.canaries["b2"] not in said


@pytest.mark.django_db
def test_the_words_of_a_choice_are_links_with_their_counts(three: Cast) -> None:
    given = ask(three, "setting=enabling&is=read")
    assert "schedule1 network1" in text(given).replace("schedule 1", "schedule1").replace("network 1", "network1")
    assert "is=equal&amp;value=schedule" in given.content.decode()


@pytest.mark.django_db
def test_a_question_that_cannot_be_read_is_given_back(three: Cast) -> None:
    given = ask(three, "setting=frost_limit&is=below&value=cold")
    assert given.status_code == 400
    assert "This is no number. Type digits" in text(given)
    assert 'value="cold"' in given.content.decode()


@pytest.mark.django_db
def test_a_page_asks_the_database_as_often_for_a_hundred_units_as_for_two(three: Cast) -> None:
    def queries() -> int:
        client = Client()
        client.force_login(three.person("own", "lead"))
        client.get("/settings?setting=supply_minimum_airflow&is=below&value=300&unit=cfm")
        with CaptureQueriesContext(connection) as seen:
            client.get("/settings?setting=supply_minimum_airflow&is=below&value=300&unit=cfm")
        return sum("commissioning_settingsnow" in one["sql"] for one in seen)

    few = queries()
    building = three.things["building"]
    many = Position.objects.bulk_create([Position(building=building, tag=f"T-{n}", kind="erv") for n in range(100)])
    for one in many:
        kept(one, supply_minimum_airflow=0.1)
    assert queries() == few == 3  # by moment, the ids of one page, its rows


# As CSV


def sheet(three: Cast, query: str, relation: str = "own", role: str = "lead") -> list[list[str]]:
    client = Client()
    client.force_login(three.person(relation, role))
    given = client.get(f"/settings.csv?{query}")
    assert (given.status_code, given["Content-Disposition"]) == (200, 'attachment; filename="settings.csv"')
    return list(csv.reader(StringIO(given.getvalue().decode("utf-8-sig"))))


@pytest.mark.django_db
def test_the_sheet_has_what_was_found_with_numbers_that_can_be_reckoned_with(three: Cast) -> None:
    heads, one = sheet(three, "setting=supply_minimum_airflow&is=below&value=300&unit=cfm")
    assert heads == ["Unit", "Project", "Building", "Place", "Setting", "Value", "Unit of the value", "Moment", "Read"]
    position = three.things["position"]
    assert (one[0], one[2]) == (position.tag, position.building.name)
    assert one[4:8] == ["Supply minimum airflow", "250.0", "cfm", "as left"]
    assert one[8] == "2026-05-04T09:00-06:00"  # 15:00 UTC in Denver, six hours behind in summer
    [_, unread] = sheet(three, "setting=frost_limit&is=not_read")
    assert unread[4:7] == ["Frost limit", "not read", ""]


@pytest.mark.django_db
def test_the_sheet_is_more_than_a_page_in_the_order_that_was_asked_for(three: Cast) -> None:
    building = three.things["building"]
    many = Position.objects.bulk_create([Position(building=building, tag=f"T-{n}", kind="erv") for n in range(620)])
    rows = SettingsNow.objects.bulk_create(
        [SettingsNow(position=one, moment="follow_up", observed_at=AT, envelope=one.pk) for one in many]
    )
    SettingValue.objects.bulk_create(
        [SettingValue(settings=one, code="supply_minimum_airflow", number=n * CFM) for n, one in enumerate(rows)]
    )
    asked = "setting=supply_minimum_airflow&is=read&sort=-value&moment=follow_up"
    _, *found_rows = sheet(three, asked)
    assert [float(row[5]) for row in found_rows] == [float(n) for n in reversed(range(620))]
    assert len(sheet(three, "setting=supply_minimum_airflow&is=read")) == 1 + 620 + 2
    assert len(sheet(three, "setting=supply_minimum_airflow&is=read", "near", "technician")) == 1 + 1
    assert sheet(three, f"{asked}&project={three.things['foreign_project'].pk}")[1:] == []


@pytest.mark.django_db
def test_nothing_in_the_sheet_is_run(three: Cast) -> None:
    Position.objects.filter(pk=three.things["position"].pk).update(tag="@ERV", location="=HYPERLINK(1)")
    [one] = [row for row in sheet(three, "setting=enabling&is=read") if "HYPERLINK" in row[3]]
    assert (one[0], one[3]) == ("'@ERV", "'=HYPERLINK(1)")


@pytest.mark.django_db
def test_a_sheet_of_no_question_says_what_is_wrong(three: Cast) -> None:
    client = Client()
    client.force_login(three.person("own", "lead"))
    given = client.get("/settings.csv?setting=frost_limit&is=below&value=cold")
    assert (given.status_code, "This is no number. Type digits" in text(given)) == (400, True)


# The table behind it


def test_the_newest_record_as_left_of_the_machine_that_sits_there_counts() -> None:
    def read(moment: str, day: int) -> dict[str, Any]:
        return {"kind": "settings", "observed_at": f"2026-05-{day:02}T23:30:00+00:00", "facts": {"moment": moment}}

    found_so, left, later = read("as_found", 4), read("as_left", 5), read("follow_up", 9)
    assert newest([found_so, left, later]) is left
    assert newest([found_so, later]) is later
    assert newest([read("as_ordered", 1)]) is not None
    assert newest([]) is None
    assert newest([found_so, left, later], machine_since=date(2026, 5, 6)) is later
    assert newest([left], machine_since=date(2026, 5, 6)) is None
    assert newest([left], machine_since=date(2026, 5, 6), time_zone="Asia/Tokyo") is left  # there it is the 6th


def submit(cast: Cast, given: dict[str, Any]) -> None:
    person = cast.person("own", "technician")
    made = given | {"position": str(cast.things["position"].pk), "observed_by": str(person.pk)}
    assert isinstance(accept(Sender(person), [json.dumps(made).encode()])[0], Kept)
    runner.drain()


@pytest.mark.django_db
def test_judging_keeps_the_table_and_it_can_be_made_again(cast: Cast) -> None:
    submit(cast, record(values(frost_limit=q(3.0, "degC")), name="first"))
    submit(cast, record(values(frost_limit=q(-2.0, "degC")), name="second", at="2026-05-06T10:15:00-05:00"))
    row = SettingsNow.objects.get()
    limit = row.held.get(code="frost_limit")
    assert (row.pk, row.moment, limit.number) == (cast.things["position"].pk, "as_left", -2.0)
    assert row.held.get(code="option_heating").word == "no"
    before = list(row.held.order_by("code").values_list("code", "number", "word"))
    assert len(before) == len(values())
    row.held.filter(code="frost_limit").update(number=9.0)
    said = StringIO()
    with pytest.raises(SystemExit):
        call_command("rebuild_settings", stdout=said)
    assert "other settings were kept" in said.getvalue()
    assert list(row.held.order_by("code").values_list("code", "number", "word")) == before
    call_command("rebuild_settings", stdout=StringIO())
